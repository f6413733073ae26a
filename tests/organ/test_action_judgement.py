"""What a finding in the action stops, what it asks for, in which order, and what that costs.

Rules of the trade without another source are common practice.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from seen import Answers, in_order, outcome, plan_of, strengths

import assess
from assess.knowledge.model_base import Scope
from assess.planning.plan import Plan
from assess.testing import job_with

KNOWLEDGE = assess.knowledge_in_use()
ACTION = {k: c for k, c in KNOWLEDGE.criteria.items() if k.startswith("action.")}


# What stops it from being played


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
    assert requirement in outcome(f"action.{criterion}", label).breaks


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
    heavy = plan_of({"action.touch_weight": "150 g"}, "full")
    assert heavy.step("action.find_heavy_touch")
    assert heavy.step("action.renew_pallet_springs") is None
    full = plan_of({"action.touch_weight": "190 g"}, "full")
    assert in_order(full, "action.find_heavy_touch", "action.renew_pallet_springs")


# What an owner complains of

SYMPTOMS = {k: s for k, s in KNOWLEDGE.symptoms.items() if k.startswith("action.")}


def test_no_complaint_about_the_action_is_left_out() -> None:
    assert {k.removeprefix("action.") for k in SYMPTOMS} == {
        "note_sounds_by_itself",
        "neighbours_sound",
        "keys_stick",
        "keys_stick_in_damp",
        "keys_heavy",
        "note_dead_in_all_ranks",
        "stop_without_effect",
        "coupler_sounds_notes",
        "tremulant_or_swell_dead",
        "rattle_in_keys",
    }


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_what_opens_nothing_is_looked_at_first(symptom: str) -> None:
    opened = [KNOWLEDGE.criteria[t].place is not None for t in SYMPTOMS[symptom].tests]
    assert opened == sorted(opened)


def causes_of(symptom: str) -> dict[str, float]:
    """The largest strength of each cause."""
    return strengths(SYMPTOMS[f"action.{symptom}"])


def test_notes_side_by_side_point_to_pan_and_chest_and_a_single_one_does_not() -> None:
    """The trade's fault list: a crack across several pallet seats makes neighbours sound."""
    side_by_side, single = causes_of("neighbours_sound"), causes_of("note_sounds_by_itself")
    assert max(side_by_side, key=side_by_side.__getitem__) == "reeds.pan_cracks"
    assert "pneumatics.chest_seams" in side_by_side
    assert not {"reeds.pan_cracks", "pneumatics.chest_seams"} & set(single)


def test_damp_explains_keys_that_stick_only_in_damp_better_than_rust_does() -> None:
    causes = causes_of("keys_stick_in_damp")
    assert causes["casework.room_humidity"] > causes["action.key_pins"]


# What a finding makes likely


@pytest.mark.parametrize(
    ("seen", "hidden"),
    [
        ({"action.felt_insects": "old damage, nothing alive"}, "action.frame_felts"),
        ({"action.foreign_matter": "nest or droppings"}, "reeds.sample_corrosion"),
        ({"action.key_dip": "6 mm"}, "action.coupler_failures"),
        ({"action.ciphering_notes": 2}, "action.guide_pins"),
        ({"action.sticking_keys": 20}, "reeds.choked_reeds"),
        ({"action.lost_motion": "0 mm"}, "action.ciphering_notes"),
    ],
)
def test_a_cause_makes_its_consequences_likely(seen: Answers, hidden: str) -> None:
    assert odds_of_work(seen, hidden) > 1.3 * odds_of_work({}, hidden)


def odds_of_work(seen: Answers, hidden: str) -> float:
    """The odds that something unseen asks for work, by the list of hidden faults."""
    lines = assess.assess(job_with(seen)).hidden("full")
    chance = sum(line.chance for line in lines if line.criterion == hidden)
    return chance / (1 - chance)


# Dry first, and tuning last

EASING = ["action.ease_keys", "action.ease_sticker_holes", "action.free_single_keys"]
DAMP = {"casework.wood_moisture": "14 %"}


@pytest.mark.parametrize("keys", [3, 8, 20])
def test_damp_keys_and_stickers_are_dried_and_counted_again_before_any_is_eased(keys: int) -> None:
    stuck: Answers = {"action.sticking_keys": keys, "action.stuck_stickers": keys}
    plan = plan_of({**stuck, **DAMP}, "full")
    eased = [step for step in EASING if plan.step(step)]
    assert len(eased) == 2
    for step in eased:
        assert in_order(plan, "casework.settle_moisture", "action.wood_dry_enough")
        assert in_order(plan, "action.wood_dry_enough", step)


@pytest.mark.parametrize("scope", ["working", "full"])
def test_keys_that_stick_only_in_damp_air_are_dried_and_not_eased(scope: Scope) -> None:
    stuck: Answers = {"action.sticking_keys": 9}
    assert plan_of(stuck, scope).step("action.ease_keys")
    plan = plan_of({**stuck, "action.sticking_weather": "only in damp weather"}, scope)
    assert plan.step("action.ease_keys") is None
    assert in_order(plan, "action.dry_keys_first", "action.wood_dry_enough")
    hold = KNOWLEDGE.hold_points["action.wood_dry_enough"]
    assert "still sticks" in hold.how
    assert "ease only what still sticks" in hold.if_fails


def test_the_meter_cannot_bring_back_the_easing_of_keys_that_stick_only_in_damp_air() -> None:
    answers: Answers = {
        "action.sticking_keys": 9,
        "action.stuck_stickers": 3,
        "action.sticking_weather": "only in damp weather",
        "casework.wood_moisture": "13.5 %",
    }
    for scope in ("working", "full"):
        assert [step for step in EASING if plan_of(answers, scope).step(step)] == []


@pytest.mark.parametrize("easing", ["ease_keys", "ease_sticker_holes", "ease_second_manual"])
def test_nothing_is_eased_before_the_meter_has_been_read(easing: str) -> None:
    answers: Answers = {
        "action.sticking_keys": 8,
        "action.stuck_stickers": 3,
        "action.second_manual_sticking": 3,
    }
    for scope in ("working", "full"):
        plan = plan_of(answers, scope, {"second_manual": True})
        assert in_order(plan, "action.wood_dry_enough", f"action.{easing}")
    mark = KNOWLEDGE.hold_points["action.wood_dry_enough"].passes
    assert mark is not None
    damp = KNOWLEDGE.criteria[mark.criterion].outcome_for(14)
    assert damp is not None
    assert damp.condition > mark.at_most_class


@pytest.mark.parametrize(
    "answers",
    [
        {"action.warped_keys": 8},
        {"action.warped_mutes": 2},
        {"action.loose_keys": 40},
        {"action.coupler_draw": "stiff, worse when damp"},
    ],
)
def test_what_is_shaped_or_bushed_waits_until_damp_wood_is_dry(answers: Answers) -> None:
    plan = plan_of({**answers, **DAMP}, "full")
    for step in KNOWLEDGE.criteria[next(iter(answers))].outcomes[-1].calls_for:
        if plan.step(step):
            assert in_order(plan, "action.wood_dry_enough", step)
    assert plan.step("action.wood_dry_enough")


def test_names_are_matched_before_a_stop_is_disconnected_and_fixed_when_all_are_back() -> None:
    plan = plan_of(
        {
            "action.loose_stop_faces": 4,
            "action.missing_stop_faces": 2,
            "action.stop_pull": "stiff throughout",
        },
        "full",
    )
    for face in ("action.refix_stop_faces", "action.replace_stop_faces"):
        assert in_order(plan, "action.match_stop_faces", "open action.stop_board")
        assert in_order(plan, "close action.stop_board", face)


@pytest.mark.parametrize("tuning", ["reeds.rough_tune", "reeds.touch_up_tuning"])
def test_both_manuals_and_the_pedals_are_set_before_a_file_touches_a_tongue(tuning: str) -> None:
    off: Answers = (
        {"reeds.off_pitch_reeds": 4}
        if tuning == "reeds.touch_up_tuning"
        else {"reeds.rank_spread": 30}
    )
    plan = plan_of(
        {
            "action.second_manual_felts": "hard",
            "action.failing_pedals": 6,
            "action.pedal_action": "some do not open, or stay on",
            **off,
        },
        "full",
        {"second_manual": True, "pedalboard": True},
    )
    assert plan.step(tuning)
    for setting in ("set_second_manual", "regulate_manual_coupler", "repair_pedal_action"):
        assert in_order(plan, f"action.{setting}", tuning)
    assert in_order(plan, "action.mend_pedals", "action.repair_pedal_action")


# The least that cures


def pert_mean(range_h: tuple[float, ...]) -> float:
    """Expected hours of one step, from its low, likely and high hours."""
    low, likely, high = range_h
    return (low + 4 * likely + high) / 6


def hours(plan: Plan) -> float:
    """The expected bench hours of a plan."""
    return plan.hours.mean


@pytest.mark.parametrize("scope", ["working", "full"])
@pytest.mark.parametrize(
    ("criterion", "each"),
    [("ciphering_notes", 0.6), ("worn_facings", 0.4), ("sticking_keys", 0.4)],
)
def test_one_more_never_costs_more_than_the_steps_that_it_adds(
    criterion: str, each: float, scope: Scope
) -> None:
    """Hours grow by the work on one more piece, or by steps that stand in the plan."""
    one = {f"action.{criterion}": 0}
    plans = [plan_of({**one, f"action.{criterion}": count}, scope) for count in range(1, 25)]
    leaps = 0
    for fewer, more in pairwise(plans):
        leaps += hours(more) - hours(fewer) > 2
        known = {s.step for s in fewer.steps}
        added = sum(pert_mean(s.hours) for s in more.steps if s.step not in known)
        assert hours(more) - hours(fewer) <= each + added
        assert hours(more) >= hours(fewer) - 0.01
    assert leaps <= 1


def test_a_handful_of_ciphers_is_cured_without_lifting_the_action() -> None:
    two, three, six = (plan_of({"action.ciphering_notes": n}) for n in (2, 3, 6))
    for plan in (two, three, six):
        assert plan.step("open action.upper_action") is None
    assert len(three.steps) <= len(two.steps) + 4
    assert hours(three) < hours(two) + 2
    assert hours(six) < hours(three) + 2.5


def test_ciphers_all_over_the_compass_are_a_matter_of_the_whole_row() -> None:
    many = plan_of({"action.ciphering_notes": 20})
    assert many.step("action.clean_pallets")
    assert many.step("action.dress_single_pallets") is None


def test_neighbours_that_sound_together_are_not_cured_one_by_one() -> None:
    plan = plan_of(
        {"action.ciphering_notes": 4, "action.cipher_pattern": "neighbouring notes together"}
    )
    assert plan.step("action.trace_adjacent_ciphers")
    assert plan.step("action.dress_single_pallets") is None
    assert plan.step("action.clear_ciphers") is None


def test_one_bad_facing_is_not_sixty_one() -> None:
    one, four = (plan_of({"action.worn_facings": n}, "full") for n in (1, 4))
    assert one.step("action.reface_pallets") is None
    assert one.step("action.level_keys") is None
    assert in_order(one, "action.face_single_pallets", "action.pallets_seat")
    assert hours(four) - hours(one) < 1.5
    all_of_them = plan_of({"action.worn_facings": 30}, "full")
    assert all_of_them.step("action.reface_pallets")
    assert all_of_them.step("action.face_single_pallets") is None


def test_a_set_that_is_hard_is_refaced_though_its_worst_were_counted() -> None:
    plan = plan_of(
        {"action.worn_facings": 5, "action.pallet_facing": "hard or deeply grooved"}, "full"
    )
    assert plan.step("action.reface_pallets")
    assert plan.replaced["action.face_single_pallets"] == "action.reface_pallets"


def test_two_whispering_stops_are_set_before_the_action_is_lifted() -> None:
    plan = plan_of({"action.whispering_mutes": 2}, "full")
    assert plan.step("action.regulate_stops")
    assert plan.step("open action.upper_action") is None
