"""Figures of a key survey: level and dip of each key."""

from __future__ import annotations

from typing import Any

from assess import Figure, Inspection, Series
from assess_action.inspecting import read_keys
from assess_action.keysurvey import (
    LEVEL_TOLERANCE_MM,
    KeyRow,
    is_sharp,
    key_number,
    level_keys,
)

KEYS = "key (C4 is middle C)"
OCTAVE = 12


def figures(inspection: Inspection) -> list[Figure]:
    """Level and dip of each key, along the keyboard, as far as they were read."""
    rows = read_keys(inspection)
    return [figure for figure in (_level(rows), _dip(rows)) if figure]


def _level(rows: list[KeyRow]) -> Figure | None:
    read = [row for row in rows if row.height_mm is not None]
    off = [(key.note, key.off_mm) for key in level_keys(read) if key.off_mm is not None]
    series = _by_kind(off)
    if not series:
        return None
    return Figure(
        "key_level",
        "How far each key is from level",
        KEYS,
        "above or below the line, mm",
        series,
        ("The line goes through most of the naturals, or most of the sharps.",),
        says=f"Keys more than {LEVEL_TOLERANCE_MM:g} mm from the line of 0 are raised or lowered.",
        joined=False,
        **_along(read),
    )


def _dip(rows: list[KeyRow]) -> Figure | None:
    series = _by_kind([(row.note, row.dip_mm) for row in rows if row.dip_mm is not None])
    if not series:
        return None
    return Figure(
        "key_dip",
        "Dip of each key",
        KEYS,
        "dip, mm",
        series,
        says="Keys should all go down alike; one that stands apart feels odd under the finger.",
        joined=False,
        **_along(rows),
    )


def _along(rows: list[KeyRow]) -> dict[str, Any]:
    """Names of the keys, and the keys of every C, along the axis."""
    names = {float(key_number(row.note)): row.note.strip() for row in rows}
    return {"x_names": names, "x_ticks": tuple(sorted(n for n in names if n % OCTAVE == 0))}


def _by_kind(read: list[tuple[str, float]]) -> tuple[Series, ...]:
    """Readings of naturals, and of sharps, from low to high; a kind without any is left out."""
    kinds = (("naturals", False), ("sharps", True))
    found = [
        Series(
            name,
            tuple(sorted((float(key_number(n)), v) for n, v in read if is_sharp(n) is sharp)),
        )
        for name, sharp in kinds
    ]
    return tuple(series for series in found if series.points)
