"""Drawing in SVG: elements, text that fits, and axes with round ticks.

Here and in the plots every function takes plain data and gives marks; none knows what the data are
about. Shades are grey, and what a shade says a pattern or a dash says too, so that a grey print
loses nothing. Lengths are in units of the drawing, which is :data:`WIDTH` wide.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

WIDTH = 720.0
LETTER = 5.6
"""Mean width of a letter of the text, which is 11 high."""
MARGIN = 10.0


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


def _short(value: object) -> object:
    return f"{value:g}" if isinstance(value, float) else value


def text_at(content: str, x: float, y: float, **attributes: object) -> Markup:
    """Text that begins at a place, or stands as ``text_anchor`` says."""
    return element("text", content, x=x, y=y, **attributes)


def fitted(text: str, width: float) -> str:
    """Text that takes no more than a width; what does not fit ends in three dots.

    >>> fitted("Renew the straps", 60)
    'Renew the\u2026'
    """
    most = int(width / LETTER)
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}\u2026"


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


def axis_around(values: Sequence[float], start: float, end: float) -> Axis:
    """An axis that holds all values, begins and ends at round ones, and has some width."""
    low, high = min(values, default=0.0), max(values, default=1.0)
    if high - low < 1e-9:
        low, high = low - 0.5, high + 0.5
    ticks = nice_ticks(low, high)
    step = ticks[1] - ticks[0] if len(ticks) > 1 else high - low
    low = step * math.floor(low / step + 1e-9)
    high = step * math.ceil(high / step - 1e-9)
    return Axis(low, high, start, end)


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


def tick_label(value: float) -> str:
    """A number as it stands at an axis.

    >>> [tick_label(v) for v in (0.0, 20.0, -2.5, 12000.0)]
    ['0', '20', '-2.5', '12,000']
    """
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:g}"


def scale(
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
            text_at(label(tick), x, y, text_anchor="middle", class_="tick-x", data_value=value)
        )
    return marks


def rungs(axis: Axis, left: float, right: float) -> list[Markup]:
    """Lines along at the ticks of an axis upwards, with their labels at the left."""
    marks = []
    for tick in nice_ticks(axis.low, axis.high, 7):
        y = axis.at(tick)
        kind = "zero" if tick == 0 else "grid"
        marks.append(element("line", class_=kind, x1=left, x2=right, y1=y, y2=y))
        marks.append(text_at(tick_label(tick), left - 6, y + 4, text_anchor="end", class_="tick-y"))
    return marks
