"""Plots of points: series between two axes, with a legend above and strips of marks below."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from assess.pages.drawing import (
    LETTER,
    MARGIN,
    WIDTH,
    Axis,
    axis_around,
    element,
    fitted,
    nice_ticks,
    rungs,
    scale,
    text_at,
    tick_label,
)

LEGEND_ROW = 18.0
STRIP_ROW = 16.0
WIDEST_NAME = 170.0
FLAG_SHAPES = (
    "M {x} {y} m -4 -4 l 8 8 m 0 -8 l -8 8",
    "M {x} {y} m 0 -5 l 4.5 8.5 h -9 z",
    "M {x} {y} m -4 -4 h 8 v 8 h -8 z",
    "M {x} {y} m 0 -5 l 5 5 l -5 5 l -5 -5 z",
)
"""A cross, a triangle, a square, a diamond: the marks of the strips below a plot."""
DASHES = ("", "7 3", "2 3", "9 3 2 3", "4 2", "1 2")
"""Dashes that tell joined series apart."""


@dataclass(frozen=True)
class Line:
    """A series of points.

    Attributes:
        name: what the legend calls it.
        points: where they are.
        joined: whether a line joins them.
        spreads: half the length of the bar on each point, or none at all.
        behind: whether it is a line behind the others, without points of its own.
    """

    name: str
    points: tuple[tuple[float, float], ...]
    joined: bool = True
    spreads: tuple[float, ...] = ()
    behind: bool = False


@dataclass(frozen=True)
class Strip:
    """A row below a plot with marks at places along its axis; ``shape`` is the number of these."""

    name: str
    at: tuple[float, ...]
    shape: int = 0


def xy_plot(
    lines: Sequence[Line],
    x_title: str,
    y_title: str,
    at_x: Mapping[str, float] | None = None,
    strips: Sequence[Strip] = (),
    ticks: Mapping[float, str] | None = None,
) -> tuple[list[Markup], float]:
    """Series of points between two axes.

    Args:
        lines: the series; they differ by dash and by the shape of their points.
        x_title: title of the axis across, with its unit.
        y_title: title of the axis upwards, with its unit.
        at_x: values of the axis along which a line across stands, by its name.
        strips: rows of marks below the plot.
        ticks: labels of the axis along, by value; else round values.
    """
    at_x, ticks = at_x or {}, ticks or {}
    names = [LETTER * len(strip.name) + 12 for strip in strips]
    left = min(max([52.0, *names]), WIDEST_NAME)
    right, height = WIDTH - MARGIN - 14, 250.0
    legend, rows = _legend(lines, left, right) if len(lines) > 1 else ([], 0)
    top = LEGEND_ROW * rows + 26
    xs = [x for line in lines for x, _ in line.points] + list(at_x.values())
    xs += [x for strip in strips for x in strip.at]
    across, up = axis_around(xs, left, right), axis_around(_reached(lines), top + height, top)
    if ticks:
        across = Axis(min(xs) - 1, max(xs) + 1, left, right)
    named = tuple(tick for tick in ticks if across.low <= tick <= across.high)
    labelled = named or nice_ticks(across.low, across.high, 10)
    marks = scale(
        across, labelled, top, top + height, lambda t: ticks.get(t) or tick_label(t), below=True
    )
    marks += rungs(up, left, right)
    marks.append(text_at(y_title, 0.0, top - 10))
    marks.append(text_at(x_title, right, top + height + 30, text_anchor="end"))
    for name, value in at_x.items():
        x = across.at(value)
        marks.append(element("line", class_="limit", x1=x, x2=x, y1=top, y2=top + height))
        marks.append(text_at(name, x - 4, top + height - 6, text_anchor="end", class_="halo"))
    for number, line in sorted(enumerate(lines), key=lambda one: not one[1].behind):
        placed = [(across.at(x), up.at(y)) for x, y in line.points]
        marks += _bars(line, across, up)
        marks += _line_marks(line, placed, number)
    end = top + height + 38
    for number, strip in enumerate(strips):
        marks += _strip_marks(strip, across, end + STRIP_ROW * (number + 0.5))
    return [*marks, *legend], end + STRIP_ROW * len(strips)


def _reached(lines: Sequence[Line]) -> list[float]:
    """Every value that is drawn, with the ends of the bars."""
    found = []
    for line in lines:
        spreads = line.spreads or (0.0,) * len(line.points)
        for (_, y), spread in zip(line.points, spreads, strict=True):
            found += [y - spread, y + spread]
    return found


def _bars(line: Line, across: Axis, up: Axis) -> list[Markup]:
    """Bars through the points that have a spread."""
    return [
        element(
            "line",
            class_="spread",
            x1=across.at(x),
            x2=across.at(x),
            y1=up.at(y - spread),
            y2=up.at(y + spread),
            data_series=line.name,
        )
        for (x, y), spread in zip(line.points, line.spreads, strict=bool(line.spreads))
        if spread > 0
    ]


def _line_marks(line: Line, placed: Sequence[tuple[float, float]], number: int) -> list[Markup]:
    if line.behind:
        points = " ".join(f"{x:g},{y:g}" for x, y in placed)
        return [element("polyline", class_="behind", points=points, data_series=line.name)]
    marks = [_point(x, y, number, line.name) for x, y in placed]
    if line.joined and len(placed) > 1:
        points = " ".join(f"{x:g},{y:g}" for x, y in placed)
        dash = DASHES[number % len(DASHES)]
        marks.insert(0, element("polyline", class_="line", points=points, stroke_dasharray=dash))
    return marks


def _point(x: float, y: float, number: int, name: str) -> Markup:
    """A point; each series has its own shape."""
    kind = number % 4
    shared = {"class_": f"point p{kind}", "data_series": name}
    if kind < 2:
        return element("circle", cx=x, cy=y, r=2.6, **shared)
    if kind == 2:
        return element("rect", x=x - 2.4, y=y - 2.4, width=4.8, height=4.8, **shared)
    corners = f"{x},{y - 3.2} {x + 3},{y + 2.4} {x - 3},{y + 2.4}"
    return element("polygon", points=corners, **shared)


def _legend(lines: Sequence[Line], left: float, right: float) -> tuple[list[Markup], int]:
    """The names of the series with their marks, and on how many rows they stand."""
    marks: list[Markup] = []
    x, y, rows = left, 8.0, 1
    for number, line in enumerate(lines):
        width = 34 + LETTER * len(line.name) + 24
        if x > left and x + width - 24 > right:
            x, y, rows = left, y + LEGEND_ROW, rows + 1
        ends = [(x, y), (x + 26, y)] if line.joined or line.behind else [(x + 22, y)]
        marks += _line_marks(Line("", (), line.joined, behind=line.behind), ends, number)
        marks.append(text_at(line.name, x + 34, y + 4))
        x += width
    return [element("g", Markup("").join(marks), class_="legend")], rows


def _strip_marks(strip: Strip, across: Axis, middle: float) -> list[Markup]:
    """The name of a strip at its left, and a mark at each place."""
    marks = [text_at(fitted(strip.name, across.start - 8), 0.0, middle + 4)]
    marks.append(
        element("line", class_="grid", x1=across.start, x2=across.end, y1=middle, y2=middle)
    )
    for place in strip.at:
        x = across.at(place)
        shape = FLAG_SHAPES[strip.shape % len(FLAG_SHAPES)]
        path = shape.format(x=f"{x:g}", y=f"{middle:g}")
        marks.append(element("path", class_="flag", d=path, data_series=strip.name))
    return marks
