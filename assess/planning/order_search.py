"""Better orders for one pair of hands, by moving one step at a time.

A calendar is an order of steps, each begun as soon as the hands are there. The search takes a
step at random, puts it somewhere else between what precedes and what follows it, works the rest
through again, and keeps the new order unless it ends later (hill climbing over plateaus; the
moves are the insertions of É. Taillard, "Some efficient heuristic methods for the flow shop
sequencing problem", European Journal of Operational Research 47 (1990)). The random numbers are
the same each time, so a plan has the same dates every time.

Time is counted in bench hours worked, so that most steps are a single addition; the clock is
asked only where something dries, is delivered, or moves between bench and home.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import NamedTuple

from assess.planning.bench_days import A_MOMENT_H, DAY_H, OPENS_H, Bench
from assess.planning.tasks import Task, in_season_h

MOST_MOVES = 3000
MOST_WORK = 200_000
"""How many steps are worked through again at most, in all moves together: tenths of a second."""
SEED = 1


class _State(NamedTuple):
    """How far the hands are before a step: bench hours, the latest finish, where they were."""

    worked: float
    done: float
    site: str | None
    next_elsewhere: float


@dataclass(frozen=True)
class _Step:
    hands: float
    waits_h: float
    lead_h: float
    ordered_after: int | None
    site: str
    seasonal: bool
    not_before: float
    waited_for: tuple[int, ...]
    before: frozenset[int]
    after: frozenset[int]
    is_order: bool


class OrderSearch:
    """Orders of some tasks, worked through quickly.

    Args:
        tasks: every step.
        before: for each step all that precede it.
        after: for each step all that follow it.
        bench: bench days and hours.
        begin_h: the first moment, by the clock.
        not_before: bench hours before which a step may not begin, for steps put off to a visit.
    """

    def __init__(
        self,
        tasks: Mapping[str, Task],
        before: Mapping[str, AbstractSet[str]],
        after: Mapping[str, AbstractSet[str]],
        bench: Bench,
        begin_h: float,
        not_before: Mapping[str, float],
    ) -> None:
        self.tasks, self.bench, self.begin_h = tasks, bench, begin_h
        self.names = sorted(tasks)
        place = {step: at for at, step in enumerate(self.names)}
        waiting = frozenset(s for s, t in tasks.items() if t.waits_h)
        orders = {t.ordered_after for t in tasks.values() if t.lead_days}
        self.steps = [
            _Step(
                task.hands_h,
                task.waits_h,
                task.lead_days * DAY_H,
                place[task.ordered_after] if task.ordered_after else None,
                task.site,
                task.season is not None,
                not_before.get(step, 0.0),
                tuple(place[s] for s in (before[step] & waiting) - task.at_once_after),
                frozenset(place[s] for s in before[step]),
                frozenset(place[s] for s in after[step]),
                step in orders,
            )
            for step, task in ((s, tasks[s]) for s in self.names)
        ]
        self.place = place
        self.begun = bench.worked_h(begin_h)
        self.ready = [begin_h] * len(self.names)
        self.dry = [self.begun] * len(self.names)

    def finish_h(self, order: Sequence[str]) -> float:
        """When the steps in an order are all done and dry, by the clock."""
        states = [_State(self.begun, self.begin_h, None, 0.0)]
        self._work([self.place[step] for step in order], 0, states)
        return states[-1].done

    def improved(self, order: Sequence[str], bound_h: float) -> list[str]:
        """An order that ends no later.

        Args:
            order: one that keeps the precedence.
            bound_h: no order can end before this moment by the clock; reaching it ends the search.
        """
        now = [self.place[step] for step in order]
        states = [_State(self.begun, self.begin_h, None, 0.0)]
        self._work(now, 0, states)
        chance, work, count = random.Random(SEED), 0, len(now)
        for _ in range(MOST_MOVES):
            if states[-1].done <= bound_h + A_MOMENT_H or work > MOST_WORK or count < 2:
                break
            moved = self._moved(now, chance)
            if moved is None:
                continue
            tried, first = moved
            work += count - first
            kept = self.ready.copy(), self.dry.copy()
            new = states[: first + 1]
            if self._work(tried, first, new, states[-1].done):
                now, states = tried, new
            else:
                self.ready, self.dry = kept
        return [self.names[at] for at in now]

    def _moved(self, order: list[int], chance: random.Random) -> tuple[list[int], int] | None:
        """The order with one step elsewhere, and the first place that changed."""
        count = len(order)
        at = chance.randrange(count)
        step = self.steps[order[at]]
        low = at
        while low > 0 and order[low - 1] not in step.before:
            low -= 1
        high = at
        while high < count - 1 and order[high + 1] not in step.after:
            high += 1
        if low == high:
            return None
        to = chance.randint(low, high - 1)
        to += to >= at
        moved = order.copy()
        moved.insert(to, moved.pop(at))
        return moved, min(at, to)

    def _work(
        self, order: list[int], first: int, states: list[_State], latest: float = math.inf
    ) -> bool:
        """Work an order through from one place on; whether it ends no later than a moment."""
        worked, done, site, next_elsewhere = states[-1]
        begun = worked
        for at in order[first:]:
            step = self.steps[at]
            if step.site not in (site, "desk"):
                worked = max(worked, next_elsewhere)
            begun = self._begins(at, worked)
            worked = begun + step.hands
            if step.site != "desk":
                site, next_elsewhere = step.site, self._next_day(begun, worked)
            if step.waits_h or step.is_order:
                self.ready[at] = self._ends_at(begun, worked) + step.waits_h
                self.dry[at] = self.bench.worked_h(self.ready[at])
                done = max(done, self.ready[at])
                if done > latest + A_MOMENT_H:
                    return False
            states.append(_State(worked, done, site, next_elsewhere))
        if order:
            done = max(done, self._ends_at(begun, worked))
        states[-1] = states[-1]._replace(done=done)
        return done <= latest + A_MOMENT_H

    def _begins(self, at: int, worked: float) -> float:
        """Bench hours when a step may begin, from some on."""
        step = self.steps[at]
        worked = max(worked, step.not_before)
        for other in step.waited_for:
            if self.dry[other] > worked:
                worked = self.dry[other]
        if step.lead_h:
            after = step.ordered_after
            ordered = self.begin_h if after is None else self.ready[after]
            worked = max(worked, self.bench.worked_h(ordered + step.lead_h))
        return self._in_season(at, worked) if step.seasonal else worked

    def _ends_at(self, begun: float, worked: float) -> float:
        """The clock after so many bench hours: at closing time, unless nothing was done."""
        hours = self.bench.hours
        if worked > begun:
            number = math.ceil((worked - A_MOMENT_H) / hours) - 1
        else:
            number = math.floor((worked + A_MOMENT_H) / hours)
        number = max(number, 0)
        return self.bench.day(number) * DAY_H + OPENS_H + worked - number * hours

    def _next_day(self, begun: float, worked: float) -> float:
        """Bench hours at the opening after the day on which some work ended."""
        hours = self.bench.hours
        if worked > begun:
            return math.ceil((worked - A_MOMENT_H) / hours) * hours
        return (math.floor((begun + A_MOMENT_H) / hours) + 1) * hours

    def _in_season(self, at: int, worked: float) -> float:

        number = math.floor((worked + A_MOMENT_H) / self.bench.hours)
        opens = self.bench.day(number) * DAY_H + OPENS_H
        moment = in_season_h(self.tasks[self.names[at]], opens, self.bench)
        if moment < opens + DAY_H - OPENS_H:
            return worked
        return max(worked, self.bench.worked_h(moment))
