"""Simulated hours and cost, compared with the closed form and published ranges."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from references import reference
from scipy import stats
from seen import FIXTURES, assessed

from assess.base.errors import WorkshopError
from assess.job.workshop_profile import Workshop, load_workshop
from assess.knowledge.model_base import SCOPES, HoursRange, Scope
from assess.planning.bench_days import Bench
from assess.planning.cost_estimate import (
    Spread,
    cost_of,
    estimate_of,
    job_hours,
    pert_mean,
    pert_variance,
    sampled_hours,
)

AACE = reference("cost_aace_classes")
SHOP = load_workshop()
NEAR = 0.03
MOST_STEPS = 10
MONDAY = dt.date(2027, 1, 11)
FIGURES = ("mean", "sd", "p10", "p50", "p90")
PLANS = [(stem, scope) for stem in FIXTURES for scope in SCOPES]


def shares_of(hours: Mapping[str, HoursRange], shop: Workshop) -> dict[str, float]:
    """Each step's share of the variance of F times the sum of hours, F the shared factor."""
    scale = shop.share_spent(sum(map(pert_mean, hours.values()))) * shop.pace
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


def spread_of(values: NDArray[np.float64]) -> list[float]:
    """The figures of some samples."""
    return [values.mean(), values.std(), *np.quantile(values, (0.1, 0.5, 0.9))]


@pytest.mark.parametrize(("stem", "scope"), PLANS)
def test_hours_and_cost_are_those_of_samples(stem: str, scope: Scope) -> None:
    plan = assessed(stem).plans[scope]
    hours = [s.hours for s in plan.steps]
    if not hours:
        assert figures(plan.estimate.total) == [0.0] * 5
        return
    drawn = sampled_hours(hours, plan.workshop).sum(axis=0)
    assert figures(plan.estimate.hours) == pytest.approx(spread_of(drawn), rel=NEAR)
    cost = plan.cost
    costs = (cost.materials + cost.transport + cost.rate_per_hour * drawn) * (1 + cost.contingency)
    assert figures(plan.estimate.total) == pytest.approx(spread_of(costs), rel=NEAR)


def test_quantiles_are_within_a_quarter_of_a_percent_of_many_samples() -> None:
    """A million samples of the longest plan; the standard error of a tenth is a tenth of that."""
    plan = assessed("neglected").plans["full"]
    factor = np.exp(np.random.default_rng(1).normal(size=1_000_000) * SHOP.whole_job_spread)
    factor *= math.exp(-(SHOP.whole_job_spread**2) / 2)
    scale = SHOP.share_spent(sum(pert_mean(s.hours) for s in plan.steps)) * SHOP.pace
    own = sum(pert_variance(s.hours) for s in plan.steps)
    summed = np.random.default_rng(2).normal(
        sum(pert_mean(s.hours) for s in plan.steps), math.sqrt(own), size=factor.size
    )
    drawn = scale * summed * factor
    assert figures(plan.estimate.hours)[2:] == pytest.approx(spread_of(drawn)[2:], rel=0.0025)


@pytest.mark.parametrize(("stem", "scope"), PLANS)
def test_the_steps_that_make_the_spread_are_those_of_the_closed_form(
    stem: str, scope: Scope
) -> None:
    plan = assessed(stem).plans[scope]
    variance_shares = plan.estimate.variance_shares
    assert variance_shares.keys() == {s.step for s in plan.steps}
    if not plan.steps:
        assert scope == "stabilise" or stem == "sound_organ"
        return
    assert sum(variance_shares.values()) == pytest.approx(1)
    shares = [round(share, 12) for share in variance_shares.values()]
    assert shares == sorted(shares, reverse=True)
    exact = shares_of({s.step: s.hours for s in plan.steps}, plan.workshop)
    assert sum(exact.values()) == pytest.approx(1)
    for step in sorted(exact, key=exact.__getitem__, reverse=True)[:MOST_STEPS]:
        assert variance_shares[step] == pytest.approx(exact[step], abs=1e-9), step


LONG_AND_SHORT = {
    "sure": HoursRange((3, 3, 3)),
    "wide": HoursRange((0, 1, 12)),
    "short": HoursRange((0.1, 0.2, 0.3)),
    "skew": HoursRange((2, 2, 9)),
}


@pytest.mark.parametrize("whole_job_spread", [0.0, 0.25, 0.6])
def test_many_samples_come_near_to_the_closed_form(whole_job_spread: float) -> None:
    shop = SHOP.model_copy(update={"whole_job_spread": whole_job_spread, "pace": 1.3})
    drawn = sampled_hours(list(LONG_AND_SHORT.values()), shop, samples=200_000)
    exact = job_hours(LONG_AND_SHORT.values(), shop)
    total = drawn.sum(axis=0)
    assert total.mean() == pytest.approx(exact.mean, rel=0.005)
    assert total.std() == pytest.approx(exact.sd, rel=0.01)
    covariances = ((own - own.mean()) @ (total - total.mean()) / total.size for own in drawn)
    shares = [covariance / total.var() for covariance in covariances]
    assert shares == pytest.approx(list(shares_of(LONG_AND_SHORT, shop).values()), abs=0.005)


def test_each_step_is_drawn_from_its_beta_distribution() -> None:
    shop = SHOP.model_copy(update={"whole_job_spread": 0.0, "overlap": 1.0})
    drawn = sampled_hours([LONG_AND_SHORT["wide"]], shop, samples=20_000)[0]
    low, likely, high = LONG_AND_SHORT["wide"]
    width = high - low
    beta = stats.beta(
        1 + 4 * (likely - low) / width, 1 + 4 * (high - likely) / width, loc=low, scale=width
    )
    assert stats.kstest(drawn, beta.cdf).pvalue > 0.001


def test_one_factor_is_drawn_evenly_from_its_lognormal() -> None:
    shop = SHOP.model_copy(update={"whole_job_spread": 0.4, "overlap": 1.0})
    factor = np.sort(sampled_hours([HoursRange((1, 1, 1))], shop, samples=500)[0])
    exact = stats.lognorm(0.4, scale=math.exp(-0.08))
    assert factor.mean() == pytest.approx(1, abs=0.005)
    places = exact.cdf(factor) * 500
    # One from each of as many equally probable ranges as there are samples.
    assert (places.astype(int) == np.arange(500)).all()


def test_the_shared_factor_multiplies_all_steps_alike() -> None:
    sure = [HoursRange((2, 2, 2)), HoursRange((5, 5, 5))]
    first, second = sampled_hours(sure, SHOP)
    assert second / first == pytest.approx(np.full(first.size, 2.5))
    assert first.std() > 0


def test_an_estimate_costs_what_its_hours_do() -> None:
    hours = job_hours(LONG_AND_SHORT.values(), SHOP)
    cost = cost_of(hours, 200, 300, SHOP)
    first = estimate_of(LONG_AND_SHORT, cost, SHOP)
    rate = SHOP.rate_per_hour * (1 + SHOP.contingency)
    fixed = 500 * (1 + SHOP.contingency)
    assert first.total.p90 == pytest.approx(fixed + rate * first.hours.p90)
    assert first.total.sd == pytest.approx(rate * first.hours.sd)
    assert first.variance_shares["sure"] > 0


def test_nothing_to_do_takes_nothing_and_nothing_makes_it_spread() -> None:
    found = estimate_of({}, cost_of(job_hours([], SHOP), 0, 0, SHOP), SHOP)
    assert figures(found.hours) == figures(found.total) == [0.0] * 5
    assert found.variance_shares == {}


def test_hours_that_are_sure_do_not_spread() -> None:
    shop = SHOP.model_copy(update={"whole_job_spread": 0.0})
    sure = {"one": HoursRange((1, 1, 1)), "two": HoursRange((2, 2, 2))}
    found = estimate_of(sure, cost_of(job_hours(sure.values(), shop), 0, 0, shop), shop)
    assert found.hours.p10 == pytest.approx(found.hours.p90) == pytest.approx(3)
    shop = shop.model_copy(update={"overlap": 1.0})
    one = {"one": HoursRange((1, 1, 1))}
    found = estimate_of(one, cost_of(job_hours(one.values(), shop), 0, 0, shop), shop)
    assert figures(found.hours) == [1, 0, 1, 1, 1]
    assert found.variance_shares == {}


@pytest.mark.parametrize("number", [5, 4, 3])
def test_the_ranges_of_estimates_are_the_published_ones(number: int) -> None:
    """AACE International Recommended Practice 18R-97; the pages that agree are in the table."""
    published = next(row for row in AACE["rows"] if row["cls"] == number)
    ours = next(kind for kind in SHOP.estimate_classes if kind.number == number)
    assert [-share for share in ours.under] == published["low"]
    assert list(ours.over) == published["high"]
    assert "18R-97" in ours.source
    assert f"class {number}" in ours.source


def test_the_more_is_seen_the_later_the_class_and_never_one_of_work_begun() -> None:
    numbers = [SHOP.estimate_class(seen / 100).number for seen in range(101)]
    assert numbers == sorted(numbers, reverse=True)
    assert set(numbers) == {5, 4, 3}
    widths = [kind.under[1] + kind.over[1] for kind in SHOP.estimate_classes]
    assert len(widths) == 3
    assert widths == sorted(widths, reverse=True)


def test_from_which_share_seen_an_estimate_is_of_which_class() -> None:
    """The comparison of classes with the share seen is this project's own."""
    assert [SHOP.estimate_class(seen).number for seen in (0.0, 0.149, 0.15, 0.899)] == [5, 5, 4, 4]
    assert [SHOP.estimate_class(seen).number for seen in (0.9, 1.0)] == [3, 3]


CLASS = (
    '[[estimate_classes]]\nnumber = {}\nseen_below = {}\nsaid = "a guess"\n'
    'under = [30, 60]\nover = [40, 90]\nsource = "our own jobs"\n'
)


def test_a_workshop_may_have_estimate_classes_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "ours.toml"
    path.write_text(CLASS.format(5, 0.5) + CLASS.format(3, 1.5))
    ours = load_workshop(path)
    assert [ours.estimate_class(seen).number for seen in (0.0, 0.49, 0.5, 1.0)] == [5, 5, 3, 3]
    assert (ours.estimate_class(0).under, ours.estimate_class(0).over) == ((30, 60), (40, 90))
    for text in (
        CLASS.format(5, 1.5) + CLASS.format(3, 0.5),
        CLASS.format(5, 0.5) + CLASS.format(3, 0.9),
    ):
        path.write_text(text)
        with pytest.raises(WorkshopError, match="must rise in seen_below and end above 1"):
            load_workshop(path)
    path.write_text("estimate_classes = []\n")
    with pytest.raises(WorkshopError, match="estimate_classes: "):
        load_workshop(path)


def test_a_late_finish_is_after_a_likely_one_and_after_the_bound() -> None:
    result = assessed("neglected")
    plan = result.plans["full"]
    calendar = result.planner.calendar(plan, MONDAY)
    finish = result.planner.finish(plan, calendar)
    assert finish.p50 < finish.p90
    # The bound is at mean hours, and the median of skewed hours is less than their mean.
    bench = Bench(plan.workshop, MONDAY)
    bound_h, likely_h = (bench.worked_h(bench.clock_h(m)) for m in (calendar.bound, finish.p50))
    assert bound_h - plan.workshop.bench_hours_a_day < likely_h
    assert calendar.bound < finish.p90
    assert abs(finish.p50 - calendar.finish) < dt.timedelta(days=7)
