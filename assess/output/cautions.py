"""Cautions, dangers to people first, each with whom to ask and which rules to follow."""

from __future__ import annotations

from collections.abc import Iterable

from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.work import Caution
from assess.output.layout import bullets, numbered, paragraph, section


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


def in_full(caution: Caution) -> str:
    """A caution with its text, whom to ask and which rules to follow."""
    asked = f"Ask: {caution.defer_to}." if caution.defer_to else ""
    rules = f"Follow: {caution.follow}." if caution.follow else ""
    return " ".join(filter(None, (f"{caution.title}. {caution.text}", asked, rules)))


def caution_list(cautions: Iterable[str], knowledge: Knowledge) -> str:
    """A numbered list of cautions in full under a heading, or nothing."""
    found = [knowledge.cautions[c] for c in in_order(cautions, knowledge)]
    return section("Take care", numbered([in_full(c) for c in found])) if found else ""


def caution_titles(cautions: Iterable[str], knowledge: Knowledge, where: str) -> str:
    """The titles of cautions alone, and where they stand in full."""
    titles = [knowledge.cautions[c].title for c in in_order(cautions, knowledge)]
    if not titles:
        return ""
    return section("Take care", bullets(titles), paragraph(f"In full: {where}"))
