"""Artificial surveys with a known tuning, to check whether a fit finds it again."""

from __future__ import annotations

import random

from assess_reeds.rows import ReedRow
from assess_reeds.temperament import Temperament, celeste_cents, named_temperament

COMPASS = range(29, 90)  # F1 to F6
EQUAL = named_temperament("equal")


def rank(
    name: str = "Viola",
    feet: int = 8,
    keys: range = COMPASS,
    *,
    level: float = 0.0,
    temperament: Temperament = EQUAL,
    octave: list[float] | None = None,
    scatter: float = 0.0,
    seed: int = 0,
) -> list[ReedRow]:
    """A rank at a pitch; ``octave`` are the errors of its tuner in the temperament octave."""
    random_numbers = random.Random(seed)
    errors = octave or [0.0] * 12
    rows = []
    for key in keys:
        row = ReedRow(key, name, feet)
        cents = level + temperament.offset_cents(row.sounding_midi) + errors[key % 12]
        rows.append(ReedRow(key, name, feet, cents=cents + random_numbers.gauss(0.0, scatter)))
    return rows


def celeste(beats: float, keys: range = range(60, 90), *, level: float = 0.0) -> list[ReedRow]:
    """A celeste that beats evenly against a unison at a level; negative beats for flat."""
    rows = []
    for key in keys:
        hz = EQUAL.hz(key) * 2 ** (level / 1200)
        rows.append(
            ReedRow(key, "Celeste", 8, cents=level + celeste_cents(hz, beats), celeste=True)
        )
    return rows
