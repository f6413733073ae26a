"""Days of a calendar: single days, spans of days, and spans that come back every year."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

MonthDay = tuple[int, int]
LEAP_YEAR = 2000
"""A year that has every month and day there is."""


@dataclass(frozen=True)
class YearSpan:
    """From one day of the year to another, both included; past New Year if the last is earlier."""

    first: MonthDay
    last: MonthDay

    def holds(self, day: dt.date) -> bool:
        """Whether a day lies in the span."""
        now = (day.month, day.day)
        if self.first <= self.last:
            return self.first <= now <= self.last
        return now >= self.first or now <= self.last

    def next_from(self, day: dt.date) -> dt.date:
        """The first day of the span, at or after a day."""
        if self.holds(day):
            return day
        year = day.year + ((day.month, day.day) > self.first)
        while not self.holds(begins := _day_of(year, self.first)):
            year += 1
        return begins


def _day_of(year: int, month_day: MonthDay) -> dt.date:
    """A day of a year; for 29 February of a common year the day after it."""
    try:
        return dt.date(year, *month_day)
    except ValueError:
        return dt.date(year, 3, 1)


def month_day(text: str) -> MonthDay:
    """A day of every year, written as ``12-25``.

    Raises:
        ValueError: there is no such day.

    >>> month_day("12-25")
    (12, 25)
    """
    day = dt.datetime.strptime(f"{LEAP_YEAR}-{text}", "%Y-%m-%d")
    return day.month, day.day


@dataclass(frozen=True)
class DaysOff:
    """Days without work.

    Attributes:
        spans: first and last day, both included.
        yearly: spans of every year.
    """

    spans: tuple[tuple[dt.date, dt.date], ...] = ()
    yearly: tuple[YearSpan, ...] = ()

    def holds(self, day: dt.date) -> bool:
        """Whether a day is free of work."""
        return any(first <= day <= last for first, last in self.spans) or any(
            span.holds(day) for span in self.yearly
        )


@lru_cache(maxsize=16)
def days_off(entries: tuple[str, ...]) -> DaysOff:
    """Days without work from their entries.

    Args:
        entries: each a day (``2027-12-24``), a span of days (``2027-07-19 to 2027-08-06``), or
            either of them in every year (``12-25``, ``12-24 to 01-02``).

    Raises:
        ValueError: an entry is none of these.
    """
    read = [_entry(entry) for entry in entries]
    return DaysOff(
        tuple(span for span in read if not isinstance(span, YearSpan)),
        tuple(span for span in read if isinstance(span, YearSpan)),
    )


def _entry(text: str) -> tuple[dt.date, dt.date] | YearSpan:
    parts = [part.strip() for part in text.split(" to ")]
    try:
        if len(parts) > 2:
            raise ValueError
        if _are_of_every_year(parts):
            return YearSpan(month_day(parts[0]), month_day(parts[-1]))
        first, last = dt.date.fromisoformat(parts[0]), dt.date.fromisoformat(parts[-1])
    except ValueError:
        raise ValueError(
            'not a day off; write "2027-12-24", "2027-07-19 to 2027-08-06", or "12-25" for every '
            "year"
        ) from None
    if first > last:
        raise ValueError("ends before it begins; write the earlier day first")
    return first, last


def _are_of_every_year(parts: Iterable[str]) -> bool:
    return all(part.count("-") == 1 for part in parts)
