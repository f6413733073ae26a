"""The verdict: its probability, its limit_breakpoints by ceiling, and what would turn it."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import toy
from hypothesis import given
from hypothesis import strategies as st
from seen import FILES, FIXTURES, assessed, known, with_known

import assess
from assess.decision.rules import (
    CONSERVE_FROM,
    Decision,
    Feasibility,
    Ground,
    VerdictName,
    decide,
    decide_on,
    weigh,
)
from assess.decision.scenarios import VERDICT_NAMES
from assess.decision.verdict import WISHES, Breakpoint, chances_of, limit_breakpoints
from assess.grading.judgements import Judgement
from assess.job.job_file import Answer, Job, Owner
from assess.job.workshop_profile import load_workshop
from assess.knowledge.criteria import Outcome
from assess.knowledge.model_base import Scope
from assess.output.verdicts import verdict_text
from assess.planning.cost_estimate import ceiling_for
from assess.testing import job_with

SHOP = load_workshop()
NEAR = 0.011
"""Rungs are found to about a hundredth."""
LEAD_Z_SCORE = 0.2
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
    """A job assessed anew with some answers changed."""
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
    owner = result.job.owner
    plain = decide_on(weigh(result.plans, result.graded, owner, result.workshop), owner)
    assert verdict.as_seen == plain.name


@pytest.mark.parametrize("column", [0, 500])
@pytest.mark.parametrize("stem", FIXTURES)
def test_with_everything_seen_the_verdict_is_the_plain_decision(stem: str, column: int) -> None:
    result = completed(stem, column)
    verdict, owner = result.verdict, result.job.owner
    plain = decide_on(weigh(result.plans, result.graded, owner, result.workshop), owner)
    assert result.graded.instrument.coverage == 1
    assert verdict.name == verdict.likeliest == verdict.as_seen == plain.name
    assert verdict.scope == plain.scope
    assert verdict.probability == 1
    assert verdict.chances == {plain.name: 1}
    assert verdict.settled
    assert "everything that applies is seen" in verdict.reasons


def test_on_the_brink_the_exact_plan_decides_and_no_rounding_of_arrays() -> None:
    answers: dict[str, str | float] = {"wheels.noise": "silent", "wheels.play": 7}
    answers |= {"wheels.broken_spokes": 0, "box.crack": "one"}
    job = job_with(answers)
    plan = assess.assess(job, knowledge=toy.knowledge()).plans["full"]
    brink = ceiling_for(plan.cost, SHOP.sure_enough)
    for part, name in ((1e-9, RESTORE), (-1e-9, REPAIR)):
        owner = Owner(wish="full", ceiling=brink * (1 + part))
        told = job.model_copy(update={"owner": owner})
        verdict = assess.assess(told, knowledge=toy.knowledge()).verdict
        assert (verdict.name, verdict.probability) == (name, 1)


@pytest.mark.parametrize(("sure", "passes"), [(0.75, False), (0.79, False), (0.81, True)])
def test_a_scope_passes_that_is_sure_enough_to_stay_within_the_ceiling(
    sure: float, passes: bool
) -> None:
    result = assessed("one_strap")
    plan = result.plans["playing"]
    owner = Owner(wish="playing", ceiling=ceiling_for(plan.cost, sure))
    option = weigh(result.plans, result.graded, owner, SHOP)["playing"]
    assert option.within_ceiling == pytest.approx(sure)
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
        assert (verdict.name == "look further first") is not given_
        assert any("a verdict is given from" in reason for reason in verdict.reasons) is not given_
        if not given_:
            assert verdict.scope is None


@pytest.mark.parametrize("stem", ["tight_budget", "sound_organ", "barely_inspected"])
def test_a_verdict_is_settled_when_the_doubt_is_little_enough(stem: str) -> None:
    result = assessed(stem)
    doubt = 1 - result.verdict.probability
    for allowed, settled in ((doubt + 0.001, True), (doubt - 0.001, False)):
        shop = result.workshop.model_copy(update={"settled_doubt": allowed})
        anew = assess.assess(result.job, workshop=shop)
        assert anew.verdict.settled is settled
        assert anew.settled is settled


def test_with_no_ceiling_and_hardly_anything_seen_one_must_look_further() -> None:
    blind = assess.assess(Job.model_validate({"format": 1, "owner": {"wish": "full"}}))
    assert blind.verdict.probability > SHOP.verdict_enough
    assert blind.verdict.name == "look further first"
    assert not blind.verdict.settled
    assert not blind.settled
    assert any("no ceiling is stated, and with" in reason for reason in blind.verdict.reasons)
    rich = {"format": 1, "owner": {"wish": "full", "ceiling": 1e6}}
    assert assess.assess(Job.model_validate(rich)).verdict.name == "restore in full"
    none = {"format": 1, "owner": {"wish": "full", "ceiling": 0}}
    assert assess.assess(Job.model_validate(none)).verdict.name == "conserve unplayed"
    # With enough seen a missing ceiling is no hindrance.
    seen = assessed("neglected")
    owner = seen.job.owner.model_copy(update={"ceiling": None})
    verdict = assess.assess(seen.job.model_copy(update={"owner": owner})).verdict
    assert verdict.name == verdict.likeliest


@pytest.mark.parametrize("stem", FILES)
def test_a_verdict_has_its_scope_and_reasons(stem: str) -> None:
    verdict = assessed(stem).verdict
    scopes: dict[VerdictName, Scope] = {
        "restore in full": "full",
        "repair to playing order": "playing",
        "conserve unplayed": "stabilise",
    }
    if verdict.name in scopes:
        # What is called for alike in both scopes is told as the lesser.
        assert verdict.scope in {scopes[verdict.name], "full"}
    else:
        assert verdict.scope is None
    assert [option.scope for option in verdict.options] == ["full", "playing", "stabilise"]
    assert [likely.scope for likely in verdict.likely] == ["full", "playing", "stabilise"]
    assert bool(verdict.worth_saving) <= (verdict.name == "keep for parts")
    ceiling = assessed(stem).job.owner.ceiling
    for likely in verdict.likely:
        assert (likely.within_ceiling is None) == (ceiling is None)


# The limit_breakpoints by ceiling


def likeliest_at(
    result: assess.Assessment, owner: Owner, wish: Scope, ceiling: float
) -> dict[VerdictName, float]:
    wishing = owner.model_copy(update={"wish": wish, "ceiling": ceiling})
    return chances_of(result.scenarios.verdict_indices(wishing, result.workshop))


def rung_at(rungs: tuple[Breakpoint, ...], ceiling: float) -> Breakpoint:
    return [rung for rung in rungs if rung.ceiling <= ceiling][-1]


@pytest.mark.parametrize("wish", WISHES)
@pytest.mark.parametrize("stem", FIXTURES)
def test_at_every_ceiling_the_ladder_has_the_likeliest_verdict(stem: str, wish: Scope) -> None:
    result = assessed(stem)
    costs = result.scenarios.costs
    dearest = max(float(costs[s].cost_at(SHOP.sure_enough, SHOP).max()) for s in WISHES)
    for owner in (result.job.owner, Owner(worth=3000, attachment=1)):
        rungs = limit_breakpoints(result.scenarios, owner, wish, result.workshop)
        assert rungs[0].ceiling == 0
        assert all(lower.ceiling < upper.ceiling for lower, upper in itertools.pairwise(rungs))
        assert all(lower.name != upper.name for lower, upper in itertools.pairwise(rungs))
        for ceiling in np.linspace(0, 1.1 * dearest + 10, GRID):
            chances = likeliest_at(result, owner, wish, float(ceiling))
            near = any(abs(ceiling - r.ceiling) <= max(1, NEAR * r.ceiling) for r in rungs)
            name = next(iter(chances))
            assert near or rung_at(rungs, ceiling).name == name, (owner, ceiling)
        for rung in rungs:
            chances = likeliest_at(result, owner, wish, rung.ceiling)
            assert (rung.name, rung.probability) == next(iter(chances.items()))


@pytest.mark.parametrize("stem", ["one_strap", "tight_budget", "neglected"])
def test_a_rung_begins_where_the_verdict_turns(stem: str) -> None:
    result = assessed(stem)
    for wish in WISHES:
        rungs = limit_breakpoints(result.scenarios, result.job.owner, wish, result.workshop)
        for lower, upper in itertools.pairwise(rungs):
            below = upper.ceiling - max(1.0, NEAR * upper.ceiling)
            found = likeliest_at(result, result.job.owner, wish, max(below, 0.0))
            assert next(iter(found)) == lower.name


def test_a_ceiling_of_nothing_is_a_ceiling() -> None:
    for stem in ("barely_inspected", "tight_budget", "sound_organ"):
        job, drawn = assessed(stem).job, assessed(stem).scenarios
        owner = job.owner.model_copy(update={"ceiling": 0.0})
        verdict = assess.assess(job.model_copy(update={"owner": owner})).verdict
        free = [(drawn.costs[likely.scope].needless).mean() for likely in verdict.likely]
        assert [likely.within_ceiling for likely in verdict.likely] == pytest.approx(free)
        assert verdict.likeliest not in {"restore in full", "repair to playing order"}
        rungs = next(iter(verdict.ceilings.values()))
        assert rungs[0].name == verdict.likeliest
        assert rungs[0].probability == verdict.probability


@pytest.mark.parametrize(
    ("wish", "ladders"),
    [(None, ["full", "playing"]), ("full", ["full"]), ("playing", ["playing"]), ("stabilise", [])],
)
def test_there_is_a_ladder_for_each_wish_that_is_open(
    wish: Scope | None, ladders: list[Scope]
) -> None:
    job = assessed("barely_inspected").job
    owner = job.owner.model_copy(update={"wish": wish})
    ceilings = assess.assess(job.model_copy(update={"owner": owner})).verdict.ceilings
    assert list(ceilings) == ladders


def test_the_ladder_of_one_sure_instrument_turns_at_its_prices() -> None:
    answers: dict[str, str | float] = {"wheels.noise": "silent", "wheels.play": 7}
    answers |= {"wheels.broken_spokes": 0, "box.crack": "one"}
    result = assess.assess(job_with(answers), knowledge=toy.knowledge())
    rungs = result.verdict.ceilings["full"]
    assert [rung.name for rung in rungs] == [
        "conserve unplayed", "repair to playing order", "restore in full"
    ]  # fmt: skip
    for rung, scope in zip(rungs[1:], ("playing", "full"), strict=True):
        cost = float(result.scenarios.costs[scope].cost_at(SHOP.sure_enough, SHOP)[0])
        assert cost - 0.01 <= rung.ceiling <= cost + max(1, NEAR * cost)
    assert [rung.probability for rung in rungs] == [1, 1, 1]


# The decision


YES = Feasibility(needless=False, passes=True, possible=True, dissuaded=False)
DEAR = Feasibility(needless=False, passes=False, possible=True, dissuaded=False)
ADVISED = Feasibility(needless=False, passes=False, possible=True, dissuaded=True)
GONE = Feasibility(needless=False, passes=False, possible=False, dissuaded=False)
NOTHING = Feasibility(needless=True, passes=True, possible=True, dissuaded=False)
NOTHING_BUT_KEPT = Feasibility(needless=True, passes=False, possible=True, dissuaded=True)
REASON = "a concert series that is planned for it"

Case = tuple[Feasibility, Feasibility, Owner, VerdictName, Scope | None, Ground, tuple[Scope, ...]]
RESTORE: VerdictName = "restore in full"
REPAIR: VerdictName = "repair to playing order"
CONSERVE: VerdictName = "conserve unplayed"
LEAVE: VerdictName = "leave as it is"
PARTS: VerdictName = "keep for parts"
BOTH: tuple[Scope, ...] = ("full", "playing")
CASES: dict[str, Case] = {
    "nothing is found": (
        NOTHING, NOTHING, Owner(wish="full"), LEAVE, None, "nothing called for", ()),
    "nothing is found, though early and unaltered: it is kept": (
        NOTHING_BUT_KEPT, NOTHING_BUT_KEPT, Owner(significance=2),
        CONSERVE, "stabilise", "kept as evidence", ()),
    "evidence is kept whatever is wished": (
        YES, YES, Owner(wish="full", significance=2),
        CONSERVE, "stabilise", "kept as evidence", ()),
    "a reason to play outweighs that": (
        YES, YES, Owner(wish="full", significance=3, reason_to_use=REASON),
        RESTORE, "full", "passes", ()),
    "a little significance is no evidence": (
        YES, YES, Owner(wish="full", significance=1), RESTORE, "full", "passes", ()),
    "only to be stabilised": (
        YES, YES, Owner(wish="stabilise"), CONSERVE, "stabilise", "wished", ()),
    "without a wish the fullest is tried": (YES, YES, Owner(), RESTORE, "full", "passes", ()),
    "only to be played": (YES, YES, Owner(wish="playing"), REPAIR, "playing", "passes", ()),
    "too dear in full": (DEAR, YES, Owner(wish="full"), REPAIR, "playing", "passes", ("full",)),
    "it plays as it is": (
        YES, NOTHING, Owner(wish="playing"), LEAVE, None, "plays as it is", ()),
    "it plays as it is, and more is too dear": (
        DEAR, NOTHING, Owner(wish="full"), LEAVE, None, "plays as it is", ("full",)),
    "too dear, and dear to its owner": (
        DEAR, DEAR, Owner(wish="full", attachment=2), CONSERVE, "stabilise", "dear", BOTH),
    "too dear, and significant": (
        DEAR, DEAR, Owner(significance=2, reason_to_use=REASON),
        CONSERVE, "stabilise", "dear", BOTH),
    "beyond repair, and dear to its owner": (
        GONE, GONE, Owner(wish="playing", attachment=3),
        CONSERVE, "stabilise", "dear", ("playing",)),
    "only too dear": (
        DEAR, DEAR, Owner(wish="full", attachment=1, significance=1),
        CONSERVE, "stabilise", "only money or time", BOTH),
    "beyond repair in full, too dear to play": (
        GONE, DEAR, Owner(wish="full"), CONSERVE, "stabilise", "only money or time", BOTH),
    "advised against": (
        ADVISED, ADVISED, Owner(wish="full"), PARTS, None, "nothing speaks for it", BOTH),
    "beyond repair": (
        GONE, GONE, Owner(wish="playing"), PARTS, None, "nothing speaks for it", ("playing",)),
    "possible in full and not to play": (
        DEAR, GONE, Owner(), PARTS, None, "nothing speaks for it", BOTH),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_what_is_decided_and_on_which_ground(case: str) -> None:
    full, playing, owner, name, scope, ground, failed = CASES[case]
    assert decide(full, playing, True, owner) == Decision(name, scope, ground, failed)


def test_the_table_reaches_every_ground_and_every_verdict() -> None:
    grounds = {case[5] for case in CASES.values()}
    assert grounds == set(Ground.__args__)  # type: ignore[attr-defined]
    assert {case[3] for case in CASES.values()} == set(VERDICT_NAMES)


def test_a_full_restoration_that_is_no_more_than_playing_order_is_called_that() -> None:
    assert decide(YES, YES, False, Owner(wish="full")) == Decision(REPAIR, "full", "passes")


prospects = st.builds(
    lambda needless, dear, possible, dissuaded: Feasibility(
        needless, possible and not dear and not dissuaded, possible, dissuaded
    ),
    *[st.booleans()] * 4,
)
levels = st.sampled_from([None, 0, 1, 2, 3])


@given(prospects, prospects, st.booleans(), st.sampled_from(["full", "playing"]), levels, levels)
def test_work_is_decided_only_where_nothing_stands_against_it(
    full: Feasibility,
    playing: Feasibility,
    differs: bool,
    wish: Scope,
    significance: int | None,
    attachment: int | None,
) -> None:
    owner = Owner(wish=wish, significance=significance, attachment=attachment)
    found = decide(full, playing, differs, owner)
    tried = {"full": full, "playing": playing}
    if found.ground == "passes":
        assert found.scope is not None
        assert tried[found.scope].passes
    for scope in found.failed:
        assert not tried[scope].passes
    if max(significance or 0, attachment or 0) >= CONSERVE_FROM:
        assert found.name != "keep for parts"
    if wish == "playing":
        assert found.scope != "full"


@pytest.mark.parametrize(
    ("stem", "owner", "name"),
    [
        ("neglected", {"significance": 2}, "conserve unplayed"),
        ("neglected", {"significance": 2, "reason_to_use": REASON}, "restore in full"),
        ("neglected", {"ceiling": 10}, "conserve unplayed"),
        ("neglected", {"wish": "stabilise"}, "conserve unplayed"),
        ("neglected", {"wish": "playing"}, "repair to playing order"),
        ("neglected", {"attachment": 1}, "keep for parts"),
        ("neglected", {"attachment": 1, "worth": 50000}, "restore in full"),
        ("flooded", {"attachment": 2}, "conserve unplayed"),
        ("sound_organ", {"wish": "stabilise"}, "conserve unplayed"),
    ],
)
def test_what_it_means_to_its_owner_decides_for_a_whole_job(
    stem: str, owner: dict[str, object], name: str
) -> None:
    job = assessed(stem).job
    changed = Owner.model_validate({**job.owner.model_dump(), **owner})
    assert assess.assess(job.model_copy(update={"owner": changed})).verdict.likeliest == name


# What would turn it


@pytest.mark.parametrize("stem", FIXTURES)
def test_a_finding_that_is_said_to_turn_the_verdict_does(stem: str) -> None:
    result = assessed(stem)
    before = result.chances()
    for turn in result.pivotal_findings:
        judgement = result.graded.judgements[turn.criterion]
        instead = next(o for o in judgement.criterion.outcomes if o.label == turn.instead)
        assert instead.condition == turn.condition
        assert abs(instead.condition - judgement.best.condition) >= 1
        assert turn.name != next(iter(before))
        after = answered(result, {turn.criterion: answer_for(result, judgement, instead)})
        # It was tried on few draws, and beliefs in all else moved too.
        assert after.chances()[turn.name] > before.get(turn.name, 0.0) + LEAD_Z_SCORE, turn


def test_some_fixture_has_a_finding_that_turns_its_verdict() -> None:
    assert sum(len(assessed(stem).pivotal_findings) for stem in FIXTURES) >= 3


TURNS: dict[str, tuple[dict[str, str | float], set[tuple[str, str, VerdictName]]]] = {
    "some worse": (
        {"wheels.play": 2, "wheels.broken_spokes": 3, "box.crack": "one"},
        {("wheels.broken_spokes", "half or more", PARTS), ("box.crack", "rotten", PARTS)},
    ),
    "one better": (
        {"wheels.play": 2, "wheels.broken_spokes": 8, "box.crack": "one"},
        {("wheels.broken_spokes", "some", RESTORE)},
    ),
    "either alone is not enough": (
        {"wheels.play": 2, "wheels.broken_spokes": 8, "box.crack": "rotten"},
        set(),
    ),
}


@pytest.mark.parametrize("kind", TURNS)
def test_the_findings_that_turn_a_verdict_are_those_and_no_others(kind: str) -> None:
    answers, turns = TURNS[kind]
    job = job_with({**answers, "wheels.noise": "squeaks"})
    job = job.model_copy(update={"owner": Owner(wish="full")})
    result = assess.assess(job, knowledge=toy.knowledge())
    assert {(t.criterion, t.instead, t.name) for t in result.pivotal_findings} == turns
    anew = set()
    for finding in result.graded.findings:
        classes = sorted({o.condition for o in finding.criterion.outcomes})
        at = classes.index(finding.outcome.condition)
        for outcome in finding.criterion.outcomes:
            if abs(classes.index(outcome.condition) - at) == 1:
                after = answered(result, {finding.id: answer_for(result, finding, outcome)})
                if after.verdict.likeliest != result.verdict.likeliest:
                    anew.add((finding.id, outcome.label, after.verdict.likeliest))
    assert anew == turns


def test_without_findings_nothing_turns_the_verdict() -> None:
    assert assess.assess(job_with()).pivotal_findings == ()


@pytest.mark.parametrize("stem", FIXTURES)
def test_the_verdict_sends_nobody_to_look_where_that_makes_nobody_surer(stem: str) -> None:
    result = assessed(stem)
    text = " ".join(verdict_text(result).split())
    idle = result.information_value.expected_accuracy_gain() <= SHOP.worth_looking
    assert ("Settled: " in text) is result.settled
    assert ("more looking may change it" in text) is not (result.settled or idle)
    assert ("look first at: " in text) is not (result.settled or idle)
    if idle and not result.settled:
        worst = next(h for h in result.hidden(result.verdict.scope or "full") if not h.at_visit)
        assert f"above all: {result.knowledge.criteria[worst.criterion].asks}" in text
