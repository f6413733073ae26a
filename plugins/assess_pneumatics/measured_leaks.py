"""What an inspection says of leaks: how much air comes in, on which path, and of what kind."""

from __future__ import annotations

from dataclasses import replace

from assess import Inspection, Measurement, sentence
from assess_pneumatics.air import INCH_WATER_PA, air_density_kg_m3
from assess_pneumatics.leak_kind import leak_exponent, what_exponent_suggests
from assess_pneumatics.leakage import (
    GOOD_HOLD_S,
    ORDINARY_SUCTION_PA,
    good_hold_s,
    hole_from_hold,
    mean_flow_m3_s,
    spring_suction_pa,
)
from assess_pneumatics.readings import (
    BALANCE,
    GOOD_HOLD,
    HOLDS,
    LOWER_HOLD,
    PRESSURE_HALF,
    SUCTION_HALF,
    SUCTION_SPREAD,
    WHOLE_HOLD,
    around_half_pa,
    hold_tests,
    reservoir_board_m,
    seconds,
    shown,
    size_wants,
    sizes_shown,
    suction_wants,
    suctions_pa,
    time_wants,
    volume_and_hold_shown,
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
from assess_pneumatics.uncertainty import propagate

USUAL_ROOM_C = 20.0
SAME_HOLD = 0.15
"""Good hold times that differ by less than this share mean the same (estimate from memory)."""


def reservoir_volume(inspection: Inspection) -> Measurement:
    """How much air the reservoir takes in between closed and open."""
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


def good_hold(inspection: Inspection) -> Measurement:
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


def judged_hold_s(inspection: Inspection) -> float:
    """The hold of a good reservoir by which hold times are judged here [s].

    What the job file states; else what follows from the size; else that of an ordinary one.
    """
    stated = inspection.number(GOOD_HOLD, "s") or GOOD_HOLD_S
    return stated if stated != GOOD_HOLD_S else good_hold(inspection).value or GOOD_HOLD_S


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
    force, board = inspection.number("spring_force", "N"), reservoir_board_m(inspection)
    length, width = board.values()
    if force and length and width and not pressure:
        return spring_suction_pa(force, length * width), "suction of the springs"
    return ORDINARY_SUCTION_PA, "usual reading"


def leak_flow(inspection: Inspection) -> Measurement:
    """How much the whole instrument leaks."""
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
        inputs=volume_and_hold_shown(volume, hold),
        says="Pumping must remove this air before any reed gets wind.",
    )


def leak_hole(inspection: Inspection) -> Measurement:
    """The leaks of the whole instrument as one hole."""
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
            *volume_and_hold_shown(volume, hold),
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


def leak_paths(inspection: Inspection) -> list[Measurement]:
    """How much leaks along each path that the hold tests tell apart."""
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
        says=sentence(part.statement),
    )


def predicted_hold(inspection: Inspection) -> Measurement:
    """How long the whole instrument will hold once the lower action is tight."""
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
        says=sentence(found.statement),
    )


def kind_of_leak(inspection: Inspection) -> Measurement:
    """Whether the leaks are porous cloth, or holes and cracks."""
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
        says=sentence(what_exponent_suggests(exponent).statement),
    )
