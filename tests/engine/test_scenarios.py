"""Scenarios of a hand cart, against its exact plans: each of them is one cart wholly known."""

from __future__ import annotations

import pytest
import toy

from assess.assessment import Assessment, assess
from assess.job.workshop_profile import Workshop, load_workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import SCOPES
from assess.planning.cost_estimate import price_at

CART = toy.knowledge()
SHOP = load_workshop(trade=CART.trade)
KNOWN = """
[answers.wheels]
play = 0
noise = "silent"
broken_spokes = {}
[answers.box]
crack = "{}"
"""
STUCK = '[[history.complaint]]\nsymptom = "wheels.stuck"\n'
"""Boards of the last class may cause it."""
WOBBLES = '[[history.complaint]]\nsymptom = "wheels.wobbles"\n'


def known(
    spokes: int = 0,
    crack: str = "none",
    *,
    told: str = "",
    knowledge: Knowledge = CART,
    workshop: Workshop = SHOP,
) -> Assessment:
    """A cart of which nothing is left to be seen, so that all its scenarios are alike."""
    job = toy.job(told + KNOWN.format(spokes, crack))
    found = assess(job, knowledge=knowledge, workshop=workshop)
    assert found.scenarios.unseen == ()
    return found


@pytest.mark.parametrize("pace", [0.01, 0.2, 1.0, 10.0])
def test_work_of_minutes_costs_what_its_plan_costs(pace: float) -> None:
    """The cart takes an hour and a quarter at the usual pace, and less than a minute at best."""
    shop = SHOP.model_copy(update={"pace": pace})
    found = known(spokes=1, workshop=shop)
    cost, costs = found.plans["working"].cost, found.scenarios.costs["working"]
    assert cost.hours.mean == pytest.approx(pace, rel=0.3)
    assert costs.median_h[0] == pytest.approx(cost.hours.p50, rel=1e-5)
    for quantile in (0.1, 0.8):
        price = price_at(cost, quantile)
        assert costs.cost_at(quantile, shop)[0] == pytest.approx(price, rel=1e-5)


def test_materials_and_transport_are_added_to_the_hours() -> None:
    found = known(spokes=3, crack="one")
    cost = found.plans["full"].cost
    assert cost.materials > 0
    assert cost.transport > 0
    price = found.scenarios.costs["full"].cost_at(0.8, SHOP)[0]
    assert price == pytest.approx(price_at(cost, 0.8), rel=1e-5)
    assert found.scenarios.costs["stabilise"].cost_at(0.8, SHOP)[0] == 0


def test_what_is_opened_to_find_a_cause_costs_what_it_costs_in_the_plan() -> None:
    wheels = toy.altered(toy.WHEELS, "symptom", "wobbles", tests=["noise", "play"])
    found = known(told=WOBBLES, knowledge=toy.knowledge(wheels, toy.BOX))
    plan, costs = found.plans["working"], found.scenarios.costs["working"]
    assert {"find wheels.wobbles", "open wheels.axle"} <= {s.step for s in plan.steps}
    assert costs.median_h[0] == pytest.approx(plan.cost.hours.p50, rel=1e-5)
    assert costs.cost_at(0.8, SHOP)[0] == pytest.approx(price_at(plan.cost, 0.8), rel=1e-5)


@pytest.mark.parametrize("crack", ["none", "one", "rotten"])
def test_only_findings_that_advise_against_work_do(crack: str) -> None:
    """Rotten boards alone do, and not against making them safe."""
    found = known(crack=crack)
    against = {s for s in SCOPES if found.scenarios.dissuaded[s].all()}
    assert against == ({"working", "full"} if crack == "rotten" else set())


def hopeless(**more: object) -> Knowledge:
    """The cart with boards that are eaten."""
    eaten = {"answer": "eaten", "class": 3, "beyond_repair": "nothing is left of it", **more}
    sound = {"answer": "none", "class": 0}
    return toy.knowledge(
        toy.WHEELS, toy.altered(toy.BOX, "criterion", "crack", outcomes=[sound, eaten])
    )


MADE_NEW = {"calls_for": ["new_boards"]}


@pytest.mark.parametrize(
    ("more", "told", "out_of_reach"),
    [
        ({}, "", {"full"}),
        (MADE_NEW, "", {"full"}),
        (MADE_NEW, STUCK, {"working", "full"}),
        ({**MADE_NEW, "disables": True}, "", {"working", "full"}),
        ({**MADE_NEW, "decay": True}, "", {"stabilise", "working", "full"}),
    ],
    ids=["nothing is done", "restored", "causes a complaint", "keeps it out of use", "decays"],
)
def test_what_is_beyond_repair_is_in_the_way_of_each_scope_that_needs_it(
    more: dict[str, object], told: str, out_of_reach: set[str]
) -> None:
    """Where nothing would be done with it, it is in the way of a full restoration alone."""
    found = known(crack="eaten", told=told, knowledge=hopeless(**more))
    impossible = {s for s in SCOPES if found.scenarios.costs[s].impossible.all()}
    assert impossible == out_of_reach
    options = found.verdict.options
    assert {o.scope for o in options if not o.feasibility.possible} == out_of_reach


@pytest.mark.parametrize(("spokes", "some", "most"), [(10, 2, 8), (20, 5, 15), (1, 1, 1)])
def test_a_number_in_the_middle_of_its_range_stands_for_what_is_not_measured(
    spokes: int, some: int, most: int
) -> None:
    """From half of the spokes on, the range ends with all of them."""
    text = f"[instrument.facts]\nspokes = {spokes}\n"
    numbers = assess(toy.job(text), knowledge=CART).plan_arrays.counts
    assert numbers["wheels.play"] == (0.5, 3.0, 7.5)
    assert numbers["wheels.broken_spokes"] == (0, some, most)


@pytest.mark.parametrize(
    ("changed", "begins", "numbers"),
    [
        ({"share_of": []}, (0, 1, 6), (0, 3, 8)),
        ({"share_of": [], "unit": "mm"}, (0, 0.5), (0.25, 1.0)),
        ({"unit": "mm"}, (0, 0.5, 2), (2.5, 12.5, 30.0)),
    ],
    ids=["counted", "measured", "measured in parts of ten spokes"],
)
def test_the_last_range_is_as_wide_as_what_lies_below_it_or_at_least_one_wide(
    changed: dict[str, object], begins: tuple[float, ...], numbers: tuple[float, ...]
) -> None:
    outcomes = [{"from": low, "says": f"{low}", "class": n} for n, low in enumerate(begins)]
    wheels = toy.altered(toy.WHEELS, "criterion", "broken_spokes", outcomes=outcomes, **changed)
    result = assess(toy.job(), knowledge=toy.knowledge(wheels, toy.BOX))
    assert result.plan_arrays.counts["wheels.broken_spokes"] == numbers
