"""Critical chains, compared with the printed tables of three textbooks and with networkx.

A step that only waits, whole days long, on a bench that is open every day, is an activity of a
textbook: it takes no hands and ends at opening time.
"""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from references import reference

from assess.job.workshop_profile import Workshop, load_workshop
from assess.knowledge.model_base import HoursRange
from assess.planning.calendar import Calendar, schedule
from assess.planning.cost_estimate import pert_mean
from assess.planning.critical_path import LongestChain, longest_chain
from assess.planning.tasks import Task

ARROWS = reference("cpm_taylor_8_1")
PERT_TABLES = [reference("pert_porta_vac"), reference("pert_reliable_construction")]
PRINTED_ROWS = [(table, row) for table in PERT_TABLES for row in table["rows"]]
START = dt.date(2027, 1, 11)
DAYS_A_UNIT = 6
"""Means of three whole values are whole sixths, and so whole days."""


def every_day() -> Workshop:
    return load_workshop().model_copy(update={"bench_days": (0, 1, 2, 3, 4, 5, 6)})


def waiting_tasks(durations: dict[str, float]) -> dict[str, Task]:
    return {s: Task(0.0, 24.0 * round(DAYS_A_UNIT * d)) for s, d in durations.items()}


def closed(graph: nx.DiGraph) -> dict[str, frozenset[str]]:
    return {step: frozenset(nx.descendants(graph, step)) for step in graph}


def put(graph: nx.DiGraph, durations: dict[str, float]) -> Calendar:
    return schedule(waiting_tasks(durations), closed(graph), every_day(), START)


def chain_of(graph: nx.DiGraph, durations: dict[str, float]) -> LongestChain:
    return longest_chain(waiting_tasks(durations), closed(graph), every_day(), START)


def earliest(calendar: Calendar, step: str) -> tuple[float, float]:
    """Earliest start and finish of a step, in the unit of the table."""
    booking = next(b for b in calendar.bookings if b.step == step)
    unit = dt.timedelta(days=DAYS_A_UNIT)
    return (booking.start - calendar.start) / unit, (booking.ready - calendar.start) / unit


# Activities on arrows


def arrow_name(row: dict[str, Any]) -> str:
    return f"{row['tail']}-{row['head']}"


def arrows() -> tuple[nx.DiGraph, dict[str, float]]:
    """Every arrow as a step that waits for the arrows ending where it begins."""
    graph = nx.DiGraph()
    graph.add_nodes_from(map(arrow_name, ARROWS["rows"]))
    graph.add_edges_from(
        (arrow_name(a), arrow_name(b))
        for a, b in itertools.permutations(ARROWS["rows"], 2)
        if a["head"] == b["tail"]
    )
    return graph, {arrow_name(r): r["duration"] for r in ARROWS["rows"]}


@pytest.mark.parametrize("row", ARROWS["rows"], ids=arrow_name)
def test_every_printed_earliest_time_of_an_arrow(row: dict[str, Any]) -> None:
    """Taylor, Introduction to Management Science, ch. 8, solutions p. 114, first table."""
    assert earliest(put(*arrows()), arrow_name(row)) == (row["ES"], row["EF"])


def test_length_and_critical_chain_of_arrows() -> None:
    """Taylor, same table: critical path 1-3-4-5-6 of length 20."""
    found = chain_of(*arrows())
    assert found.days == DAYS_A_UNIT * ARROWS["project_length"]
    events = ARROWS["critical_path"].split("-")
    assert found.steps == tuple(f"{a}-{b}" for a, b in itertools.pairwise(events))


# Three values for each activity


def three_values(table: dict[str, Any]) -> dict[str, HoursRange]:
    return {r["activity"]: HoursRange((r["o"], r["m"], r["p"])) for r in table["rows"]}


def activities(table: dict[str, Any]) -> tuple[nx.DiGraph, dict[str, float]]:
    graph = nx.DiGraph()
    graph.add_nodes_from(row["activity"] for row in table["rows"])
    graph.add_edges_from((p, r["activity"]) for r in table["rows"] for p in r["predecessors"])
    return graph, {activity: pert_mean(hours) for activity, hours in three_values(table).items()}


@pytest.mark.parametrize(
    ("table", "row"),
    PRINTED_ROWS,
    ids=[f"{table['title'].split(':')[1].split()[0]}-{row['activity']}"
         for table, row in PRINTED_ROWS],
)  # fmt: skip
def test_every_printed_earliest_time_of_an_activity(
    table: dict[str, Any], row: dict[str, Any]
) -> None:
    """Anderson, Sweeney, Williams, Table 9.4; Hillier, Lieberman, Reliable Construction Co."""
    assert pert_mean(three_values(table)[row["activity"]]) == pytest.approx(row["te"])
    found = earliest(put(*activities(table)), row["activity"])
    assert found == pytest.approx((row["ES"], row["EF"]))


@pytest.mark.parametrize("table", PERT_TABLES, ids=lambda t: t["title"])
def test_the_printed_length_and_chain(table: dict[str, Any]) -> None:
    """Anderson and others: 17 weeks; Hillier and Lieberman: 44 weeks."""
    found = chain_of(*activities(table))
    assert found.days == pytest.approx(DAYS_A_UNIT * table["expected_length"])
    assert found.steps == tuple(table["critical_path"])


# Any network


@st.composite
def networks(draw: st.DrawFn) -> tuple[nx.DiGraph, dict[str, float]]:
    names = [f"s{n}" for n in range(draw(st.integers(1, 9)))]
    graph = nx.DiGraph()
    graph.add_nodes_from(names)
    if pairs := list(itertools.combinations(names, 2)):
        graph.add_edges_from(draw(st.lists(st.sampled_from(pairs), max_size=14)))
    return graph, {name: draw(st.integers(0, 40)) for name in names}


def longest_by_networkx(graph: nx.DiGraph, durations: dict[str, float]) -> float:
    """A step's duration is put on the edges that leave it, and all lead to one end."""
    weighted = nx.DiGraph()
    for step in graph:
        for after in (*graph.successors(step), "the end"):
            weighted.add_edge(step, after, weight=durations[step])
    return nx.dag_longest_path_length(weighted)


@given(networks())
def test_the_length_is_that_of_networkx(job: tuple[nx.DiGraph, dict[str, float]]) -> None:
    length = longest_by_networkx(*job)
    assert chain_of(*job).days == pytest.approx(DAYS_A_UNIT * length)
    calendar = put(*job)
    assert (calendar.finish - calendar.start).days == DAYS_A_UNIT * length


@given(networks())
def test_the_chain_keeps_the_precedence_and_fills_the_length(
    job: tuple[nx.DiGraph, dict[str, float]],
) -> None:
    graph, durations = job
    found = chain_of(graph, durations)
    taken = DAYS_A_UNIT * sum(durations[step] for step in found.steps)
    assert taken == pytest.approx(found.days)
    assert all(nx.has_path(graph, a, b) for a, b in itertools.pairwise(found.steps))
    assert not list(graph.predecessors(found.steps[0]))
    assert not list(graph.successors(found.steps[-1]))


def test_a_step_that_takes_no_time_is_not_passed_over() -> None:
    graph = nx.DiGraph([("agree", "glue"), ("glue", "look"), ("look", "close")])
    found = chain_of(graph, {"agree": 0, "glue": 2, "look": 0, "close": 1})
    assert found.steps == ("agree", "glue", "look", "close")


def test_a_job_without_steps_takes_no_time() -> None:
    assert longest_chain({}, {}, every_day(), START) == LongestChain((), (), (), 0.0)
