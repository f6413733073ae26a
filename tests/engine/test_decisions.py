"""What stands against each scope, what is worth saving, and the ways to go."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import toy

from assess.assessment import Assessment, assess
from assess.base.wording import percent
from assess.decision.rules import weigh
from assess.decision.ways import Way, weigh_ways
from assess.job.workshop_profile import load_workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import VerdictName
from assess.uncertainty.packed_facts import Bools

SHOP = load_workshop(trade=toy.knowledge().trade)
BOTH: tuple[Scope, ...] = ("full", "working")
SOUND = 'play = 0\nnoise = "silent"\nbroken_spokes = 0\n'
UNHEARD = SOUND.replace('noise = "silent"\n', "")
LOOSE = SOUND.replace("play = 0", "play = 2")
WORN = SOUND.replace("play = 0", "play = 7")
GONE_WHEEL = SOUND.replace("broken_spokes = 0", "broken_spokes = 8")


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


def of_squeaking(owner: str, wheels: str = WORN, **outcome: Any) -> Assessment:
    """The cart that squeaks, by what squeaking means."""
    data = toy.squeaking(toy.WHEELS, **{"calls_for": ["grease_hub"], **outcome})
    told, cart = f"[owner]\n{owner}\n", toy.knowledge(data, toy.BOX)
    return assessed(wheels.replace("silent", "squeaks"), owner=told, knowledge=cart)


def test_nothing_stands_against_leaving_alone_what_is_sound() -> None:
    """It costs nothing, which is within a limit of nothing, and no more than it is worth."""
    result = assessed(SOUND, owner="[owner]\nceiling = 0\nworth = 0\n", sure_enough=1.0)
    assert against(result) == {"full": (), "working": (), "stabilise": ()}
    assert result.verdict.name == "leave"
    assert "no fault that calls for work in what was seen (100 %)" in result.verdict.reasons
    points = {wish: [(p.limit, p.name) for p in at] for wish, at in result.verdict.limits.items()}
    assert points == {"full": [(0, "leave")], "working": [(0, "leave")]}


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
    assert len(against(assessed(worn, most_hours=hours - 0.01))["full"]) == 1


def test_hours_that_are_too_many_are_shown_as_more_than_the_most() -> None:
    for spokes in range(8):
        worn = WORN.replace("broken_spokes = 0", f"broken_spokes = {spokes}")
        hours = assessed(worn).plans["full"].cost.hours.p50
        for most in (math.floor(hours), hours - 0.01):
            lines = against(assessed(worn, most_hours=most))["full"]
            [line] = [line for line in lines if "takes on" in line]
            shown, named = map(float, re.findall(r"[\d.]+", line))
            assert shown > named == pytest.approx(most, abs=1e-3)
            assert abs(shown - hours) < 1


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
    outcome = {"calls_for": calls_for, "disables": disables, "beyond_repair": GONE}
    result = of_squeaking("", SOUND, **outcome)
    found = against(result)
    assert {scope for scope, lines in found.items() if lines} == scopes
    assert found["full"] == (f"Noise of the hub (squeaks): {GONE}",)
    for scope, costs in result.scenarios.costs.items():
        assert costs.impossible.all() == (scope in scopes)


KEPT = "what is there is evidence and is kept"
RISK = "it may fall apart"


Outcome = dict[str, Any]
AGAINST: dict[str, tuple[str, Outcome, set[Scope], str]] = {
    "an advice against both": ("", {"advise_against": RISK}, {"full", "working"}, RISK),
    "an advice against one": ("", {"advise_against": RISK, "against": ["full"]}, {"full"}, RISK),
    "ruin": ("", {"advise_against": RISK, "ruins": True}, {"full", "working"}, RISK),
    "ruin, whatever scopes are named": (
        "", {"advise_against": RISK, "ruins": True, "against": ["full"]}, {"full", "working"}, RISK
    ),
    "an advice, and the owner is attached": ("attachment = 2", {"advise_against": RISK}, set(), ""),
    "ruin, and the owner is attached": (
        "attachment = 2", {"advise_against": RISK, "ruins": True}, set(), ""),
    "the only one known": ("", {"significance": 3}, {"full", "working"}, KEPT),
    "an early one": ("", {"significance": 2}, {"full", "working"}, KEPT),
    "an early one, and the owner is attached": (
        "attachment = 2", {"significance": 2}, {"full", "working"}, KEPT),
    "a little rare": ("", {"significance": 1}, set(), ""),
    "an early one that is wanted": ('reason_to_use = "a parade"', {"significance": 2}, set(), ""),
    "worth next to nothing": ("worth = 10", {}, {"full", "working"}, "3 times the stated value"),
    "worth little, and the owner is attached": ("worth = 10\nattachment = 2", {}, set(), ""),
}  # fmt: skip


@pytest.mark.parametrize("kind", AGAINST)
def test_each_kind_of_advice_stands_once_against_the_scopes_that_it_is_about(kind: str) -> None:
    owner, outcome, scopes, words = AGAINST[kind]
    found = against(of_squeaking(owner, **outcome))
    assert {scope for scope, lines in found.items() if lines} == scopes
    for scope in scopes:
        [line] = found[scope]
        assert words in line


@pytest.mark.parametrize(
    ("owner", "found", "name"),
    [
        ("", 3, "hand_over"),
        ("significance = 2", 3, "hand_over"),
        ("", 2, "conserve"),
        ("significance = 3", 0, "conserve"),
    ],
)
def test_only_what_is_found_to_be_the_only_one_goes_to_a_conservator(
    owner: str, found: int, name: str
) -> None:
    verdict = of_squeaking(owner, significance=found).verdict
    assert (verdict.name, verdict.scope, verdict.is_evidence) == (name, "stabilise", True)
    said = any(reason.startswith("only one is known") for reason in verdict.reasons)
    assert said is (name == "hand_over")


@pytest.mark.parametrize(("found", "name"), [(3, "hand_over"), (2, "conserve")])
def test_what_may_be_found_significant_counts_by_its_share(found: int, name: VerdictName) -> None:
    result = of_squeaking("", UNHEARD.replace("play = 0", "play = 7"), significance=found)
    significant = (result.scenarios.significance == found).mean()
    assert 0 < significant < 1
    assert result.verdict.chances == pytest.approx({"working": 1 - significant, name: significant})


@pytest.mark.parametrize(
    ("owner", "said"),
    [
        ("", "no limit on the cost is given"),
        ("ceiling = 5000", "and the cost fits the owner's limit"),
    ],
)
def test_what_speaks_for_a_scope_is_said_of_the_one_that_is_taken(owner: str, said: str) -> None:
    verdict = assessed(WORN, "one", owner=f'[owner]\nwish = "full"\n{owner}\n').verdict
    assert verdict.name == "full"
    [line] = [r for r in verdict.reasons if "it can be done" in r]
    assert line.startswith("full repair: ")
    assert line.endswith(said)


def test_where_little_is_enough_to_conserve_it_nothing_stated_is_still_nothing() -> None:
    rotten: dict[str, Any] = {"crack": "rotten", "conserve_from": 1}
    for owner, words in (
        ("", "the wood is lost"),
        ("attachment = 0", "the wood is lost"),
        ("significance = 1", KEPT),
    ):
        [line] = against(assessed(SOUND, owner=f"[owner]\n{owner}\n", **rotten))["full"]
        assert words in line
    assert against(assessed(SOUND, owner="[owner]\nattachment = 1\n", **rotten))["full"] == ()
    assert assessed(SOUND, conserve_from=1).verdict.name == "leave"


@pytest.mark.parametrize(
    ("wish", "named", "plan_scope"),
    [
        ('wish = "full"', "full", "full"),
        ('wish = "working"', "leave", "working"),
        ('wish = "stabilise"', "conserve", "stabilise"),
        ("", "leave", "working"),
        ('wish = "full"\nceiling = 150', "leave", "full"),
    ],
)
def test_where_no_verdict_is_given_the_plan_is_that_of_the_likeliest_or_of_the_wish(
    wish: str, named: str, plan_scope: str
) -> None:
    verdict = unseen(wish).verdict
    assert (verdict.name, verdict.scope) == ("look_further", None)
    assert (verdict.likeliest, verdict.plan_scope) == (named, plan_scope)


@pytest.mark.parametrize(
    ("owner", "wheels", "crack", "said"),
    [
        ("ceiling = 10", WORN, "none", "only money or time stands against it"),
        ("", WORN, "rotten", "it can be made good, but work on it is advised against"),
        ("significance = 2", WORN, "none", "early, rare or unaltered"),
        ("keeps = false", WORN, "none", "the owner does not want to keep it"),
        ("", GONE_WHEEL, "none", "what it cannot do without is beyond repair"),
        ("attachment = 2", GONE_WHEEL, "none", "it is significant, or the owner is attached"),
        ("", SOUND, "one", "it rolls as it is"),
        ('ceiling = 10\n[history]\nrolls = "with faults"', WORN, "none", "it rolls, so it can be"),
    ],
)
def test_the_last_reason_says_why_nothing_further_is_tried(
    owner: str, wheels: str, crack: str, said: str
) -> None:
    reasons = assessed(wheels, crack, owner=f"[owner]\n{owner}\n").verdict.reasons
    assert reasons[-2].startswith(said)
    assert reasons[-1] == "everything that applies has been seen"


def test_a_full_repair_that_calls_for_no_more_is_called_working_order() -> None:
    verdict = assessed(WORN, owner='[owner]\nwish = "full"\n').verdict
    assert (verdict.name, verdict.scope, verdict.plan_scope) == ("working", "full", "full")


# The reasons that are given where the unseen decides


def unseen(owner: str, **shop: float) -> Assessment:
    """A cart of which nothing was looked at; what was seen of it says to leave it."""
    text = f"[owner]\n{owner}\n"
    return assess(toy.job(text), knowledge=toy.knowledge(), workshop=SHOP.model_copy(update=shop))


def possible_said(result: Assessment, scope: Scope) -> str:
    """The reason that tells how likely a scope is possible, counted on the scenarios."""
    drawn, owner = result.scenarios, result.job.owner
    costs = drawn.costs[scope]
    price = costs.cost_at(SHOP.sure_enough, SHOP)
    obstacles = {
        "too expensive": price > (np.inf if owner.ceiling is None else owner.ceiling),
        "too many hours": costs.median_h > result.workshop.most_hours,
        "beyond repair": costs.impossible,
        "advised against": drawn.dissuaded[scope],
    }
    possible = 1 - np.logical_or.reduce(list(obstacles.values())).mean()
    listed = [f"{why} {percent(float(n.mean()))}" for why, n in obstacles.items() if n.any()]
    title = result.trade.scope_title(scope)
    return f"{title}: possible in {percent(float(possible))} of cases ({'; '.join(listed)})"


@pytest.mark.parametrize(
    ("owner", "hours", "obstacles"),
    [
        ('wish = "full"\nceiling = 900', 5.0, 4),
        ('wish = "full"', 5.0, 3),
        ('wish = "full"', 250, 2),
    ],
)
def test_what_stands_against_each_scope_is_told_with_its_share(
    owner: str, hours: float, obstacles: int
) -> None:
    result = unseen(owner, most_hours=hours)
    assert result.verdict.likeliest != result.verdict.as_seen
    for scope in BOTH:
        said = possible_said(result, scope)
        assert said in result.verdict.reasons
        assert said.count("%") == 1 + obstacles


def test_nothing_is_told_of_scopes_that_the_owner_does_not_want() -> None:
    reasons = unseen('wish = "stabilise"').verdict.reasons
    assert "judged only on what was seen: leave as it is" in reasons
    assert not any("possible in" in reason for reason in reasons)


def test_the_next_likeliest_verdicts_are_named_where_none_is_likely_enough() -> None:
    verdict = unseen('wish = "full"\nceiling = 900', most_hours=5.0).verdict
    assert list(verdict.chances)[:4] == ["full", "leave", "working", "wait"]
    leave, working = (percent(verdict.chances[name]) for name in ("leave", "working"))
    said = "a verdict needs at least 75 %; otherwise: leave as it is {}, repair to working order {}"
    assert said.format(leave, working) in verdict.reasons


@pytest.mark.parametrize("wheels", [SOUND, UNHEARD])
def test_a_verdict_is_given_and_settled_that_is_just_as_likely_as_is_asked_for(
    wheels: str,
) -> None:
    owner = '[owner]\nwish = "full"\n'
    probability = assessed(wheels, owner=owner).verdict.probability
    assert (probability < 1) is (wheels == UNHEARD)
    just = {"verdict_enough": probability, "settled_doubt": 1 - probability}
    result = assessed(wheels, owner=owner, **just)
    assert result.verdict.name == "leave"
    assert result.verdict.settled
    assert result.settled
    assert not any("a verdict needs at least" in reason for reason in result.verdict.reasons)


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


# The ways to go


def ways(result: Assessment, **changes: Any) -> dict[str, Way]:
    """The ways to go, where the scenarios of working order are changed in this."""
    drawn = result.scenarios
    working = replace(drawn.costs["working"], **changes)
    drawn = replace(drawn, costs={**drawn.costs, "working": working})
    costs = {likely.scope: likely.cost for likely in result.verdict.likely}
    return {way.name: way for way in weigh_ways(drawn, costs, result.setting)}


def first(result: Assessment, share: float) -> Bools:
    """A share of the scenarios."""
    count = result.scenarios.count
    return np.arange(count) < share * count


@pytest.mark.parametrize(("away", "is_priced"), [(0.0, True), (0.5, True), (0.6, False)])
def test_a_service_at_home_is_priced_that_is_as_likely_as_not_to_be_enough(
    away: float, is_priced: bool
) -> None:
    result = assessed(LOOSE, owner="[owner]\nceiling = 500\n")
    found = ways(result, away=first(result, away))
    home, working = found["service"], found["working"]
    assert home.possible == pytest.approx(1 - away)
    priced = (working.cost, working.within_limit)
    assert None not in priced
    assert (home.cost, home.within_limit) == (priced if is_priced else (None, None))


def test_no_service_at_home_makes_good_what_is_beyond_repair() -> None:
    result = assessed(LOOSE)
    gone = first(result, 0.2)
    found = ways(result, away=~first(result, 0.7), impossible=gone)
    assert found["service"].possible == pytest.approx(0.5)
    assert found["working"].possible == pytest.approx(0.8)


def test_what_can_be_done_is_neither_beyond_repair_nor_too_long_in_one_scenario() -> None:
    result = assessed(LOOSE)
    hours = result.scenarios.costs["working"].mean_h
    gone, long = first(result, 0.5), ~first(result, 0.7)
    both = ways(result, impossible=gone, mean_h=np.where(long, 1e4, hours))
    assert both["working"].possible == pytest.approx(0.2)
    assert ways(result, impossible=gone)["working"].possible == pytest.approx(0.5)


def test_work_is_advised_wherever_nothing_that_may_be_found_speaks_against_it() -> None:
    result = of_squeaking("", UNHEARD, advise_against=RISK, against=["full"])
    advised = 1 - result.scenarios.dissuaded["full"].mean()
    assert 0.5 < advised < 1
    found = ways(result)
    assert found["full"].advised == pytest.approx(advised)
    assert found["working"].advised == found["service"].advised == 1


@pytest.mark.parametrize(
    ("rolls", "possible"),
    [("well", 1.0), ("with faults", 1.0), ("partly", 0.3), ("not at all", 0.0), (None, 0.3)],
)
def test_it_can_be_left_as_it_is_where_it_is_told_or_found_to_roll(
    rolls: str | None, possible: float
) -> None:
    told = f'[history]\nrolls = "{rolls}"\n' if rolls else ""
    result = assessed(LOOSE, owner=told)
    assert ways(result, needless=first(result, 0.3))["leave"].possible == pytest.approx(possible)


@pytest.mark.parametrize(
    ("owner", "museum", "home", "parts"),
    [
        ("", 0.0, 1.0, 1.0),
        ("significance = 1", 0.0, 1.0, 1.0),
        ("significance = 2", 1.0, 0.0, 0.0),
        ('significance = 3\nreason_to_use = "a parade"', 0.0, 1.0, 0.0),
        ("attachment = 1", 0.0, 1.0, 1.0),
        ("attachment = 2", 0.0, 1.0, 0.0),
    ],
)
def test_what_is_evidence_goes_to_a_museum_and_only_what_nobody_minds_is_kept_for_parts(
    owner: str, museum: float, home: float, parts: float
) -> None:
    found = ways(assessed(GONE_WHEEL, owner=f"[owner]\n{owner}\n"))
    advised = [found[way].advised for way in ("hand_over", "pass_on", "salvage")]
    assert advised == [museum, home, parts]
    # What can be made good is not taken apart.
    assert ways(assessed(LOOSE))["salvage"].advised == 0


@pytest.mark.parametrize(
    ("owner", "wanted", "unsaid"),
    [
        ("", "", "service working full conserve hand_over pass_on salvage"),
        ('wish = "full"', "service working full", "hand_over pass_on salvage"),
        ('wish = "working"', "service working", "hand_over pass_on salvage"),
        ('wish = "stabilise"', "conserve", "hand_over pass_on salvage"),
        ("keeps = false", "hand_over pass_on salvage", "service working full conserve"),
        ("keeps = true", "", "service working full conserve"),
    ],
)
def test_a_way_is_wanted_that_goes_no_further_than_the_owner_wants(
    owner: str, wanted: str, unsaid: str
) -> None:
    found = ways(assessed(LOOSE, owner=f"[owner]\n{owner}\n")).values()
    assert {way.name for way in found if way.wanted} == set(wanted.split())
    assert {way.name for way in found if way.wanted is None} == {"leave", *unsaid.split()}


def test_only_what_is_charged_has_a_price_and_a_chance_to_stay_in_the_limit() -> None:
    charged = {"service", "working", "full", "conserve"}
    limited = ways(assessed(LOOSE, owner="[owner]\nceiling = 500\n")).values()
    assert {way.name for way in limited if way.cost} == charged
    assert {way.name for way in limited if way.within_limit is not None} == charged
    unlimited = ways(assessed(LOOSE)).values()
    assert {way.within_limit for way in unlimited} == {None}


def test_to_keep_it_safe_or_to_hand_it_on_can_always_be_done() -> None:
    found = ways(assessed(GONE_WHEEL, owner="[owner]\nsignificance = 2\n"))
    always = ("conserve", "hand_over", "pass_on", "salvage")
    assert [found[way].possible for way in always] == [1, 1, 1, 1]
    assert [found[way].advised for way in ("leave", "conserve")] == [1, 1]
