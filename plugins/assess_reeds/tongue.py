"""A reed tongue as a clamped bar: its pitch, and what taking metal off does to it.

This is a caution, not a recipe: a real tongue is curved, tapered and riveted, it is driven by
air, and the ear decides. What it shows truly is how much pitch lies in how little metal, where
on the tongue nothing happens, and that lowering eats at the root, where the tongue is bent
most.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from assess import finite, not_negative, positive, within
from assess_reeds.pitch import CENTS_PER_OCTAVE, Status

# First six roots of 1 + cos x cosh x = 0: Vishay Micro-Measurements model 2310 user guide,
# p. 97, carried to sixteen digits by solving the equation.
MODE_ROOTS = (
    1.875104068711961,
    4.694091132974174,
    7.854757438237613,
    10.995540734875467,
    14.13716839104647,
    17.278759532088237,
)

CENTS_PER_RELATIVE_HZ = CENTS_PER_OCTAVE / math.log(2)

# Up to here first order is within an eighth of the exact stepped bar at the tip and the root;
# at the root the pitch then falls further than it says. Checked against finite elements.
FIRST_ORDER_THINNING = 0.1

_STEPS = 200  # even; Simpson's rule is then good to nine digits for these shapes


@dataclass(frozen=True)
class Material:
    """What a tongue is made of.

    Attributes:
        name: what it is called.
        young_pa: Young's modulus [Pa].
        density_kg_m3: density [kg/m3].
        status: how the figures are known.
        source: where they are from.
    """

    name: str
    young_pa: float
    density_kg_m3: float
    status: Status
    source: str


BRASS_HALF_HARD = Material(
    "half-hard brass",
    103.4e9,
    8460.0,
    "published",
    "Seastrom Mfg metallic materials table: 15e6 psi, specific gravity 8.46",
)
BRASS_HARD = Material(
    "hard cartridge brass",
    110.3e9,
    8530.0,
    "from memory",
    "Multimedia Engineering Mechanics appendix, CDA 260 hard: 16e6 psi; density from memory",
)


def tongue_hz(
    thickness_m: float, length_m: float, material: Material = BRASS_HALF_HARD, mode: int = 1
) -> float:
    """Natural frequency of an even, clamped tongue; its width does not matter.

    f = b**2 / (2 pi) * sqrt(E h**2 / (12 rho)) / L**2, for the first mode
    0.161540 (h / L**2) sqrt(E / rho).

    Source: Rayleigh, Theory of Sound vol. 1 ch. VIII (clamped-free bar); the roots b as in
    MODE_ROOTS. Valid for a thin even bar; a reed sounds a little off this, and a scraped or
    weighted tongue far off.

    Args:
        thickness_m: thickness [m].
        length_m: free length from clamp to tip [m].
        material: metal.
        mode: 1 is the tone, 2 to 6 are partial vibrations that a reed hardly makes.

    Raises:
        ValueError: a size that is not more than zero, or a mode that is not listed.

    >>> round(tongue_hz(0.0003, 0.04), 1)
    105.9
    """
    positive("the thickness", thickness_m)
    positive("the length", length_m)
    if not 1 <= mode <= len(MODE_ROOTS):
        raise ValueError(f"a mode is from 1 to {len(MODE_ROOTS)}, not {mode}")
    stiffness = math.sqrt(material.young_pa / (12 * material.density_kg_m3))
    return MODE_ROOTS[mode - 1] ** 2 / (2 * math.pi) * stiffness * thickness_m / length_m**2


def thickness_for_hz(hz: float, length_m: float, material: Material = BRASS_HALF_HARD) -> float:
    """Thickness of an even tongue that sounds a note.

    Source: as for ``tongue_hz``, solved for the thickness.

    Args:
        hz: frequency wanted [Hz].
        length_m: free length from clamp to tip [m].
        material: metal.

    Returns:
        The thickness [m].

    Raises:
        ValueError: a frequency or length that is not more than zero.

    >>> round(1000 * thickness_for_hz(440.0, 0.02), 3)
    0.312
    """
    return positive("the frequency", hz) / tongue_hz(1.0, length_m, material)


def bend(place: float) -> float:
    """How far the tongue swings at a place, in its first mode; 2 at the tip.

    cosh bx - cos bx - s (sinh bx - sin bx), which has a mean square of 1.

    Source: Rayleigh, Theory of Sound vol. 1 ch. VIII.

    Args:
        place: distance from the root as a share of the free length, 0 to 1.

    Raises:
        ValueError: outside 0 to 1.

    >>> bend(0.0), round(bend(1.0), 6)
    (0.0, 2.0)
    """
    root, tilt = _shape()
    x = root * within("a place on the tongue", place, 0.0, 1.0)
    return math.cosh(x) - math.cos(x) - tilt * (math.sinh(x) - math.sin(x))


def curvature(place: float) -> float:
    """How sharply the tongue is bent at a place, on a scale that is 2 at the root.

    cosh bx + cos bx - s (sinh bx + sin bx), which has a mean square of 1 as well. The strain
    at the surface goes as this: it is greatest at the root.

    Source: Rayleigh, Theory of Sound vol. 1 ch. VIII.

    Args:
        place: distance from the root as a share of the free length, 0 to 1.

    Raises:
        ValueError: outside 0 to 1.

    >>> curvature(0.0), abs(curvature(1.0)) < 1e-9
    (2.0, True)
    """
    root, tilt = _shape()
    x = root * within("a place on the tongue", place, 0.0, 1.0)
    return math.cosh(x) + math.cos(x) - tilt * (math.sinh(x) + math.sin(x))


@cache
def _shape() -> tuple[float, float]:
    root = MODE_ROOTS[0]
    tilt = (math.cosh(root) + math.cos(root)) / (math.sinh(root) + math.sin(root))
    return root, tilt


def effect(place: float) -> float:
    """What taking metal off at a place does: above zero it raises, below zero it lowers.

    bend**2 - 3 curvature**2: mass lost raises, and stiffness, which goes with the cube of the
    thickness, lowers. Its mean over the whole tongue is -2: thinned all over, it falls.

    Source: Rayleigh, Theory of Sound vol. 1 art. 90 (small change of a vibrating system: the
    form of the vibration may be kept). First order.

    Args:
        place: distance from the root as a share of the free length, 0 to 1.

    Raises:
        ValueError: outside 0 to 1.

    >>> effect(0.0), round(effect(1.0), 6)
    (-12.0, 4.0)
    """
    return bend(place) ** 2 - 3 * curvature(place) ** 2


@cache
def neutral_place() -> float:
    """Where filing changes nothing: nearer the root it lowers, nearer the tip it raises.

    Source: the zero of ``effect``, by halving. First order, even tongue.

    Returns:
        Distance from the root as a share of the free length.

    >>> round(neutral_place(), 2)
    0.58
    """
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if effect(middle) < 0 else (low, middle)
    return (low + high) / 2


@dataclass(frozen=True)
class Zone:
    """A stretch of the tongue.

    Attributes:
        start: its end nearer the root, as a share of the free length.
        end: its end nearer the tip, as a share of the free length.

    Raises:
        ValueError: outside 0 to 1, or an end that does not lie beyond the start.
    """

    start: float
    end: float

    def __post_init__(self) -> None:
        within("the start of the stretch", self.start, 0.0, 1.0)
        within("the end of the stretch", self.end, 0.0, 1.0)
        if self.end <= self.start:
            raise ValueError("the stretch must end nearer the tip than it starts")

    def effect(self) -> float:
        """Integral of ``effect`` over it, by Simpson's rule."""
        step = (self.end - self.start) / _STEPS
        total = sum(
            (1 if index in (0, _STEPS) else 4 if index % 2 else 2)
            * effect(min(1.0, self.start + index * step))
            for index in range(_STEPS + 1)
        )
        return total * step / 3


# Where tuners file: the last fifth before the tip, and the first fifth after the rivets
# (common practice for the ends, an estimate from memory for the lengths).
TIP = Zone(0.8, 1.0)
ROOT = Zone(0.0, 0.2)


def thinning_cents(thinning: float, zone: Zone) -> float:
    """How far the pitch moves when a layer is taken off a stretch of the tongue.

    df/f = thinning / 2 * integral of (bend**2 - 3 curvature**2) over the stretch.

    Source: Rayleigh, as for ``effect``. First order, for an even tongue: at the tip or the root
    within an eighth up to FIRST_ORDER_THINNING; round the neutral place only the size is right.

    Args:
        thinning: layer taken off, as a share of the thickness there.
        zone: the stretch.

    Returns:
        Change of pitch, negative if it falls [cents].

    Raises:
        ValueError: less than nothing taken off, or more than first order can tell.

    >>> round(thinning_cents(0.01, TIP), 1), round(thinning_cents(0.01, ROOT), 1)
    (5.2, -15.6)
    """
    if finite("the layer", thinning) < 0:
        raise ValueError("metal cannot be put on with a file")
    if thinning > FIRST_ORDER_THINNING:
        raise ValueError(
            f"a layer of {100 * thinning:.0f} % of the thickness is more than this can tell "
            f"(at most {100 * FIRST_ORDER_THINNING:.0f} %), and more than a tongue should lose"
        )
    return CENTS_PER_RELATIVE_HZ * thinning / 2 * zone.effect()


def thinning_for_cents(cents: float, tip: Zone = TIP, root: Zone = ROOT) -> float:
    """Share of the thickness that a move of the pitch costs: at the tip to raise, else the root.

    Source: as for ``thinning_cents``, solved for the layer.

    Args:
        cents: how far the pitch shall move [cents].
        tip: stretch to file to raise.
        root: stretch to file to lower.

    Raises:
        ValueError: a stretch that works the other way, or a move that would cost more metal
            than first order can tell: leave it, or find another reed.

    >>> round(thinning_for_cents(-20.0), 4), round(thinning_for_cents(20.0), 4)
    (0.0128, 0.0386)
    """
    zone = tip if finite("the move", cents) > 0 else root
    wholly = zone.effect() * CENTS_PER_RELATIVE_HZ / 2
    if cents * wholly < 0 or wholly == 0:
        raise ValueError("filing there moves the pitch the other way")
    thinning = cents / wholly
    thinning_cents(thinning, zone)
    return thinning


def weighted_root(mass_ratio: float) -> float:
    """Root of the first mode of a tongue with a weight at its tip.

    1 + cos b cosh b = r b (sin b cosh b - cos b sinh b), for a weight of r times the mass of
    the tongue.

    Source: clamped bar with a mass at its end, S. Timoshenko, Vibration Problems in
    Engineering (from memory), solved by halving. Valid for a weight short beside the tongue.

    Args:
        mass_ratio: mass of the weight over the mass of the free tongue.

    Raises:
        ValueError: a negative mass.

    >>> round(weighted_root(0.0), 6), round(weighted_root(1.0), 4)
    (1.875104, 1.2479)
    """
    not_negative("the weight", mass_ratio)

    def residue(b: float) -> float:
        free = 1 + math.cos(b) * math.cosh(b)
        return free - mass_ratio * b * (math.sin(b) * math.cosh(b) - math.cos(b) * math.sinh(b))

    low, high = 0.0, MODE_ROOTS[0] + 1e-9
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if residue(middle) > 0 else (low, middle)
    return (low + high) / 2


def lost_weight_cents(mass_ratio: float) -> float:
    """How far a tongue rises when it loses the weight at its tip; dirt there does the reverse.

    The frequency goes as the square of the root.

    Source: as for ``weighted_root``.

    Args:
        mass_ratio: mass of the weight over the mass of the free tongue.

    Returns:
        Rise of the pitch [cents].

    Raises:
        ValueError: a negative mass.

    >>> round(lost_weight_cents(0.01)), round(lost_weight_cents(0.5))
    (34, 963)
    """
    return 2 * CENTS_PER_OCTAVE * math.log2(MODE_ROOTS[0] / weighted_root(mass_ratio))
