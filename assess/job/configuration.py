"""How the object of a job is built: its tags and its numbers.

Tags come from features: a yes/no feature that is so gives its own id, one with options
gives the chosen option. What the job file leaves out follows from answers, or else is taken as
usual and remembered as an assumption. Where the object stands is a tag too
(:data:`assess.knowledge.declaration.WHEREABOUTS`), so that knowledge can need or exclude it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from assess.base.errors import JobFileError, did_you_mean, hints
from assess.base.measures import parse_clear
from assess.base.units import with_unit
from assess.job.answers import GivenAnswer, range_words
from assess.job.job_file import Job
from assess.knowledge.declaration import AT_WORKSHOP, WHEREABOUTS, Fact, Feature
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import Step, StepKind
from assess.knowledge.unit_rows import stacked_tags

T = TypeVar("T")


@dataclass(frozen=True)
class Configuration:
    """The tags and numbers of one object.

    Attributes:
        tags: ids of the features it has, and of the options chosen.
        facts: numbers by fact id, in the fact's unit; a fact without a number is absent.
        assumed: feature and fact ids that the job file left out, and what was taken.
        questions: numbers that are possible but improbable, in words.
        opened: places that are open already, with those that must be open for that.
    """

    tags: frozenset[str]
    facts: dict[str, float]
    assumed: dict[str, str]
    questions: tuple[str, ...]
    opened: frozenset[str] = frozenset()

    @property
    def in_workshop(self) -> bool:
        """Whether it stands in the workshop already."""
        return AT_WORKSHOP in self.tags

    def admits(self, needs: Iterable[str], excludes: Iterable[str]) -> bool:
        """Whether something with these needs and exclusions applies to the object."""
        return self.tags.issuperset(needs) and self.tags.isdisjoint(excludes)


def configuration_of(
    job: Job, knowledge: Knowledge, answers: Mapping[str, GivenAnswer]
) -> Configuration:
    """Work out tags and facts of a job's object.

    Raises:
        JobFileError: an unknown feature or fact (while every subsystem is installed that
            the file speaks of), or an impossible value.
    """
    faults: list[str] = []
    tags: set[str] = set()
    assumed: dict[str, str] = {}
    implied = _implied_by_answers(answers)
    given = _by_present_id(job.instrument.features, knowledge.features)
    for feature in knowledge.features.values():
        value = given.get(feature.id, implied.get(feature.id))
        if value is None:
            value = feature.usual
            assumed[feature.id] = _feature_word(value)
        fault = _feature_fault(feature, value)
        if fault:
            faults.append(f"{job.where('instrument', 'features', feature.id)}: {fault}")
        elif isinstance(value, str):
            tags.add(value)
        elif value:
            tags.add(feature.id)
    facts, questions = _facts(job, knowledge, assumed, faults)
    questions += [
        f"{job.where('instrument', 'features', name)}: stated as {_feature_word(given[name])}, "
        f"but an answer implies {_feature_word(value)}; which is right?"
        for name, value in implied.items()
        if given.get(name, value) != value
    ]
    faults += _unknown_names(job, knowledge)
    if faults:
        raise JobFileError("\n".join(faults))
    tags |= stacked_tags(knowledge.further_units, knowledge)
    if job.history.now_at:
        tags.add(WHEREABOUTS[job.history.now_at])
    opened = _opened(job.history.opened, knowledge)
    return Configuration(frozenset(tags), facts, assumed, tuple(questions), opened)


def stated_tags(job: Job, knowledge: Knowledge) -> tuple[frozenset[str], frozenset[str]]:
    """Tags that the job file itself says the object has, and those it says it has not."""
    has: set[str] = set()
    lacks: set[str] = set()
    for name, value in _by_present_id(job.instrument.features, knowledge.features).items():
        options = knowledge.features[name].options if name in knowledge.features else {}
        if isinstance(value, str):
            has.add(value)
            lacks |= options.keys() - {value}
        else:
            (has if value else lacks).add(name)
    return frozenset(has), frozenset(lacks)


def _opened(told: Iterable[str], knowledge: Knowledge) -> frozenset[str]:
    """Places told to be open, and every place that must be open for that."""
    found: set[str] = set()
    todo = list(told)
    while todo:
        place = knowledge.places.get(todo.pop())
        if place is None or place.id in found:
            continue
        found.add(place.id)
        needed = (Step(link.step) for link in place.open_requires)
        todo += [place.inside or "", *(s.target for s in needed if s.kind is StepKind.OPEN)]
    return frozenset(found)


def _implied_by_answers(answers: Mapping[str, GivenAnswer]) -> dict[str, bool | str]:
    """Features that follow from answers in words."""
    implied: dict[str, bool | str] = {}
    for answer in answers.values():
        if answer.outcome is not None:
            implied |= answer.outcome.tells
    return implied


def _by_present_id(given: Mapping[str, T], declared: Mapping[str, Feature | Fact]) -> dict[str, T]:
    """What a job file gives, with former ids replaced by those of today."""
    present = {former: d.id for d in declared.values() for former in d.formerly}
    return {present.get(name, name): value for name, value in given.items()}


def _feature_word(value: bool | str) -> str:
    return value if isinstance(value, str) else ("yes" if value else "no")


def _feature_fault(feature: Feature, value: bool | str) -> str:
    if feature.options and value not in feature.options:
        return f"no such kind {value!r}; {did_you_mean(str(value), feature.options)}"
    if not feature.options and not isinstance(value, bool):
        return f"expected true or false, got {value!r}"
    return ""


def _facts(
    job: Job, knowledge: Knowledge, assumed: dict[str, str], faults: list[str]
) -> tuple[dict[str, float], list[str]]:
    facts: dict[str, float] = {}
    questions: list[str] = []
    given = _by_present_id(job.instrument.facts, knowledge.facts)
    for fact in knowledge.facts.values():
        raw = given.get(fact.id)
        if raw is None:
            if fact.usual is not None:
                facts[fact.id] = fact.usual
                assumed[fact.id] = f"{fact.usual:g}"
            continue
        try:
            facts[fact.id], question = _fact(fact, raw)
        except ValueError as error:
            faults.append(f"{job.where('instrument', 'facts', fact.id)}: {error}")
            continue
        if question:
            questions.append(f"{job.where('instrument', 'facts', fact.id)}: {question}")
    _multiply_out(facts, assumed, knowledge)
    return facts, questions


def _multiply_out(facts: dict[str, float], assumed: dict[str, str], knowledge: Knowledge) -> None:
    """Add each fact that is the product of others, where the job file does not state it."""
    for fact in knowledge.facts.values():
        factors = fact.product_of
        if not factors or fact.id in facts or not facts.keys() >= set(factors):
            continue
        value = math.prod(facts[factor] for factor in factors)
        facts[fact.id] = float(round(value)) if fact.unit == "count" else value
        if not assumed.keys().isdisjoint(factors):
            assumed[fact.id] = f"{facts[fact.id]:g}"


def _fact(fact: Fact, raw: float | str) -> tuple[float, str]:
    """A fact's value in its unit, and a question where the value is improbable.

    Raises:
        ValueError: the value cannot be.
    """
    value = parse_clear(raw, fact.unit, fact.possible) if isinstance(raw, str) else float(raw)
    shown = with_unit(value, fact.unit)
    low, high = fact.possible
    if not low <= value <= high:
        raise ValueError(f"{shown} is out of range ({range_words(low, high)})")
    if fact.plausible and not fact.plausible[0] <= value <= fact.plausible[1]:
        low, high = fact.plausible
        return value, f"{shown} is improbable (usually {low:g} to {high:g}); is it right?"
    return value, ""


def _unknown_names(job: Job, knowledge: Knowledge) -> list[str]:
    """Features and facts that no plugin declares, unless a plugin may be missing."""
    hint = hints()
    if knowledge.faults or any(s not in knowledge.subsystems for s in job.answers):
        return []
    faults = []
    tables: tuple[tuple[str, Mapping[str, object], Mapping[str, Feature | Fact]], ...] = (
        ("features", job.instrument.features, knowledge.features),
        ("facts", job.instrument.facts, knowledge.facts),
    )
    for kind, given, known in tables:
        for name in _by_present_id(given, known):
            if name not in known:
                where = job.where("instrument", kind, name)
                faults.append(f"{where}: unknown {kind[:-1]}; {hint(name, known)}")
    return faults
