"""A plan to a calendar: one pair of hands, bench days, drying by the clock, materials on order.

Hands-on work fills the bench hours of bench days and may go on the next day; drying and rest
run by the clock, through nights and weekends, while other work goes on. Whenever the hands are
free they take, of the steps that may begin, the one with the longest tail of work and drying
(list scheduling; R. L. Graham, "Bounds on multiprocessing timing anomalies", SIAM Journal on
Applied Mathematics 17 (1969), for the method). The calendar says how far it can be from the
best possible: no step can begin before its materials are there, what precedes it has dried, and
one pair of hands has done all that precedes it, taken by itself and in order of earliest begin
(the best order on one machine, by the mirror image of the rule in J. R. Jackson, "Scheduling a
production line to minimize maximum tardiness", Management Science Research Project, University
of California (1955)); and no calendar can end before the last step, timed in this way, is done
and dry.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from assess.base.errors import UserError, WorkshopError
from assess.job.workshop_profile import Workshop
from assess.planning.critical_path import network
from assess.planning.priority_order import Descendants, longest_tail, predecessors

OPENS_AT = dt.time(9)
WEEK_H = 168.0
A_MOMENT_H = 1e-7
"""Work that ends closer than this to closing time ends then: tolerance of rounding."""
HORIZON_DAYS = 3650
"""A job that is not done within ten years is not scheduled."""
LATEST_START = dt.date(9800, 1, 1)
"""Dates end with the year 9999, and a late finish may be far behind the calendar's."""
SHORTEST_DAY_H = 1 / 60
TOO_LONG = "the job takes more than ten years at these bench hours"


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


@dataclass(frozen=True)
class LongestChain:
    """Steps that follow each other and take longest, counting work, drying and delivery.

    Attributes:
        steps: in order.
        waits_for_materials: it begins with the delivery for the first of its steps.
        days: by the clock, from the first day to its end, if the hands had nothing else to do.
    """

    steps: tuple[str, ...]
    waits_for_materials: bool
    days: float


class Bench:
    """The working hours of one pair of hands."""

    def __init__(self, workshop: Workshop) -> None:
        self.hours = workshop.bench_hours_a_day
        self.days = frozenset(workshop.bench_days)
        if not self.days or self.hours < SHORTEST_DAY_H:
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
        a_week = self.hours * len(self.days)
        weeks = max(0, math.ceil(hours / a_week) - 1)
        left = hours - weeks * a_week
        moment += dt.timedelta(weeks=weeks)
        while True:
            moment = self.next_moment(moment)
            closes = dt.datetime.combine(moment.date(), OPENS_AT) + dt.timedelta(hours=self.hours)
            today = (closes - moment).total_seconds() / 3600
            if left <= today + A_MOMENT_H:
                return moment + dt.timedelta(hours=left)
            left -= today
            moment = closes

    def between(self, begin: dt.datetime, end: dt.datetime) -> float:
        """Bench hours from one moment to a later one."""
        weeks = (end - begin).days // 7
        begin += dt.timedelta(weeks=weeks)
        total = weeks * self.hours * len(self.days)
        while (begin := self.next_moment(begin)) < end:
            closes = dt.datetime.combine(begin.date(), OPENS_AT) + dt.timedelta(hours=self.hours)
            total += (min(closes, end) - begin).total_seconds() / 3600
            begin = closes
        return total


def schedule(
    tasks: Mapping[str, Task], descendants: Descendants, workshop: Workshop, start: dt.date
) -> Calendar:
    """Put tasks into time.

    Args:
        tasks: every step with its hours.
        descendants: the transitively closed precedence among the steps, without circles.
        workshop: bench hours and days.
        start: the first day; materials are ordered then.

    Raises:
        WorkshopError: the profile has no bench hours, or the job takes more than ten years.
        UserError: no calendar reaches as far as the start.
    """
    bench = Bench(workshop)
    if start >= LATEST_START:
        raise UserError(f"the first day must be before the year {LATEST_START.year}")
    begin = dt.datetime.combine(start, OPENS_AT)
    tails = longest_tail(descendants, {s: t.hands_h + t.waits_h for s, t in tasks.items()})
    _refuse_too_long(tasks, tails, bench)
    before = predecessors(descendants)
    ready: dict[str, dt.datetime] = {}
    bookings: list[Booking] = []
    now = bench.next_moment(begin)
    while len(bookings) < len(tasks):
        if now - begin > dt.timedelta(days=HORIZON_DAYS):
            raise WorkshopError(TOO_LONG)
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
    bound = _bound(tasks, descendants, before, bench, begin)
    return Calendar(tuple(bookings), begin, finish, min(finish, bound))


def longest_chain(
    tasks: Mapping[str, Task], descendants: Descendants, workshop: Workshop, start: dt.date
) -> LongestChain:
    """The chain of delivery, work and drying that no number of hands could shorten.

    It is found with bench hours stretched over the week as evenly as they fill it, and then
    put on the clock alone.

    Args:
        tasks: every step with its hours.
        descendants: the transitively closed precedence among the steps.
        workshop: bench hours and days.
        start: the first day; materials are ordered then.

    Raises:
        WorkshopError: the profile has no bench hours.
    """
    bench = Bench(workshop)
    stretch = WEEK_H / (bench.hours * len(bench.days))
    durations = {s: t.hands_h * stretch + t.waits_h for s, t in tasks.items()}
    after = dict(descendants)
    deliveries = {f"delivery for {s}": s for s, t in tasks.items() if t.lead_days}
    for delivery, step in deliveries.items():
        durations[delivery] = tasks[step].lead_days * 24.0
        after[delivery] = frozenset({step, *descendants[step]})
    found = network(after, durations).chain
    steps = tuple(s for s in found if s not in deliveries)
    begin = now = dt.datetime.combine(start, OPENS_AT)
    for step in steps:
        delivered = begin + dt.timedelta(days=tasks[step].lead_days)
        done = bench.after(max(now, delivered), tasks[step].hands_h)
        now = done + dt.timedelta(hours=tasks[step].waits_h)
    return LongestChain(steps, len(steps) < len(found), (now - begin).total_seconds() / 86400)


def meanwhile(calendar: Calendar) -> dict[str, tuple[str, ...]]:
    """For each step that dries, the steps begun while it does, in the order of their begin."""
    return {
        drying.step: tuple(
            other.step
            for other in calendar.bookings
            if drying.end <= other.start < drying.ready and other.step != drying.step
        )
        for drying in calendar.bookings
        if drying.ready > drying.end
    }


def _refuse_too_long(tasks: Mapping[str, Task], tails: Mapping[str, float], bench: Bench) -> None:
    """Refuse what cannot be done within ten years before any date runs over."""
    at_the_bench = sum(t.hands_h for t in tasks.values()) / (bench.hours * len(bench.days) / 7)
    by_the_clock = max(tails.values(), default=0.0) / 24
    delivered = max((t.lead_days for t in tasks.values()), default=0)
    if max(at_the_bench, by_the_clock, delivered) > HORIZON_DAYS:
        raise WorkshopError(TOO_LONG)


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
    descendants: Descendants,
    before: Mapping[str, AbstractSet[str]],
    bench: Bench,
    begin: dt.datetime,
) -> dt.datetime:
    """When the last step has dried, if each began as early as all that precedes it lets it."""
    earliest_h: dict[str, float] = {}
    dry: dict[str, dt.datetime] = {}
    # In a closed precedence an earlier step has more descendants.
    for step in sorted(tasks, key=lambda s: -len(descendants[s])):
        task = tasks[step]
        worked = bench.after(begin, _hands_free_h(before[step], tasks, earliest_h))
        delivered = begin + dt.timedelta(days=task.lead_days)
        earliest = max([worked, delivered, *(dry[other] for other in before[step])])
        earliest_h[step] = bench.between(begin, earliest)
        dry[step] = bench.after(earliest, task.hands_h) + dt.timedelta(hours=task.waits_h)
    return max([bench.after(begin, _hands_free_h(tasks, tasks, earliest_h)), *dry.values()])


def _hands_free_h(
    steps: Iterable[str], tasks: Mapping[str, Task], earliest_h: Mapping[str, float]
) -> float:
    """Bench hours until one pair of hands has done some steps, none before its earliest begin."""
    free = 0.0
    for step in sorted(steps, key=earliest_h.__getitem__):
        free = max(free, earliest_h[step]) + tasks[step].hands_h
    return free
