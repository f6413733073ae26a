"""Beliefs about the unseen, compared with Bayes' rule over every joint state written out."""

from __future__ import annotations

import copy
import itertools
import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import toy
from hypothesis import given, settings
from hypothesis import strategies as st
from seen import FIXTURES, assessed, known
from toy import judge_one

import assess
from assess.grading.grades import DEFICITS, Grade, Graded, grade
from assess.job.configuration import configuration_of
from assess.job.job_file import NOT_APPLICABLE, NOT_SEEN, Answer
from assess.job.workshop_profile import Workshop, load_workshop
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.prior_beliefs import Care, CareState
from assess.knowledge.steps import subsystem_of
from assess.testing import job_with
from assess.uncertainty.bayes_network import Beliefs, beliefs
from assess.uncertainty.expected_grades import ExpectedGrades, expected_grades
from assess.uncertainty.prior_chances import outcome_chances

CART = toy.knowledge()
REAL = assess.knowledge_in_use()
CARE = load_workshop(trade=CART.trade).care
WORDS: dict[str, list[str | float]] = {
    "wheels.play": [0, 2, 7],
    "wheels.noise": ["silent", "squeaks"],
    "wheels.broken_spokes": [0, 3, 8],
    "wheels.shoe": ["sound", "loose"],
    "box.crack": ["none", "one", "rotten"],
}
"""An answer for each outcome of each criterion of the cart, in declared order."""
LEAST_PERSISTENCE = 1e-6
"""Persistence is never taken to be nearer to 0 or 1 than this."""

Answers = dict[str, str | float]


def cart(answers: Answers, care: Care = CARE, knowledge: Knowledge = CART) -> assess.Assessment:
    """A cart with a brake, assessed."""
    shop = load_workshop(trade=knowledge.trade).model_copy(update={"care": care})
    job = job_with(answers, {"brake": True})
    return assess.assess(job, knowledge=knowledge, workshop=shop)


def table(criterion: Criterion, state: CareState, rare: float) -> list[float]:
    """The chances of a criterion's outcomes, from the rules as they are stated."""
    weights = []
    for outcome in criterion.outcomes:
        mates = [o for o in criterion.outcomes if o.condition == outcome.condition]
        few = [o for o in mates if o.beyond_repair or o.advise_against]
        plain = len(mates) - len(few)
        own = rare if outcome in few else 1.0
        # Where all of a class are rare, the class itself is.
        beside = plain + rare * len(few) if plain else max(1.0, rare * len(few))
        likelier = criterion.seldom * criterion.often if outcome.condition else 1.0
        weights.append(state.classes[outcome.condition] * likelier * own / beside)
    return [w / sum(weights) for w in weights]


def transition(care: Care, whole: int, part: int) -> float:
    """The chance that a part is in a state, given that of the whole."""
    if len(care.states) == 1:
        return 1.0
    same = min(max(care.state_persistence, LEAST_PERSISTENCE), 1 - LEAST_PERSISTENCE)
    return same if whole == part else (1 - same) / (len(care.states) - 1)


Weights = dict[tuple[int, ...], float]


def every_joint_state(answers: Answers, care: Care) -> tuple[list[str], Weights]:
    """The probability of every state of the whole, both subsystems and all components at once."""
    names = ["", *CART.subsystems, *CART.components]
    places = {name: at for at, name in enumerate(names)}
    weights: Weights = {}
    for states in itertools.product(range(len(care.states)), repeat=len(names)):
        weight = care.states[states[0]].prior
        for subsystem in CART.subsystems:
            weight *= transition(care, states[0], states[places[subsystem]])
        for component in CART.components:
            above = states[places[subsystem_of(component)]]
            weight *= transition(care, above, states[places[component]])
        for criterion, answer in answers.items():
            found = CART.criteria[criterion]
            state = care.states[states[places[found.component]]]
            weight *= table(found, state, care.rare)[WORDS[criterion].index(answer)]
        weights[states] = weight
    total = math.fsum(weights.values())
    return names, {states: weight / total for states, weight in weights.items()}


@st.composite
def cares(draw: st.DrawFn, most: int = 3) -> Care:
    """Some states of care with some persistence."""
    count = draw(st.integers(1, most))
    share = st.integers(1, 40)
    priors = draw(st.lists(share, min_size=count, max_size=count))
    states = []
    for number, prior in enumerate(priors):
        parts = draw(st.lists(share, min_size=4, max_size=4))
        classes = tuple(p / sum(parts) for p in parts)
        states.append(CareState(name=f"state {number}", prior=prior / sum(priors), classes=classes))
    state_persistence = draw(st.sampled_from([0.0, 0.2, 0.5, 0.7, 0.95, 1.0]))
    rare = draw(st.sampled_from([0.05, 0.3, 1.0]))
    return Care(states=tuple(states), state_persistence=state_persistence, rare=rare)


some_answers = st.fixed_dictionaries(
    {}, optional={criterion: st.sampled_from(words) for criterion, words in WORDS.items()}
)


@settings(max_examples=40)
@given(some_answers, cares())
def test_beliefs_are_those_of_every_joint_state_weighed(answers: Answers, care: Care) -> None:
    """T. Bayes, "An essay towards solving a problem in the doctrine of chances" (1763)."""
    names, weights = every_joint_state(answers, care)
    result = cart(answers, care)
    found = result.beliefs
    kinds = range(len(care.states))

    def by_hand(name: str) -> list[float]:
        at = names.index(name)
        return [math.fsum(w for s, w in weights.items() if s[at] == k) for k in kinds]

    assert found.states == tuple(state.name for state in care.states)
    assert found.whole == pytest.approx(by_hand(""), abs=1e-9)
    for component in CART.components:
        believed = by_hand(component)
        assert found.of_component(component) == pytest.approx(believed, abs=1e-9)
        for criterion in CART.criteria.values():
            if criterion.component == component:
                tables = [table(criterion, state, care.rare) for state in care.states]
                mixed = [
                    math.fsum(believed[k] * tables[k][o] for k in kinds)
                    for o in range(len(criterion.outcomes))
                ]
                assert found.of_criterion(criterion.id) == pytest.approx(mixed, abs=1e-9)


def test_two_parts_of_one_subsystem_depend_on_each_other_as_the_joint_states_do() -> None:
    names, weights = every_joint_state({"wheels.play": 7}, CARE)
    found = cart({"wheels.play": 7}).beliefs
    hub, wheels = names.index("wheels.hub"), names.index("wheels")
    for whole, sub, part in itertools.product(range(3), repeat=3):
        exact = math.fsum(
            w for s, w in weights.items() if (s[0], s[wheels], s[hub]) == (whole, sub, part)
        )
        chained = found.whole[whole] * found.given_whole["wheels"][whole][sub]
        chained *= found.given_subsystem["wheels.hub"][sub][part]
        assert chained == pytest.approx(exact, abs=1e-12)


# The chances of outcomes


def test_outcome_chances_of_all_that_is_known_add_up_and_follow_the_rules() -> None:
    chances = outcome_chances(REAL, CARE)
    assert len(chances) > 100
    assert chances.keys() == REAL.criteria.keys()
    for criterion in REAL.criteria.values():
        for row, state in zip(chances[criterion.id], CARE.states, strict=True):
            assert sum(row) == pytest.approx(1, abs=1e-12)
            assert min(row) > 0
            assert row == pytest.approx(table(criterion, state, CARE.rare), abs=1e-12)


def test_findings_that_stop_use_are_rarer_by_what_the_care_says() -> None:
    rarer = CARE.model_copy(update={"stopping": 0.25})
    plain, changed = outcome_chances(CART, CARE), outcome_chances(CART, rarer)
    stopping = [
        (c.id, place)
        for c in CART.criteria.values()
        for place, o in enumerate(c.outcomes)
        if o.stops_use and not (o.beyond_repair or o.advise_against)
    ]
    assert stopping
    for criterion, place in stopping:
        for before, after in zip(plain[criterion], changed[criterion], strict=True):
            odds = (after[place] / after[0]) / (before[place] / before[0])
            assert odds == pytest.approx(0.25)


def test_the_rules_of_outcomes_by_hand() -> None:
    outcomes: list[dict[str, Any]] = [
        {"answer": "sound", "class": 0},
        {"answer": "worn", "class": 1},
        {"answer": "bent", "class": 1},
        {"answer": "gone", "class": 3, "beyond_repair": "none are made any more"},
        {"answer": "cracked", "class": 3},
    ]
    box = toy.altered(toy.BOX, "criterion", "crack", outcomes=outcomes, seldom=0.5)
    state = CareState(name="one", prior=1, classes=(0.6, 0.2, 0.1, 0.1))
    care = Care(states=(state,), state_persistence=0.5, rare=0.25)
    (row,) = outcome_chances(toy.knowledge(box), care)["box.crack"]
    # Class 1 is shared alike, class 3 in parts of one and a quarter; both are half as likely.
    parts = [0.6, 0.05, 0.05, 0.05 * 0.25 / 1.25, 0.05 / 1.25]
    assert row == pytest.approx([p / sum(parts) for p in parts])


def test_what_perishes_in_any_case_is_found_so_many_times_as_often() -> None:
    care = Care(states=(flat(),), state_persistence=0.5, rare=1)
    box = toy.altered(toy.BOX, "criterion", "crack", often=3)
    (plain,), (often,) = (
        outcome_chances(toy.knowledge(b), care)["box.crack"] for b in (toy.BOX, box)
    )
    assert (1 - often[0]) / often[0] == pytest.approx(3 * (1 - plain[0]) / plain[0])
    assert often[2] / often[1] == pytest.approx(plain[2] / plain[1])


def test_nothing_is_both_seldom_and_often() -> None:
    with pytest.raises(ValueError, match="either seldom or often"):
        toy.declaration(toy.altered(toy.BOX, "criterion", "crack", often=3, seldom=0.5))


def test_a_class_in_which_all_outcomes_are_rare_is_itself_rare() -> None:
    (row,) = outcome_chances(CART, Care(states=(flat(),), state_persistence=0.5, rare=0.2))[
        "box.crack"
    ]
    assert row == pytest.approx([1 / 2.2, 1 / 2.2, 0.2 / 2.2])


def flat(name: str = "any", prior: float = 1.0) -> CareState:
    return CareState(name=name, prior=prior, classes=(0.25, 0.25, 0.25, 0.25))


# What answers do


def test_with_nothing_seen_the_beliefs_are_the_priors() -> None:
    for knowledge in (CART, REAL):
        care = load_workshop(trade=knowledge.trade).care
        priors = [state.prior for state in care.states]
        found = assess.assess(job_with(), knowledge=knowledge).beliefs
        assert found.whole == pytest.approx(priors)
        assert len(knowledge.components) > len(knowledge.subsystems) > 1
        for subsystem in knowledge.subsystems:
            rows = found.given_whole[subsystem]
            exact = [[transition(care, s, t) for t in range(3)] for s in range(3)]
            assert [list(row) for row in rows] == [pytest.approx(row) for row in exact]
        for component in knowledge.components:
            parts = found.of_component(component)
            # As states persist only in part, parts lean from the priors towards equal chances.
            assert sum(parts) == pytest.approx(1)
            assert sum((p - 1 / 3) ** 2 for p in parts) < sum((p - 1 / 3) ** 2 for p in priors)


def test_what_is_not_seen_or_does_not_apply_says_nothing() -> None:
    after = cart({"wheels.play": NOT_SEEN, "box.crack": NOT_APPLICABLE}).beliefs
    assert after == cart({}).beliefs


def single(criterion: Criterion, place: int) -> Beliefs:
    """The beliefs of the real knowledge with one criterion seen."""
    configuration = configuration_of(job_with(), REAL, {})
    judgements = {c.id: judge_one(c, None, configuration) for c in REAL.criteria.values()}
    judgements[criterion.id] = known(judgements[criterion.id], place)
    return beliefs(grade(judgements, REAL), REAL, CARE)


@pytest.mark.parametrize("subsystem", sorted(REAL.subsystems))
def test_a_good_answer_raises_and_a_bad_one_lowers_belief_in_good_care(subsystem: str) -> None:
    before = beliefs(assess.assess(job_with()).graded, REAL, CARE)
    elsewhere = next(c for c in REAL.components if subsystem_of(c) != subsystem)
    own = [c for c in REAL.criteria.values() if subsystem_of(c.id) == subsystem]
    assert len(own) > 20
    for criterion in own:
        classes = [o.condition for o in criterion.outcomes]
        for sign, place in ((1, classes.index(0)), (-1, classes.index(max(classes)))):
            after = single(criterion, place)
            moved = [
                sign * (after.of_component(c)[0] - before.of_component(c)[0])
                for c in (criterion.component, elsewhere)
            ]
            assert moved[0] > moved[1] > 0, (criterion.id, sign)
            assert sign * (after.whole[0] - before.whole[0]) > moved[1]


def test_every_further_bad_answer_lowers_belief_in_good_care() -> None:
    answers: Answers = {}
    whole = [cart(answers).beliefs.whole]
    for criterion, words in WORDS.items():
        answers[criterion] = words[-1]
        whole.append(cart(answers).beliefs.whole)
    assert len(whole) > 5
    assert all(after[0] < before[0] for before, after in pairwise(whole))
    assert all(after[2] > before[2] for before, after in pairwise(whole))


def test_hundreds_of_answers_cause_no_underflow() -> None:
    box = copy.deepcopy(toy.BOX)
    box["criterion"] = [{**box["criterion"][0], "id": f"crack_{n}"} for n in range(400)]
    rotten: Answers = {f"box.crack_{n}": "rotten" for n in range(400)}
    found = cart(rotten, knowledge=toy.knowledge(toy.WHEELS, box)).beliefs
    assert found.of_component("box.boards") == pytest.approx([0, 0, 1])


# Expected grades


@given(some_answers, cares())
def test_the_expected_grade_of_a_cart_lies_within_its_bounds(answers: Answers, care: Care) -> None:
    assert_within_bounds(cart(answers, care))


@settings(max_examples=25)
@given(st.randoms(use_true_random=False), st.floats(0, 1))
def test_the_expected_grade_lies_within_its_bounds(random: Any, seen: float) -> None:
    configuration = configuration_of(job_with(), REAL, {})
    judgements = {}
    for criterion in REAL.criteria.values():
        judgement = judge_one(criterion, None, configuration)
        if judgement.counts and random.random() < seen:
            judgement = known(judgement, random.randrange(len(criterion.outcomes)))
        judgements[criterion.id] = judgement
    graded = grade(judgements, REAL)
    assert_grades_within(graded, expected_grades(graded, REAL, beliefs(graded, REAL, CARE)))


@pytest.mark.parametrize("stem", FIXTURES)
def test_the_expected_grade_of_a_fixture_lies_within_its_bounds(stem: str) -> None:
    assert_within_bounds(assessed(stem))


def assert_within_bounds(result: assess.Assessment) -> None:
    assert_grades_within(result.graded, result.expected)


def assert_grades_within(graded: Graded, expected: ExpectedGrades) -> None:
    whole, subsystems, components = graded.instrument, {}, {}
    for subsystem in graded.subsystems.values():
        subsystems[subsystem.id] = subsystem.grade
        components |= subsystem.components
    if whole.weight > 0:
        assert expected.whole is not None
        assert_within("whole", expected.whole, whole)
    else:
        assert expected.whole is None
    assert subsystems
    for found, bounds in ((expected.subsystems, subsystems), (expected.components, components)):
        counted = {name: bound for name, bound in bounds.items() if bound.weight > 0}
        assert found.keys() == counted.keys()
        for name, bound in counted.items():
            assert_within(name, found[name], bound)


def assert_within(name: str, expected: float, bound: Grade) -> None:
    assert bound.lower - 1e-9 <= expected <= bound.upper + 1e-9, name
    if bound.settled:
        assert expected == pytest.approx(bound.lower), name
    else:
        assert bound.lower < expected < bound.upper, name


def test_the_expected_grade_by_hand() -> None:
    care = Care(states=(flat(),), state_persistence=0.5, rare=1.0)
    grades = cart({"wheels.play": 2}, care).expected
    # Of the classes that a criterion has, each is equally likely here.
    box = 100 * (1 - (1 / 6 + 1) / 3)
    hub = 4 * DEFICITS[2] + 1 * (0 + 1 / 6) / 2
    rim = 3 * (0 + 1 / 2 + 1) / 3 + 1 * (0 + 1) / 2
    wheels = 100 * (1 - (hub + rim) / 9)
    assert grades.components == pytest.approx(
        {
            "wheels.hub": 100 * (1 - hub / 5),
            "wheels.rim": 100 * (1 - rim / 4),
            "box.boards": box,
        }
    )
    assert grades.subsystems == pytest.approx({"wheels": wheels, "box": box})
    assert grades.whole == pytest.approx((2 * wheels + box) / 3)


@given(st.fixed_dictionaries({c: st.sampled_from(words) for c, words in WORDS.items()}))
def test_when_everything_is_seen_the_expected_grade_is_the_grade(answers: Answers) -> None:
    result = cart(answers)
    assert result.expected.whole == pytest.approx(result.graded.instrument.lower)
    assert result.graded.instrument.lower == pytest.approx(result.graded.instrument.upper)


def test_nothing_is_expected_of_what_could_not_be_assessed_nor_of_the_whole_then() -> None:
    result = cart({"box.crack": "one"})
    graded = grade(result.graded.judgements, CART, {"wheels"})
    expected = expected_grades(graded, CART, result.beliefs)
    assert expected.subsystems.keys() == {"box"}
    assert expected.components.keys() == {"box.boards"}
    assert expected.whole is None


# Extreme profiles


def test_with_full_persistence_all_parts_are_in_one_state() -> None:
    care = CARE.model_copy(update={"state_persistence": 1.0})
    found = cart({"wheels.play": 0, "wheels.shoe": "loose"}, care).beliefs
    assert len(CART.components) == 3
    for component in CART.components:
        assert found.of_component(component) == pytest.approx(found.whole, abs=1e-4)


def test_without_persistence_no_part_is_in_the_state_of_the_whole() -> None:
    care = CARE.model_copy(update={"state_persistence": 0.0})
    found = cart({"wheels.play": 0}, care).beliefs
    assert len(found.given_whole) == 2
    assert len(found.given_subsystem) == 3
    for rows in (*found.given_whole.values(), *found.given_subsystem.values()):
        assert all(row[state] < 1e-4 for state, row in enumerate(rows))


@pytest.mark.parametrize("state_persistence", [0.0, 1.0])
def test_answers_that_contradict_an_extreme_persistence_give_chances_all_the_same(
    state_persistence: float,
) -> None:
    care = CARE.model_copy(update={"state_persistence": state_persistence})
    shop = load_workshop().model_copy(update={"care": care})
    for worst in (False, True):
        result = assess.assess(job_with(extreme_answers(worst)), workshop=shop)
        found = result.beliefs
        chances = [found.whole, *(found.of_component(c) for c in REAL.components)]
        chances += [found.of_criterion(c) for c in REAL.criteria]
        assert all(sum(row) == pytest.approx(1) and min(row) >= 0 for row in chances)
        assert_within_bounds(result)


def extreme_answers(worst_first: bool) -> Answers:
    """Half of the subsystems seen at their best, the other half at their worst."""
    answers: Answers = {}
    for number, subsystem in enumerate(sorted(REAL.subsystems)):
        worst = (number % 2 == 0) == worst_first
        for criterion in REAL.criteria.values():
            if subsystem_of(criterion.id) == subsystem and not criterion.measured:
                ranked = sorted(criterion.outcomes, key=lambda o: o.condition)
                answers[criterion.id] = ranked[-1 if worst else 0].label
    return answers


def test_a_single_state_learns_nothing() -> None:
    care = Care(states=(flat(),), state_persistence=0.7, rare=0.05)
    before, after = cart({}, care).beliefs, cart({"wheels.play": 7}, care).beliefs
    assert before.whole == after.whole == (1.0,)
    assert len(CART.criteria) == 5
    for criterion in CART.criteria:
        assert before.of_criterion(criterion) == pytest.approx(after.of_criterion(criterion))


# The workshop profile


STATE = '[[care.states]]\nname = "{}"\nprior = {}\nclasses = {}\n'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            STATE.format("a", 0.5, [0.7, 0.1, 0.1, 0.1])
            + STATE.format("b", 0.4, [0.7, 0.1, 0.1, 0.1]),
            "priors of the states of care add up to 0.9",
        ),
        (STATE.format("a", 1.0, [0.7, 0.2, 0.1, 0.1]), "the four classes add up to 1.1"),
        (STATE.format("a", 1.0, [1.0, 0.0, 0.0, 0.0]), "classes"),
        (STATE.format("a", 1.0, [0.8, 0.1, 0.1]), "classes"),
        (STATE.format("a", 0.0, [0.7, 0.1, 0.1, 0.1]), "prior"),
        ("[care]\nstates = []\n", "care.states"),
        (
            "[care]\nstate_persistance = 0.5\n",
            'care.state_persistance: unknown key; did you mean "state_persistence"?',
        ),
        ("[care]\nstate_persistence = 1.5\n", "care.state_persistence"),
        ("[care]\nkinship = 1.5\n", "care.state_persistence"),
        ("[care]\nrare = 0\n", "care.rare"),
        ("care = 0.5\n", "care"),
        (STATE.format("a", 1.0, [0.7, 0.1, 0.1, 0.1]) + "odd = 1\n", "odd"),
    ],
)
def test_an_impossible_profile_is_refused_by_file_and_key(
    tmp_path: Path, text: str, says: str
) -> None:
    path = tmp_path / "ours.toml"
    path.write_text(text)
    with pytest.raises(assess.WorkshopError) as raised:
        load_workshop(path)
    assert says in str(raised.value)
    assert all(line.startswith(f"{path}: ") for line in str(raised.value).splitlines())


def test_part_of_the_care_table_leaves_the_rest_as_it_was(tmp_path: Path) -> None:
    usual = load_workshop().care
    # "kinship" is the former name of the key.
    for key in ("state_persistence", "kinship"):
        changed = profile(tmp_path, f"[care]\n{key} = 0.4\n").care
        assert changed == usual.model_copy(update={"state_persistence": 0.4})
    only_states = profile(tmp_path, STATE.format("a", 1.0, [0.7, 0.1, 0.1, 0.1])).care
    assert only_states.state_persistence == usual.state_persistence
    assert only_states.rare == usual.rare
    assert [s.name for s in only_states.states] == ["a"]
    assert profile(tmp_path, "rate_per_hour = 50\n").care == usual


def profile(tmp_path: Path, text: str) -> Workshop:
    path = tmp_path / "ours.toml"
    path.write_text(text)
    return load_workshop(path)


def test_rounded_chances_are_taken_as_they_are_meant() -> None:
    thirds = CareState(name="a", prior=0.333, classes=(0.333, 0.333, 0.333, 0.001))
    care = Care(states=(thirds,) * 3, state_persistence=0.7, rare=0.05)
    found = cart({}, care).beliefs
    assert found.whole == pytest.approx([1 / 3] * 3)
    assert sum(found.of_criterion("wheels.play")) == pytest.approx(1)


def test_an_answer_says_the_same_as_a_number_and_with_its_unit() -> None:
    configuration = configuration_of(job_with(features={"brake": True}), CART, {})
    judged = [
        judge_one(CART.criteria["wheels.play"], Answer(answer=a), configuration)
        for a in (7, "7 mm")
    ]
    assert judged[0].best is judged[1].best
    assert cart({"wheels.play": "7 mm"}).beliefs == cart({"wheels.play": 7}).beliefs
