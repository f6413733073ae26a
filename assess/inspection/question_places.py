"""Where a question is seen from, at a visit or in the workshop only, and which ask for dangers."""

from __future__ import annotations

from assess.grading.judgements import Judgement
from assess.job.configuration import Configuration
from assess.knowledge.criteria import Criterion
from assess.knowledge.declaration import Feature
from assess.knowledge.knowledge_base import Knowledge

ANSWERING_MIN = 0.2
"""Minutes to read a question and write its answer down, besides looking."""


def places_to(
    seen: Criterion | Feature, knowledge: Knowledge, configuration: Configuration
) -> tuple[str, ...]:
    """The places that must be open to see something, outermost first."""
    places: dict[str, None] = {}
    for innermost in seen.places:
        places |= dict.fromkeys(_way_in(innermost, knowledge, configuration))
    return tuple(places)


def _way_in(
    place: str | None, knowledge: Knowledge, configuration: Configuration
) -> tuple[str, ...]:
    """A place and those around it that the object has, outermost first.

    There is no way into a place that the object lacks.
    """
    way: list[str] = []
    while place:
        found = knowledge.places[place]
        if configuration.admits(found.needs, found.excludes):
            way.append(place)
        elif not way:
            return ()
        place = found.inside
    return tuple(reversed(way))


def seen_from(criterion: Criterion, knowledge: Knowledge, configuration: Configuration) -> str:
    """The titles of the places of a criterion that the object has, or nothing."""
    there = places_there(criterion, knowledge, configuration)
    return ", ".join(knowledge.places[place].title for place in there)


def places_there(
    seen: Criterion | Feature, knowledge: Knowledge, configuration: Configuration
) -> list[str]:
    """The places that something is seen from on an object that is built so, main one first."""
    found = [knowledge.places[place] for place in seen.places]
    return [p.id for p in found if configuration.admits(p.needs, p.excludes)]


def seen_at_visit(judgement: Judgement, knowledge: Knowledge, configuration: Configuration) -> bool:
    """Whether a criterion can be seen at the customer's home."""
    places = places_to(judgement.criterion, knowledge, configuration)
    return all(knowledge.places[place].at_visit for place in places)


def asks_for_danger(criterion: Criterion) -> bool:
    """Whether a criterion asks for a danger to people that shows before anything is opened."""
    return criterion.place is None and any(o.danger for o in criterion.outcomes)


def is_danger(judgement: Judgement) -> bool:
    """Whether a judgement is about such a danger."""
    return asks_for_danger(judgement.criterion)
