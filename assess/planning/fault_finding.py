"""Searches: steps that find the cause of what is complained of and not explained yet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from assess.grading.judgements import Judgement
from assess.job.configuration import Configuration
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import HoursRange
from assess.knowledge.steps import Step
from assess.knowledge.symptoms import Symptom
from assess.planning.access import enclosing, fitting_place

MINUTES_AN_HOUR = 60.0


@dataclass(frozen=True)
class Search:
    """What it takes to find the cause of one symptom.

    Attributes:
        symptom: its full id.
        asks: the symptom as one would say it.
        signs: criteria that show the symptom itself, by which it is made to happen.
        tests: criteria to look at, in the order that the symptom declares.
        repeated: every test has been made and explained nothing, so all are made again.
        looks: likely causes that can be looked at without opening more, likeliest first.
        places: places that the tests need open.
        hours: low, likely and high bench hours, without opening and closing places, from the
            minutes of each look: after the signs the first test tells, or all tests are needed,
            or the likely causes must be looked at as well, and all of it twice, because the
            fault comes and goes (estimate from memory).
        workshop: a test needs a place open that may not be opened at the customer's home.
    """

    symptom: str
    asks: str
    signs: tuple[str, ...]
    tests: tuple[str, ...]
    repeated: bool
    looks: tuple[str, ...]
    places: tuple[str, ...]
    hours: HoursRange
    workshop: bool

    @property
    def step(self) -> Step:
        """The step of a plan."""
        return Step.finding(self.symptom)

    @property
    def parts(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """What is looked at, in order: a heading and criteria, without parts that are empty."""
        again = "Every test has been made and explains nothing, so make them again"
        parts = (
            ("Make it happen first", self.signs),
            (again if self.repeated else "Then test", self.tests),
            ("If none of them tells, look at", self.looks),
        )
        return tuple(part for part in parts if part[1])


def search_for(
    symptom: Symptom,
    left: Sequence[str],
    likely: Iterable[str],
    judgements: Mapping[str, Judgement],
    knowledge: Knowledge,
    configuration: Configuration,
) -> Search:
    """What it takes to find the cause of a symptom.

    Args:
        symptom: what is complained of, and not explained by anything found.
        left: its tests that have no answer yet, in order.
        likely: criteria that nobody has seen and that may be its cause, likeliest first.
        judgements: what is known of each criterion.
        knowledge: what the plugins declare.
        configuration: tags and facts of the object, and what is open already.
    """
    again = [t for t in symptom.tests if t in judgements and judgements[t].counts]
    tests = tuple(left or again)
    named = (
        fitting_place(place, knowledge, configuration)
        for test in tests
        for place in knowledge.criteria[test].places
    )
    places = tuple(dict.fromkeys(place.id for place in named if place))
    chains = {place: enclosing(place, knowledge, configuration) for place in places}
    opened = configuration.opened.union(*chains.values())

    def within_reach(criteria: Iterable[str]) -> tuple[str, ...]:
        """Those that can be looked at with no more open than the tests need."""
        found = (knowledge.criteria[c] for c in criteria if c not in tests)
        return tuple(
            c.id
            for c in found
            if not c.computed_from
            and all(opened.issuperset(enclosing(p, knowledge, configuration)) for p in c.places)
        )

    shown = dict.fromkeys(sign.criterion for sign in symptom.shown_by)
    signs = within_reach(c for c in shown if c in judgements and judgements[c].counts)
    looks = within_reach(c for c in likely if c not in signs)
    return Search(
        symptom=symptom.id,
        asks=symptom.asks,
        signs=signs,
        tests=tests,
        repeated=not left and bool(tests),
        looks=looks,
        places=places,
        hours=_hours(signs, tests or symptom.tests, looks, knowledge),
        workshop=any(
            not knowledge.places[p].at_visit
            for chain in chains.values()
            for p in chain
            if p not in configuration.opened
        ),
    )


def _hours(
    signs: Sequence[str], tests: Sequence[str], looks: Sequence[str], knowledge: Knowledge
) -> HoursRange:
    """Low, likely and high hours of a search."""

    def hours(criteria: Sequence[str]) -> float:
        return sum(knowledge.criteria[c].minutes for c in criteria) / MINUTES_AN_HOUR

    first, likely = hours(signs) + hours(tests[:1]), hours(signs) + hours(tests)
    everything = 2 * (likely + hours(looks))
    return HoursRange((round(first, 2), round(likely, 2), round(everything, 2)))
