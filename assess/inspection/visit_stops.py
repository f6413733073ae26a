"""The stops of a visit: where a question is asked, and in which order one gets there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from assess.inspection.question_places import asks_for_danger, places_there
from assess.job.configuration import Configuration
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge

TOLD, DANGERS, USED, ROUND = "told", "dangers", "used", "round"
BEFORE_OPENING = (TOLD, DANGERS, USED, ROUND)
"""The stops at which nothing is opened, in order."""
RETURN_MIN = 1.0
"""Minutes to go back to a stop that was left, without opening its place again; an estimate."""


@dataclass(frozen=True)
class VisitMeans:
    """What a visit has.

    Attributes:
        minutes: what is left of the time agreed; None for as long as it takes.
        tools: tools that the bag holds besides the usual ones.
        opened: places that are open already.
        been: the stops gone to so far, in order; the visit stands at the last.
        everything: also what can be seen in the workshop only.
        again: also what has been answered.
    """

    minutes: float | None = None
    tools: frozenset[str] = frozenset()
    opened: frozenset[str] = frozenset()
    been: tuple[str, ...] = ()
    everything: bool = False
    again: bool = False

    @property
    def left(self) -> frozenset[str]:
        """Stops that were gone to and left."""
        return frozenset(self.been) - frozenset(self.been[-1:])


def stop_of_criterion(criterion: Criterion, knowledge: Knowledge) -> str:
    """Where in the walk a question is asked: a stop before opening, or its place."""
    if criterion.places:
        return last_place(criterion.places, knowledge)
    if asks_for_danger(criterion):
        return DANGERS
    return criterion.during or knowledge.components[criterion.component].during


def stop_here(criterion: Criterion, knowledge: Knowledge, configuration: Configuration) -> str:
    """Where in the walk a question about this object is asked, which may lack some places.

    What is looked at in a place that the object lacks lies open: it is seen on the round.
    """
    there = places_there(criterion, knowledge, configuration)
    if there:
        return last_place(there, knowledge)
    if criterion.places:
        return criterion.during or ROUND
    return stop_of_criterion(criterion, knowledge)


def last_place(places: Iterable[str], knowledge: Knowledge) -> str:
    """Of several places that something is seen from, the one that is opened last."""
    return max(places, key=lambda place: (*reach_of(place, knowledge), place))


def reach_of(place: str, knowledge: Knowledge) -> tuple[int, float]:
    """How far a place lies inside, and the minutes to open it with those around it."""
    depth, opening, name = 0, 0.0, place or None
    while name:
        depth, opening = depth + 1, opening + knowledge.places[name].minutes
        name = knowledge.places[name].inside
    return depth, opening


def return_min(stop: str, knowledge: Knowledge) -> float:
    """Minutes to go back to a stop, and to open it again where it is a place."""
    return RETURN_MIN + (knowledge.places[stop].minutes if stop in knowledge.places else 0.0)


def walk_order(stop: str, knowledge: Knowledge) -> tuple[int, int, float, str]:
    """Where a stop stands in the walk: what needs no opening, then what is least to open."""
    if stop in BEFORE_OPENING:
        return BEFORE_OPENING.index(stop), 0, 0.0, stop
    return len(BEFORE_OPENING), *reach_of(stop, knowledge), stop


def when_to_go(stop: str, means: VisitMeans) -> int:
    """What comes first: the stop where the visit stands, those ahead, those that were left."""
    if means.been and stop == means.been[-1]:
        return 0
    return 2 if stop in means.left else 1
