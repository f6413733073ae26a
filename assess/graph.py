"""From chosen repairs to all steps they need, and the order between those steps.

*Closure*: prerequisites, what must follow, the places that must be opened and closed, the
hold points that prove the work, and the routine of every job are added. *Restriction*:
precedence holds through repairs that this instrument does not need, so the transitive
closure of the master graph is restricted to the chosen steps.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Literal

from assess.catalogue import Knowledge
from assess.instrument import Setting
from assess.knowledge import Link, Place, Work
from assess.precedence import Reason, made_needless, master_graph

if TYPE_CHECKING:
    import networkx as nx

CauseKind = Literal["finding", "required", "entailed", "access", "proof", "routine"]


@dataclass(frozen=True)
class Cause:
    """Why a step is in the plan at all: the kind, what brought it in, and the words."""

    kind: CauseKind
    by: str
    text: str


@dataclass(frozen=True)
class Chosen:
    """The steps of a plan, each with what brought it in; and what was found needless.

    ``replaced`` maps a lesser repair to the thorough one that makes it needless.
    """

    steps: dict[str, tuple[Cause, ...]]
    replaced: dict[str, str] = field(default_factory=dict)


def closure(roots: Mapping[str, Iterable[str]], knowledge: Knowledge, setting: Setting) -> Chosen:
    """All steps that the chosen repairs need.

    Args:
        roots: chosen repairs, each with the criteria that call for it.
        knowledge: what the plugins declare.
        setting: the instrument's tags and facts; what does not fit it is left out.

    Returns:
        The steps; empty when no chosen repair fits the instrument.
    """
    replaced: dict[str, str] = {}
    kept: set[str] = set()
    while True:
        steps = _Closing(knowledge, setting, frozenset(replaced)).run(roots)
        found = _needless(steps, knowledge, kept)
        orphans = {lesser for lesser in replaced if not _replaces(lesser, steps, knowledge)}
        if orphans:
            # What made them needless was itself needed only by something that is gone.
            kept |= orphans
            replaced = {lesser: by for lesser, by in replaced.items() if lesser not in orphans}
        elif found:
            replaced |= found
        else:
            return Chosen({s: tuple(c) for s, c in sorted(steps.items())}, replaced)


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


class _Closing:
    """One run of the closure; ``banned`` steps are replaced by better ones."""

    def __init__(self, knowledge: Knowledge, setting: Setting, banned: frozenset[str]) -> None:
        self.knowledge, self.setting, self.banned = knowledge, setting, banned
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
            if any(self.needs_workshop(s) for s in self.steps):
                self.add_routine("workshop")
            self.drain()
            while self.add_proofs():
                self.drain()
        return self.steps

    def drain(self) -> None:
        while self.todo:
            self.follow(self.todo.pop())

    def add(self, step: str, cause: Cause) -> None:
        if step in self.banned or not self.fits(step):
            return
        causes = self.steps.get(step)
        if causes is None:
            self.steps[step] = [cause]
            self.todo.append(step)
        elif cause not in causes:
            causes.append(cause)

    def fits(self, step: str) -> bool:
        thing = self.thing(step)
        return thing is not None and self.setting.admits(thing.needs, thing.excludes)

    def thing(self, step: str) -> Work | Place | None:
        word, _, name = step.rpartition(" ")
        return self.knowledge.places.get(name) if word else self.knowledge.work(step)

    def needs_workshop(self, step: str) -> bool:
        repair = self.knowledge.repairs.get(step)
        return repair is not None and repair.when == "called" and repair.workshop

    def follow(self, step: str) -> None:
        thing = self.thing(step)
        if isinstance(thing, Place):
            self.follow_place(thing)
        elif thing is not None:
            self.follow_work(thing)

    def follow_work(self, work: Work) -> None:
        title = work.title
        self.add_links(work.requires, work.id, "required")
        for place in work.places:
            self.add(f"open {place}", Cause("access", work.id, f"to reach: {title}"))
        repair = self.knowledge.repairs.get(work.id)
        if repair:
            self.add_links(repair.entails, work.id, "entailed")

    def follow_place(self, place: Place) -> None:
        opening, closing = f"open {place.id}", f"close {place.id}"
        self.add(opening, Cause("access", closing, "it must be open before it is closed"))
        self.add(closing, Cause("access", opening, "what was opened is closed again"))
        outer = self.outer(place)
        if outer:
            self.add(f"open {outer.id}", Cause("access", opening, place.reason or place.title))
        self.add_links(place.open_requires, opening, "required")
        self.add_links(place.close_requires, closing, "required")
        self.add_links(place.close_entails, closing, "entailed")

    def outer(self, place: Place) -> Place | None:
        """The nearest enclosing place that this instrument has."""
        inside = place.inside
        while inside:
            outer = self.knowledge.places[inside]
            if self.setting.admits(outer.needs, outer.excludes):
                return outer
            inside = outer.inside
        return None

    def add_links(self, links: tuple[Link, ...], by: str, kind: CauseKind) -> None:
        for link in links:
            self.add(link.step, Cause(kind, by, link.because))

    def add_routine(self, occasion: Literal["always", "workshop"]) -> None:
        works = (*self.knowledge.repairs.values(), *self.knowledge.hold_points.values())
        for work in works:
            if work.when == occasion:
                text = "part of every job" if occasion == "always" else "part of every workshop job"
                self.add(work.id, Cause("routine", occasion, text))

    def add_proofs(self) -> bool:
        before = len(self.steps)
        for hold in self.knowledge.hold_points.values():
            for step in hold.proves:
                if step in self.steps:
                    self.add(hold.id, Cause("proof", step, "it proves this work"))
        return len(self.steps) > before


@dataclass(frozen=True)
class Precedence:
    """The master graph and everything that follows from it, worked out once."""

    master: nx.DiGraph

    @cached_property
    def followers(self) -> dict[str, frozenset[str]]:
        """For every node, all that comes after it: the transitive closure of the master graph."""
        import networkx as nx

        closed = nx.transitive_closure_dag(self.master)
        return {node: frozenset(after) for node, after in closed.adjacency()}

    def among(self, steps: Iterable[str]) -> dict[str, frozenset[str]]:
        """For some steps, which of them come after each, holding through steps that are absent."""
        chosen = frozenset(steps)
        return {step: self.followers[step] & chosen for step in sorted(chosen)}

    def direct(self, step: str, steps: Mapping[str, object]) -> list[tuple[str, Reason]]:
        """Every direct reason that puts a step after another of the given steps."""
        return [
            (before, reason)
            for before in sorted(self.master.predecessors(step))
            if before in steps
            for reason in self.master.edges[before, step]["reasons"]
        ]


@lru_cache(maxsize=4)
def precedence(knowledge: Knowledge) -> Precedence:
    """The precedence that the knowledge declares.

    Raises:
        CycleError: the declared order runs in a circle.
    """
    return Precedence(master_graph(knowledge))
