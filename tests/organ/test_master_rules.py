"""What a master restorer would decide, whatever an instrument is like otherwise.

The rules are common practice, no source, unless a check names one.
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from references import reference
from seen import FILES, FIXTURES, assessed

import assess
from assess.job.job_file import Owner
from assess.planning.use_requirements import requirements_of
from assess.testing import job_with

JOBS = [*FIXTURES, *(s for s in FILES if s not in FIXTURES)]


WORST_WATER = "days under water, all plywood come apart"
UNTOLD = {"works": None, "used": None, "complaint": ()}
"""A history that says nothing."""


def changed(
    stem: str,
    answers: dict[str, str] | None = None,
    history: dict[str, Any] | None = None,
    **owner: object,
) -> assess.Assessment:
    """A job file assessed with some answers, some of its history and its owner changed."""
    job = assessed(stem).job
    data = job.model_dump()
    for criterion, answer in (answers or {}).items():
        subsystem, _, name = criterion.partition(".")
        data["answers"].setdefault(subsystem, {})[name] = {"answer": answer}
    data["owner"] |= owner
    data["history"] |= history or {}
    kept = {name: getattr(job, name) for name in ("path", "text", "trade")}
    return assess.assess(assess.Job.model_validate({**data, **kept}))


def wish_answers() -> dict[str, str]:
    """The findings that are wishes or rooms, as they are declared now."""
    criteria = assess.knowledge_in_use().criteria
    found = {
        c.id: o.label
        for c in criteria.values()
        for o in c.outcomes
        if o.advise_against and not (c.measured or o.beyond_repair or o.significance or o.ruins)
    }
    assert len(found) >= 4
    return found


@pytest.mark.parametrize("stem", JOBS)
def test_the_only_specimen_never_ends_in_parts(stem: str) -> None:
    result = changed(stem, {"casework.significance": "only one known"}, reason_to_use="")
    assert "salvage" not in result.chances()
    assert result.verdict.name in {"hand_over", "leave"}


@pytest.mark.parametrize("stem", ["one_strap", "sound_organ", "tight_budget", "neglected"])
def test_no_wish_and_no_room_condemns_an_instrument(stem: str) -> None:
    before = assessed(stem).chances().get("salvage", 0.0)
    pairs = wish_answers().items()
    assert pairs
    for criterion, answer in pairs:
        after = changed(stem, {criterion: answer}).chances().get("salvage", 0.0)
        assert after <= before + 0.01, criterion


@pytest.mark.parametrize("stem", ["one_strap", "tight_budget", "neglected", "heated_house"])
def test_money_alone_never_silences_what_is_played(stem: str) -> None:
    played = {"works": "with faults", "used": "weekly"}
    silent = changed(stem, history=UNTOLD, ceiling=50.0).chances()
    result = changed(stem, history=played, ceiling=50.0)
    assert result.chances().get("leave", 0.0) > silent.get("leave", 0.0)
    assert result.chances().get("wait", 0.0) == 0


@pytest.mark.parametrize("stem", ["barely_inspected", "one_strap", "heated_house"])
def test_regular_use_makes_silence_less_likely(stem: str) -> None:
    def kept_silent(history: dict[str, Any]) -> float:
        chances = changed(stem, history=history).chances()
        return sum(chances.get(name, 0.0) for name in ("conserve", "wait", "salvage"))

    used = {"works": "well", "used": "weekly", "complaint": ()}
    assert kept_silent(used) <= kept_silent(UNTOLD) + 0.01


@pytest.mark.parametrize("stem", JOBS)
def test_without_a_limit_no_price_hides_the_recommendation(stem: str) -> None:
    result = changed(stem, ceiling=None)
    assert result.graded.instrument.coverage > 0
    given = result.verdict.probability >= result.workshop.verdict_enough
    assert (result.verdict.name == result.verdict.likeliest) is given


def test_without_a_wish_the_least_that_answers_the_complaint_is_recommended() -> None:
    result = changed("one_strap", wish=None, ceiling=None)
    assert result.verdict.likeliest in {"working", "leave"}
    assert result.verdict.plan_scope == "working"


def test_an_owner_who_lets_it_go_is_told_to_find_it_a_home() -> None:
    assert changed("one_strap", keeps=False).verdict.name == "pass_on"


NO_PARTS = ("Pests, mould and dirt", "History and wishes", "Where it stands", "Wind as a whole")


def test_parts_are_saved_only_from_what_is_there() -> None:
    """Neither dirt nor wishes nor what the instrument does not have can be put on a shelf."""
    saved = 0
    for stem in JOBS:
        result = changed(stem, {"casework.water_damage": WORST_WATER}, attachment=0)
        absent = {
            result.knowledge.components[c].title
            for grades in result.graded.subsystems.values()
            for c, grade in grades.components.items()
            if grade.weight == 0
        }
        assert not set(result.verdict.worth_saving) & {*NO_PARTS, *absent}, stem
        saved += len(result.verdict.worth_saving)
    assert saved >= 20


def test_every_major_finding_says_whether_the_instrument_can_be_played() -> None:
    criteria = assess.knowledge_in_use().criteria.values()
    major = [(c.id, o) for c in criteria for o in c.outcomes if o.condition == 3]
    assert len(major) > 150
    assert [(c, o.label) for c, o in major if not (o.breaks or o.breaks_none)] == []


def test_the_test_of_a_complaint_is_among_the_first_three_looks() -> None:
    symptoms = assess.knowledge_in_use().symptoms
    assert len(symptoms) >= 20
    for symptom in symptoms.values():
        data = {"format": 1, "history": {"complaint": [{"symptom": symptom.id}]}}
        result = assess.assess(assess.Job.model_validate(data))
        asked = [
            t for t in symptom.tests if t in {k.criterion for k in result.information_value.looks()}
        ]
        looks = [k.criterion for k in result.information_value.looks(3)]
        if asked:
            assert asked[0] in looks, symptom.id


def test_two_complaints_give_two_lists() -> None:
    def first(symptom: str) -> list[str]:
        data = {"format": 1, "history": {"complaint": [{"symptom": symptom}]}}
        result = assess.assess(assess.Job.model_validate(data))
        return [h.criterion for h in result.hidden("full")[:10]]

    wind, cipher = first("pneumatics.loses_wind"), first("action.note_sounds_by_itself")
    assert len(set(wind) & set(cipher)) <= 5


def test_nothing_is_worked_out_of_less_than_a_cent() -> None:
    """A second manual, pedals and no tremulant: rounding residues once counted as work."""
    features = {"two_manuals": True, "pedalboard": True, "tremulant": False}
    known = assess.knowledge_in_use().features
    job = job_with(features={f: v for f, v in features.items() if f in known})
    value = assess.assess(job).information_value
    assert value.effects
    for scope, effects in value.effects.items():
        for judgement, effect in zip(value.scenarios.unseen, effects, strict=True):
            chance, (_, cost) = effect.added_work
            assert chance == 0 or cost >= 0.01, (scope, judgement.id)


def test_an_owner_may_overrule_advice_but_not_the_ethics_of_the_only_one_known() -> None:
    owner = Owner(wish="full", attachment=3, ceiling=1e6)
    result = changed(
        "one_strap",
        {"casework.significance": "only one known", **wish_answers()},
        **owner.model_dump(exclude_none=True),
    )
    assert result.verdict.name == "hand_over"


@pytest.mark.parametrize("stem", JOBS)
def test_what_breaks_use_is_mended_and_proved_in_a_plan_for_use(stem: str) -> None:
    result = assessed(stem)
    plan = result.plans["working"]
    items = requirements_of(result.planner, plan)
    assert items
    for item in items:
        curable = [f for f in item.broken_by if not f.outcome.beyond_repair]
        if curable and plan.steps:
            assert item.proofs, item.requirement.id
        if curable == list(item.broken_by):
            assert item.mended, item.requirement.id


def test_every_finding_that_breaks_use_alone_is_mended_and_proved() -> None:
    """Each answer that breaks a requirement, as the only finding of an instrument."""
    tried = 0
    facts = assess.assess(job_with()).configuration.facts
    for criterion in assess.knowledge_in_use().criteria.values():
        for outcome in criterion.outcomes:
            if not outcome.breaks or outcome.beyond_repair or criterion.computed_from:
                continue
            value: str | float | None = outcome.answer
            if outcome.from_ is not None:
                share = math.prod(facts.get(fact, 1.0) for fact in criterion.share_of)
                value = outcome.from_ * share
                value = math.ceil(value) if criterion.unit == "count" else value
            assert value is not None
            result = assess.assess(job_with({criterion.id: value}))
            if not result.graded.judgements[criterion.id].is_seen:
                continue
            items = requirements_of(result.planner, result.plans["working"])
            broken = [item for item in items if item.broken_by]
            assert all(item.mended and item.proofs for item in broken), (criterion.id, value)
            tried += 1
    assert tried > 80


def test_the_same_claim_has_the_same_number_everywhere() -> None:
    """The price of the recommended scope in the verdict, in the plan and in the table of ways."""
    assert JOBS
    for stem in JOBS:
        result = assessed(stem)
        for way in result.verdict.ways:
            if way.name in ("working", "full"):
                likely = next(k for k in result.verdict.likely if k.scope == way.name)
                _, cost = result.scenarios.spreads(likely.scope, result.workshop)
                assert way.cost == likely.cost == cost


def test_one_leak_is_not_three_faults() -> None:
    """With the whole instrument at nine seconds, the tests with stops and keys say no more."""
    one = {"pneumatics.whole_hold": "9 s"}
    three = one | {"pneumatics.mutes_hold": "9 s", "pneumatics.chord_hold": "6 s"}
    few, many = (assess.assess(job_with(answers)).graded for answers in (one, three))
    assert [f.id for f in many.findings] == [f.id for f in few.findings]
    tight = {"pneumatics.whole_hold": "120 s", "pneumatics.chord_hold": "6 s"}
    found = assess.assess(job_with(tight)).graded.findings
    assert [f.id for f in found] == ["pneumatics.chord_hold"]


PACKAGES = {p["id"]: p for p in reference("work_packages")["package"]}


def hours_of(scope: str, **history: Any) -> float:
    """Median hours of a scope on an instrument that nobody has looked at."""
    job = assess.Job.model_validate({"format": 1, "date": "2026-10-14", "history": history})
    likely = assess.assess(job).verdict.likely
    return next(k.hours.p50 for k in likely if k.scope == scope)


def test_belief_in_the_unseen_gives_the_hours_of_the_trades_packages() -> None:
    repair, restoration = PACKAGES["playable_repair"], PACKAGES["full_restoration"]
    assert repair["low"] <= hours_of("working") <= repair["high"]
    assert restoration["low"] <= hours_of("full") <= restoration["high"]
    used = hours_of("working", works="well", used="weekly")
    assert PACKAGES["home_tidy"]["low"] <= used <= repair["likely"]
    lately = hours_of("working", works="well", overhaul=[{"year": 2018}])
    assert lately < used


@pytest.mark.parametrize("stem", ["neglected", "flooded"])
def test_the_worst_fixtures_take_the_hours_of_a_heavy_rescue(stem: str) -> None:
    rescue = PACKAGES["heavy_rescue"]
    full = next(k for k in assessed(stem).verdict.likely if k.scope == "full")
    assert rescue["low"] <= full.hours.p50 <= rescue["high"]


@pytest.mark.parametrize("stem", ["tight_budget", "pressure_harmonium", "ribbed_two_manual"])
def test_other_full_restorations_take_the_hours_of_that_package(stem: str) -> None:
    restoration = PACKAGES["full_restoration"]
    full = next(k for k in assessed(stem).verdict.likely if k.scope == "full")
    assert restoration["low"] <= full.hours.p50 <= restoration["high"]
