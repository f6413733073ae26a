"""What an inspection says of pumping and of the springs."""

from __future__ import annotations

from dataclasses import replace

from assess import Inspection, Measurement, sentence
from assess.plugin.api import missing
from assess_pneumatics.air import INCH_WATER_PA
from assess_pneumatics.leakage import spring_force_n, spring_suction_pa
from assess_pneumatics.pumping import EASY_STROKES_PER_MIN, judge_playing, strokes_to_close
from assess_pneumatics.readings import (
    BALANCE,
    DEEP_NOTE,
    WHOLE_HOLD,
    Shown,
    reservoir_board_m,
    seconds,
    shown,
    size_wants,
    sizes_shown,
    time_wants,
    volume_and_hold_shown,
    volume_m3,
)
from assess_pneumatics.uncertainty import COVERAGE, Measured, propagate

NEVER_CLOSES = 60.0
"""What the inspection writes for a reservoir that never closes, however many strokes."""
TOO_LEAKY = "The leaks alone may keep it from closing: cure them first, then count again."
MANY_STROKES = 2.0
"""From this many times the strokes that leaks explain, the exhausters are at fault (estimate
from memory)."""
USUAL_SUCTIONS_IN = (2.0, 3.0, 3.5)
"""Lowest, middle and highest usual suction [in of water] (estimate from memory)."""
KILOGRAM_N = 9.80665


def strokes_expected(inspection: Inspection) -> Measurement:
    """Strokes that the leaks explain, compared with those counted."""
    volume, stroke = volume_m3(inspection, "reservoir"), volume_m3(inspection, "exhauster")
    hold = seconds(inspection, WHOLE_HOLD)
    blank = Measurement(
        id="strokes_expected",
        title="Strokes to close the reservoir if the exhausters are tight, at "
        f"{EASY_STROKES_PER_MIN:g} per minute",
        unit="count",
        formula="volume / (stroke - what leaks in during a stroke)",
        source=BALANCE,
        wants=(
            *size_wants(inspection, "reservoir"),
            *size_wants(inspection, "exhauster"),
            *time_wants(inspection, WHOLE_HOLD),
        ),
    )
    if volume is None or stroke is None or hold is None:
        return blank
    inputs = (*volume_and_hold_shown(volume, hold), *sizes_shown(inspection, "exhauster"))
    known = replace(blank, inputs=inputs)
    try:
        strokes = propagate(strokes_to_close, volume, stroke, hold)
    except ValueError:
        return replace(known, value=NEVER_CLOSES, says=TOO_LEAKY)
    counted = inspection.number("pneumatics.strokes_to_close", "count")
    says = _strokes_said(strokes, counted)
    return replace(known, value=strokes.value, sd=strokes.sd, says=says)


def _strokes_said(expected: Measured, counted: float | None) -> str:
    """What the strokes that were counted say about the exhausters."""
    if expected.value + COVERAGE * expected.sd >= NEVER_CLOSES:
        return TOO_LEAKY
    if counted is None:
        return "If it takes twice as many, the exhausters lose air."
    if counted < MANY_STROKES * expected.value:
        return f"Counted: {counted:g}. The exhausters lose little."
    return (
        f"Counted: {counted:g}. The exhausters lose air too: check their covers and flap "
        "valves, and whether the strokes are full."
    )


def strokes_needed(inspection: Inspection) -> Measurement:
    """How fast one note of the lowest stop must be pumped."""
    volume, stroke = volume_m3(inspection, "reservoir"), volume_m3(inspection, "exhauster")
    hold, note = seconds(inspection, WHOLE_HOLD), seconds(inspection, DEEP_NOTE)
    blank = Measurement(
        id="strokes_needed",
        title="Full strokes per minute for one note of the lowest stop, leaks included",
        unit="count",
        formula="60 x volume / (stroke x time that the note lasts)",
        source=BALANCE,
        wants=(
            *size_wants(inspection, "exhauster"),
            *size_wants(inspection, "reservoir"),
            *time_wants(inspection, WHOLE_HOLD, DEEP_NOTE),
        ),
    )
    if volume is None or stroke is None or hold is None or note is None:
        return blank
    if note.value >= hold.value:
        return replace(blank, wants=(f"{DEEP_NOTE} shorter than {WHOLE_HOLD}",))
    played = judge_playing(volume, stroke, hold, note)
    return replace(
        blank,
        value=played.strokes_per_min.value,
        sd=played.strokes_per_min.sd,
        inputs=(
            *volume_and_hold_shown(volume, hold),
            *shown("lowest note lasts", note.value, "s"),
            *sizes_shown(inspection, "exhauster"),
        ),
        says=sentence(played.statement),
    )


def spring_suction(inspection: Inspection) -> Measurement:
    """The suction that the reservoir springs should make."""
    force, board = inspection.number("spring_force", "N"), reservoir_board_m(inspection)
    blank = Measurement(
        id="spring_suction",
        title="Suction that the reservoir springs should make",
        unit="inH2O",
        formula="moments about the hinge: twice the force at the free edge / area of the board",
        source="statics",
        wants=missing({"spring_force": force, **board}),
    )
    length, width = board.values()
    if force is None or length is None or width is None:
        return blank
    return replace(
        blank,
        value=spring_suction_pa(force, length * width) / INCH_WATER_PA,
        inputs=(*shown("spring force", force, "N"), *_board_shown(length, width)),
        says="If the gauge reads much less, the springs bind or sit elsewhere, or the gauge leaks.",
    )


def spring_force(inspection: Inspection) -> Measurement:
    """How strong the reservoir springs must be."""
    board = reservoir_board_m(inspection)
    blank = Measurement(
        id="spring_force_needed",
        title="Force of both reservoir springs together at the free edge for 3 in of suction",
        unit="N",
        formula="moments about the hinge: half of suction x area of the board",
        source="statics; 2 to 3.5 in is the usual suction (estimate from memory)",
        wants=missing(board),
    )
    length, width = board.values()
    if length is None or width is None:
        return blank
    low, middle, high = (
        spring_force_n(inches * INCH_WATER_PA, length * width) for inches in USUAL_SUCTIONS_IN
    )
    return replace(
        blank,
        value=middle,
        inputs=_board_shown(length, width),
        says=f"It is the weight of {middle / KILOGRAM_N:.0f} kg. "
        f"2 in needs {low:.0f} N, 3.5 in needs {high:.0f} N.",
    )


def _board_shown(length_m: float, width_m: float) -> Shown:
    return (("board", f"{length_m:.3f} x {width_m:.3f} m"),)
