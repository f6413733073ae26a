"""What a sum of money buys, compared with every possible choice and with exact plans."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist
from typing import Any

import pytest
import toy
from conftest import ROOT, Run
from hypothesis import given, settings
from hypothesis import strategies as st
from seen import FIXTURES, assessed

import assess
from assess.grading.grades import DEFICITS
from assess.grading.judgements import Judgement
from assess.job.workshop_profile import load_workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.precedence_graph import made_needless
from assess.planning.budget import Budget, Offer
from assess.planning.closure import closure, fits
from assess.planning.cost_estimate import price_at
from assess.planning.plan import Plan
from assess.planning.repair_options import FIRST_HOURS, LEAST_POINTS, TRANSPORT, USABLE
from assess.planning.selection_problem import price_of as price_of_steps
from assess.testing import job_with

SHOP = load_workshop()
A_CENT = 0.01
LARGE = "neglected"
"""The richest fixture; its whole frontier takes longer than all other tests here."""

Answers = dict[str, str | float]


# Every possible choice


@dataclass(frozen=True)
class Choice:
    """A plan of some of the repairs called for: its price, and what it gains."""

    repairs: frozenset[str]
    price: float
    points: float
    gained: frozenset[str]
    usable: bool


def worth(result: assess.Assessment, finding: Judgement) -> float:
    """Points of the instrument's grade that the whole weight of a criterion carries."""
    counted = [j for j in result.graded.judgements.values() if j.counts]
    subsystem = finding.id.partition(".")[0]
    own = sum(j.criterion.weight for j in counted if j.id.startswith(f"{subsystem}."))
    subsystems = {j.id.partition(".")[0] for j in counted}
    every = sum(result.knowledge.subsystems[s].weight for s in subsystems)
    share = result.knowledge.subsystems[subsystem].weight / every
    return 100 * share * finding.criterion.weight / own


def is_done(repair: str, plan: Plan, knowledge: Knowledge) -> bool:
    """Whether a plan does a repair, or a more thorough one in its place."""
    steps = {s.step for s in plan.steps}
    return repair in steps or any(
        repair in made_needless(s, knowledge) for s in steps if s in knowledge.repairs
    )


def gains_of(result: assess.Assessment, plan: Plan) -> dict[str, tuple[float, bool]]:
    """Findings that a plan puts right: the most points for each, and whether that restores use."""
    found: dict[str, tuple[float, bool]] = {}
    for finding in result.graded.findings:
        if finding.outcome.beyond_repair:
            continue
        for scope in SCOPES:
            repairs = called(result, finding, scope)
            if not repairs or not all(is_done(r, plan, result.knowledge) for r in repairs):
                continue
            left = max(result.knowledge.repairs[r].restores_to for r in repairs)
            lost = DEFICITS[finding.outcome.condition] - DEFICITS[left]
            points = max(lost * worth(result, finding), 0.0)
            outcome = finding.outcome
            if points == 0 and not (finding.stops_use or outcome.danger or outcome.decay):
                continue
            before = found.get(finding.id, (0.0, False))
            usable = before[1] or scope in USABLE
            found[finding.id] = (max(before[0], points, LEAST_POINTS), usable)
    return found


def called(result: assess.Assessment, finding: Judgement, scope: Scope) -> list[str]:
    calls = finding.calls(scope)
    return [r for r in calls if fits(r, result.knowledge, result.configuration)]


def price_of(plan: Plan, sure: float) -> float:
    return price_at(plan.cost, sure) if plan.steps else 0.0


def every_choice(result: assess.Assessment) -> Iterator[Choice]:
    """The plans of all sets of repairs that some scope calls for."""
    planner = result.budget().planner
    repairs = sorted(
        {r for f in result.graded.findings for scope in SCOPES for r in called(result, f, scope)}
    )
    disabling = {
        f.id
        for f in result.graded.findings
        if f.stops_use and (f.outcome.beyond_repair or called(result, f, "working"))
    }
    for count in range(len(repairs) + 1):
        for chosen in itertools.combinations(repairs, count):
            plan = planner.plan_for(chosen)
            gains = gains_of(result, plan)
            points = sum(points for points, _ in gains.values())
            working = {f for f, (_, usable) in gains.items() if usable}
            price = price_of(plan, result.workshop.sure_enough)
            yield Choice(frozenset(chosen), price, points, frozenset(gains), disabling <= working)


def allowed(result: assess.Assessment, choices: list[Choice], usable: bool) -> list[Choice]:
    """Those that deal with every danger and decay, and make it usable where that is asked."""
    dangers = {
        f.id
        for f in result.graded.findings
        if (f.outcome.danger or f.outcome.decay)
        and any(called(result, f, scope) for scope in SCOPES)
    }
    return [c for c in choices if dangers <= c.gained and (c.usable or not usable)]


def box(criteria: list[dict[str, Any]], repairs: list[dict[str, Any]], **more: Any) -> Knowledge:
    """A box with these questions and repairs, and the routine of every job."""
    data = {**toy.BOX, "criterion": [], "repair": [*toy.BOX["repair"][2:]], **more}
    for number, given_ in enumerate(criteria):
        data["criterion"].append(
            {
                "id": f"c{number}",
                "component": "boards",
                "asks": f"Question {number}",
                "how": "Look.",
                "minutes": 1,
                "weight": given_.pop("weight", 1),
                "outcomes": [{"answer": "good", "class": 0}, {"answer": "bad", **given_}],
            }
        )
    for given_ in repairs:
        data["repair"].append(
            {"component": "boards", "title": given_["id"], "workshop": False, **given_}
        )
    return toy.knowledge(data)


def bad(count: int) -> Answers:
    return {f"box.c{number}": "bad" for number in range(count)}


LID = {
    "id": "lid", "title": "Lid", "open": "Open it", "close": "Close it",
    "open_hours": [1, 2, 4], "close_hours": [1, 2, 4],
}  # fmt: skip
SHEET = {"id": "sheet", "title": "Sheet", "unit": "piece", "price": 90, "waste": 0, "whole": True}
KIT = {"id": "kit", "title": "Kit", "unit": "set", "price": 60, "once": True}
GLUE = {"id": "glue", "title": "Glue", "unit": "g", "price": 0.5, "waste": 0.2}


def worlds() -> dict[str, tuple[Knowledge, Answers]]:
    """Small instruments, each with another way in which repairs depend on each other."""
    cart = toy.knowledge()
    broken: Answers = {"wheels.play": 7, "wheels.noise": "squeaks", "wheels.broken_spokes": 3}
    return {
        "a cart with a danger": (
            cart, {**broken, "wheels.shoe": "loose", "box.crack": "one"}),
        "a cart with rotten boards": (cart, {**broken, "box.crack": "rotten"}),
        "a cart beyond repair": (
            cart, {**broken, "wheels.broken_spokes": 8, "box.crack": "rotten"}),
        "four behind one lid, one before it": (
            box(
                [{"class": 1 + n % 3, "weight": 1 + n, "calls_for": [f"r{n}"]} for n in range(5)],
                [{"id": f"r{n}", "hours": [n, n + 1, 3 * n + 2], "places": ["lid"] if n else []}
                 for n in range(5)],
                place=[LID]),
            bad(5)),
        "sheets that are shared": (
            box(
                [{"class": 2, "weight": 1 + n, "calls_for": [f"r{n}"]} for n in range(5)],
                [{"id": f"r{n}", "hours": [0.1, 0.2, 0.4],
                  "materials": [{"id": "sheet", "quantity": 0.15 + 0.2 * n},
                                {"id": "glue", "quantity": 10.0 * n + 1}]} for n in range(5)],
                material=[SHEET, GLUE]),
            bad(5)),
        "a kit that serves them all": (
            box(
                [{"class": 2, "weight": 1 + n, "calls_for": [f"r{n}"]} for n in range(5)],
                [{"id": f"r{n}", "hours": [0.1, 0.2, 0.4],
                  "materials": [{"id": "kit", "quantity": 1}] if n else []} for n in range(5)],
                material=[KIT]),
            bad(5)),
        "more or less thorough": (
            box(
                [{"class": 3, "weight": 5, "disables": True, "calls_for": ["thorough"],
                  "to_work": ["middling"], "to_stabilise": ["lesser"]},
                 {"class": 2, "decay": True, "calls_for": ["other"]},
                 {"class": 2, "danger": True, "calls_for": ["guard"]}],
                [{"id": "lesser", "hours": [1, 1, 2], "restores_to": 2},
                 {"id": "middling", "hours": [2, 3, 5], "restores_to": 1, "supersedes": ["lesser"]},
                 {"id": "thorough", "hours": [6, 9, 20], "supersedes": ["middling"],
                  "requires": [{"step": "wanted", "because": "so it is"}]},
                 {"id": "wanted", "hours": [1, 2, 3], "workshop": True},
                 {"id": "other", "hours": [1, 2, 3],
                  "requires": [{"step": "lesser", "because": "so it is"}]},
                 {"id": "guard", "hours": [1, 1, 1]}]),
            bad(3)),
        "proved, entailed and done away": (
            box(
                [{"class": 1, "weight": 3, "calls_for": ["a"]},
                 {"class": 2, "weight": 2, "calls_for": ["b"]},
                 {"class": 3, "weight": 1, "calls_for": ["a", "c"], "disables": True}],
                [{"id": "a", "hours": [1, 2, 4],
                  "entails": [{"step": "wait", "because": "so it is"}]},
                 {"id": "b", "hours": [0.5, 1, 3], "workshop": True,
                  "entails": [{"step": "wait", "because": "so it is"}]},
                 {"id": "c", "hours": [2, 3, 9]},
                 {"id": "wait", "hours": [1, 1, 2]}],
                hold_point=[{"id": "proof", "title": "It holds", "hours": [1, 2, 3],
                             "proves": ["a", "b"]}]),
            bad(3)),
    }  # fmt: skip


WORLDS = worlds()


@cache
def small(kind: str) -> tuple[assess.Assessment, list[Choice]]:
    """A small instrument, and every choice of its repairs."""
    knowledge, answers = WORLDS[kind]
    job = job_with(answers, {"brake": True} if "wheels.shoe" in answers else {})
    result = assess.assess(job, knowledge=knowledge)
    _ = result.plans
    return result, list(every_choice(result))


@pytest.mark.parametrize("usable", [False, True], ids=["any", "usable"])
@pytest.mark.parametrize("kind", WORLDS)
def test_the_best_is_the_best_of_every_choice(kind: str, usable: bool) -> None:
    result, every = small(kind)
    budget = result.budget(usable)
    choices = allowed(result, every, usable and not budget.impossible)
    prices = sorted({round(c.price, 2) for c in choices})
    amounts = {0.0, *(prices[n * (len(prices) - 1) // 12] for n in range(13))}
    amounts |= {amount + 7.77 for amount in amounts}
    bought = 0
    for amount in sorted(amounts):
        within = [c for c in choices if c.price <= amount + A_CENT / 2]
        offer = budget.best(amount)
        if not within:
            assert offer is None, amount
            continue
        assert offer is not None, amount
        assert offer.price <= amount + A_CENT
        assert offer.points == pytest.approx(max(c.points for c in within), abs=1e-6), amount
        bought += bool(offer.repairs)
    assert bought > 0


@pytest.mark.parametrize("kind", WORLDS)
def test_the_least_and_the_fullest_are_those_of_every_choice(kind: str) -> None:
    result, every = small(kind)
    for usable in (False, True):
        budget = result.budget(usable)
        choices = allowed(result, every, usable and not budget.impossible)
        assert budget.least is not None
        assert budget.least.price == pytest.approx(min(c.price for c in choices))
        most = max(c.points for c in choices)
        assert budget.frontier[-1].points == pytest.approx(most)
        assert budget.frontier[0] == budget.least
        for point in budget.frontier:
            affordable = [c.points for c in choices if c.price <= point.price + A_CENT / 2]
            assert point.points == pytest.approx(max(affordable))


@pytest.mark.parametrize("kind", WORLDS)
def test_an_offer_gains_what_its_plan_puts_right(kind: str) -> None:
    result, _ = small(kind)
    offers = result.budget().frontier
    assert any(offer.gained for offer in offers)
    for offer in offers:
        assert_true(result, offer)


# Fixtures


def model_price(plan: Plan) -> float:
    """The price of a plan as if the factor shared by the whole job made all of the spread."""
    shop, cost = plan.workshop, plan.cost
    sigma = shop.whole_job_spread
    late = math.exp(sigma * NormalDist().inv_cdf(shop.sure_enough) - sigma**2 / 2)
    fixed = cost.materials + cost.transport
    return (cost.hours.mean * late * shop.rate_per_hour + fixed) * (1 + shop.contingency)


def assert_true(result: assess.Assessment, offer: Offer) -> None:
    """An offer's price, points and repairs are those of its plan."""
    assert offer.price == pytest.approx(price_of(offer.plan, result.workshop.sure_enough))
    assert offer.model_price == pytest.approx(model_price(offer.plan), rel=1e-6, abs=1e-6)
    gains = gains_of(result, offer.plan)
    for finding, scope in offer.gained.items():
        judgement = result.graded.judgements[finding]
        for repair in called(result, judgement, scope):
            assert is_done(repair, offer.plan, result.knowledge), (finding, repair)
    assert offer.points <= sum(points for points, _ in gains.values()) + 1e-6
    steps = [s.step for s in offer.plan.steps]
    assert list(offer.repairs) == [s for s in steps if s in offer.plan.called]


def budget_of(stem: str, usable: bool = True) -> Budget:
    return cached_budget(stem, usable)


@cache
def cached_budget(stem: str, usable: bool) -> Budget:
    return assessed(stem).budget(usable)


def amounts_of(budget: Budget, count: int) -> list[float]:
    """Amounts from what must be done up to everything."""
    least = budget.least
    assert least is not None
    everything = price_of(budget.planner.plan_for(called_by(budget)), SHOP.sure_enough)
    return [least.price + (everything - least.price) * n / (count - 1) for n in range(count)]


def called_by(budget: Budget) -> set[str]:
    return {r for f in budget.planner.graded.findings for r in f.outcome.calls("full")}


@pytest.mark.parametrize("stem", [s for s in FIXTURES if s != LARGE])
def test_along_the_frontier_price_and_points_rise(stem: str) -> None:
    points = budget_of(stem).frontier
    assert points[-1].points > 0 or not budget_of(stem).repair_options.gains
    for lower, upper in itertools.pairwise(points):
        assert lower.price < upper.price
        assert lower.points < upper.points
    slopes = [
        (upper.points - lower.points) / (upper.model_price - lower.model_price)
        for lower, upper in itertools.pairwise(points)
    ]
    assert slopes == sorted(slopes, reverse=True)


def test_the_frontier_of_most_fixtures_has_several_points() -> None:
    assert sum(len(budget_of(s).frontier) > 2 for s in FIXTURES if s != LARGE) >= 5


@pytest.mark.parametrize("stem", ["flooded", "tight_budget", LARGE])
def test_a_ladder_is_a_part_of_the_frontier(stem: str) -> None:
    budget, apart = budget_of(stem, usable=True), 0.1
    ladder = budget.ladder(apart)
    for lower, upper in itertools.pairwise(ladder):
        assert lower.model_price < upper.model_price
        assert lower.points < upper.points
    assert len(ladder) > 3
    if stem != LARGE:
        points = [(p.points, p.model_price) for p in budget.frontier]
        assert all((p.points, p.model_price) in points for p in ladder)
        assert ladder[0] == budget.frontier[0]
        assert ladder[-1] == budget.frontier[-1]


@pytest.mark.parametrize("stem", ["flooded", "tight_budget"])
def test_a_price_with_the_steps_own_spread_is_never_above_the_exact_one(stem: str) -> None:
    """Else a choice that the amount pays for would be left out; and it comes nearer to it."""
    budget = budget_of(stem, usable=False)
    compared = 0
    for point in budget.ladder(0.1):
        for amount in (point.price, 1.3 * point.price):
            number = len(budget.repair_options.problems) - 1
            steps = {s.step for s in point.plan.steps} | {FIRST_HOURS}
            steps |= {TRANSPORT} if point.plan.cost.transport else set()
            if not steps <= budget.repair_options.problems[number].prices.keys():
                continue
            without = price_of_steps(budget.repair_options.problems[number], steps)
            nearer = price_of_steps(budget.repair_options.with_own_spread(number, amount), steps)
            if point.plan.cost.hours.mean >= SHOP.overlap_from:
                assert without < nearer <= point.price + A_CENT
                compared += 1
    assert compared > 3


@pytest.mark.parametrize("stem", [s for s in FIXTURES if s != LARGE])
def test_every_point_of_the_frontier_is_what_its_plan_is(stem: str) -> None:
    budget = budget_of(stem)
    assert budget.frontier
    for point in budget.frontier:
        assert_true(assessed(stem), point)
        assert_dangers_are_dealt_with(budget, point)
        assert point.usable is not bool(budget.impossible)


@pytest.mark.parametrize("stem", ["one_strap", "heated_house", "tight_budget"])
def test_no_step_that_the_repairs_need_is_missing_from_the_plan(stem: str) -> None:
    points = budget_of(stem).frontier
    assert any(point.plan.called for point in points)
    for point in points:
        needed = closure(
            point.plan.called, assessed(stem).knowledge, assessed(stem).configuration
        ).steps
        assert {step.step for step in point.plan.steps} == needed.keys()


@pytest.mark.parametrize("stem", FIXTURES)
def test_an_amount_buys_nothing_that_costs_more(stem: str) -> None:
    for usable in (False, True):
        budget = budget_of(stem, usable)
        amounts = list(amounts_of(budget, 3))
        assert amounts
        for amount in amounts:
            offer = budget.best(amount)
            assert offer is not None
            assert offer.price <= amount + A_CENT
            assert_true(assessed(stem), offer)
            assert_dangers_are_dealt_with(budget, offer)
            if usable and not budget.impossible:
                assert offer.usable


def dangers_of(budget: Budget) -> set[str]:
    """Dangers that some repair deals with."""
    return {
        finding.id
        for finding in budget.planner.graded.findings
        if finding.outcome.danger and any(finding.outcome.calls(scope) for scope in SCOPES)
    }


def assert_dangers_are_dealt_with(budget: Budget, offer: Offer) -> None:
    assert dangers_of(budget) <= offer.gained.keys()


def test_some_fixture_has_a_danger_to_deal_with() -> None:
    assert any(dangers_of(budget_of(stem)) for stem in FIXTURES)


@pytest.mark.parametrize("stem", ["heated_house", "one_strap", "pressure_harmonium"])
def test_the_price_of_a_point_buys_at_least_as_much(stem: str) -> None:
    budget = budget_of(stem)
    tried = budget.frontier[:: max(1, len(budget.frontier) // 6)]
    assert any(point.points > 0 for point in tried)
    for point in tried:
        offer = budget.best(point.price)
        assert offer is not None
        assert offer.points >= point.points - 1e-6


@settings(max_examples=25)
@given(st.floats(0, 4500), st.floats(0, 1500))
def test_more_money_never_gains_fewer_points(amount: float, more: float) -> None:
    budget = budget_of("heated_house", False)
    assert budget.least is not None
    amount += budget.least.price
    less, greater = budget.best(amount), budget.best(amount + more)
    assert less is not None
    assert greater is not None
    assert greater.points >= less.points - 1e-9


def test_what_must_be_done_and_costs_more_cannot_be_had() -> None:
    for stem in ("tight_budget", "heated_house"):
        budget = budget_of(stem)
        assert budget.least is not None
        assert budget.best(budget.least.price - 1) is None
        assert budget.best(0) is None
        offer = budget.best(budget.least.price)
        assert offer is not None
        assert offer.usable
    dangerous = budget_of(LARGE, False)
    assert dangerous.least is not None
    assert dangerous.least.price > 0
    assert dangerous.best(dangerous.least.price - 1) is None


def test_for_no_money_nothing_is_done_where_nothing_must() -> None:
    offer = budget_of("one_strap", False).best(0)
    assert offer is not None
    assert (offer.price, offer.points, offer.repairs, offer.gained) == (0, 0, (), {})
    assert not offer.usable
    sound = budget_of("sound_organ").best(0)
    assert sound is not None
    assert sound.usable


@pytest.mark.parametrize("amount", [-1, -0.01, math.inf, math.nan])
def test_what_is_no_sum_of_money_is_refused(amount: float) -> None:
    with pytest.raises(assess.UserError, match="must be 0 or more"):
        budget_of("one_strap").best(amount)


@pytest.mark.parametrize("rate", [0.0, 0.5])
def test_where_hours_cost_little_or_nothing_materials_and_transport_are_still_paid(
    rate: float,
) -> None:
    knowledge, answers = WORLDS["a cart with rotten boards"]
    shop = load_workshop(trade=knowledge.trade).model_copy(update={"rate_per_hour": rate})
    result = assess.assess(job_with(answers), knowledge=knowledge, workshop=shop)
    _ = result.plans
    budget = result.budget(usable=True)
    most = budget.frontier[-1]
    offer = budget.best(most.price)
    assert offer is not None
    assert offer.points == pytest.approx(most.points)
    assert offer.price == pytest.approx(price_of(offer.plan, shop.sure_enough))
    assert offer.price >= shop.transport * (1 + shop.contingency) > 0
    assert budget.least is not None
    assert budget.best(budget.least.price - 1) is None


def test_a_finding_is_put_right_for_one_scope_only() -> None:
    result, _ = small("more or less thorough")
    scopes: Mapping[str, set[Scope]] = {}
    for offer in result.budget().frontier:
        assert len(offer.gained) == len(set(offer.gained))
        for finding, scope in offer.gained.items():
            scopes = {**scopes, finding: {*scopes.get(finding, set()), scope}}
    assert len(scopes["box.c0"]) > 1


# On the command line


@pytest.mark.parametrize("amount", ["abc", "-5", "nan"])
def test_an_impossible_amount_is_refused_in_a_sentence(run: Run, amount: str) -> None:
    done = run("budget", ROOT / "fixtures" / "one_strap.toml", amount)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    said = " ".join(done.stderr.split())
    assert said.count("Error:") == 1
    assert amount in said
    assert "amount" in said
    assert done.stdout == ""


def test_an_amount_may_be_written_as_people_write_it(run: Run) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    plain, comma = run("budget", job, "2500"), run("budget", job, "2,500")
    assert plain.returncode == comma.returncode == 0
    assert plain.stdout == comma.stdout


@pytest.mark.parametrize("arguments", [(), ("--all",), ("--assumed",), ("--json",)])
def test_a_job_without_an_answer_says_what_to_look_at(
    run: Run, tmp_path: Any, arguments: tuple[str, ...]
) -> None:
    job = tmp_path / "blank.toml"
    job.write_text("format = 1\n")
    done = run("look", job, *arguments)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout
    if not arguments:
        assert "Look next" in done.stdout
        assert max(map(len, done.stdout.splitlines())) <= 80


def test_a_job_without_an_answer_has_nothing_to_buy(run: Run, tmp_path: Any) -> None:
    job = tmp_path / "blank.toml"
    job.write_text("format = 1\n")
    done = run("budget", job, "100")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Nothing has been looked at yet, so there is nothing to buy." in done.stdout
