"""What an inspection gives the formulas of the wind: times, suctions and sizes of boards.

Reading errors are estimates from memory: a second on the stopwatch, a tenth of an inch on
the gauge, 5 mm on the tape.
"""

from __future__ import annotations

from assess import Inspection
from assess.plugin.api import missing
from assess_pneumatics.leakage import wedge_volume_m3
from assess_pneumatics.tracing import HoldTests, Test
from assess_pneumatics.uncertainty import Measured, propagate

TAPE_SD_M = 0.005
STOPWATCH_SD_S = 1.0
GAUGE_SD_PA = 25.0

WHOLE_HOLD = "pneumatics.whole_hold"
WHOLE_FALL = "pneumatics.whole_fall"
LOWER_HOLD = "pneumatics.lower_action_hold"
DEEP_NOTE = "pneumatics.deep_note"
SUCTION_HALF = "pneumatics.suction_half"
SUCTION_SPREAD = "pneumatics.suction_spread"
PRESSURE_HALF = "pneumatics.pressure_half"
GOOD_HOLD = "good_hold"
"""The fact that says how long a good reservoir of this size holds."""
HOLDS: dict[Test, str] = {
    "lower_alone": LOWER_HOLD,
    "stops_in": WHOLE_HOLD,
    "mutes_open": "pneumatics.mutes_hold",
    "keys_down": "pneumatics.chord_hold",
}
"""The criterion that holds the time of each hold test."""

BALANCE = "volume balance: leaks fill the reservoir within the hold time"
"""The source of what is computed from volume and hold time."""

Shown = tuple[tuple[str, str], ...]
"""Inputs of a measurement as they are shown: name and value."""


def sizes_m(inspection: Inspection, part: str) -> dict[str, float | None]:
    """Length, width and opening of the boards of a part, by fact id [m].

    Args:
        inspection: what is known of the instrument.
        part: "reservoir" or "exhauster".
    """
    facts = (f"{part}_{size}" for size in ("length", "width", "opening"))
    return {fact: inspection.number(fact, "m") for fact in facts}


def size_wants(inspection: Inspection, part: str) -> tuple[str, ...]:
    """What is missing to know the volume of a part."""
    sizes = sizes_m(inspection, part)
    _, width, opening = sizes.values()
    if width is not None and opening is not None and opening >= 2 * width:
        return (f"{part}_opening below twice {part}_width",)
    return missing(sizes)


def volume_m3(inspection: Inspection, part: str) -> Measured | None:
    """Air in a part between closed and open [m3]; None while a size is missing."""
    if size_wants(inspection, part):
        return None
    sizes = sizes_m(inspection, part).values()
    return propagate(wedge_volume_m3, *(Measured(s, TAPE_SD_M) for s in sizes if s is not None))


def reservoir_board_m(inspection: Inspection) -> dict[str, float | None]:
    """Length and width of the reservoir board, by fact id [m]."""
    facts = ("reservoir_length", "reservoir_width")
    return {fact: inspection.number(fact, "m") for fact in facts}


def seconds(inspection: Inspection, name: str) -> Measured | None:
    """A time read with the stopwatch [s]; None if it is not known or zero."""
    time_s = inspection.number(name, "s")
    return Measured(time_s, STOPWATCH_SD_S) if time_s else None


def time_wants(inspection: Inspection, *names: str) -> tuple[str, ...]:
    """The times among these names that are missing."""
    return missing({name: seconds(inspection, name) for name in names})


def hold_tests(inspection: Inspection) -> HoldTests:
    """The hold tests that were made [s]."""
    times = {test: seconds(inspection, name) for test, name in HOLDS.items()}
    return {test: hold for test, hold in times.items() if hold is not None}


def suctions_pa(inspection: Inspection) -> tuple[Measured, Measured] | None:
    """Suction closed and open [Pa], from the reading half way and its change."""
    if suction_wants(inspection):
        return None
    return around_half_pa(inspection)


def around_half_pa(inspection: Inspection) -> tuple[Measured, Measured]:
    """Suction closed and open [Pa]; a change that was not read counts as none.

    Half of the change either side of the middle: derived, for a suction that falls evenly.
    """
    half = inspection.number(SUCTION_HALF, "Pa") or 0.0
    spread = inspection.number(SUCTION_SPREAD, "Pa") or 0.0
    return Measured(half + spread / 2, GAUGE_SD_PA), Measured(half - spread / 2, GAUGE_SD_PA)


def suction_wants(inspection: Inspection, *, with_change: bool = True) -> tuple[str, ...]:
    """What is missing to know the suction closed and open.

    Args:
        inspection: what is known of the instrument.
        with_change: whether the change must have been read.
    """
    half = inspection.number(SUCTION_HALF, "Pa")
    spread = inspection.number(SUCTION_SPREAD, "Pa")
    wanted = {SUCTION_HALF: half} | ({SUCTION_SPREAD: spread} if with_change else {})
    if half is not None and half <= (spread or 0.0) / 2:
        return (f"{SUCTION_HALF} above half of {SUCTION_SPREAD}",)
    return missing(wanted)


def shown(name: str, value: float, unit: str) -> Shown:
    """One input as it is shown.

    >>> shown("hold time", 60.0, "s")
    (('hold time', '60 s'),)
    """
    return ((name, f"{value:g} {unit}"),)


def sizes_shown(inspection: Inspection, part: str) -> Shown:
    """The known sizes of the boards of a part as they are shown."""
    return tuple(
        (fact.replace("_", " "), f"{1000 * size:.0f} mm")
        for fact, size in sizes_m(inspection, part).items()
        if size is not None
    )


def volume_and_hold_shown(volume: Measured, hold: Measured) -> Shown:
    """The volume of the reservoir [m3] and the hold time [s] as they are shown."""
    return (
        ("reservoir volume", f"{1000 * volume.value:.1f} L"),
        *shown("hold time", hold.value, "s"),
    )
