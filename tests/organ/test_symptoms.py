"""What holds of every declared symptom, whatever part it is about."""

from __future__ import annotations

import pytest
from seen import is_seen_in_the_home

import assess
from assess.job.job_reading import parse
from assess.visit.door_questions import door_questions

KNOWLEDGE = assess.knowledge_in_use()
SYMPTOMS = KNOWLEDGE.symptoms


def test_the_trades_complaints_are_all_there() -> None:
    assert len(SYMPTOMS) >= 30
    assert {s.partition(".")[0] for s in SYMPTOMS} == set(KNOWLEDGE.subsystems)


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_a_complaint_is_said_in_a_few_words(symptom: str) -> None:
    assert len(SYMPTOMS[symptom].asks) <= 40


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_each_cause_is_an_answer_that_can_be_given(symptom: str) -> None:
    assert SYMPTOMS[symptom].causes
    for cause in SYMPTOMS[symptom].causes:
        outcomes = KNOWLEDGE.criteria[cause.criterion].outcomes
        findings = {o.label for o in outcomes if o.condition > 0}
        assert set(cause.answers) <= findings, cause.criterion
        assert cause.answers or any(o.condition >= cause.from_class for o in outcomes)


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_each_test_is_made_once_and_at_the_visit(symptom: str) -> None:
    tests = SYMPTOMS[symptom].tests
    assert len(set(tests)) == len(tests)
    assert [t for t in tests if not is_seen_in_the_home(t)] == []


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_a_symptom_is_not_its_own_cause(symptom: str) -> None:
    shown = {sign.criterion for sign in SYMPTOMS[symptom].shown_by}
    assert not shown & {cause.criterion for cause in SYMPTOMS[symptom].causes}


@pytest.mark.parametrize("symptom", [s for s in SYMPTOMS if SYMPTOMS[s].shown_by])
def test_an_answer_that_is_the_complaint_breaks_what_the_complaint_breaks(symptom: str) -> None:
    found = SYMPTOMS[symptom]
    for sign in found.shown_by:
        outcomes = KNOWLEDGE.criteria[sign.criterion].outcomes
        shown = [outcome for outcome in outcomes if outcome.condition >= sign.from_class]
        assert shown
        for outcome in shown:
            assert set(found.breaks) <= set(outcome.breaks), outcome.label


def complaints_offered(features: str, told: str = "") -> dict[str, int]:
    """The number of each complaint that is offered at the door."""
    text = f"format = 1\n[instrument.features]\n{features}\n{told}"
    asked = door_questions(parse(text, "job.toml", KNOWLEDGE.trade), KNOWLEDGE)
    complaint = next(q for q in asked if q.id == "history.complaint")
    return {symptom: number for number, symptom, _ in complaint.shown}


def test_complaints_that_the_stated_build_excludes_are_not_offered() -> None:
    everything = complaints_offered("")
    assert list(everything) == list(SYMPTOMS)
    build = 'wind = "suction"\ncouplers = false\nblown_by = "blown_by_hand"'
    by_hand = complaints_offered(build)
    assert everything.keys() - by_hand.keys() == {
        "action.coupler_sounds_notes",
        "pneumatics.blows_out",
        "pneumatics.expression_does_nothing",
        "pneumatics.heavy_treadles",
        "pneumatics.one_treadle_dead",
        "pneumatics.reservoir_sinks",
    }
    assert all(everything[symptom] == number for symptom, number in by_hand.items())
    told = '[[history.complaint]]\nsymptom = "pneumatics.blows_out"'
    assert "pneumatics.blows_out" in complaints_offered(build, told)
