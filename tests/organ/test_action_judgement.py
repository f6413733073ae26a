"""What a finding in the action stops, what it asks for, in which order, and what that costs.

Rules of the trade without another source are common practice.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest

import assess
from assess.knowledge.criteria import Outcome
from assess.knowledge.model_base import Scope
from assess.planning.planner import Plan
from assess.testing import job_with

KNOWLEDGE = assess.knowledge_in_use()
ACTION = {k: c for k, c in KNOWLEDGE.criteria.items() if k.startswith("action.")}
Answers = Mapping[str, str | float | int]


def plan_of(
    answers: Answers, scope: Scope = "working", features: dict[str, bool | str] | None = None
) -> Plan:
    """The plan of one scope by all installed plugins."""
    return assess.assess(job_with(answers, features)).plans[scope]


def outcome(criterion: str, label: str) -> Outcome:
    """One outcome of the action, by its words."""
    return next(o for o in ACTION[f"action.{criterion}"].outcomes if o.label == label)


# What stops it from being played


def test_every_grave_finding_says_whether_it_can_be_played_all_the_same() -> None:
    grave = [o for c in ACTION.values() for o in c.outcomes if o.condition == 3]
    assert len(grave) > 40
    assert [o.label for o in grave if not (o.breaks or o.breaks_none)] == []


@pytest.mark.parametrize(
    ("criterion", "label", "requirement"),
    [
        ("touch_weight", "too heavy to play", "action.keys_return"),
        ("sticking_keys", "a few stick", "action.keys_return"),
        ("ciphering_notes", "one or two notes cipher", "action.notes_stop"),
        ("dead_keys", "a few silent keys", "reeds.notes_speak"),
        ("stop_pull", "seized", "action.stops_work"),
        ("mute_hardware", "hinge torn, or spring broken or off", "action.stops_work"),
    ],
)
def test_what_a_player_cannot_play_with_breaks_a_requirement(
    criterion: str, label: str, requirement: str
) -> None:
    assert requirement in outcome(criterion, label).breaks


@pytest.mark.parametrize(
    "answers",
    [
        {"action.coupler_bed": "wires or levers broken or missing"},
        {"action.tremulant_rate": 0},
        {"action.missing_stop_faces": 9},
        {"action.full_organ_lever": "disconnected or broken"},
    ],
)
def test_an_organ_plays_without_couplers_tremulant_labels_and_levers(answers: Answers) -> None:
    assert plan_of(answers).steps == ()
    assert plan_of(answers, "full").steps


def test_keys_too_heavy_to_play_are_looked_into_before_springs_are_renewed() -> None:
    working = plan_of({"action.touch_weight": "190 g"})
    assert working.step("action.find_heavy_touch")
    assert working.step("action.renew_pallet_springs") is None
    full = plan_of({"action.touch_weight": "190 g"}, "full")
    assert before(full, "action.find_heavy_touch", "action.renew_pallet_springs")


def before(plan: Plan, first: str, second: str) -> bool:
    """Whether both steps are in the plan, in this order."""
    numbers = {s.step: s.number for s in plan.steps}
    return numbers[first] < numbers[second]


@pytest.mark.parametrize("hold", ["keys_level", "stops_clear", "pallets_seat"])
def test_a_test_of_playing_order_accepts_what_playing_order_leaves(hold: str) -> None:
    mark = KNOWLEDGE.hold_points[f"action.{hold}"].passes
    assert mark is not None
    assert mark.at_most_class_to_work is not None
    for found in KNOWLEDGE.criteria[mark.criterion].outcomes:
        assert (found.condition <= mark.at_most_class_to_work) == (not found.breaks)
