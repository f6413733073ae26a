"""Real instruments from public reports: our plan compared with the work that was done.

The job files in ``cases`` hold what was seen and found; ``references/case_order.toml`` holds
what was done, in which order, and where and why our plan goes another way.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

import networkx as nx
import pytest
from conftest import ROOT
from references import reference

import assess
from assess.knowledge.model_base import SCOPES
from assess.knowledge.precedence_graph import master_graph
from assess.knowledge.trade import VERDICT_IDS
from assess.planning.plan import Plan

CASES = ROOT / "tests" / "cases"
FILES = {file.stem: file for file in sorted(CASES.glob("*.toml"))}
REPORTED: dict[str, dict[str, Any]] = {
    case["job"]: case for case in reference("case_order")["case"]
}
ORDERED = [job for job, case in REPORTED.items() if "no_order" not in case]
ORDER_LISTS = ("pairs", "differs", "either", "rework")
FOUND_LATER = "found after opening"

FEWEST_PAIRS = 60
"""Pairs kept by some plan, all cases together."""
FEWEST_OF_EACH = {"organ_wanted_at_another_pitch": 2, "chapel_organ_with_nests_and_jammed_lid": 1}
"""Fewest pairs of one case, where its source reports fewer than :data:`FEWEST`."""
FEWEST = 4


@cache
def assessed(job: str) -> assess.Assessment:
    """The assessment of what was seen and found."""
    return assess.assess(assess.load(FILES[job]))


@cache
def supposed(job: str) -> assess.Assessment:
    """The assessment with those answers added without which the work makes no sense."""
    filled = assess.load(FILES[job]).model_dump()
    for criterion, supposition in REPORTED[job].get("presupposes", {}).items():
        subsystem, _, name = criterion.partition(".")
        table = filled["answers"].setdefault(subsystem, {})
        table[name] = {"answer": supposition["answer"]}
    return assess.assess(assess.Job.model_validate(filled))


def numbers(plan: Plan) -> dict[str, int]:
    """Where in a plan each step stands."""
    return {planned.step: planned.number for planned in plan.steps}


def full_plans(job: str) -> Iterator[dict[str, int]]:
    """The full plan of what was found, and that with what the work presupposes."""
    yield numbers(assessed(job).plans["full"])
    if REPORTED[job].get("presupposes"):
        yield numbers(supposed(job).plans["full"])


def reported(job: str, kind: str) -> list[dict[str, str]]:
    return REPORTED[job].get(kind, [])


def reversed_pairs(pairs: list[dict[str, str]], plan: Mapping[str, int]) -> list[str]:
    """The pairs whose two steps stand in a plan the other way."""
    return [
        f"{p['before']} (step {plan[p['before']]}) was done before "
        f"{p['after']} (step {plan[p['after']]}): {p['told']}"
        for p in pairs
        if plan.keys() >= {p["before"], p["after"]} and plan[p["before"]] > plan[p["after"]]
    ]


def never_together(pairs: list[dict[str, str]], job: str) -> list[str]:
    """The pairs whose two steps stand together in no plan of a case."""
    plans = list(full_plans(job))
    return [
        f"{p['before']}, {p['after']}"
        for p in pairs
        if not any(plan.keys() >= {p["before"], p["after"]} for plan in plans)
    ]


# The job files


def test_each_case_has_its_job_file_and_each_job_file_its_case() -> None:
    assert len(FILES) > 15
    assert set(REPORTED) == set(FILES)
    assert len(REPORTED) == len(reference("case_order")["case"])


@pytest.mark.parametrize("job", FILES)
def test_a_case_is_read_without_a_warning(job: str) -> None:
    assert assessed(job).warnings == ()
    assert supposed(job).warnings == ()


@pytest.mark.parametrize("job", FILES)
def test_a_case_has_a_grade_plans_and_a_verdict(job: str) -> None:
    result = assessed(job)
    assert result.graded.instrument.coverage > 0
    assert set(result.plans) == set(SCOPES)
    assert result.verdict.name
    assert result.verdict.reasons


@pytest.mark.parametrize("job", FILES)
def test_a_case_names_its_sources_and_what_they_leave_open(job: str) -> None:
    comment = FILES[job].read_text(encoding="utf-8").partition("format = 1")[0]
    assert all(line.startswith("#") for line in comment.splitlines())
    assert "Source" in comment
    assert "Left open by the source" in comment


@pytest.mark.parametrize("job", FILES)
def test_what_the_work_presupposes_was_not_found(job: str) -> None:
    found = {f"{s}.{c}" for s, table in assessed(job).job.answers.items() for c in table}
    assert not found & set(REPORTED[job].get("presupposes", {}))
    assert all(s["because"] for s in REPORTED[job].get("presupposes", {}).values())


def test_some_things_were_found_only_after_opening() -> None:
    late = [
        answer
        for job in FILES
        for table in assessed(job).job.answers.values()
        for answer in table.values()
        if FOUND_LATER in answer.note
    ]
    assert len(late) >= 30


# The work that was reported


@pytest.mark.parametrize("job", REPORTED)
def test_the_plan_does_what_was_done(job: str) -> None:
    steps = numbers(assessed(job).plans["full"])
    assert [step for step in REPORTED[job].get("does", []) if step not in steps] == []


@pytest.mark.parametrize("job", REPORTED)
def test_the_plan_leaves_out_what_was_left_out(job: str) -> None:
    plans = full_plans(job)
    assert plans
    for plan in plans:
        assert [step for step in REPORTED[job].get("spares", []) if step in plan] == []


@pytest.mark.parametrize("job", ORDERED)
def test_the_plan_keeps_the_order_that_was_reported(job: str) -> None:
    broken = [
        line for plan in full_plans(job) for line in reversed_pairs(reported(job, "pairs"), plan)
    ]
    assert not broken, "\n".join(broken)


@pytest.mark.parametrize("job", ORDERED)
def test_every_reported_pair_stands_in_some_plan(job: str) -> None:
    pairs = reported(job, "pairs")
    assert never_together(pairs, job) == []
    assert len(pairs) >= FEWEST_OF_EACH.get(job, FEWEST)


def test_enough_work_is_reported_as_done_and_as_left_out() -> None:
    assert sum(len(case.get("does", [])) for case in REPORTED.values()) >= 50
    assert sum(len(case.get("spares", [])) for case in REPORTED.values()) >= 5


def test_enough_pairs_are_reported_in_all() -> None:
    assert sum(len(reported(job, "pairs")) for job in ORDERED) >= FEWEST_PAIRS


@pytest.mark.parametrize("job", ORDERED)
def test_a_declared_reason_stands_behind_each_reported_pair(job: str) -> None:
    """Not by habit of the planner: a chain of declared reasons leads from step to step."""
    order = master_graph(assess.knowledge_in_use())
    loose = [
        f"{p['before']} -> {p['after']}: {p['told']}"
        for p in reported(job, "pairs")
        if p["after"] not in nx.descendants(order, p["before"])
    ]
    assert not loose, "\n".join(["reported, but nothing declares it:", *loose])


@pytest.mark.parametrize("job", [job for job in ORDERED if reported(job, "differs")])
def test_where_it_is_said_to_differ_the_plan_does_differ(job: str) -> None:
    differences = reported(job, "differs")
    assert all(d["reason"] for d in differences)
    assert never_together(differences, job) == []
    turned = [{**d, "before": d["after"], "after": d["before"]} for d in differences]
    agreed = [line for plan in full_plans(job) for line in reversed_pairs(turned, plan)]
    assert not agreed, "\n".join(["no difference any more: make it a pair", *agreed])


@pytest.mark.parametrize("job", [job for job in REPORTED if "fits" in REPORTED[job]])
def test_the_verdict_on_what_was_found_agrees_with_what_was_decided(job: str) -> None:
    result = assessed(job)
    words = {result.trade.verdict(name) for name in VERDICT_IDS}
    assert set(REPORTED[job]["fits"]) <= words
    decided = result.trade.verdict(result.verdict.as_seen)
    assert decided in REPORTED[job]["fits"], REPORTED[job]["decision"]


def test_what_was_decided_is_known_of_most_cases() -> None:
    assert sum(bool(case.get("fits")) for case in REPORTED.values()) >= 15


# The table itself


@pytest.mark.parametrize("job", REPORTED)
def test_every_step_that_is_named_is_known(job: str) -> None:
    case = REPORTED[job]
    named = {*case.get("does", []), *case.get("spares", [])}
    for kind in ORDER_LISTS:
        named |= {pair[end] for pair in reported(job, kind) for end in ("before", "after")}
    assert named - set(assess.knowledge_in_use().steps) == set()


@pytest.mark.parametrize("job", REPORTED)
def test_a_case_has_an_order_or_a_reason_why_there_is_none(job: str) -> None:
    case = REPORTED[job]
    assert case["decision"]
    assert bool(case.get("no_order")) != bool(reported(job, "pairs"))
    listed = [(p["before"], p["after"]) for kind in ORDER_LISTS for p in reported(job, kind)]
    assert len(set(listed)) == len(listed), "a pair stands in two lists"
    assert all(p["told"] for kind in ORDER_LISTS for p in reported(job, kind))


@pytest.mark.parametrize("job", ORDERED)
def test_a_plan_read_backwards_keeps_none_of_it(job: str) -> None:
    """The comparison can fail: read backwards, a plan breaks every pair that it holds."""
    pairs = reported(job, "pairs")
    plans = full_plans(job)
    assert plans
    for plan in plans:
        backwards = {step: -number for step, number in plan.items()}
        held = [p for p in pairs if plan.keys() >= {p["before"], p["after"]}]
        assert len(reversed_pairs(pairs, backwards)) == len(held) - len(reversed_pairs(pairs, plan))
