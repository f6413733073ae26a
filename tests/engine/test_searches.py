"""Finding the cause of a complaint as a step of the plan, on a small world worked by hand."""

from __future__ import annotations

import datetime as dt
import json

import pytest
import toy

from assess.assessment import Assessment, assess
from assess.explain import ExplanationNode, why
from assess.job.workshop_profile import load_workshop, unknown_ids
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import Step, StepKind
from assess.output.json_data import budget_data, calendar_data, plan_data
from assess.output.plans import plan_text
from assess.planning.cost_estimate import pert_mean
from assess.planning.plan import Plan

CART = toy.knowledge()
SHOP = load_workshop(trade=CART.trade).model_copy(update={"overlap_from": 0.0})
WOBBLES = '[[history.complaint]]\nsymptom = "wheels.wobbles"\n'
SEARCH = "find wheels.wobbles"
CRACKED = '[answers.box]\ncrack = "one"\n'
LOOSE = "[answers.wheels]\nplay = 3\n"
RUINED = "[answers.wheels]\nplay = 7\n"
SOUND = "[answers.wheels]\nplay = 0\nbroken_spokes = 0\n"
NOISE_TESTED = toy.altered(
    toy.WHEELS, "symptom", "wobbles", tests=["noise", "play", "broken_spokes"]
)
"""The axle must be lifted for the first test."""


def assessed(text: str, knowledge: Knowledge = CART) -> Assessment:
    return assess(toy.job(text), knowledge=knowledge, workshop=SHOP)


def steps(plan: Plan) -> list[str]:
    return [s.step for s in plan.steps]


def texts(node: ExplanationNode) -> str:
    return "\n".join([node.text, *map(texts, node.under)])


def test_a_search_is_a_kind_of_step_of_its_own() -> None:
    step = Step(SEARCH)
    assert step == Step.finding("wheels.wobbles")
    assert (step.kind, step.target, step.subsystem) == (StepKind.FIND, "wheels.wobbles", "wheels")
    assert not step.is_access
    assert step.about("wheels.stuck") == "find wheels.stuck"
    assert CART.title(SEARCH) == "Find the cause: It wobbles"


def test_a_complaint_that_nothing_explains_is_looked_into_but_not_to_stabilise() -> None:
    plans = assessed(WOBBLES + CRACKED).plans
    assert SEARCH not in steps(plans["stabilise"])
    for scope in ("working", "full"):
        step = plans[scope].step(SEARCH)
        assert step is not None
        assert step.kind == "find"
        assert step.title == "Find the cause: It wobbles"
        assert [c.kind for c in step.causes] == ["complaint"]
        assert step.how.startswith("Make it happen first. ")
        assert step.how.index("Play of the hub") < step.how.index("Broken spokes")
        assert step.test.startswith("one finding explains it")
        tests = {s.test for s in plans[scope].steps if s.step != SEARCH}
        assert tests == {""}
    assert steps(plans["working"]) == ["box.photograph", SEARCH, "box.hand_over"]


def test_without_a_complaint_nothing_is_looked_into() -> None:
    plans = assessed(CRACKED).plans.values()
    assert plans
    for plan in plans:
        assert SEARCH not in steps(plan)


def test_the_search_goes_when_a_finding_explains_it_and_its_cure_comes() -> None:
    before, after = assessed(WOBBLES + CRACKED), assessed(WOBBLES + LOOSE + CRACKED)
    assert after.searches == ()
    for scope in ("working", "full"):
        assert SEARCH in steps(before.plans[scope])
        assert SEARCH not in steps(after.plans[scope])
        assert "wheels.grease_hub" in steps(after.plans[scope])
        kept = set(steps(before.plans[scope])) - {SEARCH}
        assert kept <= set(steps(after.plans[scope]))


@pytest.mark.parametrize("answer", ["play = 3", "play = 7", "broken_spokes = 3"])
def test_a_finding_that_explains_it_has_its_cures_with_and_without_the_complaint(
    answer: str,
) -> None:
    found = f"[answers.wheels]\n{answer}\n"
    alone, told = assessed(found), assessed(WOBBLES + found)
    for scope in ("working", "full"):
        assert alone.plans[scope].called.keys() <= told.plans[scope].called.keys()
    assert told.complaints[0].is_explained


def test_two_complaints_of_one_symptom_are_one_search() -> None:
    assert [s.step for s in assessed(WOBBLES + WOBBLES).searches] == [SEARCH]


def test_hours_are_the_minutes_of_the_tests() -> None:
    """Play takes 1 minute and spokes 2; both are tests, and all unseen causes are tests too."""
    (search,) = assessed(WOBBLES).searches
    assert search.hours == pytest.approx((1 / 60, 3 / 60, 6 / 60), abs=0.005)
    (search,) = assessed(WOBBLES + "[answers.wheels]\nplay = 0\n").searches
    assert search.tests == ("wheels.broken_spokes",)
    assert search.hours == pytest.approx((2 / 60, 2 / 60, 4 / 60), abs=0.005)


def test_when_every_test_explains_nothing_all_are_made_again() -> None:
    (search,) = assessed(WOBBLES + SOUND).searches
    assert search.repeated
    assert search.tests == ("wheels.play", "wheels.broken_spokes")
    step = assessed(WOBBLES + SOUND).plans["working"].step(SEARCH)
    assert step is not None
    assert "make them again" in step.how


def test_a_sign_is_looked_at_first_and_takes_its_minutes() -> None:
    wheels = toy.altered(
        toy.WHEELS, "symptom", "wobbles", shown_by=[{"criterion": "box.crack", "from_class": 3}]
    )
    result = assessed(WOBBLES, toy.knowledge(wheels, toy.BOX))
    (search,) = result.searches
    step = result.plans["working"].step(SEARCH)
    assert step is not None
    assert search.signs == ("box.crack",)
    assert step.how.startswith("Make it happen first: Cracks. ")
    assert step.how.count("Make it happen first") == 1
    assert search.hours == pytest.approx((2 / 60, 4 / 60, 8 / 60), abs=0.005)


def test_what_shows_a_symptom_makes_its_causes_matter_as_a_complaint_does() -> None:
    sign = {"criterion": "box.crack", "from_class": 2}
    knowledge = toy.knowledge(
        toy.altered(toy.WHEELS, "symptom", "wobbles", shown_by=[sign]), toy.BOX
    )
    play = [
        assessed(f'{told}[answers.box]\ncrack = "{crack}"\n', knowledge)
        .graded.judgements["wheels.play"]
        .causing
        for told, crack in ((WOBBLES, "none"), ("", "rotten"), ("", "none"))
    ]
    assert play[0] == play[1] != frozenset()
    assert play[2] == frozenset()


def test_the_places_of_the_tests_are_opened_for_it_and_closed_once() -> None:
    knowledge = toy.knowledge(NOISE_TESTED, toy.BOX)
    plan = assessed(WOBBLES, knowledge).plans["working"]
    order = steps(plan)
    places = ["open wheels.axle", SEARCH, "close wheels.axle"]
    assert [s for s in order if s in places] == places
    assert plan.workshop_job, "the axle may not be lifted at the owner's"
    assert order.index("box.fetch") < order.index("open wheels.axle")
    opening = plan.step("open wheels.axle")
    assert opening is not None
    assert opening.causes[0].by == SEARCH
    ruined = assessed(WOBBLES + '[answers.wheels]\nnoise = "silent"\n', knowledge)
    assert "open wheels.axle" not in steps(ruined.plans["working"])


def test_a_fault_is_reproduced_before_anything_is_cured_or_taken_apart() -> None:
    """The bearing is opened for a repair only, so after the search; the axle is opened for it."""
    wheels = toy.squeaking(NOISE_TESTED, calls_for=["new_bearing"])
    text = WOBBLES + '[answers.wheels]\nnoise = "squeaks"\n' + CRACKED
    result = assessed(text, toy.knowledge(wheels, toy.BOX))
    order = steps(result.plans["full"])
    at = order.index(SEARCH)
    later = ["box.glue_crack", "open wheels.bearing", "wheels.clean_hub", "wheels.new_bearing"]
    assert all(order.index(step) > at for step in later)
    assert all(order.index(step) < at for step in ("box.photograph", "box.fetch"))


def test_dangers_go_before_a_search() -> None:
    text = (
        WOBBLES + "[instrument.features]\nbrake = true\n"
        '[answers.wheels]\nshoe = "loose"\n[answers.box]\ncrack = "one"\n'
    )
    order = steps(assessed(text).plans["full"])
    assert order.index("wheels.fix_shoe") < order.index(SEARCH) < order.index("box.glue_crack")


def test_every_reason_of_order_names_an_earlier_step() -> None:
    plan = assessed(WOBBLES + CRACKED, toy.knowledge(NOISE_TESTED, toy.BOX)).plans["full"]
    numbers = {s.step: s.number for s in plan.steps}
    after_search = [s.step for s in plan.steps if any(r.after == SEARCH for r in s.reasons)]
    assert after_search
    for step in plan.steps:
        assert all(numbers[r.after] < step.number for r in step.reasons)


@pytest.mark.parametrize("scope", ["working", "full"])
def test_plan_scenarios_and_budget_charge_the_search_once(scope: str) -> None:
    """Where everything but the complaint is known, all of them come to the same sum."""
    known = SOUND + 'noise = "silent"\n' + CRACKED
    plain, told = assessed(known), assessed(WOBBLES + known)
    assert len(told.scenarios.unseen) == 0
    (search,) = told.searches
    plan = told.plans[scope]
    scale = SHOP.overlap * SHOP.pace
    alone = scale * sum(pert_mean(s.hours) for s in plan.steps)
    assert plan.cost.hours.mean == pytest.approx(alone)
    assert told.scenarios.costs[scope].mean_h == pytest.approx(alone, rel=1e-5)
    mean_cost = told.scenarios.costs[scope].mean_cost(told.workshop)
    assert mean_cost == pytest.approx(plan.cost.total.mean, rel=1e-4)
    if scope == "full":
        more = plan.cost.hours.mean - plain.plans[scope].cost.hours.mean
        assert more == pytest.approx(scale * pert_mean(search.hours))
        offer = told.budget(usable=True).frontier[-1]
        assert [s.step for s in offer.plan.steps] == steps(plan)
        assert offer.plan.cost.total.mean == pytest.approx(plan.cost.total.mean)


def test_every_scenario_takes_the_hours_of_the_search() -> None:
    told = assessed(WOBBLES)
    plain = assessed(WOBBLES.replace("wheels.wobbles", "wheels.stuck") + RUINED)
    assert plain.plan_arrays.searched == ()
    least = told.plans["working"].cost.hours.mean
    assert told.scenarios.costs["working"].mean_h.min() == pytest.approx(least, rel=1e-5)
    assert not told.scenarios.costs["working"].needless.any()
    assert told.scenarios.costs["stabilise"].needless.any()


def test_the_budget_makes_nothing_usable_without_finding_the_cause() -> None:
    result = assessed(WOBBLES + CRACKED)
    usable, bare = result.budget(usable=True), result.budget(usable=False)
    assert usable.least is not None
    assert usable.least.searches == (SEARCH,)
    assert all(offer.usable and SEARCH in steps(offer.plan) for offer in usable.frontier)
    for budget in (usable, bare):
        for offer in budget.frontier:
            assert offer.usable == (SEARCH in offer.searches)
    data = budget_data(result, usable, 5000.0)
    assert data["best"] is not None
    assert data["best"]["searches"] == [SEARCH]


def test_the_calendar_takes_the_search() -> None:
    result = assessed(WOBBLES + CRACKED, toy.knowledge(NOISE_TESTED, toy.BOX))
    plan = result.plans["full"]
    calendar = result.planner.calendar(plan, dt.date(2027, 1, 4))
    booked = {b.step: b for b in calendar.bookings}
    assert set(booked) == set(steps(plan))
    assert booked["open wheels.axle"].ready <= booked[SEARCH].start
    assert booked[SEARCH].ready <= booked["box.glue_crack"].start
    finish = result.planner.finish(plan, calendar)
    chain = result.planner.longest_chain(plan, calendar)
    data = calendar_data(result, plan, calendar, finish, chain)
    assert SEARCH in [b["step"] for b in data["bookings"]]


def exact_cures(leak: float) -> dict[str, float]:
    """The chance that each cure of the wobble works, by the sample itself, worked by hand."""
    result = assessed(WOBBLES)
    rows = {j.id: row for row, j in enumerate(result.sample.unseen)}
    play = result.sample.outcomes[rows["wheels.play"]]
    spokes = result.sample.outcomes[rows["wheels.broken_spokes"]]
    found = {"grease": 0.0, "bearing": 0.0, "spokes": 0.0, "none": 0.0}
    for a, b in zip(play, spokes, strict=True):
        p, s = 0.8 * (a > 0), 0.5 * (b > 0)
        there = 1 - (1 - leak) * (1 - p) * (1 - s)
        found["grease"] += p * (a == 1) / there
        found["bearing"] += p * (a == 2) / there
        found["spokes"] += s / there
        found["none"] += leak * (1 - p) * (1 - s) / there
    return {name: total / len(play) for name, total in found.items()}


def test_chances_of_cures_are_those_of_the_sample() -> None:
    cures = assessed(WOBBLES).likely_cures("full")[Step(SEARCH)]
    chances = {cure.repairs: cure.chance for cure in cures.listed}
    exact = exact_cures(leak=0.02)
    assert chances["wheels.grease_hub",] == pytest.approx(exact["grease"])
    assert chances["wheels.new_bearing", "wheels.grease_hub"] == pytest.approx(exact["bearing"])
    assert chances["wheels.new_spokes",] == pytest.approx(exact["spokes"])
    assert list(chances.values()) == sorted(chances.values(), reverse=True)
    assert cures.otherwise == pytest.approx(exact["none"])


def test_what_a_cure_adds_is_the_difference_of_two_plans() -> None:
    result = assessed(WOBBLES)
    cure = next(
        c
        for c in result.likely_cures("full")[Step(SEARCH)].listed
        if c.repairs == ("wheels.grease_hub",)
    )
    without, cured = assessed(WOBBLES).plans["full"], assessed(LOOSE).plans["full"]
    search = without.step(SEARCH)
    assert search is not None
    scale = SHOP.overlap * SHOP.pace
    more = cured.cost.hours.mean - without.cost.hours.mean + scale * pert_mean(search.hours)
    assert cure.hours == pytest.approx(more, rel=1e-4)
    rate = SHOP.rate_per_hour * (1 + SHOP.contingency)
    total = cured.cost.total.mean - without.cost.total.mean
    total += scale * pert_mean(search.hours) * rate
    assert cure.cost == pytest.approx(total, rel=1e-4)


def test_a_cure_that_is_planned_already_adds_nothing() -> None:
    result = assessed(WOBBLES + '[answers.wheels]\nnoise = "squeaks"\n')
    cures = result.likely_cures("full")[Step(SEARCH)].listed
    grease = next(c for c in cures if c.repairs == ("wheels.grease_hub",))
    assert grease.cost == pytest.approx(0, abs=0.01)
    text = " ".join(plan_text(result, result.plans["full"]).split())
    assert "Grease the hub: in this plan already" in text


def test_the_plan_lists_the_tests_and_the_cures() -> None:
    result = assessed(WOBBLES + CRACKED)
    text = " ".join(plan_text(result, result.plans["working"]).split())
    assert "Find the cause: It wobbles" in text
    assert "Then test: Play of the hub; Broken spokes." in text
    assert "Likely cures, and what each adds" in text
    assert "Grease the hub" in text
    assert "none of these" in text
    assert "The wheels turn: not so, as complained of; step 2 finds the cause" in text
    how = " ".join(plan_text(result, result.plans["working"], how=True).split())
    assert "Play of the hub: Rock the wheel." in how
    data = json.loads(json.dumps(plan_data(result, result.plans["working"])))
    (step,) = [s for s in data["steps"] if s["kind"] == "find"]
    assert step["step"] == SEARCH
    assert step["search"]["tests"] == ["wheels.play", "wheels.broken_spokes"]
    assert step["search"]["cures"][0]["chance"] > 0.1
    assert all("search" not in s for s in data["steps"] if s["kind"] != "find")


def test_why_explains_the_search() -> None:
    result = assessed(WOBBLES + CRACKED)
    for name in (SEARCH, "find wobbles"):
        said = texts(why(result, name))
        assert 'complained of: "It wobbles", and nothing found explains it' in said
        assert "Play of the hub, 1 min [wheels.play]" in said
        assert "Grease the hub [wheels.grease_hub]" in said
    assert "what was found explains it" in texts(why(assessed(WOBBLES + LOOSE), SEARCH))
    assert "it is not complained of" in texts(why(assessed(CRACKED), SEARCH))


def test_a_workshop_may_give_its_own_hours_for_a_search() -> None:
    shop = SHOP.model_copy(update={"hours": {SEARCH: (1.0, 2.0, 3.0)}})
    assert unknown_ids(shop, CART) == []
    result = assess(toy.job(WOBBLES), knowledge=CART, workshop=shop)
    step = result.plans["working"].step(SEARCH)
    assert step is not None
    assert step.hours == (1, 2, 3)
