"""Hours and cost, compared with published values and scipy."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from references import reference
from scipy import stats

from assess.job.workshop_profile import load_workshop
from assess.knowledge.model_base import HoursRange
from assess.planning.cost_estimate import (
    cost_of,
    job_hours,
    pert_mean,
    pert_variance,
    price_at,
    probability_within,
    spread,
)

PERT = reference("cost_pert_beta")
SHOP = load_workshop()


@pytest.mark.parametrize("row", PERT["rows"], ids=lambda r: f"{r['a']:g}-{r['m']:g}-{r['b']:g}")
def test_mean_and_deviation_of_every_published_row(row: dict[str, float]) -> None:
    """Beta-PERT formulae and quantile check values; sources in the table."""
    hours = HoursRange((row["a"], row["m"], row["b"]))
    assert pert_mean(hours) == pytest.approx(row["mean"])
    assert math.sqrt(pert_variance(hours)) == pytest.approx(row["sd_beta_exact"])


hours = st.lists(st.floats(0, 50), min_size=3, max_size=3).map(
    lambda v: HoursRange(tuple(sorted(v)))
)


@given(hours)
def test_mean_and_variance_are_those_of_scipys_beta(triple: HoursRange) -> None:
    low, likely, high = triple
    assume(high - low >= 1e-3)
    a = 1 + 4 * (likely - low) / (high - low)
    b = 1 + 4 * (high - likely) / (high - low)
    beta = stats.beta(a, b, loc=low, scale=high - low)
    assert pert_mean(triple) == pytest.approx(beta.mean(), abs=1e-9)
    assert pert_variance(triple) == pytest.approx(beta.var(), rel=1e-6, abs=1e-9)


@given(st.floats(0.1, 1e4), st.floats(0.01, 2))
def test_the_spread_has_the_quantiles_of_scipys_lognormal(mean: float, relative: float) -> None:
    found = spread(mean, mean * relative)
    s = math.sqrt(math.log(1 + relative**2))
    theirs = stats.lognorm(s, scale=mean / math.sqrt(1 + relative**2))
    assert theirs.mean() == pytest.approx(mean, rel=1e-9)
    for mine, p in ((found.p10, 0.1), (found.p50, 0.5), (found.p90, 0.9)):
        assert mine == pytest.approx(theirs.ppf(p), rel=1e-9)


def test_one_factor_for_the_whole_job_keeps_the_mean_and_widens_the_spread() -> None:
    steps = [HoursRange((1, 2, 6))] * 20
    certain = job_hours(steps, SHOP.model_copy(update={"whole_job_spread": 0.0}))
    shared = job_hours(steps, SHOP)
    assert shared.mean == pytest.approx(certain.mean) == pytest.approx(50 * SHOP.share_spent(50))
    assert certain.sd == pytest.approx(SHOP.share_spent(50) * math.sqrt(20 * 0.75))
    assert shared.sd > 3 * certain.sd


def test_a_short_job_saves_nothing_by_doing_steps_together() -> None:
    assert job_hours([HoursRange((2, 2, 2))] * 4, SHOP).mean == pytest.approx(8)


def test_of_a_long_job_a_share_is_saved_beyond_its_first_hours() -> None:
    shop = SHOP.model_copy(update={"overlap": 0.6, "overlap_from": 10.0, "pace": 2.0})
    assert job_hours([HoursRange((5, 5, 5))] * 6, shop).mean == pytest.approx(2 * (10 + 0.6 * 20))


@given(st.floats(0, 500), st.floats(0, 50))
def test_more_work_takes_longer_but_never_longer_than_its_sum(summed: float, more: float) -> None:
    spent, longer = (hours * SHOP.share_spent(hours) for hours in (summed, summed + more))
    assert spent <= longer + 1e-9
    assert longer - spent <= more + 1e-9
    assert SHOP.overlap <= SHOP.share_spent(summed) <= 1


@given(st.lists(hours, min_size=1, max_size=8), st.floats(0, 500), st.floats(0.05, 0.95))
def test_price_and_probability_are_each_others_inverse(
    steps: list[HoursRange], materials: float, probability: float
) -> None:
    cost = cost_of(job_hours(steps, SHOP), materials, 100, SHOP)
    assume(cost.hours.mean >= 1e-3)
    assert probability_within(cost, price_at(cost, probability)) == pytest.approx(probability)


def test_nothing_to_do_costs_what_is_fixed() -> None:
    cost = cost_of(job_hours([], SHOP), 40, 0, SHOP)
    assert cost.total.p10 == cost.total.p90 == pytest.approx(40 * 1.15)
    assert probability_within(cost, 46) == 1
    assert probability_within(cost, 45.9) == 0
    assert price_at(cost, 0.8) == pytest.approx(46)


def test_work_never_stays_within_a_limit_of_zero() -> None:
    cost = cost_of(job_hours([HoursRange((1, 2, 3))], SHOP), 0, 0, SHOP)
    assert probability_within(cost, 0) == 0
