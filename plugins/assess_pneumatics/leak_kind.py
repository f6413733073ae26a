"""What kind of leak it is: the power law Q = C p**n, and what its exponent suggests."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from assess import positive
from assess_pneumatics.uncertainty import Measured, propagate

Kind = Literal["porous", "holes", "mixed", "cannot tell", "not a leak"]

# Flow through a clean opening goes with the root of the suction (Bernoulli), creeping flow
# through pores with the suction itself. ASTM E779-19 and ISO 9972:2015 take 0.5 to 1 as the
# range of n.
HOLE_EXPONENT = 0.5
PORE_EXPONENT = 1.0

# Limits of the search for an exponent. Only 0.5 to 1 is physical; the search goes far beyond,
# so that poor readings show as a wide uncertainty and not as an error.
_EXPONENT_SEARCH = (-20.0, 20.0)
# 60 halvings of a width of 40 reach the precision of a float.
_HALVINGS = 60


def exponent_from_times(half_s: float, full_s: float, closed_pa: float, open_pa: float) -> float:
    """Exponent of the leak from the times to half open and to fully open [1].

    The weaker the suction, the slower the second half, and the more so the larger n is:
    half / full = (1 - u**(1-n)) / (1 - w**(1-n)), where w = p1 / p0 and u = (1 + w) / 2.

    Source: the integral of p**-n over a linear fall of the suction (volume balance, derived),
    solved for n by bisection. Half open means half the opening. Useful only if the suction
    falls by a third or more; :func:`leak_exponent` shows how certain the result is.

    Args:
        half_s: time from closed to half open [s].
        full_s: time from closed to fully open [s].
        closed_pa: suction when closed [Pa].
        open_pa: suction just before it is fully open [Pa].

    Raises:
        ValueError: times that are not in order, suction that does not fall, or times that
            no leak gives.

    >>> round(exponent_from_times(26.6, 60.0, 800.0, 400.0), 2)
    0.67
    """
    positive("the time to half open", half_s)
    if half_s >= positive("the time to fully open", full_s):
        raise ValueError("fully open must come after half open")
    if positive("the suction open", open_pa) >= positive("the suction closed", closed_pa):
        raise ValueError("the kind of a leak shows only if the suction falls")
    fall = math.log(closed_pa / open_pa)
    half_fall = math.log(2.0 * closed_pa / (closed_pa + open_pa))
    return _solve_exponent(half_s / full_s, half_fall, fall)


def _solve_exponent(share: float, half_fall: float, fall: float) -> float:
    """The exponent at which this share of the hold time passes before half open."""
    low, high = _EXPONENT_SEARCH
    if not _half_share(high, half_fall, fall) <= share <= _half_share(low, half_fall, fall):
        raise ValueError("no leak gives these two times with this suction")
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if _half_share(middle, half_fall, fall) > share:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _half_share(exponent: float, half_fall: float, fall: float) -> float:
    """Share of the hold time that passes before the reservoir is half open.

    The times are expm1((n-1) f) / (n-1) for the logarithmic fall f; their ratio is written so
    that it keeps its digits when n is near 1 and does not overflow when n is large.
    """
    steepness = exponent - 1.0
    if steepness == 0.0:
        return half_fall / fall
    share = math.expm1(-abs(steepness) * half_fall) / math.expm1(-abs(steepness) * fall)
    return share * math.exp(-steepness * (fall - half_fall)) if steepness > 0 else share


def leak_exponent(
    half_s: Measured, full_s: Measured, closed_pa: Measured, open_pa: Measured
) -> Measured:
    """Exponent of a leak from four uncertain readings, with its uncertainty [1].

    Source: :func:`exponent_from_times` with :func:`~assess_pneumatics.uncertainty.propagate`.
    The four errors are taken as independent, which is on the safe side: a gauge that always
    reads too high hardly changes n.

    Args:
        half_s: time from closed to half open [s].
        full_s: time from closed to fully open [s].
        closed_pa: suction when closed [Pa].
        open_pa: suction just before it is fully open [Pa].

    Raises:
        ValueError: as :func:`exponent_from_times`, or readings too uncertain to use.

    >>> n = leak_exponent(Measured(26.6, 1), Measured(60, 1), Measured(800, 25), Measured(400, 25))
    >>> round(n.value, 2), round(n.sd, 2)
    (0.67, 0.22)
    """
    return propagate(exponent_from_times, half_s, full_s, closed_pa, open_pa)


@dataclass(frozen=True)
class LeakKind:
    """What an exponent suggests.

    Attributes:
        kind: "porous", "holes", "mixed", "cannot tell" or "not a leak".
        statement: the same in a sentence, with the exponent.
    """

    kind: Kind
    statement: str


_KINDS: dict[Kind, str] = {
    "porous": "near 1, so air comes through porous cloth or wood everywhere",
    "holes": "near one half, so air comes through cracks or holes",
    "mixed": "between one half and 1: fine cracks, or holes and porous cloth together",
    "cannot tell": "too uncertain to tell porous cloth from cracks and holes",
    "not a leak": "outside one half to 1: not a steady leak, or a wrong reading",
}


def what_exponent_suggests(exponent: Measured) -> LeakKind:
    """Porous cloth or holes, as far as the uncertainty of the exponent allows.

    Each of the two ends, 0.5 and 1, is ruled out if it is more than two standard deviations
    away. Both left: cannot tell. None left: mixed if n is between them, otherwise the
    readings are not those of a steady leak.

    Source: range of n from ASTM E779-19 and ISO 9972:2015; two standard deviations as in
    JCGM 100:2008, 6.3.3. Cracks of some tenths of a millimetre are between the two ends
    by themselves, so "mixed" need not mean two leaks.

    Args:
        exponent: n [1].

    >>> what_exponent_suggests(Measured(0.95, 0.1)).kind
    'porous'
    >>> what_exponent_suggests(Measured(0.67, 0.22)).kind
    'cannot tell'
    """
    kind = _kind_of(exponent)
    return LeakKind(kind, f"exponent {exponent}: {_KINDS[kind]}")


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
