"""Numbers that are checked on the way in, and numbers that are only known as a range."""

from __future__ import annotations

import math
from dataclasses import dataclass


def finite(what: str, value: float) -> float:
    """Pass on a number that is one.

    Raises:
        ValueError: NaN or infinite.
    """
    if not math.isfinite(value):
        raise ValueError(f"{what} must be a number, not {value}")
    return value


def positive(what: str, value: float) -> float:
    """Pass on a number above zero.

    Raises:
        ValueError: zero, negative, NaN or infinite.

    >>> positive("the pitch of A", 440.0)
    440.0
    """
    if finite(what, value) <= 0:
        raise ValueError(f"{what} must be more than zero, not {value:g}")
    return value


def not_negative(what: str, value: float) -> float:
    """Pass on a number that is zero or more.

    Raises:
        ValueError: negative, NaN or infinite.
    """
    if finite(what, value) < 0:
        raise ValueError(f"{what} cannot be less than zero, and {value:g} was given")
    return value


def within(what: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Pass on a number inside the range that makes sense.

    Raises:
        ValueError: outside it, NaN or infinite.
    """
    if not low <= finite(what, value) <= high:
        raise ValueError(f"{what} must be from {low:g} to {high:g}{unit}, not {value:g}")
    return value


@dataclass(frozen=True)
class Band:
    """A quantity known only as a range, with the value one would bet on.

    Attributes:
        low: lowest value that is credible, any unit.
        likely: most likely value, same unit.
        high: highest value that is credible, same unit.

    Raises:
        ValueError: not in that order, or no numbers.
    """

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        for value in (self.low, self.likely, self.high):
            finite("each end of a range", value)
        if not self.low <= self.likely <= self.high:
            raise ValueError(
                f"a range runs from low over likely to high, not "
                f"{self.low:g}, {self.likely:g}, {self.high:g}"
            )

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high

    def scaled(self, factor: float) -> Band:
        """The range of ``factor`` times the quantity; a negative factor swaps the ends.

        >>> Band(1.0, 2.0, 4.0).scaled(-0.5)
        Band(low=-2.0, likely=-1.0, high=-0.5)
        """
        low, high = sorted((self.low * factor, self.high * factor))
        return Band(low, self.likely * factor, high)

    def plus(self, other: Band) -> Band:
        """The range of the sum if both err the same way: the widest honest one.

        >>> Band(1.0, 2.0, 4.0).plus(Band(0.0, 0.5, 1.0))
        Band(low=1.0, likely=2.5, high=5.0)
        """
        return Band(self.low + other.low, self.likely + other.likely, self.high + other.high)
