"""Order on random precedence graphs, compared with networkx."""

from __future__ import annotations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assess.planning.priority_order import RULES, StepWeight, longest_tail, ordered, with_chain


@st.composite
def graphs(draw: st.DrawFn) -> nx.DiGraph:
    """A random graph without circles, its nodes in random order."""
    size = draw(st.integers(1, 14))
    names = draw(st.permutations([f"s{n}" for n in range(size)]))
    graph = nx.DiGraph()
    graph.add_nodes_from(names)
    pairs = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
    if pairs:
        graph.add_edges_from(draw(st.lists(st.sampled_from(pairs), max_size=30)))
    return graph


weights = st.builds(
    StepWeight,
    stage=st.sampled_from(["bench", "case", "tests"]),
    danger_first=st.booleans(),
    rests=st.booleans(),
    closing=st.booleans(),
    urgency=st.integers(0, 3),
    duration_h=st.floats(0, 100),
)


def closed(graph: nx.DiGraph) -> dict[str, frozenset[str]]:
    return {n: frozenset(nx.descendants(graph, n)) for n in graph}


@given(graphs(), st.data())
def test_it_is_a_topological_order_of_all_steps(graph: nx.DiGraph, data: st.DataObject) -> None:
    chosen = {n: data.draw(weights) for n in graph}
    order = [p.step for p in ordered(closed(graph), chosen)]
    assert sorted(order) == sorted(graph)
    assert all(order.index(a) < order.index(b) for a, b in graph.edges)


@given(graphs(), st.data())
def test_dangers_wait_for_nothing_but_their_prerequisites(
    graph: nx.DiGraph, data: st.DataObject
) -> None:
    chosen = {n: data.draw(weights) for n in graph}
    urgent = {n for n in graph if chosen[n].danger_first}
    first = urgent.union(*(nx.ancestors(graph, n) for n in urgent))
    order = [p.step for p in ordered(closed(graph), chosen)]
    assert set(order[: len(first)]) == first


@given(graphs(), st.data())
def test_the_tail_is_networkxs_longest_path(graph: nx.DiGraph, data: st.DataObject) -> None:
    hours = {n: data.draw(st.floats(0, 100)) for n in graph}
    tails = longest_tail(closed(graph), hours)
    assert set(tails) == set(graph)
    for node in graph:
        below = graph.subgraph({node, *nx.descendants(graph, node)})
        weighted = nx.DiGraph()
        weighted.add_nodes_from(below)
        weighted.add_weighted_edges_from((a, b, hours[b]) for a, b in below.edges)
        longest = nx.dag_longest_path_length(weighted) if below.edges else 0.0
        assert tails[node] == pytest.approx(hours[node] + longest)


def test_each_rule_decides_when_it_should() -> None:
    bare = {"a": frozenset(), "b": frozenset()}
    plain = StepWeight("x")

    def first(one: StepWeight, other: StepWeight) -> tuple[str, str]:
        placed = ordered(bare, {"a": one, "b": other})[0]
        return placed.step, placed.rule

    assert first(plain, StepWeight("x", danger_first=True)) == ("b", RULES[1])
    assert first(StepWeight("x", closing=True), plain) == ("b", RULES[4])
    assert first(plain, StepWeight("x", urgency=2)) == ("b", RULES[5])
    assert first(plain, StepWeight("x", duration_h=3)) == ("b", RULES[6])
    assert first(plain, plain) == ("a", RULES[7])
    assert first(plain, StepWeight("y", rests=True)) == ("b", RULES[2])
    stay = {"a": frozenset(), "b": frozenset(), "c": frozenset()}
    order = ordered(
        stay,
        {"a": StepWeight("x", urgency=3), "b": StepWeight("y", urgency=2), "c": StepWeight("x")},
    )
    assert [p.step for p in order] == ["a", "c", "b"]
    assert order[1].rule == RULES[3]
    assert order[2].rule == RULES[0]


@given(graphs(), st.data())
def test_a_settled_order_of_some_steps_is_kept_when_others_join(
    graph: nx.DiGraph, data: st.DataObject
) -> None:
    steps = list(nx.topological_sort(graph))
    kept = data.draw(st.sets(st.sampled_from(steps)))
    settled = [s for s in steps if s in kept]
    closed = nx.transitive_closure_dag(graph)
    found = with_chain({s: frozenset(after) for s, after in closed.adjacency()}, settled)
    both = nx.DiGraph(graph.edges)
    both.add_nodes_from(graph)
    nx.add_path(both, settled)
    expected = nx.transitive_closure_dag(both).adjacency()
    assert {s: set(a) for s, a in found.items()} == {s: set(a) for s, a in expected}
    order = [p.step for p in ordered(found, {s: StepWeight("bench") for s in found})]
    assert [s for s in order if s in kept] == settled
