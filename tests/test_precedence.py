"""The planner compared with an order of work that comes from outside it.

``references/precedence.toml`` says, with a reason and a source for each, which work must be
finished before which. It speaks in words of its own (tokens); a table in it names the steps of
a plan that stand for each.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from itertools import product
from pathlib import Path
from typing import get_args

import networkx as nx
import pytest
from references import reference

import assess
from assess.knowledge.model_base import Scope
from assess.knowledge.precedence_graph import master_graph, precedence
from assess.knowledge.steps import Step, StepKind

TESTS = Path(__file__).parent
REFERENCE = reference("precedence")
TOKENS: dict[str, list[str]] = REFERENCE["tokens"]
STEPS = sorted({step for steps in TOKENS.values() for step in steps})
PART = {step: part for part, steps in REFERENCE["parts"].items() for step in steps}
BEFORE_ANY_PLAN = {"INTAKE", "SURVEY", "ESTIMATE"}
SCOPES: tuple[Scope, ...] = get_args(Scope)

NEVER_EXERCISED: dict[str, str] = {}
"""Edge id -> why no plan of any job file here can hold both its ends."""


@dataclass(frozen=True)
class Edge:
    """One row of the reference."""

    id: str
    before: str
    after: str
    type: str
    because: str
    tag: str
    disputed: str = ""

    @property
    def pairs(self) -> list[tuple[str, str]]:
        """Steps of which the first must be finished before the second begins."""
        pairs = product(TOKENS[self.before], TOKENS[self.after])
        return [pair for pair in pairs if _same_part(*pair)]

    def __str__(self) -> str:
        return f"{self.id} {self.before} -> {self.after} ({self.type}, {self.tag}): {self.because}"


def _same_part(before: str, after: str) -> bool:
    return PART.get(before, PART.get(after)) == PART.get(after, PART.get(before))


EDGES = [Edge(**row) for row in REFERENCE["edge"]]
ASKED = [e for e in EDGES if not e.disputed and TOKENS.get(e.before) and TOKENS.get(e.after)]
"""The edges that a plan can be asked to keep."""


def _job_files() -> list[Path]:
    """Job files; a workshop profile has no ``format``."""
    folders = (TESTS.parent / "fixtures", TESTS / "cases")
    files = sorted(file for folder in folders for file in folder.glob("*.toml"))
    return [file for file in files if "format" in tomllib.loads(file.read_text("utf-8-sig"))]


JOBS = _job_files()


def _job_name(file: Path) -> str:
    return f"{file.parent.name}/{file.stem}"


@cache
def _plans(job: Path) -> dict[Scope, dict[str, int]]:
    """For each scope, where in its plan each step stands."""
    plans = assess.assess(assess.load(job)).plans
    return {
        scope: {planned.step: number for number, planned in enumerate(plans[scope].steps, 1)}
        for scope in SCOPES
    }


def _held(edge: Edge, numbers: dict[str, int]) -> list[tuple[str, str]]:
    """The pairs of an edge that a plan holds both of."""
    return [pair for pair in edge.pairs if numbers.keys() >= set(pair)]


# What a plan does


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("job", JOBS, ids=_job_name)
def test_a_plan_keeps_every_edge(job: Path, scope: Scope) -> None:
    numbers = _plans(job)[scope]
    broken = [
        f"{_job_name(job)}, {scope}: {before} (step {numbers[before]}) must stand before "
        f"{after} (step {numbers[after]})\n    {edge}"
        for edge in ASKED
        for before, after in _held(edge, numbers)
        if numbers[before] >= numbers[after]
    ]
    assert not broken, "\n".join(["edges reversed:", *broken])


@pytest.mark.parametrize("edge", ASKED, ids=lambda e: e.id)
def test_some_job_exercises_each_edge(edge: Edge) -> None:
    where = [
        f"{_job_name(job)}, {scope}"
        for job in JOBS
        for scope, numbers in _plans(job).items()
        if _held(edge, numbers)
    ]
    if edge.id in NEVER_EXERCISED:
        assert not where, f"no exception is needed: {where[0]} holds both ends of {edge}"
    else:
        assert where, f"in none of {len(JOBS)} job files does a plan hold both ends of {edge}"


# What the knowledge says


@pytest.mark.parametrize("step", STEPS)
def test_each_mapped_step_is_known(step: str) -> None:
    knowledge = assess.knowledge_in_use()
    found = Step(step)
    if found.is_access:
        assert found.kind in (StepKind.OPEN, StepKind.CLOSE)
        assert found.target in knowledge.places
    else:
        assert found.target in knowledge.repairs or found.target in knowledge.hold_points


@cache
def _declared_order() -> nx.DiGraph:
    return master_graph(assess.knowledge_in_use())


@pytest.mark.parametrize("edge", ASKED, ids=lambda e: e.id)
def test_the_knowledge_itself_asks_for_each_edge(edge: Edge) -> None:
    """Not only in these job files: a chain of declared reasons leads from step to step."""
    order = _declared_order()
    assert edge.pairs
    loose = [
        (before, after)
        for before, after in edge.pairs
        if before not in order or after not in nx.descendants(order, before)
    ]
    assert not loose, f"no declared reason puts one before the other: {loose}\n    {edge}"


# What the reference is


def test_every_token_of_the_step_list_is_mapped_once() -> None:
    step_list = REFERENCE["step_list"]
    assert len(set(step_list)) == len(step_list)
    assert set(TOKENS) == set(step_list)
    assert {token for token, steps in TOKENS.items() if not steps} == BEFORE_ANY_PLAN
    mapped = [step for steps in TOKENS.values() for step in steps]
    assert sorted(mapped) == STEPS, "a step stands under two tokens"


def test_parts_name_mapped_steps_once() -> None:
    named = [step for steps in REFERENCE["parts"].values() for step in steps]
    assert len(set(named)) == len(named)
    assert set(named) <= set(STEPS)


def test_most_edges_are_asked() -> None:
    assert len(ASKED) > 90
    assert len(JOBS) > 20
    assert len(STEPS) > 90


def test_edges_are_complete_and_numbered_once() -> None:
    assert [edge.id for edge in EDGES] == [f"E{number:02}" for number in range(121)]
    assert len({(edge.before, edge.after) for edge in EDGES}) == len(EDGES)


@pytest.mark.parametrize("edge", EDGES, ids=lambda e: e.id)
def test_each_edge_is_well_formed(edge: Edge) -> None:
    assert {edge.before, edge.after} <= set(TOKENS)
    assert edge.type in REFERENCE["types"]
    assert edge.because
    sources = {source.partition(":")[0] for source in REFERENCE["source"]}
    assert set(edge.tag.split(", ")) <= sources | set(REFERENCE["tags"])
    if edge in ASKED:
        assert edge.pairs, "its parts leave nothing to check"


def test_every_source_is_used() -> None:
    sources = {source.partition(":")[0] for source in REFERENCE["source"]}
    assert sources <= {tag for edge in EDGES for tag in edge.tag.split(", ")}


def test_edges_do_not_run_in_a_circle() -> None:
    graph = nx.DiGraph([(edge.before, edge.after) for edge in EDGES])
    assert nx.is_directed_acyclic_graph(graph), nx.find_cycle(graph)


def test_exceptions_name_edges_that_are_asked() -> None:
    assert set(NEVER_EXERCISED) <= {edge.id for edge in ASKED}
    assert all(NEVER_EXERCISED.values())


def test_what_follows_a_step_is_what_networkx_says() -> None:
    knowledge = assess.knowledge_in_use()
    closed = nx.transitive_closure_dag(master_graph(knowledge))
    expected = {node: frozenset(after) for node, after in closed.adjacency()}
    assert precedence(knowledge).descendants == expected
    assert sum(map(len, expected.values())) > 10_000
