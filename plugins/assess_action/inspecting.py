"""Computed values, amounts and sheets: one note's touch, the key survey and the stop list."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assess import (
    Inspection,
    JobFileError,
    Measurement,
    Quantity,
    Row,
    Sheet,
)
from assess_action.keysurvey import (
    LEVEL_TOLERANCE_MM,
    MAX_SIDE_PLAY_MM,
    MIN_KEYS,
    MIN_SIDE_PLAY_MM,
    KeyLevel,
    KeyRow,
    dip_spread,
    key_number,
    keys_to_ease,
    keys_to_rebush,
    level_keys,
    papers,
)
from assess_action.stoplist import StopRow, failing, untried
from assess_action.touch import (
    NEWTON_PER_GRAM,
    TouchReading,
    cipher_suction_pa,
    coupled_touch_g,
    judge_touch,
    sticker_force_n,
    suction_force_n,
    touch_g,
)

INCH_WATER_PA = 249.0889
"""Conventional inch of water (NIST SP 811, table B.8)."""
SURVEY = "action.keys"
STOPS = "action.stops"
SUCTION = "pneumatics.suction_half"
TREND = "Theil (1950) and Sen (1968) for the line; limits are estimates from memory"
MAX_LISTED = 12
"""How many keys are named before the rest is only counted."""

_SPRING = {"pallet_spring": "g", "slot_length": "m", "slot_width": "m"}
_TOUCH = {**_SPRING, "key_to_finger": "m", "key_to_sticker": "m", SUCTION: "Pa"}
"""What each value is computed from, with the unit in which it is read."""
_TITLES = {
    "pallet_spring": "pallet spring",
    "slot_length": "slot length",
    "slot_width": "slot width",
    "key_to_finger": "balance pin to finger",
    "key_to_sticker": "balance pin to sticker",
    SUCTION: "suction with the reservoir half open",
}
_TOUCH_MEANS: dict[TouchReading, str] = {
    "friction": "far above this: something rubs (key bushing, sticker, guide pin), or there are "
    "two springs.",
    "as expected": "as expected.",
    "weak spring or leak": "far below this: the spring is weak, or the pallet hangs open and "
    "leaks.",
}


def measure(inspection: Inspection) -> list[Measurement]:
    """The touch and cipher suction of one note, what the key survey shows, and failing stops.

    Raises:
        JobFileError: no stop knobs are counted, but the job says nowhere that it has none.
    """
    if inspection.facts.get("stops") == 0 and "stop_knobs" in inspection.tags:
        raise JobFileError(
            "instrument.facts.stops is 0; write stop_knobs = false under [instrument.features], "
            "so that nothing speaks of stops"
        )
    rows = read_keys(inspection)
    surveyed = (_dip(rows), _odd_dips(rows), _loose(rows), _to_ease(rows), _off_level(rows))
    # Touch and cipher suction are worked out for suction instruments only.
    note = () if "pressure" in inspection.tags else (_touch(inspection), _cipher(inspection))
    stops = _failing_stops(inspection.survey_rows(STOPS, _stop))
    return [*note, *(m for m in (*surveyed, stops) if m)]


def quantities(inspection: Inspection) -> list[Quantity]:
    """The papers that the sheet of keys lays, where every key was surveyed."""
    levels = _levels(read_keys(inspection))
    judged = [key for key in levels if key.adjustment != "not judged"]
    if len(judged) < inspection.facts.get("keys", math.inf):
        return []
    laid = float(sum(len(papers(key.shim_mm)) for key in judged))
    says = "papers on the sheet of keys to set"
    return [Quantity("level_keys", "level_papers", laid, says)]


def sheets(inspection: Inspection) -> list[Sheet]:
    """The keys to move: how far each is off level and its shim, and odd dips."""
    title = "Keys to set"
    rows = read_keys(inspection)
    levels, dips = _levels(rows), _dips_to_set(rows)
    if not levels and not dips:
        return [Sheet("key_level", title, wants=(f"key heights in the survey {SURVEY}",))]
    moved = [key for key in levels if key.adjustment in ("shim", "lower")]
    not_judged = [key.note for key in levels if key.adjustment == "not judged"]
    left = len(levels) - len(moved) - len(not_judged)
    notes = [
        "Off is how far the key stands off the line. Do the naturals first, then the sharps, "
        "and dips last.",
        "Shims are given as if laid at the front of the key. Try one on one key, then scale "
        "the rest.",
        "Lower a high key at its frame punching or, if that is not enough, at its sticker.",
        f"Keys within {LEVEL_TOLERANCE_MM:g} mm of the line are left alone (estimate from "
        f"memory): {left} of {len(levels)}.",
    ]
    if not_judged:
        notes.append(f"Too few of a kind to be judged: {_listed(tuple(not_judged))}.")
    if not (moved or dips):
        notes = [f"Nothing to move: {notes[3]}", *notes[4:]]
    columns = ("Key", "Off, mm", "To do", "Shim, mm", "Papers, mm")
    return [Sheet("key_level", title, columns, (*map(_to_move, moved), *dips), tuple(notes))]


def _levels(rows: list[KeyRow]) -> tuple[KeyLevel, ...]:
    return level_keys([row for row in rows if row.height_mm is not None])


def _to_move(key: KeyLevel) -> tuple[str, ...]:
    laid = " + ".join(f"{paper:g}" for paper in papers(key.shim_mm))
    shim = f"{key.shim_mm:.2f}" if key.shim_mm else ""
    return (key.note, f"{key.off_mm:+.2f}", key.adjustment, shim, laid)


def _dips_to_set(rows: list[KeyRow]) -> tuple[tuple[str, ...], ...]:
    """A line of the sheet for each key whose dip is far from the others."""
    read = [row for row in rows if row.dip_mm is not None]
    if len(read) < MIN_KEYS:
        return ()
    spread = dip_spread(read)
    dips = {row.note: row.dip_mm for row in read}
    return tuple(
        (note, "", f"set dip {dips[note]:g} to {spread.usual_mm:.1f}", "", "")
        for note in spread.outliers
    )


def _stop(row: Row) -> StopRow:
    texts = {name: str(row.get(name) or "") for name in ("name", "side", "divide", "works")}
    return StopRow(**texts)


def _failing_stops(rows: list[StopRow]) -> Measurement | None:
    if not any(row.works for row in rows):
        return None
    found, left = failing(rows), untried(rows)
    says = f"{_listed(found)}." if found else "None."
    if left:
        says += f" Not tried: {_listed(left)}."
    return Measurement(
        "failing_stops",
        "Stops that fail to work their part",
        "count",
        "stops of the list that do not work, or only partly; dummies left out",
        "common practice",
        float(len(found)),
        inputs=(("stops listed", str(len(rows))),),
        says=says,
    )


def read_keys(inspection: Inspection) -> list[KeyRow]:
    """The keys of the survey; two rows for one key are refused."""
    return inspection.survey_rows(SURVEY, read_key, lambda row: key_number(row.note))


def read_key(row: Row) -> KeyRow:
    """One row of the key survey."""
    numbers = {name: row.get(name) for name in ("dip", "height", "side_play", "touch")}
    dip, height, play, touch = (v if isinstance(v, float) else None for v in numbers.values())
    return KeyRow(str(row["note"]), dip, height, play, touch)


@dataclass(frozen=True)
class _Inputs:
    """Sizes of one note: those that are known, and the names of those that are missing."""

    known: dict[str, float]
    missing: tuple[str, ...]

    @property
    def shown(self) -> tuple[tuple[str, str], ...]:
        """Title and value of each known input."""
        return tuple((_TITLES[name], _shown(name, value)) for name, value in self.known.items())


def _inputs(inspection: Inspection, units: dict[str, str]) -> _Inputs:
    values = {name: inspection.number(name, unit) for name, unit in units.items()}
    known = {name: value for name, value in values.items() if value is not None}
    return _Inputs(known, tuple(name for name in units if name not in known))


def _shown(name: str, value: float) -> str:
    if name == SUCTION:
        return f"{value / INCH_WATER_PA:.3g} inH2O"
    return f"{value:g} g" if name == "pallet_spring" else f"{1000 * value:.1f} mm"


def _touch(inspection: Inspection) -> Measurement:
    name, title = "expected_touch", "Touch weight to expect, one note, mute open, no coupler"
    formula = "force of the spring minus force of the suction, through the lever of the key"
    sizes = _inputs(inspection, _TOUCH)
    if sizes.missing:
        return Measurement(name, title, "g", formula, "statics", wants=sizes.missing)
    spring_g, length, width, finger, sticker, suction_pa = (sizes.known[n] for n in _TOUCH)
    spring_n = spring_g * NEWTON_PER_GRAM
    force_n = sticker_force_n(spring_n, suction_force_n(length, width, suction_pa))
    expected = touch_g(max(0.0, force_n), finger, sticker)
    if force_n > 0:
        without_wind = touch_g(spring_n, finger, sticker)
        says = f"{_compared(inspection, expected)} With the wind off about {without_wind:.0f} g."
    else:
        says = "The spring does not hold the pallet shut against this suction: the note ciphers."
    return Measurement(
        name, title, "g", formula, "statics", expected, inputs=sizes.shown, says=says
    )


def _compared(inspection: Inspection, expected_g: float) -> str:
    measured = inspection.number("action.touch_weight", "g")
    coupled = f"With one octave coupler about {coupled_touch_g(expected_g, expected_g):.0f} g."
    if measured is None:
        return f"Far more means friction; far less means a weak spring or a leak. {coupled}"
    meaning = _TOUCH_MEANS[judge_touch(measured, expected_g)]
    return f"Measured: {measured:.0f} g, {meaning} {coupled}"


def _cipher(inspection: Inspection) -> Measurement:
    name, title = "cipher_suction", "Suction that pulls a pallet open, so that its note ciphers"
    formula = "force of the spring divided by the area of the slot"
    sizes = _inputs(inspection, _SPRING)
    if sizes.missing:
        return Measurement(name, title, "inH2O", formula, "statics", wants=sizes.missing)
    spring_g, length, width = (sizes.known[n] for n in _SPRING)
    limit = cipher_suction_pa(spring_g * NEWTON_PER_GRAM, length, width) / INCH_WATER_PA
    suction = inspection.number(SUCTION, "inH2O")
    if suction is None:
        says = "Above this suction the spring no longer holds the pallet shut."
    elif suction < limit:
        says = (
            f"The measured suction of {suction:.3g} inH2O is {100 * suction / limit:.0f} % of this."
        )
    else:
        says = f"The measured suction of {suction:.3g} inH2O is more: the note ciphers."
    return Measurement(
        name, title, "inH2O", formula, "statics", limit, inputs=sizes.shown, says=says
    )


def _dip(rows: list[KeyRow]) -> Measurement | None:
    read = [r for r in rows if r.dip_mm is not None]
    if len(read) < MIN_KEYS:
        return None
    spread = dip_spread(read)
    usual = f"{spread.usual_mm:.1f} mm"
    odd = f" Set singly, since far from the others: {_listed(spread.outliers)}."
    return Measurement(
        "dip_spread",
        "Difference in dip between the deepest and the shallowest key",
        "mm",
        "largest minus smallest dip, without outliers (modified z-score)",
        "Iglewicz and Hoaglin (1993)",
        spread.range_mm,
        inputs=(("keys read", str(len(read))), ("usual dip", usual)),
        says=f"The usual dip is {usual}.{odd if spread.outliers else ''}",
    )


def _odd_dips(rows: list[KeyRow]) -> Measurement | None:
    read = [r for r in rows if r.dip_mm is not None]
    if len(read) < MIN_KEYS:
        return None
    odd = dip_spread(read).outliers
    formula = "keys whose dip is far from the others (modified z-score)"
    title = "Single keys whose dip is far from the others"
    return _count("odd_dips", title, formula, "Iglewicz and Hoaglin (1993)", len(read), odd)


def _loose(rows: list[KeyRow]) -> Measurement | None:
    read = [r for r in rows if r.side_play_mm is not None]
    formula = f"keys with more than {MAX_SIDE_PLAY_MM:g} mm of side play"
    return _count(
        "loose_keys",
        "Keys that knock sideways",
        formula,
        "estimate from memory",
        len(read),
        keys_to_rebush(read),
    )


def _to_ease(rows: list[KeyRow]) -> Measurement | None:
    read = [r for r in rows if r.side_play_mm is not None or r.touch_g is not None]
    found = tuple(f"{key.note} ({'; '.join(key.reasons)})" for key in keys_to_ease(read))
    formula = (
        f"keys with less than {MIN_SIDE_PLAY_MM:g} mm of side play, or with a touch far above "
        "a line through the other keys"
    )
    return _count("keys_to_ease", "Keys to ease", formula, TREND, len(read), found)


def _off_level(rows: list[KeyRow]) -> Measurement | None:
    read = [r for r in rows if r.height_mm is not None]
    found = tuple(
        f"{key.note} ({key.adjustment})"
        for key in level_keys(read)
        if key.adjustment in ("shim", "lower")
    )
    formula = (
        f"keys more than {LEVEL_TOLERANCE_MM:g} mm off a line through the naturals, or through "
        "the sharps"
    )
    return _count("keys_off_level", "Keys off level", formula, TREND, len(read), found)


def _count(
    name: str, title: str, formula: str, source: str, read: int, found: tuple[str, ...]
) -> Measurement | None:
    """How many keys were found, with their names; None when none was read."""
    if not read:
        return None
    says = f"{_listed(found)}." if found else "None."
    inputs = (("keys read", str(read)),)
    return Measurement(
        name,
        title,
        "count",
        formula,
        source,
        float(len(found)),
        inputs=inputs,
        says=says,
        which=found,
    )


def _listed(notes: tuple[str, ...]) -> str:
    rest = len(notes) - MAX_LISTED
    return ", ".join(notes[:MAX_LISTED]) + (f" and {rest} more" if rest > 0 else "")
