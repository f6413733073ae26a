"""Tables and paragraphs that fit 80 columns."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

WIDTH = 80
INDENT = "\ue000"
"""Stands for a leading space while a table is laid out, since the table would eat a space."""

KEPT_TOGETHER = re.compile(r"(?<=\d) (?=%)|(?<=\b[A-Z]{3}) (?=\d)")


def table(
    rows: Sequence[Sequence[object]],
    headers: Sequence[str],
    widths: Sequence[int | None],
    right: Sequence[int] = (),
) -> str:
    """A table whose text columns are wrapped.

    Args:
        rows: cells, each shown as its text.
        headers: one for each column.
        widths: the most characters of each column; None leaves it alone.
        right: columns that are aligned to the right.
    """
    from tabulate import tabulate

    cells = [[_wrapped(str(c), w) for c, w in zip(row, widths, strict=True)] for row in rows]
    align = ["right" if i in right else "left" for i in range(len(headers))]
    text = tabulate(cells, headers, tablefmt="simple", colalign=align, disable_numparse=True)
    return "\n".join(line.replace(INDENT, " ").rstrip() for line in text.splitlines())


def _wrapped(text: str, width: int | None) -> str:
    if width is None:
        return text
    lines = []
    for line in text.split("\n"):
        indent = line[: len(line) - len(line.lstrip(" "))]
        lines += textwrap.wrap(line, width, subsequent_indent=indent) or [""]
    return "\n".join(_kept_indent(line) for line in lines)


def _kept_indent(line: str) -> str:
    stripped = line.lstrip(" ")
    return INDENT * (len(line) - len(stripped)) + stripped


def paragraph(text: str, indent: str = "", first: str | None = None) -> str:
    """Text wrapped to the width, with an indent; no number is parted from its % or currency."""
    wrapped = textwrap.fill(
        KEPT_TOGETHER.sub("\u00a0", text),
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return wrapped.replace("\u00a0", " ")


def bullets(lines: Sequence[str], mark: str = "- ") -> str:
    """Lines as a list."""
    return "\n".join(paragraph(line, " " * len(mark), mark) for line in lines)


def numbered(lines: Sequence[str]) -> str:
    """Lines as a numbered list."""
    digits = len(str(len(lines)))
    return "\n".join(
        paragraph(line, " " * (digits + 2), f"{n:>{digits}}. ") for n, line in enumerate(lines, 1)
    )


def sections(parts: Sequence[str]) -> str:
    """Parts with an empty line between them, leaving out what is empty."""
    return "\n\n".join(p.strip("\n") for p in parts if p.strip()) + "\n"


def heading(text: str, underline: str = "=") -> str:
    """A heading with a line under it."""
    return f"{text}\n{underline * min(len(text), WIDTH)}"


def amount(value: float) -> str:
    """A number of hours or units as a person would write it.

    >>> [amount(v) for v in (0.26, 0.5, 3.0, 12.4, 140.2)]
    ['0.3', '0.5', '3', '12', '140']
    """
    if value >= 10:
        return f"{value:.0f}"
    return f"{value:.1f}".removesuffix(".0")


def span(low: float, high: float) -> str:
    """A range, or one value where both ends read the same."""
    a, b = amount(low), amount(high)
    return a if a == b else f"{a} to {b}"


def waiting(hours: float) -> str:
    """Drying or rest by the clock, in hours or days."""
    if hours <= 0:
        return ""
    if hours < 48:
        return f"{amount(hours)} h"
    return f"{amount(hours / 24)} days"
