"""Positions in a list, as a person types them."""

from __future__ import annotations

MOST_FIGURES = 9
"""Figures of the longest number that is read as a position."""


def position_typed(text: str) -> int | None:
    """The position that a person types; None for anything else.

    >>> position_typed("12"), position_typed("\u00b2"), position_typed("9" * 5000)
    (12, None, None)
    """
    text = text.strip()
    return int(text) if text.isdecimal() and len(text) <= MOST_FIGURES else None
