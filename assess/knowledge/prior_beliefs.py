"""Models of what is believed before anything is seen: states of care, and what they make likely.

How the beliefs are used stands in :mod:`assess.uncertainty.bayes_network`. The numbers come
from the trade's plugin, and any of them can be replaced in the workshop profile.
"""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from assess.base.guards import LEAST
from assess.base.plain_numbers import WrittenAsNumber
from assess.knowledge.model_base import Declared

Share = Annotated[float, Field(ge=0, le=1), WrittenAsNumber]
Chance = Annotated[float, Field(ge=LEAST, lt=1), WrittenAsNumber]
"""A probability; never 0 or 1, since no number of answers could ever correct that."""
ROUNDING = 0.005


class CareState(Declared):
    """One state of care: its prior probability, and how likely it makes each class 0..3."""

    name: str
    prior: Annotated[float, Field(ge=LEAST, le=1)]
    classes: tuple[Chance, Chance, Chance, Chance]

    @model_validator(mode="after")
    def _adds_up(self) -> Self:
        if abs(sum(self.classes) - 1) > ROUNDING:
            raise ValueError(f"the chances of the four classes add up to {sum(self.classes):g}")
        return self


class Freshness(Declared):
    """How much rarer findings are after earlier work.

    Attributes:
        years: up to so many years after the work.
        odds: the odds of a finding, beside an object that was never worked on.
    """

    years: Annotated[float, Field(ge=LEAST)]
    odds: Annotated[float, Field(ge=LEAST, le=1)]


class Care(Declared):
    """What is believed of an object before anything is seen.

    Attributes:
        overhauled: how much rarer findings are after earlier work, by its age, newest first.
        noticed: probability that an owner notices a symptom and tells of it; ``noticed_in_use``
            where the object is used every week.
        states: the states of care; their priors add up to one.
        state_persistence: probability that a part is in the same state as the whole it
            belongs to.
        stopping: how likely an outcome that keeps it out of use is, beside another of its class.
        rare: how likely an outcome that ends work or advises against it is, beside another of
            its class.
    """

    states: Annotated[tuple[CareState, ...], Field(min_length=1)]
    state_persistence: Share
    rare: Annotated[float, Field(ge=LEAST, le=1)]
    stopping: Annotated[float, Field(ge=LEAST, le=1)] = 1.0
    overhauled: tuple[Freshness, ...] = (
        Freshness.model_construct(years=5, odds=0.15),
        Freshness.model_construct(years=15, odds=0.35),
        Freshness.model_construct(years=30, odds=0.7),
    )
    noticed: Chance = 0.85
    noticed_in_use: Chance = 0.97

    @model_validator(mode="after")
    def _adds_up(self) -> Self:
        total = sum(state.prior for state in self.states)
        if abs(total - 1) > ROUNDING:
            raise ValueError(f"the priors of the states of care add up to {total:g}, not to 1")
        return self


NEUTRAL_CARE = Care.model_construct(
    states=(
        CareState.model_construct(name="well kept", prior=0.3, classes=(0.9, 0.08, 0.015, 0.005)),
        CareState.model_construct(name="ordinary", prior=0.4, classes=(0.7, 0.22, 0.06, 0.02)),
        CareState.model_construct(name="neglected", prior=0.3, classes=(0.5, 0.25, 0.15, 0.1)),
    ),
    state_persistence=0.7,
    rare=0.05,
)
"""Used where no trade declares its own; estimates from memory that are fitted to nothing."""
