"""Hours and money of many scenarios at once: the same object, each time wholly known.

A scenario fills in everything unseen (:mod:`assess.uncertainty.monte_carlo`). Which outcomes it
has decides which steps its plan holds, and so what it costs. All scenarios are worked at once
as arrays; yes-or-no facts are packed, 64 scenarios to a number.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import SCOPES, Scope
from assess.planning.cost_estimate import Spread
from assess.uncertainty.monte_carlo import SEED, OutcomeIndices
from assess.uncertainty.packed_facts import Bools, Packed, Places, Unions, packed, unpacked
from assess.uncertainty.plan_arrays import Floats, PlanArrays

WORDS = 64
"""So many times 64 scenarios are worked at once: what they need stays near the processor."""
SEARCHING: tuple[Scope, ...] = ("working", "full")
"""The scopes that find the cause of what is complained of."""


@dataclass(frozen=True)
class ScenarioCosts:
    """Hours and money of one scope; every array has the shape (scenarios,).

    Attributes:
        mean_h, sd_h: bench hours of the whole job, with overlap, pace and the shared factor.
        fixed: materials and transport, with contingency.
        needless: nothing calls for work. impossible: something needed is beyond repair.
        away: it takes work that cannot be done at the customer's home.
    """

    mean_h: Floats
    sd_h: Floats
    fixed: Floats
    needless: Bools
    impossible: Bools
    away: Bools

    @cached_property
    def logs(self) -> tuple[NDArray[Any], NDArray[Any]]:
        """Mean and standard deviation of the logarithm of the hours, each of shape (scenarios,)."""
        mean = np.maximum(self.mean_h, 1e-9)
        variance = np.log1p((self.sd_h / mean) ** 2)
        return np.log(mean) - variance / 2, np.sqrt(variance)

    @cached_property
    def median_h(self) -> NDArray[Any]:
        """The median of the hours of each scenario."""
        median: NDArray[Any] = np.exp(self.logs[0])
        return median

    def cost_at(self, quantile: float, workshop: Workshop) -> Floats:
        """The cost that each scenario stays under with this probability."""
        if quantile not in self._hours_at:
            self._hours_at[quantile] = self._hours(NormalDist().inv_cdf(quantile))
        return self._cost(self._hours_at[quantile], workshop)

    @cached_property
    def _hours_at(self) -> dict[float, Floats]:
        return {}

    def sampled(self, workshop: Workshop) -> tuple[Floats, Floats]:
        """Hours and cost of each scenario, each at a random quantile of its own."""
        hours = self._hours(_normals(len(self.mean_h)))
        return hours, self._cost(hours, workshop)

    def mean_cost(self, workshop: Workshop) -> Floats:
        """The mean cost of each scenario."""
        return self._cost(self.mean_h, workshop)

    def _hours(self, z_score: float | Floats) -> Floats:
        mu, sigma = self.logs
        return np.where(self.mean_h > 0, np.exp(mu + sigma * z_score), 0.0)

    def _cost(self, hours: Floats, workshop: Workshop) -> Floats:
        return hours * (workshop.rate_per_hour * (1 + workshop.contingency)) + self.fixed


@dataclass(frozen=True)
class Scenarios:
    """Many scenarios of one object, each wholly known.

    Attributes:
        unseen: criteria that were drawn, in the order of the rows of ``outcomes``.
        outcomes: which outcome each criterion has, of shape (unseen criteria, scenarios).
        costs: hours and money by scope.
        dissuaded: scope -> some finding advises against it, of shape (scenarios,).
        ruined: little of it can be saved, of shape (scenarios,).
        significance: how significant it is by what is found, 0..3; of shape (scenarios,).
        differs: a full repair calls for more than working order, of shape (scenarios,).
    """

    unseen: tuple[Judgement, ...]
    outcomes: OutcomeIndices
    costs: dict[Scope, ScenarioCosts]
    dissuaded: dict[Scope, Bools]
    ruined: Bools
    significance: NDArray[np.int8]
    differs: Bools

    @property
    def count(self) -> int:
        """How many scenarios there are."""
        return int(self.differs.shape[0])

    def spreads(self, scope: Scope, workshop: Workshop) -> tuple[Spread, Spread]:
        """Hours and cost of a scope, allowing for the unseen."""
        hours, cost = self.costs[scope].sampled(workshop)
        return _spread(hours), _spread(cost)

    def within(self, scope: Scope, limit: float, workshop: Workshop) -> float:
        """Probability that a scope stays within a limit, allowing for the unseen."""
        _, cost = self.costs[scope].sampled(workshop)
        return float(np.mean(cost <= limit))


def _spread(values: Floats) -> Spread:
    p10, p50, p90 = (float(v) for v in np.quantile(values, (0.1, 0.5, 0.9)))
    return Spread(float(values.mean()), float(values.std()), p10, p50, p90)


@lru_cache(maxsize=8)
def _normals(count: int) -> Floats:
    """Evenly spaced quantiles of the standard normal distribution, in a fixed random order."""
    steps = (np.arange(count) + 0.5) / count
    normals = np.array([NormalDist().inv_cdf(float(p)) for p in steps], np.float64)
    np.random.RandomState(SEED).shuffle(normals)
    return normals


def simulate_scenarios(
    plan: PlanArrays,
    graded: Graded,
    workshop: Workshop,
    unseen: tuple[Judgement, ...],
    outcomes: OutcomeIndices,
    at_least: Mapping[Scope, bool] | None = None,
) -> Scenarios:
    """Hours and money of many scenarios that share what is seen.

    Args:
        plan: the plan arrays of the object.
        graded: what is seen.
        workshop: rates and habits.
        unseen: criteria that are filled in, whether seen or not.
        outcomes: their outcomes, of shape (unseen criteria, scenarios).
        at_least: scopes that include the routine of a workshop job in any case.
    """
    count = outcomes.shape[1]
    marks, table = _marked(plan, graded, unseen, outcomes), plan.marks
    counts = _counts(plan, graded, unseen, outcomes)
    calls = {s: _with_searches(marks[rows], s, plan, count) for s, rows in table.calls.items()}
    costs = {
        s: _scenario_costs(
            plan,
            calls[s],
            counts,
            unpacked(marks[table.impossible[s]], count),
            workshop,
            at_least is not None and at_least[s],
        )
        for s in SCOPES
    }
    differs = np.bitwise_or.reduce(calls["full"] ^ calls["working"], axis=0)
    significance = np.zeros(count, np.int8)
    for level, row in sorted(table.significant.items()):
        significance[unpacked(marks[row], count)] = level
    return Scenarios(
        unseen=unseen,
        outcomes=outcomes,
        costs=costs,
        dissuaded={s: unpacked(marks[row], count) for s, row in table.dissuaded.items()},
        ruined=unpacked(marks[table.ruined], count),
        significance=significance,
        differs=unpacked(differs, count),
    )


def _with_searches(calls: Packed, scope: Scope, plan: PlanArrays, count: int) -> Packed:
    """Called roots, and the searches: they take their hours whatever the cause will be."""
    everywhere = packed(np.full((len(plan.searched), count), scope in SEARCHING))
    return np.vstack([calls, everywhere]) if plan.searched else calls


def _marked(
    plan: PlanArrays, graded: Graded, unseen: tuple[Judgement, ...], outcomes: OutcomeIndices
) -> Packed:
    """In which scenarios each of :class:`OutcomeMarks` is set; of shape (marks, words)."""
    marks, count = plan.marks, outcomes.shape[1]
    rows = np.array([marks.row_of[j.id] for j in unseen], np.intp)
    # One row of facts for each outcome of what is filled in, if it sets a mark; what is seen
    # holds everywhere.
    filled, places = np.nonzero(marks.is_telling[rows])
    where = packed(outcomes[filled] == places.astype(np.int8)[:, None])
    where = np.vstack([where, packed(np.ones((1, count), np.bool_))])
    source = np.full(marks.is_telling.shape, -1, np.intp)
    causing = np.zeros_like(marks.is_telling)
    filled_in = {judgement.id for judgement in unseen}
    for judgement in graded.judgements.values():
        if judgement.is_seen and judgement.id not in filled_in:
            source[marks.row_of[judgement.id], judgement.position] = len(where) - 1
            causing[marks.row_of[judgement.id], list(judgement.causing)] = True
    source[rows[filled], places] = np.arange(len(filled), dtype=np.intp)
    for row, judgement in zip(rows, unseen, strict=True):
        if judgement.causing:
            causing[row, list(judgement.causing)] = True
    sources = source[marks.criteria, marks.places]
    holds = (sources >= 0) & (causing[marks.criteria, marks.places] == marks.as_cause)
    return Unions(marks.count, sources[holds], marks.targets[holds])(where)


def _counts(
    plan: PlanArrays, graded: Graded, unseen: tuple[Judgement, ...], outcomes: OutcomeIndices
) -> Floats:
    """How many times each counted step is done in each scenario, at least once.

    Of shape (counted steps, scenarios).
    """
    drawn = {j.id: row for j, row in zip(unseen, outcomes, strict=True)}
    totals = np.zeros((len(plan.counted), outcomes.shape[1]), np.float64)
    for total, criteria in zip(totals, plan.counted.values(), strict=True):
        for criterion in criteria:
            judgement = graded.judgements.get(criterion)
            value = judgement.value if judgement and judgement.counts else None
            if criterion in drawn:
                numbers = np.array(plan.counts[criterion], np.float64)
                if judgement and value is not None:
                    numbers[judgement.position] = value
                total += numbers[drawn[criterion]]
            elif value is not None:
                total += value
    return np.where(totals > 0, totals, 1.0)


def _scenario_costs(
    plan: PlanArrays,
    calls: Packed,
    counts: Floats,
    impossible: Bools,
    workshop: Workshop,
    at_least_routine: bool,
) -> ScenarioCosts:
    held, count = _done(plan, calls, at_least_routine), len(impossible)
    steps = np.flatnonzero(held.any(axis=1))
    parts = [
        _summed(plan, steps, held[steps, first : first + WORDS], counts[:, 64 * first : 64 * end])
        for first, end in ((n, n + WORDS) for n in range(0, held.shape[1], WORDS))
    ]
    summed, variance_h2, price = np.hstack(parts)
    # As Workshop.share_spent, for all scenarios at once.
    first = np.minimum(summed, workshop.overlap_from)
    spent = first + workshop.overlap * (summed - first)
    scale = workshop.pace * np.divide(spent, summed, out=np.ones_like(spent), where=summed > 0)
    mean: Floats = scale * summed
    shared = math.exp(workshop.whole_job_spread**2)
    variance = scale**2 * variance_h2
    sd = np.sqrt(np.maximum(0.0, (mean**2 + variance) * shared - mean**2))
    busy, leaving = (np.bitwise_or.reduce(rows, axis=0) for rows in (held, held[plan.away]))
    away = np.logical_or(unpacked(leaving, count), at_least_routine)
    transport = plan.transport * away
    fixed = (price + transport) * (1 + workshop.contingency)
    needless: Bools = np.logical_not(unpacked(busy, count))
    return ScenarioCosts(mean, sd, fixed, needless, impossible, away)


def _summed(plan: PlanArrays, steps: Places, held: Packed, counts: Floats) -> Floats:
    """Mean hours, their variance, and the price of the materials, of some scenarios.

    Args:
        plan: the plan arrays of the object.
        steps: steps that any of them has.
        held: which of them each has; of shape (steps, words).
        counts: how many times each counted step is done; of shape (counted steps, scenarios).

    Returns:
        Of shape (3, scenarios).
    """
    done = unpacked(held, counts.shape[1]).astype(np.float64)
    place = {step: at for at, step in enumerate(steps.tolist())}
    each_once = np.array([plan.mean_h, plan.variance_h2, plan.price_fixed + plan.price_each])
    sums: Floats = each_once[:, steps] @ done
    counted = [(row, step) for row, step in enumerate(plan.counted) if step in place]
    rows, many = [row for row, _ in counted], [step for _, step in counted]
    times = dict(zip(many, done[[place[step] for step in many]] * counts[rows], strict=True))
    for step, often in times.items():
        # Each was summed as if it was done once.
        once = done[place[step]]
        sums[0] += plan.mean_h[step] * (often - once)
        sums[1] += plan.variance_h2[step] * (often * often - once)
        if plan.price_each[step]:
            sums[2] += plan.price_each[step] * (often - once)
    for material in plan.whole:
        takes = [(done[place[s]], amount) for s, amount in material.fixed if s in place]
        takes += [(times.get(s, done[place[s]]), a) for s, a in material.each if s in place]
        if takes:
            units = np.ceil(sum(amount * often for often, amount in takes) - 1e-4)
            sums[2] += material.price * (np.minimum(units, 1) if material.once else units)
    return sums


def _done(plan: PlanArrays, calls: Packed, at_least_routine: bool) -> Packed:
    """Which steps each scenario's plan holds; of shape (steps, words)."""
    done = plan.reach(calls)
    needless = _needless(plan, done)
    kept = calls & ~needless[plan.root_steps]
    if not np.array_equal(kept, calls):
        done = plan.reach(kept)
    done &= ~needless
    busy, away = (np.bitwise_or.reduce(steps, axis=0) for steps in (done, done[plan.away]))
    if at_least_routine:
        busy = away = np.full_like(busy, ~np.uint64(0))
    done[plan.always] |= busy
    done[plan.workshop] |= away
    return done


def _needless(plan: PlanArrays, done: Packed) -> Packed:
    """Which steps others make needless, as in an exact plan; of shape (steps, words).

    A step that is needless makes no other step needless, and two steps never make each other so.
    """
    perhaps = plan.lesser(done)
    while True:
        surely = plan.lesser(done & ~perhaps)
        still = plan.lesser(done & ~surely)
        if np.array_equal(still, perhaps):
            return surely
        perhaps = still
