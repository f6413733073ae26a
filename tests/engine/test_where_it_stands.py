"""Where the object is now, and what of it is open already, on a small world worked by hand."""

from __future__ import annotations

import datetime as dt

import pytest
import toy

from assess.assessment import Assessment, assess
from assess.explain import why
from assess.job.workshop_profile import load_workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.lint import doubts
from assess.output.plans import summary
from assess.planning.cost_estimate import pert_mean
from assess.planning.plan import Plan

CART = toy.knowledge()
SHOP = load_workshop(trade=CART.trade).model_copy(update={"overlap_from": 0.0})
WORN = '[answers.wheels]\nplay = 7\nbroken_spokes = 3\n[answers.box]\ncrack = "one"\n'
PATCHED = "[answers.wheels]\nbroken_spokes = 3\n"


def assessed(text: str, history: str = "", knowledge: Knowledge = CART) -> Assessment:
    return assess(toy.job(f"[history]\n{history}\n{text}"), knowledge=knowledge, workshop=SHOP)


def now_at(where: str) -> str:
    return f'now_at = "{where}"'


def opened(*places: str) -> str:
    return f"opened = {list(places)}"


def steps(plan: Plan) -> list[str]:
    return [s.step for s in plan.steps]


@pytest.mark.parametrize("where", ["the owner's", "elsewhere"])
def test_from_anywhere_else_it_is_fetched_as_if_nothing_were_told(where: str) -> None:
    plain, told = assessed(WORN), assessed(WORN, now_at(where))
    assert plain.plans
    for scope, plan in plain.plans.items():
        assert steps(told.plans[scope]) == steps(plan)
        assert told.plans[scope].cost == plan.cost


def test_in_the_workshop_it_is_not_fetched_and_only_the_way_back_is_charged() -> None:
    plain, told = assessed(WORN).plans["full"], assessed(WORN, now_at("the workshop")).plans["full"]
    assert steps(told) == [s for s in steps(plain) if s != "box.fetch"]
    assert told.cost.transport == plain.cost.transport / 2
    assert plain.cost.transport == SHOP.transport


def test_in_the_workshop_small_work_is_workshop_work() -> None:
    at_home = assessed(PATCHED).plans["working"]
    there = assessed(PATCHED, now_at("the workshop"))
    plan = there.plans["working"]
    assert not at_home.workshop_job
    assert plan.workshop_job
    assert "in the workshop" in " ".join(summary(there, plan))
    ways = {way.name: way for way in there.verdict.ways}
    assert ways["service"].possible == 0
    assert there.scenarios.costs["working"].away.all()


@pytest.mark.parametrize("text", [WORN, PATCHED])
def test_scenarios_and_budget_charge_what_the_plan_does(text: str) -> None:
    known = text.replace("[answers.wheels]", '[answers.wheels]\nnoise = "silent"')
    known = known if "play" in known else known.replace("noise", "play = 0\nnoise")
    known = known if "box" in known else known + '[answers.box]\ncrack = "none"\n'
    result = assessed(known, f"{now_at('the workshop')}\n{opened('wheels.axle')}")
    assert result.scenarios.unseen == ()
    for scope, plan in result.plans.items():
        cost = result.scenarios.costs[scope].mean_cost(result.workshop)
        assert cost == pytest.approx(plan.cost.total.mean, rel=1e-4)
    offer = result.budget(usable=True).frontier[-1]
    assert offer.plan.cost.total.mean == pytest.approx(result.plans["full"].cost.total.mean)


def test_nothing_to_do_is_nothing_to_do_in_the_workshop_too() -> None:
    told = assessed('[answers.box]\ncrack = "none"\n', now_at("the workshop"))
    assert {plan.steps for plan in told.plans.values()} == {()}


def test_what_is_open_is_closed_and_not_opened() -> None:
    plain, told = assessed(WORN), assessed(WORN, opened("wheels.axle"))
    for scope in ("working", "full"):
        before, after = plain.plans[scope], told.plans[scope]
        assert steps(after) == [s for s in steps(before) if s != "open wheels.axle"]
        saved = pert_mean(CART.places["wheels.axle"].open_hours) * SHOP.overlap * SHOP.pace
        assert before.cost.hours.mean - after.cost.hours.mean == pytest.approx(saved)


def test_what_encloses_an_open_place_is_open_too() -> None:
    plan = assessed(WORN, opened("wheels.bearing")).plans["full"]
    order = steps(plan)
    assert not {"open wheels.axle", "open wheels.bearing"} & set(order)
    assert order.index("wheels.new_bearing") < order.index("close wheels.bearing")
    assert order.index("close wheels.bearing") < order.index("close wheels.axle")


def test_what_must_be_open_for_an_open_place_is_open_too() -> None:
    wheels = toy.altered(
        toy.WHEELS,
        "place",
        "bearing",
        inside=None,
        open_requires=[
            {"step": "open axle", "because": "the axle is in the way"},
            {"step": "clean_hub", "because": "grit falls in"},
        ],
    )
    wheels = toy.altered(wheels, "repair", "clean_hub", places=["axle"])
    wheels = toy.altered(wheels, "repair", "new_bearing", requires=[])
    knowledge = toy.knowledge(wheels, toy.BOX)
    closed = steps(assessed(WORN, knowledge=knowledge).plans["full"])
    assert {"open wheels.axle", "wheels.clean_hub"} <= set(closed)
    order = steps(assessed(WORN, opened("wheels.bearing"), knowledge).plans["full"])
    assert not {"open wheels.axle", "open wheels.bearing", "wheels.clean_hub"} & set(order)
    assert order.index("close wheels.bearing") < order.index("close wheels.axle")


def test_what_is_open_is_closed_in_every_plan_with_what_closing_requires() -> None:
    """A bearing is never pressed in dry, whoever drew it."""
    plan = assessed('[answers.box]\ncrack = "one"\n', opened("wheels.bearing")).plans["full"]
    order = steps(plan)
    assert order.index("wheels.grease_hub") < order.index("close wheels.bearing")
    closing = plan.step("close wheels.bearing")
    assert closing is not None
    assert "it is open already" in [cause.text for cause in closing.causes]


def test_why_says_that_a_place_is_open_already() -> None:
    result = assessed(WORN, opened("wheels.axle"))
    said = why(result, "open wheels.axle")
    assert [node.text for node in said.under] == ["it is open already, as told: it is only closed"]


def test_why_says_that_it_need_not_be_fetched() -> None:
    said = why(assessed(WORN, now_at("the workshop")), "box.fetch")
    assert "it is told to stand at the workshop already" in said.under[-1].text


def test_the_calendar_takes_a_plan_with_open_places() -> None:
    result = assessed(WORN, f"{now_at('the workshop')}\n{opened('wheels.bearing')}")
    plan = result.plans["full"]
    calendar = result.planner.calendar(plan, dt.date(2027, 1, 4))
    assert {b.step for b in calendar.bookings} == set(steps(plan))


def test_knowledge_may_name_where_it_stands_and_no_feature_may_take_that_name() -> None:
    assert doubts(CART) == doubts(toy.knowledge(toy.WHEELS, toy.altered(
        toy.BOX, "repair", "fetch", excludes=["at_workshop"], needs=["at_owner"]
    )))  # fmt: skip
    with pytest.raises(ValueError, match="at_workshop says where the object is now"):
        toy.declaration(toy.altered(toy.WHEELS, "feature", "brake", id="at_workshop"))
