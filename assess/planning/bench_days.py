"""The working hours of one pair of hands: bench hours on bench days, without days off.

Moments are hours by the clock since the midnight before the Monday of the first week. The days
on which work is done are numbered, and the list of them grows as far as it is asked for.
"""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_left

from assess.base.errors import WorkshopError
from assess.base.year_days import days_off
from assess.job.workshop_profile import Workshop

OPENS_AT = dt.time(9)
OPENS_H = float(OPENS_AT.hour)
DAY_H = 24.0
A_MOMENT_H = 1e-7
"""Work that ends closer than this to closing time ends then: tolerance of rounding."""
HORIZON_DAYS = 3650
"""A job that is not done within ten years is not scheduled."""
SHORTEST_DAY_H = 1 / 60
TOO_LONG = "the job takes more than ten years at these bench hours"


class Bench:
    """When there are hands, from the week of a first day on.

    Attributes:
        hours: bench hours of a bench day.
        days: the bench days that were asked for so far, as days after ``origin``.

    Raises:
        WorkshopError: the profile has no bench hours, or days off leave none within ten years.
    """

    def __init__(self, workshop: Workshop, start: dt.date) -> None:
        self.hours = workshop.bench_hours_a_day
        self.weekdays = frozenset(workshop.bench_days)
        self.off = days_off(workshop.days_off)
        if not self.weekdays or self.hours < SHORTEST_DAY_H:
            raise WorkshopError("the profile has no bench hours, so nothing can be scheduled")
        self.monday = start - dt.timedelta(days=start.weekday())
        self.origin = dt.datetime.combine(self.monday, dt.time())
        self.days: list[int] = []
        self._looked = 0

    def clock_h(self, moment: dt.datetime) -> float:
        """A moment as hours by the clock."""
        return (moment - self.origin).total_seconds() / 3600

    def moment(self, clock_h: float) -> dt.datetime:
        """Hours by the clock as a moment."""
        return self.origin + dt.timedelta(hours=float(clock_h))

    def date(self, day: int) -> dt.date:
        """The date of a day after the origin."""
        return self.monday + dt.timedelta(days=day)

    def day(self, number: int) -> int:
        """The bench day of that number, from 0 on, as days after the origin."""
        while len(self.days) <= number:
            self._look_further()
        return self.days[number]

    def number(self, day: int) -> int:
        """The number of the first bench day at or after some day."""
        while not self.days or self.days[-1] < day:
            self._look_further()
        return bisect_left(self.days, day)

    def next_h(self, clock_h: float) -> float:
        """The first working moment at or after a moment."""
        day = math.floor(clock_h / DAY_H)
        number = self.number(day)
        if self.days[number] == day:
            opens = day * DAY_H + OPENS_H
            if clock_h < opens + self.hours - A_MOMENT_H:
                return max(clock_h, opens)
            number += 1
        return self.day(number) * DAY_H + OPENS_H

    def day_after_h(self, clock_h: float) -> float:
        """The opening of the first bench day after the day of a moment."""
        return self.next_h((math.floor(clock_h / DAY_H) + 1) * DAY_H)

    def after_h(self, clock_h: float, hours: float) -> float:
        """When so many hours of work, begun at a moment or as soon as there are hands, are done."""
        begin = self.next_h(clock_h)
        day = math.floor(begin / DAY_H)
        today = day * DAY_H + OPENS_H + self.hours - begin
        if hours <= today + A_MOMENT_H:
            return begin + hours
        left = hours - today
        whole = max(0, math.ceil((left - A_MOMENT_H) / self.hours) - 1)
        last = self.day(self.number(day) + 1 + whole)
        return last * DAY_H + OPENS_H + left - whole * self.hours

    def worked_h(self, clock_h: float) -> float:
        """Bench hours from the origin to a moment."""
        day = math.floor(clock_h / DAY_H)
        number, today = self.number(day), clock_h - day * DAY_H - OPENS_H
        if today <= 0 or self.days[number] != day:
            return number * self.hours
        return number * self.hours + min(today, self.hours)

    def _look_further(self) -> None:
        """Look through as many weeks again as were looked through so far."""
        last = min(max(2 * self._looked, 364), (dt.date.max - self.monday).days)
        if last > 2 * HORIZON_DAYS and not self.days:
            raise WorkshopError("days_off leaves no bench day, so nothing can be scheduled")
        if last == self._looked:
            raise WorkshopError(TOO_LONG)
        for day in range(self._looked, last):
            date = self.monday + dt.timedelta(days=day)
            if date.weekday() in self.weekdays and not self.off.holds(date):
                self.days.append(day)
        self._looked = last
