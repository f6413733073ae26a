"""What an inspection's numbers say of wood and weight: moisture, movement, waiting, carrying."""

from __future__ import annotations

from assess import Figure, Inspection, Measurement, Series, hookimpl
from assess_casework.acclimatise import wait_before_gluing
from assess_casework.handling import person_limit_kg, plan_moving
from assess_casework.moisture import equilibrium_moisture_percent
from assess_casework.movement import Board, Crack, board_movement, forecast_crack
from assess_casework.woods import Cut, find_wood

HANDBOOK = (
    "Wood Handbook (US Forest Products Laboratory), equilibrium moisture and dimensional change"
)
LIFTING = "revised lifting equation (Waters, Putz-Anderson, Garg and Fine 1993; NIOSH 94-110)"
LIVED_IN_C = 20.0
"""Warmth of a lived-in room (common practice)."""
CASE_WOODS = {
    "walnut": "black walnut",
    "oak": "white oak",
    "cherry": "black cherry",
    "pine": "eastern white pine",
}


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """Moisture where it stands and will stand, what that does, and how it is carried."""
    return [
        _balance(inspection, "room_humidity", "room_balance", "where it stands"),
        _balance(inspection, "future_humidity", "future_balance", "where it will stand"),
        _step(inspection),
        _movement(inspection),
        _crack(inspection),
        _waiting(inspection),
        _carrying(inspection),
    ]


def _value(inspection: Inspection, name: str) -> float | None:
    return inspection.values.get(f"casework.{name}")


def _temperature(inspection: Inspection, humidity: str) -> float:
    """Warmth that goes with a humidity; a room to come is supposed to be lived in."""
    if humidity == "future_humidity":
        return LIVED_IN_C
    return inspection.values.get("casework.room_temperature", LIVED_IN_C)


def _balanced(inspection: Inspection, humidity: str) -> float | None:
    percent, warm = _value(inspection, humidity), _temperature(inspection, humidity)
    if percent is None or not -20 <= warm <= 60:
        return None
    return equilibrium_moisture_percent(warm, percent)


def _balance(inspection: Inspection, humidity: str, name: str, where: str) -> Measurement:
    value = _balanced(inspection, humidity)
    known = humidity == "room_humidity" and "casework.room_temperature" in inspection.values
    warm = f"{_temperature(inspection, humidity):g} degC{'' if known else ' (supposed)'}"
    return Measurement(
        id=name,
        title=f"Moisture that bare wood comes to, {where}",
        unit="%",
        formula="equilibrium moisture of Hailwood and Horrobin",
        source=HANDBOOK,
        value=value,
        sd=1.0 if value is not None else None,
        inputs=(
            (humidity, f"{_value(inspection, humidity):g} %"),
            ("temperature", warm),
        )
        if value is not None
        else (),
        says="Wood that lies well above or below it will shrink or swell until it gets there.",
        wants=() if value is not None else (f"casework.{humidity}",),
    )


def _step_percent(inspection: Inspection) -> tuple[float, float] | None:
    now, then = _value(inspection, "wood_moisture"), _balanced(inspection, "future_humidity")
    if now is None or then is None or not (0 <= now <= 30 and 0 <= then <= 30):
        return None
    return now, then


def _step(inspection: Inspection) -> Measurement:
    step = _step_percent(inspection)
    title = "Change of the wood's moisture between now and where it will stand"
    if step is None:
        asked = ("wood_moisture", "future_humidity")
        wants = tuple(f"casework.{n}" for n in asked if _value(inspection, n) is None)
        return Measurement("moisture_step", title, "%", "difference", HANDBOOK, wants=wants)
    now, then = step
    way = "dry out and shrink" if then < now else "take up damp and swell"
    return Measurement(
        "moisture_step",
        title,
        "%",
        "difference of moisture content, without its sign",
        HANDBOOK,
        abs(then - now),
        1.5,
        (("wood_moisture", f"{now:g} %"), ("future balance", f"{then:.1f} %")),
        f"From {now:g} to {then:.1f} %: its boards will {way}.",
    )


def _movement(inspection: Inspection) -> Measurement:
    title = "What that does to the widest flat-sawn panel across its grain"
    width = inspection.facts.get("panel_width")
    wood = next((CASE_WOODS[t] for t in sorted(inspection.tags & CASE_WOODS.keys())), None)
    step = _step_percent(inspection)
    named = {"panel_width": width, "case_wood": wood, "the change of moisture": step}
    wants = tuple(name for name, value in named.items() if value is None)
    if width is None or wood is None or step is None:
        return Measurement("panel_change", title, "mm", "dimensional change", HANDBOOK, wants=wants)
    moved = board_movement(Board("panel", find_wood(wood), Cut.TANGENTIAL, width), *step)
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
        HANDBOOK,
        moved.change_mm,
        moved.spread_mm,
        (
            ("panel_width", f"{width:g} mm"),
            ("wood", wood),
            ("moisture", f"{step[0]:g} to {step[1]:.1f} %"),
        ),
        f"It becomes {abs(moved.change_mm):.1f} mm {way}.",
    )


def _crack(inspection: Inspection) -> Measurement:
    title = "The widest crack or open joint of that panel, once the wood has come to rest"
    gap, width = inspection.facts.get("crack_gap"), inspection.facts.get("panel_width")
    wood = next((CASE_WOODS[t] for t in sorted(inspection.tags & CASE_WOODS.keys())), None)
    step = _step_percent(inspection)
    named = {
        "crack_gap": gap,
        "panel_width": width,
        "case_wood": wood,
        "the change of moisture": step,
    }
    wants = tuple(name for name, value in named.items() if value is None)
    if gap is None or width is None or wood is None or step is None:
        return Measurement("crack_after", title, "mm", "dimensional change", HANDBOOK, wants=wants)
    board = Board("panel", find_wood(wood), Cut.TANGENTIAL, width)
    told = forecast_crack(Crack(board, gap), *step)
    return Measurement(
        "crack_after",
        title,
        "mm",
        "dimensional change of a panel held at its edges",
        HANDBOOK,
        told.gap_after_mm,
        told.spread_mm,
        (("crack_gap", f"{gap:g} mm"), ("panel_width", f"{width:g} mm"), ("wood", wood)),
        f"It {told.outcome.value}: from {gap:g} to {told.gap_after_mm:.1f} mm. A crack that will "
        "close is not filled, or the wood is crushed.",
    )


def _waiting(inspection: Inspection) -> Measurement:
    title = "How long its boards should stand in the new air before they are glued"
    thickness = inspection.facts.get("panel_thickness")
    step = _step_percent(inspection)
    formula = "first-order diffusion through the thickness"
    source = "from memory: diffusion of wood varies by two either way"
    wants = tuple(
        n
        for n, v in (("panel_thickness", thickness), ("the change of moisture", step))
        if v is None
    )
    if thickness is None or step is None:
        return Measurement("gluing_wait", title, "days", formula, source, wants=wants)
    wait = wait_before_gluing(thickness, *step)
    return Measurement(
        "gluing_wait",
        title,
        "days",
        formula,
        source,
        wait.likely_days,
        (wait.slow_days - wait.fast_days) / 2,
        (("panel_thickness", f"{thickness:g} mm"), ("moisture", f"{step[0]:g} to {step[1]:.1f} %")),
        f"Between {wait.fast_days:.0f} and {wait.slow_days:.0f} days. {wait.advice}",
    )


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """How wide the panel would be at each humidity of a lived-in room."""
    width, now = inspection.facts.get("panel_width"), _value(inspection, "wood_moisture")
    wood = next((CASE_WOODS[t] for t in sorted(inspection.tags & CASE_WOODS.keys())), None)
    if width is None or wood is None or now is None or not 0 <= now <= 30:
        return []
    board = Board("panel", find_wood(wood), Cut.TANGENTIAL, width)
    points = []
    for percent in range(20, 95, 5):
        balance = equilibrium_moisture_percent(LIVED_IN_C, float(percent))
        points.append((float(percent), board_movement(board, now, min(balance, 30.0)).change_mm))
    return [
        Figure(
            "panel_movement",
            f"Change of a {width:g} mm panel of {wood}, flat-sawn, from its moisture now",
            "relative humidity of the room, %",
            "change of width, mm",
            (Series("change", tuple(points)),),
            (f"At {LIVED_IN_C:g} degrees, once the wood has come to rest.",),
        )
    ]


def _carrying(inspection: Inspection) -> Measurement:
    weight = inspection.facts.get("weight_kg")
    title = "Weight for each person against what is recommended (lifting index)"
    if weight is None:
        return Measurement(
            "lifting_index", title, "count", "lifting index", LIFTING, wants=("weight_kg",)
        )
    stairs = int(inspection.facts.get("stairs", 0))
    plan = plan_moving(weight, person_limit_kg(), stairs=stairs)
    return Measurement(
        "lifting_index",
        title,
        "count",
        "weight lifted over the recommended limit of the team",
        LIFTING,
        plan.lifting_index,
        None,
        (("weight_kg", f"{weight:g} kg"), ("stairs", f"{stairs}")),
        f"{plan.means.value.capitalize()}: {plan.reason} {plan.caution}",
    )
