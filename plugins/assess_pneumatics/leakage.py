"""What a stopwatch and a gauge say about leaks: flow, area, one round hole.

A suction reservoir is pumped shut, and its springs open it again as air leaks in. The time
from fully shut to fully open, with no key down, is the hold time. With the volume it gives
the mean leakage flow; with the suction, the opening that would leak as much.

The suction falls as the springs relax. Every formula here takes the suction shut and the
suction open, and a straight fall between them; give the same value twice for suction that
stays constant.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from assess import not_negative, positive
from assess_pneumatics.measured import Measured, propagate

Rise = Literal["wedge", "parallel"]

# Sharp-edged opening, large Reynolds number: common practice; the free-streamline theory of
# a slot (Kirchhoff) gives pi / (pi + 2) = 0.611. Published values seen run from 0.596
# (ISO 5167-2:2003, beta 0.1) to 0.65: the furthest of them is two standard deviations away.
DISCHARGE = Measured(0.61, 0.02)

# Flow through a clean opening goes with the root of the suction (Bernoulli).
HOLE_EXPONENT = 0.5


def reservoir_volume_m3(
    length_m: float, depth_m: float, opening_m: float, rise: Rise = "wedge", shut_m: float = 0.0
) -> float:
    """Air that goes into a reservoir between fully shut and fully open.

    Wedge (hinged along its length): V = length x depth x (opening - shut) / 2.
    Parallel rise: V = length x depth x (opening - shut).

    Source: geometry. For a wedge the exact triangle is smaller by the factor
    sqrt(1 - (opening / (2 depth))**2), that is by 3 % when the opening is half the depth;
    cloth that is sucked inwards takes some more. The same formula gives the stroke of an
    exhauster.

    Args:
        length_m: board, along the hinge [m].
        depth_m: board, from hinge to free edge [m].
        opening_m: inside, between the boards, at the free edge when fully open [m].
        rise: "wedge" or "parallel".
        shut_m: what is left between the boards when shut [m].

    Raises:
        ValueError: a size that is not more than zero, an opening no wider than shut, or a
            wedge opened further than its two boards reach.

    >>> round(1000 * reservoir_volume_m3(0.914, 0.406, 0.203), 1)  # 36 x 16 in, open 8 in
    37.7
    """
    positive("the length of the board", length_m)
    positive("the depth of the board", depth_m)
    positive("the opening", opening_m)
    not_negative("the gap when shut", shut_m)
    if opening_m <= shut_m:
        raise ValueError("a reservoir must be wider open than shut")
    if rise == "wedge" and opening_m >= 2 * depth_m:
        raise ValueError("a wedge cannot open to twice the depth of its boards")
    return length_m * depth_m * (opening_m - shut_m) * _mean_share(rise)


def _mean_share(rise: Rise) -> float:
    """Mean travel of a board as a share of the travel at its free edge."""
    shares = {"wedge": 0.5, "parallel": 1.0}
    if rise not in shares:
        raise ValueError(f'a reservoir rises as "wedge" or "parallel", not "{rise}"')
    return shares[rise]


def spring_suction_pa(
    force_n: float, board_area_m2: float, rise: Rise = "wedge", force_at: float = 1.0
) -> float:
    """Suction that the springs of a reservoir make.

    Wedge, moments about the hinge: p = 2 F a / A; parallel rise: p = F / A.

    Source: statics; suction acts evenly on the board, half its depth from the hinge. The
    weight of the board and the stiffness of the cloth are left out.

    Args:
        force_n: force of all springs together on the moving board [N].
        board_area_m2: area of that board [m2].
        rise: "wedge" or "parallel".
        force_at: where the force bites on a wedge, as a share of the depth from the hinge
            [1]; 1 is the free edge. Of no effect on a parallel rise.

    Raises:
        ValueError: a force or area that is not more than zero, or a place off the board.

    >>> round(spring_suction_pa(138.8, 0.3716))  # 31 lbf on 36 x 16 in
    747
    """
    positive("the force of the springs", force_n)
    return force_n / _force_per_pascal(board_area_m2, rise, force_at)


def spring_force_n(
    suction_pa: float, board_area_m2: float, rise: Rise = "wedge", force_at: float = 1.0
) -> float:
    """Force that the springs must have together for a given suction.

    The inverse of :func:`spring_suction_pa`, with the same source and limits.

    Args:
        suction_pa: suction wanted [Pa].
        board_area_m2: area of the moving board [m2].
        rise: "wedge" or "parallel".
        force_at: where the force bites on a wedge, as a share of the depth [1].

    Raises:
        ValueError: a suction or area that is not more than zero, or a place off the board.

    >>> round(spring_force_n(747.0, 0.3716) / 4.44822)  # in lbf
    31
    """
    positive("the suction", suction_pa)
    return suction_pa * _force_per_pascal(board_area_m2, rise, force_at)


def _force_per_pascal(board_area_m2: float, rise: Rise, force_at: float) -> float:
    positive("the area of the board", board_area_m2)
    if positive("the place where the spring bites", force_at) > 1.0:
        raise ValueError("the spring must bite on the board, from above 0 to 1 of its depth")
    if rise == "parallel":
        force_at = 1.0
    return board_area_m2 * _mean_share(rise) / force_at


def mean_flow_m3_s(volume_m3: float, hold_s: float) -> float:
    """Mean leakage flow while the reservoir opens: Q = V / t.

    Source: volume balance. Leakage at a few hundred pascals changes the density of air by
    less than 1 %, which is left out.

    Args:
        volume_m3: air that went in [m3].
        hold_s: time it took [s].

    Raises:
        ValueError: a volume or time that is not more than zero.

    >>> round(1000 * mean_flow_m3_s(0.038, 60.0), 2)  # litres a second
    0.63
    """
    return positive("the volume", volume_m3) / positive("the hold time", hold_s)


def effective_suction_pa(shut_pa: float, open_pa: float, exponent: float = HOLE_EXPONENT) -> float:
    """The constant suction that would let the reservoir open in the same time.

    Suction falls in a straight line from p0 (shut) to p1 (open), leakage is C p**n:
    p_eff**n = (1 - n) (p0 - p1) / (p0**(1-n) - p1**(1-n)). For holes (n = 1/2) this is
    ((sqrt p0 + sqrt p1) / 2)**2. So t = V / (C p_eff**n) for every closed form of a spring
    or weight loaded reservoir: with p1 = p0 it is V / (C p0**n), with p1 = 0 it is
    V / (C p0**n (1 - n)), which for holes is twice the time at constant suction.

    Source: volume balance dV/dt = -Q integrated in closed form (derived). Valid for springs
    whose force falls evenly with the opening.

    Args:
        shut_pa: suction with the reservoir fully shut [Pa].
        open_pa: suction just before it is fully open [Pa]; the same as ``shut_pa`` where it
            stays constant.
        exponent: n of the leak, above 0 [1].

    Raises:
        ValueError: a suction that is not more than zero, one that rises as the reservoir
            opens, or one that falls to nothing with n of 1 or more (it would never open).

    >>> round(effective_suction_pa(750.0, 750.0), 1), round(effective_suction_pa(750.0, 0.0), 1)
    (750.0, 187.5)
    """
    positive("the exponent", exponent)
    fall = log_fall(shut_pa, open_pa)
    if math.isinf(fall) and exponent >= 1.0:
        raise ValueError("a porous reservoir whose suction falls to nothing never opens fully")
    if fall == 0.0:
        return shut_pa
    mean_power = time_to_fall(0.0, fall) / time_to_fall(exponent, fall)
    return float(shut_pa * mean_power ** (1.0 / exponent))


def time_to_fall(exponent: float, fall: float) -> float:
    """Time until the suction has fallen by the factor exp(-fall), in its own unit.

    (1 - exp(-(1-n) fall)) / (1-n), written so that it keeps its digits when n is near 1 or
    the suction hardly falls, and becomes infinite rather than fail when n is large. The unit
    is V p0**(1-n) / (C (p0 - p1)) seconds.

    Source: the integral of p**-n over a straight fall (derived).

    Args:
        exponent: n of the leak [1].
        fall: as :func:`log_fall` gives it [1].

    >>> round(time_to_fall(0.5, log_fall(750.0, 0.0)), 3), round(time_to_fall(1.0, 2.0), 3)
    (2.0, 2.0)
    """
    rest = 1.0 - exponent
    if rest == 0.0:
        return fall
    try:
        return -math.expm1(-rest * fall) / rest
    except OverflowError:
        return math.inf


def log_fall(shut_pa: float, open_pa: float) -> float:
    """Natural logarithm of suction shut over suction open; infinite if it falls to nothing.

    Args:
        shut_pa: suction at the start, reservoir shut [Pa].
        open_pa: suction at the end, reservoir open [Pa].

    Raises:
        ValueError: suction that is not more than zero at the start or rises to the end.

    >>> log_fall(750.0, 750.0), log_fall(750.0, 0.0)
    (0.0, inf)
    """
    positive("the suction at the start (shut)", shut_pa)
    not_negative("the suction at the end (open)", open_pa)
    if open_pa > shut_pa:
        raise ValueError("suction cannot rise from start to end while air leaks in")
    return math.log(shut_pa / open_pa) if open_pa else math.inf


def orifice_flow_m3_s(
    area_m2: float, suction_pa: float, density_kg_m3: float, discharge: float = DISCHARGE.value
) -> float:
    """Flow through an opening: Q = Cd A sqrt(2 p / rho).

    Source: Bernoulli's equation with a discharge coefficient (the form of ISO 5167-1 for an
    opening small against what is before it). Valid for holes above a millimetre or so and
    cracks above some tenths; finer ones flow less, and more nearly in proportion to p.

    Args:
        area_m2: area of the opening [m2].
        suction_pa: pressure difference across it [Pa].
        density_kg_m3: of the air [kg/m3].
        discharge: discharge coefficient, up to 1 [1].

    Raises:
        ValueError: an argument that is not more than zero, or a coefficient above 1.

    >>> round(1000 * orifice_flow_m3_s(20e-6, 747.0, 1.204), 2)  # 20 mm2, litres a second
    0.43
    """
    return positive("the area", area_m2) * _speed_m_s(suction_pa, density_kg_m3, discharge)


def leak_area_m2(
    flow_m3_s: float, suction_pa: float, density_kg_m3: float, discharge: float = DISCHARGE.value
) -> float:
    """Area of the opening that lets so much air through: A = (Q / Cd) sqrt(rho / (2 p)).

    Source: ASTM E779-19 (effective leakage area; equation restated from secondary pages),
    the inverse of :func:`orifice_flow_m3_s` and valid as that is.

    Args:
        flow_m3_s: leakage [m3/s].
        suction_pa: pressure difference [Pa]; for a hold time, the effective one.
        density_kg_m3: of the air [kg/m3].
        discharge: discharge coefficient, up to 1 [1].

    Raises:
        ValueError: an argument that is not more than zero, or a coefficient above 1.

    >>> round(1e6 * leak_area_m2(0.43e-3, 747.0, 1.204), 1)  # mm2
    20.0
    """
    return positive("the flow", flow_m3_s) / _speed_m_s(suction_pa, density_kg_m3, discharge)


def _speed_m_s(suction_pa: float, density_kg_m3: float, discharge: float) -> float:
    positive("the suction", suction_pa)
    positive("the density of the air", density_kg_m3)
    if positive("the discharge coefficient", discharge) > 1.0:
        raise ValueError(f"a discharge coefficient is at most 1, not {discharge:g}")
    return discharge * math.sqrt(2.0 * suction_pa / density_kg_m3)


def hole_diameter_m(area_m2: float) -> float:
    """Diameter of the one round hole of that area: d = sqrt(4 A / pi).

    Source: geometry.

    Args:
        area_m2: area [m2].

    Raises:
        ValueError: an area that is not more than zero.

    >>> round(1000 * hole_diameter_m(20e-6), 2)  # mm
    5.05
    """
    return math.sqrt(4.0 * positive("the area", area_m2) / math.pi)


@dataclass(frozen=True)
class Hole:
    """The one round hole that would leak as much as everything together.

    Attributes:
        flow_l_s: mean leakage [L/s].
        area_mm2: equivalent area [mm2].
        diameter_mm: diameter of the hole [mm].
        effective_pa: suction at which the flow is taken [Pa].
        discharge: discharge coefficient used [1].
        statement: the same in a sentence.
    """

    flow_l_s: Measured
    area_mm2: Measured
    diameter_mm: Measured
    effective_pa: Measured
    discharge: Measured
    statement: str


def hole_from_hold(
    volume_m3: Measured,
    hold_s: Measured,
    density_kg_m3: float,
    shut_pa: Measured,
    open_pa: Measured | None = None,
    discharge: Measured = DISCHARGE,
) -> Hole:
    """Turn a hold time into "a hole of so many millimetres", with uncertainty.

    Source: :func:`mean_flow_m3_s`, :func:`effective_suction_pa` with n = 1/2,
    :func:`leak_area_m2` and :func:`hole_diameter_m`, errors by
    :func:`~assess_pneumatics.measured.propagate`.

    Args:
        volume_m3: air that goes in [m3].
        hold_s: hold time [s].
        density_kg_m3: of the air [kg/m3].
        shut_pa: suction when shut [Pa].
        open_pa: suction just before it is fully open [Pa]; left out where the suction stays
            constant.
        discharge: discharge coefficient [1].

    Raises:
        ValueError: readings that cannot be, or are too uncertain to use.

    >>> hole = hole_from_hold(
    ...     Measured(0.038, 0.002), Measured(60, 1), 1.204, Measured(870, 25), Measured(620, 25))
    >>> hole.statement
    'leaks like one round hole of 6.1 ± 0.2 mm (discharge coefficient 0.61, 740 Pa)'
    """
    suctions = (shut_pa,) if open_pa is None else (shut_pa, open_pa)

    def suction_pa(*readings: float) -> float:
        return effective_suction_pa(readings[0], readings[-1])

    def area_mm2(volume: float, hold: float, cd: float, *readings: float) -> float:
        flow = mean_flow_m3_s(volume, hold)
        return 1e6 * leak_area_m2(flow, suction_pa(*readings), density_kg_m3, cd)

    def diameter_mm(*readings: float) -> float:
        return 1e3 * hole_diameter_m(area_mm2(*readings) / 1e6)

    readings = (volume_m3, hold_s, discharge, *suctions)
    diameter = propagate(diameter_mm, *readings)
    effective = propagate(suction_pa, *suctions)
    statement = (
        f"leaks like one round hole of {diameter} mm "
        f"(discharge coefficient {discharge.value:g}, {effective.value:.0f} Pa)"
    )
    return Hole(
        flow_l_s=propagate(mean_flow_m3_s, volume_m3, hold_s).scaled(1000.0),
        area_mm2=propagate(area_mm2, *readings),
        diameter_mm=diameter,
        effective_pa=effective,
        discharge=discharge,
        statement=statement,
    )


def rigid_leak_m3_s(
    volume_m3: float,
    start_pa: float,
    end_pa: float,
    time_s: float,
    atmosphere_pa: float = 101325.0,
) -> float:
    """Mean leakage into a closed box whose suction decays, as air of the room.

    Q = V (p0 - p1) / (Patm t). For a chest or a pan tested alone, where nothing moves and a
    gauge shows the suction die away.

    Source: ideal gas at constant temperature; the form of 40 CFR 1065.644 (vacuum-decay
    leak rate). Seconds matter here: a chest of 50 L loses 500 Pa through a 5 mm hole in
    well under a second.

    Args:
        volume_m3: air in the box [m3].
        start_pa: suction at the start [Pa].
        end_pa: suction at the end [Pa].
        time_s: time between [s].
        atmosphere_pa: air pressure of the room [Pa].

    Raises:
        ValueError: an argument that is not more than zero (the end may be zero), or suction
            that does not fall.

    >>> round(1e6 * rigid_leak_m3_s(0.002, 50600.0, 25300.0, 70.0), 3)  # mL/s
    7.134
    """
    positive("the volume", volume_m3)
    positive("the air pressure", atmosphere_pa)
    if log_fall(start_pa, end_pa) == 0.0:
        raise ValueError("the suction must fall between start and end")
    return volume_m3 * (start_pa - end_pa) / (atmosphere_pa * positive("the time", time_s))


def rigid_decay_s(
    volume_m3: float,
    start_pa: float,
    end_pa: float,
    area_m2: float,
    density_kg_m3: float,
    discharge: float = DISCHARGE.value,
    atmosphere_pa: float = 101325.0,
) -> float:
    """Time in which the suction of a closed box decays through a hole.

    t = 2 V (sqrt p0 - sqrt p1) / (Patm Cd A sqrt(2 / rho)).

    Source: volume balance of an ideal gas at constant temperature with the orifice equation
    (derived). Valid for suction small against the air pressure.

    Args:
        volume_m3: air in the box [m3].
        start_pa: suction at the start [Pa].
        end_pa: suction at the end [Pa].
        area_m2: area of the hole [m2].
        density_kg_m3: of the air [kg/m3].
        discharge: discharge coefficient [1].
        atmosphere_pa: air pressure of the room [Pa].

    Raises:
        ValueError: an argument that is not more than zero (the end may be zero), or suction
            that does not fall.

    >>> round(rigid_decay_s(0.05, 1000.0, 500.0, 20e-6, 1.2041), 2)
    0.58
    """
    mean_pa = effective_suction_pa(start_pa, end_pa)
    flow = orifice_flow_m3_s(area_m2, mean_pa, density_kg_m3, discharge)
    return rigid_leak_m3_s(volume_m3, start_pa, end_pa, 1.0, atmosphere_pa) / flow
