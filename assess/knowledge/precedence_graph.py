"""The master graph: everything that must come before something else, and why.

Nodes are steps. Two nodes that are no steps, :data:`ARRIVED` and :data:`READY`, stand
between the phases: whatever belongs to the arrival comes before all work, whatever
belongs to the departure after it. A step that supersedes another inherits its reasons
of order towards other work. Graph work is networkx's; only whether the order can be kept at
all is asked of the standard library, so that grades need not wait for networkx.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from graphlib import CycleError as CircleFound
from graphlib import TopologicalSorter
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from assess.base.errors import CycleError
from assess.knowledge.declaration import Link, Place, Work
from assess.knowledge.knowledge_base import Knowledge

if TYPE_CHECKING:
    import networkx as nx

ARRIVED = "~arrived"
READY = "~ready"
ReasonKind = Literal["access", "trade", "proof", "phase"]


@dataclass(frozen=True)
class Reason:
    """Why one step comes before another: the words, their kind, and their source."""

    text: str
    kind: ReasonKind
    source: str = ""


Edge = tuple[str, str, Reason]


@lru_cache(maxsize=4)
def master_graph(knowledge: Knowledge) -> nx.DiGraph:
    """Every step of the knowledge, with each direct precedence and its reasons.

    The edge attribute ``reasons`` is a tuple of :class:`Reason`. The graph is kept for the
    next call and frozen against changes.

    Raises:
        CycleError: the declared order runs in a circle; every edge is named.
    """
    import networkx as nx

    graph = nx.DiGraph()
    graph.add_nodes_from(sorted(knowledge.steps()))
    graph.add_nodes_from([ARRIVED, READY])
    for (before, after), reasons in reasons_of_order(knowledge).items():
        graph.add_edge(before, after, reasons=reasons)
    return nx.freeze(graph)


@lru_cache(maxsize=4)
def reasons_of_order(knowledge: Knowledge) -> dict[tuple[str, str], tuple[Reason, ...]]:
    """Each direct precedence, the earlier step first, with its reasons; kept for the next call.

    Raises:
        CycleError: the declared order runs in a circle; every edge is named.
    """
    order: dict[tuple[str, str], tuple[Reason, ...]] = {}
    for before, after, reason in _edges(knowledge):
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
        circle = found.args[1]
        lines = [
            f"  {before} comes before {after}: {order[before, after][0].text}"
            for before, after in pairwise(circle)
        ]
        raise CycleError("the order of work runs in a circle:\n" + "\n".join(lines)) from None


def _edges(knowledge: Knowledge) -> Iterator[Edge]:
    for place in knowledge.places.values():
        yield from _place_edges(place, knowledge)
    own: dict[str, list[Edge]] = {}
    for work in (*knowledge.repairs.values(), *knowledge.hold_points.values()):
        yield from _access_edges(work, knowledge)
        yield from _phase_edges(work)
        own[work.id] = list(_link_edges(work, knowledge))
        yield from own[work.id]
    yield from _inherited(knowledge, own)


def _links(links: tuple[Link, ...]) -> Iterator[tuple[str, Reason]]:
    for link in links:
        yield link.step, Reason(link.because, "trade", link.source)


def _place_edges(place: Place, knowledge: Knowledge) -> Iterator[Edge]:
    opening, closing = f"open {place.id}", f"close {place.id}"
    yield opening, closing, Reason("what was opened is closed again", "access")
    yield ARRIVED, opening, Reason("nothing is opened before the arrival is done with", "phase")
    yield closing, READY, Reason("all is closed before the instrument leaves", "phase")
    if place.inside:
        outer = knowledge.places[place.inside]
        text = place.reason or f"{_lower(place.title)} is reached through {_lower(outer.title)}"
        yield f"open {outer.id}", opening, Reason(text, "access", place.source)
        yield closing, f"close {outer.id}", Reason(text, "access", place.source)
    for step, reason in _links(place.open_requires + place.open_after):
        yield step, opening, reason
    for step, reason in _links(place.open_requires):
        word, _, other = step.partition(" ")
        if word == "open":
            title = _lower(knowledge.places[other].title)
            text = f"{title} stays open until {_lower(place.title)} is closed"
            yield closing, f"close {other}", Reason(text, "access", reason.source)
    for step, reason in _links(place.close_requires + place.close_after):
        yield step, closing, reason
    for step, reason in _links(place.close_entails):
        yield closing, step, reason


def _access_edges(work: Work, knowledge: Knowledge) -> Iterator[Edge]:
    for place in work.places:
        title = _lower(knowledge.places[place].title)
        yield f"open {place}", work.id, Reason(f"done while this is open: {title}", "access")
        yield work.id, f"close {place}", Reason(f"then this is closed: {title}", "access")


def _phase_edges(work: Work) -> Iterator[Edge]:
    if work.phase == "arrival":
        yield work.id, ARRIVED, Reason("it belongs before all work", "phase")
        return
    if work.phase == "departure":
        yield READY, work.id, Reason("it belongs after all work", "phase")
        return
    yield ARRIVED, work.id, Reason("it waits until the arrival is done with", "phase")
    yield work.id, READY, Reason("all work is done before the instrument leaves", "phase")


def _link_edges(work: Work, knowledge: Knowledge) -> Iterator[Edge]:
    for step, reason in _links(work.requires + work.after):
        yield step, work.id, reason
    for step, reason in _links(work.before):
        yield work.id, step, reason
    if work.id in knowledge.repairs:
        for step, reason in _links(knowledge.repairs[work.id].entails):
            yield work.id, step, reason
    if work.id in knowledge.hold_points:
        for step in knowledge.hold_points[work.id].proves:
            yield step, work.id, Reason("it is the work that this test proves", "proof")


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
                if other not in gone and not other.startswith(("open ", "close ")):
                    first = repair.id if before == lesser else before
                    second = repair.id if after == lesser else after
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


def made_needless(repair: str, knowledge: Knowledge) -> set[str]:
    """Every repair that this one makes needless, as lesser work or because it says so itself."""
    superseded = all_superseded(repair, knowledge)
    spared = _spared(knowledge)
    return superseded.union(*(spared.get(r, ()) for r in (repair, *superseded))) - {repair}


@lru_cache(maxsize=4)
def _spared(knowledge: Knowledge) -> dict[str, frozenset[str]]:
    """For each repair those that are done only unless it is."""
    spared: dict[str, frozenset[str]] = {}
    for repair in knowledge.repairs.values():
        for link in repair.unless:
            spared[link.step] = spared.get(link.step, frozenset()) | {repair.id}
    return spared


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:]
