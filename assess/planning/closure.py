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
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.precedence_graph import all_made_needless
from assess.knowledge.steps import Step
from assess.knowledge.work import Link, Place
from assess.planning.access import access_to, fitting_place, is_open_already
from assess.planning.fault_finding import Search

CauseKind = Literal["finding", "complaint", "required", "entailed", "access", "proof", "routine"]


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
    roots: Mapping[str, Iterable[str]],
    knowledge: Knowledge,
    configuration: Configuration,
    searches: Iterable[Search] = (),
) -> Closure:
    """All steps that the chosen repairs and searches need.

    Args:
        roots: chosen repairs, each with the criteria that call for it.
        knowledge: what the plugins declare.
        configuration: tags and facts of the object; what does not fit is left out.
        searches: what the cause is to be found of.

    Returns:
        The steps; empty when no chosen repair fits and nothing is to be found.
    """
    replaced: dict[str, str] = {}
    needed: set[str] = set()
    while True:
        builder = _ClosureBuilder(knowledge, configuration, frozenset(replaced))
        steps = builder.run(roots, searches)
        found = _needless(steps, knowledge, needed)
        orphans = {lesser for lesser in replaced if not _replaces(lesser, steps, knowledge)}
        if orphans:
            # What made them needless was itself needed only by something that is gone.
            needed |= orphans
            replaced = {lesser: by for lesser, by in replaced.items() if lesser not in orphans}
        elif found:
            replaced |= found
        else:
            return Closure({s: tuple(c) for s, c in sorted(steps.items())}, replaced)


def _needless(
    steps: Mapping[str, list[Cause]], knowledge: Knowledge, needed: set[str]
) -> dict[str, str]:
    """Steps that another step among them makes needless, and which one does.

    A step that is needless makes no other step needless, and two steps never make each other so.
    """
    every = all_made_needless(knowledge)
    makes = {
        step: (every[step] & steps.keys()) - needed
        for step in sorted(s for s in steps if s in knowledge.repairs)
    }

    def made_by(repairs: Iterable[str]) -> set[str]:
        return set().union(*(makes[repair] for repair in repairs))

    perhaps = made_by(makes)
    while True:
        surely = made_by(makes.keys() - perhaps)
        still = made_by(makes.keys() - surely)
        if still == perhaps:
            break
        perhaps = still
    found: dict[str, str] = {}
    for step, lesser in makes.items():
        found |= {repair: step for repair in sorted(lesser & surely) if repair not in found}
    return found


def _replaces(lesser: str, steps: Mapping[str, list[Cause]], knowledge: Knowledge) -> bool:
    every = all_made_needless(knowledge)
    return any(lesser in every[s] for s in steps if s in every)


class _ClosureBuilder:
    """One run of the closure; ``banned`` steps are replaced by better ones."""

    def __init__(
        self, knowledge: Knowledge, configuration: Configuration, banned: frozenset[str]
    ) -> None:
        self.knowledge, self.configuration, self.banned = knowledge, configuration, banned
        self.links = links_of(knowledge, configuration)
        self.steps: dict[str, list[Cause]] = {}
        self.todo: list[str] = []

    def run(
        self, roots: Mapping[str, Iterable[str]], searches: Iterable[Search]
    ) -> dict[str, list[Cause]]:
        away = False
        for search in searches:
            self.steps[search.step] = [Cause("complaint", search.symptom, complaint_said(search))]
            for step, cause in pulled_by_search(search, self.configuration):
                self.add(step, cause)
            away = away or search.workshop
        for repair, criteria in sorted(roots.items()):
            for criterion in criteria:
                asks = self.knowledge.criteria[criterion].asks
                self.add(repair, Cause("finding", criterion, asks))
        self.drain()
        if self.steps:
            self.add_routine("always")
            away = away or any(
                is_workshop_work(s, self.knowledge, self.configuration) for s in self.steps
            )
            if away:
                self.add_routine("workshop")
            self.drain()
            while self.add_proofs():
                self.drain()
        return self.steps

    def drain(self) -> None:
        while self.todo:
            for step, cause in self.links.pulled(self.todo.pop()):
                self.add(step, cause)

    def add(self, step: str, cause: Cause) -> None:
        if step in self.banned or not self.links.fits(step):
            return
        causes = self.steps.get(step)
        if causes is None:
            self.steps[step] = [cause]
            self.todo.append(step)
        elif cause not in causes:
            causes.append(cause)

    def add_routine(self, occasion: Literal["always", "workshop"]) -> None:
        text = "part of every job" if occasion == "always" else "part of every workshop job"
        for step in routine(occasion, self.knowledge, self.configuration):
            reason = "it is open already" if Step(step).is_access else text
            self.add(step, Cause("routine", occasion, reason))

    def add_proofs(self) -> bool:
        before = len(self.steps)
        for hold in self.knowledge.hold_points.values():
            for step in hold.proves:
                if step in self.steps:
                    self.add(hold.id, Cause("proof", step, "it proves this work"))
        return len(self.steps) > before


class Links:
    """What fits objects of one configuration and what each step brings in, kept once worked out."""

    def __init__(self, knowledge: Knowledge, configuration: Configuration) -> None:
        self.knowledge, self.configuration = knowledge, configuration
        self._fits: dict[str, bool] = {}
        self._pulled: dict[str, tuple[tuple[str, Cause], ...]] = {}

    def fits(self, step: str) -> bool:
        """As :func:`fits`."""
        if step not in self._fits:
            self._fits[step] = fits(step, self.knowledge, self.configuration)
        return self._fits[step]

    def pulled(self, step: str) -> tuple[tuple[str, Cause], ...]:
        """As :func:`pulled_by`."""
        if step not in self._pulled:
            self._pulled[step] = tuple(pulled_by(step, self.knowledge, self.configuration))
        return self._pulled[step]


def links_of(knowledge: Knowledge, configuration: Configuration) -> Links:
    """The links of an object, kept for others with the same tags and the same places open."""
    return _links(knowledge, configuration.tags, configuration.opened)


@kept
def _links(knowledge: Knowledge, tags: frozenset[str], opened: frozenset[str]) -> Links:
    # Numbers of the object, and what was assumed of it, change none.
    return Links(knowledge, Configuration(tags, {}, {}, (), opened))


def fits(step: str, knowledge: Knowledge, configuration: Configuration) -> bool:
    """Whether a step is known and fits this object; what is open already is not opened."""
    thing = knowledge.place_of(step) or knowledge.work(step)
    if thing is None or is_open_already(step, configuration):
        return False
    return configuration.admits(thing.needs, thing.excludes)


def is_workshop_work(step: str, knowledge: Knowledge, configuration: Configuration) -> bool:
    """Whether a step is a repair that a finding may call for and that no home allows.

    Where the object stands in the workshop already, everything is done there.
    """
    if configuration.in_workshop:
        return True
    repair = knowledge.repairs.get(step)
    return repair is not None and repair.when == "called" and repair.workshop


def routine(
    occasion: Literal["always", "workshop"], knowledge: Knowledge, configuration: Configuration
) -> list[str]:
    """Steps that belong to every plan, or to every plan with workshop work.

    What is open already is closed in every plan.
    """
    works = (*knowledge.repairs.values(), *knowledge.hold_points.values())
    found = [work.id for work in works if work.when == occasion]
    if occasion == "always":
        found += [Step.closing(place) for place in sorted(configuration.opened)]
    return found


def complaint_said(search: Search) -> str:
    """Why a search is in a plan."""
    return f'complained of: "{search.asks}", and nothing found explains it'


def pulled_by_search(search: Search, configuration: Configuration) -> Iterator[tuple[str, Cause]]:
    """The steps that a search brings into a plan with it, each with why."""
    reason = f"to find the cause: {search.asks}"
    for place in search.places:
        yield access_to(place, configuration), Cause("access", search.step, reason)


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
        yield access_to(place, configuration), Cause("access", work.id, f"to reach: {work.title}")
    repair = knowledge.repairs.get(work.id)
    if repair:
        yield from _linked(repair.entails, work.id, "entailed")


def _pulled_by_place(
    place: Place, knowledge: Knowledge, configuration: Configuration
) -> Iterator[tuple[str, Cause]]:
    opening, closing = Step.opening(place.id), Step.closing(place.id)
    yield opening, Cause("access", closing, "it must be open before it is closed")
    yield closing, Cause("access", opening, "what was opened is closed again")
    outer = fitting_place(place.inside, knowledge, configuration)
    if outer:
        reason = place.reason or place.title
        own = access_to(place.id, configuration)
        yield access_to(outer.id, configuration), Cause("access", own, reason)
    if place.id not in configuration.opened:
        yield from _open_first(place, configuration)
    yield from _linked(place.close_requires, closing, "required")
    yield from _linked(place.close_entails, closing, "entailed")


def _open_first(place: Place, configuration: Configuration) -> Iterator[tuple[str, Cause]]:
    """What opening a place requires; of a place that is open already, only that it is closed."""
    for step, cause in _linked(place.open_requires, Step.opening(place.id), "required"):
        already = is_open_already(step, configuration)
        yield (Step.closing(Step(step).target) if already else step), cause


def _linked(links: tuple[Link, ...], by: str, kind: CauseKind) -> Iterator[tuple[str, Cause]]:
    for link in links:
        yield link.step, Cause(kind, by, link.because)
