"""Simulated hours and cost, held against the closed form and published ranges."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest
from references import reference
from scipy import stats
from seen import FIXTURES, assessed

from assess.job.workshop_profile import Workshop, load_workshop
from assess.knowledge.model_base import SCOPES, HoursRange, Scope
from assess.planning.cost_estimate import (
    ESTIMATE_CLASSES,
    Spread,
    cost_of,
    drawn_hours,
    estimate_class,
    job_hours,
    pert_mean,
    pert_variance,
    simulated,
)

AACE = reference("cost_aace_classes")
SHOP = load_workshop()
NEAR = 0.03
POINTS = 0.03
"""Percentage points by which a simulated share may be off."""
MAKERS = 10
FIGURES = ("mean", "sd", "p10", "p50", "p90")
PLANS = [(stem, scope) for stem in FIXTURES for scope in SCOPES]


def shares_of(hours: Mapping[str, HoursRange], shop: Workshop) -> dict[str, float]:
    """Each step's share of the variance of F times the sum of hours, F the shared factor."""
    scale = shop.overlap * shop.pace
    square = math.exp(shop.whole_job_spread**2)
    means = {step: scale * pert_mean(h) for step, h in hours.items()}
    variances = {step: scale**2 * pert_variance(h) for step, h in hours.items()}
    mean = sum(means.values())
    whole = square * (mean**2 + sum(variances.values())) - mean**2
    return {
        step: (means[step] * mean * (square - 1) + square * variances[step]) / whole
        for step in hours
    }


def figures(spread: Spread) -> list[float]:
    return [getattr(spread, name) for name in FIGURES]


@pytest.mark.parametrize(("stem", "scope"), PLANS)
def test_simulated_hours_and_cost_are_those_of_the_closed_form(stem: str, scope: Scope) -> None:
    plan = assessed(stem).plans[scope]
    assert figures(plan.estimate.hours) == pytest.approx(figures(plan.cost.hours), rel=NEAR)
    assert figures(plan.estimate.total) == pytest.approx(figures(plan.cost.total), rel=NEAR)


@pytest.mark.parametrize(("stem", "scope"), PLANS)
def test_the_steps_that_make_the_spread_are_those_of_the_closed_form(
    stem: str, scope: Scope
) -> None:
    plan = assessed(stem).plans[scope]
    variance_shares = plan.estimate.variance_shares
    assert variance_shares.keys() == {s.step for s in plan.steps}
    if not plan.steps:
        return
    assert sum(variance_shares.values()) == pytest.approx(1)
    assert list(variance_shares.values()) == sorted(variance_shares.values(), reverse=True)
    exact = shares_of({s.step: s.hours for s in plan.steps}, plan.workshop)
    assert sum(exact.values()) == pytest.approx(1)
    for step in sorted(exact, key=exact.__getitem__, reverse=True)[:MAKERS]:
        assert variance_shares[step] == pytest.approx(exact[step], abs=POINTS), step


LONG_AND_SHORT = {
    "sure": HoursRange((3, 3, 3)),
    "wide": HoursRange((0, 1, 12)),
    "short": HoursRange((0.1, 0.2, 0.3)),
    "skew": HoursRange((2, 2, 9)),
}


@pytest.mark.parametrize("whole_job_spread", [0.0, 0.25, 0.6])
def test_many_samples_come_as_near_to_the_closed_form_as_one_likes(whole_job_spread: float) -> None:
    shop = SHOP.model_copy(update={"whole_job_spread": whole_job_spread, "pace": 1.3})
    drawn = drawn_hours(list(LONG_AND_SHORT.values()), shop, samples=200_000)
    exact = job_hours(LONG_AND_SHORT.values(), shop)
    total = drawn.sum(axis=0)
    assert total.mean() == pytest.approx(exact.mean, rel=0.005)
    assert total.std() == pytest.approx(exact.sd, rel=0.01)
    covariances = ((own - own.mean()) @ (total - total.mean()) / total.size for own in drawn)
    shares = [covariance / total.var() for covariance in covariances]
    assert shares == pytest.approx(list(shares_of(LONG_AND_SHORT, shop).values()), abs=0.005)


def test_each_step_is_drawn_from_its_beta_distribution() -> None:
    shop = SHOP.model_copy(update={"whole_job_spread": 0.0, "overlap": 1.0})
    drawn = drawn_hours([LONG_AND_SHORT["wide"]], shop, samples=20_000)[0]
    low, likely, high = LONG_AND_SHORT["wide"]
    width = high - low
    beta = stats.beta(
        1 + 4 * (likely - low) / width, 1 + 4 * (high - likely) / width, loc=low, scale=width
    )
    assert stats.kstest(drawn, beta.cdf).pvalue > 0.001


def test_one_factor_is_drawn_evenly_from_its_lognormal() -> None:
    shop = SHOP.model_copy(update={"whole_job_spread": 0.4, "overlap": 1.0})
    factor = np.sort(drawn_hours([HoursRange((1, 1, 1))], shop, samples=500)[0])
    exact = stats.lognorm(0.4, scale=math.exp(-0.08))
    assert factor.mean() == pytest.approx(1, abs=0.005)
    places = exact.cdf(factor) * 500
    # One from each of as many equally probable ranges as there are samples.
    assert (places.astype(int) == np.arange(500)).all()


def test_the_shared_factor_bears_on_all_steps_alike() -> None:
    sure = [HoursRange((2, 2, 2)), HoursRange((5, 5, 5))]
    first, second = drawn_hours(sure, SHOP)
    assert second / first == pytest.approx(np.full(first.size, 2.5))
    assert first.std() > 0


def test_a_plan_is_simulated_alike_every_time_and_costs_what_its_hours_do() -> None:
    hours = job_hours(LONG_AND_SHORT.values(), SHOP)
    cost = cost_of(hours, 200, 300, SHOP)
    first, again = (simulated(LONG_AND_SHORT, cost, SHOP) for _ in range(2))
    assert first == again
    rate = SHOP.rate_per_hour * (1 + SHOP.contingency)
    fixed = 500 * (1 + SHOP.contingency)
    assert first.total.p90 == pytest.approx(fixed + rate * first.hours.p90)
    assert first.total.sd == pytest.approx(rate * first.hours.sd)
    assert first.variance_shares["sure"] > 0


def test_nothing_to_do_takes_nothing_and_nothing_makes_it_spread() -> None:
    found = simulated({}, cost_of(job_hours([], SHOP), 0, 0, SHOP), SHOP)
    assert figures(found.hours) == figures(found.total) == [0.0] * 5
    assert found.variance_shares == {}


def test_hours_that_are_sure_do_not_spread() -> None:
    shop = SHOP.model_copy(update={"whole_job_spread": 0.0})
    sure = {"one": HoursRange((1, 1, 1)), "two": HoursRange((2, 2, 2))}
    found = simulated(sure, cost_of(job_hours(sure.values(), shop), 0, 0, shop), shop)
    assert found.hours.p10 == pytest.approx(found.hours.p90) == pytest.approx(3 * SHOP.overlap)
    shop = shop.model_copy(update={"overlap": 1.0})
    one = {"one": HoursRange((1, 1, 1))}
    found = simulated(one, cost_of(job_hours(one.values(), shop), 0, 0, shop), shop)
    assert figures(found.hours) == [1, 0, 1, 1, 1]
    assert found.variance_shares == {}


@pytest.mark.parametrize("number", [5, 4, 3])
def test_the_ranges_of_estimates_are_the_published_ones(number: int) -> None:
    """AACE International Recommended Practice 18R-97; the pages that agree are in the table."""
    published = next(row for row in AACE["rows"] if row["cls"] == number)
    ours = next(kind for _, kind in ESTIMATE_CLASSES if kind.number == number)
    assert [-share for share in ours.low] == published["low"]
    assert list(ours.high) == published["high"]
    assert "18R-97" in ours.source
    assert f"class {number}" in ours.source


def test_the_more_is_seen_the_later_the_class_and_never_one_of_work_begun() -> None:
    numbers = [estimate_class(seen / 100).number for seen in range(101)]
    assert numbers == sorted(numbers, reverse=True)
    assert set(numbers) == {5, 4, 3}
    widths = [low[1] + high[1] for low, high in ((k.low, k.high) for _, k in ESTIMATE_CLASSES)]
    assert widths == sorted(widths, reverse=True)
