"""Refusing impossible numbers, in one plain sentence."""

from __future__ import annotations

import math


def require_between(what: str, value: float, low: float, high: float, unit: str) -> float:
    """Give a number back if it lies in a range, ends included.

    Args:
        what: Name of the quantity, as a sentence would begin with it.
        value: The number.
        low: Lowest number allowed.
        high: Highest number allowed; may be infinite, the number itself may not.
        unit: Unit of the numbers, for the message.

    Returns:
        The same number.

    Raises:
        ValueError: The number is NaN, infinite or outside the range.

    >>> require_between("The width", 120.0, 0.0, 5000.0, "mm")
    120.0
    """
    if not math.isfinite(value):
        raise ValueError(f"{what} must be a number, not {value}.")
    if not low <= value <= high:
        bounds = f"at least {low:g}" if high == math.inf else f"between {low:g} and {high:g}"
        raise ValueError(f"{what} must be {bounds} {unit}, not {value:g}.")
    return value


def require_above_zero(what: str, value: float, unit: str) -> float:
    """Give a number back if it is finite and greater than zero.

    Args:
        what: Name of the quantity, as a sentence would begin with it.
        value: The number.
        unit: Unit of the number, for the message.

    Returns:
        The same number.

    Raises:
        ValueError: The number is NaN, infinite, zero or negative.

    >>> require_above_zero("The load", 40.0, "kg")
    40.0
    """
    if not math.isfinite(value):
        raise ValueError(f"{what} must be a number, not {value}.")
    if value <= 0:
        raise ValueError(f"{what} must be more than zero {unit}, not {value:g}.")
    return value
