"""Hours, money and the decision of many instruments at once, each wholly known.

The share of draws (:mod:`assess.uncertainty.monte_carlo`) that are decided one way is the
probability of that verdict, and the costs of the draws hold what is still hidden.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import product
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assess.decision.rules import (
    WORTH_TIMES,
    Feasibility,
    VerdictName,
    decide,
    heeds_advice,
    kept_as_evidence,
)
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.job.job_file import Owner
from assess.job.workshop_profile import Workshop
from assess.knowledge.criteria import Outcome
from assess.knowledge.model_base import SCOPES, Scope
from assess.planning.cost_estimate import Spread
from assess.uncertainty.bayes_network import position
from assess.uncertainty.monte_carlo import SEED, OutcomeIndices
from assess.uncertainty.plan_arrays import Bools, Floats, Packed, PlanArrays

VerdictIndices = NDArray[np.int8]
"""For each scenario, which of :data:`VERDICT_NAMES` is decided; one-dimensional."""

VERDICT_NAMES: tuple[VerdictName, ...] = (
    "restore in full",
    "repair to playing order",
    "conserve unplayed",
    "keep for parts",
    "leave as it is",
)


@dataclass(frozen=True)
class ScenarioCosts:
    """Hours and money of one scope, for each draw.

    Attributes:
        mean_h, sd_h: bench hours of the whole job, with overlap, pace and the shared factor.
        fixed: materials and transport, with contingency.
        needless: nothing calls for work. impossible: something needed is beyond repair.
        away: it takes work that no home allows.
    """

    mean_h: Floats
    sd_h: Floats
    fixed: Floats
    needless: Bools
    impossible: Bools
    away: Bools

    @cached_property
    def logs(self) -> tuple[NDArray[Any], NDArray[Any]]:
        """Mean and standard deviation of the logarithm of the hours."""
        mean = np.maximum(self.mean_h, 1e-9)
        variance = np.log1p((self.sd_h / mean) ** 2)
        return np.log(mean) - variance / 2, np.sqrt(variance)

    def cost_at(self, quantile: float, workshop: Workshop) -> Floats:
        """The cost that each draw stays under with this probability."""
        return self._cost(self._hours(NormalDist().inv_cdf(quantile)), workshop)

    def sampled(self, workshop: Workshop) -> tuple[Floats, Floats]:
        """Hours and cost of each draw, each with a luck of its own."""
        hours = self._hours(_normals(len(self.mean_h)))
        return hours, self._cost(hours, workshop)

    def mean_cost(self, workshop: Workshop) -> Floats:
        """The mean cost of each draw."""
        return self._cost(self.mean_h, workshop)

    def _hours(self, luck: float | Floats) -> Floats:
        mu, sigma = self.logs
        return np.where(self.mean_h > 0, np.exp(mu + sigma * luck), 0.0)

    def _cost(self, hours: Floats, workshop: Workshop) -> Floats:
        return hours * (workshop.rate_per_hour * (1 + workshop.contingency)) + self.fixed


@dataclass(frozen=True)
class Standing:
    """The share of draws in which a scope passes, and in which each obstacle stands."""

    passes: float
    against: dict[str, float]


@dataclass(frozen=True)
class Scenarios:
    """Many instruments, each wholly known.

    Attributes:
        unseen: criteria that were drawn, in the order of the rows of ``outcomes``.
        outcomes: which outcome each draw gives each criterion, criteria x draws.
        costs: hours and money by scope.
        dissuaded: some finding advises against restoration.
        differs: a full restoration calls for more than playing order.
    """

    unseen: tuple[Judgement, ...]
    outcomes: OutcomeIndices
    costs: dict[Scope, ScenarioCosts]
    dissuaded: Bools
    differs: Bools

    @property
    def count(self) -> int:
        """How many draws there are."""
        return int(self.differs.shape[0])

    def verdict_indices(self, owner: Owner, workshop: Workshop) -> VerdictIndices:
        """What is decided on each draw, as a place in :data:`VERDICT_NAMES`."""
        full, playing = (self._feasibility(s, owner, workshop) for s in ("full", "playing"))
        bits = (*full, *playing, self.differs)
        code = np.zeros(self.count, np.intp)
        for bit in bits:
            code = 2 * code + bit
        return _decision_table(owner)[code]

    def stands(self, scope: Scope, owner: Owner, workshop: Workshop) -> Standing:
        """How likely nothing stands against a scope, and how likely each kind of obstacle."""
        costs_of_scope = self.costs[scope]
        _, passes, _, dissuaded = self._feasibility(scope, owner, workshop)
        against = {
            "too dear": 1 - float(self._affordable(scope, owner, workshop).mean()),
            "too long": float((np.exp(costs_of_scope.logs[0]) > workshop.most_hours).mean()),
            "beyond repair": float(costs_of_scope.impossible.mean()),
            "advised against": float(dissuaded.mean()),
        }
        return Standing(float(passes.mean()), against)

    def _affordable(self, scope: Scope, owner: Owner, workshop: Workshop) -> Bools:
        if owner.ceiling is None:
            return np.ones(self.count, np.bool_)
        return self.costs[scope].cost_at(_asked(workshop), workshop) <= owner.ceiling

    def _feasibility(self, scope: Scope, owner: Owner, workshop: Workshop) -> tuple[Bools, ...]:
        costs_of_scope = self.costs[scope]
        dissuaded = np.zeros(self.count, np.bool_)
        if kept_as_evidence(owner):
            dissuaded[:] = True
        elif heeds_advice(owner):
            dissuaded |= self.dissuaded
            if owner.worth is not None:
                dissuaded |= costs_of_scope.cost_at(0.5, workshop) > WORTH_TIMES * owner.worth
        within = self._affordable(scope, owner, workshop)
        fits = np.exp(costs_of_scope.logs[0]) <= workshop.most_hours
        passes = ~costs_of_scope.impossible & within & fits & ~dissuaded
        return costs_of_scope.needless, passes, ~costs_of_scope.impossible, dissuaded

    def spreads(self, scope: Scope, workshop: Workshop) -> tuple[Spread, Spread]:
        """Hours and cost of a scope with the unseen in them."""
        hours, cost = self.costs[scope].sampled(workshop)
        return _spread(hours), _spread(cost)

    def within(self, scope: Scope, ceiling: float, workshop: Workshop) -> float:
        """Probability that a scope stays within a ceiling, with the unseen in it."""
        _, cost = self.costs[scope].sampled(workshop)
        return float(np.mean(cost <= ceiling))


def _asked(workshop: Workshop) -> float:
    return min(max(workshop.sure_enough, 1e-6), 1 - 1e-6)


def _spread(values: Floats) -> Spread:
    p10, p50, p90 = (float(v) for v in np.quantile(values, (0.1, 0.5, 0.9)))
    return Spread(float(values.mean()), float(values.std()), p10, p50, p90)


@lru_cache(maxsize=8)
def _normals(count: int) -> Floats:
    """Evenly spread standard normal numbers in a fixed disorder."""
    steps = (np.arange(count) + 0.5) / count
    normals = np.array([NormalDist().inv_cdf(float(p)) for p in steps], np.float32)
    np.random.RandomState(SEED).shuffle(normals)
    return normals


@lru_cache(maxsize=64)
def _decision_table(owner: Owner) -> VerdictIndices:
    """For every combination of what a decision turns on, what is decided."""
    table = []
    for bits in product((False, True), repeat=9):
        full, playing = Feasibility(*bits[:4]), Feasibility(*bits[4:8])
        table.append(VERDICT_NAMES.index(decide(full, playing, bits[8], owner).name))
    return np.array(table, np.int8)


def simulate_scenarios(
    plan: PlanArrays,
    graded: Graded,
    workshop: Workshop,
    unseen: tuple[Judgement, ...],
    outcomes: OutcomeIndices,
    at_least: Mapping[Scope, bool] | None = None,
) -> Scenarios:
    """Hours, money and grounds of many instruments that share what is seen.

    Args:
        plan: the outline of the instrument.
        graded: what is seen.
        workshop: rates and habits.
        unseen: criteria that are filled in, whether seen or not.
        outcomes: their outcomes, criteria x draws.
        at_least: scopes in which the routine of a workshop job is reckoned in, come what may.
    """
    count = outcomes.shape[1]
    marks = _Marks(plan, count)
    filled_in = {judgement.id for judgement in unseen}
    for judgement in graded.judgements.values():
        if judgement.is_seen and judgement.id not in filled_in:
            marks.note(judgement, position(judgement), marks.everywhere)
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
    differs = np.bitwise_or.reduce(marks.calls["full"] ^ marks.calls["playing"], axis=0)
    return Scenarios(unseen, outcomes, costs, _bits(marks.dissuaded, count), _bits(differs, count))


def _bits(packed: Packed, count: int) -> Bools:
    return np.unpackbits(packed, axis=-1, count=count).view(np.bool_)


class _Marks:
    """What the outcomes of many draws call for and stand against, eight draws to a byte."""

    def __init__(self, plan: PlanArrays, count: int) -> None:
        self.plan = plan
        self.everywhere = np.packbits(np.ones(count, np.bool_))
        width = len(self.everywhere)
        self.calls = {s: np.zeros((len(plan.roots), width), np.uint8) for s in SCOPES}
        self.impossible = {s: np.zeros(width, np.uint8) for s in SCOPES}
        self.dissuaded = np.zeros(width, np.uint8)

    def note(self, judgement: Judgement, place: int, where: Packed) -> None:
        """Note what one outcome of a criterion does in the draws that have it."""
        outcome: Outcome = judgement.criterion.outcomes[place]
        for scope, roots in self.plan.calls[judgement.id][place].items():
            for root in roots:
                self.calls[scope][root] |= where
            if outcome.beyond_repair and (outcome.calls(scope) or scope == "full"):
                self.impossible[scope] |= where
        if outcome.advise_against and outcome.condition > 0:
            self.dissuaded |= where


def _counts(
    plan: PlanArrays, graded: Graded, unseen: tuple[Judgement, ...], outcomes: OutcomeIndices
) -> dict[int, Floats]:
    """How many times each counted step is done, in each draw; at least once."""
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
                    numbers[position(judgement)] = value
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
        amount = material.fixed @ once + material.each @ times
        price += material.price * np.ceil(amount - 1e-4)
    variance = scale**2 * (plan.variance_h2 @ np.square(times, out=times))
    shared = math.exp(workshop.whole_job_spread**2)
    sd = np.sqrt(np.maximum(0.0, (mean**2 + variance) * shared - mean**2))
    away = np.logical_or(done[plan.away].any(axis=0), at_least_routine)
    transport = workshop.transport * away
    fixed = (price + transport) * (1 + workshop.contingency)
    needless: Bools = np.logical_not(done.any(axis=0))
    return ScenarioCosts(mean, sd, fixed.astype(np.float32), needless, impossible, away)


def _done(plan: PlanArrays, calls: Packed, at_least_routine: bool) -> Packed:
    """Which steps each draw's plan holds, steps x draws."""
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
