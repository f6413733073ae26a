"""What an inspection's numbers say of the wind: volume, leaks, pumping, and what to cut.

Reading errors are estimates from memory: a second on the stopwatch, a tenth of an inch on
the gauge, 5 mm on the tape.
"""

from __future__ import annotations

from assess import Inspection, Measurement, Sheet
from assess_pneumatics.air import air_density_kg_m3, inches_water_pa
from assess_pneumatics.bellows import Boards, Piece, cloth_piece, hinge_piece, lay_out
from assess_pneumatics.leakage import hole_from_hold, mean_flow_m3_s, reservoir_volume_m3
from assess_pneumatics.measured import Measured, propagate
from assess_pneumatics.pumping import judge_playing, reed_flow_m3_s, stroke_m3
from assess_pneumatics.tracing import NAMES, HoldTests, LeakPath, predict_hold, trace_leaks

TAPE_SD_M = 0.005
STOPWATCH_SD_S = 1.0
GAUGE_SD_PA = 25.0
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
    ]


def _metres(inspection: Inspection, fact: str) -> float | None:
    return inspection.number(fact, "m", "mm")


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
        air_density_kg_m3(0.0, warm),
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
    return [_path_shown(p.path, p, (), holds) for p in trace_leaks(volume, tests)]


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
        wants=() if flow else (wants or HOLD_TESTS[path]),
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
    laid = lay_out(cloth, ROLL_WIDTH_M)
    return [
        Sheet(
            "cutting_list",
            title,
            ("Piece", "Number", "Length, mm", "Width, mm", "Area, m2"),
            tuple(_piece_row(p) for p in (*cloth, *hinges)),
            (
                f"Cloth off a roll of {1000 * ROLL_WIDTH_M:.0f} mm: {laid.length_m:.2f} m, laid in "
                f"bands across it ({100 * laid.used_share:.0f} % of it is used).",
                "Widths are the full opening with lap, fold over and trim at both boards; cut "
                "oversize, trim after gluing, and measure the openings again before the old "
                "cloth is off.",
                "Springs under load: unload them before any cloth is cut, and ask a colleague "
                "who has taken such springs down.",
            ),
        )
    ]


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
