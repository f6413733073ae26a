"""Values computed from an inspection: moisture of the wood, its movement, and waiting."""

from __future__ import annotations

from assess import Inspection, Measurement
from assess_casework.acclimatise import wait_before_gluing
from assess_casework.carrying import lifting_index
from assess_casework.moisture import (
    HIGHEST_TEMP_C,
    LOWEST_TEMP_C,
    equilibrium_moisture_percent,
    humidity_for_moisture_percent,
)
from assess_casework.movement import (
    SMALLEST_CHANGE_MM,
    Board,
    CrackForecast,
    CrackOutcome,
    board_movement,
    forecast_crack,
)
from assess_casework.readings import (
    FUTURE_HUMIDITY,
    LIVED_IN_C,
    MOISTURE_NOW,
    ROOM_HUMIDITY,
    ROOM_TEMPERATURE,
    change_wants,
    moisture_change,
    panel_wants,
    room_temperature,
    widest_panel,
)
from assess_casework.woods import PUBLISHED, Wood

HANDBOOK = (
    "Wood Handbook (US Forest Products Laboratory), equilibrium moisture and dimensional change"
)
DIFFUSION = "from memory: diffusion in wood, right within a factor of two"

BALANCE_SD_PERCENT = 1.0
"""How far a real board differs from the average of woods, points of moisture (from memory)."""
CHANGE_SD_PERCENT = 1.5
"""The same, together with the error of a pin meter (from memory)."""
CRACK_ADVICE = {
    CrackOutcome.CLOSES: "Do not fill a crack that will close, or the wood is crushed.",
    CrackOutcome.NARROWS: "Do not fill it before the wood has acclimatised.",
    CrackOutcome.UNCHANGED: "",
    CrackOutcome.OPENS: "Do not fill or glue it before the wood has acclimatised.",
}


def measure(inspection: Inspection) -> list[Measurement]:
    """Moisture here and where it will stand, what the change does, and how to carry it."""
    return [
        _room_balance(inspection),
        _future_balance(inspection),
        _steady_humidity(inspection),
        _moisture_step(inspection),
        _panel_change(inspection),
        _crack_after(inspection),
        _gluing_wait(inspection),
        lifting_index(inspection),
    ]


# Moisture


def _room_balance(inspection: Inspection) -> Measurement:
    humidity = inspection.number(ROOM_HUMIDITY, "%")
    degrees, named = room_temperature(inspection)
    wants: tuple[str, ...] = () if humidity is not None else (ROOM_HUMIDITY,)
    if not LOWEST_TEMP_C <= degrees <= HIGHEST_TEMP_C:
        wants += (f"{ROOM_TEMPERATURE} of {LOWEST_TEMP_C:g} to {HIGHEST_TEMP_C:g} degC",)
    return _balance("room_balance", "where it stands", humidity, degrees, named, wants)


def _future_balance(inspection: Inspection) -> Measurement:
    humidity = inspection.number(FUTURE_HUMIDITY, "%")
    named = f"{LIVED_IN_C:g} degC (assumed)"
    wants = () if humidity is not None else (FUTURE_HUMIDITY,)
    return _balance("future_balance", "where it will stand", humidity, LIVED_IN_C, named, wants)


def _balance(
    name: str,
    where: str,
    humidity: float | None,
    degrees: float,
    degrees_named: str,
    wants: tuple[str, ...],
) -> Measurement:
    title = f"Moisture content that bare wood reaches {where}"
    formula = "Hailwood-Horrobin equation of equilibrium moisture"
    if wants or humidity is None:
        return Measurement(name, title, "%", formula, HANDBOOK, wants=wants)
    return Measurement(
        name,
        title,
        "%",
        formula,
        HANDBOOK,
        equilibrium_moisture_percent(degrees, humidity),
        BALANCE_SD_PERCENT,
        (("relative humidity", f"{humidity:g} %"), ("temperature", degrees_named)),
        "Wood far above this will shrink, and wood far below it will swell, until it gets there.",
    )


def _steady_humidity(inspection: Inspection) -> Measurement:
    title = "Relative humidity in which the wood would stay as it is"
    formula = "Hailwood-Horrobin equation of equilibrium moisture, solved for the humidity"
    moisture = inspection.number(MOISTURE_NOW, "%")
    degrees, named = room_temperature(inspection)
    if moisture is None or not LOWEST_TEMP_C <= degrees <= HIGHEST_TEMP_C:
        wants = (MOISTURE_NOW,) if moisture is None else (ROOM_TEMPERATURE,)
        return Measurement("steady_humidity", title, "%", formula, HANDBOOK, wants=wants)
    wettest = equilibrium_moisture_percent(degrees, 100.0)
    low, value, high = (
        humidity_for_moisture_percent(degrees, min(max(mc, 0.0), wettest))
        for mc in (moisture - CHANGE_SD_PERCENT, moisture, moisture + CHANGE_SD_PERCENT)
    )
    return Measurement(
        "steady_humidity",
        title,
        "%",
        formula,
        HANDBOOK,
        value,
        (high - low) / 2,
        (("wood moisture", f"{moisture:g} %"), ("temperature", named)),
        "Air alone does not make wood so wet: look for water."
        if moisture > wettest
        else "In drier air the wood will shrink, in damper air it will swell.",
    )


def _moisture_step(inspection: Inspection) -> Measurement:
    title = "Change in wood moisture from now to where it will stand"
    formula = "difference of moisture content, without its sign"
    change = moisture_change(inspection)
    if change is None:
        wants = change_wants(inspection)
        return Measurement("moisture_step", title, "%", formula, HANDBOOK, wants=wants)
    now, later = change
    way = "dry out and shrink" if later < now else "take up damp and swell"
    return Measurement(
        "moisture_step",
        title,
        "%",
        formula,
        HANDBOOK,
        abs(later - now),
        CHANGE_SD_PERCENT,
        (("wood moisture", f"{now:g} %"), ("where it will stand", f"{later:.3g} %")),
        f"From {now:g} to {later:.3g} %: its boards will {way}.",
    )


# Movement


def _movement_source(wood: Wood) -> str:
    return HANDBOOK if wood.status == PUBLISHED else f"{HANDBOOK}; {wood.usual_name}: {wood.status}"


def _panel_inputs(board: Board, change: tuple[float, float]) -> tuple[tuple[str, str], ...]:
    now, later = change
    return (
        ("panel width", f"{board.width_mm:g} mm"),
        ("wood", board.wood.usual_name),
        ("moisture", f"{now:g} to {later:.3g} %"),
    )


def _panel_change(inspection: Inspection) -> Measurement:
    title = "Change in width of the widest flat-sawn panel, across its grain"
    board, change = widest_panel(inspection), moisture_change(inspection)
    if board is None or change is None:
        wants = panel_wants(inspection)
        formula = "dimensional change coefficient"
        return Measurement("panel_change", title, "mm", formula, HANDBOOK, wants=wants)
    moved = board_movement(board, *change)
    way = (
        "narrower: cracks and joints open"
        if moved.change_mm < 0
        else "wider: cracks close, and it may bind"
    )
    return Measurement(
        "panel_change",
        title,
        "mm",
        moved.formula,
        _movement_source(board.wood),
        moved.change_mm,
        moved.spread_mm,
        _panel_inputs(board, change),
        f"It becomes {abs(moved.change_mm):.3g} mm {way}.",
    )


def _crack_after(inspection: Inspection) -> Measurement:
    title = "Widest crack or open joint of that panel, once the wood has acclimatised"
    formula = "dimensional change of a panel held at its edges"
    gap, board = inspection.number("crack_gap", "mm"), widest_panel(inspection)
    change = moisture_change(inspection)
    if gap is None or board is None or change is None:
        wants = (() if gap is not None else ("crack_gap",)) + panel_wants(inspection)
        return Measurement("crack_after", title, "mm", formula, HANDBOOK, wants=wants)
    forecast = forecast_crack(board, gap, *change)
    return Measurement(
        "crack_after",
        title,
        "mm",
        formula,
        _movement_source(board.wood),
        forecast.gap_after_mm,
        forecast.spread_mm,
        (("crack now", f"{gap:g} mm"), *_panel_inputs(board, change)),
        _crack_says(gap, forecast),
    )


def _crack_says(gap: float, forecast: CrackForecast) -> str:
    said = [f"It {forecast.outcome.value}: from {gap:g} to {forecast.gap_after_mm:.3g} mm."]
    if forecast.squeeze_mm >= SMALLEST_CHANGE_MM:
        said.append(f"The wood then still swells by {forecast.squeeze_mm:.2g} mm.")
    said.append(CRACK_ADVICE[forecast.outcome])
    return " ".join(filter(None, said))


def _gluing_wait(inspection: Inspection) -> Measurement:
    title = "How long its boards should stand in the new air before they are glued"
    formula = "first-order diffusion through the thickness"
    thickness, change = inspection.number("panel_thickness", "mm"), moisture_change(inspection)
    if thickness is None or change is None:
        missing = () if thickness is not None else ("panel_thickness",)
        wants = missing + change_wants(inspection)
        return Measurement("gluing_wait", title, "days", formula, DIFFUSION, wants=wants)
    wait = wait_before_gluing(thickness, *change)
    now, later = change
    return Measurement(
        "gluing_wait",
        title,
        "days",
        formula,
        DIFFUSION,
        wait.likely_days,
        (wait.slow_days - wait.fast_days) / 2,
        (("thickness", f"{thickness:g} mm"), ("moisture", f"{now:g} to {later:.3g} %")),
        f"Between {wait.fast_days:.0f} and {wait.slow_days:.0f} days. {wait.advice}",
    )
