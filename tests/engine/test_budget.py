"""What a sum of money buys, held against the plan that it is said to buy."""

from __future__ import annotations

import math
from statistics import NormalDist

import pytest
from seen import assessed

from assess.budget import Offer
from assess.graph import closure
from assess.workshop import load_workshop

SHOP = load_workshop()
NEAR = 0.02
STEMS = ["one_strap", "heated_house", "pressure_harmonium", "tight_budget"]


def priced(offer: Offer) -> float:
    """The price of an offer's plan, as if the factor of the whole job made all the spread."""
    cost, sigma = offer.plan.cost, SHOP.whole_job_spread
    late = math.exp(sigma * NormalDist().inv_cdf(SHOP.sure_enough) - sigma**2 / 2)
    hours = cost.hours.mean * late * SHOP.rate_per_hour
    return (hours + cost.materials + cost.transport) * (1 + SHOP.contingency)


@pytest.mark.parametrize("stem", STEMS)
@pytest.mark.parametrize("amount", [700, 3000, 9000])
def test_a_sum_buys_what_its_plan_costs(stem: str, amount: float) -> None:
    result = assessed(stem)
    offer = result.budget().best(amount)
    assert offer is not None
    assert offer.price <= amount + 0.01
    assert offer.reckoned == pytest.approx(priced(offer), rel=NEAR, abs=1)


@pytest.mark.parametrize("stem", STEMS)
def test_no_step_that_the_repairs_need_is_missing_from_the_plan(stem: str) -> None:
    result = assessed(stem)
    offer = result.budget().best(3000)
    assert offer is not None
    needed = closure(offer.plan.called, result.knowledge, result.setting).steps
    assert {step.step for step in offer.plan.steps} == needed.keys()


@pytest.mark.parametrize("stem", STEMS)
def test_more_money_never_buys_less(stem: str) -> None:
    budget = assessed(stem).budget()
    found = [budget.best(amount) for amount in (0, 500, 1500, 4000, 12000)]
    points = [offer.points if offer else 0.0 for offer in found]
    assert points == sorted(points)


def test_what_must_play_plays_or_is_too_dear() -> None:
    budget = assessed("tight_budget").budget(playable=True)
    assert budget.best(100) is None
    least = budget.least
    assert least is not None
    assert least.plays
    offer = budget.best(least.price + 1)
    assert offer is not None
    assert offer.plays
