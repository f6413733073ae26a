"""Text whose characters take no column of the terminal, or two, laid out as if each took one.

Wrapping and padding count characters. So before it is laid out, each character with what is
written over it becomes one stand-in, with a filler where it takes two columns; afterwards the
characters stand in their places again. Nothing changes in a text of plain letters.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata
from typing import Any

PLAIN_BELOW = "\u0300"
"""Before the first mark that is written over a letter, every character takes one column."""
STAND_INS, FILLER = range(0xF0000, 0xFFFF1), "\U000ffffd"
"""Characters for private use, which mean nothing in any text."""
WITHOUT_WIDTH = frozenset("\u200b\u200c\u200d\u2060")
WIDE = re.compile(f"([{chr(STAND_INS[0])}-{chr(STAND_INS[-1])}]{FILLER})")


class Columns:
    """Stands in for characters that do not take one column, in all texts of one layout.

    >>> columns = Columns()
    >>> wide = columns.encoded("\u6f22\u5b57")
    >>> len(wide), columns.decoded(wide) == "\u6f22\u5b57"
    (4, True)
    """

    def __init__(self) -> None:
        self._stand_ins: dict[str, str] = {}

    def encoded(self, text: str) -> str:
        """A text with as many characters as it takes columns."""
        if text.isascii() or max(text) < PLAIN_BELOW:
            return text
        return "".join(self._encoded(*cluster) for cluster in _clusters(text))

    def decoded(self, text: str) -> str:
        """The text itself."""
        if not self._stand_ins:
            return text
        back = {ord(stand_in): cluster for cluster, stand_in in self._stand_ins.items()}
        return text.replace(FILLER, "").translate(back)

    def _encoded(self, cluster: str, width: int) -> str:
        is_taken = STAND_INS[0] <= ord(cluster[0]) <= ord(FILLER)
        if len(cluster) == width == 1 and not is_taken:
            return cluster
        if len(self._stand_ins) == len(STAND_INS):
            return cluster
        free = chr(STAND_INS[len(self._stand_ins)])
        return self._stand_ins.setdefault(cluster, free) + FILLER * (width - 1)


class Wrapper(textwrap.TextWrapper):
    """Wraps encoded text; between wide characters, which have no spaces, a line may end."""

    def _split(self, text: str) -> list[str]:
        return [part for chunk in super()._split(text) for part in WIDE.split(chunk) if part]


def wrapped(text: str, width: int, **options: Any) -> list[str]:
    """The lines of a text that is wrapped by the columns that it takes.

    Args:
        text: what to wrap.
        width: columns of a line.
        options: as for :class:`textwrap.TextWrapper`.
    """
    columns = Columns()
    encoded = {k: columns.encoded(v) if isinstance(v, str) else v for k, v in options.items()}
    return [
        columns.decoded(line) for line in wrapped_encoded(columns.encoded(text), width, **encoded)
    ]


def wrapped_encoded(text: str, width: int, **options: Any) -> list[str]:
    """The lines of a text that is encoded already, still encoded."""
    return Wrapper(width, **options).wrap(text)


def columns_of(text: str) -> int:
    """How many columns of the terminal a line takes.

    >>> columns_of("e\u0301a"), columns_of("\u6f22")
    (2, 2)
    """
    return len(Columns().encoded(text))


def _clusters(text: str) -> list[tuple[str, int]]:
    """Each character with what is written over it, and the columns that it takes."""
    clusters: list[tuple[str, int]] = []
    for char in text:
        own = _width(char)
        if clusters and own == 0:
            cluster, width = clusters.pop()
            clusters.append((cluster + char, width))
        else:
            clusters.append((char, max(1, own)))
    return clusters


def _width(char: str) -> int:
    if char < PLAIN_BELOW:
        return 1
    if char in WITHOUT_WIDTH or unicodedata.category(char) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(char) in ("W", "F") else 1
