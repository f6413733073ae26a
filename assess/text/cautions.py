"""Cautions, dangers to people first, each with whom to defer to."""

from __future__ import annotations

from collections.abc import Iterable

from assess.catalogue import Knowledge
from assess.text.tables import heading, numbered


def in_order(cautions: Iterable[str], knowledge: Knowledge) -> list[str]:
    """Caution ids once each, dangers to people first."""
    once = [c for c in dict.fromkeys(cautions) if c in knowledge.cautions]
    return sorted(once, key=lambda c: not knowledge.cautions[c].people)


def caution_list(cautions: Iterable[str], knowledge: Knowledge) -> str:
    """A numbered list of cautions under a heading, or nothing."""
    found = [knowledge.cautions[c] for c in in_order(cautions, knowledge)]
    if not found:
        return ""
    lines = [f"{c.title}. {c.text} Defer to: {c.defer_to}." for c in found]
    return f"{heading('Take care', '-')}\n{numbered(lines)}"
