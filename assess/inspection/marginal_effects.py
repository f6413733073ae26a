"""What each answer that is still open would add to hours and cost, taken by itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assess.grading.grades import Graded
from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import Scope
from assess.uncertainty.bayes_network import Beliefs
from assess.uncertainty.plan_arrays import PlanArrays
from assess.uncertainty.scenario_costs import Scenarios, simulate_scenarios

MAJORITY = 0.5
A_CENT = 0.01
"""The least that counts as work; rounding leaves residues below it."""


@dataclass(frozen=True)
class MarginalEffect:
    """What each outcome of one unseen criterion, alone, adds to what is seen, in one scope.

    Attributes:
        chances: probability of each outcome; of shape (outcomes,).
        hours, cost: mean bench hours and mean cost that each adds; of shape (outcomes,).
    """

    chances: NDArray[np.float64]
    hours: NDArray[np.float64]
    cost: NDArray[np.float64]

    @property
    def added_work(self) -> tuple[float, tuple[float, float]]:
        """Probability that it adds work, and the hours and cost that it then adds."""
        where = self.cost >= A_CENT
        chances = self.chances[where]
        chance = float(chances.sum())
        if chance == 0:
            return 0.0, (0.0, 0.0)
        return chance, (
            float(chances @ self.hours[where]) / chance,
            float(chances @ self.cost[where]) / chance,
        )


@dataclass(frozen=True)
class MarginalEffects:
    """What each outcome of everything unseen, alone, adds to what is seen, in one scope.

    Attributes:
        numbers: how many outcomes each criterion has; of shape (unseen criteria,).
        chances: probability of each outcome; of shape (unseen criteria, most outcomes), and 0
            where a criterion has fewer.
        hours, cost: mean bench hours and mean cost that each adds; of the same shape.
    """

    numbers: tuple[int, ...]
    chances: NDArray[np.float64]
    hours: NDArray[np.float64]
    cost: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.numbers)

    def __getitem__(self, row: int) -> MarginalEffect:
        number = self.numbers[row]
        tables = (self.chances, self.hours, self.cost)
        return MarginalEffect(*(table[row, :number] for table in tables))

    def __iter__(self) -> Iterator[MarginalEffect]:
        return (self[row] for row in range(len(self)))

    @property
    def variances(self) -> NDArray[np.float64]:
        """The variance of the cost that is due to each criterion alone; of shape (unseen,)."""
        means = (self.chances * self.cost).sum(axis=1, keepdims=True)
        found: NDArray[np.float64] = (self.chances * (self.cost - means) ** 2).sum(axis=1)
        return found


def marginal_effects(
    arrays: PlanArrays,
    graded: Graded,
    believed: Beliefs,
    workshop: Workshop,
    scenarios: Scenarios,
) -> dict[Scope, MarginalEffects]:
    """Add every outcome of everything unseen, alone, to what is seen, and take the difference.

    Where most scenarios go to the workshop in any case, the routine of such a job is charged to
    no single outcome.

    Args:
        arrays: the plan arrays of the object.
        graded: what is seen.
        believed: what the answers say of the states of care.
        workshop: rates and habits.
        scenarios: the possible states of the object.
    """
    unseen = scenarios.unseen
    anyhow = {s: bool(costs.away.mean() > MAJORITY) for s, costs in scenarios.costs.items()}
    best = np.array([j.position for j in unseen], np.int8)
    tried = [
        (row, place)
        for row, j in enumerate(unseen)
        for place, outcome in enumerate(j.criterion.outcomes)
        if outcome.condition > 0
    ]
    outcomes = np.repeat(best[:, None], len(tried) + 1, axis=1)
    for column, (row, place) in enumerate(tried, 1):
        outcomes[row, column] = place
    alone = simulate_scenarios(arrays, graded, workshop, unseen, outcomes, anyhow)
    cells = tuple(zip(*tried, strict=True)) or ((), ())
    shape = (len(unseen), max((len(j.criterion.outcomes) for j in unseen), default=0))
    numbers = tuple(len(j.criterion.outcomes) for j in unseen)
    chances = np.zeros(shape)
    for row, judgement in enumerate(unseen):
        chances[row, : numbers[row]] = believed.of_criterion(judgement.id)
    found: dict[Scope, MarginalEffects] = {}
    for scope, costs in alone.costs.items():
        hours, cost = np.zeros(shape), np.zeros(shape)
        hours[cells] = costs.mean_h[1:] - costs.mean_h[0]
        total = costs.mean_cost(workshop)
        cost[cells] = total[1:] - total[0]
        found[scope] = MarginalEffects(numbers, chances, hours, cost)
    return found
