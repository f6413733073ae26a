"""A plan to a calendar: one pair of hands, bench days, visits, drying, materials on order.

Hands-on work fills the bench hours of bench days and may go on the next day; drying and rest
run by the clock, through nights and weekends, while other work goes on. A day at the customer's
home is a visit: nothing is done at the bench on that day, and the other way round. Whenever the
hands are free they take, of the steps that may begin, the one with the longest tail of work and
drying (list scheduling; R. L. Graham, "Bounds on multiprocessing timing anomalies", SIAM Journal
on Applied Mathematics 17 (1969), for the method). Where that may not be the best, single steps are
moved (:mod:`assess.planning.order_search`).

The calendar says how far it can be from the best possible: no step can begin before its
materials are there, its season has come, what precedes it has dried, the day after what precedes
it elsewhere, and one pair of hands has done all that precedes it, taken by itself and in order
of earliest begin (the best order on one machine, by the mirror image of the rule in J. R.
Jackson, "Scheduling a production line to minimize maximum tardiness", Management Science
Research Project, University of California (1955)); and no calendar can end before the last step,
timed in this way, is done and dry.
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field

from assess.base.errors import UserError, WorkshopError
from assess.job.workshop_profile import Workshop
from assess.planning.bench_days import A_MOMENT_H, DAY_H, HORIZON_DAYS, OPENS_AT, TOO_LONG, Bench
from assess.planning.order_search import OrderSearch
from assess.planning.priority_order import Descendants, longest_tail, predecessors
from assess.planning.tasks import (
    Site,
    Task,
    day_after_others_h,
    delivered_h,
    in_season_h,
    over_h,
)

LATEST_START = dt.date(9800, 1, 1)
"""Dates end with the year 9999, and a late finish may be far behind the calendar's."""


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
        appointments: steps that were put off to a later visit, and the moment it begins.
    """

    bookings: tuple[Booking, ...]
    start: dt.datetime
    finish: dt.datetime
    bound: dt.datetime
    appointments: Mapping[str, dt.datetime] = field(default_factory=dict)

    @property
    def slack_days(self) -> float:
        """The most days by which a better calendar could end earlier."""
        return (self.finish - self.bound).total_seconds() / 86400

    def visits(self, tasks: Mapping[str, Task]) -> tuple[dt.date, ...]:
        """The days at the customer's home, each a journey there and back."""
        return tuple(_visit_days(self.bookings, tasks))


def schedule(
    tasks: Mapping[str, Task], descendants: Descendants, workshop: Workshop, start: dt.date
) -> Calendar:
    """Put tasks into time.

    Args:
        tasks: every step with its hours.
        descendants: the transitively closed precedence among the steps, without circles.
        workshop: bench hours, bench days and days off.
        start: the first day.

    Raises:
        WorkshopError: the profile has no bench hours, or the job takes more than ten years.
        UserError: no calendar reaches as far as the start.
    """
    if start >= LATEST_START:
        raise UserError(f"the first day must be before the year {LATEST_START.year}")
    bench = Bench(workshop, start)
    begin = dt.datetime.combine(start, OPENS_AT)
    tails = longest_tail(descendants, {s: t.hands_h + t.waits_h for s, t in tasks.items()})
    _refuse_too_long(tasks, tails, bench)
    before = predecessors(descendants)
    if not tasks:
        return Calendar((), begin, begin, begin)

    begin_h = bench.clock_h(begin)

    def book(appointments: Mapping[str, dt.datetime], order: Sequence[str] = ()) -> list[Booking]:
        hands = _Hands(tasks, descendants, before, tails, bench, begin_h)
        return hands.booked(appointments, order)

    bookings, appointments = _with_fewer_visits(book, tasks, descendants)
    bound_h = _bound_h(tasks, descendants, before, bench, begin_h)
    bound = bench.moment(bound_h)
    finish = max(b.ready for b in bookings)
    if finish > bound:
        not_before = {s: bench.worked_h(bench.clock_h(m)) for s, m in appointments.items()}
        search = OrderSearch(tasks, before, descendants, bench, begin_h, not_before)
        tried = book(appointments, search.improved([b.step for b in bookings], bound_h))
        if _ends_earlier(tried, bookings, tasks):
            bookings, finish = tried, max(b.ready for b in tried)
    return Calendar(tuple(bookings), begin, finish, min(finish, bound), appointments)


def _ends_earlier(
    new: Sequence[Booking], old: Sequence[Booking], tasks: Mapping[str, Task]
) -> bool:
    """Whether bookings end earlier, with no more visits."""
    finish, before = (max(b.ready for b in bookings) for bookings in (new, old))
    return finish < before and len(_visit_days(new, tasks)) <= len(_visit_days(old, tasks))


def _with_fewer_visits(
    book: Callable[[Mapping[str, dt.datetime]], list[Booking]],
    tasks: Mapping[str, Task],
    descendants: Descendants,
) -> tuple[list[Booking], dict[str, dt.datetime]]:
    """Bookings in which what nothing waits for is put off to the next visit.

    It is put off only where that saves a visit, and neither another visit nor the finish comes
    on a later day.
    """
    bookings, dates = book({}), dict[str, dt.datetime]()
    days = _visit_days(bookings, tasks)
    for day, later in itertools.pairwise(days):
        visit = {b.step for b in bookings if tasks[b.step].site == "home" and b.start.date() == day}
        follow = {s for step in visit for s in descendants[step]} - visit
        if not visit or any(b.step in follow and b.start.date() < later for b in bookings):
            continue
        opens = dt.datetime.combine(later, OPENS_AT)
        tried_dates = dates | dict.fromkeys(visit, opens)
        tried = book(tried_dates)
        if _saves_a_visit(tried, bookings, tasks):
            bookings, dates = tried, tried_dates
    return bookings, dates


def _saves_a_visit(
    new: Sequence[Booking], old: Sequence[Booking], tasks: Mapping[str, Task]
) -> bool:
    before, now = _visit_days(old, tasks), _visit_days(new, tasks)
    finish, earlier = (max(b.ready for b in bookings).date() for bookings in (new, old))
    if len(now) >= len(before) or finish > earlier:
        return False
    return all(a <= b for a, b in zip(reversed(now), reversed(before), strict=False))


def _visit_days(bookings: Iterable[Booking], tasks: Mapping[str, Task]) -> list[dt.date]:
    """The days of all work at the home, in order; a long step takes every bench day between."""
    days: set[dt.date] = set()
    for booking in bookings:
        if tasks[booking.step].site == "home":
            days |= {booking.start.date(), booking.end.date()}
    return sorted(days)


class _Hands:
    """One pair of hands going through the days, always to the free step with the longest tail."""

    def __init__(
        self,
        tasks: Mapping[str, Task],
        descendants: Descendants,
        before: Mapping[str, AbstractSet[str]],
        tails: Mapping[str, float],
        bench: Bench,
        begin_h: float,
    ) -> None:
        self.tasks, self.descendants, self.bench = tasks, descendants, bench
        self.begin_h = begin_h
        self.rank = {s: (-round(tails[s], 6), s) for s in tasks}
        self.left = {s: len(before[s]) for s in tasks}
        self.may_h = {
            s: begin_h + (0.0 if t.ordered_after else t.lead_days * DAY_H) for s, t in tasks.items()
        }
        self.ordered_by: dict[str, list[str]] = {}
        for step, task in tasks.items():
            if task.ordered_after and task.lead_days:
                self.ordered_by.setdefault(task.ordered_after, []).append(step)
        self.site: Site | None = None
        self.site_day = -1

    def booked(
        self, appointments: Mapping[str, dt.datetime], order: Sequence[str] = ()
    ) -> list[Booking]:
        """All steps in time, some of them not before an appointment; in an order, if one is given.

        Raises:
            WorkshopError: the job takes more than ten years.
        """
        for step, moment in appointments.items():
            self.may_h[step] = max(self.may_h[step], self.bench.clock_h(moment))
        free = {s for s, count in self.left.items() if count == 0}
        bookings: list[Booking] = []
        now = self.bench.next_h(self.begin_h)
        while free:
            if now - self.begin_h > HORIZON_DAYS * DAY_H:
                raise WorkshopError(TOO_LONG)
            ahead = free if not order else {order[len(bookings)]}
            earliest = self._earliest(ahead, now)
            now = min(earliest.values())
            open_now = [s for s in ahead if earliest[s] <= now + A_MOMENT_H]
            step = min(open_now, key=lambda s: self._order(s, now))
            booking = self._book(step, now)
            bookings.append(booking)
            free.discard(step)
            for follower in self.descendants[step]:
                self.left[follower] -= 1
                if self.left[follower] == 0:
                    free.add(follower)
            now = self.bench.next_h(self.bench.clock_h(booking.end))
        return bookings

    def _order(self, step: str, now: float) -> tuple[bool, float, str]:
        """On a visit, what needs the visit comes before what can be done anywhere."""
        visiting = self.site == "home" and math.floor(now / DAY_H) == self.site_day
        return (visiting and self.tasks[step].site == "desk", *self.rank[step])

    def _earliest(self, steps: Iterable[str], now: float) -> dict[str, float]:
        """The first working moment for each of some steps, at or after now."""
        # Most wait for nothing more, and what is done at the same place begins alike.
        alike: dict[tuple[Site, float], float] = {}
        found = {}
        for step in steps:
            task, from_h = self.tasks[step], max(now, self.may_h[step])
            if task.season is not None:
                found[step] = self._earliest_h(task, from_h)
                continue
            key = (task.site, from_h)
            if key not in alike:
                alike[key] = self._earliest_h(task, from_h)
            found[step] = alike[key]
        return found

    def _earliest_h(self, task: Task, from_h: float) -> float:
        """The first working moment for a task: on a day that is not spent elsewhere already."""
        moment = in_season_h(task, from_h, self.bench)
        elsewhere = self.site is not None and task.site not in ("desk", self.site)
        if elsewhere and math.floor(moment / DAY_H) == self.site_day:
            moment = in_season_h(task, self.bench.day_after_h(moment), self.bench)
        return moment

    def _book(self, step: str, now: float) -> Booking:
        task = self.tasks[step]
        end = self.bench.after_h(now, task.hands_h)
        ready = end + task.waits_h
        if task.site != "desk":
            self.site, self.site_day = task.site, math.floor(end / DAY_H)
        for follower in self.descendants[step]:
            over = end if step in self.tasks[follower].at_once_after else ready
            self.may_h[follower] = max(self.may_h[follower], over)
        for ordered in self.ordered_by.get(step, ()):
            there = ready + self.tasks[ordered].lead_days * DAY_H
            self.may_h[ordered] = max(self.may_h[ordered], there)
        moments = (self.bench.moment(h) for h in (now, end, ready))
        return Booking(step, *moments)


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
    at_the_bench = sum(t.hands_h for t in tasks.values()) / (bench.hours * len(bench.weekdays) / 7)
    by_the_clock = max(tails.values(), default=0.0) / 24
    delivered = max((t.lead_days for t in tasks.values()), default=0)
    if max(at_the_bench, by_the_clock, delivered) > HORIZON_DAYS:
        raise WorkshopError(TOO_LONG)


def _bound_h(
    tasks: Mapping[str, Task],
    descendants: Descendants,
    before: Mapping[str, AbstractSet[str]],
    bench: Bench,
    begin_h: float,
) -> float:
    """When the last step has dried, if each began as early as all that precedes it lets it."""
    worked_h: dict[str, float] = {}
    ended: dict[str, float] = {}
    dry: dict[str, float] = {}
    begun = bench.worked_h(begin_h)
    # In a closed precedence an earlier step has more descendants.
    for step in sorted(tasks, key=lambda s: -len(descendants[s])):
        task = tasks[step]
        free = bench.after_h(begin_h, _hands_free_h(before[step], tasks, worked_h))
        earliest = max(
            free,
            delivered_h(task, dry, begin_h),
            *(over_h(other, task, ended, dry) for other in before[step]),
            day_after_others_h(task, before[step], tasks, ended, bench),
        )
        moment = in_season_h(task, earliest, bench)
        worked_h[step] = bench.worked_h(moment) - begun
        ended[step] = bench.after_h(moment, task.hands_h)
        dry[step] = ended[step] + task.waits_h
    return max(bench.after_h(begin_h, _hands_free_h(tasks, tasks, worked_h)), *dry.values())


def _hands_free_h(
    steps: Iterable[str], tasks: Mapping[str, Task], earliest_h: Mapping[str, float]
) -> float:
    """Bench hours until one pair of hands has done some steps, none before its earliest begin."""
    free = 0.0
    for step in sorted(steps, key=earliest_h.__getitem__):
        free = max(free, earliest_h[step]) + tasks[step].hands_h
    return free
