"""Questions that other questions open: which may be asked, which wait, which are spared.

A detail is asked once one of the questions that open it has shown something, or could not be
answered. While one of them has no answer it waits. Where all of them are fine it is as good as
it can be, and where they do not apply, neither do its details about the same component.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from enum import Enum, auto

from assess.grading.judgements import Judgement, State
from assess.knowledge.criteria import Opening


class Openness(Enum):
    """Whether a question may be asked."""

    OPEN = auto()
    WAITS = auto()
    SPARED = auto()
    ABSENT = auto()


def openness(judgement: Judgement, judgements: Mapping[str, Judgement]) -> Openness:
    """Whether a question may be asked, by what is known of those that open it."""
    known = _firsts(judgement, judgements)
    if any(_opens(first, opening) for first, opening in known):
        return Openness.OPEN
    if any(first.state is State.NO_ANSWER for first, _ in known):
        return Openness.WAITS
    if any(_is_answered(first) for first, _ in known):
        return Openness.SPARED
    component = judgement.criterion.component
    absent = (first for first, _ in known if first.state is State.DOES_NOT_APPLY)
    gone = any(first.criterion.component == component for first in absent)
    return Openness.ABSENT if gone else Openness.OPEN


def _firsts(
    judgement: Judgement, judgements: Mapping[str, Judgement]
) -> list[tuple[Judgement, Opening]]:
    """The questions that open one, and how; one whose plugin is missing opens nothing."""
    openings = judgement.criterion.openings
    return [(judgements[o.criterion], o) for o in openings if o.criterion in judgements]


def _opens(first: Judgement, opening: Opening) -> bool:
    """Whether a question has shown something, or was tried without a result."""
    if first.state in (State.NOT_SEEN, State.NOT_COMPUTED):
        return True
    return _is_answered(first) and first.best.condition >= opening.from_class


def _is_answered(first: Judgement) -> bool:
    """Whether a question was answered, though another reading may have said as much."""
    return first.is_seen or first.state is State.SAID_ALREADY


def is_opened(judgement: Judgement, judgements: Mapping[str, Judgement]) -> bool:
    """Whether a question may be asked."""
    return openness(judgement, judgements) is Openness.OPEN


def first_to_ask(judgement: Judgement, judgements: Mapping[str, Judgement]) -> Judgement:
    """The question itself, or the one to answer before it may be asked."""
    while openness(judgement, judgements) is Openness.WAITS:
        firsts = (first for first, _ in _firsts(judgement, judgements))
        judgement = next(first for first in firsts if first.state is State.NO_ANSWER)
    return judgement


def with_openings(judgements: Mapping[str, Judgement]) -> dict[str, Judgement]:
    """The judgements with what need not be asked; one answer may spare a chain of questions."""
    known = dict(judgements)
    details = [j.id for j in known.values() if j.criterion.openings]
    for _ in details:
        changed = {name: _settled(known[name], known) for name in details}
        if all(changed[name] is known[name] for name in details):
            break
        known |= changed
    return known


def _settled(judgement: Judgement, judgements: Mapping[str, Judgement]) -> Judgement:
    """A judgement, settled where the questions that open it leave nothing to ask."""
    if judgement.state is not State.NO_ANSWER:
        return judgement
    match openness(judgement, judgements):
        case Openness.SPARED:
            given = "; ".join(_answers(judgement, judgements))
            seen = replace(judgement, state=State.SEEN, worst=judgement.best)
            return replace(seen, given=f"not asked: {given}")
        case Openness.ABSENT:
            return replace(judgement, state=State.DOES_NOT_APPLY)
        case _:
            return judgement


def _answers(judgement: Judgement, judgements: Mapping[str, Judgement]) -> list[str]:
    """What was answered to the questions that open a detail."""
    firsts = (first for first, _ in _firsts(judgement, judgements))
    return [f"{j.criterion.asks}: {j.given}" for j in firsts if _is_answered(j)]
