"""What the calendar needs to know of a step, and when that lets the step begin."""

from __future__ import annotations

import math
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Literal

from assess.base.errors import WorkshopError
from assess.base.year_days import YearSpan
from assess.planning.bench_days import DAY_H, HORIZON_DAYS, TOO_LONG, Bench

Site = Literal["bench", "home", "desk"]
"""Where the hands are: at the bench, on a visit, or at a desk on any day."""


@dataclass(frozen=True)
class Task:
    """What the calendar needs to know of a step.

    Attributes:
        hands_h: hands-on hours.
        waits_h: hours by the clock after them, for drying, rest or an answer.
        lead_days: days from the order until its materials are there.
        ordered_after: the step after which they are ordered, one that precedes it; on the first
            day when left out.
        site: where it is done.
        season: the part of the year in which it may begin.
        at_once_after: steps before it whose waiting it does not sit out.
    """

    hands_h: float
    waits_h: float = 0.0
    lead_days: int = 0
    ordered_after: str | None = None
    site: Site = "bench"
    season: YearSpan | None = None
    at_once_after: frozenset[str] = frozenset()


def in_season_h(task: Task, from_h: float, bench: Bench) -> float:
    """The first working moment at or after a moment that lies in a task's season.

    Raises:
        WorkshopError: there is none within ten years.
    """
    moment = bench.next_h(from_h)
    while task.season is not None:
        day = math.floor(moment / DAY_H)
        date = bench.date(day)
        if task.season.holds(date):
            break
        if moment - from_h > HORIZON_DAYS * DAY_H:
            raise WorkshopError(TOO_LONG)
        wait = task.season.next_from(date) - date
        moment = bench.next_h((day + wait.days) * DAY_H)
    return moment


def over_h(
    before: str, task: Task, ended_h: Mapping[str, float], dry_h: Mapping[str, float]
) -> float:
    """When a step before a task is over for it: dry, or at its end if that is enough."""
    return ended_h[before] if before in task.at_once_after else dry_h[before]


def delivered_h(task: Task, ready_h: Mapping[str, float], begin_h: float) -> float:
    """When the materials of a task are there, once the step before their order is done."""
    if not task.lead_days:
        return begin_h
    ordered = ready_h[task.ordered_after] if task.ordered_after else begin_h
    return ordered + task.lead_days * DAY_H


def day_after_others_h(
    task: Task,
    before: AbstractSet[str],
    tasks: Mapping[str, Task],
    ended_h: Mapping[str, float],
    bench: Bench,
) -> float:
    """The day after the last step that precedes a task and is done elsewhere; 0 when none is."""
    if task.site == "desk":
        return 0.0
    elsewhere = [ended_h[s] for s in before if tasks[s].site not in ("desk", task.site)]
    return bench.day_after_h(max(elsewhere)) if elsewhere else 0.0
