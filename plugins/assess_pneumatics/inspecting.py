"""What an inspection's numbers say of the wind: volume, leaks, pumping, and what to cut.

Reading errors are estimates from memory: a second on the stopwatch, a tenth of an inch on
the gauge, 5 mm on the tape.
"""

from __future__ import annotations

from assess import Figure, Inspection, Measurement, Quantity, Series, Sheet, hookimpl
from assess_pneumatics.air import air_density_kg_m3, inches_water_pa
from assess_pneumatics.bellows import (
    Boards,
    Piece,
    cloth_piece,
    hinge_piece,
    lay_out,
    strap_piece,
    valve_piece,
)
from assess_pneumatics.leakage import (
    HOLE_EXPONENT,
    hole_from_hold,
    log_fall,
    mean_flow_m3_s,
    reservoir_volume_m3,
    spring_suction_pa,
    time_to_fall,
)
from assess_pneumatics.leakkind import leak_exponent, what_exponent_suggests
from assess_pneumatics.measured import Measured, propagate
from assess_pneumatics.pumping import judge_playing, reed_flow_m3_s, stroke_m3
from assess_pneumatics.tracing import NAMES, HoldTests, LeakPath, predict_hold, trace_leaks

TAPE_SD_M = 0.005
STOPWATCH_SD_S = 1.0
GAUGE_SD_PA = 25.0
YARD_M, FOOT_M = 0.9144, 0.3048
GOOD_HOLD_S = 90.0
CONSTANT = "As if the suction stayed the same: its change was not read."
ROLL_WIDTH_M = 54 * 0.0254
"""Usual width of bellows cloth, 54 in (common practice)."""

VOLUME = "geometry of a wedge: half of length x depth x opening"
HOLD_TESTS = {
    "lower_action": ("pneumatics.lower_action_hold",),
    "joint_and_pan": ("pneumatics.whole_hold", "pneumatics.lower_action_hold"),
    "pallets": ("pneumatics.mutes_hold", "pneumatics.whole_hold"),
    "joint_pan_and_pallets": ("pneumatics.mutes_hold", "pneumatics.lower_action_hold"),
    "mutes": ("pneumatics.chord_hold", "pneumatics.whole_hold"),
}
"""The two tests whose difference shows each way of leaking."""
BALANCE = "volume balance: what leaks in during the hold time fills the reservoir"


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """Everything that can be computed of the wind of a suction instrument, in order."""
    if "suction" not in inspection.tags:
        return []
    volume = _volume(inspection)
    return [
        _volume_shown(inspection, volume),
        _flow(inspection, volume),
        _hole(inspection, volume),
        *_paths(inspection, volume),
        *_predictions(inspection),
        _pumping(inspection, volume),
        _kind(inspection),
        _spring(inspection),
    ]


def _metres(inspection: Inspection, fact: str) -> float | None:
    return inspection.number(fact, "m")


def _hold(inspection: Inspection, name: str) -> Measured | None:
    seconds = inspection.values.get(f"pneumatics.{name}")
    return Measured(seconds, STOPWATCH_SD_S) if seconds else None


def _sizes(inspection: Inspection, part: str) -> dict[str, float | None]:
    return {
        f"{part}_{size}": _metres(inspection, f"{part}_{size}")
        for size in ("length", "width", "opening")
    }


def _missing(named: dict[str, float | Measured | None]) -> tuple[str, ...]:
    return tuple(name for name, value in named.items() if value is None)


def _millimetres(sizes: dict[str, float | None]) -> tuple[tuple[str, str], ...]:
    return tuple((n, f"{1000 * v:.0f} mm") for n, v in sizes.items() if v is not None)


def _volume(inspection: Inspection) -> Measured | None:
    sizes = list(_sizes(inspection, "reservoir").values())
    if any(s is None for s in sizes):
        return None
    return propagate(reservoir_volume_m3, *(Measured(s, TAPE_SD_M) for s in sizes if s))


def _volume_shown(inspection: Inspection, volume: Measured | None) -> Measurement:
    sizes = _sizes(inspection, "reservoir")
    return Measurement(
        id="reservoir_volume",
        title="Air that goes into the reservoir between closed and open",
        unit="L",
        formula=VOLUME,
        source="geometry",
        value=volume.value * 1000 if volume else None,
        sd=volume.sd * 1000 if volume else None,
        inputs=_millimetres(sizes),
        says="The same air comes in through leaks and reeds each time it opens.",
        wants=_missing(dict(sizes)),
    )


def _flow(inspection: Inspection, volume: Measured | None) -> Measurement:
    hold = _hold(inspection, "whole_hold")
    flow = propagate(mean_flow_m3_s, volume, hold) if volume and hold else None
    return Measurement(
        id="leak_flow",
        title="Mean leakage of the whole instrument, stops in, no key held",
        unit="L/s",
        formula="volume over hold time",
        source=BALANCE,
        value=flow.value * 1000 if flow else None,
        sd=flow.sd * 1000 if flow else None,
        inputs=_seen(volume, hold),
        says="It has to be pumped away before any reed gets wind.",
        wants=_missing({"reservoir volume": volume, "pneumatics.whole_hold": hold}),
    )


def _seen(volume: Measured | None, hold: Measured | None) -> tuple[tuple[str, str], ...]:
    inputs = []
    if volume:
        inputs.append(("volume", f"{1000 * volume.value:.1f} L"))
    if hold:
        inputs.append(("whole_hold", f"{hold.value:g} s"))
    return tuple(inputs)


def _hole(inspection: Inspection, volume: Measured | None) -> Measurement:
    hold = _hold(inspection, "whole_hold")
    half = inspection.values.get("pneumatics.suction_half")
    spread = inspection.values.get("pneumatics.suction_spread", 0.0)
    title = "One round hole that would leak as much as the whole instrument"
    formula = "flow through a sharp-edged hole, at the mean suction while it opens"
    source = "Bernoulli's equation, discharge coefficient 0.61 (common practice)"
    wants = _missing({"reservoir volume": volume, "pneumatics.whole_hold": hold,
                      "pneumatics.suction_half": half})  # fmt: skip
    if volume is None or hold is None or half is None or half <= spread / 2:
        return Measurement("leak_hole", title, "mm", formula, source, wants=wants or ("suction",))
    shut, slack = inches_water_pa(half + spread / 2), inches_water_pa(half - spread / 2)
    warm = inspection.values.get("casework.room_temperature", 20.0)
    hole = hole_from_hold(
        volume,
        hold,
        air_density_kg_m3(inspection.facts.get("altitude", 0.0), warm),
        Measured(shut, GAUGE_SD_PA),
        Measured(slack, GAUGE_SD_PA),
    )
    inputs = (
        *_seen(volume, hold),
        ("suction_half", f"{half:g} in"),
        ("suction_spread", f"{spread:g} in"),
    )
    return Measurement(
        "leak_hole",
        title,
        "mm",
        formula,
        source,
        hole.diameter_mm.value,
        hole.diameter_mm.sd,
        inputs,
        f"It {hole.statement}.",
    )


def _tests(inspection: Inspection) -> HoldTests:
    return HoldTests(
        lower_alone=_hold(inspection, "lower_action_hold"),
        stops_in=_hold(inspection, "whole_hold"),
        mutes_open=_hold(inspection, "mutes_hold"),
        keys_down=_hold(inspection, "chord_hold"),
    )


def _paths(inspection: Inspection, volume: Measured | None) -> list[Measurement]:
    if volume is None:
        wants = _missing(dict(_sizes(inspection, "reservoir")))
        return [_path_shown("lower_action", None, wants, ())]
    tests = _tests(inspection)
    times = {
        "lower action alone": tests.lower_alone,
        "stops in": tests.stops_in,
        "mutes open": tests.mutes_open,
        "keys down": tests.keys_down,
    }
    holds = tuple((name, f"{hold.value:g} s") for name, hold in times.items() if hold)
    return [
        _path_shown(
            part.path,
            part,
            tuple(test for test in HOLD_TESTS[part.path] if test not in inspection.values),
            holds,
        )
        for part in trace_leaks(volume, tests)
    ]


def _path_shown(
    path: str,
    found: LeakPath | None,
    wants: tuple[str, ...],
    holds: tuple[tuple[str, str], ...],
) -> Measurement:
    flow = found.flow_l_s if found else None
    named = {str(k): v for k, v in NAMES.items()}[path]
    return Measurement(
        id=f"leak_{path}",
        title=f"Leakage of: {named}",
        unit="L/s",
        formula="difference of the openings per second of two hold tests",
        source=BALANCE,
        value=flow.value if flow else None,
        sd=flow.sd if flow else None,
        inputs=holds if flow else (),
        says=f"{found.statement[:1].upper()}{found.statement[1:]}." if found and flow else "",
        wants=() if flow else wants,
    )


def _predictions(inspection: Inspection) -> list[Measurement]:
    tests = _tests(inspection)
    title = "Hold time of the whole instrument once the lower action is tight"
    formula = "one over the sum of the openings per second that are left"
    wants = _missing({"pneumatics.lower_action_hold": tests.lower_alone,
                      "pneumatics.whole_hold": tests.stops_in})  # fmt: skip
    if wants:
        return [Measurement("predicted_hold", title, "s", formula, BALANCE, wants=wants)]
    found = predict_hold(tests, "stops_in", {"lower_action"})
    hold = found.hold_s
    return [
        Measurement(
            "predicted_hold",
            title,
            "s",
            formula,
            BALANCE,
            hold.value if hold else found.at_least_s,
            hold.sd if hold else None,
            (("whole_hold", f"{tests.stops_in.value:g} s" if tests.stops_in else ""),
             ("lower_action_hold", f"{tests.lower_alone.value:g} s" if tests.lower_alone else "")),
            f"{found.statement[:1].upper()}{found.statement[1:]}.",
        )
    ]  # fmt: skip


def _pumping(inspection: Inspection, volume: Measured | None) -> Measurement:
    sizes = _sizes(inspection, "exhauster")
    hold, note = _hold(inspection, "whole_hold"), _hold(inspection, "deep_note")
    title = "Full strokes a minute that one note of the lowest stop needs, leaks included"
    formula = "reeds and leakage over what one stroke of an exhauster moves"
    wants = _missing({**sizes, "reservoir volume": volume, "pneumatics.whole_hold": hold,
                      "pneumatics.deep_note": note})  # fmt: skip
    lengths = [s for s in sizes.values() if s is not None]
    if wants or volume is None or hold is None or note is None or note.value >= hold.value:
        return Measurement("strokes_needed", title, "count", formula, BALANCE,
                           wants=wants or ("a deep_note shorter than whole_hold",))  # fmt: skip
    stroke = propagate(stroke_m3, *(Measured(s, TAPE_SD_M) for s in lengths))
    leak = propagate(mean_flow_m3_s, volume, hold)
    reeds = propagate(reed_flow_m3_s, volume, hold, note)
    played = judge_playing(stroke, leak, reeds)
    return Measurement(
        "strokes_needed",
        title,
        "count",
        formula,
        BALANCE,
        played.strokes_per_min.value,
        played.strokes_per_min.sd,
        (*_seen(volume, hold), ("deep_note", f"{note.value:g} s"), *_millimetres(sizes)),
        f"{played.statement[:1].upper()}{played.statement[1:]}.",
    )


def _suctions(inspection: Inspection) -> tuple[float, float] | None:
    """Suction closed and open [Pa], from the reading half way and its change."""
    half = inspection.values.get("pneumatics.suction_half")
    spread = inspection.values.get("pneumatics.suction_spread")
    if half is None or spread is None or half <= spread / 2:
        return None
    return inches_water_pa(half + spread / 2), inches_water_pa(half - spread / 2)


def _kind(inspection: Inspection) -> Measurement:
    half_s, full = inspection.facts.get("time_to_half"), _hold(inspection, "whole_hold")
    suctions = _suctions(inspection)
    title = "Exponent of the leak: near 1 porous cloth, near one half holes and cracks"
    formula = "power law of flow and suction, from the times to half and fully open"
    both = suctions[0] if suctions else None
    wants = _missing(
        {
            "time_to_half": half_s,
            "pneumatics.whole_hold": full,
            "pneumatics.suction_half and suction_spread": both,
        }
    )
    if half_s is None or full is None or suctions is None:
        return Measurement("leak_exponent", title, "count", formula, BALANCE, wants=wants)
    readings = [Measured(p, GAUGE_SD_PA) for p in suctions]
    try:
        exponent = leak_exponent(Measured(half_s, STOPWATCH_SD_S), full, *readings)
    except ValueError as error:
        return Measurement("leak_exponent", title, "count", formula, BALANCE, wants=(str(error),))
    kind = what_exponent_suggests(exponent)
    return Measurement(
        "leak_exponent",
        title,
        "count",
        formula,
        BALANCE,
        exponent.value,
        exponent.sd,
        (("time_to_half", f"{half_s:g} s"), ("whole_hold", f"{full.value:g} s")),
        f"{kind.statement[:1].upper()}{kind.statement[1:]}.",
    )


def _spring(inspection: Inspection) -> Measurement:
    force = inspection.facts.get("spring_force")
    length, width = (_metres(inspection, f"reservoir_{s}") for s in ("length", "width"))
    title = "Suction that the reservoir springs should make"
    wants = _missing({"spring_force": force, "reservoir_length": length, "reservoir_width": width})
    if force is None or length is None or width is None:
        return Measurement("spring_suction", title, "inH2O", "moments about the hinge", "statics",
                           wants=wants)  # fmt: skip
    pascals = spring_suction_pa(force, length * width)
    return Measurement(
        "spring_suction",
        title,
        "inH2O",
        "moments about the hinge: twice the force at the free edge over the area of the board",
        "statics",
        pascals / inches_water_pa(1.0),
        None,
        (("spring_force", f"{force:g} N"), ("board", f"{length:.3f} x {width:.3f} m")),
        "Well above what the gauge reads: the springs bind or bite elsewhere, or the gauge leaks.",
    )


@hookimpl
def quantities(inspection: Inspection) -> list[Quantity]:
    """Bellows cloth and hinge strip from the boards, in the units they are sold in."""
    if "suction" not in inspection.tags:
        return []
    found = []
    for part, repair, hinge, count in (
        ("reservoir", "recover_reservoir", "renew_reservoir_hinge", 1),
        ("exhauster", "recover_exhausters", "renew_exhauster_hinges", 2),
    ):
        sizes = list(_sizes(inspection, part).values())
        if any(size is None for size in sizes):
            continue
        boards = _boards(part, sizes, count)
        cloth_m = lay_out([cloth_piece(boards)], ROLL_WIDTH_M).length_m
        strip = hinge_piece(boards)
        says = f"from the boards of the {part}"
        found += [
            Quantity(repair, "bellows_cloth", cloth_m / YARD_M, says),
            Quantity(hinge, "hinge_cloth", strip.length_m * strip.count / FOOT_M, says),
        ]
    return found


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """How the reservoir opens again, against what it should do."""
    hold = _hold(inspection, "whole_hold")
    if "suction" not in inspection.tags or hold is None:
        return []
    suctions = _suctions(inspection)
    note = "With the suction falling as the springs open it." if suctions else CONSTANT
    return [
        Figure(
            "leak_down",
            "How far the reservoir has opened, no key held",
            "time, s",
            "opening, % of the full travel",
            (
                Series("measured", _opening(hold.value, suctions)),
                Series(f"good ({GOOD_HOLD_S:g} s)", _opening(GOOD_HOLD_S, suctions)),
            ),
            (note,),
        )
    ]


def _opening(
    hold_s: float, suctions: tuple[float, float] | None
) -> tuple[tuple[float, float], ...]:
    """Times at which each tenth of the travel is reached, for leaks through holes."""
    shut, slack = suctions or (1.0, 1.0)
    if shut == slack:
        return tuple((hold_s * n / 10, 10.0 * n) for n in range(11))
    whole = time_to_fall(HOLE_EXPONENT, log_fall(shut, slack))
    reached = [shut - (shut - slack) * n / 10 for n in range(11)]
    shares = [time_to_fall(HOLE_EXPONENT, log_fall(shut, p)) / whole for p in reached]
    return tuple((hold_s * share, 10.0 * n) for n, share in enumerate(shares))


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """The list of what to cut for reservoir and exhausters."""
    if "suction" not in inspection.tags:
        return []
    reservoir, exhauster = _sizes(inspection, "reservoir"), _sizes(inspection, "exhauster")
    title = "What to cut for reservoir and exhausters"
    wants = _missing({**reservoir, **exhauster})
    if wants:
        return [Sheet("cutting_list", title, wants=wants)]
    boards = [
        _boards("reservoir", list(reservoir.values()), 1),
        _boards("exhauster", list(exhauster.values()), 2),
    ]
    cloth = [cloth_piece(b) for b in boards]
    hinges = [hinge_piece(b) for b in boards]
    soft = [*_flaps(inspection), *_straps(inspection)]
    laid = lay_out(cloth, ROLL_WIDTH_M)
    return [
        Sheet(
            "cutting_list",
            title,
            ("Piece", "Number", "Length, mm", "Width, mm", "Area, m2"),
            tuple(_piece_row(p) for p in (*cloth, *hinges, *soft)),
            (
                f"Cloth off a roll of {1000 * ROLL_WIDTH_M:.0f} mm: {laid.length_m:.2f} m, laid in "
                f"bands across it ({100 * laid.used_share:.0f} % of it is used).",
                "Widths are the full opening with lap, fold over and trim at both boards; cut "
                "oversize, trim after gluing, and measure the openings again before the old "
                "cloth is off.",
                "Flaps want port_length and port_width, straps strap_length and strap_width; allow "
                "a third more skin than the flaps measure.",
                "Springs under load: unload them before any cloth is cut, and ask a colleague "
                "who has taken such springs down.",
            ),
        )
    ]


def _flaps(inspection: Inspection) -> list[Piece]:
    length, width = (_metres(inspection, f"port_{s}") for s in ("length", "width"))
    if length is None or width is None:
        return []
    return [valve_piece(f"{side} valve", length, width, 2) for side in ("inner", "outer")]


def _straps(inspection: Inspection) -> list[Piece]:
    length, width = (_metres(inspection, f"strap_{s}") for s in ("length", "width"))
    return [] if length is None or width is None else [strap_piece(length, width)]


def _boards(name: str, sizes: list[float | None], count: int) -> Boards:
    length, depth, opening = (size or 0.0 for size in sizes)
    return Boards(name, length, depth, opening, count=count)


def _piece_row(piece: Piece) -> tuple[str, ...]:
    return (
        piece.name,
        str(piece.count),
        f"{1000 * piece.length_m:.0f}",
        f"{1000 * piece.width_m:.0f}",
        f"{piece.area_m2:.3f}",
    )
