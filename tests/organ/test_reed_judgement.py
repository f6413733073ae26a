"""What is done to reeds, when, and how little of it will do."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from assess_reeds.bench_sheets import FRAIL_ANSWERS
from assess_reeds.pitch import note_name
from conftest import job_of
from seen import FIXTURES, Answers, assessed, plan_of, strengths

import assess
from assess.assessment import Assessment
from assess.grading.judgements import State
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.model_base import Scope
from assess.planning.plan import Plan
from assess.testing import job_with

ON_TONGUES = {
    "reeds.set_tongues",
    "reeds.touch_up_tuning",
    "reeds.recheck_tuning",
    "reeds.tune_rank",
    "reeds.rough_tune",
    "reeds.change_pitch",
    "reeds.fine_tune",
    "reeds.tune_celeste",
}
"""Repairs that bend, file or tune a tongue."""

WIND_PROOFS = {"pneumatics.whole_instrument_tight", "pneumatics.pressure_whole_tight"}
WINDS = {"suction", "pressure"}
TUNING_THROUGH = {"reeds.rough_tune", "reeds.fine_tune", "reeds.change_pitch"}


def names(plan: Plan) -> set[str]:
    """The steps of a plan."""
    return {step.step for step in plan.steps}


def unproved(order: list[str]) -> list[str]:
    """Steps on tongues before which the wind was not proved."""
    proofs = [place for place, step in enumerate(order) if step in WIND_PROOFS]
    first = min(proofs, default=len(order))
    return [step for place, step in enumerate(order) if step in ON_TONGUES and place < first]


# Wind proved before a file touches a tongue (common practice, no source)


def test_every_repair_at_the_tuning_bench_is_known_to_touch_tongues() -> None:
    knowledge = assess.knowledge_in_use()
    tuning = {r.id for r in knowledge.repairs.values() if r.stage == "reeds.tuning"}
    assert tuning - {"reeds.settle"} <= ON_TONGUES


@pytest.mark.parametrize("stem", FIXTURES)
def test_no_plan_works_on_tongues_before_the_wind_is_proved(stem: str) -> None:
    pairs = assessed(stem).plans.items()
    assert pairs
    for scope, plan in pairs:
        assert unproved([s.step for s in plan.steps]) == [], scope


@pytest.mark.parametrize("stem", FIXTURES)
def test_no_calendar_works_on_tongues_before_the_wind_is_proved(stem: str) -> None:
    result = assessed(stem)
    assert result.plans
    for plan in result.plans.values():
        if plan.steps:
            booked = result.planner.calendar(plan, dt.date(2027, 1, 11)).bookings
            assert unproved([b.step for b in booked]) == []


@pytest.mark.parametrize("stem", FIXTURES)
def test_no_sum_buys_work_on_tongues_without_proved_wind(stem: str) -> None:
    budget = assessed(stem).budget(usable=False)
    assert budget.least
    for amount in (500.0, 1500.0, 4000.0):
        bought = budget.best(amount)
        if bought:
            assert unproved([s.step for s in bought.plan.steps]) == [], amount


def _single_findings() -> Iterator[tuple[Criterion, Outcome]]:
    for criterion in assess.knowledge_in_use().criteria.values():
        if criterion.id.startswith("reeds."):
            yield from ((criterion, outcome) for outcome in criterion.outcomes if outcome.calls_for)


@pytest.mark.parametrize(
    ("criterion", "outcome"),
    list(_single_findings()),
    ids=lambda thing: thing.id if isinstance(thing, Criterion) else thing.label,
)
def test_no_finding_alone_leads_to_tongues_without_proved_wind(
    criterion: Criterion, outcome: Outcome
) -> None:
    features: dict[str, bool | str] = dict.fromkeys(set(criterion.needs) - WINDS, True)
    features["wind"] = "pressure" if "pressure" in criterion.needs else "suction"
    given = outcome.answer if outcome.answer is not None else float(outcome.from_ or 0.0)
    if criterion.unit == "count" and isinstance(given, float):
        pieces = {("reeds",): 122, ("sub_bass_notes",): 13}.get(criterion.share_of, 1)
        given = math.ceil(given * pieces)
    plan = assess.assess(job_with({criterion.id: given}, features)).plans["full"]
    assert plan.steps
    assert unproved([s.step for s in plan.steps]) == []


@pytest.mark.parametrize("scope", ["working", "full"])
def test_a_note_that_sounds_by_itself_is_cured_before_a_tongue_is_touched(
    scope: Scope,
) -> None:
    plan = plan_of({"action.ciphering_notes": 2, "reeds.off_pitch_reeds": 70}, scope)
    order = [s.step for s in plan.steps]
    ciphers = order.index("action.clear_ciphers")
    assert all(order.index(step) > ciphers for step in ON_TONGUES & set(order))


# The least that cures (common practice, no source)


@pytest.mark.parametrize(
    "answers",
    [
        {"reeds.pan_finish": "worn or bare"},
        {"reeds.pan_cracks": 2},
        {"reeds.partitions": 3},
        {"reeds.reed_bed_felt": "hard or eaten in places"},
        {"reeds.sample_corrosion": "dull film, dust and lint"},
    ],
)
def test_reeds_in_tune_are_read_again_and_not_tuned_through(answers: Answers) -> None:
    in_tune: Answers = {"reeds.off_pitch_reeds": 0, "reeds.rank_spread": "4 cents"}
    plan = plan_of({**in_tune, **answers}, "full")
    assert plan.step("reeds.recheck_tuning")
    assert not TUNING_THROUGH & names(plan)


def test_reading_reeds_again_takes_less_than_a_third_of_tuning_them() -> None:
    bare = plan_of({"reeds.pan_finish": "worn or bare"}, "full")
    wide = plan_of({"reeds.pan_finish": "worn or bare", "reeds.rank_spread": "25 cents"}, "full")
    checked = bare.step("reeds.recheck_tuning")
    tuned = [step for step in wide.steps if step.step in TUNING_THROUGH]
    assert checked
    assert len(tuned) == 2
    assert checked.hours[1] * 3 < sum(step.hours[1] for step in tuned)
    assert wide.step("reeds.recheck_tuning") is None


def test_strays_of_a_close_rank_are_touched_up_and_a_scattered_rank_is_tuned_through() -> None:
    strays: Answers = {"reeds.off_pitch_reeds": 15, "reeds.rank_spread": "4 cents"}
    touched = plan_of(strays, "full").step("reeds.touch_up_tuning")
    assert touched
    assert touched.times.count == 15
    scattered = plan_of({**strays, "reeds.rank_spread": "15 cents"}, "full")
    assert TUNING_THROUGH & names(scattered)


def test_a_replaced_reed_is_tuned_to_its_rank_and_the_others_are_left() -> None:
    plan = plan_of({"reeds.missing_reeds": 2, "reeds.off_pitch_reeds": 0}, "working")
    touched = plan.step("reeds.touch_up_tuning")
    assert touched
    assert touched.times.count == 2
    assert not TUNING_THROUGH & names(plan)


def test_a_reed_is_cleaned_before_it_is_replaced_or_filed() -> None:
    plan = plan_of(
        {
            "reeds.sample_corrosion": "green in places",
            "reeds.pitted_reeds": 3,
            "reeds.off_pitch_reeds": 9,
        },
        "full",
    )
    order = [s.step for s in plan.steps]
    clean = order.index("reeds.clean_reeds")
    for later in ("reeds.replace_pitted_reeds", "reeds.touch_up_tuning"):
        assert clean < order.index(later)


def test_a_foreign_set_and_a_new_pitch_are_still_tuned_through() -> None:
    for answers, features in (
        ({"reeds.cracked_with_donor": 60}, {"donor_set": True}),
        ({"reeds.wished_pitch": "20 to 50 cents from its own"}, {}),
        ({"reeds.pan_whole": "pieces missing, or plywood coming apart"}, {}),
    ):
        assert TUNING_THROUGH & names(plan_of(answers, "full", features))


# What breaks the use of it (common practice, no source)


@pytest.mark.parametrize(
    ("answers", "mended"),
    [
        ({"reeds.pan_cracks": 1}, "reeds.repair_pan_cracks"),
        ({"reeds.dead_reeds": 1}, "reeds.clear_single_reeds"),
        ({"reeds.missing_reeds": 1}, "reeds.replace_reeds"),
    ],
)
def test_what_silences_a_note_or_loses_wind_is_mended_for_playing(
    answers: Answers, mended: str
) -> None:
    assert plan_of(answers, "working").step(mended)


def test_an_organ_that_is_only_out_of_tune_plays_as_it_is() -> None:
    assert (
        plan_of({"reeds.rank_spread": "25 cents", "reeds.off_pitch_reeds": 60}, "working").steps
        == ()
    )


def test_every_grave_finding_says_which_need_it_breaks_or_why_none() -> None:
    silent = [
        f"{c.id}: {o.label}"
        for c in assess.knowledge_in_use().criteria.values()
        for o in c.outcomes
        if c.id.startswith("reeds.") and o.condition == 3 and not (o.breaks or o.breaks_none)
    ]
    assert silent == []


# Dry first (common practice, no source)


@pytest.mark.parametrize(
    "drawn",
    [
        {"reeds.sample_corrosion": "green in places"},
        {"reeds.pan_cracks": 2},
        {"reeds.frozen_reeds": 2},
        {"reeds.dead_reeds": 2},
        {"reeds.choked_reeds": 3},
    ],
)
def test_no_reed_is_drawn_from_damp_wood(drawn: Answers) -> None:
    for damp, dried in (
        ({"casework.wood_moisture": "14 %"}, "casework.settle_moisture"),
        ({"casework.mould": "live spots"}, "casework.dry_and_clean"),
    ):
        order = [s.step for s in plan_of({**damp, **drawn}, "full").steps]
        drawing = {"open reeds.cells", "reeds.clear_single_reeds", "reeds.reseat_reeds"}
        assert drawing & set(order)
        assert all(order.index(dried) < order.index(step) for step in drawing & set(order))


def test_swollen_cells_are_dried_and_their_reeds_left_where_they_are() -> None:
    plan = plan_of({"reeds.choked_reeds": 30}, "full")
    assert plan.step("casework.settle_moisture")
    assert not {"open reeds.cells", "reeds.reseat_reeds"} & names(plan)


# What is noticed, and what it comes from (the trade's own ranking: common practice, no source)

FIRST_CAUSE = {
    "goes_flat": {"reeds.cracked_reeds", "reeds.cracked_with_donor"},
    "rank_off_pitch": {"reeds.mixed_sets"},
    "half_rank_whispers": {"action.mute_leather"},
    "choked_note": {"casework.wood_moisture"},
    "silent_note": {
        "reeds.splinter_under_tongue",
        "reeds.missing_reeds",
        "reeds.missing_with_donor",
    },
    "speaks_late_or_weak": {"pneumatics.suction_half", "pneumatics.pressure_half"},
}
"""What the trade names first where it is surely found: dirt or an empty cell, weak wind, ..."""

SYMPTOMS = {
    s.id.removeprefix("reeds."): s
    for s in assess.knowledge_in_use().symptoms.values()
    if s.id.startswith("reeds.")
}


@pytest.mark.parametrize("symptom", FIRST_CAUSE)
def test_the_cause_that_the_trade_names_first_produces_its_symptom_most_surely(
    symptom: str,
) -> None:
    found = strengths(SYMPTOMS[symptom])
    assert max(found[c] for c in FIRST_CAUSE[symptom]) == max(found.values())


# A survey counts (the arithmetic of medians and counts)

KEYS = range(29, 90)
"""Sixty-one keys, F1 to F6."""


def surveyed(folder: Path, ranks: dict[str, dict[int, str]], more: str = "") -> Assessment:
    """A two-rank job whose survey has, by rank and key, what stands after rank and length."""
    lines = ["note,rank,feet,speech,cents,remarks"]
    lines += [
        f"{note_name(key)},{rank},8,{said}"
        for rank, reeds in ranks.items()
        for key, said in reeds.items()
    ]
    (folder / "reeds.csv").write_text("\n".join(lines), encoding="utf-8")
    text = f'format = 1\n[surveys]\n"reeds.notes" = "reeds.csv"\n{more}'
    return assess.assess(job_of(text, folder / "job.toml"))


def in_tune(cents: float = 0.0, keys: range = KEYS) -> dict[int, str]:
    """A rank of which every reed speaks at the same pitch."""
    return dict.fromkeys(keys, f"speaks,{cents},sound")


@pytest.mark.parametrize("apart", [0.0, 8.0, 20.0, 45.0])
def test_a_rank_off_pitch_in_the_survey_answers_how_far_the_ranks_are_apart(
    tmp_path: Path, apart: float
) -> None:
    result = surveyed(tmp_path, {"Front": in_tune(), "Rear": in_tune(apart)})
    found = result.graded.judgements["reeds.ranks_agree"]
    assert found.state is State.SEEN
    assert found.value == pytest.approx(apart, abs=0.01)
    steps = names(result.plans["full"])
    assert ("reeds.tune_rank" in steps) == (apart >= 12)
    assert "reeds.rough_tune" not in steps


def test_an_answer_in_the_file_wins_over_the_survey(tmp_path: Path) -> None:
    answer = '[answers.reeds]\nranks_agree = "3 cents"\n'
    result = surveyed(tmp_path, {"Front": in_tune(), "Rear": in_tune(20.0)}, answer)
    assert result.graded.judgements["reeds.ranks_agree"].value == 3


def test_every_count_of_a_complete_survey_is_judged(tmp_path: Path) -> None:
    front, rear = in_tune(), in_tune()
    front |= {40: "dead,,", 41: "missing,,", 42: "slow,0,", 43: "weak,0,", 44: "buzz,0,"}
    rear |= {50: "choked,0,", 51: "speaks,15,", 52: "speaks,0,cracked at the heel"}
    judged = surveyed(tmp_path, {"Front": front, "Rear": rear}).graded.judgements
    counts = {
        "dead_reeds": 1,
        "missing_reeds": 1,
        "slow_reeds": 3,
        "buzzing_reeds": 1,
        "choked_reeds": 1,
        "off_pitch_reeds": 1,
        "cracked_reeds": 1,
    }
    assert {name: judged[f"reeds.{name}"].value for name in counts} == counts


def test_half_a_survey_answers_no_count_and_says_what_it_found(tmp_path: Path) -> None:
    result = surveyed(tmp_path, {"Front": in_tune() | {40: "dead,,"}})
    for name in ("dead_reeds", "missing_reeds", "slow_reeds", "off_pitch_reeds", "ranks_agree"):
        assert result.graded.judgements[f"reeds.{name}"].state is State.NO_ANSWER, name
    assert result.measured.values["reeds.dead_reeds_so_far"].value == 1
    assert result.measured.values["reeds.dead_reeds_so_far"].inputs == (
        ("reeds tried", "61 of 122"),
    )


def test_reeds_not_tried_are_never_taken_as_sound(tmp_path: Path) -> None:
    untried = dict.fromkeys(KEYS, "not tried,,")
    result = surveyed(tmp_path, {"Front": in_tune(), "Rear": untried})
    assert result.graded.judgements["reeds.dead_reeds"].state is State.NO_ANSWER


def test_a_few_notes_up_each_rank_tell_how_far_the_ranks_are_apart(tmp_path: Path) -> None:
    sampled = range(29, 90, 12)
    ranks = {"Front": in_tune(0.0, sampled), "Rear": in_tune(20.0, sampled)}
    judged = surveyed(tmp_path, ranks).graded.judgements
    assert judged["reeds.ranks_agree"].value == pytest.approx(20.0, abs=0.01)
    assert judged["reeds.rank_spread"].state is State.NO_ANSWER


def test_remarks_that_name_no_crack_do_not_deny_one(tmp_path: Path) -> None:
    result = surveyed(tmp_path, {"Front": in_tune(), "Rear": in_tune()})
    for name in ("cracked_reeds", "neighbours_whisper"):
        assert result.graded.judgements[f"reeds.{name}"].state is State.NO_ANSWER


# The frailest rank leads (common practice, no source)


def frail(cents: float) -> dict[int, str]:
    """A rank of which every fourth reed is pitted."""
    return {
        key: f"speaks,{cents},{'green and pitted' if key % 4 == 0 else 'sound'}" for key in KEYS
    }


def test_the_frail_rank_stays_and_the_others_come_to_it(tmp_path: Path) -> None:
    result = surveyed(tmp_path, {"Front": in_tune(20.0), "Rear": frail(0.0)})
    sheet = result.sheets["reeds.pitch_choices"]
    rows = {row[0]: row for row in sheet.rows}
    leads = rows["of the frail rank, 440.0 Hz"]
    assert leads[1] == "61"  # the whole front rank moves, and nothing of the frail one
    assert leads[4] == "0"
    assert int(rows["442 Hz"][4]) == 61  # the frail one would have to move there
    assert "Rear 8 ft leads" in sheet.notes[0]
    assert "A = 440.0 Hz" in result.sheets["reeds.tuning_sheet"].title


def test_without_frail_reeds_no_rank_leads(tmp_path: Path) -> None:
    sheet = surveyed(tmp_path, {"Front": in_tune(20.0), "Rear": in_tune()}).sheets[
        "reeds.pitch_choices"
    ]
    assert not any("frail" in " ".join((*row, *sheet.notes)) for row in sheet.rows)


def test_answers_that_forbid_to_move_a_tongue_are_declared_and_grave() -> None:
    criteria = assess.knowledge_in_use().criteria
    assert FRAIL_ANSWERS
    for name, answers in FRAIL_ANSWERS.items():
        declared = {o.label: o.condition for o in criteria[name].outcomes}
        assert min(declared[answer] for answer in answers) >= 2


@pytest.mark.parametrize(
    "answer",
    [
        'sample_corrosion = "green all over, pitted"',
        'file_marks = "many filed through or bent out of shape"',
        "cracked_reeds = 20",
    ],
)
def test_frail_tongues_throughout_keep_their_own_pitch(tmp_path: Path, answer: str) -> None:
    ranks = {"Front": in_tune(), "Rear": in_tune()}
    sheet = surveyed(tmp_path, ranks, f"[answers.reeds]\n{answer}\n").sheets["reeds.pitch_choices"]
    assert "Keep its own pitch" in sheet.notes[0]
    assert {row[0]: row[4] for row in sheet.rows}["435 Hz"] == "122"
