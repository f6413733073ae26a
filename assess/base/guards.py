"""Refusing numbers that cannot be readings."""

from __future__ import annotations

import math

MOST_MONEY = 1e10
"""The largest amount in any currency. Larger ones are slips, and sums of them lose cents."""
MOST_HOURS = 1e5
"""The largest number of hours of one job."""

LEAST = 1e-6
"""The least number where one above zero is meant: a weight, chance or size. Smaller ones are slips,
and what is multiplied with them comes to nothing."""


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

    >>> positive("the dip", 9.5)
    9.5
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
        raise ValueError(f"{what} must be zero or more, not {value:g}")
    return value


def within(what: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Pass on a number inside the range that makes sense.

    Raises:
        ValueError: outside it, NaN or infinite.
    """
    if not low <= finite(what, value) <= high:
        raise ValueError(f"{what} must be from {low:g} to {high:g}{unit}, not {value:g}")
    return value
