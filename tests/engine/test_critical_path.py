"""Critical chains, compared with the printed tables of three textbooks and with networkx."""

from __future__ import annotations

import itertools
from typing import Any

import networkx as nx
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from references import reference

from assess.knowledge.model_base import HoursRange
from assess.planning.cost_estimate import pert_mean
from assess.planning.critical_path import Network, network

ARROWS = reference("cpm_taylor_8_1")
PERT_TABLES = [reference("pert_porta_vac"), reference("pert_reliable_construction")]
PRINTED_ROWS = [(table, row) for table in PERT_TABLES for row in table["rows"]]


def closed(graph: nx.DiGraph) -> dict[str, frozenset[str]]:
    return {step: frozenset(nx.descendants(graph, step)) for step in graph}


# Activities on arrows


def arrow_name(row: dict[str, Any]) -> str:
    return f"{row['tail']}-{row['head']}"


def solved_arrows() -> Network:
    """Every arrow as a step that waits for the arrows ending where it begins."""
    graph = nx.DiGraph()
    graph.add_nodes_from(map(arrow_name, ARROWS["rows"]))
    graph.add_edges_from(
        (arrow_name(a), arrow_name(b))
        for a, b in itertools.permutations(ARROWS["rows"], 2)
        if a["head"] == b["tail"]
    )
    return network(closed(graph), {arrow_name(r): r["duration"] for r in ARROWS["rows"]})


@pytest.mark.parametrize("row", ARROWS["rows"], ids=arrow_name)
def test_every_printed_time_of_an_arrow(row: dict[str, Any]) -> None:
    """Taylor, Introduction to Management Science, ch. 8, solutions p. 114, first table."""
    window = solved_arrows().windows[arrow_name(row)]
    assert window.earliest_start == row["ES"]
    assert window.earliest_finish == row["EF"]
    assert window.latest_start == row["LS"]
    assert window.latest_finish == row["LF"]
    assert window.slack == row["slack"]


def test_length_and_critical_chain_of_arrows() -> None:
    """Taylor, same table: critical path 1-3-4-5-6 of length 20."""
    found = solved_arrows()
    assert found.length == ARROWS["project_length"]
    events = ARROWS["critical_path"].split("-")
    assert found.chain == tuple(f"{a}-{b}" for a, b in itertools.pairwise(events))


# Three values for each activity


def three_values(table: dict[str, Any]) -> dict[str, HoursRange]:
    return {r["activity"]: HoursRange((r["o"], r["m"], r["p"])) for r in table["rows"]}


def solved(table: dict[str, Any]) -> Network:
    graph = nx.DiGraph()
    graph.add_nodes_from(row["activity"] for row in table["rows"])
    graph.add_edges_from((p, r["activity"]) for r in table["rows"] for p in r["predecessors"])
    means = {activity: pert_mean(hours) for activity, hours in three_values(table).items()}
    return network(closed(graph), means)


@pytest.mark.parametrize(
    ("table", "row"),
    PRINTED_ROWS,
    ids=[f"{table['title'].split(':')[1].split()[0]}-{row['activity']}"
         for table, row in PRINTED_ROWS],
)  # fmt: skip
def test_every_printed_time_of_an_activity(table: dict[str, Any], row: dict[str, Any]) -> None:
    """Anderson, Sweeney, Williams, Table 9.4; Hillier, Lieberman, Reliable Construction Co."""
    hours = three_values(table)[row["activity"]]
    window = solved(table).windows[row["activity"]]
    assert pert_mean(hours) == pytest.approx(row["te"])
    assert window.earliest_start == pytest.approx(row["ES"])
    assert window.earliest_finish == pytest.approx(row["EF"])
    assert window.latest_start == pytest.approx(row["LS"], abs=1e-9)
    assert window.latest_finish == pytest.approx(row["LF"])
    assert window.slack == pytest.approx(row["slack"], abs=1e-9)


@pytest.mark.parametrize("table", PERT_TABLES, ids=lambda t: t["title"])
def test_the_printed_length_and_chain(table: dict[str, Any]) -> None:
    """Anderson and others: 17 weeks; Hillier and Lieberman: 44 weeks."""
    found = solved(table)
    assert found.length == pytest.approx(table["expected_length"])
    assert found.chain == tuple(table["critical_path"])


# Any network


@st.composite
def networks(draw: st.DrawFn) -> tuple[nx.DiGraph, dict[str, float]]:
    names = [f"s{n}" for n in range(draw(st.integers(1, 9)))]
    graph = nx.DiGraph()
    graph.add_nodes_from(names)
    if pairs := list(itertools.combinations(names, 2)):
        graph.add_edges_from(draw(st.lists(st.sampled_from(pairs), max_size=14)))
    durations = st.one_of(st.integers(0, 4), st.floats(0, 40))
    return graph, {name: draw(durations) for name in names}


def longest_by_networkx(graph: nx.DiGraph, durations: dict[str, float]) -> float:
    """A step's duration is put on the edges that leave it, and all lead to one end."""
    weighted = nx.DiGraph()
    for step in graph:
        for after in (*graph.successors(step), "the end"):
            weighted.add_edge(step, after, weight=durations[step])
    return nx.dag_longest_path_length(weighted)


@given(networks())
def test_the_length_is_that_of_networkx(job: tuple[nx.DiGraph, dict[str, float]]) -> None:
    graph, durations = job
    found = network(closed(graph), durations)
    assert found.length == pytest.approx(longest_by_networkx(graph, durations))


@given(networks())
def test_the_chain_keeps_the_precedence_and_fills_the_length(
    job: tuple[nx.DiGraph, dict[str, float]],
) -> None:
    graph, durations = job
    found = network(closed(graph), durations)
    assert sum(durations[step] for step in found.chain) == pytest.approx(found.length)
    assert found.chain
    assert all(nx.has_path(graph, a, b) for a, b in itertools.pairwise(found.chain))
    assert all(found.windows[step].slack <= 1e-6 for step in found.chain)
    assert not list(graph.predecessors(found.chain[0]))
    assert not list(graph.successors(found.chain[-1]))


@given(networks(), st.data())
def test_slack_is_what_a_step_can_grow_by(
    job: tuple[nx.DiGraph, dict[str, float]], data: st.DataObject
) -> None:
    graph, durations = job
    found = network(closed(graph), durations)
    step = data.draw(st.sampled_from(sorted(durations)))
    slack = found.windows[step].slack
    assert slack >= -1e-9
    grown = {**durations, step: durations[step] + slack}
    assert longest_by_networkx(graph, grown) == pytest.approx(found.length)
    longer = {**durations, step: durations[step] + slack + 1}
    assert longest_by_networkx(graph, longer) == pytest.approx(found.length + 1)


@given(networks())
def test_no_step_begins_before_what_it_waits_for(
    job: tuple[nx.DiGraph, dict[str, float]],
) -> None:
    graph, durations = job
    assume(graph.edges)
    windows = network(closed(graph), durations).windows
    for before, after in graph.edges:
        assert windows[after].earliest_start >= windows[before].earliest_finish - 1e-9
        assert windows[after].latest_start >= windows[before].latest_finish - 1e-9


def test_a_step_that_takes_no_time_is_not_passed_over() -> None:
    graph = nx.DiGraph([("agree", "glue"), ("glue", "look"), ("look", "close")])
    found = network(closed(graph), {"agree": 0, "glue": 2, "look": 0, "close": 1})
    assert found.chain == ("agree", "glue", "look", "close")


def test_a_job_without_steps_takes_no_time() -> None:
    assert network({}, {}) == Network({}, 0.0, ())
