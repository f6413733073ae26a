"""What kind of leak it is: the power law Q = C p**n, and what its exponent suggests."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from assess import finite, positive
from assess_pneumatics.leakage import (
    DISCHARGE,
    HOLE_EXPONENT,
    effective_suction_pa,
    leak_area_m2,
    log_fall,
    mean_flow_m3_s,
    time_to_fall,
)
from assess_pneumatics.measured import Measured, propagate

Kind = Literal["porous", "holes", "mixed", "cannot tell", "not a leak"]

# Creeping flow through pores goes with the suction itself. ASTM E779-19 and ISO 9972:2015
# take 0.5 to 1 as the range of n.
PORE_EXPONENT = 1.0

# How far the search for an exponent goes. Only 0.5 to 1 is physical; the search runs far
# beyond, so that poor readings show as a wide uncertainty and not as a refusal.
_EXPONENT_SEARCH = (-20.0, 20.0)


@dataclass(frozen=True)
class PowerLaw:
    """Leakage as Q = C p**n.

    Source: ASTM E779-19 and ISO 9972:2015, which take n from 0.5 to 1. Valid between the
    suctions it was found at, and a little beyond.

    Attributes:
        coefficient: C [m3/(s Pa**n)].
        exponent: n [1].

    Raises:
        ValueError: a coefficient that is not more than zero, or an exponent that is no number.
    """

    coefficient: float
    exponent: float

    def __post_init__(self) -> None:
        """Refuse what cannot be a leak."""
        positive("the coefficient of the leak", self.coefficient)
        finite("the exponent of the leak", self.exponent)

    def flow_m3_s(self, suction_pa: float) -> float:
        """Leakage at a suction, in m3/s.

        Args:
            suction_pa: pressure difference [Pa].

        Raises:
            ValueError: a suction that is not more than zero.

        >>> round(PowerLaw(0.05, 0.65).flow_m3_s(4.0), 4)
        0.1231
        """
        return float(self.coefficient * positive("the suction", suction_pa) ** self.exponent)

    def hold_s(self, volume_m3: float, shut_pa: float, open_pa: float) -> float:
        """Hold time of a reservoir with this leak, in s.

        t = V / (C p_eff**n).

        Source: :func:`~assess_pneumatics.leakage.effective_suction_pa`.

        Args:
            volume_m3: air that goes in between shut and fully open [m3].
            shut_pa: suction when shut [Pa].
            open_pa: suction just before it is fully open [Pa].

        Raises:
            ValueError: as that function, or a volume that is not more than zero.

        >>> round(PowerLaw(1.5729e-5, 0.65).hold_s(0.05, 750.0, 0.0), 1)
        122.9
        """
        effective_pa = effective_suction_pa(shut_pa, open_pa, self.exponent)
        return positive("the volume", volume_m3) / self.flow_m3_s(effective_pa)

    def area_m2(
        self, reference_pa: float, density_kg_m3: float, discharge: float = DISCHARGE.value
    ) -> float:
        """Area of the opening that leaks as much at a reference suction, in m2.

        A = C p**(n - 1/2) sqrt(rho / 2) / Cd.

        Source: ASTM E779-19, restated from secondary pages; there the reference is 4 Pa and
        Cd = 1, for an organ the working suction serves.

        Args:
            reference_pa: suction at which the two leak alike [Pa].
            density_kg_m3: of the air [kg/m3].
            discharge: discharge coefficient of the opening [1].

        Raises:
            ValueError: an argument that is not more than zero.

        >>> round(1e4 * PowerLaw(0.05, 0.65).area_m2(4.0, 1.2041, 1.0), 2)  # cm2
        477.63
        """
        flow = self.flow_m3_s(reference_pa)
        return leak_area_m2(flow, reference_pa, density_kg_m3, discharge)


def power_law_from_readings(
    first_pa: float, first_m3_s: float, second_pa: float, second_m3_s: float
) -> PowerLaw:
    """The power law through two readings of suction and flow.

    n = ln(Q1 / Q2) / ln(p1 / p2), C = Q1 / p1**n.

    Source: ASTM E779-19 and ISO 9972:2015 (Q = C p**n; a straight line in logarithms,
    through two points). Both readings must be of the same leak and the same air.

    Args:
        first_pa: suction of the first reading [Pa].
        first_m3_s: leakage then [m3/s].
        second_pa: suction of the second [Pa].
        second_m3_s: leakage then [m3/s].

    Raises:
        ValueError: an argument that is not more than zero, or twice the same suction.

    >>> law = power_law_from_readings(400.0, 0.4e-3, 800.0, 0.8e-3)
    >>> round(law.exponent, 6), round(1e6 * law.coefficient, 6)
    (1.0, 1.0)
    """
    positive("the first suction", first_pa)
    positive("the second suction", second_pa)
    positive("the first flow", first_m3_s)
    positive("the second flow", second_m3_s)
    if first_pa == second_pa:
        raise ValueError("two different suctions are needed to tell the kind of a leak")
    exponent = math.log(first_m3_s / second_m3_s) / math.log(first_pa / second_pa)
    return PowerLaw(float(first_m3_s / first_pa**exponent), exponent)


def exponent_from_times(half_s: float, full_s: float, shut_pa: float, open_pa: float) -> float:
    """Exponent of the leak from the times to half open and to fully open.

    The weaker the suction, the slower the second half goes, and the more so the larger n is:
    half / full = (1 - u**(1-n)) / (1 - w**(1-n)), where w = p1 / p0 and u = (1 + w) / 2.
    Where the suction falls to nothing, n = 1 + log2(1 - half / full).

    Source: the volume balance of :func:`~assess_pneumatics.leakage.effective_suction_pa`
    (derived), solved for n by bisection. Half open means half the opening. Worth doing only
    where the suction falls by a third or more; see :func:`leak_exponent` for how sure the
    answer is.

    Args:
        half_s: time from shut to half open [s].
        full_s: time from shut to fully open [s].
        shut_pa: suction when shut [Pa].
        open_pa: suction just before it is fully open [Pa].

    Raises:
        ValueError: times that are not in order, suction that does not fall, or times that
            no leak could give.

    >>> full = PowerLaw(2e-6, 0.8).hold_s(0.038, 800.0, 400.0)
    >>> half = PowerLaw(2e-6, 0.8).hold_s(0.019, 800.0, 600.0)
    >>> round(exponent_from_times(half, full, 800.0, 400.0), 6)
    0.8
    """
    positive("the time to half open", half_s)
    if half_s >= positive("the time to fully open", full_s):
        raise ValueError("fully open must come after half open")
    fall = log_fall(shut_pa, open_pa)
    if fall == 0.0:
        raise ValueError("where the suction does not fall, times cannot tell the kind of leak")
    if math.isinf(fall):
        return 1.0 + math.log2(1.0 - half_s / full_s)
    half_fall = -math.log((1.0 + math.exp(-fall)) / 2.0)
    return _solve_exponent(half_s / full_s, half_fall, fall)


def _solve_exponent(share: float, half_fall: float, fall: float) -> float:
    low, high = _EXPONENT_SEARCH
    if not _half_share(high, half_fall, fall) <= share <= _half_share(low, half_fall, fall):
        raise ValueError("no leak gives these two times with this suction; time them again")
    # 60 halvings of a width of 40 reach the precision of a float.
    for _ in range(60):
        middle = (low + high) / 2.0
        if _half_share(middle, half_fall, fall) > share:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _half_share(exponent: float, half_fall: float, fall: float) -> float:
    """Share of the hold time that passes before the reservoir is half open."""
    whole = time_to_fall(exponent, fall)
    return time_to_fall(exponent, half_fall) / whole if math.isfinite(whole) else 0.0


def power_law_from_times(
    volume_m3: float, half_s: float, full_s: float, shut_pa: float, open_pa: float
) -> PowerLaw:
    """The power law of a leak from the times to half and to fully open.

    n by :func:`exponent_from_times`, then C = V / (t p_eff**n).

    Args:
        volume_m3: air that goes in between shut and fully open [m3].
        half_s: time from shut to half open [s].
        full_s: time from shut to fully open [s].
        shut_pa: suction when shut [Pa].
        open_pa: suction just before it is fully open [Pa].

    Raises:
        ValueError: as :func:`exponent_from_times`; or times so far from any leak that the
            exponent is not above zero.

    >>> round(power_law_from_times(0.05, 30.0, 120.0, 750.0, 0.0).exponent, 3)
    0.585
    """
    exponent = exponent_from_times(half_s, full_s, shut_pa, open_pa)
    effective_pa = effective_suction_pa(shut_pa, open_pa, exponent)
    return PowerLaw(float(mean_flow_m3_s(volume_m3, full_s) / effective_pa**exponent), exponent)


def leak_exponent(
    half_s: Measured, full_s: Measured, shut_pa: Measured, open_pa: Measured
) -> Measured:
    """Exponent of a leak from four uncertain readings, with its standard deviation.

    Source: :func:`exponent_from_times` with :func:`~assess_pneumatics.measured.propagate`.
    The four errors are taken as independent, which is on the safe side: a gauge that reads
    too high throughout hardly changes n.

    Args:
        half_s: time from shut to half open [s].
        full_s: time from shut to fully open [s].
        shut_pa: suction when shut [Pa].
        open_pa: suction just before it is fully open [Pa].

    Raises:
        ValueError: as :func:`exponent_from_times`, or readings too uncertain to use.

    >>> n = leak_exponent(Measured(26.6, 1), Measured(60, 1), Measured(800, 25), Measured(400, 25))
    >>> round(n.value, 2), round(n.sd, 2)
    (0.67, 0.22)
    """
    return propagate(exponent_from_times, half_s, full_s, shut_pa, open_pa)


@dataclass(frozen=True)
class LeakKind:
    """What an exponent suggests.

    Attributes:
        kind: "porous", "holes", "mixed", "cannot tell" or "not a leak".
        exponent: n, with its standard deviation [1].
        statement: the same in a sentence.
    """

    kind: Kind
    exponent: Measured
    statement: str


_KINDS: dict[Kind, str] = {
    "porous": "air comes through the whole of the cloth or wood: porous, near 1",
    "holes": "air comes through open places: cracks or holes, near one half",
    "mixed": "between one half and 1: fine cracks, or holes and porous cloth together",
    "cannot tell": "the readings cannot tell porous cloth from cracks and holes",
    "not a leak": "outside one half to 1: something other than a steady leak, or a misreading",
}


def what_exponent_suggests(exponent: Measured) -> LeakKind:
    """Read porous cloth or holes from an exponent, no further than its error allows.

    Each of the two ends, 0.5 and 1, is dropped if it lies more than two standard deviations
    away. Both left: cannot tell. None left: mixed if n lies between them, otherwise the
    readings are not those of a steady leak.

    Source: range of n from ASTM E779-19 and ISO 9972:2015; two standard deviations as
    JCGM 100:2008, 6.3.3. Cracks of some tenths of a millimetre lie between the two ends
    by themselves, so "mixed" need not mean two leaks.

    Args:
        exponent: n [1].

    >>> what_exponent_suggests(Measured(0.95, 0.1)).kind
    'porous'
    >>> what_exponent_suggests(Measured(0.67, 0.22)).kind
    'cannot tell'
    """
    kind = _kind_of(exponent)
    return LeakKind(kind, exponent, f"exponent {exponent}: {_KINDS[kind]}")


def _kind_of(exponent: Measured) -> Kind:
    may_be_holes = not exponent.differs_from(HOLE_EXPONENT)
    may_be_porous = not exponent.differs_from(PORE_EXPONENT)
    if may_be_holes and may_be_porous:
        return "cannot tell"
    if may_be_porous:
        return "porous"
    if may_be_holes:
        return "holes"
    return "mixed" if HOLE_EXPONENT < exponent.value < PORE_EXPONENT else "not a leak"
