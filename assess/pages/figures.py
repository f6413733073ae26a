"""Figures as inline SVG: pure functions from plain data to marks.

Every function takes numbers and gives marks; none knows what the numbers are about. Shades are
grey, and what a shade says a pattern or a dash says too, so that a grey print loses nothing.
Lengths are in units of the drawing, which is :data:`WIDTH` wide.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

WIDTH = 720.0
LETTER = 5.6
"""Mean width of a letter of the text, which is 11 high."""
MARGIN = 10.0
FEW_ROWS = 12
ON_A_PAGE = 40
"""How many rows fit on a page below a figure."""
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
class Picture:
    """A figure with all that stands around it.

    Attributes:
        id: unique on its page.
        title: what it is about.
        says: what it shows, in a sentence.
        drawings: one SVG, or several where it goes over more than one page.
        columns, rows: its numbers as a table.
        unit: what stands above that table, where its columns do not carry the units.
        notes: what it rests on.
        prose: whether cells are text rather than numbers.
    """

    id: str
    title: str
    says: str
    drawings: tuple[Markup, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    unit: str = ""
    notes: tuple[str, ...] = ()
    prose: bool = False

    @property
    def beside(self) -> int:
        """How many parts of its table stand beside each other."""
        return 1 if self.prose else beside_each_other(len(self.rows), len(self.columns))


@dataclass(frozen=True)
class Axis:
    """A straight scale: values from ``low`` to ``high`` lie between ``start`` and ``end``."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a value stands.

        >>> Axis(0, 10, 100, 200).at(2.5)
        125.0
        """
        share = (value - self.low) / (self.high - self.low)
        return round(self.start + share * (self.end - self.start), 2)


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


@dataclass(frozen=True)
class Bar:
    """Work in a lane: from ``begin`` to ``end``; what waits for it may go on after ``until``."""

    name: str
    lane: str
    begin: float
    end: float
    until: float


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


def element(tag: str, content: object = "", **attributes: object) -> Markup:
    """One SVG element, everything in it escaped.

    >>> element("text", "a < b", x=1, text_anchor="end")
    Markup('<text x="1" text-anchor="end">a &lt; b</text>')
    """
    named = Markup("").join(
        Markup(' {}="{}"').format(name.rstrip("_").replace("_", "-"), _short(value))
        for name, value in attributes.items()
        if value not in (None, "")
    )
    return Markup("<{}{}>{}</{}>").format(Markup(tag), named, content, Markup(tag))


def svg(identifier: str, title: str, says: str, height: float, marks: Iterable[Markup]) -> Markup:
    """Marks as a drawing that a screen reader can name."""
    names = f"{identifier}-title {identifier}-desc"
    head = [
        element("title", title, id=f"{identifier}-title"),
        element("desc", says, id=f"{identifier}-desc"),
    ]
    return element(
        "svg",
        Markup("\n").join([*head, *marks]),
        viewBox=f"0 0 {WIDTH:g} {height:g}",
        role="img",
        aria_labelledby=names,
    )


def nice_ticks(low: float, high: float, most: int = 8) -> tuple[float, ...]:
    """Round values from ``low`` to ``high``, at most ``most`` of them and at least two.

    >>> nice_ticks(0, 100, 6), nice_ticks(-3.2, 4.1, 6)
    ((0.0, 20.0, 40.0, 60.0, 80.0, 100.0), (-2.0, 0.0, 2.0, 4.0))
    """
    width = (high - low) / max(1, most - 1)
    grain = 10 ** math.floor(math.log10(width))
    step = next(grain * n for n in (1, 2, 5, 10) if grain * n >= width * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(round(n * step, 10) + 0.0 for n in range(first, last + 1))


def beside_each_other(rows: int, columns: int) -> int:
    """Into how many parts a table of numbers is cut that stand beside each other on a page.

    A part never goes over a page, since reading on would then mean leafing back.

    >>> beside_each_other(8, 2), beside_each_other(61, 3), beside_each_other(159, 6)
    (1, 3, 1)
    """
    parts = 3 if columns <= 3 else 2 if columns <= 6 else 1
    return parts if FEW_ROWS < rows <= parts * ON_A_PAGE else 1


def fitted(text: str, width: float) -> str:
    """Text that takes no more than a width; what does not fit ends in three dots.

    >>> fitted("Renew the straps", 60)
    'Renew the\u2026'
    """
    most = int(width / LETTER)
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}\u2026"


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
    marks = _scale(axis, nice_ticks(low, high, 11), top, bottom, str_of)
    marks.append(_text(title, left - 14, top - 6, text_anchor="end"))
    for number, row in enumerate(rows):
        middle = top + row_height * (number + 0.5)
        name = fitted(row.name, left - 12 - 12 * row.level)
        weight = "" if row.level else "bold"
        marks.append(_text(name, 12.0 * row.level, middle + 4, font_weight=weight))
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
    marks = _scale(axis, whole, top, bottom, label)
    for number, lane in enumerate(lanes):
        middle = top + lane_height * (number + 0.5)
        marks.append(_text(fitted(lane, left - 8), 0.0, middle + 4))
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
            marks.append(_text(name, WIDTH, y + 1, text_anchor="end", font_weight="bold"))
        marks.append(
            element("circle", class_="node", cx=spine, cy=y - 1, r=8.5, data_number=node.number)
        )
        marks.append(_text(str(node.number), spine, y + 2.5, text_anchor="middle", class_="number"))
        marks.append(_text(fitted(node.title, WIDTH - spine - 150), spine + 16, y))
        if node.reason:
            reason = fitted(node.reason, 1.15 * (WIDTH - spine - 20))
            marks.append(_text(reason, spine + 16, y + 9, class_="reason"))
    return marks, head + row_height * len(nodes) + 4


def _arc(edge: Edge, start: float, end: float, spine: float) -> Markup:
    near, reach = spine - 9, min(104.0, 10 + 4.4 * math.sqrt(abs(end - start)))
    far = near - reach
    path = f"M {near:g} {start:g} C {far:g} {start:g} {far:g} {end:g} {near:g} {end:g}"
    kind = "main edge" if edge.main else "edge"
    return element("path", class_=kind, d=path, data_from=edge.before, data_to=edge.after)


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
    across, up = _axis(xs, left, right), _axis(_reached(lines), top + height, top)
    if ticks:
        across = Axis(min(xs) - 1, max(xs) + 1, left, right)
    named = tuple(tick for tick in ticks if across.low <= tick <= across.high)
    labelled = named or nice_ticks(across.low, across.high, 10)
    marks = _scale(
        across, labelled, top, top + height, lambda t: ticks.get(t) or str_of(t), below=True
    )
    marks += _rungs(up, left, right)
    marks.append(_text(y_title, 0.0, top - 10))
    marks.append(_text(x_title, right, top + height + 30, text_anchor="end"))
    for name, value in at_x.items():
        x = across.at(value)
        marks.append(element("line", class_="limit", x1=x, x2=x, y1=top, y2=top + height))
        marks.append(_text(name, x - 4, top + height - 6, text_anchor="end", class_="halo"))
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


def _strip_marks(strip: Strip, across: Axis, middle: float) -> list[Markup]:
    """The name of a strip at its left, and a mark at each place."""
    marks = [_text(fitted(strip.name, across.start - 8), 0.0, middle + 4)]
    marks.append(
        element("line", class_="grid", x1=across.start, x2=across.end, y1=middle, y2=middle)
    )
    for place in strip.at:
        x = across.at(place)
        shape = FLAG_SHAPES[strip.shape % len(FLAG_SHAPES)]
        path = shape.format(x=f"{x:g}", y=f"{middle:g}")
        marks.append(element("path", class_="flag", d=path, data_series=strip.name))
    return marks


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
        marks.append(_text(line.name, x + 34, y + 4))
        x += width
    return [element("g", Markup("").join(marks), class_="legend")], rows


def _axis(values: Sequence[float], start: float, end: float) -> Axis:
    """An axis that holds all values, begins and ends at round ones, and has some width."""
    low, high = min(values, default=0.0), max(values, default=1.0)
    if high - low < 1e-9:
        low, high = low - 0.5, high + 0.5
    ticks = nice_ticks(low, high)
    step = ticks[1] - ticks[0] if len(ticks) > 1 else high - low
    low = step * math.floor(low / step + 1e-9)
    high = step * math.ceil(high / step - 1e-9)
    return Axis(low, high, start, end)


def _scale(
    axis: Axis,
    ticks: Sequence[float],
    top: float,
    bottom: float,
    label: Callable[[float], str],
    below: bool = False,
) -> list[Markup]:
    """Lines across at the ticks of an axis, with their labels above or below."""
    y = bottom + 14 if below else top - 6
    marks = []
    for tick in ticks:
        x = axis.at(tick)
        marks.append(element("line", class_="grid", x1=x, x2=x, y1=top, y2=bottom))
        value = f"{tick:g}" if below else ""
        marks.append(
            _text(label(tick), x, y, text_anchor="middle", class_="tick-x", data_value=value)
        )
    return marks


def _rungs(axis: Axis, left: float, right: float) -> list[Markup]:
    marks = []
    for tick in nice_ticks(axis.low, axis.high, 7):
        y = axis.at(tick)
        kind = "zero" if tick == 0 else "grid"
        marks.append(element("line", class_=kind, x1=left, x2=right, y1=y, y2=y))
        marks.append(_text(str_of(tick), left - 6, y + 4, text_anchor="end", class_="tick-y"))
    return marks


def _text(content: str, x: float, y: float, **attributes: object) -> Markup:
    return element("text", content, x=x, y=y, **attributes)


def str_of(value: float) -> str:
    """A number as it stands at an axis.

    >>> [str_of(v) for v in (0.0, 20.0, -2.5, 12000.0)]
    ['0', '20', '-2.5', '12,000']
    """
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:g}"


def _short(value: object) -> object:
    return f"{value:g}" if isinstance(value, float) else value
