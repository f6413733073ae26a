"""Tables, paragraphs and lists that fit 80 columns."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from assess.output.display_width import Columns, columns_of, wrapped, wrapped_encoded

WIDTH = 80
UNIT = "%|°C|[cm]?m|yd|ft|in|h|min|s|k?g|lb|oz|gf|L|Hz|kHz|cents?|k?Pa|inH2O|mmH2O"
KEPT_TOGETHER = re.compile(
    rf"(?<=\d) (?=(?:{UNIT})(?![\w-]))|(?<=\b[A-Z]{{3}}) (?=\d)|(?<=±) (?=\d)|(?<=\d) (?=±)"
)
NO_BREAK = "\u00a0"
COLUMN_GAP = 2
HEADER_PADDING = 2
"""What the table library adds to the width of a heading."""
NARROWEST = 8


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
        widths: the most columns of the terminal that each may take; None leaves it alone.
        right: columns that are aligned to the right.

    The widest columns get narrower where the table would not fit otherwise.
    """
    from tabulate import tabulate

    columns = Columns()
    headers = [columns.encoded(header) for header in headers]
    texts = [[columns.encoded(str(cell)) for cell in row] for row in rows]
    fitting = _fitting(texts, headers, list(widths))
    cells = [[_wrapped(c, w) for c, w in zip(row, fitting, strict=True)] for row in texts]
    align = ["right" if i in right else "left" for i in range(len(headers))]
    text = tabulate(
        cells,
        headers,
        tablefmt="simple",
        colalign=align,
        disable_numparse=True,
        preserve_whitespace=True,
    )
    lines = columns.decoded(text).splitlines()
    return "\n".join(line.replace(NO_BREAK, " ").rstrip() for line in lines)


def _fitting(
    rows: Sequence[Sequence[str]], headers: Sequence[str], widths: list[int | None]
) -> list[int | None]:
    """Widths with which the table fits; the widest columns give way."""

    def shown(column: int) -> int:
        cells = (_wrapped(row[column], widths[column]) for row in rows)
        longest = max((len(line) for cell in cells for line in cell.split("\n")), default=0)
        return max(longest, len(headers[column]) + HEADER_PADDING)

    while True:
        sizes = [shown(column) for column in range(len(headers))]
        excess = sum(sizes) + COLUMN_GAP * (len(sizes) - 1) - WIDTH
        free = [c for c, w in enumerate(widths) if w is not None and w > NARROWEST]
        if excess <= 0 or not free:
            return widths
        widest = max(free, key=lambda c: sizes[c])
        widths[widest] = max(NARROWEST, min(widths[widest] or 0, sizes[widest]) - excess)


def _wrapped(text: str, width: int | None) -> str:
    if width is None:
        return text
    lines = []
    for line in text.split("\n"):
        indent = line[: len(line) - len(line.lstrip(" "))]
        kept = KEPT_TOGETHER.sub(NO_BREAK, line)
        lines += wrapped_encoded(kept, width, subsequent_indent=indent) or [""]
    return "\n".join(lines)


def paragraph(text: str, indent: str = "", first: str | None = None) -> str:
    """Text wrapped to the width, with an indent; a number stays with its % or currency."""
    lines = wrapped(
        KEPT_TOGETHER.sub(NO_BREAK, text),
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return "\n".join(lines).replace(NO_BREAK, " ")


def bullets(lines: Sequence[str], mark: str = "- ") -> str:
    """Lines as a list."""
    return "\n".join(paragraph(line, " " * len(mark), mark) for line in lines)


def numbered(lines: Sequence[str]) -> str:
    """Lines as a numbered list."""
    digits = len(str(len(lines)))
    return "\n".join(
        paragraph(line, " " * (digits + 2), f"{n:>{digits}}. ") for n, line in enumerate(lines, 1)
    )


def section(title: str, *parts: str) -> str:
    """A heading with what stands under it; nothing when there is nothing."""
    body = "\n".join(part for part in parts if part)
    return f"{heading(title, '-')}\n{body}" if body else ""


def sections(parts: Iterable[str]) -> str:
    """Parts with an empty line between them, leaving out what is empty."""
    return "".join(in_turn(parts))


def in_turn(parts: Iterable[str]) -> Iterator[str]:
    """The text of :func:`sections`, each part as soon as it is there."""
    before = ""
    for part in parts:
        if part.strip():
            yield before + part.strip("\n") + "\n"
            before = "\n"
    if not before:
        yield "\n"


def heading(text: str, underline: str = "=") -> str:
    """A heading with a line under it; it is wrapped when it is longer than the width."""
    lines = wrapped(text, WIDTH) or [""]
    return "\n".join([*lines, underline * max(columns_of(line) for line in lines)])


def capital(text: str) -> str:
    """Text with a capital first letter.

    >>> capital("working order")
    'Working order'
    """
    return text[:1].upper() + text[1:]


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


def money_span(low: float, high: float) -> str:
    """A range of money in whole units, without the currency.

    >>> money_span(120.4, 231), money_span(0, 0.2)
    ('120 to 231', '0')
    """
    a, b = f"{low:,.0f}", f"{high:,.0f}"
    return a if a == b else f"{a} to {b}"


def waiting(hours: float) -> str:
    """Drying or rest by the clock, in hours or days."""
    if hours <= 0:
        return ""
    if hours < 48:
        return f"{amount(hours)} h"
    return f"{amount(hours / 24)} days"
