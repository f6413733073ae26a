"""Values computed from an inspection: moisture of the wood, its movement, waiting, carrying."""

from __future__ import annotations

import math

from assess import Figure, Inspection, Measurement, Series, Sheet
from assess_casework.acclimatise import wait_before_gluing
from assess_casework.handling import (
    GUIDELINE_WOMEN_KG,
    HANDLING_CAUTION,
    MovingPlan,
    lower_bearer_share,
    person_limit_kg,
    plan_moving,
    ways_on_stairs,
    ways_on_the_level,
)
from assess_casework.moisture import (
    FIBRE_SATURATION_PERCENT,
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
from assess_casework.woods import PUBLISHED, WOODS, Cut, Wood

HANDBOOK = (
    "Wood Handbook (US Forest Products Laboratory), equilibrium moisture and dimensional change"
)
LIFTING = "revised lifting equation (Waters, Putz-Anderson, Garg and Fine 1993; NIOSH 94-110)"
TEAMS = "HSE L23 and INDG143 (from memory)"
DIFFUSION = "from memory: diffusion in wood, right within a factor of two"

LIVED_IN_C = 20.0
"""Temperature of a lived-in room (common practice)."""
BALANCE_SD_PERCENT = 1.0
"""How far a real board differs from the average of woods, points of moisture (from memory)."""
CHANGE_SD_PERCENT = 1.5
"""The same, together with the error of a pin meter (from memory)."""
CASE_WOODS = {
    "walnut": WOODS["walnut, black"],
    "oak": WOODS["oak, white, commercial"],
    "cherry": WOODS["cherry, black"],
    "pine": WOODS["pine, eastern white"],
}
"""The woods that the feature ``case_wood`` offers."""

CRACK_ADVICE = {
    CrackOutcome.CLOSES: "Do not fill a crack that will close, or the wood is crushed.",
    CrackOutcome.NARROWS: "Do not fill it before the wood has acclimatised.",
    CrackOutcome.UNCHANGED: "",
    CrackOutcome.OPENS: "Do not fill or glue it before the wood has acclimatised.",
}

# Full ids of the criteria that are read.
MOISTURE_NOW = "casework.wood_moisture"
ROOM_HUMIDITY = "casework.room_humidity"
FUTURE_HUMIDITY = "casework.future_humidity"
ROOM_TEMPERATURE = "casework.room_temperature"
WINTER_HUMIDITY = "casework.winter_humidity"
HUMIDITY_SWING = "casework.humidity_swing"

MONTHS = 12
MOST_HUMIDITY = 95.0
"""Up to this relative humidity, %, the formula of moisture was compared with its table (Wood
Handbook, 2010, table 4-2)."""


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
        _lifting_index(inspection),
    ]


def figures(inspection: Inspection) -> list[Figure]:
    """Change in width of the widest panel: at each humidity of a room, and over the year."""
    board = _panel(inspection)
    if board is None:
        return []
    return [f for f in (_at_humidities(board, inspection), _over_year(board, inspection)) if f]


def _at_humidities(board: Board, inspection: Inspection) -> Figure | None:
    now = _moisture_now(inspection)
    if now is None:
        return None
    points = tuple(
        (float(percent), board_movement(board, now, _balanced(percent)).change_mm)
        for percent in range(20, 95, 5)
    )
    return Figure(
        "panel_movement",
        f"Change in width of {_panel_named(board)}, from its moisture now",
        "relative humidity of the room, %",
        "change of width, mm",
        (Series("change", points),),
        (f"At {LIVED_IN_C:g} °C, once the wood has acclimatised.",),
        says="In drier air the panel shrinks (below 0), in damper air it swells.",
    )


def _over_year(board: Board, inspection: Inspection) -> Figure | None:
    """The panel between the driest and the dampest weeks of its room, as an even wave."""
    driest = inspection.number(WINTER_HUMIDITY, "%")
    swing = inspection.number(HUMIDITY_SWING, "%")
    if driest is None or not swing or driest + swing > MOST_HUMIDITY:
        return None
    least = _balanced(driest)
    points = []
    for month in range(MONTHS + 1):
        humidity = driest + swing * (1 - math.cos(2 * math.pi * month / MONTHS)) / 2
        points.append((float(month), board_movement(board, least, _balanced(humidity)).change_mm))
    return Figure(
        "panel_year",
        f"Movement of {_panel_named(board)}, over the year",
        "months after the driest weeks",
        "wider than in the driest weeks, mm",
        (Series("wider", tuple(points)),),
        (
            f"From {driest:g} % relative humidity to {driest + swing:g} %, drawn as an even wave "
            f"at {LIVED_IN_C:g} °C. A thick or varnished board moves later, and less.",
        ),
        says=f"The panel is {max(y for _, y in points):.1f} mm wider in the dampest weeks than in "
        "the driest: it needs that much room.",
    )


def _balanced(humidity_percent: float) -> float:
    """Moisture content of wood at rest in a lived-in room, %."""
    return equilibrium_moisture_percent(LIVED_IN_C, humidity_percent)


def _panel_named(board: Board) -> str:
    return f"a flat-sawn {board.wood.usual_name} panel, {board.width_mm:g} mm"


def sheets(inspection: Inspection) -> list[Sheet]:
    """What teams of different sizes may lift and carry, on the level and on stairs."""
    title = "Ways to carry it, and what a team may lift"
    weight = inspection.number("weight_kg", "kg")
    if weight is None:
        return [Sheet("carrying", title, wants=("weight_kg",))]
    trained, other = person_limit_kg(), person_limit_kg(GUIDELINE_WOMEN_KG)
    share = lower_bearer_share()
    rows = [
        _way_row(where, *ways)
        for where, find_ways in (("Level", ways_on_the_level), ("Stairs", ways_on_stairs))
        for ways in zip(find_ways(weight, trained), find_ways(weight, other), strict=True)
    ]
    return [
        Sheet(
            "carrying",
            title,
            ("Way", "People", "Lifted, kg", "Limit A, kg", "Limit B, kg"),
            tuple(rows),
            (
                f"For {weight:g} kg. Lifted: the most that is lifted at once. On a dolly that is "
                "half of it, one end at a time; on stairs, "
                f"{100 * share:.0f} % of it is on those below.",
                f"Limit A: people used to lifting, {trained:.1f} kg each. Limit B: the lower "
                f"figure of the guide, for anyone not used to lifting, {other:.1f} kg each.",
                "If the weight lifted is above the limit, take parts off first, or call movers.",
                HANDLING_CAUTION,
                f"Source: {LIFTING}; {TEAMS}.",
            ),
        )
    ]


def _way_row(where: str, trained: MovingPlan, other: MovingPlan) -> tuple[str, ...]:
    return (
        f"{where}, {trained.means.value}",
        f"{trained.people}",
        f"{trained.lifted_kg:.0f}",
        f"{trained.limit_kg:.0f}",
        f"{other.limit_kg:.0f}",
    )


# Moisture


def _moisture_now(inspection: Inspection) -> float | None:
    """Measured moisture content of the wood, %, if wood still moves at it."""
    measured = inspection.number(MOISTURE_NOW, "%")
    return measured if measured is not None and measured <= FIBRE_SATURATION_PERCENT else None


def _moisture_next(inspection: Inspection) -> float | None:
    """Moisture content that the wood will reach where it will stand, %, if that is known."""
    humidity = inspection.number(FUTURE_HUMIDITY, "%")
    return None if humidity is None else equilibrium_moisture_percent(LIVED_IN_C, humidity)


def _moisture_change(inspection: Inspection) -> tuple[float, float] | None:
    """Moisture content now and later, %, if both are known."""
    now, later = _moisture_now(inspection), _moisture_next(inspection)
    return None if now is None or later is None else (now, later)


def _change_wants(inspection: Inspection) -> tuple[str, ...]:
    """What is missing to know the change of moisture."""
    wants = []
    if inspection.number(MOISTURE_NOW, "%") is None:
        wants.append(MOISTURE_NOW)
    elif _moisture_now(inspection) is None:
        wants.append(f"{MOISTURE_NOW} of at most {FIBRE_SATURATION_PERCENT:g} %")
    if inspection.number(FUTURE_HUMIDITY, "%") is None:
        wants.append(FUTURE_HUMIDITY)
    return tuple(wants)


def _room_temperature(inspection: Inspection) -> tuple[float, str]:
    """Temperature of the room, degC, and how to name it."""
    measured = inspection.number(ROOM_TEMPERATURE, "degC")
    if measured is None:
        return LIVED_IN_C, f"{LIVED_IN_C:g} degC (assumed)"
    return measured, f"{measured:g} degC"


def _room_balance(inspection: Inspection) -> Measurement:
    humidity = inspection.number(ROOM_HUMIDITY, "%")
    degrees, named = _room_temperature(inspection)
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
    degrees, named = _room_temperature(inspection)
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
    change = _moisture_change(inspection)
    if change is None:
        wants = _change_wants(inspection)
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


def _case_wood(inspection: Inspection) -> Wood | None:
    return next((CASE_WOODS[t] for t in sorted(inspection.tags & CASE_WOODS.keys())), None)


def _panel(inspection: Inspection) -> Board | None:
    """The widest flat-sawn panel, if its wood and width are known."""
    wood, width = _case_wood(inspection), inspection.number("panel_width", "mm")
    return None if wood is None or width is None else Board(wood, Cut.TANGENTIAL, width)


def _panel_wants(inspection: Inspection) -> tuple[str, ...]:
    """What is missing to know the panel and its change of moisture."""
    width = () if inspection.number("panel_width", "mm") is not None else ("panel_width",)
    wood = () if _case_wood(inspection) is not None else ("case_wood",)
    return width + wood + _change_wants(inspection)


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
    board, change = _panel(inspection), _moisture_change(inspection)
    if board is None or change is None:
        wants = _panel_wants(inspection)
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
    gap, board = inspection.number("crack_gap", "mm"), _panel(inspection)
    change = _moisture_change(inspection)
    if gap is None or board is None or change is None:
        wants = (() if gap is not None else ("crack_gap",)) + _panel_wants(inspection)
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
    thickness, change = inspection.number("panel_thickness", "mm"), _moisture_change(inspection)
    if thickness is None or change is None:
        missing = () if thickness is not None else ("panel_thickness",)
        wants = missing + _change_wants(inspection)
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


# Carrying


def _lifting_index(inspection: Inspection) -> Measurement:
    title = "Lifting index: what is lifted, divided by what the team may lift"
    formula = "weight lifted divided by the recommended limit of the team"
    weight = inspection.number("weight_kg", "kg")
    if weight is None:
        return Measurement("lifting_index", title, "count", formula, LIFTING, wants=("weight_kg",))
    stairs = int(inspection.number("stairs", "count") or 0)
    plan = plan_moving(weight, person_limit_kg(), stairs=stairs)
    return Measurement(
        "lifting_index",
        title,
        "count",
        formula,
        f"{LIFTING}; {TEAMS}",
        plan.lifting_index,
        None,
        (("weight", f"{weight:g} kg"), ("stairs", f"{stairs}")),
        f"{plan.means.value.capitalize()}: {plan.reason} {plan.caution}",
    )
