"""The master graph: everything that must come before something else, and why.

Nodes are steps. Two nodes that are no steps, :data:`ARRIVED` and :data:`READY`, stand
between the phases: whatever belongs to the arrival comes before all work, whatever
belongs to the departure after it. A step that supersedes another inherits its reasons
of order towards other work. The graph itself is networkx's, loaded where it is asked for; what
every command needs of it, whether it has circles and what follows what, is worked out without.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from graphlib import CycleError as CircleFound
from graphlib import TopologicalSorter
from itertools import compress, pairwise
from typing import TYPE_CHECKING, Literal

from assess.base.errors import CycleError
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.steps import Step, StepKind
from assess.knowledge.work import HoldPoint, Link, Place, Work

if TYPE_CHECKING:
    import networkx as nx

ARRIVED = Step("~arrived")
READY = Step("~ready")
ReasonKind = Literal["access", "trade", "proof", "phase"]


@dataclass(frozen=True)
class Reason:
    """Why one step comes before another: the words, their kind, and their source."""

    text: str
    kind: ReasonKind
    source: str = ""


Edge = tuple[Step, Step, Reason]
"""The earlier step, the later one, and why."""


@dataclass(frozen=True)
class Precedence:
    """Everything that follows from the master graph, worked out once.

    Attributes:
        nodes: every step, and the two nodes between the phases.
        reasons: each direct precedence, the earlier step first, and why.
    """

    nodes: tuple[str, ...]
    reasons: Mapping[tuple[str, str], tuple[Reason, ...]]

    @cached_property
    def descendants(self) -> dict[str, frozenset[str]]:
        """For every node, all that comes after it: the transitive closure of the master graph.

        Sets are the bits of whole numbers, which takes a tenth of the time of networkx, and spares
        its import.
        """
        after: dict[str, list[str]] = {node: [] for node in self.nodes}
        for before, later in self.reasons:
            after[before].append(later)
        place = {node: at for at, node in enumerate(self.nodes)}
        reached: dict[str, int] = {}
        for node in TopologicalSorter(after).static_order():
            bits = 0
            for later in after[node]:
                bits |= reached[later] | 1 << place[later]
            reached[node] = bits
        return {node: frozenset(compress(self.nodes, _bits(reached[node]))) for node in self.nodes}

    def among(self, steps: Iterable[str]) -> dict[str, frozenset[str]]:
        """For some steps, which of them come after each, holding through steps that are absent."""
        chosen = frozenset(steps)
        return {step: self.descendants[step] & chosen for step in sorted(chosen)}

    def direct(self, step: str, steps: Mapping[str, object]) -> list[tuple[str, Reason]]:
        """Every direct reason that puts a step after another of the given steps."""
        return [
            (before, reason)
            for before in self._before.get(step, ())
            if before in steps
            for reason in self.reasons[before, step]
        ]

    @cached_property
    def _before(self) -> dict[str, list[str]]:
        """For each node those that come directly before it, in the order of their names."""
        before: dict[str, list[str]] = {}
        for earlier, later in sorted(self.reasons):
            before.setdefault(later, []).append(earlier)
        return before


def _bits(number: int) -> Iterator[int]:
    """The bits of a number, the lowest first."""
    return map(int, reversed(f"{number:b}"))


@kept
def precedence(knowledge: Knowledge) -> Precedence:
    """The precedence that the knowledge declares.

    Raises:
        CycleError: the declared order runs in a circle.
    """
    nodes = (*sorted(knowledge.steps), ARRIVED, READY)
    return Precedence(nodes, reasons_of_order(knowledge))


@kept
def master_graph(knowledge: Knowledge) -> nx.DiGraph:
    """Every step of the knowledge, with each direct precedence and its reasons.

    The edge attribute ``reasons`` is a tuple of :class:`Reason`. The graph is kept for the
    next call and frozen against changes.

    Raises:
        CycleError: the declared order runs in a circle; every edge is named.
    """
    import networkx as nx

    graph = nx.DiGraph()
    found = precedence(knowledge)
    graph.add_nodes_from(found.nodes)
    for (before, after), reasons in found.reasons.items():
        graph.add_edge(before, after, reasons=reasons)
    return nx.freeze(graph)


@kept
def reasons_of_order(knowledge: Knowledge) -> dict[tuple[str, str], tuple[Reason, ...]]:
    """Each direct precedence, the earlier step first, with its reasons; kept for the next call.

    Raises:
        CycleError: the declared order runs in a circle; every edge is named.
    """
    order: dict[tuple[str, str], tuple[Reason, ...]] = {}
    declared = list(_edges(knowledge))
    for before, after, reason in (*declared, *_default_holds(knowledge, declared)):
        known = order.get((before, after), ())
        if reason not in known:
            order[before, after] = (*known, reason)
    _refuse_circles(order)
    return order


def _refuse_circles(order: dict[tuple[str, str], tuple[Reason, ...]]) -> None:
    sorter: TopologicalSorter[str] = TopologicalSorter()
    for before, after in order:
        sorter.add(after, before)
    try:
        sorter.prepare()
    except CircleFound as found:
        edges = [
            f"{before} comes before {after} ({order[before, after][0].text})"
            for before, after in pairwise(found.args[1])
        ]
        circle = "; ".join(edges)
        raise CycleError(f"the order of work runs in a circle: {circle}; drop one") from None


def _edges(knowledge: Knowledge) -> Iterator[Edge]:
    for place in knowledge.places.values():
        yield from _place_edges(place, knowledge)
    own: dict[str, list[Edge]] = {}
    for work in (*knowledge.repairs.values(), *knowledge.hold_points.values()):
        yield from _access_edges(work, knowledge)
        yield from _phase_edges(work, knowledge.trade.noun)
        own[work.id] = list(_link_edges(work, knowledge))
        yield from own[work.id]
    yield from _inherited(knowledge, own)


def _links(links: tuple[Link, ...]) -> Iterator[tuple[Step, Reason]]:
    for link in links:
        yield Step(link.step), Reason(link.because, "trade", link.source)


def _place_edges(place: Place, knowledge: Knowledge) -> Iterator[Edge]:
    opening, closing, noun = Step.opening(place.id), Step.closing(place.id), knowledge.trade.noun
    yield opening, closing, Reason("what was opened is closed again", "access")
    yield ARRIVED, opening, Reason("arrival first, then opening", "phase")
    yield closing, READY, Reason(f"all is closed before the {noun} leaves", "phase")
    if place.inside:
        outer = knowledge.places[place.inside]
        text = place.reason or f"{_lower(place.title)} is reached through {_lower(outer.title)}"
        yield Step.opening(outer.id), opening, Reason(text, "access", place.source)
        yield closing, Step.closing(outer.id), Reason(text, "access", place.source)
    for step, reason in _links(place.open_requires + place.open_after):
        yield step, opening, reason
    for step, reason in _links(place.open_requires):
        if step.kind is StepKind.OPEN:
            title = _lower(knowledge.places[step.target].title)
            text = f"{title} stays open until {_lower(place.title)} is closed"
            yield closing, Step.closing(step.target), Reason(text, "access", reason.source)
    for step, reason in _links(place.close_requires + place.close_after):
        yield step, closing, reason
    for step, reason in _links(place.close_entails):
        yield closing, step, reason


def _access_edges(work: Work, knowledge: Knowledge) -> Iterator[Edge]:
    step = Step(work.id)
    for place in work.places:
        title = _lower(knowledge.places[place].title)
        yield Step.opening(place), step, Reason(f"needs this open: {title}", "access")
        yield step, Step.closing(place), Reason(f"then this is closed: {title}", "access")


def _phase_edges(work: Work, noun: str) -> Iterator[Edge]:
    step = Step(work.id)
    if work.phase == "arrival":
        yield step, ARRIVED, Reason("it belongs before all work", "phase")
        return
    if work.phase == "departure":
        yield READY, step, Reason("it belongs after all work", "phase")
        return
    yield ARRIVED, step, Reason("arrival first, then the work", "phase")
    yield step, READY, Reason(f"all work is done before the {noun} leaves", "phase")


def _link_edges(work: Work, knowledge: Knowledge) -> Iterator[Edge]:
    own = Step(work.id)
    for step, reason in _links(work.requires + work.after):
        yield step, own, reason
    for step, reason in _links(work.before):
        yield own, step, reason
    if work.id in knowledge.repairs:
        for step, reason in _links(knowledge.repairs[work.id].entails):
            yield own, step, reason
    if work.id in knowledge.hold_points:
        for proved in knowledge.hold_points[work.id].proves:
            yield Step(proved), own, Reason("it is the work that this test proves", "proof")


def _default_holds(knowledge: Knowledge, declared: Iterable[Edge]) -> Iterator[Edge]:
    """A hold point that declares nothing to hold back comes before its places are closed."""
    silent = [hold for hold in knowledge.hold_points.values() if not hold.before]
    if not silent:
        return
    after: dict[str, set[str]] = {}
    for before, later, _ in declared:
        after.setdefault(before, set()).add(later)
    for hold in silent:
        for closing in closings_held_by(hold, knowledge):
            if not _leads_to(closing, hold.id, after):
                yield Step(hold.id), closing, Reason("it is proved before it is closed", "proof")


def closings_held_by(hold: HoldPoint, knowledge: Knowledge) -> list[Step]:
    """The closing of every place in which what a hold point proves is done."""
    proved = (knowledge.work(step) for step in hold.proves)
    places = [place for work in proved if work for place in work.places]
    return [Step.closing(place) for place in dict.fromkeys(places)]


def _leads_to(step: str, goal: str, after: Mapping[str, Iterable[str]]) -> bool:
    """Whether the goal comes after a step, directly or through others."""
    seen, todo = {step}, [step]
    while todo:
        for later in after.get(todo.pop(), ()):
            if later == goal:
                return True
            if later not in seen:
                seen.add(later)
                todo.append(later)
    return False


def _inherited(knowledge: Knowledge, own: dict[str, list[Edge]]) -> Iterator[Edge]:
    """Reasons of order that thorough work takes over from the lesser work it replaces."""
    incoming: dict[str, list[Edge]] = {}
    for edges in own.values():
        for edge in edges:
            for end in edge[:2]:
                incoming.setdefault(end, []).append(edge)
    for repair in knowledge.repairs.values():
        gone = all_superseded(repair.id, knowledge) | {repair.id}
        for lesser in sorted(gone - {repair.id}):
            for before, after, reason in incoming.get(lesser, []):
                # An order within the lesser work says nothing of the one that replaces it all,
                # and when to open or close a place belongs to where the lesser work is done.
                other = after if before == lesser else before
                if other not in gone and not other.is_access:
                    first = Step(repair.id) if before == lesser else before
                    second = Step(repair.id) if after == lesser else after
                    yield first, second, reason


def all_superseded(repair: str, knowledge: Knowledge) -> set[str]:
    """Every repair that this one makes needless, directly or through others."""
    found: set[str] = set()
    todo = list(knowledge.repairs[repair].supersedes)
    while todo:
        lesser = todo.pop()
        if lesser not in found and lesser in knowledge.repairs:
            found.add(lesser)
            todo += knowledge.repairs[lesser].supersedes
    return found - {repair}


def made_needless(repair: str, knowledge: Knowledge) -> frozenset[str]:
    """Every repair that this one makes needless, as lesser work or because it says so itself."""
    return all_made_needless(knowledge).get(repair, frozenset())


@kept
def all_made_needless(knowledge: Knowledge) -> dict[str, frozenset[str]]:
    """For each repair what :func:`made_needless` gives."""
    spared = _spared(knowledge)
    found = {}
    for repair in knowledge.repairs:
        less = all_superseded(repair, knowledge)
        found[repair] = frozenset(less.union(*(spared.get(r, ()) for r in (repair, *less)))) - {
            repair
        }
    return found


def _spared(knowledge: Knowledge) -> dict[str, frozenset[str]]:
    """For each repair those that are done only unless it is."""
    spared: dict[str, frozenset[str]] = {}
    for repair in knowledge.repairs.values():
        for link in repair.unless:
            spared[link.step] = spared.get(link.step, frozenset()) | {repair.id}
    return spared


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:]
