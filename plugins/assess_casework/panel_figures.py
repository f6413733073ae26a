"""Figures of the widest panel: how it moves with the humidity of a room, and over the year."""

from __future__ import annotations

import math

from assess import Figure, Inspection, Series
from assess_casework.moisture import equilibrium_moisture_percent
from assess_casework.movement import Board, board_movement
from assess_casework.readings import (
    HUMIDITY_SWING,
    LIVED_IN_C,
    WINTER_HUMIDITY,
    moisture_now,
    widest_panel,
)

MONTHS = 12
MOST_HUMIDITY = 95.0
"""Up to this relative humidity, %, the formula of moisture was compared with its table (Wood
Handbook, 2010, table 4-2)."""


def figures(inspection: Inspection) -> list[Figure]:
    """Change in width of the widest panel: at each humidity of a room, and over the year."""
    board = widest_panel(inspection)
    if board is None:
        return []
    return [f for f in (_at_humidities(board, inspection), _over_year(board, inspection)) if f]


def _at_humidities(board: Board, inspection: Inspection) -> Figure | None:
    now = moisture_now(inspection)
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
