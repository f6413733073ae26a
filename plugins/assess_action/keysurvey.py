"""A survey of the keyboard: level, dip, side play and touch, key by key.

Naturals and sharps are compared with their own kind. One odd key changes neither the line
the others are levelled to nor what counts as usual for them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from assess import finite, not_negative, positive
from assess_action.robust import Line, fit_line, odd_ones, robust_sd

# What one reading is good for, as a standard deviation. Estimates from memory: a steel rule
# or dip block, and loose weights of 5 g.
LENGTH_SD_MM = 0.1
TOUCH_SD_G = 5.0

# Keys may stand off a straight edge by 0.3 mm; side play is right from 0.1 to 0.3 mm.
# Estimates from memory.
LEVEL_TOLERANCE_MM = 0.3
LEAST_SIDE_PLAY_MM = 0.1
MOST_SIDE_PLAY_MM = 0.3

# Paper and card for shims. Estimate from memory.
SHIM_STEP_MM = 0.05

# A line through fewer keys is no judge of them.
LEAST_KEYS = 5

Deed = Literal["leave", "shim", "lower", "not judged"]

_NOTE = re.compile(r"^\s*([A-Ga-g])\s*([#♯b♭]?)\s*(-?\d)\s*$")
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SHIFTS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
_SHARPS = frozenset({1, 3, 6, 8, 10})


def key_number(note: str) -> int:
    """Number of a key, in semitones; middle C, C4, is 60.

    Source: common practice (scientific pitch names, MIDI numbers).

    Args:
        note: letter, sharp or flat if any, octave.

    Raises:
        ValueError: not the name of a note.

    >>> key_number("C4"), key_number("F#1"), key_number("B♭3")
    (60, 30, 58)
    """
    match = _NOTE.match(note)
    if not match:
        raise ValueError(f'"{note}" is not a note; write it like F1, F#1 or Bb3')
    letter, shift, octave = match.groups()
    return 12 * (int(octave) + 1) + _STEPS[letter.upper()] + _SHIFTS[shift]


def is_sharp(note: str) -> bool:
    """Whether a note has a sharp (black) key.

    >>> is_sharp("F#1"), is_sharp("Cb4")
    (True, False)
    """
    return key_number(note) % 12 in _SHARPS


@dataclass(frozen=True)
class KeyRow:
    """What was measured at one key; None for what was not.

    Attributes:
        note: its name, like F1, F#1 or Bb3.
        dip_mm: how far the front goes down [mm].
        height_mm: of the front at rest, above any one plane, the same for all keys [mm].
        side_play_mm: at the front [mm].
        touch_g: weight at the front that takes it down [g].

    Raises:
        ValueError: not a note, or a reading that cannot be.
    """

    note: str
    dip_mm: float | None = None
    height_mm: float | None = None
    side_play_mm: float | None = None
    touch_g: float | None = None

    def __post_init__(self) -> None:
        """Refuse readings that cannot be."""
        key_number(self.note)
        if self.height_mm is not None:
            finite(f"the height of {self.note}", self.height_mm)
        for what, value in (
            ("dip", self.dip_mm),
            ("side play", self.side_play_mm),
            ("touch", self.touch_g),
        ):
            if value is not None:
                not_negative(f"the {what} of {self.note}", value)


_Group = list[tuple[KeyRow, float]]


def _groups(rows: Sequence[KeyRow], reading: Callable[[KeyRow], float | None]) -> list[_Group]:
    """Naturals and sharps that have the reading, each from low to high."""
    numbers = [key_number(row.note) for row in rows]
    for row, number in zip(rows, numbers, strict=True):
        if numbers.count(number) > 1:
            raise ValueError(f"{row.note} is in the survey more than once")
    ordered = sorted(rows, key=lambda row: key_number(row.note))
    measured = [(row, value) for row in ordered if (value := reading(row)) is not None]
    return [
        [pair for pair in measured if is_sharp(pair[0].note) is sharp] for sharp in (False, True)
    ]


def _line(group: _Group) -> Line:
    xs = [float(key_number(row.note)) for row, _ in group]
    return fit_line(xs, [value for _, value in group])


@dataclass(frozen=True)
class KeyLevel:
    """What one key needs to come level.

    Attributes:
        note: its name.
        off_mm: how far its front stands above (or, negative, below) the line [mm]; None
            where too few keys of its kind were measured.
        deed: "leave", "shim", "lower" (at the sticker or the punching), "not judged".
        shim_mm: thickness of the shim [mm]; 0 where none.
    """

    note: str
    off_mm: float | None
    deed: Deed
    shim_mm: float = 0.0


def level_keys(
    rows: Sequence[KeyRow],
    tolerance_mm: float = LEVEL_TOLERANCE_MM,
    lift_per_shim: float = 1.0,
    step_mm: float = SHIM_STEP_MM,
) -> tuple[KeyLevel, ...]:
    """How far each key is from level, and the shim it needs, from low to high.

    The level is a straight line through most of the naturals, and another through most of
    the sharps; it may rise from one end to the other with the frame, but does not bend.

    Source: robust line by :func:`~assess_action.robust.fit_line`; tolerance and card
    thickness are estimates from memory. A shim only raises: keys that stand high are
    lowered, and shims go in after keys are eased and rebushed.

    Args:
        rows: the survey.
        tolerance_mm: left as it is up to here [mm].
        lift_per_shim: how much the front of a key rises with a shim 1 mm thick, where the
            shim is laid [mm/mm]; 1 tells shims as if laid at the front. Try it on one key.
        step_mm: shims come in steps of this [mm].

    Raises:
        ValueError: a key twice, or a setting that is not more than zero.

    >>> rows = [KeyRow(f"{letter}3", height_mm=20.0) for letter in "CDEFGA"]
    >>> [key.shim_mm for key in level_keys([*rows, KeyRow("B3", height_mm=19.2)])]
    [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.8]
    """
    positive("the tolerance", tolerance_mm)
    positive("the lift per shim", lift_per_shim)
    positive("the step of the shims", step_mm)

    def keyed(row: KeyRow, off_mm: float) -> KeyLevel:
        if abs(off_mm) <= tolerance_mm:
            return KeyLevel(row.note, off_mm, "leave")
        if off_mm > 0:
            return KeyLevel(row.note, off_mm, "lower")
        steps = max(1, round(-off_mm / lift_per_shim / step_mm))
        return KeyLevel(row.note, off_mm, "shim", round(steps * step_mm, 9))

    levels: list[KeyLevel] = []
    for group in _groups(rows, lambda row: row.height_mm):
        if len(group) < LEAST_KEYS:
            levels += [KeyLevel(row.note, None, "not judged") for row, _ in group]
            continue
        line = _line(group)
        levels += [keyed(row, height - line.at(key_number(row.note))) for row, height in group]
    return tuple(sorted(levels, key=lambda level: key_number(level.note)))


@dataclass(frozen=True)
class Spread:
    """What is usual for one reading, and which keys are not.

    Attributes:
        usual: median of all.
        sd: robust standard deviation of all.
        range: greatest less smallest, the odd ones left out.
        odd: notes far from the others, from low to high.
    """

    usual: float
    sd: float
    range: float
    odd: tuple[str, ...]


def dip_spread_mm(rows: Sequence[KeyRow], least_sd_mm: float = LENGTH_SD_MM) -> Spread:
    """Key dip of the whole keyboard, in mm.

    Source: median, median absolute deviation and modified z-score
    (:mod:`assess_action.robust`).

    Args:
        rows: the survey.
        least_sd_mm: what a single reading is good for [mm].

    Raises:
        ValueError: a key twice, no dip measured, or an error that is not more than zero.

    >>> rows = [KeyRow(f"{n}3", dip_mm=d) for n, d in zip("CDEFG", (9, 9.1, 8.9, 9, 12))]
    >>> dip_spread_mm(rows).odd, round(dip_spread_mm(rows).range, 3)
    (('G3',), 0.2)
    """
    measured = sorted(
        (pair for group in _groups(rows, lambda row: row.dip_mm) for pair in group),
        key=lambda pair: key_number(pair[0].note),
    )
    if not measured:
        raise ValueError("no key dip was measured")
    dips = [dip for _, dip in measured]
    odd = set(odd_ones(dips, least_sd_mm))
    usual = [dip for index, dip in enumerate(dips) if index not in odd]
    return Spread(
        usual=median(dips),
        sd=robust_sd(dips),
        range=max(usual) - min(usual),
        odd=tuple(row.note for index, (row, _) in enumerate(measured) if index in odd),
    )


@dataclass(frozen=True)
class TouchOff:
    """A key whose touch is not that of its neighbours.

    Attributes:
        note: its name.
        touch_g: its touch weight [g].
        usual_g: what the others lead one to expect there [g].
    """

    note: str
    touch_g: float
    usual_g: float


def odd_touch(rows: Sequence[KeyRow], least_sd_g: float = TOUCH_SD_G) -> tuple[TouchOff, ...]:
    """Keys much heavier or lighter than the trend over the keyboard, from low to high.

    The trend allows for the larger pallets of the bass. Kinds of key with fewer than five
    measured are not judged.

    Source: :func:`~assess_action.robust.fit_line` and
    :func:`~assess_action.robust.odd_ones`.

    Args:
        rows: the survey, taken with the same stops.
        least_sd_g: what a single reading is good for [g].

    Raises:
        ValueError: a key twice, or an error that is not more than zero.

    >>> rows = [KeyRow(f"{n}3", touch_g=g) for n, g in zip("CDEFGA", (80, 80, 79, 140, 78, 78))]
    >>> [(key.note, round(key.usual_g)) for key in odd_touch(rows)]
    [('F3', 79)]
    """
    found: list[TouchOff] = []
    for group in _groups(rows, lambda row: row.touch_g):
        if len(group) < LEAST_KEYS:
            continue
        line = _line(group)
        usual = [line.at(key_number(row.note)) for row, _ in group]
        offs = [touch - wanted for (_, touch), wanted in zip(group, usual, strict=True)]
        found += [
            TouchOff(group[index][0].note, group[index][1], usual[index])
            for index in odd_ones(offs, least_sd_g)
        ]
    return tuple(sorted(found, key=lambda key: key_number(key.note)))


@dataclass(frozen=True)
class KeyToEase:
    """A key that does not move freely, and why that is thought.

    Attributes:
        note: its name.
        reasons: in words.
    """

    note: str
    reasons: tuple[str, ...]


def keys_to_ease(
    rows: Sequence[KeyRow],
    least_play_mm: float = LEAST_SIDE_PLAY_MM,
    least_sd_g: float = TOUCH_SD_G,
) -> tuple[KeyToEase, ...]:
    """Keys to ease, from low to high: no side play, or a touch much above the others'.

    Source: side play that is right, an estimate from memory; touch by :func:`odd_touch`.

    Args:
        rows: the survey.
        least_play_mm: less than this binds [mm].
        least_sd_g: what a single touch reading is good for [g].

    Raises:
        ValueError: a key twice, or a setting that is not more than zero.

    >>> keys_to_ease([KeyRow("C3", side_play_mm=0.05), KeyRow("D3", side_play_mm=0.2)])
    (KeyToEase(note='C3', reasons=('side play 0.05 mm, under 0.1 mm',)),)
    """
    positive("the least side play", least_play_mm)
    heavy = {key.note: key for key in odd_touch(rows, least_sd_g) if key.touch_g > key.usual_g}
    found: list[KeyToEase] = []
    for row in sorted(rows, key=lambda row: key_number(row.note)):
        reasons: list[str] = []
        if row.side_play_mm is not None and row.side_play_mm < least_play_mm:
            reasons.append(f"side play {row.side_play_mm:g} mm, under {least_play_mm:g} mm")
        if row.note in heavy:
            key = heavy[row.note]
            reasons.append(f"touch {key.touch_g:.0f} g where {key.usual_g:.0f} g is usual")
        if reasons:
            found.append(KeyToEase(row.note, tuple(reasons)))
    return tuple(found)


def keys_to_rebush(
    rows: Sequence[KeyRow], most_play_mm: float = MOST_SIDE_PLAY_MM
) -> tuple[str, ...]:
    """Notes of keys with too much side play, from low to high.

    Source: side play that is right, an estimate from memory.

    Args:
        rows: the survey.
        most_play_mm: more than this is loose [mm].

    Raises:
        ValueError: a limit that is not more than zero.

    >>> keys_to_rebush([KeyRow("C3", side_play_mm=0.8), KeyRow("D3", side_play_mm=0.2)])
    ('C3',)
    """
    positive("the most side play", most_play_mm)
    ordered = sorted(rows, key=lambda row: key_number(row.note))
    return tuple(
        row.note
        for row in ordered
        if row.side_play_mm is not None and row.side_play_mm > most_play_mm
    )
