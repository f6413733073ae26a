"""What to look at next and what may be hidden, compared with scipy and exact plans."""

from __future__ import annotations

import copy
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
import toy
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from seen import FILES, FIXTURES, assessed, known, plans_of, with_known

import assess
from assess.decision.rules import Setting
from assess.decision.scenario_verdicts import VERDICT_NAMES, verdict_indices
from assess.grading.openings import is_opened
from assess.inspection.hidden_defects import LEAST_CHANCE
from assess.inspection.question_places import ANSWERING_MIN, places_there, places_to, seen_at_visit
from assess.inspection.value_of_information import (
    LEAD_Z_SCORE,
    MIN_Z_SCORE,
    InformationValue,
    Look,
    information_bits,
    value_unseen,
)
from assess.job.job_file import NOT_SEEN, Answer, Owner
from assess.job.workshop_profile import load_workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import Scope
from assess.knowledge.prior_beliefs import Care, CareState
from assess.planning.workload import step_hours
from assess.testing import job_with
from assess.uncertainty.scenario_costs import simulate_scenarios

SHOP = load_workshop()
EVEN = Care(
    states=(CareState(name="any", prior=1, classes=(0.5, 0.1, 0.1, 0.3)),),
    state_persistence=0.5,
    rare=1.0,
)
"""One state of care, so that no answer says anything about another."""


# Information


@given(st.integers(2, 5), st.integers(2, 5), st.integers(50, 3000), st.integers(0, 10**6))
def test_information_is_that_of_scipys_entropies_less_the_bias(
    outcomes: int, verdicts: int, total: int, seed: int
) -> None:
    """C. E. Shannon (1948), section 12; G. A. Miller (1955) for the bias."""
    random = np.random.default_rng(seed)
    shapes = random.dirichlet(np.full(outcomes * verdicts, 0.4), size=3)
    tables = random.multinomial(total, shapes).reshape(3, outcomes, verdicts)
    for sure in (0.0, 2.0):
        for table, bits in zip(tables, information_bits(tables, sure), strict=True):
            sides = table.sum(axis=1), table.sum(axis=0)
            mutual = sum(stats.entropy(side, base=2) for side in sides)
            mutual -= stats.entropy(table.ravel(), base=2)
            degrees = math.prod(int((side > 0).sum()) - 1 for side in sides)
            bias = (degrees + sure * math.sqrt(2 * degrees)) / (2 * total * math.log(2))
            assert bits == pytest.approx(max(0.0, mutual - bias), abs=1e-9)


def test_two_independent_sides_hold_no_information() -> None:
    random = np.random.default_rng(4)
    chances = np.outer([0.6, 0.3, 0.1], [0.5, 0.3, 0.2]).ravel()
    tables = random.multinomial(1000, chances, size=2000).reshape(-1, 3, 3)
    # One standard deviation of what is due to chance alone, with four degrees of freedom.
    chance = math.sqrt(2 * 4) / (2 * 1000 * math.log(2))
    plain = information_bits(tables)
    assert 0.45 < (plain == 0).mean() < 0.7
    assert plain.mean() < 0.6 * chance
    assert (information_bits(tables, 2.0) == 0).mean() > 0.94
    assert (information_bits(tables, MIN_Z_SCORE) == 0).mean() > 0.99


def test_two_equal_sides_hold_all_information() -> None:
    counts = np.diag([500, 300, 200])
    (bits,) = information_bits(counts[None])
    whole = stats.entropy([0.5, 0.3, 0.2], base=2)
    assert whole - 0.01 < bits < whole
    assert information_bits(np.diag([1000, 0])[None])[0] == 0


# What is listed


LISTS = [(stem, everything) for stem in FILES for everything in (False, True)]


def open_to_ask(result: assess.Assessment, everything: bool) -> list[str]:
    """What may be asked, in the order of ids: in the home, or anywhere."""
    judgements = result.graded.judgements
    return sorted(
        j.id
        for j in judgements.values()
        if j.is_unseen
        and not j.criterion.computed_from
        and is_opened(j, judgements)
        and result.job.answers.get(j.id.split(".")[0], {}).get(j.id.split(".")[1]) is None
        and (everything or seen_at_visit(j, result.knowledge, result.configuration))
    )


@pytest.mark.parametrize(("stem", "everything"), LISTS)
def test_only_what_can_and_need_be_looked_at_is_listed(stem: str, everything: bool) -> None:
    result = assessed(stem)
    looks = result.information_value.looks(everything=everything)
    assert sorted(look.criterion for look in looks) == open_to_ask(result, everything)


def test_most_jobs_leave_much_to_look_at() -> None:
    assert sum(len(open_to_ask(assessed(stem), True)) >= 30 for stem in FILES) >= len(FILES) - 1


def test_what_was_tried_without_success_is_not_listed_again() -> None:
    cart = toy.knowledge()
    blank = assess.assess(job_with(), knowledge=cart)
    tried = assess.assess(job_with({"box.crack": NOT_SEEN, "wheels.play": 3}), knowledge=cart)
    assert {look.criterion for look in blank.information_value.looks(everything=True)} == {
        "box.crack", "wheels.play", "wheels.noise", "wheels.broken_spokes"
    }  # fmt: skip
    assert {look.criterion for look in tried.information_value.looks(everything=True)} == {
        "wheels.noise", "wheels.broken_spokes"
    }  # fmt: skip
    assert {look.criterion for look in blank.information_value.looks()} == {
        "box.crack", "wheels.play", "wheels.broken_spokes"
    }  # fmt: skip


@pytest.mark.parametrize(("stem", "everything"), LISTS)
def test_places_are_opened_once_and_outermost_first(stem: str, everything: bool) -> None:
    result = assessed(stem)
    knowledge, configuration, judgements = (
        result.knowledge,
        result.configuration,
        result.graded.judgements,
    )
    opened = {
        place
        for j in judgements.values()
        if j.is_seen
        for place in places_to(j.criterion, knowledge, configuration)
    }
    looks = result.information_value.looks(everything=everything)
    assert len(looks) == len(open_to_ask(result, everything))
    for look in looks:
        for place, minutes in look.opens:
            assert place not in opened
            assert minutes == knowledge.places[place].minutes
            opened.add(place)
        # Whatever must be open for this look was opened for it or before, in that order.
        needed = places_to(judgements[look.criterion].criterion, knowledge, configuration)
        assert set(needed) <= opened
        assert [p for p in needed if p in dict(look.opens)] == list(dict(look.opens))


def test_most_jobs_need_places_opened() -> None:
    opened = {
        stem
        for stem in FILES
        if any(look.opens for look in assessed(stem).information_value.looks(everything=True))
    }
    assert len(opened) >= 20


def rate(result: assess.Assessment, look: Look) -> float:
    """Bits a minute of one look, plus a tiny part of its weight."""
    criterion = result.knowledge.criteria[look.criterion]
    return (look.information_bits + 1e-6 * criterion.weight) / (look.minutes + ANSWERING_MIN)


@pytest.mark.parametrize("stem", FIXTURES)
def test_of_what_needs_no_opening_the_most_informative_a_minute_comes_first(stem: str) -> None:
    result = assessed(stem)
    free = [
        rate(result, look)
        for look in result.information_value.looks(everything=True)
        if result.knowledge.criteria[look.criterion].place is None
    ]
    asked = (result.knowledge.criteria[c] for c in open_to_ask(result, everything=True))
    assert len(free) == sum(criterion.place is None for criterion in asked)
    assert free == sorted(free, reverse=True)


@pytest.mark.parametrize("stem", ["barely_inspected", "heated_house"])
def test_a_shorter_list_is_the_head_of_the_longer(stem: str) -> None:
    inquiry = assessed(stem).information_value
    every = inquiry.looks()
    assert inquiry.looks(5) == every[:5]
    assert inquiry.looks(10**6) == every
    some = {look.criterion for look in every[3:9]}
    assert {look.criterion for look in inquiry.looks(among=some)} == some
    assert inquiry.looks(among=()) == ()


@pytest.mark.parametrize("stem", ["barely_inspected", "tight_budget", "sound_organ"])
def test_what_a_look_could_change_is_counted_on_the_draws(stem: str) -> None:
    result = assessed(stem)
    drawn, codes = result.scenarios, result.verdict_indices
    rows = {j.id: row for j, row in zip(drawn.unseen, drawn.outcomes, strict=True)}
    now = next(iter(result.chances()))
    looks = result.information_value.looks(everything=True)
    assert len(looks) == len(open_to_ask(result, everything=True))
    for look in looks:
        turns, turned = 0.0, []
        for place, outcome in enumerate(result.knowledge.criteria[look.criterion].outcomes):
            those = codes[rows[look.criterion] == place]
            if not those.size:
                continue
            counts = np.bincount(those, minlength=len(VERDICT_NAMES))
            lead, held = counts.max(), counts[VERDICT_NAMES.index(now)]
            if lead - held > LEAD_Z_SCORE * math.sqrt(lead + held):
                turns += those.size / codes.size
                name = VERDICT_NAMES[int(counts.argmax())]
                turned.append((outcome.label, those.size / codes.size, name, lead / those.size))
        assert look.turns == pytest.approx(turns)
        if turned:
            found = [(c.answer, c.chance, c.verdict, c.probability) for c in look.possible_answers]
            assert sorted(found) == sorted(turned)
            chances = [could.chance for could in look.possible_answers]
            assert chances == sorted(chances, reverse=True)
        else:
            assert len(look.possible_answers) == 1


# The order of looking, in small worlds


def criterion(identifier: str, **changes: Any) -> dict[str, Any]:
    """A question of the box in words, which calls for a little glue when it is answered badly."""
    return {
        "id": identifier,
        "component": "boards",
        "asks": identifier,
        "how": "Look.",
        "minutes": 1,
        "weight": 1,
        "outcomes": [
            {"answer": "good", "class": 0},
            {"answer": "bad", "class": 3, "calls_for": ["glue_crack"]},
        ],
        **changes,
    }


DOOM = [
    {"answer": "good", "class": 0},
    {"answer": "bad", "class": 3, "calls_for": ["rebuild"], "disables": True},
]
"""Outcomes of which the second takes more hours than any workshop has."""
IDLE = [{"answer": "good", "class": 0}, {"answer": "bad", "class": 3}]
"""Outcomes that call for nothing."""


def boxes(*criteria: dict[str, Any], places: Sequence[dict[str, Any]] = ()) -> Knowledge:
    """A box with these questions, and a repair that nobody can do."""
    box = copy.deepcopy(toy.BOX)
    box["criterion"] = list(criteria)
    box["place"] = list(places)
    box["repair"] += [
        {"id": "rebuild", "component": "boards", "title": "Rebuild", "hours": [900, 1000, 1100]}
    ]
    return toy.knowledge(box)


def place(identifier: str, **changes: Any) -> dict[str, Any]:
    opened = {"open": "Open it", "close": "Close it", "open_hours": [1, 2, 3]}
    return {"id": identifier, "title": identifier, **opened, "close_hours": [1, 2, 3], **changes}


def looked_at(
    knowledge: Knowledge,
    owner: Owner | None = None,
    answers: dict[str, str | float] | None = None,
    care: Care = EVEN,
) -> assess.Assessment:
    job = job_with(answers).model_copy(update={"owner": owner or Owner(wish="full")})
    return assess.assess(job, knowledge=knowledge, workshop=SHOP.model_copy(update={"care": care}))


def order(inquiry: InformationValue, **options: Any) -> list[str]:
    return [look.criterion.removeprefix("box.") for look in inquiry.looks(**options)]


def test_when_no_look_is_informative_the_heavier_a_minute_comes_first() -> None:
    cart = boxes(
        criterion("long", minutes=4),
        criterion("short", minutes=1),
        criterion("middling", minutes=2),
        criterion("heavy", minutes=4, weight=9),
    )
    result = looked_at(cart, Owner(significance=3))
    assert result.chances() == {"conserve": 1.0}
    assert result.information_value.looks()[0].information_bits == 0
    assert order(result.information_value) == ["heavy", "short", "middling", "long"]


def test_of_two_equally_informative_looks_the_shorter_comes_first() -> None:
    cart = boxes(
        criterion("a_long", minutes=5, outcomes=DOOM),
        criterion("b_short", minutes=2, outcomes=DOOM),
        criterion("c_idle", minutes=0.1, outcomes=IDLE),
    )
    result = looked_at(cart)
    unseen = result.scenarios.unseen
    # Both are drawn alike, so that neither is more informative than the other.
    outcomes = np.vstack([result.scenarios.outcomes[[0, 0]], result.scenarios.outcomes[2:]])
    drawn = simulate_scenarios(result.plan_arrays, result.graded, result.workshop, unseen, outcomes)
    inquiry = value_unseen(
        result.context,
        result.graded,
        result.beliefs,
        result.plan_arrays,
        drawn,
        verdict_indices(drawn, Setting(result.job.owner, result.workshop)),
    )
    looks = inquiry.looks()
    assert [look.criterion for look in looks] == ["box.b_short", "box.a_long", "box.c_idle"]
    assert looks[0].information_bits == looks[1].information_bits > 0.9


def test_a_look_that_decides_the_verdict_alone_comes_first_however_long_it_takes() -> None:
    idle = [criterion(f"idle_{n}", minutes=0.1, weight=20, outcomes=IDLE) for n in range(8)]
    cart = boxes(*idle[:4], criterion("doom", minutes=60, outcomes=DOOM), *idle[4:])
    result = looked_at(cart)
    first = result.information_value.looks(1)[0]
    assert first.criterion == "box.doom"
    assert first.turns == pytest.approx(1 - next(iter(result.chances().values())))
    assert first.information_bits > 0.9
    for answer in ("good", "bad"):
        after = looked_at(cart, answers={"box.doom": answer})
        assert after.chances() == {after.verdict.likeliest: 1.0}
        # Now no look is informative, and the weight decides again.
        assert len(order(after.information_value)) == 8
        assert order(after.information_value) == sorted(order(after.information_value))


def test_what_decides_is_opened_for_only_when_it_is_worth_the_opening() -> None:
    def first(minutes: float) -> tuple[str, list[str]]:
        cart = boxes(
            criterion("open_doom", minutes=30, outcomes=DOOM),
            criterion("hidden_doom", minutes=1, place="inner", outcomes=DOOM),
            places=[
                place("outer", at_visit=True, minutes=minutes),
                place("inner", inside="outer", at_visit=True, minutes=minutes),
            ],
        )
        look = looked_at(cart).information_value.looks(1)[0]
        return look.criterion, [name for name, _ in look.opens]

    assert first(1) == ("box.hidden_doom", ["box.outer", "box.inner"])
    assert first(60) == ("box.open_doom", [])


def test_an_opening_counts_once_for_all_that_lies_behind_it() -> None:
    doom = [criterion(f"hidden_{n}", place="lid", outcomes=DOOM) for n in range(4)]
    cart = boxes(
        criterion("open_doom", minutes=5, outcomes=DOOM),
        *doom,
        places=[place("lid", at_visit=True, minutes=10)],
    )
    inquiry = looked_at(cart).information_value
    # Alone each is worth less a minute than the open one, together they are worth more.
    assert order(inquiry, among={"box.open_doom", "box.hidden_0"})[0] == "open_doom"
    assert order(inquiry)[-1] == "open_doom"
    assert [bool(look.opens) for look in inquiry.looks()] == [True, False, False, False, False]


def test_what_lies_behind_an_outer_place_counts_with_what_lies_behind_the_inner() -> None:
    cart = boxes(
        criterion("open_doom", minutes=5, outcomes=DOOM),
        criterion("outer_doom", place="outer", outcomes=DOOM),
        criterion("inner_doom", place="inner", outcomes=DOOM),
        places=[
            place("outer", at_visit=True, minutes=6),
            place("inner", inside="outer", at_visit=True),
        ],
    )
    inquiry = looked_at(cart).information_value
    for one in ("outer_doom", "inner_doom"):
        assert order(inquiry, among={"box.open_doom", f"box.{one}"}) == ["open_doom", one]
    assert order(inquiry)[-1] == "open_doom"


@pytest.mark.parametrize("stem", ["barely_inspected", "tight_budget"])
def test_an_answer_counts_also_by_its_share_of_the_cost(stem: str) -> None:
    result = assessed(stem)
    effects, codes = result.information_value.effects, result.verdict_indices
    open_bits = float(stats.entropy(np.bincount(codes), base=2))
    bits = {
        look.criterion: look.information_bits
        for look in result.information_value.looks(everything=True)
    }
    variances = np.array([effects[scope].variances for scope in effects])
    assert len(bits) > 30
    shares = (variances / variances.sum(axis=1, keepdims=True)).max(axis=0)
    for judgement, row, share in zip(
        result.scenarios.unseen, result.scenarios.outcomes, shares, strict=True
    ):
        if judgement.id in bits:
            table = np.zeros((1, len(judgement.criterion.outcomes), len(VERDICT_NAMES)), np.int64)
            np.add.at(table[0], (row, codes), 1)
            (counted,) = information_bits(table, MIN_Z_SCORE)
            assert bits[judgement.id] == pytest.approx(counted + open_bits * share, abs=1e-6)


# Whether more looking is worth it


def test_nothing_left_to_see_makes_nobody_surer() -> None:
    cart = boxes(criterion("doom", outcomes=DOOM), criterion("idle"))
    after = looked_at(cart, answers={"box.doom": "good", "box.idle": "bad"})
    assert after.information_value.looks() == ()
    assert (
        after.information_value.expected_accuracy_gain()
        == after.information_value.expected_accuracy_gain(everything=True)
        == 0
    )


def test_one_hidden_thing_that_decides_makes_one_as_sure_as_can_be() -> None:
    cart = boxes(criterion("doom", outcomes=DOOM), criterion("idle"))
    result = looked_at(cart)
    doubt = 1 - next(iter(result.chances().values()))
    assert doubt > 0.3
    assert doubt - 0.07 < result.information_value.expected_accuracy_gain() <= doubt + 1e-9


def test_what_no_home_allows_makes_nobody_surer_at_a_visit() -> None:
    idle = [criterion(f"idle_{n}") for n in range(6)]
    hidden = criterion("doom", place="lid", outcomes=DOOM)
    cart = boxes(criterion("crack"), *idle, hidden, places=[place("lid")])
    # As likely as not, so that chance alone would most easily look like information.
    state = CareState(name="any", prior=1, classes=(0.4, 0.1, 0.1, 0.4))
    care = EVEN.model_copy(update={"states": (state,)})
    result = looked_at(cart, answers={"box.crack": "bad"}, care=care)
    assert result.information_value.expected_accuracy_gain() < 0.03
    assert result.information_value.expected_accuracy_gain(everything=True) > 0.3


@pytest.mark.parametrize("stem", FILES)
def test_nobody_is_made_surer_than_sure(stem: str) -> None:
    result = assessed(stem)
    doubt = 1 - next(iter(result.chances().values()))
    for everything in (False, True):
        assert (
            0
            <= result.information_value.expected_accuracy_gain(everything=everything)
            <= doubt + 1e-9
        )


# What may be hidden


def added(
    result: assess.Assessment, identifier: str, scope: Scope
) -> tuple[float, float, float] | None:
    """The chance that something adds to a plan, and the hours and cost it adds, by exact plans."""
    judgement = result.graded.judgements[identifier]
    before = result.plans[scope].cost
    chances = result.beliefs.of_criterion(identifier)
    parts = []
    for number, outcome in enumerate(judgement.criterion.outcomes):
        if outcome.condition == 0:
            continue
        graded = with_known(result, [known(judgement, number, result.plan_arrays.counts)])
        after = plans_of(result, graded)[scope].cost
        cost = after.total.mean - before.total.mean
        if cost > 0.05:
            parts.append((chances[number], after.hours.mean - before.hours.mean, cost))
    chance = sum(part[0] for part in parts)
    if chance < LEAST_CHANCE:
        return None
    hours, cost = (sum(part[0] * part[n] for part in parts) / chance for n in (1, 2))
    return chance, hours, cost


def assert_hidden_is_exact(result: assess.Assessment, scope: Scope) -> None:
    assert result.plans[scope].workshop_job, "the routine must be in the plan already"
    found = {line.criterion: line for line in result.information_value.hidden_answers(scope)}
    assert found
    for judgement in result.scenarios.unseen:
        exactly = added(result, judgement.id, scope)
        assert (exactly is None) == (judgement.id not in found), judgement.id
        if exactly:
            line = found[judgement.id]
            assert line.chance == pytest.approx(exactly[0])
            assert line.hours == pytest.approx(exactly[1], rel=0.01, abs=0.01)
            assert line.cost == pytest.approx(exactly[2], rel=0.01, abs=0.5)
            assert line.expected_cost == pytest.approx(exactly[0] * exactly[2], rel=0.01, abs=0.5)


@pytest.mark.parametrize("scope", ["working", "full"])
def test_what_may_be_hidden_in_a_cart_adds_what_the_plans_differ_by(scope: Scope) -> None:
    job = job_with({"wheels.play": 7}, {"brake": True})
    result = assess.assess(job, knowledge=toy.knowledge())
    assert_hidden_is_exact(result, scope)


@pytest.mark.parametrize("scope", ["working", "full"])
def test_what_may_be_hidden_in_a_fixture_adds_what_the_plans_differ_by(scope: Scope) -> None:
    assert_hidden_is_exact(assessed("heated_house"), scope)


def test_the_routine_of_a_workshop_job_is_charged_only_where_it_is_not_done_in_any_case() -> None:
    two = looked_at(boxes(criterion("crack"), criterion("idle")), Owner(wish="full"))
    (first, second) = two.information_value.hidden_answers("full")
    work, routine = (0.5 + 4 + 2) / 6, (0.1 + 0.4 + 0.2 + 1 + 4 + 2 + 0.5 + 2 + 1) / 6
    # Either happens in three of eight cases: more often than not one of the two is found.
    assert two.scenarios.costs["full"].needless.mean() < 0.5
    assert first.hours == pytest.approx(second.hours) == pytest.approx(work)
    seldom = looked_at(boxes(criterion("crack")))
    assert seldom.scenarios.costs["full"].needless.mean() > 0.5
    (only,) = seldom.information_value.hidden_answers("full")
    assert only.hours == pytest.approx(work + routine)
    rate = SHOP.rate_per_hour * (1 + SHOP.contingency)
    transport = SHOP.transport * (1 + SHOP.contingency)
    assert only.cost == pytest.approx(only.hours * rate + transport, rel=1e-5)
    assert first.cost == pytest.approx(first.hours * rate, rel=1e-5)


@pytest.mark.parametrize("stem", FIXTURES)
@pytest.mark.parametrize("scope", ["stabilise", "working", "full"])
def test_what_may_be_hidden_is_listed_by_what_it_adds_on_average(stem: str, scope: Scope) -> None:
    result = assessed(stem)
    found = result.information_value.hidden_answers(scope)
    assert found
    expected = [line.expected_cost for line in found]
    assert expected == sorted(expected, reverse=True)
    assert min(line.chance for line in found) >= LEAST_CHANCE
    for line in found:
        judgement = result.graded.judgements[line.criterion]
        places = [result.knowledge.places[p] for p in line.opens]
        assert judgement.is_unseen
        there = places_there(judgement.criterion, result.knowledge, result.configuration)
        assert line.place == (there[0] if there else None)
        assert line.opens == places_to(judgement.criterion, result.knowledge, result.configuration)
        assert line.at_visit == all(p.at_visit for p in places)
        minutes = judgement.criterion.minutes + sum(p.minutes for p in places)
        assert line.minutes == pytest.approx(minutes)
        opened = (step_hours(f"open {p.id}", result.context)[1] for p in places)
        assert line.opening_hours == pytest.approx(sum(opened))


def test_a_cost_that_is_sure_has_no_variance_and_one_that_is_not_has_that_of_its_parts() -> None:
    effects = looked_at(
        boxes(criterion("crack"), criterion("doom", outcomes=DOOM))
    ).information_value.effects
    assert [len(scope) for scope in effects.values()] == [2, 2, 2]
    for scope in effects.values():
        for effect, variance in zip(scope, scope.variances, strict=True):
            mean = float(effect.chances @ effect.cost)
            square = float(effect.chances @ effect.cost**2)
            assert variance == pytest.approx(square - mean**2, rel=1e-6, abs=1e-6)
    assert effects["full"].variances[1] > effects["full"].variances[0] > 0
    assert effects["stabilise"].variances[0] == 0


def test_an_answer_in_the_file_moves_a_line_from_the_list_into_the_plan() -> None:
    before = assessed("heated_house")
    line = before.information_value.hidden_answers("full")[0]
    subsystem, name = line.criterion.split(".")
    found = before.knowledge.criteria[line.criterion]
    worst = max(found.outcomes, key=lambda o: o.condition)
    place = found.outcomes.index(worst)
    value = before.plan_arrays.counts[found.id][place] if found.measured else worst.label
    answers = {s: dict(a) for s, a in before.job.answers.items()}
    answers.setdefault(subsystem, {})[name] = Answer(answer=value)
    after = assess.assess(before.job.model_copy(update={"answers": answers}))
    assert line.criterion not in {
        h.criterion for h in after.information_value.hidden_answers("full")
    }
    assert after.plans["full"].cost.total.mean > before.plans["full"].cost.total.mean
