"""Plots of rows: boxes between bounds, bars in lanes, and an order with its arcs."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from assess.pages.drawing import (
    MARGIN,
    WIDTH,
    Axis,
    element,
    fitted,
    nice_ticks,
    scale,
    text_at,
    tick_label,
)


@dataclass(frozen=True)
class Bounds:
    """A row with what a value is at least and at most, and what it likely is.

    Attributes:
        name: of the row.
        low, high, likely: in the unit of the axis.
        shade: which of the shades of the page fills it.
        level: how far the name is indented.
    """

    name: str
    low: float
    high: float
    likely: float | None = None
    shade: int = 0
    level: int = 0


def bounds_plot(
    rows: Sequence[Bounds], low: float, high: float, title: str
) -> tuple[list[Markup], float]:
    """Each row as a box from its lower to its upper bound, with a diamond at what is likely.

    Args:
        rows: from top to bottom.
        low: where the axis begins.
        high: where it ends.
        title: title of the axis, with its unit.

    Returns:
        The marks and the height of the drawing.
    """
    left, row_height, top = 275.0, 13.5, 18.0
    axis = Axis(low, high, left, WIDTH - MARGIN - 10)
    bottom = top + row_height * len(rows)
    marks = scale(axis, nice_ticks(low, high, 11), top, bottom, tick_label)
    marks.append(text_at(title, left - 14, top - 6, text_anchor="end"))
    for number, row in enumerate(rows):
        middle = top + row_height * (number + 0.5)
        name = fitted(row.name, left - 12 - 12 * row.level)
        weight = "" if row.level else "bold"
        marks.append(text_at(name, 12.0 * row.level, middle + 4, font_weight=weight))
        marks += _bound_marks(row, axis, middle)
    return marks, bottom + 8


def _bound_marks(row: Bounds, axis: Axis, middle: float) -> list[Markup]:
    start, end = axis.at(row.low), axis.at(row.high)
    box = element(
        "rect",
        class_="bound",
        x=start,
        y=middle - 4,
        width=round(end - start, 2),
        height=8,
        fill=f"url(#class-{row.shade})",
    )
    ends = [
        element("line", class_="end", x1=x, x2=x, y1=middle - 5, y2=middle + 5)
        for x in (start, end)
    ]
    if row.likely is None:
        return [box, *ends]
    x = axis.at(row.likely)
    corners = f"{x},{middle - 4.5} {x + 4},{middle} {x},{middle + 4.5} {x - 4},{middle}"
    return [box, *ends, element("polygon", class_="likely", points=corners)]


@dataclass(frozen=True)
class Bar:
    """Work in a lane: from ``begin`` to ``end``; what waits for it may go on after ``until``."""

    name: str
    lane: str
    begin: float
    end: float
    until: float


def lanes_plot(bars: Sequence[Bar], label: Callable[[float], str]) -> tuple[list[Markup], float]:
    """Bars in lanes, in the order in which the lanes first appear; waiting is hatched.

    Args:
        bars: in days from 0.
        label: what stands at a whole day.
    """
    lanes = list(dict.fromkeys(bar.lane for bar in bars))
    left, lane_height, top = 170.0, 24.0, 18.0
    most = max(1.0, *(bar.until for bar in bars))
    axis = Axis(0.0, most, left, WIDTH - MARGIN - 22)
    bottom = top + lane_height * len(lanes)
    whole = [tick for tick in nice_ticks(0.0, most) if tick.is_integer()]
    marks = scale(axis, whole, top, bottom, label)
    for number, lane in enumerate(lanes):
        middle = top + lane_height * (number + 0.5)
        marks.append(text_at(fitted(lane, left - 8), 0.0, middle + 4))
        edge = middle + lane_height / 2
        marks.append(element("line", class_="rule", x1=0, x2=WIDTH, y1=edge, y2=edge))
    for bar in bars:
        y = top + lane_height * lanes.index(bar.lane)
        marks += _bar_marks(bar, axis, y)
    return marks, bottom + 8


def _bar_marks(bar: Bar, axis: Axis, y: float) -> list[Markup]:
    start, end, until = axis.at(bar.begin), axis.at(bar.end), axis.at(bar.until)
    found = []
    if until > end:
        found.append(
            element(
                "rect",
                element("title", f"{bar.name}: waits"),
                class_="waits",
                x=end,
                y=y + 13,
                width=round(until - end, 2),
                height=7,
                fill="url(#waiting)",
            )
        )
    name = element("title", bar.name)
    found.append(
        element(
            "rect", name, class_="works", x=start, y=y + 4, width=round(end - start, 2), height=8
        )
    )
    return found


@dataclass(frozen=True)
class Node:
    """A row of an order: a number, a title, the layer it is in, and why it stands there."""

    number: int
    title: str
    layer: str
    reason: str = ""


@dataclass(frozen=True)
class Edge:
    """The number of the earlier row and that of the later one; a main edge is drawn strong."""

    before: int
    after: int
    main: bool = False


def arcs_plot(nodes: Sequence[Node], edges: Sequence[Edge]) -> tuple[list[Markup], float]:
    """Rows in their order under their layers, with an arc from each earlier row to a later one.

    Main edges are dark, and their reason stands under the later row.
    """
    spine, row_height, head = 128.0, 22.0, 8.0
    places = {node.number: head + row_height * (i + 0.5) for i, node in enumerate(nodes)}
    marks = []
    for edge in sorted(edges, key=lambda e: e.main):
        if edge.before in places and edge.after in places:
            marks.append(_arc(edge, places[edge.before], places[edge.after], spine))
    layer = ""
    for node in nodes:
        y = places[node.number]
        if node.layer != layer:
            layer = node.layer
            marks.append(
                element("line", class_="rule", x1=spine + 14, x2=WIDTH, y1=y - 11, y2=y - 11)
            )
            name = fitted(layer, 130)
            marks.append(text_at(name, WIDTH, y + 1, text_anchor="end", font_weight="bold"))
        marks.append(
            element("circle", class_="node", cx=spine, cy=y - 1, r=8.5, data_number=node.number)
        )
        marks.append(
            text_at(str(node.number), spine, y + 2.5, text_anchor="middle", class_="number")
        )
        marks.append(text_at(fitted(node.title, WIDTH - spine - 150), spine + 16, y))
        if node.reason:
            reason = fitted(node.reason, 1.15 * (WIDTH - spine - 20))
            marks.append(text_at(reason, spine + 16, y + 9, class_="reason"))
    return marks, head + row_height * len(nodes) + 4


def _arc(edge: Edge, start: float, end: float, spine: float) -> Markup:
    near, reach = spine - 9, min(104.0, 10 + 4.4 * math.sqrt(abs(end - start)))
    far = near - reach
    path = f"M {near:g} {start:g} C {far:g} {start:g} {far:g} {end:g} {near:g} {end:g}"
    kind = "main edge" if edge.main else "edge"
    return element("path", class_=kind, d=path, data_from=edge.before, data_to=edge.after)
