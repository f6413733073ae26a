"""Kinds of case, water, warp, wiring and identity: what they ask, and what they put into a plan.

Orders and conditions are common practice of the trade, unless a source is named.
"""

from __future__ import annotations

import pytest
from seen import Answers, chance_of_class, judged, numbers, outcome

import assess
from assess.assessment import Assessment
from assess.output.plans import plan_text
from assess.testing import assert_in_order, job_with

KNOWLEDGE = assess.knowledge_in_use()
PROPPED = "casework.support_base"


def with_case(answers: Answers, **features: bool | str) -> Assessment:
    return assess.assess(job_with(answers, features))


def is_open(criterion: str, answers: Answers) -> bool:
    """Whether a question is still asked, given these answers."""
    found = judged(answers).graded.judgements[criterion]
    return found.is_unseen


# Questions that open others


@pytest.mark.parametrize(
    ("first", "good", "bad", "details"),
    [
        (
            "casework.live_woodworm",
            "no holes",
            "fresh pale dust",
            ["casework.exit_holes", "casework.wormed_wood", "casework.beetle_season"],
        ),
        (
            "casework.water_damage",
            "none",
            "joints open, wood firm",
            ["casework.water_line", "casework.days_under_water", "casework.water_event"],
        ),
        ("casework.rodents", "none", "nest", ["casework.rodent_gap"]),
        ("casework.load_each", "18 kg", "45 kg", ["casework.stair_shape"]),
        ("casework.missing_fittings", 0, 4, ["casework.missing_moulding"]),
        ("casework.split_panels", 0, 6, ["casework.cracked_boards"]),
    ],
)
def test_details_are_asked_only_where_the_first_answer_shows_something(
    first: str, good: str | int, bad: str | int, details: list[str]
) -> None:
    assert details
    for detail in details:
        assert not is_open(detail, {first: good})
        assert is_open(detail, {first: bad})


def test_a_detail_that_is_answered_counts_whatever_the_first_question_says() -> None:
    """As in job files from before the questions were folded."""
    result = judged({"casework.live_woodworm": "no holes", "casework.exit_holes": 150})
    assert result.graded.judgements["casework.exit_holes"].outcome.condition == 3
    old = judged({"casework.days_under_water": "2 days"})
    assert "casework.dry_for_months" in numbers(old.plans["full"])


def test_a_clean_first_round_leaves_fewer_questions_of_the_case_than_there_are() -> None:
    first = {
        "casework.live_woodworm": "no holes",
        "casework.water_damage": "none",
        "casework.rodents": "none",
        "casework.load_each": "20 kg",
        "casework.missing_fittings": 0,
        "casework.split_panels": 0,
        "casework.finish": "sound",
        "casework.finish_coats": "one old finish everywhere",
    }
    graded = judged(first).graded
    left = {j.id for j in graded.unseen if j.id.startswith("casework.")}
    asked = {c for c in KNOWLEDGE.criteria if c.startswith("casework.")}
    assert len(asked) - len(left) >= len(first) + 12


# A case that folds


def test_a_folding_case_has_no_back_knee_panels_or_top_in_its_plan() -> None:
    result = with_case(
        {
            "casework.folding_frame": "it can fold up by itself",
            "casework.loose_joints": 2,
            "pneumatics.straps": "broken or off",
            "pneumatics.exhauster_cloth": "cracked at the folds",
        },
        case_build="folding",
    )
    plan = result.plans["full"]
    assert "casework.mend_folding_frame" in numbers(plan)
    assert "pneumatics.recover_exhausters" in numbers(plan)
    text = " ".join(plan_text(result, plan, how=True).split()).casefold()
    for absent in ("back panel", "knee panels", "high top"):
        assert absent not in text, absent


def test_a_folding_case_is_not_asked_for_what_it_does_not_have() -> None:
    asked = {j.id for j in with_case({}, case_build="folding").graded.unseen}
    usual = {j.id for j in with_case({}).graded.unseen}
    for criterion in ("back_panel_state", "casters_failed", "fretwork", "bottom_board"):
        assert f"casework.{criterion}" in usual - asked
    assert "casework.folding_frame" in asked - usual


def test_a_job_that_does_not_state_the_build_is_a_cabinet() -> None:
    stated, unstated = with_case({}, case_build="cabinet"), with_case({})
    assert stated.graded.judgements.keys() == unstated.graded.judgements.keys()
    assert stated.verdict.probability == unstated.verdict.probability


# Water


def test_water_that_has_not_stopped_is_stopped_in_every_scope() -> None:
    result = judged(
        {
            "casework.water_damage": "rings and drips on top",
            "casework.water_event": "from above, and it has not stopped",
        }
    )
    for scope in ("stabilise", "full"):
        assert "casework.cure_damp_cause" in numbers(result.plans[scope])
        assert "casework.settle_moisture" in numbers(result.plans[scope])


def test_a_drink_calls_for_no_drying_but_makes_stuck_reeds_likelier() -> None:
    wet: Answers = {"casework.water_damage": "rings and drips on top"}
    drink = judged({**wet, "casework.water_event": "a drink or a flower pot, wiped up"})
    dry = judged({**wet, "casework.water_event": "years ago, and dry since"})
    assert "casework.settle_moisture" not in numbers(drink.plans["full"])
    stuck = [chance_of_class(r, "reeds.frozen_reeds", 2) for r in (drink, dry)]
    assert stuck[0] > stuck[1]


def test_days_under_water_dry_for_months_and_not_for_weeks() -> None:
    found = judged({"casework.days_under_water": "1.5 days"})
    plan = found.plans["full"]
    step = plan.step("casework.dry_for_months")
    assert step is not None
    assert step.waits_hours >= 60 * 24
    assert "casework.settle_moisture" not in numbers(plan)
    assert_in_order(found, "casework.dry_for_months", "casework.dry_and_clean")


def test_fire_water_warns_of_soot() -> None:
    found = outcome("casework.water_event", "water from fighting a fire")
    assert "casework.fire_soot" in found.cautions


# Props, warp, cracks, mouldings


@pytest.mark.parametrize(
    ("criterion", "answer", "repair"),
    [
        ("casework.legs", "a piece broken off one, and it stands", "casework.build_up_leg"),
        ("casework.legs", "cracked or split", "casework.mend_legs"),
        ("casework.loose_joints", 14, "casework.reglue_case_joints"),
        ("casework.case_altered", "parts sawn off or cut down", "casework.remake_cut_parts"),
        ("casework.bottom_board", "soft, worm-eaten or missing", "casework.renew_bottom_board"),
    ],
)
def test_no_support_is_taken_from_a_case_that_is_not_propped(
    criterion: str, answer: str | int, repair: str
) -> None:
    assert_in_order(judged({criterion: answer}), PROPPED, repair)


def test_long_cracks_are_cut_after_those_that_close_and_before_the_finish() -> None:
    result = judged(
        {
            "casework.split_panels": 6,
            "casework.cracked_boards": 2,
            "casework.finish": "crazed, worn through or with rings",
        }
    )
    assert_in_order(
        result, "casework.mend_splits", "casework.let_in_wood", "casework.revive_finish"
    )


def test_warped_panels_are_undone_one_by_one_and_before_they_are_glued() -> None:
    result = judged({"casework.warped_panels": 3, "casework.split_panels": 2})
    step = result.plans["full"].step("casework.undo_warp")
    assert step is not None
    assert step.times.count == 3
    assert_in_order(result, "casework.undo_warp", "casework.mend_splits")


def test_mouldings_are_made_by_their_length() -> None:
    def likely(length: str) -> float:
        answers: Answers = {"casework.missing_fittings": 1, "casework.missing_moulding": length}
        step = judged(answers).plans["full"].step("casework.make_mouldings")
        assert step is not None
        return step.hours[1]

    assert likely("3 m") == pytest.approx(3 * likely("1 m"))


def test_stains_are_treated_on_clean_wood_and_before_the_finish() -> None:
    result = judged({"casework.finish": "stained dark by water, ink or iron"})
    assert_in_order(
        result, "casework.clean_case", "casework.treat_stains", "casework.revive_finish"
    )


# Wires


def test_old_wires_are_made_safe_before_it_is_moved_or_a_hole_is_patched() -> None:
    result = judged(
        {
            "casework.mains_near": "old lamps or wires in or on it, not in use",
            "casework.case_altered": "holes bored for wires, lamps or a blower",
        }
    )
    assert_in_order(result, "casework.make_wiring_safe", "casework.bring_to_workshop")
    assert_in_order(result, "casework.make_wiring_safe", "casework.patch_case_holes")
    for scope in ("stabilise", "working", "full"):
        assert "casework.make_wiring_safe" in numbers(result.plans[scope])


def test_wires_are_left_to_a_licensed_electrician() -> None:
    caution = KNOWLEDGE.cautions["casework.old_wiring"]
    assert "licensed electrician" in caution.defer_to
    assert caution.people


# Routine


def test_a_long_job_gets_a_long_proposal_in_place_of_the_short_one() -> None:
    long, short = judged({"casework.loose_joints": 14}), judged({"casework.split_panels": 2})
    assert "casework.write_long_proposal" in numbers(long.plans["full"])
    assert "casework.write_proposal" not in numbers(long.plans["full"])
    assert "casework.write_proposal" in numbers(short.plans["full"])
    assert_in_order(long, "casework.write_long_proposal", "casework.agree_scope")


def test_a_room_too_dry_in_winter_brings_a_second_look_after_the_first_one() -> None:
    result = with_case({"casework.winter_humidity": "15 %", "casework.loose_joints": 14})
    assert_in_order(result, "casework.follow_up_visit", "casework.second_look")


def test_sets_for_the_whole_job_are_bought_once() -> None:
    result = judged(
        {
            "casework.veneer_missing": 12,
            "casework.finish": "flaking off or gone over large areas",
            "casework.fretwork": "pieces missing",
        }
    )
    bought = {m.material: m.quantity for m in result.plans["full"].materials}
    assert bought["casework.pigment"] == 1


def test_the_room_in_words_does_not_count_beside_a_reading_as_bad() -> None:
    words: Answers = {"casework.room_feels": "very damp"}
    assert judged(words).graded.judgements["casework.room_feels"].counts
    both = judged({**words, "casework.room_humidity": "85 %"})
    assert not both.graded.judgements["casework.room_feels"].counts
