"""What a survey of the keys says: level, dip, play and touch, and how much shim each key needs."""

from __future__ import annotations

from assess import Inspection, Measurement, Row, Sheet, hookimpl
from assess_action.keysurvey import (
    KeyRow,
    dip_spread_mm,
    keys_to_ease,
    keys_to_rebush,
    level_keys,
)
from assess_action.touch import (
    NEWTON_PER_GRAM,
    coupled_touch_g,
    judge_touch,
    sticker_force_n,
    suction_force_n,
    touch_g,
)

INCH_WATER_PA = 249.0889
"""Conventional inch of water (NIST SP 811, table B.8)."""
SURVEY = "action.keys"
ROBUST = "robust statistics: medians and a Theil-Sen line, so that one odd key does not spoil them"
SOURCE = "Theil (1950) and Sen (1968); limits are estimates from memory"


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """What touch to expect against the measured one, and what the key survey says."""
    rows = inspection.survey_rows(SURVEY, _key)
    surveyed = (_dip(rows), _rebush(rows), _ease(rows), _level(rows))
    return [*_touch(inspection), *(m for m in surveyed if m)]


def _key(row: Row) -> KeyRow:
    numbers = {name: row.get(name) for name in ("dip", "height", "side_play", "touch")}
    dip, height, play, touch = (v if isinstance(v, float) else None for v in numbers.values())
    return KeyRow(str(row["note"]), dip, height, play, touch)


def _listed(notes: list[str]) -> str:
    return ", ".join(notes[:12]) + (f" and {len(notes) - 12} more" if len(notes) > 12 else "")


def _count(name: str, title: str, notes: list[str], read: int, doing: str) -> Measurement:
    says = f"{doing}: {_listed(notes)}." if notes else "None."
    inputs = (("keys read", str(read)),)
    return Measurement(name, title, "count", ROBUST, SOURCE, float(len(notes)), None, inputs, says)


def _touch(inspection: Inspection) -> list[Measurement]:
    sizes = {n: inspection.number(n, "m") for n in ("slot_length", "slot_width")}
    levers = {n: inspection.number(n, "m") for n in ("key_to_finger", "key_to_sticker")}
    spring = inspection.facts.get("pallet_spring")
    suction = inspection.values.get("pneumatics.suction_half")
    named = {**sizes, **levers, "pallet_spring": spring, "pneumatics.suction_half": suction}
    wants = tuple(name for name, value in named.items() if value is None)
    title = "Touch weight to expect, one note, mute open, no coupler"
    formula = "spring less suction on the pallet, through the lever of the key"
    if wants or spring is None or suction is None:
        return [Measurement("expected_touch", title, "g", formula, "statics", wants=wants)]
    (length, width), (finger, sticker) = sizes.values(), levers.values()
    pull = suction_force_n(length or 0.0, width or 0.0, suction * INCH_WATER_PA)
    force = sticker_force_n(spring * NEWTON_PER_GRAM, pull, "opens")
    if force <= 0:
        shut = ("a spring that keeps the pallet shut against the suction",)
        return [Measurement("expected_touch", title, "g", formula, "statics", wants=shut)]
    expected = touch_g(force, finger or 0.0, sticker or 0.0)
    inputs = tuple((n, f"{1000 * v:.1f} mm") for n, v in {**sizes, **levers}.items() if v)
    inputs += (("pallet_spring", f"{spring:g} g"), ("suction_half", f"{suction:g} in"))
    return [
        Measurement("expected_touch", title, "g", formula, "statics", expected, None, inputs,
                    _compared(inspection, expected))
    ]  # fmt: skip


def _compared(inspection: Inspection, expected_g: float) -> str:
    measured = inspection.values.get("action.touch_weight")
    if measured is None:
        return "Measured far above it means friction; far below, a weak spring or a leak."
    statement = judge_touch(measured, expected_g).statement
    both = coupled_touch_g(expected_g, expected_g)
    return f"{statement[:1].upper()}{statement[1:]}. With an octave coupler about {both:.0f} g."


def _dip(rows: list[KeyRow]) -> Measurement | None:
    read = [r for r in rows if r.dip_mm is not None]
    if len(read) < 5:
        return None
    spread = dip_spread_mm(read)
    odd = f" Odd: {_listed(list(spread.odd))}." if spread.odd else ""
    return Measurement(
        "dip_spread",
        "Key dip, from the least to the most",
        "mm",
        ROBUST,
        SOURCE,
        spread.range,
        None,
        (("keys read", str(len(read))), ("usual dip", f"{spread.usual:.1f} mm")),
        f"The usual dip is {spread.usual:.1f} mm.{odd}",
    )


def _rebush(rows: list[KeyRow]) -> Measurement | None:
    read = [r for r in rows if r.side_play_mm is not None]
    if not read:
        return None
    return _count("loose_keys", "Keys to rebush", list(keys_to_rebush(read)), len(read), "Worn")


def _ease(rows: list[KeyRow]) -> Measurement | None:
    read = [r for r in rows if r.side_play_mm is not None or r.touch_g is not None]
    if not read:
        return None
    found = [f"{k.note} ({'; '.join(k.reasons)})" for k in keys_to_ease(read)]
    return _count("keys_to_ease", "Keys to ease", found, len(read), "Tight or heavy")


def _level(rows: list[KeyRow]) -> Measurement | None:
    read = [r for r in rows if r.height_mm is not None]
    if not read:
        return None
    off = [f"{k.note} ({k.deed})" for k in level_keys(read) if k.deed in ("shim", "lower")]
    return _count("keys_off_level", "Keys off the level line", off, len(read), "To be moved")


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """How much each key is to be raised or lowered."""
    title = "Keys to raise or lower"
    rows = [r for r in inspection.survey_rows(SURVEY, _key) if r.height_mm is not None]
    if not rows:
        return [Sheet("key_level", title, wants=(f"a survey {SURVEY} with heights",))]
    levels = level_keys(rows)
    shown = tuple(
        (k.note, "-" if k.off_mm is None else f"{k.off_mm:+.2f}", str(k.deed),
         f"{k.shim_mm:.2f}" if k.shim_mm else "")
        for k in levels
    )  # fmt: skip
    notes = (
        "Naturals first, then sharps; a shim is reckoned as if laid at the front: try it on one "
        "key and scale the rest.",
        "High keys are lowered at the frame punching, or at the sticker.",
    )
    columns = ("Key", "Off the line, mm", "To do", "Shim, mm")
    return [Sheet("key_level", title, columns, shown, notes)]
