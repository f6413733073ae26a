"""Precedence to an order that a person works in.

Among the steps that are free, taken in this order:

1. what removes a danger to people or a live infestation, and what must come before that;
2. rest that only takes time, so that it passes while other work goes on;
3. what lies on the bench where the craftsman already stands, since walking between benches
   and laying tools out again is what makes a plan hard to follow;
4. work before closing up: what is open stays open until nothing free is left to do;
5. the higher urgency of the findings that the step, or what waits for it, answers;
6. the longer tail of work and drying that waits for it.

The order is worked out once for everything that any scope of a job may need, and every plan
is a part of it: leaving repairs out never turns two remaining steps round.
"""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

Descendants = Mapping[str, AbstractSet[str]]
"""For each step all steps that come after it, not only the next ones."""


@dataclass(frozen=True)
class StepWeight:
    """What the ordering needs to know of a step."""

    stage: str
    danger_first: bool = False
    rests: bool = False
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
    "it only has to rest, and that goes on while other work is done",
    "it lies on the bench where one already stands",
    "work comes before closing up",
    "it is more urgent",
    "more work and drying waits for it",
    "by name, for want of any other reason",
)


def ordered(descendants: Descendants, weights: Mapping[str, StepWeight]) -> list[Placed]:
    """An order of all steps that keeps the precedence and follows the rules above.

    Args:
        descendants: the transitively closed precedence among the steps, without circles.
        weights: what is known of each step.
    """
    urgent = {s for s in descendants if weights[s].danger_first}
    danger = {s for s in descendants if s in urgent or descendants[s] & urgent}
    urgency = {
        s: max([weights[s].urgency, *(weights[f].urgency for f in descendants[s])])
        for s in descendants
    }
    tails = longest_tail(descendants, {s: weights[s].duration_h for s in descendants})
    waiting = dict.fromkeys(descendants, 0)
    for after in descendants.values():
        for step in after:
            waiting[step] += 1
    free = {s for s, count in waiting.items() if count == 0}
    order: list[Placed] = []
    bench = ""
    while free:
        keys = {
            s: (
                s not in danger,
                not weights[s].rests,
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
        for follower in descendants[step]:
            waiting[follower] -= 1
            if waiting[follower] == 0:
                free.add(follower)
    return order


def _rule(chosen: tuple[object, ...], other: tuple[object, ...] | None) -> str:
    if other is None:
        return RULES[0]
    place = next(i for i, (a, b) in enumerate(zip(chosen, other, strict=True)) if a != b)
    return RULES[1 + place]


def longest_tail(descendants: Descendants, duration_h: Mapping[str, float]) -> dict[str, float]:
    """The longest chain of hours from each step, itself included, to the end."""
    tails: dict[str, float] = {}
    # In a closed precedence whatever comes later has fewer descendants.
    for step in sorted(descendants, key=lambda s: (len(descendants[s]), s)):
        tails[step] = duration_h[step] + max((tails[f] for f in descendants[step]), default=0.0)
    return tails


def predecessors(descendants: Descendants) -> dict[str, AbstractSet[str]]:
    """For each step all steps that come before it."""
    before: dict[str, set[str]] = {step: set() for step in descendants}
    for step, after in descendants.items():
        for follower in after:
            before[follower].add(step)
    return {step: frozenset(found) for step, found in before.items()}
