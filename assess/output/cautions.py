"""Cautions, dangers to people first, each with whom to ask."""

from __future__ import annotations

from collections.abc import Iterable

from assess.knowledge.declaration import Caution
from assess.knowledge.knowledge_base import Knowledge
from assess.output.layout import heading, numbered


def in_order(cautions: Iterable[str], knowledge: Knowledge) -> list[str]:
    """Caution ids, dangers to people first; of those with one title only the first."""
    by_title: dict[str, str] = {}
    for caution in cautions:
        if caution in knowledge.cautions:
            by_title.setdefault(knowledge.cautions[caution].title, caution)
    return sorted(by_title.values(), key=lambda c: not knowledge.cautions[c].people)


def numbers_of(cautions: Iterable[str], knowledge: Knowledge) -> dict[str, int]:
    """The number under which each caution stands in :func:`caution_list`."""
    listed = list(cautions)
    titles = [knowledge.cautions[c].title for c in in_order(listed, knowledge)]
    return {c: 1 + titles.index(knowledge.cautions[c].title) for c in listed}


def whom_to_ask(caution: Caution) -> str:
    """Whom to ask and which rules to follow, as a sentence each."""
    asked = f"Ask: {caution.defer_to}." if caution.defer_to else ""
    rules = f"Follow: {caution.follow}." if caution.follow else ""
    return " ".join(filter(None, (asked, rules)))


def caution_list(cautions: Iterable[str], knowledge: Knowledge) -> str:
    """A numbered list of cautions under a heading, or nothing."""
    found = [knowledge.cautions[c] for c in in_order(cautions, knowledge)]
    if not found:
        return ""
    lines = [f"{c.title}. {c.text} {whom_to_ask(c)}" for c in found]
    return f"{heading('Take care', '-')}\n{numbered(lines)}"
