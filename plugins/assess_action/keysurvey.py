"""A survey of the keyboard: level, dip, side play and touch, key by key.

Naturals are compared with naturals and sharps with sharps. One odd key changes neither the
line that the others are levelled to nor what counts as usual.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from assess import finite, not_negative, positive
from assess_action.robust import Line, fit_line, outliers

# Standard deviation of one reading, with a steel rule or dip block, and with loose weights of
# 5 g. Estimates from memory.
LENGTH_SD_MM = 0.1
TOUCH_SD_G = 5.0

# How far a key may be from a straight edge, and how much side play is right. Estimates from
# memory.
LEVEL_TOLERANCE_MM = 0.3
MIN_SIDE_PLAY_MM = 0.1
MAX_SIDE_PLAY_MM = 0.3

# Thickness of the paper and card that shims are made of. Estimates from memory.
SHIM_STEP_MM = 0.05
PAPERS_MM = (0.5, 0.2, 0.1, 0.05)

# Fewer keys do not make a line that others can be judged by.
MIN_KEYS = 5

Adjustment = Literal["leave", "shim", "lower", "not judged"]

_NOTE = re.compile(r"^\s*([A-Ga-g])\s*([#♯b♭]?)\s*(-?\d)\s*$")
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SHIFTS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
_SHARPS = frozenset({1, 3, 6, 8, 10})


def key_number(note: str) -> int:
    """Number of a key in semitones; middle C (C4) is 60.

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
    """Whether a note is played by a sharp (black) key.

    >>> is_sharp("F#1"), is_sharp("Cb4")
    (True, False)
    """
    return key_number(note) % 12 in _SHARPS


@dataclass(frozen=True)
class KeyRow:
    """What was measured at one key; None for what was not measured.

    Attributes:
        note: name of the note, like F1, F#1 or Bb3.
        dip_mm: how far the front goes down [mm].
        height_mm: height of the front at rest above a plane, the same plane for all keys [mm].
        side_play_mm: side play at the front [mm].
        touch_g: weight at the front that takes the key down [g].

    Raises:
        ValueError: not a note, or an impossible reading.
    """

    note: str
    dip_mm: float | None = None
    height_mm: float | None = None
    side_play_mm: float | None = None
    touch_g: float | None = None

    def __post_init__(self) -> None:
        """Refuse impossible readings."""
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


def _low_to_high(rows: Sequence[KeyRow]) -> list[KeyRow]:
    return sorted(rows, key=lambda row: key_number(row.note))


def _groups(rows: Sequence[KeyRow], reading: Callable[[KeyRow], float | None]) -> list[_Group]:
    """Naturals, then sharps, that have the reading, each from low to high."""
    numbers = [key_number(row.note) for row in rows]
    for row, number in zip(rows, numbers, strict=True):
        if numbers.count(number) > 1:
            raise ValueError(f"{row.note} is in the survey more than once")
    measured = [(row, value) for row in _low_to_high(rows) if (value := reading(row)) is not None]
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
        note: name of the note.
        off_mm: how far its front is above (negative: below) the line [mm]; None if too few
            keys of its kind were measured.
        adjustment: "leave", "shim", "lower" (at the punching or the sticker), "not judged".
        shim_mm: thickness of the shim, as if laid at the front of the key [mm]; 0 for none.
    """

    note: str
    off_mm: float | None
    adjustment: Adjustment
    shim_mm: float = 0.0


def level_keys(
    rows: Sequence[KeyRow],
    tolerance_mm: float = LEVEL_TOLERANCE_MM,
    step_mm: float = SHIM_STEP_MM,
) -> tuple[KeyLevel, ...]:
    """How far each key is from level, and the shim it needs, from low to high.

    The level is one straight line through most of the naturals, and one through most of the
    sharps. It may rise from one end of the keyboard to the other, but does not bend. A shim
    only raises a key; high keys are lowered. Shims go in after keys are eased and rebushed.

    Source: robust line by :func:`~assess_action.robust.fit_line`; tolerance and card
    thickness are estimates from memory.

    Args:
        rows: the survey.
        tolerance_mm: a key this close to the line is left alone [mm].
        step_mm: shims come in steps of this thickness [mm].

    Raises:
        ValueError: a key twice, or a setting that is not above zero.

    >>> rows = [KeyRow(f"{letter}3", height_mm=20.0) for letter in "CDEFGA"]
    >>> [key.shim_mm for key in level_keys([*rows, KeyRow("B3", height_mm=19.2)])]
    [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.8]
    """
    positive("the tolerance", tolerance_mm)
    positive("the step of the shims", step_mm)

    def adjusted(row: KeyRow, off_mm: float) -> KeyLevel:
        if abs(off_mm) <= tolerance_mm:
            return KeyLevel(row.note, off_mm, "leave")
        if off_mm > 0:
            return KeyLevel(row.note, off_mm, "lower")
        steps = max(1, round(-off_mm / step_mm))
        return KeyLevel(row.note, off_mm, "shim", round(steps * step_mm, 9))

    levels: list[KeyLevel] = []
    for group in _groups(rows, lambda row: row.height_mm):
        if len(group) < MIN_KEYS:
            levels += [KeyLevel(row.note, None, "not judged") for row, _ in group]
            continue
        line = _line(group)
        levels += [adjusted(row, height - line.at(key_number(row.note))) for row, height in group]
    return tuple(sorted(levels, key=lambda level: key_number(level.note)))


def papers(shim_mm: float) -> tuple[float, ...]:
    """The papers that are laid together for a shim, thickest first [mm].

    Source: thicknesses in which punchings are sold (:data:`PAPERS_MM`), an estimate from memory.

    Args:
        shim_mm: thickness of the shim [mm], in steps of :data:`SHIM_STEP_MM`.

    Raises:
        ValueError: a negative thickness.

    >>> papers(0.85), papers(0.0)
    ((0.5, 0.2, 0.1, 0.05), ())
    """
    left = round(not_negative("the thickness of the shim", shim_mm) / SHIM_STEP_MM)
    laid: list[float] = []
    for thickness in PAPERS_MM:
        count, left = divmod(left, round(thickness / SHIM_STEP_MM))
        laid += [thickness] * count
    return tuple(laid)


@dataclass(frozen=True)
class DipSpread:
    """The key dip of a whole keyboard.

    Attributes:
        usual_mm: median of all keys [mm].
        range_mm: largest minus smallest dip, without the outliers [mm].
        outliers: notes whose dip is far from the others, from low to high.
    """

    usual_mm: float
    range_mm: float
    outliers: tuple[str, ...]


def dip_spread(rows: Sequence[KeyRow]) -> DipSpread:
    """How much the key dip differs over the keyboard.

    Source: median and modified z-score (:func:`~assess_action.robust.outliers`).

    Args:
        rows: the survey.

    Raises:
        ValueError: a key twice, or no dip measured.

    >>> rows = [KeyRow(f"{n}3", dip_mm=d) for n, d in zip("CDEFG", (9, 9.1, 8.9, 9, 12))]
    >>> dip_spread(rows).outliers, round(dip_spread(rows).range_mm, 3)
    (('G3',), 0.2)
    """
    measured = sorted(
        (pair for group in _groups(rows, lambda row: row.dip_mm) for pair in group),
        key=lambda pair: key_number(pair[0].note),
    )
    if not measured:
        raise ValueError("no key dip was measured")
    dips = [dip for _, dip in measured]
    odd = set(outliers(dips, LENGTH_SD_MM))
    others = [dip for index, dip in enumerate(dips) if index not in odd]
    return DipSpread(
        usual_mm=median(dips),
        range_mm=max(others) - min(others),
        outliers=tuple(row.note for index, (row, _) in enumerate(measured) if index in odd),
    )


@dataclass(frozen=True)
class OddTouch:
    """A key whose touch weight does not fit its neighbours.

    Attributes:
        note: name of the note.
        touch_g: its touch weight [g].
        expected_g: touch weight on the trend of the other keys [g].
    """

    note: str
    touch_g: float
    expected_g: float


def odd_touch(rows: Sequence[KeyRow]) -> tuple[OddTouch, ...]:
    """Keys far heavier or lighter than the trend over the keyboard, from low to high.

    The trend allows for the larger pallets of the bass. Naturals, or sharps, are not judged
    when fewer than five of them were measured.

    Source: :func:`~assess_action.robust.fit_line` and
    :func:`~assess_action.robust.outliers`.

    Args:
        rows: the survey, all taken with the same stops.

    Raises:
        ValueError: a key twice.

    >>> rows = [KeyRow(f"{n}3", touch_g=g) for n, g in zip("CDEFGA", (80, 80, 79, 140, 78, 78))]
    >>> [(key.note, round(key.expected_g)) for key in odd_touch(rows)]
    [('F3', 79)]
    """
    found: list[OddTouch] = []
    for group in _groups(rows, lambda row: row.touch_g):
        if len(group) < MIN_KEYS:
            continue
        line = _line(group)
        expected = [line.at(key_number(row.note)) for row, _ in group]
        offs = [touch - on_line for (_, touch), on_line in zip(group, expected, strict=True)]
        found += [
            OddTouch(group[index][0].note, group[index][1], expected[index])
            for index in outliers(offs, TOUCH_SD_G)
        ]
    return tuple(sorted(found, key=lambda key: key_number(key.note)))


@dataclass(frozen=True)
class KeyToEase:
    """A key that does not move freely.

    Attributes:
        note: name of the note.
        reasons: what shows it, in words.
    """

    note: str
    reasons: tuple[str, ...]


def keys_to_ease(rows: Sequence[KeyRow]) -> tuple[KeyToEase, ...]:
    """Keys to ease, from low to high: too little side play, or a touch far above the others'.

    Source: :data:`MIN_SIDE_PLAY_MM`, an estimate from memory; touch by :func:`odd_touch`.

    Args:
        rows: the survey.

    Raises:
        ValueError: a key twice.

    >>> keys_to_ease([KeyRow("C3", side_play_mm=0.05), KeyRow("D3", side_play_mm=0.2)])
    (KeyToEase(note='C3', reasons=('side play 0.05 mm, under 0.1 mm',)),)
    """
    heavy = {key.note: key for key in odd_touch(rows) if key.touch_g > key.expected_g}
    found: list[KeyToEase] = []
    for row in _low_to_high(rows):
        reasons: list[str] = []
        if row.side_play_mm is not None and row.side_play_mm < MIN_SIDE_PLAY_MM:
            reasons.append(f"side play {row.side_play_mm:g} mm, under {MIN_SIDE_PLAY_MM:g} mm")
        if row.note in heavy:
            key = heavy[row.note]
            reasons.append(f"touch {key.touch_g:.0f} g, usual there {key.expected_g:.0f} g")
        if reasons:
            found.append(KeyToEase(row.note, tuple(reasons)))
    return tuple(found)


def keys_to_rebush(rows: Sequence[KeyRow]) -> tuple[str, ...]:
    """Notes of keys with too much side play, from low to high.

    Source: :data:`MAX_SIDE_PLAY_MM`, an estimate from memory.

    >>> keys_to_rebush([KeyRow("C3", side_play_mm=0.8), KeyRow("D3", side_play_mm=0.2)])
    ('C3',)
    """
    return tuple(
        row.note
        for row in _low_to_high(rows)
        if row.side_play_mm is not None and row.side_play_mm > MAX_SIDE_PLAY_MM
    )
