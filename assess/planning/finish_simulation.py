"""When a plan will be done, by simulation: its calendar worked through many times over.

Each time, every step's hours are sampled from their beta distribution and one factor for the
whole job from its log-normal distribution, as :mod:`assess.planning.cost_estimate` has them. The
steps are
worked in the order of the calendar, in bench hours on bench days; drying runs by the clock.
The order is kept even where another would suit the sampled hours better, so finishes are rather
too late than too early.

All samples are worked at once, as arrays. Two counts of hours make that possible: hours by the
clock since the midnight before the Monday of the first week, and bench hours worked since then.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import HoursRange
from assess.planning.calendar import A_MOMENT_H, OPENS_AT, WEEK_H, Bench, Calendar, Task
from assess.planning.cost_estimate import sampled_hours
from assess.planning.priority_order import Descendants, predecessors

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Hours = NDArray[np.float64]

DAY_H = 24.0


@dataclass(frozen=True)
class Finish:
    """When a plan is done: as likely as not by ``p50``, in nine of ten cases by ``p90``."""

    p50: dt.datetime
    p90: dt.datetime


class BenchClock:
    """From hours by the clock to bench hours worked and back, for arrays of moments.

    It agrees with :class:`assess.planning.calendar.Bench`, which goes day by day.
    """

    def __init__(self, workshop: Workshop, start: dt.date) -> None:
        import numpy as np

        bench = Bench(workshop)
        self.origin = dt.datetime.combine(start, dt.time()) - dt.timedelta(days=start.weekday())
        self.bench_h = bench.hours
        self.opens_h = float(OPENS_AT.hour)
        self.weekdays = np.array(sorted(bench.days))
        self.is_bench = np.isin(np.arange(7), self.weekdays)
        self.bench_days_before = np.concatenate([[0], np.cumsum(self.is_bench)[:-1]])

    def clock_h(self, moment: dt.datetime) -> float:
        """A moment as hours by the clock."""
        return (moment - self.origin).total_seconds() / 3600

    def moment(self, clock_h: float) -> dt.datetime:
        """Hours by the clock as a moment."""
        return self.origin + dt.timedelta(hours=float(clock_h))

    def worked_h(self, clock_h: Hours) -> Hours:
        """Bench hours before moments by the clock; of the shape of ``clock_h``."""
        import numpy as np

        days = np.floor(clock_h / DAY_H)
        weekday = (days % 7).astype(int)
        whole = (days // 7) * len(self.weekdays) + self.bench_days_before[weekday]
        today = np.clip(clock_h - days * DAY_H - self.opens_h, 0.0, self.bench_h)
        return np.asarray(whole * self.bench_h + self.is_bench[weekday] * today)

    def begins_at(self, worked_h: Hours) -> Hours:
        """The clock when work begins after so many bench hours: never at closing time."""
        import numpy as np

        return self._on_bench_day(np.floor((worked_h + A_MOMENT_H) / self.bench_h), worked_h)

    def ends_at(self, worked_h: Hours) -> Hours:
        """The clock when work ends after so many bench hours: never at opening time."""
        import numpy as np

        return self._on_bench_day(np.ceil((worked_h - A_MOMENT_H) / self.bench_h) - 1, worked_h)

    def _on_bench_day(self, number: Hours, worked_h: Hours) -> Hours:
        """The clock on the bench day of that number, counted from 0 at the origin."""
        import numpy as np

        weeks, which = np.divmod(number, len(self.weekdays))
        midnight = weeks * WEEK_H + self.weekdays[which.astype(int)] * DAY_H
        return np.asarray(midnight + self.opens_h + worked_h - number * self.bench_h)


def finish_of(
    calendar: Calendar,
    tasks: Mapping[str, Task],
    hours: Mapping[str, HoursRange],
    descendants: Descendants,
    workshop: Workshop,
) -> Finish:
    """Work a calendar through many times over.

    Args:
        calendar: gives the first day and the order of the steps.
        tasks: drying and lead times of every step; its hands-on hours are sampled.
        hours: low, likely and high hours of every step, before overlap and pace.
        descendants: the transitively closed precedence among the steps.
        workshop: bench hours and days, overlap, pace and the spread of whole jobs.

    Raises:
        WorkshopError: the profile has no bench hours.
    """
    if not calendar.bookings:
        return Finish(calendar.start, calendar.start)
    order = [booking.step for booking in calendar.bookings]
    sampled = sampled_hours([hours[step] for step in order], workshop)
    clock = BenchClock(workshop, calendar.start.date())
    ends = _worked_through(order, sampled, tasks, descendants, clock, clock.clock_h(calendar.start))
    return Finish(clock.moment(_quantile(ends, 0.5)), clock.moment(_quantile(ends, 0.9)))


def _worked_through(
    order: Sequence[str],
    sampled: Hours,
    tasks: Mapping[str, Task],
    descendants: Descendants,
    clock: BenchClock,
    begin_h: float,
) -> Hours:
    """When all is done and dry in each sample, by the clock.

    What does not dry is done before the hands come to the next step, so only steps that dry
    are waited for; and once waited for, they are no matter to any later step.
    """
    import numpy as np

    before = predecessors(descendants)
    begin = np.full(sampled.shape[1], begin_h)
    worked, done = clock.worked_h(begin), begin
    dry: dict[str, Hours] = {}
    for step, hands in zip(order, sampled, strict=True):
        task = tasks[step]
        if task.lead_days:
            worked = np.maximum(worked, clock.worked_h(begin + task.lead_days * DAY_H))
        for other in dry.keys() & before[step]:
            worked = np.maximum(worked, dry.pop(other))
        worked = worked + hands
        if task.waits_h or step == order[-1]:
            ended = np.where(hands > 0, clock.ends_at(worked), clock.begins_at(worked))
            done = np.maximum(done, ended + task.waits_h)
            dry[step] = clock.worked_h(ended + task.waits_h)
    return np.asarray(done)


def _quantile(values: Hours, share: float) -> float:
    """The smallest of some values that at least that share of them do not exceed."""
    import numpy as np

    return float(np.sort(values)[math.ceil(share * len(values)) - 1])
