"""The order of looks: the most bits a minute; opening a place counts once for all behind it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from assess.grading.judgements import Judgement
from assess.inspection.question_places import ANSWERING_MIN, places_to
from assess.planning.workload import WorkContext


class Route:
    """A route through the looks: the most bits a minute, each place opened once.

    Args:
        candidates: what may be looked at, by row of the scenarios.
        bits: what each row of the scenarios tells of the verdict.
        context: knowledge and configuration.
        opened: places that are open already.
    """

    def __init__(
        self,
        candidates: Mapping[int, Judgement],
        bits: NDArray[np.float64],
        context: WorkContext,
        opened: set[str],
    ) -> None:
        self.knowledge = context.knowledge
        self.opened = opened
        # The weight decides where no answer says anything of the verdict any more.
        self.worth = {
            row: float(bits[row]) + 1e-6 * j.criterion.weight for row, j in candidates.items()
        }
        self.minutes = {r: j.criterion.minutes + ANSWERING_MIN for r, j in candidates.items()}
        self.chain = {
            row: places_to(j.criterion, context.knowledge, context.configuration)
            for row, j in candidates.items()
        }
        self.order = sorted(candidates, key=lambda row: (-self._rate(row), candidates[row].id))

    def _rate(self, row: int) -> float:
        return self.worth[row] / self.minutes[row]

    def walk(
        self, most: int, first: Sequence[int] = ()
    ) -> Iterable[tuple[int, tuple[tuple[str, float], ...]]]:
        """Rows in order, each with the places that must be opened for it.

        Args:
            most: how many rows at most.
            first: rows that come before all others, in this order.
        """
        for number in range(most):
            if not self.order:
                return
            row = first[number] if number < len(first) else self._next_row()
            closed = [p for p in self.chain[row] if p not in self.opened]
            self.opened |= set(closed)
            self.order.remove(row)
            yield row, tuple((p, self.knowledge.places[p].minutes) for p in closed)

    def _next_row(self) -> int:
        """The best look behind what is open, or the best of the batch most worth opening for."""
        batches: dict[tuple[str, ...], list[int]] = {}
        for row in self.order:
            closed = tuple(p for p in self.chain[row] if p not in self.opened)
            batches.setdefault(closed, []).append(row)
        return max(
            ((self._batch_rate(closed, batches), rows[0]) for closed, rows in batches.items()),
            key=lambda found: (found[0], -self.order.index(found[1])),
        )[1]

    def _batch_rate(
        self, closed: tuple[str, ...], batches: Mapping[tuple[str, ...], list[int]]
    ) -> float:
        """The most bits a minute that opening these places can bring."""
        if not closed:
            return self._rate(batches[closed][0])
        within = [
            row
            for other, rows in batches.items()
            if set(other) <= set(closed) and other
            for row in rows
        ]
        within.sort(key=lambda row: -self._rate(row))
        minutes = sum(self.knowledge.places[p].minutes for p in closed)
        worth = best = 0.0
        for row in within:
            worth += self.worth[row]
            minutes += self.minutes[row]
            best = max(best, worth / minutes)
        return best
