"""How a place is reached: what it lies in, and whether it is open already."""

from __future__ import annotations

from assess.job.configuration import Configuration
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import Step, StepKind
from assess.knowledge.work import Place


def fitting_place(
    name: str | None, knowledge: Knowledge, configuration: Configuration
) -> Place | None:
    """A place, or the nearest one around it that this object has."""
    while name:
        place = knowledge.places[name]
        if configuration.admits(place.needs, place.excludes):
            return place
        name = place.inside
    return None


def enclosing(
    name: str | None, knowledge: Knowledge, configuration: Configuration
) -> tuple[str, ...]:
    """The places of this object that must be open to reach a place, itself included."""
    found: list[str] = []
    place = fitting_place(name, knowledge, configuration)
    while place:
        found.append(place.id)
        place = fitting_place(place.inside, knowledge, configuration)
    return tuple(found)


def access_to(place: str, configuration: Configuration) -> Step:
    """The step that is needed to work in a place: opening it, or only closing an open one."""
    opened = place in configuration.opened
    return Step.closing(place) if opened else Step.opening(place)


def is_open_already(step: str, configuration: Configuration) -> bool:
    """Whether a step opens what is open already."""
    found = Step(step)
    return found.target in configuration.opened and found.kind is StepKind.OPEN
