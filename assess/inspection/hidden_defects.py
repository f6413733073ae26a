"""What may come to light: answers that nobody has yet, and kinds of build that nobody has said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from assess.inspection.question_order import places_to
from assess.job.configuration import Configuration
from assess.knowledge.criteria import Criterion
from assess.knowledge.declaration import Feature
from assess.knowledge.knowledge_base import Knowledge

LEAST_CHANCE = 0.02
"""What is less likely than this is not worth a line."""
LEAST_COST = 1e-3
"""A kind of build that adds less than this part of the cost adds nothing but chance of drawing."""


@dataclass(frozen=True)
class Hidden:
    """Something unseen that may come to light, and what it would mean if it did.

    Attributes:
        criterion: its full id; empty where it is a kind of build. place: where it is seen from.
        chance: probability that it adds work within the scope.
        hours, cost: the work it would add to what is planned, where it is found.
        at_visit: whether it can be looked at in the home. opens, minutes: what that takes.
        opening_hours: bench hours to open up for a look, where it cannot.
        feature, otherwise: the kind of build that nobody has said, and what it may be.
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
    """What may come to light, that which adds most to the cost on average first."""
    return tuple(sorted(lines, key=lambda h: (-h.expected_cost, h.criterion, h.feature)))


def hidden_variant(
    feature: Feature,
    otherwise: bool | str,
    added: tuple[float, float],
    knowledge: Knowledge,
    configuration: Configuration,
) -> Hidden:
    """A kind of build that nobody has said, as something that may come to light.

    Args:
        feature: the feature, with a chance.
        otherwise: what it may be instead of the usual.
        added: hours and cost that the work then takes more, on average.
        knowledge: what the plugins declare.
        configuration: what of it fits the instrument.
    """
    chance = (feature.chance or 0.0) / len(feature.others)
    line = _line(feature, chance, added, knowledge, configuration)
    return replace(line, feature=feature.id, otherwise=otherwise)


def hidden_answer(
    criterion: Criterion,
    chance: float,
    added: tuple[float, float],
    knowledge: Knowledge,
    configuration: Configuration,
) -> Hidden:
    """A criterion that nobody has seen, as something that may come to light.

    Args:
        criterion: what is to be seen.
        chance: probability that it adds work.
        added: hours and cost that it then adds, on average.
        knowledge: what the plugins declare.
        configuration: what of it fits the instrument.
    """
    return replace(
        _line(criterion, chance, added, knowledge, configuration), criterion=criterion.id
    )


def _line(
    seen: Criterion | Feature,
    chance: float,
    added: tuple[float, float],
    knowledge: Knowledge,
    configuration: Configuration,
) -> Hidden:
    chain = places_to(seen, knowledge, configuration)
    places = [knowledge.places[place] for place in chain]
    return Hidden(
        criterion="",
        place=seen.place,
        chance=chance,
        hours=added[0],
        cost=added[1],
        at_visit=all(place.at_visit for place in places),
        opens=chain,
        minutes=seen.minutes + sum(place.minutes for place in places),
        opening_hours=sum(place.open_hours[1] for place in places),
    )
