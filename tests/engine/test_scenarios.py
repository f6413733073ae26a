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
