"""Precedence to an order that a person works in.

Among the steps that are free, taken in this order:

1. what removes a danger to people or a live infestation, and what must come before that;
2. what lies on the bench where the craftsman already stands, since walking between benches
   and laying tools out again is what makes a plan hard to follow;
3. work before closing up: what is open stays open until nothing free is left to do;
4. the higher urgency of the findings that the step, or what waits for it, answers;
5. the longer tail of work and drying that waits for it.

The order is worked out once for everything that any scope of a job may need, and every plan
is a part of it: leaving repairs out never turns two remaining steps round.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import networkx as nx


@dataclass(frozen=True)
class StepWeight:
    """What the ordering needs to know of a step."""

    stage: str
    danger_first: bool = False
    closing: bool = False
    urgency: int = 0
    duration_h: float = 0.0


@dataclass(frozen=True)
class Placed:
    """A step in the order, and the rule that put it before the others that were free."""

    step: str
    rule: str


RULES = (
    "nothing else was free",
    "dangers to people and live infestations come first",
    "it lies on the bench where one already stands",
    "work comes before closing up",
    "it is more urgent",
    "more work and drying waits for it",
    "by name, for want of any other reason",
)


def ordered(graph: nx.DiGraph, weights: Mapping[str, StepWeight]) -> list[Placed]:
    """An order of all steps that keeps the precedence and follows the rules above.

    Args:
        graph: precedence among the steps, without circles.
        weights: what is known of each step.
    """
    danger = _with_ancestors(graph, {s for s in graph if weights[s].danger_first})
    urgency = _inherited_urgency(graph, weights)
    tails = tail_hours(graph, {s: weights[s].duration_h for s in graph})
    waiting = {s: graph.in_degree(s) for s in graph}
    free = {s for s, count in waiting.items() if count == 0}
    order: list[Placed] = []
    bench = ""
    while free:
        keys = {
            s: (
                s not in danger,
                weights[s].stage != bench,
                weights[s].closing,
                -urgency[s],
                -round(tails[s], 6),
                s,
            )
            for s in free
        }
        ranked = sorted(free, key=keys.__getitem__)
        step = ranked[0]
        order.append(Placed(step, _rule(keys[step], keys[ranked[1]] if ranked[1:] else None)))
        bench = weights[step].stage
        free.discard(step)
        for follower in graph.successors(step):
            waiting[follower] -= 1
            if waiting[follower] == 0:
                free.add(follower)
    return order


def _rule(chosen: tuple[object, ...], other: tuple[object, ...] | None) -> str:
    if other is None:
        return RULES[0]
    place = next(i for i, (a, b) in enumerate(zip(chosen, other, strict=True)) if a != b)
    return RULES[1 + place]


def _with_ancestors(graph: nx.DiGraph, steps: set[str]) -> set[str]:
    found = set(steps)
    for step in steps:
        found |= nx.ancestors(graph, step)
    return found


def _inherited_urgency(graph: nx.DiGraph, weights: Mapping[str, StepWeight]) -> dict[str, int]:
    urgency: dict[str, int] = {}
    for step in reversed(list(nx.lexicographical_topological_sort(graph))):
        followers = [urgency[f] for f in graph.successors(step)]
        urgency[step] = max([weights[step].urgency, *followers])
    return urgency


def tail_hours(graph: nx.DiGraph, duration_h: Mapping[str, float]) -> dict[str, float]:
    """The longest chain of hours from each step, itself included, to the end."""
    tails: dict[str, float] = {}
    for step in reversed(list(nx.lexicographical_topological_sort(graph))):
        tails[step] = duration_h[step] + max((tails[f] for f in graph.successors(step)), default=0)
    return tails
