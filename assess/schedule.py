"""A plan to a calendar: one pair of hands, bench days, drying by the clock, materials on order.

Hands-on work fills the bench hours of bench days and may go on the next day; drying and rest
run by the clock, through nights and weekends, while other work goes on. Whenever the hands are
free they take, of the steps that may begin, the one with the longest tail of work and drying
(list scheduling; R. L. Graham, "Bounds on multiprocessing timing anomalies", SIAM Journal on
Applied Mathematics 17 (1969), for the method). The calendar says how far it can be from the
best possible: no calendar can end before all hands-on work is done, nor, for any step, before
the hands-on work of all that precedes it and then the longest chain of work and drying from it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from assess.errors import WorkshopError
from assess.ordering import Followers, tail_hours
from assess.workshop import Workshop

OPENS_AT = dt.time(9)
HORIZON_DAYS = 3650
"""A job that is not done within ten years is not scheduled."""


@dataclass(frozen=True)
class Task:
    """What the calendar needs to know of a step.

    Attributes:
        hands_h: hands-on hours.
        waits_h: hours by the clock after them, for drying or rest.
        lead_days: days until its materials are there.
    """

    hands_h: float
    waits_h: float = 0.0
    lead_days: int = 0


@dataclass(frozen=True)
class Booking:
    """When one step is worked on, and when what waits for it may begin."""

    step: str
    start: dt.datetime
    end: dt.datetime
    ready: dt.datetime


@dataclass(frozen=True)
class Calendar:
    """Every step in time.

    Attributes:
        bookings: in the order of their start.
        finish: when the last step is done and has dried.
        bound: no calendar of these tasks can end before this.
    """

    bookings: tuple[Booking, ...]
    start: dt.datetime
    finish: dt.datetime
    bound: dt.datetime

    @property
    def slack_days(self) -> float:
        """The most days by which a better calendar could end earlier."""
        return max(0.0, (self.finish - self.bound).total_seconds() / 86400)


class Bench:
    """The working hours of one pair of hands."""

    def __init__(self, workshop: Workshop) -> None:
        self.hours = workshop.bench_hours_a_day
        self.days = frozenset(workshop.bench_days)
        if not self.days or self.hours <= 0:
            raise WorkshopError("the profile has no bench hours, so nothing can be scheduled")

    def next_moment(self, moment: dt.datetime) -> dt.datetime:
        """The first working moment at or after a moment."""
        while True:
            opens = dt.datetime.combine(moment.date(), OPENS_AT)
            closes = opens + dt.timedelta(hours=self.hours)
            if moment.weekday() in self.days and moment < closes:
                return max(moment, opens)
            moment = dt.datetime.combine(moment.date() + dt.timedelta(days=1), dt.time())

    def after(self, moment: dt.datetime, hours: float) -> dt.datetime:
        """When so many hours of work, begun at a working moment, are done."""
        left = hours
        while True:
            moment = self.next_moment(moment)
            closes = dt.datetime.combine(moment.date(), OPENS_AT) + dt.timedelta(hours=self.hours)
            today = (closes - moment).total_seconds() / 3600
            if left <= today + 1e-9:
                return moment + dt.timedelta(hours=left)
            left -= today
            moment = closes


def schedule(
    tasks: Mapping[str, Task], followers: Followers, workshop: Workshop, start: dt.date
) -> Calendar:
    """Put tasks into time.

    Args:
        tasks: every step with its hours.
        followers: the transitively closed precedence among the steps, without circles.
        workshop: bench hours and days.
        start: the first day; materials are ordered then.

    Raises:
        WorkshopError: the profile has no bench hours, or the job takes more than ten years.
    """
    bench = Bench(workshop)
    begin = dt.datetime.combine(start, OPENS_AT)
    tails = tail_hours(followers, {s: t.hands_h + t.waits_h for s, t in tasks.items()})
    before = predecessors(followers)
    ready: dict[str, dt.datetime] = {}
    bookings: list[Booking] = []
    now = bench.next_moment(begin)
    while len(bookings) < len(tasks):
        if now - begin > dt.timedelta(days=HORIZON_DAYS):
            raise WorkshopError("the job takes more than ten years at these bench hours")
        may = {s: _may_begin(s, tasks, before, ready, begin) for s in tasks if s not in ready}
        known = {s: moment for s, moment in may.items() if moment is not None}
        open_now = [s for s, moment in known.items() if moment <= now]
        if not open_now:
            now = bench.next_moment(min(known.values()))
            continue
        step = min(open_now, key=lambda s: (-round(tails[s], 6), s))
        end = bench.after(now, tasks[step].hands_h)
        ready[step] = end + dt.timedelta(hours=tasks[step].waits_h)
        bookings.append(Booking(step, now, end, ready[step]))
        now = bench.next_moment(end)
    finish = max((b.ready for b in bookings), default=begin)
    bound = _bound(tasks, tails, before, bench, begin)
    return Calendar(tuple(bookings), begin, finish, min(finish, bound))


def predecessors(followers: Followers) -> dict[str, AbstractSet[str]]:
    """For each step all steps that come before it."""
    before: dict[str, set[str]] = {step: set() for step in followers}
    for step, after in followers.items():
        for follower in after:
            before[follower].add(step)
    return {step: frozenset(found) for step, found in before.items()}


def _may_begin(
    step: str,
    tasks: Mapping[str, Task],
    before: Mapping[str, AbstractSet[str]],
    ready: Mapping[str, dt.datetime],
    begin: dt.datetime,
) -> dt.datetime | None:
    """When a step may begin; None while something before it is not scheduled yet."""
    if not all(other in ready for other in before[step]):
        return None
    delivered = begin + dt.timedelta(days=tasks[step].lead_days)
    return max([delivered, *(ready[other] for other in before[step])])


def _bound(
    tasks: Mapping[str, Task],
    tails: Mapping[str, float],
    before: Mapping[str, AbstractSet[str]],
    bench: Bench,
    begin: dt.datetime,
) -> dt.datetime:
    """All hands-on work in one go, or the worst step with all that must come before and after."""
    bounds = [bench.after(begin, sum(t.hands_h for t in tasks.values()))] if tasks else [begin]
    for step, task in tasks.items():
        worked = bench.after(begin, sum(tasks[other].hands_h for other in before[step]))
        earliest = max(worked, begin + dt.timedelta(days=task.lead_days))
        bounds.append(earliest + dt.timedelta(hours=tails[step]))
    return max(bounds)
