"""What must hold for any instrument, tried on random job files made from the declared knowledge."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from toy import judge_one

from assess import Job, assess, knowledge_in_use
from assess.assessment import Assessment
from assess.grading.grades import grade
from assess.grading.judgements import Judgement
from assess.job.job_edits import dumps
from assess.job.job_file import NOT_APPLICABLE, NOT_SEEN, Answer, History, Owner
from assess.job.job_reading import parse
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.precedence_graph import all_superseded, precedence
from assess.knowledge.steps import Step
from assess.output.json_data import grades_data, plan_data, verdict_data
from assess.planning.plan import Plan

KNOWLEDGE = knowledge_in_use()
ORDER = precedence(KNOWLEDGE)
FEATURES = {
    f.id: st.sampled_from(sorted(f.options)) if f.options else st.booleans()
    for f in KNOWLEDGE.features.values()
}


def usual_of(name: str) -> float:
    """A fact of a usual instrument, which may be the product of others."""
    fact = KNOWLEDGE.facts[name]
    return fact.usual or math.prod(usual_of(other) for other in fact.product_of)


def value_of(criterion: Criterion, outcome: Outcome) -> str | float | None:
    """An answer that gives an outcome on a usual instrument, where there is one."""
    if outcome.answer is not None:
        return outcome.answer
    assert outcome.from_ is not None
    whole = math.prod(usual_of(fact) for fact in criterion.share_of)
    value = outcome.from_ * whole
    if criterion.unit == "count":
        value = float(-(-value // 1))
    found = criterion.outcome_for(value / whole)
    return (
        value
        if found is outcome and criterion.possible[0] <= value <= criterion.possible[1]
        else None
    )


CHOICES: dict[str, list[tuple[str | float, int]]] = {
    c.id: [(v, o.condition) for o in c.outcomes if (v := value_of(c, o)) is not None]
    for c in KNOWLEDGE.criteria.values()
}


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """A job file with random features and answers; most things seen, some not."""
    features = {name: draw(strategy) for name, strategy in FEATURES.items() if draw(st.booleans())}
    worst = draw(st.integers(0, 3))
    answers: dict[str, dict[str, Any]] = {}
    for criterion, choices in CHOICES.items():
        fitting = [v for v, condition in choices if condition <= worst]
        pool: list[Any] = [NOT_SEEN, *fitting] if fitting else [NOT_SEEN]
        picked = pool[draw(st.integers(0, len(pool) - 1))]
        subsystem, name = criterion.split(".")
        if draw(st.integers(0, 19)) == 0:
            picked = NOT_APPLICABLE
        answers.setdefault(subsystem, {})[name] = Answer(answer=picked)
    return Job.model_validate(
        {"format": 1, "instrument": {"features": features}, "answers": answers}
    )


def run(job: Job) -> Assessment:
    return assess(job, knowledge=KNOWLEDGE)


def numbers(plan: Plan) -> dict[str, int]:
    return {s.step: s.number for s in plan.steps}


def test_every_outcome_can_be_reached() -> None:
    assert len(CHOICES) > 100
    for criterion, choices in CHOICES.items():
        assert len(choices) == len(KNOWLEDGE.criteria[criterion].outcomes), criterion


@given(jobs())
def test_a_plan_keeps_precedence_and_is_closed(job: Job) -> None:
    result = run(job)
    assert result.plans
    for plan in result.plans.values():
        at = numbers(plan)
        for before in at:
            assert all(at[before] < at[after] for after in ORDER.descendants[before] & at.keys())
        for step in at:
            _is_closed(step, plan, at, result)


def _is_closed(step: str, plan: Plan, at: dict[str, int], result: Assessment) -> None:
    name = Step(step).target
    work = KNOWLEDGE.work(step)
    place = KNOWLEDGE.places.get(name) if Step(step).is_access else None
    needed = [link.step for link in work.requires] if work else []
    if work:
        needed += [f"open {p}" for p in work.places] + [f"close {p}" for p in work.places]
    if place:
        needed += [f"open {name}", f"close {name}"]
        needed += [
            x.step for x in (*place.open_requires, *place.close_requires, *place.close_entails)
        ]
        needed += [f"open {place.inside}"] if place.inside else []
    if step in KNOWLEDGE.repairs:
        needed += [link.step for link in KNOWLEDGE.repairs[step].entails]
    for other in needed:
        thing = KNOWLEDGE.places.get(Step(other).target) or KNOWLEDGE.work(other)
        assert thing is not None
        if result.configuration.admits(thing.needs, thing.excludes):
            assert other in at or other in plan.replaced, f"{step} needs {other}"


@given(jobs(), st.data())
def test_fewer_repairs_never_reverse_two_remaining_steps(job: Job, data: st.DataObject) -> None:
    result = run(job)
    plan = result.plans["full"]
    assume(plan.called)
    kept = data.draw(st.sets(st.sampled_from(sorted(plan.called))))
    whole = [s.step for s in plan.steps]
    fewer = [s.step for s in result.planner.plan_for(kept).steps]
    common = [s for s in whole if s in fewer]
    assert [s for s in fewer if s in whole] == common


@given(jobs())
def test_smaller_scopes_follow_the_order_of_the_larger(job: Job) -> None:
    plans = run(job).plans
    full = numbers(plans["full"])
    for scope in SCOPES:
        shared = [s.step for s in plans[scope].steps if s.step in full]
        assert shared == sorted(shared, key=full.__getitem__)


@given(jobs(), st.data())
def test_a_worse_answer_never_raises_a_grade_nor_drops_a_repair(
    job: Job, data: st.DataObject
) -> None:
    result = run(job)
    seen = [
        j
        for j in result.graded.judgements.values()
        if j.is_seen and any(c > j.best.condition for _, c in CHOICES[j.id])
    ]
    assume(seen)
    judgement = data.draw(st.sampled_from(seen))
    worse = [v for v, c in CHOICES[judgement.id] if c > judgement.best.condition]
    subsystem, name = judgement.id.split(".")
    answers = {s: dict(a) for s, a in job.answers.items()}
    answers[subsystem][name] = Answer(answer=data.draw(st.sampled_from(worse)))
    after = run(job.model_copy(update={"answers": answers}))
    for s, before_grade in result.graded.subsystems.items():
        assert after.graded.subsystems[s].grade.lower <= before_grade.grade.lower + 1e-9
        assert after.graded.subsystems[s].grade.upper <= before_grade.grade.upper + 1e-9
    assert after.graded.instrument.lower <= result.graded.instrument.lower + 1e-9
    for scope in SCOPES:
        _keeps_repairs(result.plans[scope], after.plans[scope], scope)


def _keeps_repairs(before: Plan, after: Plan, scope: Scope) -> None:
    still = {s for s in numbers(after) if s in KNOWLEDGE.repairs}
    done = still.union(*(all_superseded(s, KNOWLEDGE) for s in still))
    for repair in before.called & numbers(before).keys():
        declared = KNOWLEDGE.repairs[repair]
        thorough = {
            s
            for s in still
            if repair in all_superseded(s, KNOWLEDGE)
            and KNOWLEDGE.repairs[s].component == declared.component
        }
        needless = {link.step for link in declared.unless} & done
        kept = repair in still or thorough or needless
        assert kept, f"{repair} is dropped ({scope})"


@given(jobs(), st.data())
def test_any_completion_of_the_unseen_lies_within_the_bounds(job: Job, data: st.DataObject) -> None:
    result = run(job)

    def completed(judgement: Judgement) -> Judgement:
        if not judgement.is_unseen:
            return judgement
        value, _ = data.draw(st.sampled_from(CHOICES[judgement.id]))
        return judge_one(judgement.criterion, Answer(answer=value), result.configuration)

    judgements = {i: completed(j) for i, j in result.graded.judgements.items()}
    whole = grade(judgements, KNOWLEDGE)
    pairs = [(whole.instrument, result.graded.instrument)]
    pairs += [(whole.subsystems[s].grade, g.grade) for s, g in result.graded.subsystems.items()]
    for found, bounds in pairs:
        assert found.lower == pytest.approx(found.upper)
        assert bounds.lower - 1e-9 <= found.lower
        assert found.upper <= bounds.upper + 1e-9
        assert bounds.best_class <= found.best_class <= found.worst_class <= bounds.worst_class


owners = st.builds(
    Owner,
    wish=st.sampled_from([None, *SCOPES]),
    ceiling=st.sampled_from([None, 0, 2500]),
    significance=st.sampled_from([None, 0, 3]),
    reason_to_use=st.sampled_from(["", "a concert"]),
)


@given(jobs(), owners)
def test_saving_and_loading_changes_nothing(job: Job, owner: Owner) -> None:
    job = job.model_copy(update={"owner": owner})
    again = parse(dumps(job, KNOWLEDGE.trade), trade=KNOWLEDGE.trade)
    assert without_text(again) == without_text(job)
    first, second = run(job), run(again)
    assert grades_data(first) == grades_data(second)
    assert plan_data(first, first.plans["full"]) == plan_data(second, second.plans["full"])


def without_text(job: Job) -> Job:
    return job.model_copy(update={"text": "", "path": "", "trade": KNOWLEDGE.trade})


@settings(max_examples=10)
@given(jobs())
def test_the_same_input_gives_the_same_verdict(job: Job) -> None:
    assert verdict_data(run(job)) == verdict_data(run(job))


@pytest.mark.parametrize("command", ["grade", "plan", "verdict"])
def test_the_same_bytes_whatever_the_hash_seed(command: str, tmp_path: Path) -> None:
    worst = {
        subsystem: {
            c.split(".")[1]: max(choices, key=lambda v: v[1])[0]
            for c, choices in CHOICES.items()
            if c.startswith(f"{subsystem}.")
        }
        for subsystem in KNOWLEDGE.subsystems
    }
    path = tmp_path / "worst.toml"
    job = Job.model_validate({"format": 1, "answers": {
        s: {n: Answer(answer=v) for n, v in a.items()} for s, a in worst.items()}})  # fmt: skip
    path.write_text(dumps(job, KNOWLEDGE.trade))
    shown = {
        subprocess.run(
            [sys.executable, "-m", "assess", command, path, "--json"],
            capture_output=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("0", "1", "2")
    }
    assert len(shown) == 1
    assert json.loads(shown.pop())["data"]


HARDLY_ANY = settings(max_examples=12)
"""Each example is decided several times over a thousand scenarios."""
KEPT_SILENT = ("conserve", "wait", "salvage")


def told(job: Job, **history: Any) -> Assessment:
    """The job with something told of it."""
    return run(job.model_copy(update={"history": History.model_validate(history)}))


@HARDLY_ANY
@given(jobs())
def test_better_use_never_makes_keeping_it_silent_likelier(job: Job) -> None:
    """As long as the answers leave it open; what was seen outweighs what was told."""
    job = job.model_copy(update={"owner": Owner(wish="working", ceiling=1500)})

    def silent(**history: Any) -> float:
        chances = told(job, **history).chances()
        return sum(chances.get(name, 0.0) for name in KEPT_SILENT)

    assert silent(works="well", used="weekly") <= silent(works="not at all") + 0.02


@HARDLY_ANY
@given(jobs(), st.sampled_from(["wait", "full", "working"]), st.floats(0, 20_000))
def test_what_is_significant_never_ends_in_parts(job: Job, wish: str, ceiling: float) -> None:
    wanted = {"full": "full", "working": "working"}.get(wish)
    owner = Owner.model_validate({"wish": wanted, "ceiling": ceiling, "significance": 2})
    assert "salvage" not in run(job.model_copy(update={"owner": owner})).chances()


@HARDLY_ANY
@given(jobs(), st.sampled_from(sorted(KNOWLEDGE.symptoms)))
def test_the_cures_of_a_complaint_are_only_added_to(job: Job, symptom: str) -> None:
    """A complaint never takes work out of a plan for use, except lesser repairs."""
    before = run(job).plans["working"]
    after = told(job, complaint=[{"symptom": symptom}]).plans["working"]
    dropped = before.called.keys() - after.called.keys()
    assert dropped <= after.replaced.keys()
