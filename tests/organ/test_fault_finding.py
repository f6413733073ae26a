"""Finding the cause of what an organ's owner complains of, for every complaint there is."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import pytest
from conftest import ROOT, job_of

import assess
from assess.knowledge.steps import Step, StepKind
from assess.output.plans import plan_text
from assess.planning.closure import fits
from assess.planning.plan import Plan

KNOWLEDGE = assess.knowledge_in_use()
SYMPTOMS = KNOWLEDGE.symptoms
SCOPES = ("working", "full")
WORN = '[answers.pneumatics]\nstraps = "broken or off"\n[answers.casework]\nloose_joints = 3\n'
CASE_OPEN = 'opened = ["casework.back_panel", "action.key_slip"]\n'


@cache
def complained(symptom: str, told: str = "", answers: str = "") -> assess.Assessment:
    complaint = f'[[history.complaint]]\nsymptom = "{symptom}"\n'
    text = f"format = 1\n[history]\n{told}\n{complaint}{answers}"
    return assess.assess(job_of(text), knowledge=KNOWLEDGE)


def numbers(plan: Plan) -> dict[str, int]:
    return {step.step: step.number for step in plan.steps}


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_each_complaint_is_looked_into_at_the_owners_before_anything_is_closed(
    symptom: str,
) -> None:
    result = complained(symptom)
    search = Step.finding(symptom)
    for scope in SCOPES:
        plan = result.plans[scope]
        at = numbers(plan)
        assert not plan.workshop_job
        for step in map(Step, at):
            assert step.kind is not StepKind.OPEN or at[step] < at[search]
            assert step.kind is not StepKind.CLOSE or at[search] < at[step]
    assert search not in numbers(result.plans["stabilise"])


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_it_takes_a_minute_at_least_and_two_hours_at_most(symptom: str) -> None:
    """All declared looks are made in a visit, which takes an hour or two (common practice)."""
    (search,) = complained(symptom).searches
    low, likely, high = search.hours
    assert 0.01 <= low <= likely <= high <= 2
    assert likely < high


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_tests_are_in_the_declared_order_and_open_only_what_a_visit_may(symptom: str) -> None:
    """A detail gives its turn to the question that opens it, as long as nobody answered that."""
    (search,) = complained(symptom).searches
    turns = [asked_first(test) for test in SYMPTOMS[symptom].tests]
    assert list(search.tests) == [t for t in dict.fromkeys(turns) if t in search.tests]
    assert all(KNOWLEDGE.places[place].at_visit for place in search.places)


def asked_first(test: str) -> str:
    """The question to ask before a test where nothing has been answered: itself, or an opener."""
    openings = KNOWLEDGE.criteria[test].openings
    return asked_first(openings[0].criterion) if openings else test


def test_a_detail_is_tested_once_the_question_that_opens_it_shows_something() -> None:
    symptom, opener, detail = (
        "action.note_sounds_by_itself",
        "action.ciphering_notes",
        "action.cipher_pattern",
    )
    (before,) = complained(symptom).searches
    assert opener in before.tests
    assert detail not in before.tests
    (after,) = complained(symptom, answers="[answers.action]\nciphering_notes = 6\n").searches
    assert opener not in after.tests
    assert detail in after.tests
    (none,) = complained(symptom, answers="[answers.action]\nciphering_notes = 0\n").searches
    assert not {opener, detail} & set(none.tests)


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_the_cures_are_likely_ones_and_leave_little_unsaid(symptom: str) -> None:
    cures = complained(symptom).likely_cures("full")[Step.finding(symptom)]
    assert cures.listed
    chances = [cure.chance for cure in cures.listed]
    assert all(first >= second for first, second in pairwise(chances))
    assert all(0 < chance <= 1 for chance in (*chances, cures.otherwise))
    assert sum(chances) + cures.otherwise >= 1 - 1e-6, "one of them produced it, or none did"
    for cure in cures.listed:
        assert cure.cost >= -0.01
        assert bool(cure.repairs) or cure.cost == pytest.approx(0, abs=0.01)


def explaining(symptom: str) -> str | None:
    """The answer that is the strongest cause of a symptom, as a job file says it."""
    for cause in sorted(SYMPTOMS[symptom].causes, key=lambda c: -c.strength):
        criterion = KNOWLEDGE.criteria[cause.criterion]
        outcomes = [
            o
            for o in criterion.outcomes
            if (o.label in cause.answers if cause.answers else o.condition >= cause.from_class)
        ]
        if criterion.measured or criterion.computed_from or criterion.needs or not outcomes:
            continue
        subsystem, name = cause.criterion.split(".")
        return f'[answers.{subsystem}]\n{name} = "{outcomes[-1].label}"\n'
    return None


@pytest.mark.parametrize("symptom", [s for s in SYMPTOMS if explaining(s)])
def test_an_explanation_ends_the_search_and_keeps_its_cure(symptom: str) -> None:
    answers = explaining(symptom)
    assert answers is not None
    told = complained(symptom, answers=answers)
    alone = assess.assess(job_of(f"format = 1\n{answers}"), knowledge=KNOWLEDGE)
    (explained,) = told.complaints
    searched = Step.finding(symptom) in numbers(told.plans["full"])
    assert searched is not explained.is_explained
    for scope in SCOPES:
        done = numbers(told.plans[scope]).keys() | told.plans[scope].replaced.keys()
        called = set(alone.plans[scope].called)
        called.update(*(finding.calls(scope) for finding in told.graded.findings))
        assert {step for step in called if fits(step, KNOWLEDGE, told.configuration)} <= done


def test_most_complaints_have_an_answer_that_ends_the_search() -> None:
    ended = [
        s
        for s in SYMPTOMS
        if (answers := explaining(s)) and complained(s, answers=answers).searches == ()
    ]
    assert len(ended) > len(SYMPTOMS) / 2


@pytest.mark.parametrize("symptom", ["action.note_sounds_by_itself", "pneumatics.loses_wind"])
def test_scenarios_cost_no_less_than_the_plan_with_its_search(symptom: str) -> None:
    result = complained(symptom, answers=WORN)
    for scope in SCOPES:
        plan = result.plans[scope]
        assert Step.finding(symptom) in numbers(plan)
        hours = result.scenarios.costs[scope].mean_h
        assert hours.min() >= plan.cost.hours.mean * (1 - 1e-4)
        assert Step.finding(symptom) in plan.estimate.variance_shares


@pytest.mark.parametrize("symptom", ["action.note_sounds_by_itself", "reeds.silent_note"])
def test_straps_are_renewed_only_after_the_fault_was_made_to_happen(symptom: str) -> None:
    at = numbers(complained(symptom, answers=WORN).plans["full"])
    assert at[Step.finding(symptom)] < at["pneumatics.renew_straps"]


def test_what_stands_open_in_the_workshop_is_tested_there() -> None:
    told = f'now_at = "the workshop"\n{CASE_OPEN}'
    result = complained("action.note_sounds_by_itself", told)
    plan = result.plans["working"]
    at = numbers(plan)
    assert plan.workshop_job
    assert "casework.bring_to_workshop" not in at
    assert "casework.deliver" in at
    assert plan.cost.transport == result.workshop.transport / 2
    assert not [step for step in at if step.startswith("open ")]
    closings = [step for step in at if step.startswith("close ")]
    assert {"close casework.back_panel", "close action.key_slip"} <= set(closings)


def test_a_fault_of_the_straps_is_explained_and_not_looked_for() -> None:
    job = assess.load(ROOT / "fixtures" / "one_strap.toml")
    result = assess.assess(job, knowledge=KNOWLEDGE)
    assert result.complaints[0].is_explained
    assert result.searches == ()
    assert "Find the cause" not in plan_text(result, result.plans["working"])


def test_the_command_takes_the_step(run, tmp_path) -> None:  # type: ignore[no-untyped-def]
    job = tmp_path / "job.toml"
    job.write_text(
        'format = 1\n[[history.complaint]]\nsymptom = "action.note_sounds_by_itself"\n' + WORN
    )
    for arguments in (
        ("plan", job),
        ("plan", job, "--how"),
        ("calendar", job, "--start", "2099-01-05"),
        ("budget", job, "5000"),
        ("why", job, "find", "note_sounds_by_itself"),
    ):
        done = run(*arguments)
        assert done.returncode == 0, done.stderr
        assert "Find the cause: A note" in done.stdout, arguments
    wrong = run("why", job, "find", "note_sounds_by_itsel")
    assert wrong.returncode == 2
    assert "find" in wrong.stderr
    assert "note_sounds_by_itself" in wrong.stderr
