"""The verdict: its probability, its breakpoints by the owner's limit, and what would change it."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
import toy
from hypothesis import given
from hypothesis import strategies as st
from seen import FILES, FIXTURES, assessed, known, with_known

import assess
from assess.base.wording import percent
from assess.decision.confidence import came_true
from assess.decision.rules import (
    Decision,
    DecisionReason,
    Feasibility,
    Setting,
    decide,
    decide_on,
    found_significance,
    is_evidence,
    weigh,
)
from assess.decision.scenario_verdicts import VERDICT_NAMES, chances_of, verdict_indices
from assess.decision.verdict import WISHES, Breakpoint, limit_breakpoints
from assess.grading.judgements import Judgement
from assess.job.history import NOTHING_TOLD, Told
from assess.job.job_file import Answer, History, Job, Owner
from assess.job.workshop_profile import load_workshop
from assess.knowledge.criteria import Outcome
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import VERDICT_IDS, VerdictName
from assess.output.layout import sections
from assess.output.looks import hidden_name
from assess.output.verdicts import how_sure, verdict_parts
from assess.planning.cost_estimate import price_at
from assess.testing import job_with

SHOP = load_workshop()
NEAR = 0.011
"""Breakpoints are found to about a hundredth."""
LEAST_SHIFT = 0.2
GRID = 60


def answer_for(result: assess.Assessment, judgement: Judgement, outcome: Outcome) -> str | float:
    """An answer that has this outcome; of a count the number that stands for it."""
    criterion = judgement.criterion
    if outcome.answer is not None:
        return outcome.answer
    assert outcome.from_ is not None
    if criterion.unit == "count":
        return result.plan_arrays.counts[criterion.id][criterion.outcomes.index(outcome)]
    share = math.prod(result.configuration.facts.get(fact, 1.0) for fact in criterion.share_of)
    return outcome.from_ * share


def answered(result: assess.Assessment, changes: dict[str, str | float]) -> assess.Assessment:
    """A job assessed again with some answers changed."""
    answers = {s: dict(table) for s, table in result.job.answers.items()}
    for identifier, answer in changes.items():
        subsystem, name = identifier.split(".")
        answers.setdefault(subsystem, {})[name] = Answer(answer=answer)
    job = result.job.model_copy(update={"answers": answers})
    return assess.assess(job, knowledge=result.knowledge, workshop=result.workshop)


def completed(stem: str, column: int) -> assess.Assessment:
    """A job with all that it leaves open seen as one of the draws has it."""
    result = assessed(stem)
    places = zip(result.scenarios.unseen, result.scenarios.outcomes[:, column], strict=True)
    seen = [known(j, int(place), result.plan_arrays.counts) for j, place in places]
    return replace(result, graded=with_known(result, seen))


# How sure it is


@pytest.mark.parametrize("stem", FILES)
def test_the_probability_is_the_share_of_draws_that_come_to_the_verdict(stem: str) -> None:
    result = assessed(stem)
    verdict = result.verdict
    names = [VERDICT_NAMES[code] for code in result.verdict_indices]
    shares = {name: names.count(name) / len(names) for name in set(names)}
    assert verdict.chances == pytest.approx(shares)
    assert list(verdict.chances.values()) == sorted(shares.values(), reverse=True)
    assert verdict.probability == max(verdict.chances.values())
    assert verdict.likeliest == next(iter(verdict.chances))
    assert result.chances() == verdict.chances
    assert verdict.settled == result.settled
    assert verdict.as_seen == plain_decision(result).name


def plain_decision(result: assess.Assessment) -> Decision:
    """What is decided on what was seen alone."""
    setting = result.setting
    return decide_on(weigh(result.plans, result.graded, setting), result.graded, setting)


@pytest.mark.parametrize("column", [0, 500])
@pytest.mark.parametrize("stem", FIXTURES)
def test_with_everything_seen_the_verdict_is_the_plain_decision(stem: str, column: int) -> None:
    result = completed(stem, column)
    verdict, plain = result.verdict, plain_decision(result)
    assert result.graded.instrument.coverage == 1
    assert verdict.name == verdict.likeliest == verdict.as_seen == plain.name
    assert verdict.scope == plain.scope
    assert verdict.probability == 1
    assert verdict.chances == {plain.name: 1}
    assert verdict.settled
    assert "everything that applies has been seen" in verdict.reasons


def test_in_a_close_call_the_exact_plan_decides_and_no_rounding_of_arrays() -> None:
    answers: dict[str, str | float] = {"wheels.noise": "silent", "wheels.play": 7}
    answers |= {"wheels.broken_spokes": 0, "box.crack": "one"}
    job = job_with(answers)
    plan = assess.assess(job, knowledge=toy.knowledge()).plans["full"]
    price = price_at(plan.cost, SHOP.sure_enough)
    for part, name in ((1e-9, "full"), (-1e-9, "working")):
        owner = Owner(wish="full", ceiling=price * (1 + part))
        owned = job.model_copy(update={"owner": owner})
        verdict = assess.assess(owned, knowledge=toy.knowledge()).verdict
        assert (verdict.name, verdict.probability) == (name, 1)


@pytest.mark.parametrize(("sure", "passes"), [(0.75, False), (0.79, False), (0.81, True)])
def test_a_scope_passes_that_is_sure_enough_to_stay_within_the_limit(
    sure: float, passes: bool
) -> None:
    result = assessed("one_strap")
    plan = result.plans["working"]
    owner = Owner(wish="working", ceiling=price_at(plan.cost, sure))
    option = weigh(result.plans, result.graded, Setting(owner, SHOP))["working"]
    assert option.within_limit == pytest.approx(sure)
    assert option.feasibility.passes is passes
    assert bool(option.against) is not passes


@pytest.mark.parametrize("stem", ["tight_budget", "sound_organ", "barely_inspected"])
def test_a_verdict_is_given_from_the_probability_on_that_is_asked_for(stem: str) -> None:
    result = assessed(stem)
    probability = result.verdict.probability
    for asked, given_ in ((probability - 0.001, True), (probability + 0.001, False)):
        shop = result.workshop.model_copy(update={"verdict_enough": asked})
        verdict = assess.assess(result.job, workshop=shop).verdict
        assert verdict.likeliest == result.verdict.likeliest
        assert (verdict.name == verdict.likeliest) is given_
        assert (verdict.name == "look_further") is not given_
        needed = [r for r in verdict.reasons if r.startswith("a verdict needs at least ")]
        assert len(needed) == (0 if given_ else 1)
        if not given_:
            assert verdict.scope is None


@pytest.mark.parametrize("stem", ["tight_budget", "sound_organ", "barely_inspected"])
def test_a_verdict_is_settled_when_the_doubt_is_small_enough(stem: str) -> None:
    result = assessed(stem)
    doubt = 1 - result.verdict.probability
    for allowed, settled in ((doubt + 0.001, True), (doubt - 0.001, False)):
        shop = result.workshop.model_copy(update={"settled_doubt": allowed})
        after = assess.assess(result.job, workshop=shop)
        assert after.verdict.settled is settled
        assert after.settled is settled


def test_with_no_limit_only_the_price_is_open() -> None:
    """What is likely is recommended however little was seen; nothing seen says nothing."""
    unseen = assess.assess(Job.model_validate({"format": 1, "owner": {"wish": "full"}}))
    assert unseen.verdict.probability > SHOP.verdict_enough
    assert unseen.verdict.name == "look_further"
    said = "no useful price can be given yet: 0 % seen, and no limit from the owner"
    assert unseen.guessed == (said,)
    assert said in unseen.verdict.reasons
    hardly = assessed("barely_inspected")
    owner = hardly.job.owner.model_copy(update={"ceiling": None})
    verdict = assess.assess(hardly.job.model_copy(update={"owner": owner})).verdict
    assert verdict.name == verdict.likeliest == "full"
    assert not verdict.settled
    assert any("no useful price can be given yet" in reason for reason in verdict.reasons)


@pytest.mark.parametrize("stem", FILES)
def test_a_verdict_has_its_scope_and_reasons(stem: str) -> None:
    verdict = assessed(stem).verdict
    scopes: dict[VerdictName, Scope] = {
        "full": "full",
        "working": "working",
        "conserve": "stabilise",
        "wait": "stabilise",
        "hand_over": "stabilise",
        "pass_on": "stabilise",
    }
    assert verdict.reasons
    if verdict.name in scopes:
        # What is called for alike in both scopes is called by the lesser.
        assert verdict.scope in {scopes[verdict.name], "full"}
    else:
        assert verdict.scope is None
    assert [option.scope for option in verdict.options] == ["full", "working", "stabilise"]
    assert [likely.scope for likely in verdict.likely] == ["full", "working", "stabilise"]
    assert bool(verdict.worth_saving) <= (verdict.name == "salvage")
    limit = assessed(stem).job.owner.ceiling
    for likely in verdict.likely:
        assert (likely.within_limit is None) == (limit is None)


# The verdict by the owner's limit


def likeliest_at(
    result: assess.Assessment, owner: Owner, wish: Scope, limit: float
) -> dict[VerdictName, float]:
    wishing = owner.model_copy(update={"wish": wish, "ceiling": limit})
    return chances_of(verdict_indices(result.scenarios, replace(result.setting, owner=wishing)))


def point_at(points: tuple[Breakpoint, ...], limit: float) -> Breakpoint:
    return [point for point in points if point.limit <= limit][-1]


@pytest.mark.parametrize("wish", WISHES)
@pytest.mark.parametrize("stem", FIXTURES)
def test_at_every_limit_the_breakpoints_have_the_likeliest_verdict(stem: str, wish: Scope) -> None:
    result = assessed(stem)
    costs = result.scenarios.costs
    costliest = max(float(costs[s].cost_at(SHOP.sure_enough, SHOP).max()) for s in WISHES)
    for owner in (result.job.owner, Owner(worth=3000, attachment=1)):
        points = limit_breakpoints(result.scenarios, wish, replace(result.setting, owner=owner))
        assert points[0].limit == 0
        assert all(lower.limit < upper.limit for lower, upper in itertools.pairwise(points))
        assert all(lower.name != upper.name for lower, upper in itertools.pairwise(points))
        compared = 0
        for limit in np.linspace(0, 1.1 * costliest + 10, GRID):
            chances = likeliest_at(result, owner, wish, float(limit))
            if any(abs(limit - p.limit) <= max(1, NEAR * p.limit) for p in points):
                continue
            assert point_at(points, limit).name == next(iter(chances)), (owner, limit)
            compared += 1
        assert compared > 0.8 * GRID
        for point in points:
            chances = likeliest_at(result, owner, wish, point.limit)
            assert (point.name, point.probability) == next(iter(chances.items()))


@pytest.mark.parametrize("stem", ["one_strap", "tight_budget", "neglected"])
def test_a_breakpoint_lies_where_the_verdict_changes(stem: str) -> None:
    result = assessed(stem)
    compared = 0
    for wish in WISHES:
        points = limit_breakpoints(result.scenarios, wish, result.setting)
        for lower, upper in itertools.pairwise(points):
            below = upper.limit - max(1.0, NEAR * upper.limit)
            found = likeliest_at(result, result.job.owner, wish, max(below, 0.0))
            assert next(iter(found)) == lower.name
            compared += 1
    assert compared >= 2


def test_a_limit_of_zero_is_a_limit() -> None:
    for stem in ("barely_inspected", "tight_budget", "sound_organ"):
        job, drawn = assessed(stem).job, assessed(stem).scenarios
        owner = job.owner.model_copy(update={"ceiling": 0.0})
        verdict = assess.assess(job.model_copy(update={"owner": owner})).verdict
        free = [(drawn.costs[likely.scope].needless).mean() for likely in verdict.likely]
        assert [likely.within_limit for likely in verdict.likely] == pytest.approx(free)
        assert verdict.likeliest not in {"full", "working"}
        points = next(iter(verdict.limits.values()))
        assert points[0].name == verdict.likeliest
        assert points[0].probability == verdict.probability


@pytest.mark.parametrize(
    ("wish", "listed"),
    [(None, ["full", "working"]), ("full", ["full"]), ("working", ["working"]), ("stabilise", [])],
)
def test_there_are_breakpoints_for_each_wish_that_is_open(
    wish: Scope | None, listed: list[Scope]
) -> None:
    job = assessed("barely_inspected").job
    owner = job.owner.model_copy(update={"wish": wish})
    limits = assess.assess(job.model_copy(update={"owner": owner})).verdict.limits
    assert list(limits) == listed


def test_the_verdict_on_one_sure_instrument_changes_at_its_prices() -> None:
    answers: dict[str, str | float] = {"wheels.noise": "silent", "wheels.play": 7}
    answers |= {"wheels.broken_spokes": 0, "box.crack": "one"}
    result = assess.assess(job_with(answers), knowledge=toy.knowledge())
    points = result.verdict.limits["full"]
    assert [point.name for point in points] == ["wait", "working", "full"]
    for point, scope in zip(points[1:], ("working", "full"), strict=True):
        cost = float(result.scenarios.costs[scope].cost_at(SHOP.sure_enough, SHOP)[0])
        assert cost - 0.01 <= point.limit <= cost + max(1, NEAR * cost)
    assert [point.probability for point in points] == [1, 1, 1]


# The decision


YES = Feasibility(needless=False, passes=True, possible=True, dissuaded=False)
EXPENSIVE = Feasibility(needless=False, passes=False, possible=True, dissuaded=False)
ADVISED = Feasibility(needless=False, passes=False, possible=True, dissuaded=True)
GONE = Feasibility(needless=False, passes=False, possible=False, dissuaded=False)
NOTHING = Feasibility(needless=True, passes=True, possible=True, dissuaded=False)
NOTHING_BUT_KEPT = Feasibility(needless=True, passes=False, possible=True, dissuaded=True)
REASON = "a concert series that is planned for it"

Case = tuple[
    Feasibility, Feasibility, Owner, VerdictName, Scope | None, DecisionReason, tuple[Scope, ...]
]
BOTH: tuple[Scope, ...] = ("full", "working")
CASES: dict[str, Case] = {
    "nothing is found": (
        NOTHING, NOTHING, Owner(wish="full"), "leave", None, "nothing to do", ()),
    "nothing is found, though early and unaltered: it is kept": (
        NOTHING_BUT_KEPT, NOTHING_BUT_KEPT, Owner(significance=2),
        "conserve", "stabilise", "kept as evidence", ()),
    "evidence is kept whatever the owner wants": (
        YES, YES, Owner(wish="full", significance=2),
        "conserve", "stabilise", "kept as evidence", ()),
    "a reason to use it outweighs that": (
        YES, YES, Owner(wish="full", significance=3, reason_to_use=REASON),
        "full", "full", "passes", ()),
    "a little significance is no evidence": (
        YES, YES, Owner(wish="full", significance=1), "full", "full", "passes", ()),
    "only to be stabilised": (
        YES, YES, Owner(wish="stabilise"), "conserve", "stabilise", "owner's wish", ()),
    "without a wish the least that makes it usable is tried": (
        YES, YES, Owner(), "working", "working", "passes", ()),
    "only to be used": (YES, YES, Owner(wish="working"), "working", "working", "passes", ()),
    "the owner does not want it any more": (
        YES, YES, Owner(keeps=False), "pass_on", "stabilise", "owner lets it go", ()),
    "too expensive in full": (
        EXPENSIVE, YES, Owner(wish="full"), "working", "working", "passes", ("full",)),
    "it works as it is": (
        YES, NOTHING, Owner(wish="working"), "leave", None, "in order as it is", ()),
    "it works as it is, and more is too expensive": (
        EXPENSIVE, NOTHING, Owner(wish="full"), "leave", None, "in order as it is", ("full",)),
    "too expensive, and the owner is attached to it": (
        EXPENSIVE, EXPENSIVE, Owner(wish="full", attachment=2),
        "wait", "stabilise", "only money or time", BOTH),
    "beyond repair, and the owner is attached to it": (
        GONE, GONE, Owner(wish="working", attachment=3),
        "conserve", "stabilise", "worth conserving", ("working",)),
    "beyond repair, and significant": (
        GONE, GONE, Owner(wish="working", significance=2, reason_to_use=REASON),
        "conserve", "stabilise", "worth conserving", ("working",)),
    "beyond repair in full, too expensive to work": (
        GONE, EXPENSIVE, Owner(wish="full"), "wait", "stabilise", "only money or time", BOTH),
    "advised against": (
        ADVISED, ADVISED, Owner(wish="full"), "conserve", "stabilise", "advised against", BOTH),
    "beyond repair": (
        GONE, GONE, Owner(wish="working"), "salvage", None, "cannot be made good", ("working",)),
    "beyond repair, and not wanted": (
        GONE, GONE, Owner(keeps=False), "salvage", None, "cannot be made good", ("working",)),
}  # fmt: skip


def decided(
    full: Feasibility,
    working: Feasibility,
    owner: Owner,
    found: int = 0,
    differs: bool = True,
    told: Told = NOTHING_TOLD,
) -> Decision:
    setting = Setting(owner, SHOP, told=told)
    return decide(full, working, differs, setting.rarity(found), setting.stance)


@pytest.mark.parametrize("case", CASES)
def test_what_is_decided_and_why(case: str) -> None:
    full, working, owner, name, scope, reason, failed = CASES[case]
    assert decided(full, working, owner) == Decision(name, scope, reason, failed)


IN_USE = Told(History(works="with faults", used="weekly"))


def test_what_works_is_not_silenced_for_money() -> None:
    for owner in (Owner(wish="full"), Owner(wish="working"), Owner(wish="full", attachment=3)):
        found = decided(EXPENSIVE, EXPENSIVE, owner, told=IN_USE)
        assert (found.name, found.reason) == ("leave", "used as it is")


def test_the_only_one_known_goes_to_a_conservator_whatever_the_owner_wants() -> None:
    for full, working in itertools.product((YES, EXPENSIVE, ADVISED, GONE), repeat=2):
        found = decided(full, working, Owner(wish="full", keeps=False), found=3)
        assert (found.name, found.reason) == ("hand_over", "unique evidence")
    reason = Owner(wish="working", reason_to_use=REASON)
    assert decided(YES, YES, reason, found=3).name == "working"


def test_the_table_reaches_every_reason_and_every_verdict() -> None:
    tried = {"unique evidence", "used as it is"}
    assert {case[5] for case in CASES.values()} | tried == set(get_args(DecisionReason))
    assert {case[3] for case in CASES.values()} | {"hand_over"} == set(VERDICT_NAMES)
    assert set(VERDICT_IDS) == {*VERDICT_NAMES, "look_further"}


def test_full_work_that_is_no_more_than_working_order_is_called_that() -> None:
    decision = decided(YES, YES, Owner(wish="full"), differs=False)
    assert decision == Decision("working", "full", "passes")


feasibilities = st.builds(
    lambda needless, expensive, possible, dissuaded: Feasibility(
        needless, possible and not expensive and not dissuaded, possible, dissuaded
    ),
    *[st.booleans()] * 4,
)
levels = st.sampled_from([None, 0, 1, 2, 3])


@given(
    feasibilities,
    feasibilities,
    st.booleans(),
    st.sampled_from(["full", "working"]),
    levels,
    levels,
)
def test_work_is_decided_only_where_nothing_stands_against_it(
    full: Feasibility,
    working: Feasibility,
    differs: bool,
    wish: Scope,
    significance: int | None,
    attachment: int | None,
) -> None:
    owner = Owner(wish=wish, significance=significance, attachment=attachment)
    found = decided(full, working, owner, differs=differs)
    tried = {"full": full, "working": working}
    if found.reason == "passes":
        assert found.scope is not None
        assert tried[found.scope].passes
    for scope in found.failed:
        assert not tried[scope].passes
    if max(significance or 0, attachment or 0) >= SHOP.conserve_from or working.possible:
        assert found.name != "salvage"
    if wish == "working":
        assert found.scope != "full"


@pytest.mark.parametrize(
    ("stem", "owner", "name"),
    [
        ("neglected", {"significance": 2}, "conserve"),
        ("neglected", {"significance": 2, "reason_to_use": REASON}, "full"),
        ("neglected", {"ceiling": 10}, "wait"),
        ("neglected", {"wish": "stabilise"}, "conserve"),
        ("neglected", {"wish": "working"}, "working"),
        ("neglected", {"attachment": 1}, "conserve"),
        ("neglected", {"attachment": 1, "worth": 50000}, "full"),
        ("neglected", {"keeps": False}, "pass_on"),
        ("flooded", {"attachment": 2}, "conserve"),
        ("sound_organ", {"wish": "stabilise"}, "conserve"),
    ],
)
def test_what_it_means_to_its_owner_decides_for_a_whole_job(
    stem: str, owner: dict[str, object], name: str
) -> None:
    job = assessed(stem).job
    changed = Owner.model_validate({**job.owner.model_dump(), **owner})
    assert assess.assess(job.model_copy(update={"owner": changed})).verdict.likeliest == name


# What would change it


@pytest.mark.parametrize("stem", FIXTURES)
def test_a_finding_that_is_said_to_change_the_verdict_does(stem: str) -> None:
    result = assessed(stem)
    before = result.chances()
    for flip in result.pivotal_findings:
        judgement = result.graded.judgements[flip.criterion]
        assert (flip.asks, flip.given) == (judgement.criterion.asks, judgement.given)
        instead = next(o for o in judgement.criterion.outcomes if o.label == flip.instead)
        assert instead.condition == flip.condition
        assert abs(instead.condition - judgement.outcome.condition) >= 1
        assert flip.name != next(iter(before))
        after = answered(result, {flip.criterion: answer_for(result, judgement, instead)})
        # It was tried on few draws, and beliefs in all else moved too.
        assert after.chances()[flip.name] > before.get(flip.name, 0.0) + LEAST_SHIFT, flip


def test_in_some_fixtures_a_finding_is_said_to_change_the_verdict() -> None:
    assert sum(bool(assessed(stem).pivotal_findings) for stem in FIXTURES) > 5


def test_some_fixture_has_a_finding_that_would_change_its_verdict() -> None:
    assert sum(len(assessed(stem).pivotal_findings) for stem in FIXTURES) >= 3


FLIPS: dict[str, tuple[dict[str, str | float], set[tuple[str, str, VerdictName]]]] = {
    "some worse": (
        {"wheels.play": 2, "wheels.broken_spokes": 3, "box.crack": "one"},
        {("wheels.broken_spokes", "half or more", "salvage"), ("box.crack", "rotten", "conserve")},
    ),
    "one better": (
        {"wheels.play": 2, "wheels.broken_spokes": 8, "box.crack": "one"},
        {("wheels.broken_spokes", "some", "full")},
    ),
    "good enough to keep, though work is advised against": (
        {"wheels.play": 2, "wheels.broken_spokes": 8, "box.crack": "rotten"},
        {("wheels.broken_spokes", "some", "conserve")},
    ),
}


@pytest.mark.parametrize("kind", FLIPS)
def test_the_findings_that_would_change_a_verdict_are_those_and_no_others(kind: str) -> None:
    answers, flips = FLIPS[kind]
    job = job_with({**answers, "wheels.noise": "squeaks"})
    job = job.model_copy(update={"owner": Owner(wish="full")})
    result = assess.assess(job, knowledge=toy.knowledge())
    assert {(f.criterion, f.instead, f.name) for f in result.pivotal_findings} == flips
    found = set()
    for finding in result.graded.findings:
        classes = sorted({o.condition for o in finding.criterion.outcomes})
        at = classes.index(finding.outcome.condition)
        for outcome in finding.criterion.outcomes:
            if abs(classes.index(outcome.condition) - at) == 1:
                after = answered(result, {finding.id: answer_for(result, finding, outcome)})
                if after.verdict.likeliest != result.verdict.likeliest:
                    found.add((finding.id, outcome.label, after.verdict.likeliest))
    assert found == flips


def test_without_findings_none_would_change_the_verdict() -> None:
    assert assess.assess(job_with()).pivotal_findings == ()


def is_idle(result: assess.Assessment) -> bool:
    """Whether more looking in the home would make nobody surer."""
    return result.information_value.expected_accuracy_gain() <= SHOP.worth_looking


def assert_asks_for_looks_that_help(result: assess.Assessment) -> None:
    """A verdict says to look on only where that may change it."""
    text = " ".join(sections(verdict_parts(result)).split())
    helps = not result.settled and not is_idle(result)
    assert ("Settled: " in text) is result.settled
    assert ("Not settled" in text) is not result.settled
    assert ("more looking may change it" in text) is (helps and not result.guessed)
    assert ("look first at: " in text.lower()) is (helps or bool(result.guessed))
    assert ("More looking in the home will" in text) is (
        not result.settled and not helps and not result.guessed
    )


@pytest.mark.parametrize("stem", FILES)
def test_the_verdict_asks_for_no_look_that_makes_nobody_surer(stem: str) -> None:
    assert_asks_for_looks_that_help(assessed(stem))


def test_the_files_hold_settled_verdicts_unsettled_ones_and_guesses() -> None:
    kinds = {(assessed(s).settled, bool(assessed(s).guessed)) for s in FILES}
    assert kinds == {(True, False), (False, False), (False, True)}


@pytest.mark.parametrize(
    ("stem", "limit"), [("tight_budget", 7400), ("tight_budget", 13000), ("barely_inspected", 4000)]
)
def test_where_only_opening_makes_surer_the_verdict_says_what_to_open(
    stem: str, limit: float
) -> None:
    job = assessed(stem).job
    owner = job.owner.model_copy(update={"ceiling": limit})
    result = assess.assess(job.model_copy(update={"owner": owner}))
    assert not result.settled
    assert is_idle(result)
    assert_asks_for_looks_that_help(result)
    text = " ".join(sections(verdict_parts(result)).split())
    worst = next(h for h in result.hidden(result.verdict.plan_scope) if not h.at_visit)
    assert f"What only opening shows, above all: {hidden_name(result, worst)}" in text


# What is allowed for how people look


@given(st.floats(0, 1), st.floats(0, 1))
def test_a_surer_verdict_comes_true_no_less_often_and_none_more_than_it_says(
    first: float, second: float
) -> None:
    low, high = sorted((first, second))
    assert came_true(low) <= came_true(high) + 1e-12
    assert (came_true(0), came_true(1)) == (0, 1)
    assert 0 <= came_true(low) <= low + 1e-12


def test_a_verdict_says_how_sure_it_is_where_mostly_faults_were_looked_at() -> None:
    result = assessed("motor_blown")
    probability = result.verdict.probability
    assert 0.7 < probability < 0.93
    assert f"{percent(came_true(probability))} if mostly faults were looked at." in how_sure(result)
    sure = assessed("weekly_use")
    assert "mostly faults" not in how_sure(sure)


def test_one_significant_find_among_others_makes_it_evidence() -> None:
    answers: dict[str, str | float | int] = {"reeds.dead_reeds": 3}
    common = assess.assess(job_with(answers))
    rare = assess.assess(job_with(answers | {"casework.significance": "only one known"}))
    assert common.graded.findings
    assert (found_significance(common.graded), found_significance(rare.graded)) == (0, 3)
    assert not is_evidence(common.graded, common.setting)
    assert is_evidence(rare.graded, rare.setting)
