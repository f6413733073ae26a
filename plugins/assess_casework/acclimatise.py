"""Acclimatisation: how long wood takes to adapt to new air, and so how long to wait.

A first-order estimate for planning. A moisture meter is more reliable.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assess import positive
from assess_casework.moisture import require_moisture_percent

# From memory, order of magnitude: diffusion of bound water across the grain at room
# temperature and 6 to 14 % moisture. Dense hardwoods are slow, light softwoods fast.
SLOW_DIFFUSION_M2_S = 0.5e-10
LIKELY_DIFFUSION_M2_S = 1.0e-10
FAST_DIFFUSION_M2_S = 2.0e-10

# Common practice: glue when the moisture content is within one point of its final value.
GLUING_TOLERANCE_PERCENT = 1.0

WAIT_ADVICE = (
    "An estimate from memory: the true time may be half or twice as long, and longer still under "
    "an intact finish. Trust the meter more: glue when two readings a week apart differ by less "
    "than half a percent."
)

_SECONDS_PER_DAY = 86_400.0


@dataclass(frozen=True)
class Wait:
    """How long wood should stand before it is glued.

    Attributes:
        fast_days: For wood as fast as a light softwood, days.
        likely_days: Likely value, days.
        slow_days: For wood as slow as a dense hardwood, days.
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
    """Time constant with which the moisture of a board approaches its new value.

    T = L^2 / (pi^2 D), the slowest term of diffusion through a plane sheet; a board with one
    face sealed counts as twice as thick. After one time constant about two thirds of the
    change is done. Source of the formula: J. Crank, The Mathematics of Diffusion, plane sheet
    (from memory); of the default D: from memory. Valid for bare faces in moving air between
    about 15 and 25 degC; cold and finish make it slower.

    Args:
        thickness_mm: Thickness L, mm.
        open_faces: How many of its two faces are bare, 1 or 2.
        diffusion_m2_s: Diffusion coefficient D across the grain, m2/s.

    Returns:
        The time constant, days.

    Raises:
        ValueError: A number is out of range or NaN.

    >>> round(time_constant_days(20.0), 1)
    4.7
    """
    positive("the thickness", thickness_mm)
    positive("the diffusion coefficient", diffusion_m2_s)
    if open_faces not in (1, 2):
        raise ValueError(f"A board has 1 or 2 open faces, not {open_faces}.")
    path_m = thickness_mm / 1000 * (2 if open_faces == 1 else 1)
    return path_m**2 / (math.pi**2 * diffusion_m2_s) / _SECONDS_PER_DAY


def days_to_settle(
    from_mc_percent: float,
    to_mc_percent: float,
    tau_days: float,
    tolerance_percent: float = GLUING_TOLERANCE_PERCENT,
) -> float:
    """Days until the moisture of a board is within a tolerance of its final value.

    t = T ln(|M1 - M2| / tolerance), and 0 if it already is. Source: first-order decay,
    M(t) = M2 + (M1 - M2) exp(-t/T), the slowest term of diffusion taken at full weight, so that
    it is never ahead of diffusion through a plane sheet.

    Args:
        from_mc_percent: Moisture content M1 at the start, 0 to 30 %.
        to_mc_percent: Final moisture content M2, 0 to 30 %.
        tau_days: Time constant T, days.
        tolerance_percent: Difference that may remain, percentage points.

    Returns:
        Time, days.

    Raises:
        ValueError: A number is out of range or NaN.

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


def wait_before_gluing(thickness_mm: float, from_mc_percent: float, to_mc_percent: float) -> Wait:
    """How long a board should stand in its new air before it is glued.

    First-order estimate from the thickness, for a fast, a likely and a slow wood, with one face
    bare and the other finished or covered. Source: see `time_constant_days` and
    `days_to_settle`; the tolerance is common practice.

    Args:
        thickness_mm: Thickness of the board, mm.
        from_mc_percent: Moisture content now, 0 to 30 %.
        to_mc_percent: Final moisture content, 0 to 30 %.

    Returns:
        The estimate, with what to trust more.

    Raises:
        ValueError: A number is out of range or NaN.

    >>> wait = wait_before_gluing(20.0, 12.0, 8.0)
    >>> round(wait.fast_days), round(wait.likely_days), round(wait.slow_days)
    (13, 26, 52)
    """
    fast, likely, slow = (
        days_to_settle(
            from_mc_percent, to_mc_percent, time_constant_days(thickness_mm, 1, diffusion_m2_s)
        )
        for diffusion_m2_s in (FAST_DIFFUSION_M2_S, LIKELY_DIFFUSION_M2_S, SLOW_DIFFUSION_M2_S)
    )
    return Wait(fast_days=fast, likely_days=likely, slow_days=slow)
