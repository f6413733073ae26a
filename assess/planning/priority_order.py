"""Precedence to an order that a person works in.

Among the steps that are free, taken in this order:

1. what removes a danger to people or a live infestation, and what must come before that;
2. waiting that needs no hands, so that it passes while other work goes on;
3. what is done at the bench where the craftsman already is, since changing benches makes a
   plan hard to follow;
4. work before closing up: what is open stays open until nothing free is left to do;
5. the higher urgency of the findings that the step, or what waits for it, answers;
6. the longer tail of work and drying that waits for it.

The order is worked out once for everything that any scope of a job may need, and every plan
is a part of it: leaving repairs out never reverses two remaining steps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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


NO_CHOICE = "nothing else was free"
RULES = (
    NO_CHOICE,
    "dangers to people and live infestations come first",
    "it only has to rest, and that goes on while other work is done",
    "now, because you are already at this bench",
    "work comes before closing up",
    "it is more urgent",
    "more work and drying waits for it",
    "alphabetical",
)


_Key = tuple[tuple[bool, bool], bool, tuple[bool, int, float, str]]
"""What is compared: before the bench, whether it is another one, and what follows the bench."""


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
    first = {s: (s not in danger, not weights[s].rests) for s in descendants}
    last = {s: (weights[s].closing, -urgency[s], -round(tails[s], 6), s) for s in descendants}
    stages = {s: weights[s].stage for s in descendants}
    order: list[Placed] = []
    bench = ""
    while free:
        keys = [(first[s], stages[s] != bench, last[s]) for s in free]
        best = min(keys)
        keys.remove(best)
        step = best[2][-1]
        order.append(Placed(step, _rule(best, min(keys, default=None))))
        bench = stages[step]
        free.discard(step)
        for follower in descendants[step]:
            waiting[follower] -= 1
            if waiting[follower] == 0:
                free.add(follower)
    return order


def _rule(chosen: _Key, other: _Key | None) -> str:
    if other is None:
        return RULES[0]
    pairs = zip(_flat(chosen), _flat(other), strict=True)
    place = next(i for i, (a, b) in enumerate(pairs) if a != b)
    return RULES[1 + place]


def _flat(key: _Key) -> tuple[object, ...]:
    before, bench, after = key
    return (*before, bench, *after)


def longest_tail(descendants: Descendants, duration_h: Mapping[str, float]) -> dict[str, float]:
    """The longest chain of hours from each step, itself included, to the end."""
    tails: dict[str, float] = {}
    # In a closed precedence a later step has fewer descendants.
    for step in sorted(descendants, key=lambda s: (len(descendants[s]), s)):
        tails[step] = duration_h[step] + max((tails[f] for f in descendants[step]), default=0.0)
    return tails


def with_chain(descendants: Descendants, chain: Sequence[str]) -> dict[str, frozenset[str]]:
    """A precedence with some steps put in one fixed order as well.

    Args:
        descendants: the transitively closed precedence among the steps, without circles.
        chain: some of the steps, in an order that keeps the precedence.

    Returns:
        The transitive closure of both. It has no circle, since any order of some steps that
        keeps the precedence can be extended to all of them.
    """
    place = {step: number for number, step in enumerate(chain)}
    first = {
        step: min((place[d] for d in (step, *after) if d in place), default=len(chain))
        for step, after in descendants.items()
    }
    later: list[frozenset[str]] = [frozenset()]
    for step in reversed(chain):
        later.append(later[-1] | {step} | descendants[step])
    later.reverse()
    return {
        step: frozenset((after | later[first[step]]) - {step})
        for step, after in descendants.items()
    }


def predecessors(descendants: Descendants) -> dict[str, AbstractSet[str]]:
    """For each step all steps that come before it."""
    before: dict[str, set[str]] = {step: set() for step in descendants}
    for step, after in descendants.items():
        for follower in after:
            before[follower].add(step)
    return {step: frozenset(found) for step, found in before.items()}
