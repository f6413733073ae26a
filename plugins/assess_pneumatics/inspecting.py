"""What the numbers of an inspection say about the wind: volume, leaks, pumping, springs."""

from __future__ import annotations

import math
from dataclasses import replace

from assess import Figure, Inspection, Measurement, Series, hookimpl
from assess.plugin.api import missing
from assess_pneumatics.air import INCH_WATER_PA, air_density_kg_m3
from assess_pneumatics.leak_kind import leak_exponent, what_exponent_suggests
from assess_pneumatics.leakage import (
    GOOD_HOLD_S,
    ORDINARY_SUCTION_PA,
    good_hold_s,
    hole_from_hold,
    mean_flow_m3_s,
    spring_force_n,
    spring_suction_pa,
)
from assess_pneumatics.pumping import EASY_STROKES_PER_MIN, judge_playing, strokes_to_close
from assess_pneumatics.readings import (
    DEEP_NOTE,
    GOOD_HOLD,
    HOLDS,
    LOWER_HOLD,
    PRESSURE_HALF,
    SUCTION_HALF,
    SUCTION_SPREAD,
    WHOLE_HOLD,
    Shown,
    around_half_pa,
    hold_tests,
    seconds,
    shown,
    size_wants,
    sizes_shown,
    suction_wants,
    suctions_pa,
    time_wants,
    volume_m3,
)
from assess_pneumatics.tracing import (
    DIFFERENCES,
    NAMES,
    TEST_NAMES,
    HoldTests,
    LeakPath,
    Path,
    predict_hold,
    trace_leaks,
)
from assess_pneumatics.uncertainty import COVERAGE, Measured, propagate

USUAL_ROOM_C = 20.0
NEVER_CLOSES = 60.0
"""What the inspection writes for a reservoir that never closes, however many strokes."""
TOO_LEAKY = "The leaks alone may keep it from closing: cure them first, then count again."
MANY_STROKES = 2.0
"""From this many times the strokes that leaks explain, the exhausters are at fault (estimate
from memory)."""
SAME_HOLD = 0.15
"""Good hold times that differ by less than this share mean the same (estimate from memory)."""
USUAL_SUCTIONS_IN = (2.0, 3.0, 3.5)
"""Lowest, middle and highest usual suction [in of water] (estimate from memory)."""
KILOGRAM_N = 9.80665

BALANCE = "volume balance: leaks fill the reservoir within the hold time"


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """Everything that can be computed about the wind, in order; of pressure only a good hold."""
    if "suction" not in inspection.tags:
        good = _good_hold(inspection)
        return [] if good.wants else [good]
    return [
        _reservoir_volume(inspection),
        _good_hold(inspection),
        _flow(inspection),
        _hole(inspection),
        *_paths(inspection),
        _predicted_hold(inspection),
        _strokes_expected(inspection),
        _strokes_needed(inspection),
        _exponent(inspection),
        _spring_suction(inspection),
        _spring_force(inspection),
    ]


# --- leaks


def _reservoir_volume(inspection: Inspection) -> Measurement:
    volume = volume_m3(inspection, "reservoir")
    return Measurement(
        id="reservoir_volume",
        title="Air in the reservoir between closed and open",
        unit="L",
        formula="wedge: half of length x depth x opening",
        source="geometry",
        value=volume.value * 1000 if volume else None,
        sd=volume.sd * 1000 if volume else None,
        inputs=sizes_shown(inspection, "reservoir"),
        says="This much air comes in through leaks and reeds each time it opens.",
        wants=size_wants(inspection, "reservoir"),
    )


def _good_hold(inspection: Inspection) -> Measurement:
    """How long a good reservoir of this size holds, so that seconds are judged by what leaks."""
    volume = volume_m3(inspection, "reservoir")
    blank = Measurement(
        id=GOOD_HOLD,
        title="Seconds that a good reservoir of this size holds",
        unit="s",
        formula="volume / what a good ordinary instrument leaks, at the suction of this one",
        source="Bernoulli's equation; 90 s for an ordinary reservoir (estimate from memory)",
        wants=size_wants(inspection, "reservoir"),
    )
    if volume is None:
        return blank
    suction_pa, told = _usual_suction_pa(inspection)
    density = _density_kg_m3(inspection)
    good = propagate(lambda v: good_hold_s(v, suction_pa, density), volume)
    taken = inspection.number(GOOD_HOLD, "s") or GOOD_HOLD_S
    return replace(
        blank,
        value=good.value,
        sd=good.sd,
        inputs=(
            ("reservoir volume", f"{1000 * volume.value:.1f} L"),
            (told, f"{suction_pa / INCH_WATER_PA:.1f} in"),
        ),
        says=_good_hold_said(good.value, taken),
    )


def _good_hold_said(good_s: float, taken_s: float) -> str:
    """What hold times are judged by: this, unless the job file states another good hold."""
    if taken_s == GOOD_HOLD_S or abs(good_s - taken_s) <= SAME_HOLD * taken_s:
        return "Hold times are judged as shares of it."
    return (
        f"The job file states {taken_s:.0f} s as a good hold, and hold times are judged by that; "
        "leave it out, and they are judged by what leaks here."
    )


def _usual_suction_pa(inspection: Inspection) -> tuple[float, str]:
    """Mean suction or pressure while it is lost [Pa], and where it is known from."""
    pressure = "pressure" in inspection.tags
    read_pa = inspection.number(PRESSURE_HALF if pressure else SUCTION_HALF, "Pa")
    if read_pa:
        return read_pa, "reading half way"
    force, board = inspection.number("spring_force", "N"), _reservoir_board_m(inspection)
    length, width = board.values()
    if force and length and width and not pressure:
        return spring_suction_pa(force, length * width), "suction of the springs"
    return ORDINARY_SUCTION_PA, "usual reading"


def _flow(inspection: Inspection) -> Measurement:
    volume, hold = volume_m3(inspection, "reservoir"), seconds(inspection, WHOLE_HOLD)
    blank = Measurement(
        id="leak_flow",
        title="Mean leakage of the whole instrument, stops in, no key held",
        unit="L/s",
        formula="volume / hold time",
        source=BALANCE,
        wants=(*size_wants(inspection, "reservoir"), *time_wants(inspection, WHOLE_HOLD)),
    )
    if volume is None or hold is None:
        return blank
    flow = propagate(mean_flow_m3_s, volume, hold)
    return replace(
        blank,
        value=flow.value * 1000,
        sd=flow.sd * 1000,
        inputs=_volume_and_hold(volume, hold),
        says="Pumping must remove this air before any reed gets wind.",
    )


def _volume_and_hold(volume: Measured, hold: Measured) -> Shown:
    return (
        ("reservoir volume", f"{1000 * volume.value:.1f} L"),
        *shown("hold time", hold.value, "s"),
    )


def _hole(inspection: Inspection) -> Measurement:
    volume, hold = volume_m3(inspection, "reservoir"), seconds(inspection, WHOLE_HOLD)
    blank = Measurement(
        id="leak_hole",
        title="One round hole that would leak as much as the whole instrument",
        unit="mm",
        formula="flow through a sharp-edged hole, at the mean suction while the reservoir opens",
        source="Bernoulli's equation, discharge coefficient 0.61 (common practice)",
        wants=(
            *size_wants(inspection, "reservoir"),
            *time_wants(inspection, WHOLE_HOLD),
            *suction_wants(inspection, with_change=False),
        ),
    )
    if blank.wants or volume is None or hold is None:
        return blank
    hole = hole_from_hold(volume, hold, _density_kg_m3(inspection), *around_half_pa(inspection))
    half = inspection.number(SUCTION_HALF, "inH2O") or 0.0
    spread = inspection.number(SUCTION_SPREAD, "inH2O") or 0.0
    return replace(
        blank,
        value=hole.diameter_mm.value,
        sd=hole.diameter_mm.sd,
        inputs=(
            *_volume_and_hold(volume, hold),
            *shown("suction half open", half, "in"),
            *shown("change in suction", spread, "in"),
        ),
        says=f"It {hole.statement}.",
    )


def _density_kg_m3(inspection: Inspection) -> float:
    """Density of the air in the room [kg/m3]."""
    room_c = inspection.number("casework.room_temperature", "degC")
    altitude_m = inspection.number("altitude", "m") or 0.0
    return air_density_kg_m3(altitude_m, USUAL_ROOM_C if room_c is None else room_c)


def _paths(inspection: Inspection) -> list[Measurement]:
    volume, tests = volume_m3(inspection, "reservoir"), hold_tests(inspection)
    if volume is None:
        return [replace(_blank_path("lower_action"), wants=size_wants(inspection, "reservoir"))]
    return [_path(part, tests) for part in trace_leaks(volume, tests)]


def _blank_path(path: Path) -> Measurement:
    return Measurement(
        id=f"leak_{path}",
        title=f"Leakage of the {NAMES[path]}",
        unit="L/s",
        formula="volume x (1 / hold time - 1 / hold time without this part)"
        if DIFFERENCES[path][1]
        else "volume / hold time",
        source=BALANCE,
    )


def _path(part: LeakPath, tests: HoldTests) -> Measurement:
    blank = _blank_path(part.path)
    used = [test for test in DIFFERENCES[part.path] if test]
    if part.flow_l_s is None:
        return replace(blank, wants=tuple(HOLDS[test] for test in used if test not in tests))
    return replace(
        blank,
        value=part.flow_l_s.value,
        sd=part.flow_l_s.sd,
        inputs=tuple((TEST_NAMES[test], f"{tests[test].value:g} s") for test in used),
        says=_sentence(part.statement),
    )


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _predicted_hold(inspection: Inspection) -> Measurement:
    whole, lower = seconds(inspection, WHOLE_HOLD), seconds(inspection, LOWER_HOLD)
    blank = Measurement(
        id="predicted_hold",
        title="Hold time of the whole instrument once the lower action is tight",
        unit="s",
        formula="1 / (1 / hold time of the whole - 1 / hold time of the lower action)",
        source=BALANCE,
        wants=time_wants(inspection, LOWER_HOLD, WHOLE_HOLD),
    )
    if whole is None or lower is None:
        return blank
    try:
        found = predict_hold(whole, lower)
    except ValueError as error:
        return replace(blank, wants=(f"hold times that agree ({error})",))
    hold = found.hold_s
    return replace(
        blank,
        value=hold.value if hold else found.at_least_s,
        sd=hold.sd if hold else None,
        inputs=(
            *shown("whole instrument", whole.value, "s"),
            *shown("lower action alone", lower.value, "s"),
        ),
        says=_sentence(found.statement),
    )


def _exponent(inspection: Inspection) -> Measurement:
    half, full = seconds(inspection, "time_to_half"), seconds(inspection, WHOLE_HOLD)
    suctions = suctions_pa(inspection)
    blank = Measurement(
        id="leak_exponent",
        title="Exponent of the leak: near 1 porous cloth, near one half holes and cracks",
        unit="count",
        formula="power law of flow and suction, from the times to half and fully open",
        source=BALANCE,
        wants=(*time_wants(inspection, "time_to_half", WHOLE_HOLD), *suction_wants(inspection)),
    )
    if half is None or full is None or suctions is None:
        return blank
    try:
        exponent = leak_exponent(half, full, *suctions)
    except ValueError as error:
        return replace(blank, wants=(f"readings that agree ({error})",))
    return replace(
        blank,
        value=exponent.value,
        sd=exponent.sd,
        inputs=(*shown("half open", half.value, "s"), *shown("fully open", full.value, "s")),
        says=_sentence(what_exponent_suggests(exponent).statement),
    )


# --- pumping


def _strokes_expected(inspection: Inspection) -> Measurement:
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
    inputs = (*_volume_and_hold(volume, hold), *sizes_shown(inspection, "exhauster"))
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


def _strokes_needed(inspection: Inspection) -> Measurement:
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
            *_volume_and_hold(volume, hold),
            *shown("lowest note lasts", note.value, "s"),
            *sizes_shown(inspection, "exhauster"),
        ),
        says=_sentence(played.statement),
    )


# --- springs


def _reservoir_board_m(inspection: Inspection) -> dict[str, float | None]:
    """Length and width of the reservoir board, by fact id [m]."""
    facts = ("reservoir_length", "reservoir_width")
    return {fact: inspection.number(fact, "m") for fact in facts}


def _spring_suction(inspection: Inspection) -> Measurement:
    force, board = inspection.number("spring_force", "N"), _reservoir_board_m(inspection)
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


def _spring_force(inspection: Inspection) -> Measurement:
    board = _reservoir_board_m(inspection)
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


# --- figures


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """How the reservoir opens again, compared with a good one."""
    hold = seconds(inspection, WHOLE_HOLD)
    if "suction" not in inspection.tags or hold is None:
        return []
    suctions = suctions_pa(inspection)
    good_s = inspection.number(GOOD_HOLD, "s") or GOOD_HOLD_S
    note = (
        "Computed with the suction falling as the springs relax."
        if suctions
        else "Computed for constant suction: its change was not measured."
    )
    return [
        Figure(
            "leak_down",
            "How far the reservoir has opened, no key held",
            "time, s",
            "opening, % of the full travel",
            (
                Series("measured", _opening(hold.value, suctions)),
                Series(f"good ({good_s:g} s)", _opening(good_s, suctions)),
            ),
            (note,),
            says=f"It opens fully within {hold.value:.0f} s; a good one takes {GOOD_HOLD_S:g} s "
            "or more.",
        )
    ]


def _opening(
    hold_s: float, suctions: tuple[Measured, Measured] | None
) -> tuple[tuple[float, float], ...]:
    """Times [s] at which each tenth of the travel [%] is reached, for leaks through holes.

    The time goes with the fall of the root of the suction: the volume balance of
    :func:`~assess_pneumatics.leakage.effective_suction_pa` (derived).
    """
    start, end = (math.sqrt(pa.value) for pa in suctions) if suctions else (1.0, 1.0)
    if start == end:
        return tuple((hold_s * n / 10, 10.0 * n) for n in range(11))
    roots = [math.sqrt(start**2 - (start**2 - end**2) * n / 10) for n in range(11)]
    return tuple(
        (hold_s * (start - root) / (start - end), 10.0 * n) for n, root in enumerate(roots)
    )
