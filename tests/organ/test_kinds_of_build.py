"""Kinds of build that nobody has stated: known from an answer, or among what may be hidden."""

from __future__ import annotations

import copy
from typing import Any

import pytest
import toy
from conftest import ROOT

import assess
from assess.inspection.hidden_defects import Hidden
from assess.job.workshop_profile import load_workshop
from assess.knowledge.lint import doubts
from assess.output.json_data import looks_data
from assess.output.looks import hidden_lines
from assess.testing import job_with

SHOP = load_workshop(trade=toy.knowledge().trade)


def cart(chance: float | None = 0.25, **tells: bool | str) -> assess.Knowledge:
    """The cart, of which it shows only with the cart off its axle whether it has a brake."""
    wheels, box = copy.deepcopy(toy.WHEELS), copy.deepcopy(toy.BOX)
    brake = next(f for f in wheels["feature"] if f["id"] == "brake")
    brake |= {"place": "axle", "minutes": 2, "chance": chance}
    if tells:
        box["criterion"][0]["outcomes"][1]["tells"] = tells
    return toy.knowledge(wheels, box)


def kinds(result: assess.Assessment) -> list[Hidden]:
    return [line for line in result.hidden("full") if line.feature]


def test_a_kind_of_build_that_nobody_has_stated_may_be_hidden() -> None:
    knowledge = cart()
    result = assess.assess(toy.job(), knowledge=knowledge)
    (line,) = kinds(result)
    axle = knowledge.places["wheels.axle"]
    assert (line.feature, line.otherwise, line.chance) == ("brake", True, 0.25)
    assert (line.criterion, line.opens, line.place) == ("", ("wheels.axle",), "wheels.axle")
    assert line.minutes == 2 + axle.minutes
    assert line.at_visit is axle.at_visit
    with_brake = assess.assess(job_with({}, {"brake": True}), knowledge=knowledge)
    added = (
        with_brake.scenarios.costs["full"].mean_h.mean()
        - result.scenarios.costs["full"].mean_h.mean()
    )
    assert line.hours == pytest.approx(added)
    rate = SHOP.rate_per_hour * (1 + SHOP.contingency)
    assert line.hours > 0
    # The sums over scenarios may differ in their last digits.
    assert line.cost >= line.hours * rate * (1 - 1e-12)


@pytest.mark.parametrize("brake", [True, False])
def test_what_has_been_stated_cannot_be_hidden(brake: bool) -> None:
    assert kinds(assess.assess(job_with({}, {"brake": brake}), knowledge=cart())) == []


def test_without_a_chance_it_is_only_assumed() -> None:
    result = assess.assess(toy.job(), knowledge=cart(chance=None))
    assert kinds(result) == []
    assert result.configuration.assumed["brake"] == "no"


def test_a_kind_of_build_may_be_known_from_an_answer() -> None:
    knowledge = cart(brake=True)
    known = assess.assess(job_with({"box.crack": "One "}), knowledge=knowledge)
    assert "brake" in known.configuration.tags
    assert "brake" not in known.configuration.assumed
    assert kinds(known) == []
    other = assess.assess(job_with({"box.crack": "none"}), knowledge=knowledge)
    assert "brake" not in other.configuration.tags
    assert other.configuration.assumed["brake"] == "no"


def test_the_job_file_has_the_last_word_and_a_contradiction_is_asked_about() -> None:
    knowledge = cart(brake=True)
    text = '[instrument.features]\nbrake = false\n[answers.box]\ncrack = "one"\n'
    result = assess.assess(toy.job(text), knowledge=knowledge)
    assert "brake" not in result.configuration.tags
    (line,) = result.configuration.questions
    assert line == (
        "cart.toml:3: instrument.features.brake: stated as no, but an answer implies yes; "
        "which is right?"
    )
    agreed = assess.assess(job_with({"box.crack": "one"}, {"brake": True}), knowledge=knowledge)
    assert agreed.configuration.questions == ()


@pytest.mark.parametrize("tells", [{"break": True}, {"brake": "strong"}])
def test_an_answer_that_states_an_impossible_kind_of_build_is_doubted(
    tells: dict[str, bool | str],
) -> None:
    (doubt,) = [d for d in doubts(cart(**tells)) if "tells" in d]
    assert "box.crack: tells that" in doubt
    assert [d for d in doubts(cart(brake=True)) if "tells" in d] == []


def test_glue_seen_along_the_foundation_plans_its_parting() -> None:
    glued = "nails, or glue in places"
    spoilt = {"pneumatics.reservoir_cloth": "perished, rubber flaking all over"}
    seen = assess.assess(job_with(spoilt | {"pneumatics.foundation_line": glued}))
    plan = seen.plans["full"]
    assert plan.step("pneumatics.part_glued_joint")
    screwed = {"pneumatics.foundation_line": "leather all along, screwed"}
    assert (
        not assess.assess(job_with(spoilt | screwed))
        .plans["full"]
        .step("pneumatics.part_glued_joint")
    )
    sound = assess.assess(job_with({"pneumatics.foundation_line": glued})).plans["full"]
    assert not sound.step("pneumatics.part_glued_joint")


def test_what_may_be_built_otherwise_is_shown_in_words() -> None:
    result = assess.assess(assess.load(ROOT / "fixtures" / "barely_inspected.toml"))
    (line,) = [k for k in kinds(result) if k.feature == "glued_foundation"]
    assert "Foundation joint glued" in hidden_lines(result, [line])


def test_options_share_the_chance() -> None:
    wheels: dict[str, Any] = copy.deepcopy(toy.WHEELS)
    wheels["feature"][0] |= {
        "chance": 0.3,
        "usual": "none",
        "options": {"none": "no brake", "brake": "a shoe", "drum": "a drum"},
    }
    knowledge = toy.knowledge(wheels, toy.BOX)
    lines = kinds(assess.assess(toy.job(), knowledge=knowledge))
    assert {(k.otherwise, k.chance) for k in lines} == {("brake", 0.15)}


def test_the_data_of_a_kind_of_build_names_it() -> None:
    result = assess.assess(toy.job(), knowledge=cart())
    (found,) = [h for h in looks_data(result, ())["hidden"] if h.get("feature")]
    assert (found["criterion"], found["feature"], found["otherwise"]) == ("", "brake", True)
    hidden = looks_data(result, ())["hidden"]
    assert len(hidden) > 1
    assert all("criterion" in h for h in hidden)
