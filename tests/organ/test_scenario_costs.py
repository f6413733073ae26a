"""Draws of whole instruments, compared with beliefs, exact plans and scipy."""

from __future__ import annotations

import itertools
import math
from dataclasses import fields, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
import toy
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats
from seen import FIXTURES, assessed, drawn, known, plans_of, with_known

import assess
from assess.decision.rules import Feasibility, Setting, decide, decide_on, weigh
from assess.decision.scenario_verdicts import VERDICT_NAMES, standing, verdict_indices
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.job.job_file import Answer, Owner
from assess.job.workshop_profile import load_workshop
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.steps import subsystem_of
from assess.planning.cost_estimate import Spread, cost_of, price_at
from assess.planning.plan import Plan
from assess.testing import job_with
from assess.uncertainty.association import declared_odds
from assess.uncertainty.bayes_network import Beliefs
from assess.uncertainty.monte_carlo import OutcomeIndices
from assess.uncertainty.scenario_costs import ScenarioCosts, Scenarios, simulate_scenarios

SHOP = load_workshop()
MANY = 32000
STANDARD_ERRORS = 5
"""Thousands of shares are compared, of which one in 16,000 would be off by four of them."""
DRAWS_TRIED = 12
NEAR = 0.015
FITTED = 0.03
"""How far shares may be from chances that leave out how the causes of a complaint depend."""
CASES = ["damp_organ_with_woodworm", "pressure_harmonium_with_ciphers"]


@cache
def many(stem: str) -> tuple[tuple[Judgement, ...], OutcomeIndices]:
    """Many draws of a job."""
    result = assessed(stem)
    return drawn(result, MANY)


def within_errors(share: float, chance: float, count: int) -> bool:
    """Whether a share of draws may have come from a chance; rare events come in whole draws."""
    slack = STANDARD_ERRORS * math.sqrt(chance * (1 - chance) / count) + STANDARD_ERRORS / count
    return abs(share - chance) <= slack


def left_to_care(unseen: tuple[Judgement, ...]) -> set[str]:
    """Unseen criteria of which no other drawn outcome hints at anything."""
    factors = declared_odds(assess.knowledge_in_use())
    drawn = {judgement.id for judgement in unseen}
    return {criterion for criterion in drawn if not drawn & factors.get(criterion, {}).keys()}


# Outcomes


@pytest.mark.parametrize("stem", ["barely_inspected", "flooded", "one_strap", *CASES])
def test_outcomes_are_drawn_as_often_as_they_are_believed(stem: str) -> None:
    believed = assessed(stem).beliefs
    unseen, outcomes = many(stem)
    assert [j.id for j in unseen] == [
        j.id for j in assessed(stem).graded.judgements.values() if j.is_unseen
    ]
    # The causes of a complaint depend on each other, which their chances alone leave out.
    alone = left_to_care(unseen) - believed.before_complaints.keys()
    assert len(alone) > len(unseen) / 3
    for judgement, row in zip(unseen, outcomes, strict=True):
        if judgement.id not in alone:
            continue
        chances = believed.of_criterion(judgement.id)
        shares = np.bincount(row, minlength=len(chances)) / MANY
        assert len(shares) == len(chances)
        for share, chance in zip(shares, chances, strict=True):
            # Scenarios that are drawn again to fit a complaint shift a little with it.
            near = believed.complaints and abs(share - chance) < FITTED
            assert near or within_errors(share, chance, MANY), (judgement.id, share, chance)


def both_worst(believed: Beliefs, first: Judgement, second: Judgement) -> float:
    """The chance that two criteria are both at their last outcome, summed over all states."""
    parts = [j.criterion.component for j in (first, second)]
    above = [np.array(believed.given_whole[subsystem_of(part)]) for part in parts]
    rows = [np.array(believed.given_subsystem[part]) for part in parts]
    last = [np.array(believed.outcomes[j.id])[:, -1] for j in (first, second)]
    if parts[0] == parts[1]:
        given_whole = above[0] @ rows[0] @ (last[0] * last[1])
    elif subsystem_of(first.id) == subsystem_of(second.id):
        given_whole = above[0] @ ((rows[0] @ last[0]) * (rows[1] @ last[1]))
    else:
        given_whole = (above[0] @ rows[0] @ last[0]) * (above[1] @ rows[1] @ last[1])
    return float(np.array(believed.whole) @ given_whole)


@pytest.mark.parametrize("kind", ["component", "subsystem", "instrument"])
def test_draws_depend_on_each_other_as_the_states_of_care_do(kind: str) -> None:
    stem = "barely_inspected"
    believed = assessed(stem).beliefs
    unseen, outcomes = many(stem)
    likely = [
        (j, row == len(j.criterion.outcomes) - 1, believed.of_criterion(j.id)[-1])
        for j, row in zip(unseen, outcomes, strict=True)
        if believed.of_criterion(j.id)[-1] > 0.08 and j.id in left_to_care(unseen)
    ]
    pairs = [
        pair
        for pair in itertools.combinations(likely, 2)
        if kind_of(pair[0][0], pair[1][0]) == kind
    ]
    assert len(pairs) > 20
    dependent = 0
    for (first, worst, alone), (second, also_worst, as_well) in pairs[:300]:
        share = float((worst & also_worst).mean())
        assert within_errors(share, both_worst(believed, first, second), MANY), (
            first.id,
            second.id,
        )
        dependent += not within_errors(share, alone * as_well, MANY)
    if kind == "component":
        # Draws that did not depend on each other would be noticed.
        assert dependent > len(pairs) / 2


def kind_of(first: Judgement, second: Judgement) -> str:
    if first.criterion.component == second.criterion.component:
        return "component"
    return "subsystem" if subsystem_of(first.id) == subsystem_of(second.id) else "instrument"


@pytest.mark.parametrize("stem", ["barely_inspected", "one_strap"])
def test_the_same_job_always_gives_the_same_draws(stem: str) -> None:
    first, again = assessed(stem), assess.assess(assessed(stem).job)
    assert np.array_equal(first.scenarios.outcomes, again.scenarios.outcomes)
    assert np.array_equal(first.verdict_indices, again.verdict_indices)
    fewer = drawn(first, 50)[1]
    more = drawn(first, 50)[1]
    assert np.array_equal(fewer, more)


@pytest.mark.parametrize(
    "answer",
    [
        ("pneumatics.exhauster_cloth", -1),
        ("pneumatics.exhauster_cloth", 0),
        ("reeds.sample_corrosion", -1),
        ("casework.plywood", 0),
    ],
    ids=lambda a: f"{a[0]}-{a[1]}",
)
def test_one_more_answer_changes_only_what_depends_on_it(answer: tuple[str, int]) -> None:
    before = assessed("barely_inspected")
    criterion = before.knowledge.criteria[answer[0]]
    subsystem, name = criterion.id.split(".")
    given_answer = Answer(answer=criterion.outcomes[answer[1]].label)
    answers = {s: dict(a) for s, a in before.job.answers.items()}
    answers[subsystem][name] = given_answer
    after = assess.assess(before.job.model_copy(update={"answers": answers}))
    unseen, outcomes = many("barely_inspected")
    now_unseen, now = drawn(after, MANY)
    assert {j.id for j in unseen} - {j.id for j in now_unseen} == {criterion.id}
    rows = {j.id: row for j, row in zip(now_unseen, now, strict=True)}
    # By the same numbers the state of the whole comes out otherwise only as far as the belief in
    # it moves, and that of a subsystem only with it, or as far as its own belief moves.
    moved = shift(before.beliefs.whole, after.beliefs.whole)
    given_whole = (b.beliefs.given_whole[subsystem] for b in (before, after))
    besides = max(shift(*rows) for rows in zip(*given_whole, strict=True))
    hinted = hinted_at_from(criterion.id)
    assert len(hinted) < len(unseen) * 2 / 5
    compared = 0
    for judgement, row in zip(unseen, outcomes, strict=True):
        if judgement.criterion.component == criterion.component or judgement.id in hinted:
            continue
        compared += 1
        same = subsystem_of(judgement.id) == subsystem
        most = min(1.0, moved + besides if same else moved)
        changed = float((rows[judgement.id] != row).mean())
        assert changed <= most + 4 * math.sqrt(most * (1 - most) / MANY), judgement.id
    assert compared > len(unseen) / 2


def hinted_at_from(criterion: str) -> set[str]:
    """What a criterion hints at, what hints at it, and all that these hint at in turn."""
    odds = declared_odds(assess.knowledge_in_use())
    todo = [criterion, *odds.get(criterion, ())]
    found: set[str] = set()
    while todo:
        evidence = todo.pop()
        if evidence not in found:
            found.add(evidence)
            todo += [target for target, by in odds.items() if evidence in by]
    return found


def shift(before: tuple[float, ...], after: tuple[float, ...]) -> float:
    """How many draws by the same numbers come out otherwise, at most."""
    pairs = zip(itertools.accumulate(before), itertools.accumulate(after), strict=True)
    return sum(abs(x - y) for x, y in pairs)


# Hours, cost and decision of each draw


OWNERS = [
    Owner(wish=wish, ceiling=ceiling, worth=worth, attachment=attachment, significance=significance)
    for wish, ceiling, worth, attachment, significance in (
        ("full", None, None, 0, 0),
        ("full", 9000, None, 1, 1),
        ("working", 4000, 900, 0, 0),
        (None, 12000, 3000, 1, 0),
        (None, 2500, 400, 3, 0),
        ("stabilise", 500, None, 0, 0),
        ("full", 6000, None, 0, 3),
    )
]


def exact(stem: str, column: int) -> tuple[Graded, dict[Scope, Plan]]:
    """One draw of a job as an instrument wholly seen, with its plans."""
    result = assessed(stem)
    drawn = result.scenarios
    graded = with_known(
        result,
        (
            known(judgement, int(row[column]), result.plan_arrays.counts)
            for judgement, row in zip(drawn.unseen, drawn.outcomes, strict=True)
        ),
    )
    return graded, plans_of(result, graded)


def is_close_call(plans: dict[Scope, Plan], owner: Owner) -> bool:
    """Whether a decision turns on differences smaller than the arrays can show."""
    limits = [(SHOP.most_hours, [p.cost.hours.p50 for p in plans.values()])]
    if owner.ceiling:
        prices = [price_at(p.cost, SHOP.sure_enough) for p in plans.values()]
        limits.append((owner.ceiling, prices))
    if owner.worth:
        limits.append((SHOP.worth_times * owner.worth, [p.cost.total.p50 for p in plans.values()]))
    return any(abs(v - limit) < NEAR * limit for limit, values in limits for v in values)


@pytest.mark.parametrize("stem", [*FIXTURES, *CASES])
def test_each_draw_is_planned_and_decided_as_if_it_were_wholly_seen(stem: str) -> None:
    result = assessed(stem)
    drawn = result.scenarios
    owners = [result.job.owner, *OWNERS]
    settings = [Setting(owner, result.workshop) for owner in owners]
    codes = [verdict_indices(drawn, setting) for setting in settings]
    compared = 0
    for column in np.linspace(0, drawn.count - 1, DRAWS_TRIED).astype(int):
        graded, plans = exact(stem, column)
        for scope, plan in plans.items():
            scope_costs = drawn.costs[scope]
            assert bool(scope_costs.needless[column]) == (not plan.steps)
            cost = plan.cost
            materials = (cost.materials + cost.transport) * (1 + cost.contingency)
            assert scope_costs.mean_h[column] == pytest.approx(cost.hours.mean, rel=NEAR)
            assert scope_costs.sd_h[column] == pytest.approx(cost.hours.sd, rel=NEAR)
            assert scope_costs.fixed[column] == pytest.approx(materials, rel=NEAR, abs=0.1)
            price = price_at(cost, SHOP.sure_enough) if plan.steps else 0.0
            at = scope_costs.cost_at(SHOP.sure_enough, SHOP)[column]
            assert at == pytest.approx(price, rel=NEAR, abs=0.1)
        for setting, decided in zip(settings, codes, strict=True):
            if not is_close_call(plans, setting.owner):
                decision = decide_on(weigh(plans, graded, setting), graded, setting)
                assert VERDICT_NAMES[decided[column]] == decision.name, (setting.owner, column)
                compared += 1
    assert compared > 0.7 * DRAWS_TRIED * len(owners)


GLUED_FIRST = toy.altered(toy.BOX, "repair", "glue_crack", requires=[
    {"step": "clamp", "because": "glue wants pressure"}])  # fmt: skip
GLUED_FIRST["repair"] += [
    {"id": "clamp", "component": "boards", "title": "Make a clamp", "hours": [1, 2, 3],
     "workshop": False, "materials": []},
]  # fmt: skip
GLUED_FIRST["criterion"][0]["outcomes"][2]["calls_for"] = ["new_boards", "glue_crack"]
HOPELESS = toy.altered(toy.BOX, "criterion", "crack", outcomes=[
    {"answer": "none", "class": 0},
    {"answer": "one", "class": 1, "calls_for": ["glue_crack"]},
    {"answer": "rotten", "class": 3, "calls_for": ["new_boards"], "beyond_repair": "it is dust"},
    {"answer": "eaten", "class": 3, "beyond_repair": "it is gone"},
])  # fmt: skip
GREASED_ONCE = toy.altered(toy.WHEELS, "repair", "bind_spokes", materials=[
    {"id": "grease", "quantity": 30, "fixed": True}, {"id": "spoke", "quantity": 0.3}])  # fmt: skip
KIT_FOR_ALL = toy.altered(toy.WHEELS, "repair", "bind_spokes", materials=[
    {"id": "kit", "quantity": 1}])  # fmt: skip
for _repair in KIT_FOR_ALL["repair"]:
    if _repair["id"] in ("new_spokes", "fix_shoe", "clean_hub"):
        _repair["materials"] = [{"id": "kit", "quantity": 1}]
KIT_FOR_ALL["material"] += [
    {"id": "kit", "title": "Kit", "unit": "set", "price": 40, "once": True}
]  # fmt: skip
CARTS = {
    "the cart": toy.knowledge(),
    "what a lesser repair needs is left out with it": toy.knowledge(toy.WHEELS, GLUED_FIRST),
    "beyond repair, in full or at all": toy.knowledge(toy.WHEELS, HOPELESS),
    "an amount used once however often": toy.knowledge(GREASED_ONCE, toy.BOX),
    "what is needless makes nothing needless": toy.knowledge(
        toy.unless(
            toy.unless(toy.WHEELS, "grease_hub", "new_spokes"), "fix_shoe", "box.glue_crack"
        ),
        toy.unless(toy.BOX, "glue_crack", "wheels.grease_hub"),
    ),
    "repairs that spare each other": toy.knowledge(
        toy.unless(toy.WHEELS, "new_spokes", "box.glue_crack"),
        toy.unless(toy.BOX, "glue_crack", "wheels.new_spokes"),
    ),
    "a kit that serves all repairs": toy.knowledge(KIT_FOR_ALL, toy.BOX),
}


@pytest.mark.parametrize("kind", CARTS)
def test_a_cart_is_planned_alike_in_every_way_that_it_may_turn_out(kind: str) -> None:
    result = assess.assess(job_with(features={"brake": True}), knowledge=CARTS[kind])
    unseen, counts = result.scenarios.unseen, result.plan_arrays.counts
    ways = itertools.product(*(range(len(j.criterion.outcomes)) for j in unseen))
    outcomes = np.array(list(ways), np.int8).T
    drawn = simulate_scenarios(result.plan_arrays, result.graded, SHOP, unseen, outcomes)
    settings = [Setting(owner, SHOP) for owner in OWNERS]
    codes = [verdict_indices(drawn, setting) for setting in settings]
    assert outcomes.shape[1] > 50
    for column, way in enumerate(outcomes.T):
        filled = zip(unseen, way, strict=True)
        graded = with_known(result, (known(j, int(place), counts) for j, place in filled))
        plans = plans_of(result, graded)
        for scope in SCOPES:
            cost, scope_costs = plans[scope].cost, drawn.costs[scope]
            assert scope_costs.mean_h[column] == pytest.approx(cost.hours.mean, rel=1e-4)
            assert scope_costs.sd_h[column] == pytest.approx(cost.hours.sd, rel=1e-4)
            materials = (cost.materials + cost.transport) * (1 + cost.contingency)
            assert scope_costs.fixed[column] == pytest.approx(materials, rel=1e-4)
        for setting, decided in zip(settings, codes, strict=True):
            decision = decide_on(weigh(plans, graded, setting), graded, setting)
            assert VERDICT_NAMES[decided[column]] == decision.name


def test_what_was_counted_counts_with_what_is_drawn() -> None:
    wheels = toy.altered(
        toy.WHEELS, "repair", "new_spokes", per=["broken_spokes", "loose_spokes"], supersedes=[]
    )
    loose = {
        **next(c for c in wheels["criterion"] if c["id"] == "broken_spokes"), "id": "loose_spokes"
    }  # fmt: skip
    wheels["criterion"] = [*wheels["criterion"], loose]
    cart = toy.knowledge(wheels, toy.BOX)
    result = assess.assess(job_with({"wheels.broken_spokes": 3}), knowledge=cart)
    drawn = result.scenarios
    row = [j.id for j in drawn.unseen].index("wheels.loose_spokes")
    numbers = result.plan_arrays.counts["wheels.loose_spokes"]
    assert numbers[0] == 0
    assert numbers[1] in range(1, 6)
    column = int(np.flatnonzero(drawn.outcomes[row] == 1)[0])
    places = drawn.outcomes[:, column]
    graded = with_known(
        result,
        (
            known(j, int(p), result.plan_arrays.counts)
            for j, p in zip(drawn.unseen, places, strict=True)
        ),
    )
    plan = plans_of(result, graded)["full"]
    step = plan.step("wheels.new_spokes")
    assert step is not None
    assert step.times.count == 3 + numbers[1]
    assert drawn.costs["full"].mean_h[column] == pytest.approx(plan.cost.hours.mean, rel=1e-4)


def test_a_number_that_stands_for_a_count_belongs_to_its_outcome() -> None:
    for facts in ({}, {"keys": 49, "ranks": 1}, {"keys": 73, "ranks": 6}):
        result = assess.assess(job_with(facts=facts))
        counted = {c for r in result.knowledge.repairs.values() for c in r.per}
        assert len(counted) > 10
        for criterion in counted:
            found = result.knowledge.criteria[criterion]
            share = math.prod(result.configuration.facts.get(fact, 1.0) for fact in found.share_of)
            for outcome, number in zip(
                found.outcomes, result.plan_arrays.counts[criterion], strict=True
            ):
                assert number == int(number) or found.unit != "count"
                assert found.outcome_for(number / share) is outcome, (criterion, number)


def spent_in_full(hours: float) -> float:
    """Summed hours of a job from those really spent: the first ones in full, a share of more."""
    first = min(hours, SHOP.overlap_from)
    return first + (hours - first) / SHOP.overlap


def test_a_counted_finding_that_is_varied_keeps_its_number() -> None:
    result = assess.assess(job_with({"wheels.broken_spokes": 4}), knowledge=toy.knowledge())
    finding = result.graded.judgements["wheels.broken_spokes"]
    ways = np.array([[0, 1, 2]], np.int8)
    drawn = simulate_scenarios(result.plan_arrays, result.graded, SHOP, (finding,), ways)
    sound, seen, half = drawn.costs["full"].mean_h
    assert seen == pytest.approx(result.plans["full"].cost.hours.mean, rel=1e-5)
    assert sound == 0
    number = result.plan_arrays.counts["wheels.broken_spokes"][2]
    step = (0.5 + 4 + 2) / 6
    assert spent_in_full(half) - spent_in_full(seen) == pytest.approx((number - 4) * step, rel=1e-5)


PINNED = {
    "wheels.play": [0, 0, 0, 0, 0, 0, 0, 0, 1, 1],
    "wheels.noise": [0, 0, 0, 0, 0, 0, 1, 0, 0, 0],
    "wheels.broken_spokes": [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
    "box.crack": [0, 0, 1, 1, 0, 0, 0, 0, 1, 0],
}


def test_the_generator_gives_the_same_numbers_for_ever() -> None:
    result = assess.assess(job_with(), knowledge=toy.knowledge())
    unseen, outcomes = drawn(result, 10)
    assert {j.id: row.tolist() for j, row in zip(unseen, outcomes, strict=True)} == PINNED


# What is decided on each draw


FACTS = list(itertools.product((False, True), repeat=8))
"""For each scope needless, beyond repair, expensive; dissuaded; and whether the scopes differ."""


def made_up(prices: tuple[float, float] = (100.0, 200.0)) -> Scenarios:
    """A draw for each combination of facts, with hours of one and of a hundred."""
    columns = np.array(FACTS).T
    nothing = np.zeros(len(FACTS), np.bool_)
    costs: dict[Scope, ScenarioCosts] = {"stabilise": costs_of(nothing, nothing, nothing, prices)}
    costs["full"] = costs_of(*columns[0:3], prices)
    costs["working"] = costs_of(*columns[3:6], prices)
    empty = np.zeros((0, len(FACTS)), np.int8)
    advised: dict[Scope, NDArray[np.bool_]] = {
        "stabilise": nothing, "working": columns[6], "full": columns[6]
    }  # fmt: skip
    return Scenarios((), empty, costs, advised, nothing, np.zeros(len(FACTS), np.int8), columns[7])


def costs_of(
    needless: NDArray[np.bool_],
    impossible: NDArray[np.bool_],
    expensive: NDArray[np.bool_],
    prices: tuple[float, float],
) -> ScenarioCosts:
    fixed = np.where(expensive, *reversed(prices)).astype(np.float32)
    hours = np.zeros(len(needless), np.float32)
    return made_up_costs(
        mean_h=hours, sd_h=hours, fixed=fixed, needless=needless, impossible=impossible
    )


def made_up_costs(**columns: NDArray[Any]) -> ScenarioCosts:
    """Scenario costs of some columns; all the others are false."""
    no = np.zeros(len(columns["mean_h"]), np.bool_)
    return ScenarioCosts(
        **{field.name: columns.get(field.name, no) for field in fields(ScenarioCosts)}
    )


EVERY_OWNER = [
    Owner(
        wish=wish,
        significance=significance,
        attachment=attachment,
        reason_to_use=reason,
        ceiling=150,
    )
    for wish in (None, "full", "working", "stabilise")
    for significance, attachment, reason in itertools.product(
        (None, 1, 2, 3), (None, 0, 1, 2, 3), ("", "a concert")
    )
]


def test_every_combination_of_facts_is_decided_as_one_instrument_is() -> None:
    drawn = made_up()
    assert EVERY_OWNER
    for owner in EVERY_OWNER:
        setting = Setting(owner, SHOP)
        kept = (owner.significance or 0) >= 2 and not owner.reason_to_use
        heeds = (owner.attachment or 0) < 2
        for code, facts in zip(verdict_indices(drawn, setting), FACTS, strict=True):
            dissuaded = kept or (facts[6] and heeds)
            full, working = (
                Feasibility(
                    needless, not (impossible or expensive or dissuaded), not impossible, dissuaded
                )
                for needless, impossible, expensive in (facts[0:3], facts[3:6])
            )
            decision = decide(full, working, facts[7], setting.rarity(0), setting.stance)
            assert VERDICT_NAMES[code] == decision.name, owner


def test_what_costs_too_much_for_the_stated_worth_is_advised_against() -> None:
    # 200 is more than three times 60, 100 is not; nothing is over the limit.
    owner = Owner(wish="full", worth=60, ceiling=1000)
    drawn, setting = made_up(), Setting(owner, SHOP)
    for code, facts in zip(verdict_indices(drawn, setting), FACTS, strict=True):
        full, working = (
            Feasibility(
                needless,
                not (impossible or expensive or facts[6]),
                not impossible,
                expensive or facts[6],
            )
            for needless, impossible, expensive in (facts[0:3], facts[3:6])
        )
        decision = decide(full, working, facts[7], setting.rarity(0), setting.stance)
        assert VERDICT_NAMES[code] == decision.name
    attached = owner.model_copy(update={"attachment": 2})
    without_worth = attached.model_copy(update={"worth": None})
    assert np.array_equal(
        verdict_indices(drawn, Setting(attached, SHOP)),
        verdict_indices(made_up((100.0, 100.0)), Setting(without_worth, SHOP)),
    )


def test_from_which_times_the_worth_it_is_advised_against_stands_in_the_profile() -> None:
    owner, drawn = Owner(wish="full", worth=60, ceiling=1000), made_up()
    for times, advised in ((3.3, 0.75), (3.4, 0.5)):
        setting = Setting(owner, SHOP.model_copy(update={"worth_times": times}))
        assert standing(drawn, "full", setting).against["advised against"] == advised


def test_from_which_attachment_it_is_conserved_stands_in_the_profile() -> None:
    owner, drawn = Owner(wish="full", attachment=2, ceiling=150), made_up()
    for conserve_from, salvaged in ((2, False), (3, True)):
        setting = Setting(owner, SHOP.model_copy(update={"conserve_from": conserve_from}))
        found = {VERDICT_NAMES[code] for code in verdict_indices(drawn, setting)}
        assert ("salvage" in found) is salvaged


def test_what_takes_longer_than_the_workshop_takes_on_does_not_pass() -> None:
    drawn = made_up()
    full = drawn.costs["full"]
    long = replace(full, mean_h=full.mean_h + np.float32(10))
    drawn = replace(drawn, costs={**drawn.costs, "full": long})
    owner = Owner(wish="full")
    just = float(long.median_h.max())
    for hours, passes in ((9.0, False), (just, True), (11.0, True)):
        setting = Setting(owner, SHOP.model_copy(update={"most_hours": hours}))
        found = standing(drawn, "full", setting)
        assert found.against["too many hours"] == (0.0 if passes else 1.0)
        assert (found.passes > 0) is passes
        decided = {VERDICT_NAMES[code] for code in verdict_indices(drawn, setting)}
        assert ("full" in decided) is passes


def test_the_shares_of_what_stands_against_a_scope_are_those_of_the_draws() -> None:
    found = standing(made_up(), "full", Setting(Owner(wish="full", ceiling=150), SHOP))
    assert found.against == {
        "too expensive": 0.5,
        "too many hours": 0.0,
        "beyond repair": 0.5,
        "advised against": 0.5,
    }
    assert found.passes == 1 / 8


# Cost and its spread


@given(
    st.floats(0.5, 400),
    st.floats(0.01, 0.9),
    st.floats(0, 5000),
    st.floats(0.01, 0.99),
)
def test_cost_at_a_quantile_is_the_price_of_that_probability(
    mean: float, relative: float, materials: float, quantile: float
) -> None:
    sd = mean * relative
    hours = Spread(mean, sd, mean, mean, mean)
    cost = cost_of(hours, materials, 300, SHOP)
    fixed = (materials + 300) * (1 + SHOP.contingency)
    one = costs_of_one(mean, sd, fixed)
    assert one.cost_at(quantile, SHOP)[0] == pytest.approx(price_at(cost, quantile), rel=1e-4)


def costs_of_one(mean: float, sd: float, fixed: float) -> ScenarioCosts:
    columns = {"mean_h": mean, "sd_h": sd, "fixed": fixed}
    return made_up_costs(**{name: np.array([value], np.float32) for name, value in columns.items()})


def test_no_hours_cost_what_is_fixed() -> None:
    assert costs_of_one(0, 0, 46).cost_at(0.9, SHOP)[0] == pytest.approx(46)


def test_hours_that_do_not_spread_cost_what_they_cost() -> None:
    cost = (10 * SHOP.rate_per_hour) * (1 + SHOP.contingency) + 46
    assert costs_of_one(10, 0, 46).cost_at(0.9, SHOP)[0] == pytest.approx(cost)


@pytest.mark.parametrize("stem", ["barely_inspected", "tight_budget", "one_strap", *CASES])
@pytest.mark.parametrize("scope", ["working", "full"])
def test_staying_within_a_limit_is_scipys_mixture_of_lognormals(stem: str, scope: Scope) -> None:
    result = assessed(stem)
    unseen, outcomes = many(stem)
    drawn = simulate_scenarios(result.plan_arrays, result.graded, SHOP, unseen, outcomes)
    scope_costs = drawn.costs[scope]
    relative = scope_costs.sd_h.astype(float) / scope_costs.mean_h
    sigma = np.sqrt(np.log1p(relative**2))
    hours = stats.lognorm(sigma, scale=scope_costs.mean_h / np.sqrt(1 + relative**2))
    rate = SHOP.rate_per_hour * (1 + SHOP.contingency)
    mean_cost = scope_costs.mean_h * rate + scope_costs.fixed
    for limit in np.quantile(mean_cost, (0.02, 0.2, 0.5, 0.8, 0.98)):
        exactly = float(np.mean(hours.cdf((limit - scope_costs.fixed) / rate)))
        share = drawn.within(scope, float(limit), SHOP)
        assert within_errors(share, exactly, MANY), limit
    assert drawn.within(scope, 0.0, SHOP) == 0.0
    assert drawn.within(scope, 1e9, SHOP) == 1.0


def test_the_random_quantile_of_a_draw_depends_on_nothing_else() -> None:
    mean = np.linspace(1, 200, MANY).astype(np.float32)
    costs = made_up_costs(mean_h=mean, sd_h=mean / 3, fixed=mean * 0)
    none = np.zeros(MANY, np.bool_)
    drawn = Scenarios(
        (), np.zeros((0, MANY), np.int8), {"full": costs}, {}, none, none.astype(np.int8), none
    )
    sigma = math.sqrt(math.log1p(1 / 9))
    rate = SHOP.rate_per_hour * (1 + SHOP.contingency)
    hours = stats.lognorm(sigma, scale=mean / math.sqrt(1 + 1 / 9))
    for longest in (20, 100, 180):
        share = drawn.within("full", longest * rate, SHOP)
        assert within_errors(share, float(np.mean(hours.cdf(longest))), MANY)


@pytest.mark.parametrize("stem", ["barely_inspected", "tight_budget"])
def test_the_spread_of_many_draws_is_that_of_scipys_mixture(stem: str) -> None:
    result = assessed(stem)
    unseen, outcomes = many(stem)
    drawn = simulate_scenarios(result.plan_arrays, result.graded, SHOP, unseen, outcomes)
    hours, cost = drawn.spreads("full", SHOP)
    scope_costs = drawn.costs["full"]
    mean, square = scope_costs.mean_h.mean(), (scope_costs.sd_h**2 + scope_costs.mean_h**2).mean()
    assert hours.mean == pytest.approx(mean, rel=0.01)
    assert hours.sd == pytest.approx(math.sqrt(square - mean**2), rel=0.02)
    rate = SHOP.rate_per_hour * (1 + SHOP.contingency)
    assert cost.mean == pytest.approx(float(mean) * rate + scope_costs.fixed.mean(), rel=0.01)


@pytest.mark.parametrize("stem", [*FIXTURES, *CASES])
def test_tenths_rise_and_a_larger_scope_takes_more_hours(stem: str) -> None:
    result = assessed(stem)
    for scope in SCOPES:
        for spread in result.scenarios.spreads(scope, result.workshop):
            assert 0 <= spread.p10 <= spread.p50 <= spread.p90
            if spread.p10 > 0 and spread.sd > 1:
                assert spread.p10 < spread.p50 < spread.p90
    likely = {option.scope: option for option in result.verdict.likely}
    assert likely["stabilise"].hours.mean <= likely["working"].hours.mean + 1e-6
    assert likely["working"].hours.mean <= likely["full"].hours.mean + 1e-6


def test_nothing_unseen_is_one_instrument_many_times() -> None:
    answers = {"wheels.play": 7, "wheels.noise": "silent", "wheels.broken_spokes": 3}
    result = assess.assess(job_with({**answers, "box.crack": "one"}), knowledge=toy.knowledge())
    drawn = result.scenarios
    assert drawn.unseen == ()
    for scope in SCOPES:
        scope_costs, cost = drawn.costs[scope], result.plans[scope].cost
        assert set(scope_costs.mean_h.tolist()) == {scope_costs.mean_h[0]}
        assert scope_costs.mean_h[0] == pytest.approx(cost.hours.mean, rel=1e-5)
        hours, total = drawn.spreads(scope, SHOP)
        assert (hours.p10, hours.p50, hours.p90) == pytest.approx(
            (cost.hours.p10, cost.hours.p50, cost.hours.p90), rel=0.01
        )
        assert total.mean == pytest.approx(cost.total.mean, rel=0.01)
