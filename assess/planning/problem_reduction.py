"""A smaller problem with the same choices, so that the solver has less to go through.

Steps that pull each other in a circle are chosen together or not at all, so they become one. What
follows through other steps is left out, and so is a set of steps one of which is pulled in any
case. Steps that everything demanded needs, whichever of its alternatives is taken, are forced.
All of it is exact: no choice is lost, and none is added.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from assess.planning.selection_problem import Gain, Limit, Problem, Whole

Sets = tuple[frozenset[str], ...]


@dataclass(frozen=True)
class Reduced:
    """A problem with fewer steps and rows.

    Attributes:
        problem: the smaller one; a step of it stands for all ``members`` under its name.
        members: for each of its steps those of the whole problem.
        stands_for: for each step of the whole problem the one that stands for it.
        forced: steps without which what is demanded is out of reach.
    """

    problem: Problem
    members: Mapping[str, frozenset[str]]
    stands_for: Mapping[str, str]
    forced: frozenset[str]

    def all_of(self, steps: Iterable[str]) -> frozenset[str]:
        """The steps of the whole problem that some steps stand for."""
        return frozenset[str]().union(*(self.members[step] for step in steps))


def reduced(problem: Problem) -> Reduced:
    """The smaller problem, in which the same can be chosen."""
    members, after = _circles(problem)
    stands_for = {step: name for name, steps in members.items() for step in steps}

    def named(sets: Iterable[frozenset[str]]) -> set[frozenset[str]]:
        return {frozenset(stands_for[step] for step in any_of) for any_of in sets}

    pulls = {
        name: _needed(named(s for step in steps for s in problem.pulls.get(step, ())), after, name)
        for name, steps in members.items()
    }
    gains = {
        name: Gain(gain.points, _needed(named(gain.needs), after))
        for name, gain in problem.gains.items()
    }
    forced = frozenset[str]().union(
        *(
            frozenset.intersection(*(_closed(gains[gain].needs, after) for gain in group))
            for group in problem.demanded
            if group
        )
    )
    smaller = Problem(
        {name: sum(problem.prices[s] for s in sorted(steps)) for name, steps in members.items()},
        {name: _open(sets, forced) for name, sets in pulls.items()},
        {name: Gain(gain.points, _open(gain.needs, forced)) for name, gain in gains.items()},
        problem.rivals,
        problem.demanded,
        tuple(Whole(w.price, _summed(w.amounts, stands_for)) for w in problem.wholes),
        tuple(Limit(_summed(limit.amounts, stands_for), limit.most) for limit in problem.limits),
    )
    return Reduced(smaller, members, stands_for, forced)


def _circles(problem: Problem) -> tuple[dict[str, frozenset[str]], dict[str, frozenset[str]]]:
    """Steps that pull each other, under the name of the first; and all that each pulls at last."""
    import networkx as nx

    graph = nx.DiGraph()
    graph.add_nodes_from(sorted(problem.prices))
    for step, sets in problem.pulls.items():
        graph.add_edges_from((step, next(iter(s))) for s in sets if len(s) == 1)
    single = nx.condensation(graph)
    members = {n: frozenset(steps) for n, steps in single.nodes(data="members")}
    name = {n: min(steps) for n, steps in members.items()}
    after: dict[str, frozenset[str]] = {}
    for n in reversed(list(nx.topological_sort(single))):
        direct = frozenset(name[m] for m in single[n])
        after[name[n]] = direct.union(*(after[step] for step in direct))
    return {name[n]: steps for n, steps in members.items()}, after


def _needed(sets: set[frozenset[str]], after: Mapping[str, frozenset[str]], own: str = "") -> Sets:
    """Sets of which a step is needed, without those that another of them, or the step, implies."""
    singles = {step for s in sets if len(s) == 1 for step in s} - {own}
    implied = frozenset[str]().union(*(after[step] for step in singles))
    sure = singles | implied | {own}
    direct = [frozenset({step}) for step in sorted(singles - implied)]
    several = [s for s in sets if len(s) > 1 and not s & sure]
    return (*direct, *sorted((s for s in several if not any(o < s for o in several)), key=sorted))


def _closed(needs: Sets, after: Mapping[str, frozenset[str]]) -> frozenset[str]:
    """All single steps that some needs bring at last."""
    singles = [step for s in needs if len(s) == 1 for step in s]
    return frozenset(singles).union(*(after[step] for step in singles))


def _open(sets: Sets, forced: frozenset[str]) -> Sets:
    """The sets that what is forced does not satisfy already."""
    return tuple(s for s in sets if not s & forced)


def _summed(amounts: Mapping[str, float], stands_for: Mapping[str, str]) -> dict[str, float]:
    summed: dict[str, float] = {}
    for step, amount in amounts.items():
        name = stands_for[step]
        summed[name] = summed.get(name, 0.0) + amount
    return summed
