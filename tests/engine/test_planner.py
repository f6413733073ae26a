"""Closure, order and reasons on a small world worked by hand."""

from __future__ import annotations

import copy

import pytest
import toy
from pydantic import ValidationError

from assess.assessment import Assessment, assess
from assess.base.errors import CycleError
from assess.job.workshop_profile import load_workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import HoursRange
from assess.knowledge.precedence_graph import master_graph
from assess.knowledge.work import Material
from assess.planning.closure import Cause
from assess.planning.plan import Plan
from assess.planning.priority_order import RULES
from assess.uncertainty.plan_arrays import plan_arrays

CART = toy.knowledge()
WORN = '[answers.wheels]\nplay = 7\nbroken_spokes = 3\n[answers.box]\ncrack = "one"\n'


def assessed(text: str = WORN, knowledge: Knowledge = CART) -> Assessment:
    return assess(toy.job(text), knowledge=knowledge)


def steps(plan: Plan) -> list[str]:
    return [s.step for s in plan.steps]


def test_the_full_plan_in_order() -> None:
    assert steps(assessed().plans["full"]) == [
        "box.photograph",
        "box.fetch",
        "box.glue_crack",
        "open wheels.axle",
        "open wheels.bearing",
        "wheels.clean_hub",
        "wheels.new_bearing",
        "wheels.grease_hub",
        "wheels.new_spokes",
        "close wheels.bearing",
        "wheels.runs_true",
        "close wheels.axle",
        "box.hand_over",
    ]


def test_working_order_takes_the_patch_and_leaves_the_thorough_repair() -> None:
    plan = assessed("[answers.wheels]\nbroken_spokes = 3\n").plans["working"]
    assert steps(plan) == ["box.photograph", "wheels.bind_spokes", "box.hand_over"]
    assert not plan.workshop_job


def test_stabilise_takes_decay_and_danger_only() -> None:
    text = (
        '[instrument.features]\nbrake = true\n[answers.wheels]\nplay = 9\nshoe = "loose"\n'
        '[answers.box]\ncrack = "rotten"\n'
    )
    called = assessed(text).plans["stabilise"].called
    assert set(called) == {"wheels.fix_shoe", "box.new_boards"}


def test_nothing_found_means_no_plan() -> None:
    plans = assessed('[answers.box]\ncrack = "none"\n').plans
    assert [plan.steps for plan in plans.values()] == [(), (), ()]


def test_counted_repairs_scale_and_say_so() -> None:
    step = assessed().plans["full"].step("wheels.new_spokes")
    assert step is not None
    assert step.hours == (1.5, 3, 6)
    assert step.times.count == 3
    assert step.materials[0].quantity == 3


BY_SPOKES = {"facts": ["spokes"], "usual": 10}


def scaled_cart() -> Knowledge:
    """The cart, with hours of a place, a repair and a test that grow with its spokes."""
    data = toy.WHEELS
    for kind, name in (("place", "axle"), ("repair", "clean_hub"), ("hold_point", "runs_true")):
        data = toy.altered(data, kind, name, hours_per=BY_SPOKES)
    return toy.knowledge(data, toy.BOX)


@pytest.mark.parametrize(("spokes", "share"), [(10, 1), (25, 2.5), (4, 0.4)])
def test_hours_of_places_and_work_grow_with_what_is_there(spokes: float, share: float) -> None:
    text = f"[instrument.facts]\nspokes = {spokes}\n{WORN}"
    usual = {s.step: s.hours for s in assessed().plans["full"].steps}
    found = {s.step: s.hours for s in assessed(text, scaled_cart()).plans["full"].steps}
    grown = {"open wheels.axle", "close wheels.axle", "wheels.clean_hub", "wheels.runs_true"}
    assert found.keys() == usual.keys() >= grown
    for step, hours in usual.items():
        times = share if step in grown else 1
        assert found[step] == pytest.approx([times * h for h in hours]), step


def test_hours_of_the_workshop_grow_like_declared_ones() -> None:
    shop = load_workshop().model_copy(update={"hours": {"open wheels.axle": HoursRange((1, 2, 3))}})
    text = f"[instrument.facts]\nspokes = 20\n{WORN}"
    result = assess(toy.job(text), knowledge=scaled_cart(), workshop=shop)
    assert result.plans["full"].step("open wheels.axle").hours == (2, 4, 6)


def test_simulated_plans_grow_with_what_is_there() -> None:
    facts = "[instrument.facts]\nspokes = 25\n"
    for knowledge, times in ((CART, 1), (scaled_cart(), 2.5)):
        found = assessed(facts, knowledge)
        arrays = plan_arrays(found.context)
        assert arrays.mean_h[arrays.steps.index("open wheels.axle")] == pytest.approx(
            times * (0.2 + 4 * 0.4 + 1) / 6
        )


def test_whole_units_are_bought_and_waste_is_added() -> None:
    materials = {m.material: m for m in assessed().plans["full"].materials}
    assert materials["wheels.grease"].quantity == pytest.approx(15)
    assert materials["wheels.spoke"].quantity == 3
    assert materials["wheels.spoke"].price == 12


def with_materials(**repairs: str) -> Knowledge:
    """The cart with a material for some repairs: a clamp that is sold whole, or a kit for all."""
    data = copy.deepcopy(toy.WHEELS)
    data["material"] += [
        {"id": "clamp", "title": "Clamp", "unit": "each", "price": 7, "whole": True},
        {"id": "kit", "title": "Kit", "unit": "set", "price": 30, "once": True},
    ]
    for repair in data["repair"]:
        if repair["id"] in repairs:
            repair["materials"] = [{"id": repairs[repair["id"]], "quantity": 1}]
    return toy.knowledge(data, toy.BOX)


def test_nothing_is_wasted_of_what_is_sold_whole() -> None:
    plan = assessed(knowledge=with_materials(clean_hub="clamp")).plans["full"]
    [clamp] = [m for m in plan.materials if m.title == "Clamp"]
    assert (clamp.quantity, clamp.price) == (1, 7)


def test_a_kit_is_bought_once_however_many_repairs_use_it_and_however_often() -> None:
    """Three spokes are fitted with it, and the hub is cleaned with it."""
    plan = assessed(knowledge=with_materials(clean_hub="kit", new_spokes="kit")).plans["full"]
    users = [s.step for s in plan.steps if any(m.title == "Kit" for m in s.materials)]
    assert users == ["wheels.clean_hub", "wheels.new_spokes"]
    [kit] = [m for m in plan.materials if m.title == "Kit"]
    assert (kit.quantity, kit.price) == (1, 30)


def test_a_kit_is_neither_cut_nor_wasted() -> None:
    kit = {"id": "kit", "title": "Kit", "unit": "set", "price": 30, "once": True}
    for wrong in ({"whole": False}, {"waste": 0.1}):
        with pytest.raises(ValidationError, match="bought whole"):
            Material.model_validate({**kit, **wrong})


def test_thorough_work_makes_lesser_work_needless() -> None:
    everything = toy.squeaking(toy.WHEELS, calls_for=["bind_spokes"])
    knowledge = toy.knowledge(everything, toy.BOX)
    plan = assessed('[answers.wheels]\nbroken_spokes = 2\nnoise = "squeaks"\n', knowledge).plans[
        "full"
    ]
    assert "wheels.bind_spokes" not in steps(plan)
    assert plan.replaced == {"wheels.bind_spokes": "wheels.new_spokes"}


def test_order_holds_through_steps_that_are_absent() -> None:
    """Spokes come after the bearing, which comes after the cleaning: with no new bearing in
    the plan, cleaning still comes before spokes."""
    cleaned = toy.squeaking(toy.WHEELS, calls_for=["clean_hub"])
    knowledge = toy.knowledge(cleaned, toy.BOX)
    plan = assessed('[answers.wheels]\nbroken_spokes = 2\nnoise = "squeaks"\n', knowledge).plans[
        "full"
    ]
    order = steps(plan)
    assert "wheels.new_bearing" not in order
    assert order.index("wheels.clean_hub") < order.index("wheels.new_spokes")


def test_every_step_says_why_it_is_there_and_where() -> None:
    plan = assessed().plans["full"]
    numbers = {s.step: s.number for s in plan.steps}
    assert len(numbers) == 13
    assert any(step.reasons for step in plan.steps)
    for step in plan.steps:
        assert step.causes
        assert step.rule
        assert all(numbers[r.after] < step.number for r in step.reasons)


def test_a_finding_is_named_by_its_question() -> None:
    step = assessed().plans["full"].step("wheels.new_bearing")
    assert step is not None
    assert step.causes == (Cause("finding", "wheels.play", "Play of the hub"),)


def test_what_is_never_counted_is_done_once_for_sure() -> None:
    """A repair that is done once for each broken spoke is not, while nobody has counted them."""
    noisy = toy.squeaking(toy.WHEELS, calls_for=["new_spokes"])
    text = '[answers.wheels]\nplay = 7\nnoise = "squeaks"\n'
    plan = assessed(text, toy.knowledge(noisy, toy.BOX)).plans["full"]
    times = {s.step: s.times for s in plan.steps}
    guessed = times.pop("wheels.new_spokes")
    assert (guessed.count, guessed.counted) == (1, False)
    assert {s.kind for s in plan.steps} == {"repair", "hold point", "open", "close"}
    assert {(t.count, t.counted) for t in times.values()} == {(1, True)}
    assert all(s.reversible for s in plan.steps)


def test_dangers_come_first() -> None:
    text = WORN.replace(
        "[answers.wheels]\n",
        '[instrument.features]\nbrake = true\n[answers.wheels]\nshoe = "loose"\n',
    )
    plan = assessed(text).plans["full"]
    assert steps(plan)[2] == "wheels.fix_shoe"
    assert plan.steps[2].cautions == ("wheels.heavy",)


def test_what_endangers_people_is_cautioned_against_first() -> None:
    scratches = toy.altered(toy.WHEELS, "repair", "fix_shoe", cautions=["varnish", "heavy"])
    text = '[instrument.features]\nbrake = true\n[answers.wheels]\nshoe = "loose"\n'
    step = assessed(text, toy.knowledge(scratches, toy.BOX)).plans["full"].step("wheels.fix_shoe")
    assert step is not None
    assert step.cautions == ("wheels.heavy", "wheels.varnish")


@pytest.mark.parametrize(
    ("waits", "rests"),
    [
        ({"waiting_days": 1}, True),
        ({"waiting_days": 0}, False),
        ({"again_after_days": 14}, True),
        ({"again_after_days": 13}, False),
    ],
)
def test_what_rests_for_days_is_begun_so_that_other_work_goes_on_meanwhile(
    waits: dict[str, int], rests: bool
) -> None:
    """A second reading after two weeks is a rest too; an earlier one is not."""
    glued = toy.altered(toy.BOX, "repair", "glue_crack", before=[], drying_hours=0, **waits)
    plan = assessed(WORN, toy.knowledge(toy.WHEELS, glued)).plans["full"]
    step = plan.step("box.glue_crack")
    assert step is not None
    assert (step.rule == RULES[2]) is rests


def test_a_circle_names_every_edge() -> None:
    circular = toy.altered(
        toy.WHEELS,
        "repair",
        "clean_hub",
        after=[{"step": "new_spokes", "because": "spokes shed rust"}],
    )
    with pytest.raises(CycleError) as error:
        master_graph(toy.knowledge(circular, toy.BOX))
    message = str(error.value)
    assert "wheels.new_spokes comes before wheels.clean_hub (spokes shed rust)" in message
    assert (
        "wheels.clean_hub comes before wheels.new_bearing (grit would ruin the new bearing)"
        in message
    )
    assert "wheels.new_bearing comes before wheels.new_spokes (the wheel is trued on" in message
    assert message.endswith("; drop one")


def test_any_choice_of_repairs_keeps_the_order_of_the_whole() -> None:
    result = assessed()
    whole = steps(result.plans["full"])
    assert len(result.plans["full"].called) > 2
    for left_out in result.plans["full"].called:
        fewer = steps(
            result.planner.plan_for(r for r in result.plans["full"].called if r != left_out)
        )
        assert fewer == [s for s in whole if s in fewer]


def test_an_inner_place_is_reached_past_a_place_the_instrument_lacks() -> None:
    nested = toy.altered(toy.WHEELS, "place", "axle", needs=["brake"])
    plan = assessed(WORN, toy.knowledge(nested, toy.BOX)).plans["full"]
    order = steps(plan)
    assert "open wheels.axle" not in order
    assert "open wheels.bearing" in order


def test_a_repair_may_name_what_makes_it_needless_and_gives_it_no_order() -> None:
    needless = toy.altered(
        toy.BOX,
        "repair",
        "glue_crack",
        unless=[{"step": "wheels.new_spokes", "because": "the box is emptied for them"}],
    )
    knowledge = toy.knowledge(toy.WHEELS, needless)
    plan = assessed(WORN, knowledge).plans["full"]
    assert "box.glue_crack" not in steps(plan)
    assert plan.replaced["box.glue_crack"] == "wheels.new_spokes"
    plain = master_graph(CART).pred["wheels.new_spokes"]
    assert set(master_graph(knowledge).pred["wheels.new_spokes"]) == set(plain)
    whole = assessed('[answers.box]\ncrack = "one"\n', knowledge).plans["full"]
    assert "box.glue_crack" in steps(whole)


def test_what_is_needless_itself_makes_nothing_needless() -> None:
    spared = toy.unless(toy.WHEELS, "grease_hub", "new_spokes")
    spared = toy.unless(spared, "fix_shoe", "box.glue_crack")
    knowledge = toy.knowledge(spared, toy.unless(toy.BOX, "glue_crack", "wheels.grease_hub"))
    answers = """
    [instrument.features]
    brake = true
    [answers.wheels]
    noise = "squeaks"
    broken_spokes = 2
    shoe = "loose"
    [answers.box]
    crack = "one"
    """
    plan = assessed(answers, knowledge).plans["full"]
    assert {"wheels.new_spokes", "box.glue_crack"} <= set(steps(plan))
    assert plan.replaced["wheels.grease_hub"] == "wheels.new_spokes"
    assert plan.replaced["wheels.fix_shoe"] == "box.glue_crack"
    assert not plan.replaced.keys() & set(steps(plan))


def wheeled_cart() -> Knowledge:
    """The cart, with all its spokes as a fact that follows from two others."""
    data = toy.altered(toy.WHEELS, "place", "axle", hours_per={"facts": ["all"], "usual": 20})
    wheels = {"id": "wheels", "asks": "Wheels", "usual": 2}
    product = {"id": "all", "asks": "Spokes in all", "product_of": ["spokes", "wheels"]}
    data["fact"] = [product, *data["fact"], wheels]
    return toy.knowledge(data, toy.BOX)


@pytest.mark.parametrize(
    ("facts", "number", "said"),
    [
        ("", 20, True),
        ("spokes = 15\n", 30, True),
        ("spokes = 15\nwheels = 4\n", 60, False),
        ("spokes = 15\nwheels = 4\nall = 58\n", 58, False),
        ("spokes = 7.3\nwheels = 3\n", 22, False),
    ],
)
def test_a_fact_follows_from_others_unless_it_is_stated(
    facts: str, number: float, said: bool
) -> None:
    result = assessed(f"[instrument.facts]\n{facts}{WORN}", wheeled_cart())
    assert result.configuration.facts["all"] == number
    assert ("all" in result.configuration.assumed) is said
    hours = result.plans["full"].step("open wheels.axle").hours
    assert hours == pytest.approx([number / 20 * h for h in (0.2, 0.4, 1)])
