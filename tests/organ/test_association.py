"""What one seen outcome says about another criterion."""

from __future__ import annotations

import copy
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import toy
from hypothesis import given
from hypothesis import strategies as st
from seen import FILES, drawn

import assess
from assess.job.workshop_profile import load_workshop
from assess.knowledge.declaration import Declaration
from assess.testing import job_with
from assess.uncertainty import monte_carlo
from assess.uncertainty.association import MOST_ODDS, fit_association

USUAL = load_workshop(trade=toy.knowledge().trade)
ONE_STATE = USUAL.care.model_copy(
    update={"states": (USUAL.care.states[0].model_copy(update={"prior": 1.0}),)}
)
"""One state of care only, so that an answer says nothing but what it hints at."""
SHOP = USUAL.model_copy(update={"care": ONE_STATE})


def cart(*hints: dict[str, Any], answer: str = "rotten") -> assess.Knowledge:
    """The cart, where one answer of the box's hints at something."""
    box = copy.deepcopy(toy.BOX)
    outcome = next(o for c in box["criterion"] for o in c["outcomes"] if o["answer"] == answer)
    outcome["hints"] = list(hints)
    return toy.knowledge(toy.WHEELS, box)


def odds(knowledge: assess.Knowledge, criterion: str, seen: str, from_class: int = 1) -> float:
    """Odds of a finding of some class and worse, when the box is seen to be so."""
    text = f'[answers.box]\ncrack = {{ answer = "{seen}" }}\n'
    result = assess.assess(toy.job(text), knowledge=knowledge, workshop=SHOP)
    chances = result.beliefs.of_criterion(criterion)
    outcomes = knowledge.criteria[criterion].outcomes
    bad = sum(p for p, o in zip(chances, outcomes, strict=True) if o.condition >= from_class)
    return bad / (1 - bad)


@pytest.mark.parametrize("factor", [5, 2, 0.1])
def test_a_hint_is_the_ratio_of_odds_with_it_and_without(factor: float) -> None:
    knowledge = cart({"criterion": "wheels.play", "odds": factor})
    without = odds(knowledge, "wheels.play", "none")
    assert odds(knowledge, "wheels.play", "rotten") == pytest.approx(factor * without, rel=1e-6)
    unhinted = odds(toy.knowledge(), "wheels.play", "rotten")
    assert min(factor, 1) * without < unhinted < max(factor, 1) * without


def test_a_hint_may_speak_of_the_worse_outcomes_only() -> None:
    knowledge = cart({"criterion": "wheels.play", "odds": 4, "from_class": 3})
    plain = odds(knowledge, "wheels.play", "none", from_class=3)
    assert odds(knowledge, "wheels.play", "rotten", from_class=3) == pytest.approx(4 * plain)


def test_hints_multiply_each_other_within_bounds() -> None:
    twice = cart(*[{"criterion": "wheels.play", "odds": 3}] * 2)
    before = odds(twice, "wheels.play", "none")
    assert odds(twice, "wheels.play", "rotten") == pytest.approx(9 * before)
    often = cart(*[{"criterion": "wheels.play", "odds": 3}] * 9)
    plain = odds(toy.knowledge(), "wheels.play", "rotten")
    hinted = odds(often, "wheels.play", "rotten")
    assert plain * MOST_ODDS / 9 < hinted <= plain * MOST_ODDS**2


def test_a_hint_at_what_is_not_installed_is_dropped_and_listed() -> None:
    knowledge = cart({"criterion": "sail.cloth", "odds": 3})
    assert [d.target for d in knowledge.dropped] == ["sail.cloth"]
    outcomes = knowledge.criteria["box.crack"].outcomes
    assert [o.hints for o in outcomes] == [(), (), ()]


@pytest.mark.parametrize("wrong", [{"odds": 0}, {"odds": -1}, {"odds": 3, "from_class": 0}])
def test_impossible_odds_are_refused(wrong: dict[str, Any]) -> None:
    box = copy.deepcopy(toy.BOX)
    box["criterion"][0]["outcomes"][2]["hints"] = [{"criterion": "crack", **wrong}]
    with pytest.raises(ValueError, match="hints"):
        Declaration.model_validate(box)


def test_a_drawn_outcome_hints_within_its_draw_as_if_it_were_seen() -> None:
    knowledge = cart({"criterion": "wheels.play", "odds": 5}, answer="one")
    result = assess.assess(toy.job(), knowledge=knowledge, workshop=SHOP)
    unseen, outcomes = drawn(result, 40_000)
    rows = {j.id: row for j, row in zip(unseen, outcomes, strict=True)}
    labels = [o.label for o in knowledge.criteria["box.crack"].outcomes]
    classes = np.array([o.condition for o in knowledge.criteria["wheels.play"].outcomes])
    bad = classes[rows["wheels.play"]] > 0
    for crack in ("none", "one"):
        share = bad[rows["box.crack"] == labels.index(crack)].mean()
        expected = odds(knowledge, "wheels.play", crack)
        assert share / (1 - share) == pytest.approx(expected, rel=0.1)
    believed = np.array(result.beliefs.of_criterion("wheels.play"))
    assert bad.mean() == pytest.approx(believed[classes > 0].sum(), abs=0.01)


@pytest.mark.parametrize("stem", ["barely_inspected", "one_strap"])
@pytest.mark.parametrize("most", [1, 40])
def test_how_evidence_is_grouped_changes_no_draw(
    monkeypatch: pytest.MonkeyPatch, most: int, stem: str
) -> None:
    job = assess.load(FILES[stem]).model_copy(update={"answers": {}})
    usual = assess.assess(job)
    monkeypatch.setattr(monte_carlo, "MOST_COMBINATIONS", most)
    forgetful = replace(usual.knowledge, memo={})
    other = assess.assess(job, knowledge=forgetful)
    assert len(usual.sample.unseen) > 100
    assert np.array_equal(other.sample.outcomes, usual.sample.outcomes)


def test_hints_in_a_circle_tie_both_together() -> None:
    box, wheels = copy.deepcopy(toy.BOX), copy.deepcopy(toy.WHEELS)
    for declared, own, other in ((box, "crack", "wheels.play"), (wheels, "play", "box.crack")):
        (asked,) = (c for c in declared["criterion"] if c["id"] == own)
        for found in asked["outcomes"]:
            if found["class"] > 0:
                found["hints"] = [{"criterion": other, "odds": 5}]
    result = assess.assess(toy.job(), knowledge=toy.knowledge(wheels, box), workshop=SHOP)
    unseen, outcomes = drawn(result, 20_000)
    bad = {
        j.id: np.array([o.condition > 0 for o in j.criterion.outcomes])[row]
        for j, row in zip(unseen, outcomes, strict=True)
    }
    crack, play = bad["box.crack"], bad["wheels.play"]
    table = [[(crack == c).astype(float) @ (play == p) for p in (0, 1)] for c in (0, 1)]
    assert table[0][0] * table[1][1] > 5 * table[0][1] * table[1][0]


def test_what_is_found_says_as_much_about_what_would_have_hinted_at_it() -> None:
    knowledge = cart({"criterion": "wheels.play", "odds": 5}, answer="one")

    def cracked(play: str) -> float:
        text = f'[answers.wheels]\nplay = {{ answer = "{play}" }}\n'
        result = assess.assess(toy.job(text), knowledge=knowledge, workshop=SHOP)
        return result.beliefs.of_criterion("box.crack")[1]

    forward = {crack: odds(knowledge, "wheels.play", crack) for crack in ("none", "one")}
    assert forward["one"] == pytest.approx(5 * forward["none"], rel=1e-6)
    blank = assess.assess(toy.job(), knowledge=knowledge, workshop=SHOP).beliefs
    labels = [o.label for o in knowledge.criteria["box.crack"].outcomes]
    crack = dict(zip(labels, blank.of_criterion("box.crack"), strict=True))
    loose = {c: forward[c if c == "one" else "none"] for c in labels}
    # Bayes' rule by hand, from the odds of play with each answer.
    joint = {c: crack[c] * loose[c] / (1 + loose[c]) for c in labels}
    assert cracked("7 mm") == pytest.approx(joint["one"] / sum(joint.values()), rel=1e-3)
    assert cracked("0 mm") < crack["one"] < cracked("7 mm")


MARGINS = st.lists(st.floats(0.01, 1), min_size=2, max_size=5).map(
    lambda parts: tuple(p / sum(parts) for p in parts)
)


@given(MARGINS, MARGINS, st.data())
def test_a_fitted_table_keeps_its_margins_and_the_ratios_of_odds(
    rows: tuple[float, ...], columns: tuple[float, ...], data: st.DataObject
) -> None:
    line = st.tuples(*[st.floats(0.05, 20)] * len(columns))
    wanted = tuple(data.draw(line) for _ in rows)
    table = np.array(fit_association(rows, columns, wanted))
    joint = table * np.outer(rows, columns)
    assert joint.sum(axis=0) == pytest.approx(np.array(columns), rel=1e-3)
    assert joint.sum(axis=1) == pytest.approx(np.array(rows), rel=1e-3)
    ratios = table / table[:1] / table[:, :1] * table[0, 0]
    declared = np.array(wanted)
    expected = declared / declared[:1] / declared[:, :1] * declared[0, 0]
    assert ratios == pytest.approx(expected, rel=1e-6)


def test_two_by_two_is_the_table_of_the_published_odds_ratio() -> None:
    # For margins p and q and an odds ratio r, the joint probability x solves
    # x (1 - p - q + x) = r (p - x)(q - x): R. L. Plackett, "A class of bivariate distributions",
    # Journal of the American Statistical Association 60 (1965).
    p, q, r = 0.2, 0.1, 7.0
    s = 1 + (r - 1) * (p + q)
    x = (s - math.sqrt(s * s - 4 * r * (r - 1) * p * q)) / (2 * (r - 1))
    table = fit_association((1 - p, p), (1 - q, q), ((1.0, 1.0), (1.0, r)))
    assert table[1][1] * p * q == pytest.approx(x, rel=1e-3)


def test_hints_leave_a_blank_instrument_as_it_is_believed() -> None:
    result = assess.assess(job_with({}))
    unseen, outcomes = drawn(result, 20_000)
    assert len(unseen) > 100
    for judgement, row in zip(unseen, outcomes, strict=True):
        bad = np.array([o.condition > 0 for o in judgement.criterion.outcomes])
        believed = np.array(result.beliefs.of_criterion(judgement.id))[bad].sum()
        assert bad[row].mean() == pytest.approx(believed, abs=0.03), judgement.id


def test_declared_hints_never_go_both_ways_nor_to_themselves() -> None:
    pairs = {
        (criterion.id, hint.criterion)
        for criterion in assess.knowledge_in_use().criteria.values()
        for outcome in criterion.outcomes
        for hint in outcome.hints
    }
    assert len(pairs) > 50
    assert [p for p in pairs if p[::-1] in pairs] == []
