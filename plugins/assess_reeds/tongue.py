"""What taking metal off a reed tongue does to its pitch, with the tongue as a clamped bar.

This is a caution, not a recipe. A real tongue is curved, tapered and riveted, air drives it, and
the ear decides. The model shows how much pitch there is in how little metal, where on the tongue
filing does nothing, and that lowering thins the root, where the tongue bends most.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from assess import not_negative, within
from assess_reeds.pitch import CENTS_PER_OCTAVE

# Smallest root of 1 + cos x cosh x = 0, the first mode of a clamped-free bar: Rayleigh, Theory
# of Sound vol. 1 ch. VIII, carried to sixteen digits by solving the equation.
FIRST_MODE_ROOT = 1.875104068711961

CENTS_PER_RELATIVE_HZ = CENTS_PER_OCTAVE / math.log(2)

# Up to this share of the thickness, first order is within an eighth of the exact stepped bar, at
# the tip and at the root. At the root the exact pitch falls further. Checked against finite
# elements.
FIRST_ORDER_THINNING = 0.1

_STEPS = 200  # even; Simpson's rule is then good to nine digits for these shapes


def deflection(place: float) -> float:
    """How far the tongue swings at a place, in its first mode; 2 at the tip.

    cosh bx - cos bx - s (sinh bx - sin bx), with a mean square of 1 over the tongue.

    Source: Rayleigh, Theory of Sound vol. 1 ch. VIII.

    Args:
        place: distance from the root as a share of the free length, 0 to 1.

    Raises:
        ValueError: the place is outside 0 to 1.

    >>> deflection(0.0), round(deflection(1.0), 6)
    (0.0, 2.0)
    """
    x = FIRST_MODE_ROOT * within("a place on the tongue", place, 0.0, 1.0)
    return math.cosh(x) - math.cos(x) - _shape_factor() * (math.sinh(x) - math.sin(x))


def curvature(place: float) -> float:
    """How sharply the tongue bends at a place, on a scale that is 2 at the root.

    cosh bx + cos bx - s (sinh bx + sin bx), also with a mean square of 1. The strain at the
    surface is proportional to it, so the strain is greatest at the root.

    Source: Rayleigh, Theory of Sound vol. 1 ch. VIII.

    Args:
        place: distance from the root as a share of the free length, 0 to 1.

    Raises:
        ValueError: the place is outside 0 to 1.

    >>> curvature(0.0), abs(curvature(1.0)) < 1e-9
    (2.0, True)
    """
    x = FIRST_MODE_ROOT * within("a place on the tongue", place, 0.0, 1.0)
    return math.cosh(x) + math.cos(x) - _shape_factor() * (math.sinh(x) + math.sin(x))


@cache
def _shape_factor() -> float:
    root = FIRST_MODE_ROOT
    return (math.cosh(root) + math.cos(root)) / (math.sinh(root) + math.sin(root))


def filing_effect(place: float) -> float:
    """What taking metal off at a place does: above zero it raises, below zero it lowers.

    deflection**2 - 3 curvature**2. Less mass raises the pitch; less stiffness, which goes with
    the cube of the thickness, lowers it. The mean over the whole tongue is -2: a tongue thinned
    all over falls.

    Source: Rayleigh, Theory of Sound vol. 1 art. 90 (after a small change, the shape of the
    vibration may be taken as unchanged). First order.

    Args:
        place: distance from the root as a share of the free length, 0 to 1.

    Raises:
        ValueError: the place is outside 0 to 1.

    >>> filing_effect(0.0), round(filing_effect(1.0), 6)
    (-12.0, 4.0)
    """
    return deflection(place) ** 2 - 3 * curvature(place) ** 2


@cache
def neutral_place() -> float:
    """Where filing changes nothing: nearer the root it lowers, nearer the tip it raises.

    Source: the zero of ``filing_effect``, by bisection. First order, uniform tongue.

    Returns:
        Distance from the root as a share of the free length.

    >>> round(neutral_place(), 2)
    0.58
    """
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if filing_effect(middle) < 0 else (low, middle)
    return (low + high) / 2


@dataclass(frozen=True)
class Zone:
    """A stretch of the tongue.

    Attributes:
        start: the end nearer the root, as a share of the free length.
        end: the end nearer the tip, as a share of the free length.

    Raises:
        ValueError: an end is outside 0 to 1, or the end is not beyond the start.
    """

    start: float
    end: float

    def __post_init__(self) -> None:
        within("the start of the stretch", self.start, 0.0, 1.0)
        within("the end of the stretch", self.end, 0.0, 1.0)
        if self.end <= self.start:
            raise ValueError("the stretch must end nearer the tip than it starts")

    def effect(self) -> float:
        """Integral of ``filing_effect`` over the stretch. Source: Simpson's rule."""
        step = (self.end - self.start) / _STEPS
        total = sum(
            (1 if index in (0, _STEPS) else 4 if index % 2 else 2)
            * filing_effect(min(1.0, self.start + index * step))
            for index in range(_STEPS + 1)
        )
        return total * step / 3


# Where tuners file: the last fifth before the tip, and the first fifth after the rivets (the
# ends are common practice, the lengths an estimate from memory).
TIP = Zone(0.8, 1.0)
ROOT = Zone(0.0, 0.2)


def thinning_cents(thinning: float, zone: Zone) -> float:
    """Change of pitch when a layer is taken off a stretch of the tongue, negative down [cents].

    df/f = thinning / 2 * integral of (deflection**2 - 3 curvature**2) over the stretch.

    Source: Rayleigh, as for ``filing_effect``. First order, for a uniform tongue: within an
    eighth at the tip or the root up to FIRST_ORDER_THINNING; near the neutral place only the
    order of magnitude is right.

    Args:
        thinning: layer taken off, as a share of the thickness there, 0 to FIRST_ORDER_THINNING.
        zone: the stretch.

    Raises:
        ValueError: a negative layer, or one too thick for first order.

    >>> round(thinning_cents(0.01, TIP), 1), round(thinning_cents(0.01, ROOT), 1)
    (5.2, -15.6)
    """
    not_negative("the layer", thinning)
    if thinning > FIRST_ORDER_THINNING:
        raise ValueError(
            f"a layer of {100 * thinning:.0f} % of the thickness is too thick to compute "
            f"(at most {100 * FIRST_ORDER_THINNING:.0f} %), and more than a tongue should lose"
        )
    return CENTS_PER_RELATIVE_HZ * thinning / 2 * zone.effect()
