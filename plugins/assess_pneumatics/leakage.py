"""What a stopwatch and a gauge say about leaks: volume, flow, area, one round hole.

A suction reservoir is pumped closed, and its springs open it again as air leaks in. The time
from fully closed to fully open, with no key held, is the hold time. With the volume it gives
the mean leakage; with the suction, the opening that would leak as much.

The suction falls as the springs relax. The formulas here take the suction closed and the
suction open, and a linear fall between them; give the same value twice for constant suction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assess import not_negative, positive
from assess_pneumatics.uncertainty import Measured, propagate

# Sharp-edged opening, large Reynolds number: common practice; the free-streamline theory of
# a slot (Kirchhoff) gives pi / (pi + 2) = 0.611. Published values seen run from 0.596
# (ISO 5167-2:2003, beta 0.1) to 0.65; the furthest of them is two standard deviations away.
DISCHARGE = Measured(0.61, 0.02)


def wedge_volume_m3(length_m: float, depth_m: float, opening_m: float) -> float:
    """Air in a wedge bellows between closed and open: length x depth x opening / 2 [m3].

    For a reservoir this is the air that leaks in during the hold time; for an exhauster it is
    the full stroke.

    Source: geometry. The exact triangle is smaller by the factor
    sqrt(1 - (opening / (2 depth))**2), that is by 3 % when the opening is half the depth.
    Cloth that is sucked inwards reduces it further.

    Args:
        length_m: board, along the hinge [m].
        depth_m: board, from hinge to free edge [m].
        opening_m: inside, between the boards, at the free edge when fully open [m].

    Raises:
        ValueError: a size that is not above zero, or a wedge opened further than its two
            boards reach.

    >>> round(1000 * wedge_volume_m3(0.914, 0.406, 0.203), 1)  # 36 x 16 in, open 8 in
    37.7
    """
    positive("the length of the board", length_m)
    positive("the depth of the board", depth_m)
    if positive("the opening", opening_m) >= 2 * depth_m:
        raise ValueError("a wedge cannot open to twice the depth of its boards")
    return length_m * depth_m * opening_m / 2


def spring_suction_pa(force_n: float, board_area_m2: float) -> float:
    """Suction that the springs of a wedge reservoir make: p = 2 F / A [Pa].

    Source: statics, moments about the hinge: suction acts evenly on the board, at half its
    depth from the hinge, the springs at the free edge. The weight of the board and the
    stiffness of the cloth are left out.

    Args:
        force_n: force of all springs together at the free edge [N].
        board_area_m2: area of the moving board [m2].

    Raises:
        ValueError: a force or area that is not above zero.

    >>> round(spring_suction_pa(138.8, 0.3716))  # 31 lbf on 36 x 16 in
    747
    """
    return 2 * positive("the force", force_n) / positive("the area of the board", board_area_m2)


def spring_force_n(suction_pa: float, board_area_m2: float) -> float:
    """Force that all springs together need at the free edge for a given suction [N].

    The inverse of :func:`spring_suction_pa`, with the same source and limits.

    Args:
        suction_pa: suction to reach [Pa].
        board_area_m2: area of the moving board [m2].

    Raises:
        ValueError: a suction or area that is not above zero.

    >>> round(spring_force_n(747.0, 0.3716) / 4.44822)  # in lbf
    31
    """
    return (
        positive("the suction", suction_pa) * positive("the area of the board", board_area_m2) / 2
    )


def mean_flow_m3_s(volume_m3: float, hold_s: float) -> float:
    """Mean leakage while the reservoir opens: Q = V / t [m3/s].

    Source: volume balance. At a few hundred pascals the density of the air changes by less
    than 1 %, which is left out.

    Args:
        volume_m3: air that leaks in [m3].
        hold_s: time it takes [s].

    Raises:
        ValueError: a volume or time that is not above zero.

    >>> round(1000 * mean_flow_m3_s(0.038, 60.0), 2)  # litres a second
    0.63
    """
    return positive("the volume", volume_m3) / positive("the hold time", hold_s)


def effective_suction_pa(closed_pa: float, open_pa: float) -> float:
    """The constant suction at which holes would let the reservoir open in the same time [Pa].

    ((sqrt p0 + sqrt p1) / 2)**2, for a linear fall from p0 (closed) to p1 (open).

    Source: volume balance dV/dt = -C sqrt(p), integrated in closed form (derived). Valid for
    springs whose force falls evenly with the opening, and for leaks through holes.

    Args:
        closed_pa: suction with the reservoir fully closed [Pa].
        open_pa: suction just before it is fully open [Pa].

    Raises:
        ValueError: no suction at the start, or suction that rises as the reservoir opens.

    >>> round(effective_suction_pa(750.0, 750.0), 1), round(effective_suction_pa(750.0, 0.0), 1)
    (750.0, 187.5)
    """
    positive("the suction closed", closed_pa)
    if not_negative("the suction open", open_pa) > closed_pa:
        raise ValueError("suction cannot rise while air leaks in")
    return ((math.sqrt(closed_pa) + math.sqrt(open_pa)) / 2) ** 2


def leak_area_m2(
    flow_m3_s: float, suction_pa: float, density_kg_m3: float, discharge: float = DISCHARGE.value
) -> float:
    """Area of the opening that lets this much air through: A = (Q / Cd) sqrt(rho / (2 p)) [m2].

    Source: Bernoulli's equation with a discharge coefficient (the form of ISO 5167-1 for an
    opening small against what is before it). Valid for holes above about a millimetre and
    cracks above some tenths; finer ones pass less air, and more nearly in proportion to p.

    Args:
        flow_m3_s: leakage [m3/s].
        suction_pa: pressure difference [Pa]; for a hold time, the effective one.
        density_kg_m3: of the air [kg/m3].
        discharge: discharge coefficient, up to 1 [1].

    Raises:
        ValueError: an argument that is not above zero, or a coefficient above 1.

    >>> round(1e6 * leak_area_m2(0.43e-3, 747.0, 1.204), 1)  # mm2
    20.0
    """
    positive("the flow", flow_m3_s)
    positive("the suction", suction_pa)
    positive("the density of the air", density_kg_m3)
    if positive("the discharge coefficient", discharge) > 1.0:
        raise ValueError(f"a discharge coefficient is at most 1, not {discharge:g}")
    return flow_m3_s / discharge * math.sqrt(density_kg_m3 / (2.0 * suction_pa))


def hole_diameter_m(area_m2: float) -> float:
    """Diameter of the one round hole of that area: d = sqrt(4 A / pi) [m].

    Source: geometry.

    Args:
        area_m2: area [m2].

    Raises:
        ValueError: an area that is not above zero.

    >>> round(1000 * hole_diameter_m(20e-6), 2)  # mm
    5.05
    """
    return math.sqrt(4.0 * positive("the area", area_m2) / math.pi)


GOOD_HOLD_S = 90.0
"""Seconds that a good instrument with an ordinary reservoir holds (estimate from memory)."""
ORDINARY_VOLUME_M3 = wedge_volume_m3(0.914, 0.406, 0.203)
"""Air in an ordinary reservoir, 36 x 16 in and open 8 in [m3] (estimate from memory)."""
ORDINARY_SUCTION_PA = 747.0
"""Usual suction, 3 in of water [Pa] (estimate from memory)."""
ORDINARY_DENSITY_KG_M3 = 1.204
"""Air at 20 degrees C at sea level [kg/m3]: ISO 2533:1975 and the ideal gas law."""


def good_hold_s(volume_m3: float, suction_pa: float, density_kg_m3: float) -> float:
    """Seconds for which a reservoir holds if it leaks as little as a good ordinary one [s].

    The same leak fills a reservoir in proportion to its volume, and the slower, the less
    suction drives the air. So hold times of reservoirs of different size mean the same leak
    where they are the same share of this.

    Source: :func:`mean_flow_m3_s` and :func:`leak_area_m2` for leaks through holes; that a good
    ordinary reservoir holds 90 s is an estimate from memory.

    Args:
        volume_m3: air between closed and open [m3].
        suction_pa: mean suction, or pressure, while it is lost [Pa].
        density_kg_m3: of the air [kg/m3].

    Raises:
        ValueError: an argument that is not above zero.

    >>> round(good_hold_s(ORDINARY_VOLUME_M3, 747.0, 1.204))
    90
    >>> round(good_hold_s(ORDINARY_VOLUME_M3 / 3, 747.0, 1.204))  # small and folding
    30
    """
    flow = mean_flow_m3_s(ORDINARY_VOLUME_M3, GOOD_HOLD_S)
    good_m2 = leak_area_m2(flow, ORDINARY_SUCTION_PA, ORDINARY_DENSITY_KG_M3)
    here_m2 = leak_area_m2(positive("the volume", volume_m3), suction_pa, density_kg_m3)
    return here_m2 / good_m2


@dataclass(frozen=True)
class Hole:
    """The one round hole that would leak as much as all leaks together.

    Attributes:
        diameter_mm: its diameter [mm].
        statement: the same in words.
    """

    diameter_mm: Measured
    statement: str


def hole_from_hold(
    volume_m3: Measured,
    hold_s: Measured,
    density_kg_m3: float,
    closed_pa: Measured,
    open_pa: Measured,
) -> Hole:
    """Turn a hold time into "a hole of so many millimetres", with its uncertainty.

    Source: :func:`mean_flow_m3_s`, :func:`effective_suction_pa`, :func:`leak_area_m2` and
    :func:`hole_diameter_m`; uncertainty by :func:`~assess_pneumatics.uncertainty.propagate`.

    Args:
        volume_m3: air that leaks in [m3].
        hold_s: hold time [s].
        density_kg_m3: of the air [kg/m3].
        closed_pa: suction when closed [Pa].
        open_pa: suction just before it is fully open [Pa].

    Raises:
        ValueError: impossible readings, or readings too uncertain to use.

    >>> hole = hole_from_hold(
    ...     Measured(0.038, 0.002), Measured(60, 1), 1.204, Measured(870, 25), Measured(620, 25))
    >>> hole.statement
    'leaks like one round hole of 6.1 ± 0.2 mm (discharge coefficient 0.61, 740 Pa)'
    """

    def diameter_mm(volume: float, hold: float, discharge: float, *suctions: float) -> float:
        flow = mean_flow_m3_s(volume, hold)
        area = leak_area_m2(flow, effective_suction_pa(*suctions), density_kg_m3, discharge)
        return 1000.0 * hole_diameter_m(area)

    diameter = propagate(diameter_mm, volume_m3, hold_s, DISCHARGE, closed_pa, open_pa)
    effective_pa = effective_suction_pa(closed_pa.value, open_pa.value)
    statement = (
        f"leaks like one round hole of {diameter} mm "
        f"(discharge coefficient {DISCHARGE.value:g}, {effective_pa:.0f} Pa)"
    )
    return Hole(diameter, statement)
