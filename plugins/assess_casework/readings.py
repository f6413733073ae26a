"""What an inspection says of air, wood and panel, and what it takes to know more."""

from __future__ import annotations

from assess import Inspection
from assess_casework.moisture import FIBRE_SATURATION_PERCENT, equilibrium_moisture_percent
from assess_casework.movement import Board
from assess_casework.woods import WOODS, Cut, Wood

# Full ids of the criteria that are read.
MOISTURE_NOW = "casework.wood_moisture"
ROOM_HUMIDITY = "casework.room_humidity"
FUTURE_HUMIDITY = "casework.future_humidity"
ROOM_TEMPERATURE = "casework.room_temperature"
WINTER_HUMIDITY = "casework.winter_humidity"
HUMIDITY_SWING = "casework.humidity_swing"

LIVED_IN_C = 20.0
"""Temperature of a lived-in room (common practice)."""
CASE_WOODS = {
    "walnut": WOODS["walnut, black"],
    "oak": WOODS["oak, white, commercial"],
    "cherry": WOODS["cherry, black"],
    "pine": WOODS["pine, eastern white"],
}
"""The woods that the feature ``case_wood`` offers."""


def moisture_now(inspection: Inspection) -> float | None:
    """Measured moisture content of the wood, %, if wood still moves at it."""
    measured = inspection.number(MOISTURE_NOW, "%")
    return measured if measured is not None and measured <= FIBRE_SATURATION_PERCENT else None


def moisture_next(inspection: Inspection) -> float | None:
    """Moisture content that the wood will reach where it will stand, %, if that is known."""
    humidity = inspection.number(FUTURE_HUMIDITY, "%")
    return None if humidity is None else equilibrium_moisture_percent(LIVED_IN_C, humidity)


def moisture_change(inspection: Inspection) -> tuple[float, float] | None:
    """Moisture content now and later, %, if both are known."""
    now, later = moisture_now(inspection), moisture_next(inspection)
    return None if now is None or later is None else (now, later)


def change_wants(inspection: Inspection) -> tuple[str, ...]:
    """What is missing to know the change of moisture."""
    wants = []
    if inspection.number(MOISTURE_NOW, "%") is None:
        wants.append(MOISTURE_NOW)
    elif moisture_now(inspection) is None:
        wants.append(f"{MOISTURE_NOW} of at most {FIBRE_SATURATION_PERCENT:g} %")
    if inspection.number(FUTURE_HUMIDITY, "%") is None:
        wants.append(FUTURE_HUMIDITY)
    return tuple(wants)


def room_temperature(inspection: Inspection) -> tuple[float, str]:
    """Temperature of the room, degC, and how to name it."""
    measured = inspection.number(ROOM_TEMPERATURE, "degC")
    if measured is None:
        return LIVED_IN_C, f"{LIVED_IN_C:g} degC (assumed)"
    return measured, f"{measured:g} degC"


def case_wood(inspection: Inspection) -> Wood | None:
    """The wood of the case, if it is named."""
    return next((CASE_WOODS[t] for t in sorted(inspection.tags & CASE_WOODS.keys())), None)


def widest_panel(inspection: Inspection) -> Board | None:
    """The widest flat-sawn panel, if its wood and width are known."""
    wood, width = case_wood(inspection), inspection.number("panel_width", "mm")
    return None if wood is None or width is None else Board(wood, Cut.TANGENTIAL, width)


def panel_wants(inspection: Inspection) -> tuple[str, ...]:
    """What is missing to know the panel and its change of moisture."""
    width = () if inspection.number("panel_width", "mm") is not None else ("panel_width",)
    wood = () if case_wood(inspection) is not None else ("case_wood",)
    return width + wood + change_wants(inspection)
