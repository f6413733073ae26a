"""Hours and money of many scenarios at once: the same object, each time wholly known.

A scenario fills in everything unseen (:mod:`assess.uncertainty.monte_carlo`). Which outcomes it
has decides which steps its plan holds, and so what it costs. All scenarios are worked at once
as arrays; yes-or-no facts are packed eight scenarios to a byte.
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
from assess.knowledge.criteria import Outcome
from assess.knowledge.model_base import SCOPES, Scope
from assess.planning.cost_estimate import Spread
from assess.uncertainty.monte_carlo import SEED, OutcomeIndices
from assess.uncertainty.plan_arrays import Bools, Floats, Packed, PlanArrays


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

    def cost_at(self, quantile: float, workshop: Workshop) -> Floats:
        """The cost that each scenario stays under with this probability."""
        return self._cost(self._hours(NormalDist().inv_cdf(quantile)), workshop)

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
    normals = np.array([NormalDist().inv_cdf(float(p)) for p in steps], np.float32)
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
    marks = _Marks(plan, count)
    filled_in = {judgement.id for judgement in unseen}
    for judgement in graded.judgements.values():
        if judgement.is_seen and judgement.id not in filled_in:
            marks.note(judgement, judgement.position, marks.everywhere)
    for judgement, drawn in zip(unseen, outcomes, strict=True):
        for place, outcome in enumerate(judgement.criterion.outcomes):
            if outcome.condition > 0:
                marks.note(judgement, place, np.packbits(drawn == place))
    counts = _counts(plan, graded, unseen, outcomes)
    costs = {
        s: _scenario_costs(
            plan,
            marks.calls[s],
            counts,
            _bits(marks.impossible[s], count),
            workshop,
            at_least is not None and at_least[s],
        )
        for s in SCOPES
    }
    differs = np.bitwise_or.reduce(marks.calls["full"] ^ marks.calls["working"], axis=0)
    dissuaded = {s: _bits(packed, count) for s, packed in marks.dissuaded.items()}
    significance = np.zeros(count, np.int8)
    for level, packed in sorted(marks.significant.items()):
        significance[_bits(packed, count)] = level
    ruined = _bits(marks.ruined, count)
    return Scenarios(
        unseen, outcomes, costs, dissuaded, ruined, significance, _bits(differs, count)
    )


def _bits(packed: Packed, count: int) -> Bools:
    return np.unpackbits(packed, axis=-1, count=count).view(np.bool_)


class _Marks:
    """What the outcomes of many scenarios call for and forbid, eight scenarios to a byte."""

    def __init__(self, plan: PlanArrays, count: int) -> None:
        self.plan = plan
        self.everywhere = np.packbits(np.ones(count, np.bool_))
        width = len(self.everywhere)
        self.calls = {s: np.zeros((len(plan.roots), width), np.uint8) for s in SCOPES}
        self.impossible = {s: np.zeros(width, np.uint8) for s in SCOPES}
        self.dissuaded = {s: np.zeros(width, np.uint8) for s in SCOPES}
        self.ruined = np.zeros(width, np.uint8)
        self.significant: dict[int, Packed] = {}

    def note(self, judgement: Judgement, place: int, where: Packed) -> None:
        """Note what one outcome of a criterion does in the scenarios that have it."""
        outcome: Outcome = judgement.criterion.outcomes[place]
        calls = self.plan.cause_calls if place in judgement.causing else self.plan.calls
        for scope, roots in calls[judgement.id][place].items():
            for root in roots:
                self.calls[scope][root] |= where
            if outcome.beyond_repair and (outcome.calls(scope) or scope == "full"):
                self.impossible[scope] |= where
        for scope in outcome.against if outcome.advise_against and outcome.condition > 0 else ():
            self.dissuaded[scope] |= where
        if outcome.ruins:
            self.ruined |= where
        if outcome.significance:
            level = outcome.significance
            self.significant[level] = self.significant.get(level, np.uint8(0)) | where


def _counts(
    plan: PlanArrays, graded: Graded, unseen: tuple[Judgement, ...], outcomes: OutcomeIndices
) -> dict[int, Floats]:
    """How many times each counted step is done in each scenario; at least once."""
    drawn = {j.id: row for j, row in zip(unseen, outcomes, strict=True)}
    found = {}
    for step, criteria in plan.counted.items():
        total = np.zeros(outcomes.shape[1], np.float32)
        for criterion in criteria:
            judgement = graded.judgements.get(criterion)
            value = judgement.value if judgement and judgement.counts else None
            if criterion in drawn:
                numbers = np.array(plan.counts[criterion], np.float32)
                if judgement and value is not None:
                    numbers[judgement.position] = value
                total += numbers[drawn[criterion]]
            elif value is not None:
                total += value
        found[step] = np.where(total > 0, total, np.float32(1.0))
    return found


def _scenario_costs(
    plan: PlanArrays,
    calls: Packed,
    counts: Mapping[int, Floats],
    impossible: Bools,
    workshop: Workshop,
    at_least_routine: bool,
) -> ScenarioCosts:
    done = _bits(_done(plan, calls, at_least_routine), len(impossible))
    once = done.astype(np.float32)
    times = once.copy()
    for step, count in counts.items():
        times[step] *= count
    scale = workshop.overlap * workshop.pace
    mean: Floats = scale * (plan.mean_h @ times)
    price = plan.price_fixed @ once + plan.price_each @ times
    for material in plan.whole:
        units = np.ceil(material.fixed @ once + material.each @ times - 1e-4)
        price += material.price * (np.minimum(units, 1) if material.once else units)
    variance = scale**2 * (plan.variance_h2 @ np.square(times, out=times))
    shared = math.exp(workshop.whole_job_spread**2)
    sd = np.sqrt(np.maximum(0.0, (mean**2 + variance) * shared - mean**2))
    away = np.logical_or(done[plan.away].any(axis=0), at_least_routine)
    transport = workshop.transport * away
    fixed = (price + transport) * (1 + workshop.contingency)
    needless: Bools = np.logical_not(done.any(axis=0))
    return ScenarioCosts(mean, sd, fixed.astype(np.float32), needless, impossible, away)


def _done(plan: PlanArrays, calls: Packed, at_least_routine: bool) -> Packed:
    """Which steps each scenario's plan holds: packed, of shape (steps, bytes)."""
    done = _reached(plan, calls)
    needless = np.zeros_like(done)
    for thorough, lesser in plan.lesser:
        needless[lesser] |= done[thorough]
    kept = calls & ~needless[plan.root_steps]
    if not np.array_equal(kept, calls):
        done = _reached(plan, kept)
    done &= ~needless
    busy, away = (np.bitwise_or.reduce(steps, axis=0) for steps in (done, done[plan.away]))
    if at_least_routine:
        busy = away = np.full_like(busy, 255)
    done[plan.always] |= busy
    done[plan.workshop] |= away
    return done


def _reached(plan: PlanArrays, calls: Packed) -> Packed:
    reached = np.zeros((len(plan.steps), calls.shape[1]), np.uint8)
    for root in np.flatnonzero(calls.any(axis=1)):
        reached[plan.reach[root]] |= calls[root]
    return reached
