"""Builds of the action: units, manuals, no stop knobs, other tremulants, rarer stops and answers.

Rules of the trade without another source are common practice.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest
from assess_action.keysurvey import KeyRow, keys_to_rebush
from conftest import job_of
from seen import Answers, Features, in_order, judged, plan_of

import assess
from assess.base.errors import JobFileError
from assess.grading.judgements import State
from assess.knowledge.model_base import Scope
from assess.planning.plan import Plan
from assess.testing import job_with

KNOWLEDGE = assess.knowledge_in_use()
ACTION = {k: c for k, c in KNOWLEDGE.criteria.items() if k.startswith("action.")}


def steps(plan: Plan) -> set[str]:
    """The steps of a plan."""
    return {step.step for step in plan.steps}


def full(answers: Answers, features: Features | None = None, **facts: int) -> Plan:
    """The plan of a full repair."""
    return assess.assess(job_with(answers, features, facts)).plans["full"]


def hours(plan: Plan, step: str) -> tuple[float, ...]:
    """Low, likely and high hours of one step."""
    found = plan.step(step)
    assert found, step
    return tuple(found.hours)


def job(text: str, folder: Path = Path(".")) -> assess.Assessment:
    """A job file from its text, assessed."""
    return assess.assess(job_of(f"format = 1\n{text}", folder / "job.toml"))


# Units: pallets, mutes and shutters follow each; the rest is there once

UNITS = """
[[instrument.unit]]
id = "upper"
title = "upper unit"
[[instrument.unit]]
id = "pedal"
title = "pedal chest"
stands = "apart"
"""
EACH = ("pallet_facing", "mute_leather", "swell_hinges", "dead_keys", "pallet_seats")
ONCE = ("failing_stops", "coupler_failures", "sticking_keys", "pedal_action", "tremulant_rate")


@pytest.mark.parametrize("criterion", EACH)
def test_each_unit_has_pallets_mutes_and_shutters_of_its_own(criterion: str) -> None:
    known = job(UNITS).graded.judgements
    assert {f"action.{criterion}{unit}" for unit in ("", "-upper", "-pedal")} <= set(known)


@pytest.mark.parametrize("criterion", ONCE)
def test_keys_stops_couplers_and_linkages_are_there_once(criterion: str) -> None:
    asked = [c for c in job(UNITS).graded.judgements if c.startswith(f"action.{criterion}")]
    assert asked == [f"action.{criterion}"]


def test_all_units_are_tried_regulated_and_set_in_one_go() -> None:
    hard = "hard or deeply grooved"
    plan = job(
        UNITS + f'[answers.action]\npallet_facing = "{hard}"\npallet_facing-upper = "{hard}"\n'
        'mute_leather = "hard or grooved"\nmute_leather-upper = "hard or grooved"\n'
    ).plans["full"]
    once = ("level_keys", "set_key_dip", "regulate_stops", "final_regulation", "stops_clear")
    for step in once:
        assert [s for s in steps(plan) if s.startswith(f"action.{step}")] == [f"action.{step}"]
    for step in ("reface_pallets", "releather_mutes", "pallets_seat"):
        assert {f"action.{step}", f"action.{step}-upper"} <= steps(plan)
        assert f"action.{step}-pedal" not in steps(plan)
    assert in_order(plan, "close action.upper_action-upper", "action.set_key_dip")


def test_each_unit_counts_its_own_pallets_and_mutes() -> None:
    plan = job(
        UNITS + "[instrument.facts]\nkeys-pedal = 30\nmutes-pedal = 2\n[answers.action]\n"
        'pallet_facing = "hard or deeply grooved"\npallet_facing-pedal = "hard or deeply grooved"\n'
        'mute_leather = "hard or grooved"\nmute_leather-pedal = "hard or grooved"\n'
    ).plans["full"]
    for step, share in (("reface_pallets", 30 / 61), ("releather_mutes", 2 / 4)):
        own, first = hours(plan, f"action.{step}-pedal"), hours(plan, f"action.{step}")
        assert own == pytest.approx([share * h for h in first])


def test_the_linkage_of_the_pedals_is_mended_without_their_chest() -> None:
    plan = full({"action.pedal_action": "lost motion"}, {"pedalboard": True})
    assert "open casework.lower_front" in steps(plan)
    assert not [
        s for s in steps(plan) if s.startswith(("open action.upper", "open action.pallets"))
    ]


# No stop knobs, and few; folding instruments

BARE: Features = {
    "stop_knobs": False,
    "couplers": False,
    "knee_levers": False,
    "swell": False,
    "tremulant": False,
}
ABSENT = re.compile(
    r"\b(stop (knob|rod|board|face|action)s?|knobs?|the stops|each stop|all stops|every stop"
    r"|couplers?|knee levers?|shutters?|swell|tremulant)\b",
    re.IGNORECASE,
)
WHOLE: Answers = {
    "action.frame_felts": "eaten or missing",
    "action.pallet_facing": "eaten or falling off",
    "action.pallet_springs": "rusted or uneven",
    "action.sticker_felts": "hard, loose or eaten",
    "action.loose_keys": 40,
    "action.ciphering_notes": 4,
    "action.dead_keys": 3,
    "action.touch_weight": "190 g",
    "action.key_level": "2 mm",
    "action.broken_keys": 2,
}


def words_of(plan: Plan) -> Iterator[tuple[str, str]]:
    """Every text of the action that a plan shows, with its step."""
    for step in plan.steps:
        name = step.step.split()[-1]
        if not name.startswith("action."):
            continue
        row = KNOWLEDGE.work(name) or KNOWLEDGE.places[name]
        for field in ("title", "how", "avoid", "test", "if_fails", "open", "close", "reason"):
            yield step.step, str(getattr(row, field, ""))


@pytest.mark.parametrize("scope", ["working", "full"])
def test_a_plan_names_nothing_that_the_job_says_is_absent(scope: Scope) -> None:
    plan = plan_of(WHOLE, scope, BARE)
    named = [(step, text) for step, text in words_of(plan) if ABSENT.search(text)]
    assert len(plan.steps) > 20
    assert named == []


def test_nobody_is_asked_about_what_is_absent() -> None:
    known = judged({}, BARE).graded.judgements
    asked = [c for c in ACTION if known[c].state is not State.NOT_PRESENT]
    named = [(c, ACTION[c].asks) for c in asked if ABSENT.search(ACTION[c].asks)]
    said = [(c, ACTION[c].how) for c in asked if ABSENT.search(ACTION[c].how)]
    assert named == []
    assert said == []


def test_without_stops_the_keys_still_come_out_and_nothing_waits_for_a_stop_board() -> None:
    plan = plan_of({"action.frame_felts": "eaten or missing"}, "full", BARE)
    assert in_order(plan, "open action.key_slip", "open action.keyboard", "close action.keyboard")
    assert "open action.stop_board" not in steps(plan)


def test_no_stops_are_a_count_that_asks_to_be_said_as_a_build() -> None:
    stated = job(
        "[instrument.facts]\nstops = 0\nmutes = 0\n[instrument.features]\nstop_knobs = false\n"
    )
    assert stated.configuration.facts["stops"] == 0
    with pytest.raises(JobFileError, match="stop_knobs = false"):
        job("[instrument.facts]\nstops = 0\n")


def test_two_stops_take_a_fifth_of_the_hours_of_ten() -> None:
    stiff: Answers = {"action.stop_pull": "stiff throughout", "action.stop_hold": "most slip back"}
    two, ten = full(stiff, stops=2), full(stiff, stops=10)
    for step in ("free_stop_action", "renew_stop_friction", "regulate_stops"):
        scaled = [h / 5 for h in hours(ten, f"action.{step}")]
        assert hours(two, f"action.{step}") == pytest.approx(scaled)
    assert not judged({}, None).configuration.questions


# The stop list

LIST = """unit,name,side,feet,divide,works,note
,Diapason,bass,8,C4,yes,
,Diapason,treble,8,C4,no,rod off
,Celeste,treble,8,,Partly,
,Vox,both,,,dummy,
,Forte,both,,,,
"""


def test_failing_stops_are_counted_from_the_stop_list(tmp_path: Path) -> None:
    (tmp_path / "stops.csv").write_text(LIST)
    result = job('[surveys]\n"action.stops" = "stops.csv"\n', tmp_path)
    found = result.measured.values["action.failing_stops"]
    assert found.value == 2
    assert found.says == "Diapason (treble), Celeste (treble). Not tried: Forte."
    assert result.graded.judgements["action.failing_stops"].best.condition == 1


@pytest.mark.parametrize("wrong", ["left,,yes", "bass,H9,yes", "bass,,perhaps"])
def test_an_impossible_line_of_the_stop_list_is_named(wrong: str, tmp_path: Path) -> None:
    side, divide, works = wrong.split(",")
    text = f"name,side,divide,works\nDiapason,{side},{divide},{works}\n"
    (tmp_path / "stops.csv").write_text(text)
    with pytest.raises(JobFileError, match=r"stops\.csv.*2"):
        job('[surveys]\n"action.stops" = "stops.csv"\n', tmp_path)


# Tremulants, transposing keyboards, percussion, prolongement


def test_a_tremulant_of_another_kind_has_no_fan_to_mend() -> None:
    dead: Answers = {"action.tremulant_rate": 0}
    beater = full(dead, {"tremulant_kind": "beater_tremulant"})
    assert "action.repair_beater" in steps(beater)
    assert "action.repair_tremulant" not in steps(beater)
    assert "action.repair_tremulant" in steps(full(dead))
    assert "action.repair_beater" not in steps(full(dead))
    assert in_order(beater, "action.repair_beater", "action.tremulant_runs")


@pytest.mark.parametrize(
    ("feature", "criterion", "answer", "step"),
    [
        ("transposing", "transposer", "stiff", "free_transposer"),
        ("percussion", "percussion_action", "parts missing", "repair_percussion"),
        ("prolongement", "prolongement_action", "parts", "repair_prolongement"),
    ],
)
def test_rarer_builds_are_asked_about_only_where_they_are(
    feature: str, criterion: str, answer: str, step: str
) -> None:
    found = next(o.label for o in ACTION[f"action.{criterion}"].outcomes if answer in o.label)
    assert f"action.{step}" in steps(full({f"action.{criterion}": found}, {feature: True}))
    known = judged({}).graded.judgements[f"action.{criterion}"]
    assert known.state is State.NOT_PRESENT


# Liquids, seats, couplers, names


def test_keys_that_a_liquid_stuck_are_washed_free_and_not_eased() -> None:
    for count, scope in product((3, 9), ("working", "full")):
        plan = plan_of(
            {
                "action.sticking_keys": count,
                "action.key_liquid": "a drink, varnish or another liquid that sticks",
            },
            scope,
        )
        assert "action.free_after_liquid" in steps(plan)
        assert not {"action.free_single_keys", "action.ease_keys"} & steps(plan)


def test_stuck_pallets_come_free_before_anything_is_faced() -> None:
    plan = full(
        {
            "action.pallet_seats": "pallets stuck to them (drink, varnish, old finish)",
            "action.pallet_facing": "hard or deeply grooved",
        }
    )
    order = ("open action.pallets", "action.free_stuck_pallets", "action.clean_pallets")
    assert in_order(plan, *order, "action.reface_pallets", "action.pallets_seat")


def test_untrue_seats_are_flat_before_leather_meets_them() -> None:
    untrue = "untrue: dented, cupped or rough"
    plan = full({"action.pallet_seats": untrue, "action.worn_facings": 4})
    flat = "action.flatten_pallet_seats"
    assert in_order(plan, flat, "action.face_single_pallets")
    assert in_order(plan, flat, "action.pallets_seat", "close action.pallets")


def test_a_split_board_of_seats_is_replaced_without_a_new_upper_action() -> None:
    plan = full({"action.pallet_seats": "the board of the seats split, delaminated or eaten"})
    assert in_order(plan, "action.replace_pallet_board", "action.pallets_seat")
    assert not {"action.make_new_upper_action", "action.flatten_pallet_seats"} & steps(plan)


def test_damp_pallets_are_faced_after_the_wood_has_settled() -> None:
    plan = full({"action.pallet_facing": "eaten or falling off", "casework.wood_moisture": "15 %"})
    assert in_order(plan, "casework.settle_moisture", "action.reface_pallets")


def test_an_altered_coupler_goes_back_only_when_the_owner_asks() -> None:
    kept = full({"action.coupler_alteration": "altered, stays as it is"})
    asked = full({"action.coupler_alteration": "altered, the owner asks for it as it was built"})
    assert kept.steps == ()
    assert in_order(asked, "action.reverse_coupler", "action.regulate_couplers")
    assert in_order(asked, "casework.record_state", "action.reverse_coupler")


def test_names_are_researched_before_anything_is_lettered_or_glued() -> None:
    plan = full(
        {
            "action.stop_names": "some from another instrument, or wrong for what the stop does",
            "action.missing_stop_faces": 2,
        }
    )
    first = ("action.match_stop_faces", "action.research_stop_names")
    for face in ("action.refix_stop_faces", "action.replace_stop_faces"):
        assert in_order(plan, *first, face)


# Small jobs stay small


@pytest.mark.parametrize(
    "answers",
    [
        {"action.broken_keys": 1},
        {"action.missing_keys": 2},
        {"action.chipped_coverings": 2},
        {"action.warped_keys": 2},
        {"action.missing_stickers": 1},
        {"action.loose_keys": 5},
    ],
)
def test_after_a_few_keys_the_regulation_takes_an_hour(answers: Answers) -> None:
    plan = full(answers)
    assert "action.final_regulation" not in steps(plan)
    assert "action.level_keys" not in steps(plan)
    assert hours(plan, "action.check_regulation") == (0.5, 1.0, 1.5)


def test_after_the_whole_keyboard_everything_is_regulated_once() -> None:
    plan = full({"action.frame_felts": "eaten or missing", "action.broken_keys": 2})
    assert "action.final_regulation" in steps(plan)
    assert not {"action.check_regulation", "action.try_action"} & steps(plan)


# Hours by what is there


def test_pallets_of_two_manuals_in_one_unit_count_twice() -> None:
    hard: Answers = {"action.pallet_facing": "hard or deeply grooved"}
    one, two = full(hard), full(hard, None, pallet_rows=2)
    for step in ("clean_pallets", "clean_guide_pins", "reface_pallets"):
        doubled = [2 * h for h in hours(one, f"action.{step}")]
        assert hours(two, f"action.{step}") == pytest.approx(doubled)


def test_the_second_manual_takes_hours_by_its_keys() -> None:
    hard: Answers = {"action.second_manual_felts": "hard"}
    small, large = (full(hard, {"second_manual": True}, keys=keys) for keys in (49, 61))
    for step in ("overhaul_second_manual", "set_second_manual"):
        scaled = [h * 49 / 61 for h in hours(large, f"action.{step}")]
        assert hours(small, f"action.{step}") == pytest.approx(scaled)
    assert hours(large, "action.overhaul_second_manual") == pytest.approx((7, 14, 25), rel=0.02)


# One question opens the next


@pytest.mark.parametrize(
    ("first", "sound", "follow"),
    [
        ("keyboard_whole", "complete and firm", ("missing_keys", "broken_keys")),
        ("key_tops", "whole and firm", ("chipped_coverings", "broken_sharps")),
        ("loose_keys", 0, ("side_play",)),
        ("sticking_keys", 0, ("sticking_weather", "key_liquid", "warped_keys")),
        ("stop_row", "complete, firm, each name right", ("missing_stop_faces", "stop_names")),
        ("ciphering_notes", 0, ("cipher_pattern", "cipher_stops_when")),
        ("whispering_mutes", 0, ("mute_leather", "warped_mutes")),
        ("tremulant_rate", 5, ("tremulant_start",)),
    ],
)
def test_a_sound_answer_spares_the_details_and_a_detail_given_counts(
    first: str, sound: str | int, follow: tuple[str, ...]
) -> None:
    known = judged({f"action.{first}": sound}).graded.judgements
    assert follow
    for detail in follow:
        assert known[f"action.{detail}"].best.condition == 0
        assert known[f"action.{detail}"].is_seen
        worst = ACTION[f"action.{detail}"].outcomes[-1]
        given = worst.answer if worst.answer else float(worst.from_ or 0)
        if ACTION[f"action.{detail}"].share_of:
            given = 40
        result = judged({f"action.{first}": sound, f"action.{detail}": given})
        assert result.graded.judgements[f"action.{detail}"].best.condition > 0


def test_the_visit_asks_about_the_action_no_more_than_thirty_times() -> None:
    """What no complaint and no finding opens, on a usual instrument, at a visit."""
    known = judged({}).graded.judgements

    def at_visit(place: str | None) -> bool:
        while place and place != "casework.high_top":
            if not KNOWLEDGE.places[place].at_visit:
                return False
            place = KNOWLEDGE.places[place].inside
        return True

    asked = [
        c
        for c, criterion in ACTION.items()
        if known[c].state is State.NO_ANSWER
        and not criterion.opened_by
        and at_visit(criterion.place)
    ]
    assert len(asked) <= 30


@pytest.mark.parametrize("hundredths", range(5, 60, 5))
def test_side_play_by_hand_and_by_survey_say_the_same(hundredths: int) -> None:
    criterion = ACTION["action.side_play"]
    outcome = criterion.outcome_for(hundredths / 100)
    assert outcome is not None
    loose = outcome.condition > 0 and hundredths > 10
    row = KeyRow("C4", side_play_mm=hundredths / 100)
    assert bool(keys_to_rebush([row])) is loose


def test_what_makes_keys_heavy_agrees_with_statics() -> None:
    """Suction pulls a pallet open, so it never makes the keys of a suction organ heavy."""
    causes = {c.criterion for c in KNOWLEDGE.symptoms["action.keys_heavy"].causes}
    assert not {"pneumatics.suction_half", "pneumatics.spill_valve"} & causes
    for outcome in ACTION["action.touch_weight"].outcomes:
        assert "holds the pallets shut" not in outcome.means
        if outcome.condition >= 2 and "heavy" in outcome.says:
            assert "pneumatics.spill_valve" not in {h.criterion for h in outcome.hints}


def test_what_is_sold_whole_is_bought_without_waste() -> None:
    whole = [m for k, m in KNOWLEDGE.materials.items() if k.startswith("action.") and m.whole]
    assert len(whole) > 10
    assert [m.id for m in whole if m.waste] == []


def test_a_knee_lever_is_asked_by_what_it_does() -> None:
    for criterion in ("full_organ_lever", "swell_lever"):
        assert ACTION[f"action.{criterion}"].asks.startswith("Knee lever for")
        assert "what each knee lever does" in ACTION[f"action.{criterion}"].how
