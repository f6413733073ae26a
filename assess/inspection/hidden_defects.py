"""What may still be hidden: faults that nobody has seen, and kinds of build not stated."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from assess.inspection.question_places import places_there, places_to
from assess.knowledge.criteria import Criterion
from assess.knowledge.declaration import Feature
from assess.knowledge.steps import Step
from assess.planning.workload import WorkContext, step_hours

LEAST_CHANCE = 0.01
"""Anything less likely than this is not listed."""
LEAST_COST = 1e-3
"""A kind of build that adds less than this part of the cost adds only noise of the sampling."""


@dataclass(frozen=True)
class Hidden:
    """Something unseen that may be found later, and what it would mean.

    Attributes:
        criterion: its full id; empty where it is a kind of build.
        place: where it is seen from.
        chance: probability that it adds work within the scope.
        hours, cost: the work that it would add to what is planned.
        at_visit: whether it can be looked at in the home.
        opens, minutes: what looking there takes.
        opening_hours: bench hours to open up for a look, where it cannot.
        feature, otherwise: the kind of build that is not stated, and what it may be.
    """

    criterion: str
    place: str | None
    chance: float
    hours: float
    cost: float
    at_visit: bool
    opens: tuple[str, ...]
    minutes: float
    opening_hours: float
    feature: str = ""
    otherwise: bool | str = ""

    @property
    def expected_cost(self) -> float:
        """What it adds to the cost on average."""
        return self.chance * self.cost


def by_expected_cost(lines: Iterable[Hidden]) -> tuple[Hidden, ...]:
    """Lines by what they add to the cost on average, costliest first."""
    return tuple(sorted(lines, key=lambda h: (-h.expected_cost, h.criterion, h.feature)))


def by_relevance(
    lines: Iterable[Hidden], responsible: Mapping[str, float], times: Mapping[str, float]
) -> tuple[Hidden, ...]:
    """Lines by what they mean for this object.

    Args:
        lines: what may be hidden.
        responsible: for each cause of something complained of, how likely it contributes; these
            come first.
        times: how many times likelier a criterion's findings are than in an object of which
            nothing is known; what is not named counts once.
    """

    def rank(line: Hidden) -> tuple[float, float]:
        share = responsible.get(line.criterion, 0.0)
        return -share, -line.expected_cost * times.get(line.criterion, 1.0)

    return tuple(sorted(by_expected_cost(lines), key=rank))


def hidden_variant(
    feature: Feature, otherwise: bool | str, added: tuple[float, float], context: WorkContext
) -> Hidden:
    """A kind of build that is not stated, as something that may be hidden.

    Args:
        feature: the feature, with a chance.
        otherwise: what it may be instead of the usual.
        added: hours and cost that the work then takes more, on average.
        context: knowledge and configuration.
    """
    chance = (feature.chance or 0.0) / len(feature.others)
    line = _line(feature, chance, added, context)
    return replace(line, feature=feature.id, otherwise=otherwise)


def hidden_answer(
    criterion: Criterion, chance: float, added: tuple[float, float], context: WorkContext
) -> Hidden:
    """A criterion that nobody has seen, as a fault that may be hidden.

    Args:
        criterion: what is to be seen.
        chance: probability that it adds work.
        added: hours and cost that it then adds, on average.
        context: knowledge and configuration.
    """
    return replace(_line(criterion, chance, added, context), criterion=criterion.id)


def _line(
    seen: Criterion | Feature, chance: float, added: tuple[float, float], context: WorkContext
) -> Hidden:
    chain = places_to(seen, context.knowledge, context.configuration)
    places = [context.knowledge.places[place] for place in chain]
    opened = context.configuration.opened
    there = places_there(seen, context.knowledge, context.configuration)
    return Hidden(
        criterion="",
        place=next(iter(there), None),
        chance=chance,
        hours=added[0],
        cost=added[1],
        at_visit=all(place.at_visit for place in places),
        opens=chain,
        minutes=seen.minutes + sum(place.minutes for place in places),
        opening_hours=sum(
            step_hours(Step.opening(place), context)[1] for place in chain if place not in opened
        ),
    )
