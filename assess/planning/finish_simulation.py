"""When a plan will be done, by simulation: its calendar worked through many times over.

Each time, every step's hours are sampled from their beta distribution and one factor for the
whole job from its log-normal distribution, as :mod:`assess.planning.cost_estimate` has them. The
steps are worked in the order of the calendar, in bench hours on bench days; drying runs by the
clock. Work elsewhere begins on another day, and what waits for its season waits; what comes after
its season waits for the next one, so a few more hours may put a finish off by most of a year. The
order is kept even where another would suit the sampled hours better, so finishes are rather too
late than too early.

All samples are worked at once, as arrays. Two counts of hours make that possible: hours by the
clock since the midnight before the Monday of the first week, and bench hours worked since then.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from assess.base.year_days import YearSpan
from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import HoursRange
from assess.planning.bench_days import A_MOMENT_H, DAY_H, OPENS_H, Bench
from assess.planning.calendar import Calendar
from assess.planning.cost_estimate import sampled_hours
from assess.planning.priority_order import Descendants, predecessors
from assess.planning.tasks import Site, Task, in_season_h

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Hours = NDArray[np.float64]


@dataclass(frozen=True)
class Finish:
    """When a plan is done: as likely as not by ``p50``, in nine of ten cases by ``p90``.

    Attributes:
        p50, p90: when the last step is done and has dried.
        back_p50, back_p90: the same of the object's return to its owner.
        missed: steps that may come after the season in which the calendar has them, and the
            probability of it.
    """

    p50: dt.datetime
    p90: dt.datetime
    back_p50: dt.datetime | None = None
    back_p90: dt.datetime | None = None
    missed: Mapping[str, float] = field(default_factory=dict)


class BenchClock:
    """From hours by the clock to bench hours worked and back, for arrays of moments.

    It agrees with :class:`assess.planning.bench_days.Bench`, which takes one moment at a time.
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.bench_h = bench.hours

    def worked_h(self, clock_h: Hours) -> Hours:
        """Bench hours before moments by the clock; of the shape of ``clock_h``."""
        import numpy as np

        day = np.floor(clock_h / DAY_H)
        self.bench.number(int(day.max()) + 1)
        days = np.array(self.bench.days)
        number = np.searchsorted(days, day)
        today = np.clip(clock_h - day * DAY_H - OPENS_H, 0.0, self.bench_h)
        return np.asarray(number * self.bench_h + np.where(days[number] == day, today, 0.0))

    def begins_at(self, worked_h: Hours) -> Hours:
        """The clock when work begins after so many bench hours: never at closing time."""
        import numpy as np

        return self._on_bench_day(np.floor((worked_h + A_MOMENT_H) / self.bench_h), worked_h)

    def ends_at(self, worked_h: Hours) -> Hours:
        """The clock when work ends after so many bench hours: never at opening time."""
        import numpy as np

        return self._on_bench_day(np.ceil((worked_h - A_MOMENT_H) / self.bench_h) - 1, worked_h)

    def next_day(self, worked_h: Hours, hands: Hours) -> Hours:
        """Bench hours at the opening after the day on which some work ended.

        Args:
            worked_h: bench hours at its end.
            hands: its hours; work without hours ends on the day on which it begins.
        """
        import numpy as np

        ended = np.ceil((worked_h - A_MOMENT_H) / self.bench_h)
        begun = np.floor((worked_h + A_MOMENT_H) / self.bench_h) + 1
        return np.asarray(np.where(hands > 0, ended, begun) * self.bench_h)

    def in_season(self, worked_h: Hours, season: YearSpan) -> Hours:
        """Bench hours at the first working moment of a season, at or after others."""
        import numpy as np

        number = np.floor((worked_h + A_MOMENT_H) / self.bench_h).astype(int)
        moved = worked_h.copy()
        for first in np.unique(number):
            opens = self.bench.day(int(first)) * DAY_H
            moment = in_season_h(Task(0.0, season=season), opens, self.bench)
            if moment >= opens + DAY_H:
                moved[number == first] = self.bench.worked_h(moment)
        return moved

    def _on_bench_day(self, number: Hours, worked_h: Hours) -> Hours:
        """The clock on the bench day of that number, counted from 0 at the origin."""
        import numpy as np

        which = np.maximum(number, 0).astype(int)
        self.bench.day(int(which.max()))
        midnight = np.array(self.bench.days)[which] * DAY_H
        return np.asarray(midnight + OPENS_H + worked_h - which * self.bench_h)


def finish_of(
    calendar: Calendar,
    tasks: Mapping[str, Task],
    hours: Mapping[str, HoursRange],
    descendants: Descendants,
    workshop: Workshop,
    back: str | None = None,
) -> Finish:
    """Work a calendar through many times over.

    Args:
        calendar: gives the first day and the order of the steps.
        tasks: drying and lead times, site and season of every step; its hours are sampled.
        hours: low, likely and high hours of every step, before overlap and pace.
        descendants: the transitively closed precedence among the steps.
        workshop: bench hours and days, overlap, pace and the spread of whole jobs.
        back: the step at whose end the object is back with its owner, if there is one.

    Raises:
        WorkshopError: the profile has no bench hours.
    """
    if not calendar.bookings:
        return Finish(calendar.start, calendar.start)
    order = [booking.step for booking in calendar.bookings]
    sampled = sampled_hours([hours[step] for step in order], workshop)
    bench = Bench(workshop, calendar.start.date())
    begin_h = bench.clock_h(calendar.start)
    dates = {s: bench.worked_h(bench.clock_h(m)) for s, m in calendar.appointments.items()}
    through = _WorkedThrough(tasks, predecessors(descendants), BenchClock(bench), begin_h, dates)
    for step, hands in zip(order, sampled, strict=True):
        through.work(step, hands, last=step == order[-1] or step == back)
    booked = {b.step: bench.worked_h(bench.clock_h(b.start)) for b in calendar.bookings}
    missed = {
        step: float((begins > booked[step] + A_MOMENT_H).mean())
        for step, begins in through.put_off.items()
    }
    missed = {step: share for step, share in missed.items() if share > 0}
    p50, p90 = _p50_and_p90(through.done, bench)
    if back is None:
        return Finish(p50, p90, missed=missed)
    return Finish(p50, p90, *_p50_and_p90(through.ended[back], bench), missed)


def _p50_and_p90(ends: Hours, bench: Bench) -> tuple[dt.datetime, dt.datetime]:
    return bench.moment(_quantile(ends, 0.5)), bench.moment(_quantile(ends, 0.9))


class _WorkedThrough:
    """All samples at once, step after step in one order.

    What does not dry is done before the hands come to the next step, so only steps that dry
    are waited for; and once waited for, they are no matter to any later step.
    """

    def __init__(
        self,
        tasks: Mapping[str, Task],
        before: Mapping[str, AbstractSet[str]],
        clock: BenchClock,
        begin_h: float,
        appointments: Mapping[str, float],
    ) -> None:
        self.tasks, self.before, self.clock = tasks, before, clock
        self.appointments = appointments
        self.ordering = {t.ordered_after for t in tasks.values()}
        self.begin_h = begin_h
        self.ready: dict[str, Hours] = {}
        self.dry: dict[str, Hours] = {}
        self.ended: dict[str, Hours] = {}
        self.put_off: dict[str, Hours] = {}
        self.worked: Hours | None = None
        self.done: Hours = np_full(1, begin_h)
        self.next_elsewhere: Hours | None = None
        self.site: Site | None = None

    def work(self, step: str, hands: Hours, last: bool = False) -> None:
        """Do one step in every sample.

        Args:
            step: the next one in the order.
            hands: its hands-on hours, of shape (samples,).
            last: its end is asked for even if it does not dry.
        """
        import numpy as np

        task, clock = self.tasks[step], self.clock
        if self.worked is None:
            self.done = np_full(len(hands), self.begin_h)
            self.worked = clock.worked_h(self.done)
        worked = self.worked
        if task.lead_days:
            ordered = self.ready.get(task.ordered_after or "", self.begin_h)
            there = np.broadcast_to(ordered + task.lead_days * DAY_H, hands.shape)
            worked = np.maximum(worked, clock.worked_h(there))
        for other in (self.dry.keys() & self.before[step]) - task.at_once_after:
            worked = np.maximum(worked, self.dry.pop(other))
        if step in self.appointments:
            worked = np.maximum(worked, self.appointments[step])
        if self.next_elsewhere is not None and task.site not in ("desk", self.site):
            worked = np.maximum(worked, self.next_elsewhere)
        if task.season is not None:
            begins = clock.in_season(worked, task.season)
            self.put_off[step] = np.where(begins > worked, begins, 0.0)
            worked = begins
        worked = worked + hands
        if task.site != "desk":
            self.site, self.next_elsewhere = task.site, clock.next_day(worked, hands)
        if task.waits_h or last or step in self.ordering:
            ended = np.where(hands > 0, clock.ends_at(worked), clock.begins_at(worked))
            self.ended[step], self.ready[step] = ended, ended + task.waits_h
            self.done = np.maximum(self.done, self.ready[step])
            self.dry[step] = clock.worked_h(self.ready[step])
        self.worked = worked


def np_full(count: int, value: float) -> Hours:
    """An array of one value."""
    import numpy as np

    return np.full(count, value)


def _quantile(values: Hours, share: float) -> float:
    """The smallest of some values that at least that share of them do not exceed."""
    import numpy as np

    return float(np.sort(values)[math.ceil(share * len(values)) - 1])
