"""From chosen repairs to all steps they need, and the order between those steps.

*Closure*: prerequisites, what must follow, the places that must be opened and closed, the
hold points that prove the work, and the routine of every job are added. *Restriction*:
precedence holds through repairs that are not needed here, so the transitive
closure of the master graph is restricted to the chosen steps.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from assess.job.configuration import Configuration
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.precedence_graph import made_needless
from assess.knowledge.steps import Step
from assess.knowledge.work import Link, Place

CauseKind = Literal["finding", "required", "entailed", "access", "proof", "routine"]


@dataclass(frozen=True)
class Cause:
    """Why a step is in the plan at all: the kind, what brought it in, and the words."""

    kind: CauseKind
    by: str
    text: str


@dataclass(frozen=True)
class Closure:
    """The steps of a plan, each with what brought it in; and what is not needed.

    ``replaced`` maps a lesser repair to the thorough one that makes it needless.
    """

    steps: dict[str, tuple[Cause, ...]]
    replaced: dict[str, str] = field(default_factory=dict)


def closure(
    roots: Mapping[str, Iterable[str]], knowledge: Knowledge, configuration: Configuration
) -> Closure:
    """All steps that the chosen repairs need.

    Args:
        roots: chosen repairs, each with the criteria that call for it.
        knowledge: what the plugins declare.
        configuration: tags and facts of the object; what does not fit is left out.

    Returns:
        The steps; empty when no chosen repair fits.
    """
    replaced: dict[str, str] = {}
    kept: set[str] = set()
    while True:
        steps = _ClosureBuilder(knowledge, configuration, frozenset(replaced)).run(roots)
        found = _needless(steps, knowledge, kept)
        orphans = {lesser for lesser in replaced if not _replaces(lesser, steps, knowledge)}
        if orphans:
            # What made them needless was itself needed only by something that is gone.
            kept |= orphans
            replaced = {lesser: by for lesser, by in replaced.items() if lesser not in orphans}
        elif found:
            replaced |= found
        else:
            return Closure({s: tuple(c) for s, c in sorted(steps.items())}, replaced)


def _needless(
    steps: Mapping[str, list[Cause]], knowledge: Knowledge, kept: set[str]
) -> dict[str, str]:
    """Steps that another step among them makes needless, and which one does."""
    found: dict[str, str] = {}
    for step in sorted(s for s in steps if s in knowledge.repairs):
        for lesser in sorted(made_needless(step, knowledge)):
            if lesser in steps and lesser not in kept:
                found.setdefault(lesser, step)
    return found


def _replaces(lesser: str, steps: Mapping[str, list[Cause]], knowledge: Knowledge) -> bool:
    return any(lesser in made_needless(s, knowledge) for s in steps if s in knowledge.repairs)


class _ClosureBuilder:
    """One run of the closure; ``banned`` steps are replaced by better ones."""

    def __init__(
        self, knowledge: Knowledge, configuration: Configuration, banned: frozenset[str]
    ) -> None:
        self.knowledge, self.configuration, self.banned = knowledge, configuration, banned
        self.steps: dict[str, list[Cause]] = {}
        self.todo: list[str] = []

    def run(self, roots: Mapping[str, Iterable[str]]) -> dict[str, list[Cause]]:
        for repair, criteria in sorted(roots.items()):
            for criterion in criteria:
                asks = (
                    self.knowledge.criteria[criterion].asks
                    if criterion in self.knowledge.criteria
                    else criterion
                )
                self.add(repair, Cause("finding", criterion, asks))
        self.drain()
        if self.steps:
            self.add_routine("always")
            if any(is_workshop_work(s, self.knowledge) for s in self.steps):
                self.add_routine("workshop")
            self.drain()
            while self.add_proofs():
                self.drain()
        return self.steps

    def drain(self) -> None:
        while self.todo:
            for step, cause in pulled_by(self.todo.pop(), self.knowledge, self.configuration):
                self.add(step, cause)

    def add(self, step: str, cause: Cause) -> None:
        if step in self.banned or not fits(step, self.knowledge, self.configuration):
            return
        causes = self.steps.get(step)
        if causes is None:
            self.steps[step] = [cause]
            self.todo.append(step)
        elif cause not in causes:
            causes.append(cause)

    def add_routine(self, occasion: Literal["always", "workshop"]) -> None:
        for step in routine(occasion, self.knowledge):
            text = "part of every job" if occasion == "always" else "part of every workshop job"
            self.add(step, Cause("routine", occasion, text))

    def add_proofs(self) -> bool:
        before = len(self.steps)
        for hold in self.knowledge.hold_points.values():
            for step in hold.proves:
                if step in self.steps:
                    self.add(hold.id, Cause("proof", step, "it proves this work"))
        return len(self.steps) > before


def fits(step: str, knowledge: Knowledge, configuration: Configuration) -> bool:
    """Whether a step is known and fits this object."""
    thing = knowledge.place_of(step) or knowledge.work(step)
    return thing is not None and configuration.admits(thing.needs, thing.excludes)


def is_workshop_work(step: str, knowledge: Knowledge) -> bool:
    """Whether a step is a repair that a finding may call for and that no home allows."""
    repair = knowledge.repairs.get(step)
    return repair is not None and repair.when == "called" and repair.workshop


def routine(occasion: Literal["always", "workshop"], knowledge: Knowledge) -> list[str]:
    """Steps that belong to every plan, or to every plan with workshop work."""
    works = (*knowledge.repairs.values(), *knowledge.hold_points.values())
    return [work.id for work in works if work.when == occasion]


def pulled_by(
    step: str, knowledge: Knowledge, configuration: Configuration
) -> Iterator[tuple[str, Cause]]:
    """The steps that a step brings into a plan with it, each with why.

    Without the hold points that prove it, and whether or not the steps fit this object.
    """
    opened = knowledge.place_of(step)
    if opened is not None:
        yield from _pulled_by_place(opened, knowledge, configuration)
        return
    work = knowledge.work(step)
    if work is None:
        return
    yield from _linked(work.requires, work.id, "required")
    for place in work.places:
        yield Step.opening(place), Cause("access", work.id, f"to reach: {work.title}")
    repair = knowledge.repairs.get(work.id)
    if repair:
        yield from _linked(repair.entails, work.id, "entailed")


def _pulled_by_place(
    place: Place, knowledge: Knowledge, configuration: Configuration
) -> Iterator[tuple[str, Cause]]:
    opening, closing = Step.opening(place.id), Step.closing(place.id)
    yield opening, Cause("access", closing, "it must be open before it is closed")
    yield closing, Cause("access", opening, "what was opened is closed again")
    outer = _outer(place, knowledge, configuration)
    if outer:
        yield Step.opening(outer.id), Cause("access", opening, place.reason or place.title)
    yield from _linked(place.open_requires, opening, "required")
    yield from _linked(place.close_requires, closing, "required")
    yield from _linked(place.close_entails, closing, "entailed")


def _outer(place: Place, knowledge: Knowledge, configuration: Configuration) -> Place | None:
    """The nearest enclosing place that this object has."""
    inside = place.inside
    while inside:
        outer = knowledge.places[inside]
        if configuration.admits(outer.needs, outer.excludes):
            return outer
        inside = outer.inside
    return None


def _linked(links: tuple[Link, ...], by: str, kind: CauseKind) -> Iterator[tuple[str, Cause]]:
    for link in links:
        yield link.step, Cause(kind, by, link.because)
