"""Acclimatisation: how long wood takes to settle in new air, and so how long to wait.

A first-order estimate, to plan by; a moisture meter knows better.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assess import not_negative, positive
from assess_casework.moisture import require_moisture_percent

# From memory, order of magnitude: diffusion of bound water across the grain at room
# temperature and 6 to 14 % moisture. Dense hardwoods are slow, light softwoods fast.
SLOW_DIFFUSION_M2_S = 0.5e-10
LIKELY_DIFFUSION_M2_S = 1.0e-10
FAST_DIFFUSION_M2_S = 2.0e-10

# Common practice: glue when wood is within one point of what it will settle at.
GLUING_TOLERANCE_PERCENT = 1.0

WAIT_ADVICE = (
    "An estimate from memory of how fast wood takes up water, good to a factor of two either "
    "way, and longer still under an intact finish. Go by the meter: glue when two readings a "
    "week apart differ by less than half a percent."
)

_SECONDS_PER_DAY = 86_400.0


@dataclass(frozen=True)
class Wait:
    """How long wood should stand before it is glued.

    Attributes:
        fast_days: If it takes up water as fast as a light softwood, days.
        likely_days: The middle estimate, days.
        slow_days: If it is as slow as a dense hardwood, days.
        advice: What to trust more than the estimate.
    """

    fast_days: float
    likely_days: float
    slow_days: float
    advice: str = WAIT_ADVICE


def time_constant_days(
    thickness_mm: float,
    open_faces: int = 2,
    diffusion_m2_s: float = LIKELY_DIFFUSION_M2_S,
) -> float:
    """Time in which a board makes up about two thirds of what parts it from its new moisture.

    t = L^2 / (pi^2 D), the slowest term of diffusion through a plane sheet; with one face
    sealed the board counts as twice as thick. Source of the formula: J. Crank, The
    Mathematics of Diffusion, plane sheet (from memory); of the default D: from memory. Valid
    for bare faces in moving air between about 15 and 25 degC; cold and finish slow it down.

    Args:
        thickness_mm: Thickness L, mm.
        open_faces: How many of its two faces are bare, 1 or 2.
        diffusion_m2_s: Diffusion coefficient D across the grain, m2/s.

    Returns:
        The time constant, days.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> round(time_constant_days(20.0), 1)
    4.7
    """
    positive("the thickness", thickness_mm)
    positive("the diffusion coefficient", diffusion_m2_s)
    if open_faces not in (1, 2):
        raise ValueError(f"A board has 1 or 2 open faces, not {open_faces}.")
    path_m = thickness_mm / 1000 * (2 if open_faces == 1 else 1)
    return path_m**2 / (math.pi**2 * diffusion_m2_s) / _SECONDS_PER_DAY


def moisture_after_days(
    from_mc_percent: float, to_mc_percent: float, days: float, tau_days: float
) -> float:
    """Average moisture content of a board some days after its air has changed.

    M(t) = M2 + (M1 - M2) exp(-t/T). Source: first-order decay, the slowest term of diffusion
    taken at full weight, so that it is never ahead of diffusion through a plane sheet.

    Args:
        from_mc_percent: Moisture content M1 at the start, 0 to 30 %.
        to_mc_percent: Moisture content M2 it settles at, 0 to 30 %.
        days: Time t, days.
        tau_days: Time constant T, days.

    Returns:
        Average moisture content, %.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> round(moisture_after_days(12.0, 8.0, 5.0, 5.0), 2)
    9.47
    """
    require_moisture_percent(from_mc_percent)
    require_moisture_percent(to_mc_percent)
    not_negative("the time", days)
    positive("the time constant", tau_days)
    return to_mc_percent + (from_mc_percent - to_mc_percent) * math.exp(-days / tau_days)


def days_to_settle(
    from_mc_percent: float,
    to_mc_percent: float,
    tau_days: float,
    tolerance_percent: float = GLUING_TOLERANCE_PERCENT,
) -> float:
    """Days until a board is within a tolerance of the moisture it settles at.

    t = T ln(|M1 - M2| / tolerance), from `moisture_after_days`; 0 if it already is.

    Args:
        from_mc_percent: Moisture content M1 at the start, 0 to 30 %.
        to_mc_percent: Moisture content M2 it settles at, 0 to 30 %.
        tau_days: Time constant T, days.
        tolerance_percent: Difference that may be left, percentage points.

    Returns:
        Time, days.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> round(days_to_settle(12.0, 8.0, 5.0), 1)
    6.9
    """
    require_moisture_percent(from_mc_percent)
    require_moisture_percent(to_mc_percent)
    positive("the time constant", tau_days)
    positive("the tolerance", tolerance_percent)
    difference = abs(from_mc_percent - to_mc_percent)
    if difference <= tolerance_percent:
        return 0.0
    return tau_days * math.log(difference / tolerance_percent)


def time_constant_from_readings_days(
    first_mc_percent: float, later_mc_percent: float, to_mc_percent: float, days: float
) -> float:
    """Time constant of this very board, from two readings of a meter.

    T = t / ln((M1 - M2) / (M - M2)), from `moisture_after_days`. Better than any default once
    the readings differ by clearly more than a meter errs, about 1 % (from memory).

    Args:
        first_mc_percent: First reading M1, 0 to 30 %.
        later_mc_percent: Later reading M, between the first and the one it settles at, %.
        to_mc_percent: Moisture content M2 it settles at, 0 to 30 %.
        days: Time t between the readings, days.

    Returns:
        The time constant, days.

    Raises:
        ValueError: The later reading isn't between the first and the settled one, or a number
            is outside its range or NaN.

    >>> round(time_constant_from_readings_days(12.0, 10.0, 8.0, 7.0), 1)
    10.1
    """
    for mc_percent in (first_mc_percent, later_mc_percent, to_mc_percent):
        require_moisture_percent(mc_percent)
    positive("the time between the readings", days)
    first_difference = first_mc_percent - to_mc_percent
    later_difference = later_mc_percent - to_mc_percent
    if first_difference * later_difference <= 0 or abs(later_difference) >= abs(first_difference):
        raise ValueError(
            f"The later reading must lie between the first ({first_mc_percent:g} %) and where "
            f"the wood will settle ({to_mc_percent:g} %), not at {later_mc_percent:g} %."
        )
    return days / math.log(first_difference / later_difference)


def wait_before_gluing(
    thickness_mm: float,
    from_mc_percent: float,
    to_mc_percent: float,
    *,
    open_faces: int = 1,
    tolerance_percent: float = GLUING_TOLERANCE_PERCENT,
) -> Wait:
    """How long a board should stand in its new air before it is glued.

    First-order estimate from the thickness, with a fast, a likely and a slow wood. Source: see
    `time_constant_days` and `days_to_settle`; the tolerance is common practice.

    Args:
        thickness_mm: Thickness of the board, mm.
        from_mc_percent: Moisture content now, 0 to 30 %.
        to_mc_percent: Moisture content it settles at, 0 to 30 %.
        open_faces: How many of its two faces are bare, 1 or 2. One, by default: the other is
            finished, or covered.
        tolerance_percent: Difference that may be left, percentage points.

    Returns:
        The estimate, with what to trust more.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> wait = wait_before_gluing(20.0, 12.0, 8.0)
    >>> round(wait.fast_days), round(wait.likely_days), round(wait.slow_days)
    (13, 26, 52)
    """
    fast, likely, slow = (
        days_to_settle(
            from_mc_percent,
            to_mc_percent,
            time_constant_days(thickness_mm, open_faces, diffusion_m2_s),
            tolerance_percent,
        )
        for diffusion_m2_s in (FAST_DIFFUSION_M2_S, LIKELY_DIFFUSION_M2_S, SLOW_DIFFUSION_M2_S)
    )
    return Wait(fast_days=fast, likely_days=likely, slow_days=slow)
