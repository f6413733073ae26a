"""What one seen outcome tells of another criterion."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
import toy

import assess
from assess.care import MOST_ODDS
from assess.draws import draw
from assess.knowledge import Declaration
from assess.workshop import load_workshop

NEUTRAL = load_workshop().care.model_copy(
    update={"states": (load_workshop().care.states[0].model_copy(update={"prior": 1.0}),)}
)
"""One state of care only, so that an answer tells nothing but what it hints at."""
SHOP = load_workshop().model_copy(update={"care": NEUTRAL})


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
def test_a_hint_multiplies_the_odds_once_it_is_seen(factor: float) -> None:
    knowledge = cart({"criterion": "wheels.play", "odds": factor})
    before = odds(knowledge, "wheels.play", "none")
    assert odds(toy.knowledge(), "wheels.play", "rotten") == pytest.approx(before)
    assert odds(knowledge, "wheels.play", "rotten") == pytest.approx(factor * before)


def test_a_hint_may_speak_of_the_worse_outcomes_only() -> None:
    knowledge = cart({"criterion": "wheels.play", "odds": 4, "from_class": 3})
    plain = odds(knowledge, "wheels.play", "none", from_class=3)
    assert odds(knowledge, "wheels.play", "rotten", from_class=3) == pytest.approx(4 * plain)


def test_hints_multiply_each_other_within_bounds() -> None:
    twice = cart(*[{"criterion": "wheels.play", "odds": 3}] * 2)
    before = odds(twice, "wheels.play", "none")
    assert odds(twice, "wheels.play", "rotten") == pytest.approx(9 * before)
    often = cart(*[{"criterion": "wheels.play", "odds": 3}] * 9)
    assert odds(often, "wheels.play", "rotten") == pytest.approx(MOST_ODDS * before)


def test_a_hint_at_what_is_not_installed_is_dropped_and_listed() -> None:
    knowledge = cart({"criterion": "sail.cloth", "odds": 3})
    assert [d.target for d in knowledge.dropped] == ["sail.cloth"]
    outcomes = knowledge.criteria["box.crack"].outcomes
    assert [o.hints for o in outcomes] == [(), (), ()]


@pytest.mark.parametrize("wrong", [{"odds": 0}, {"odds": -1}, {"odds": 3, "from_class": 0}])
def test_odds_that_cannot_be_are_refused(wrong: dict[str, Any]) -> None:
    box = copy.deepcopy(toy.BOX)
    box["criterion"][0]["outcomes"][2]["hints"] = [{"criterion": "crack", **wrong}]
    with pytest.raises(ValueError, match="hints"):
        Declaration.model_validate(box)


def test_a_drawn_outcome_hints_within_its_draw_as_if_it_were_seen() -> None:
    knowledge = cart({"criterion": "wheels.play", "odds": 5}, answer="one")
    result = assess.assess(toy.job(), knowledge=knowledge, workshop=SHOP)
    unseen, outcomes = draw(result.graded, knowledge, result.beliefs, 40_000)
    rows = {j.id: row for j, row in zip(unseen, outcomes, strict=True)}
    labels = [o.label for o in knowledge.criteria["box.crack"].outcomes]
    classes = np.array([o.condition for o in knowledge.criteria["wheels.play"].outcomes])
    bad = classes[rows["wheels.play"]] > 0
    for crack in ("none", "one"):
        share = bad[rows["box.crack"] == labels.index(crack)].mean()
        told = odds(knowledge, "wheels.play", crack)
        assert share / (1 - share) == pytest.approx(told, rel=0.1)


def test_declared_hints_never_go_both_ways_nor_to_themselves() -> None:
    pairs = {
        (criterion.id, hint.criterion)
        for criterion in assess.knowledge_in_use().criteria.values()
        for outcome in criterion.outcomes
        for hint in outcome.hints
    }
    assert len(pairs) > 50
    assert [p for p in pairs if p[::-1] in pairs] == []
