"""What stands against each scope, what is worth saving, and a service at home: at the bounds."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import toy

from assess.assessment import Assessment, assess
from assess.decision.rules import weigh
from assess.decision.ways import Way, weigh_ways
from assess.job.workshop_profile import load_workshop
from assess.knowledge.knowledge_base import Knowledge

SHOP = load_workshop(trade=toy.knowledge().trade)
SOUND = 'play = 0\nnoise = "silent"\nbroken_spokes = 0\n'


def assessed(
    wheels: str,
    crack: str = "none",
    owner: str = "",
    knowledge: Knowledge | None = None,
    **shop: float,
) -> Assessment:
    """The cart with these answers about its wheels, and what its owner says."""
    text = f'{owner}\n[answers.wheels]\n{wheels}[answers.box]\ncrack = "{crack}"\n'
    workshop = SHOP.model_copy(update=shop)
    return assess(toy.job(text), knowledge=knowledge or toy.knowledge(), workshop=workshop)


def against(result: Assessment) -> dict[str, tuple[str, ...]]:
    """Scope -> what stands against it, on what was seen."""
    options = weigh(result.plans, result.graded, result.setting)
    return {scope: option.against for scope, option in options.items()}


def test_nothing_stands_against_leaving_alone_what_is_sound() -> None:
    """It costs nothing, which is within a limit of nothing, and no more than it is worth."""
    result = assessed(SOUND, owner="[owner]\nceiling = 0\nworth = 0\n", sure_enough=1.0)
    assert against(result) == {"full": (), "working": (), "stabilise": ()}
    assert result.verdict.name == "leave"
    assert "no fault that calls for work in what was seen (100 %)" in result.verdict.reasons


def test_nor_does_anything_wherever_the_unseen_leaves_it_in_use() -> None:
    unseen = SOUND.replace("play = 0\n", "")
    result = assessed(unseen, owner="[owner]\nceiling = 0\nworth = 0\n")
    in_use = result.scenarios.costs["working"].needless.mean()
    assert 0.5 < in_use < 1
    assert result.verdict.chances["leave"] == pytest.approx(in_use)


def test_where_nothing_was_looked_at_no_fault_was_found_in_nothing() -> None:
    verdict = assess(toy.job(), knowledge=toy.knowledge()).verdict
    assert verdict.likeliest == verdict.as_seen == "leave"
    assert "nothing has been looked at yet" in verdict.reasons
    assert not any(reason.startswith("no fault") for reason in verdict.reasons)


def test_a_job_of_just_the_hours_that_the_workshop_takes_on_fits() -> None:
    worn = 'play = 7\nnoise = "silent"\nbroken_spokes = 3\n'
    hours = assessed(worn).plans["full"].cost.hours.p50
    assert against(assessed(worn, most_hours=hours))["full"] == ()
    [line] = against(assessed(worn, most_hours=hours - 0.01))["full"]
    assert "the workshop takes on" in line


GONE = "nobody makes such a bearing any more"


@pytest.mark.parametrize(
    ("calls_for", "disables", "scopes"),
    [
        ((), False, {"full"}),
        (("grease_hub",), False, {"full"}),
        ((), True, {"full"}),
        (("grease_hub",), True, {"full", "working"}),
    ],
)
def test_what_is_beyond_repair_stands_against_full_work_and_all_that_needs_it(
    calls_for: tuple[str, ...], disables: bool, scopes: set[str]
) -> None:
    squeaks: dict[str, Any] = {"answer": "squeaks", "class": 1, "calls_for": calls_for}
    squeaks |= {"disables": disables, "beyond_repair": GONE}
    outcomes = [{"answer": "silent", "class": 0}, squeaks]
    data = toy.altered(toy.WHEELS, "criterion", "noise", outcomes=outcomes)
    cart = toy.knowledge(data, toy.BOX)
    result = assessed('play = 0\nnoise = "squeaks"\nbroken_spokes = 0\n', knowledge=cart)
    found = against(result)
    assert {scope for scope, lines in found.items() if lines} == scopes
    assert found["full"] == (f"Noise of the hub (squeaks): {GONE}",)
    for scope, costs in result.scenarios.costs.items():
        assert costs.impossible.all() == (scope in scopes)


# What is worth saving from what is kept for parts: the rim is beyond repair, the rest is not.

SPENT = "broken_spokes = 8\n"


def saved(weight_of_noise: float, wheels: str, crack: str = "rotten") -> tuple[str, ...]:
    """What is worth saving of a cart whose play weighs 4, with this weight of its noise."""
    data = toy.altered(toy.WHEELS, "criterion", "noise", weight=weight_of_noise)
    result = assessed(SPENT + wheels, crack, knowledge=toy.knowledge(data, toy.BOX))
    assert result.verdict.name == "salvage"
    return result.verdict.worth_saving


@pytest.mark.parametrize(("weight", "is_saved"), [(4, True), (4.1, False), (3.9, True)])
def test_a_part_is_worth_saving_of_which_half_was_seen(weight: float, is_saved: bool) -> None:
    assert saved(weight, "play = 0\n") == (("Hub",) if is_saved else ())


@pytest.mark.parametrize(("crack", "is_saved"), [("none", True), ("one", True), ("rotten", False)])
def test_a_part_is_worth_saving_with_a_minor_fault_and_none_worse(
    crack: str, is_saved: bool
) -> None:
    assert saved(1, "play = 7\n", crack) == (("Boards",) if is_saved else ())


def test_what_is_not_there_cannot_be_saved() -> None:
    assert saved(1, 'play = "doesn\'t apply"\nnoise = "doesn\'t apply"\n') == ()


# A service at home has a price where it is as likely as not to be enough.


def service(away: float) -> tuple[Way, Way]:
    """A service at home, and working order, where this share of the scenarios must be fetched."""
    result = assessed(SOUND.replace("play = 0", "play = 2"), owner="[owner]\nceiling = 500\n")
    drawn = result.scenarios
    fetched = np.arange(drawn.count) < away * drawn.count
    working = replace(drawn.costs["working"], away=fetched)
    drawn = replace(drawn, costs={**drawn.costs, "working": working})
    costs = {likely.scope: likely.cost for likely in result.verdict.likely}
    ways = {way.name: way for way in weigh_ways(drawn, costs, result.setting)}
    return ways["service"], ways["working"]


@pytest.mark.parametrize(("away", "is_priced"), [(0.0, True), (0.5, True), (0.6, False)])
def test_a_service_is_priced_that_is_as_likely_as_not_to_be_enough(
    away: float, is_priced: bool
) -> None:
    home, working = service(away)
    assert home.possible == pytest.approx(1 - away)
    priced = (working.cost, working.within_limit)
    assert None not in priced
    assert (home.cost, home.within_limit) == (priced if is_priced else (None, None))
