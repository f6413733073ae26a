"""A figure with all that stands around it: a title, a sentence, and its numbers as a table."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

FEW_ROWS = 12
ON_A_PAGE = 40
"""How many rows fit on a page below a figure."""


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


def beside_each_other(rows: int, columns: int) -> int:
    """Into how many parts a table of numbers is cut that stand beside each other on a page.

    A part never goes over a page, since reading on would then mean leafing back.

    >>> beside_each_other(8, 2), beside_each_other(61, 3), beside_each_other(159, 6)
    (1, 3, 1)
    """
    parts = 3 if columns <= 3 else 2 if columns <= 6 else 1
    return parts if FEW_ROWS < rows <= parts * ON_A_PAGE else 1
