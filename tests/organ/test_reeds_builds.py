"""Builds of the reeds: units, half ranks, resonators, screwed pans, and what each finding needs."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import networkx as nx
import pytest
from assess_reeds.pitch import note_name
from conftest import job_of
from references import reference
from seen import in_order, judged, numbers, plan_of

import assess
from assess.grading.judgements import State
from assess.grading.openings import is_opened
from assess.inspection.question_places import seen_at_visit
from assess.knowledge.precedence_graph import master_graph
from assess.planning.plan import Plan

TUNING = {
    "touch_up_tuning", "recheck_tuning", "tune_rank", "rough_tune", "change_pitch", "fine_tune",
    "tune_celeste",
}  # fmt: skip
UNITS = """
[[instrument.unit]]
id = "zenith"
title = "upper unit"
[[instrument.unit]]
id = "attic"
title = "top unit"
"""
TWO_RANKS = 122


def with_text(text: str) -> assess.Assessment:
    """A job from its text."""
    return assess.assess(job_of(f"format = 1\n{text}"))


def facts(**numbers: float) -> str:
    """A table of facts, with ids of units written with two underscores."""
    lines = (f"{name.replace('__', '-')} = {number}" for name, number in numbers.items())
    return "[instrument.facts]\n" + "\n".join(lines) + "\n"


def hours(plan: Plan, step: str) -> tuple[float, ...]:
    """Low, likely and high hours of a step that the plan has."""
    found = plan.step(step)
    assert found is not None, step
    return tuple(found.hours)


# Reeds as a number


@pytest.mark.parametrize(
    ("stated", "reeds"),
    [
        (facts(), 122),
        (facts(ranks=2.5), 152),
        (facts(keys=49, ranks=1), 49),
        (facts(keys=54, ranks=4), 216),
        (facts(ranks=0.5), 30),
        (facts(reeds=183), 183),
    ],
)
def test_hours_of_drawing_and_cleaning_grow_with_the_reeds(stated: str, reeds: int) -> None:
    answers = '[answers.reeds]\nsample_corrosion = "green in places"\n'
    plan = with_text(f"{stated}{answers}").plans["full"]
    usual = plan_of({"reeds.sample_corrosion": "green in places"}, "full")
    for step in ("open reeds.cells", "close reeds.cells", "reeds.clean_reeds", "reeds.reeds_home"):
        expected = [h * reeds / TWO_RANKS for h in hours(usual, step)]
        assert hours(plan, step) == pytest.approx(expected), step


def test_a_count_is_a_share_of_the_reeds_that_there_are() -> None:
    few = with_text(f"{facts(reeds=400)}[answers.reeds]\ndead_reeds = 15\n")
    many = with_text(f"{facts(reeds=61)}[answers.reeds]\ndead_reeds = 15\n")
    conditions = [r.graded.judgements["reeds.dead_reeds"].outcome.condition for r in (few, many)]
    assert conditions == [1, 3]


def test_screwed_pans_and_their_seals_grow_with_the_instrument() -> None:
    def plan(ranks: float) -> Plan:
        text = f'[instrument.features]\nwind = "pressure"\n{facts(ranks=ranks)}[answers.reeds]\n'
        return with_text(f'{text}pressure_seals = "open between ranks"\n').plans["full"]

    for step in ("open reeds.screwed_pan", "close reeds.screwed_pan", "reeds.reseal_compartments"):
        assert hours(plan(4), step) == pytest.approx([2 * h for h in hours(plan(2), step)]), step


def test_stuffed_seals_take_at_least_twice_the_hours() -> None:
    def plan(answer: str) -> Plan:
        return plan_of({"reeds.pressure_seals": answer}, "full", {"wind": "pressure"})

    plain = hours(plan("open between ranks"), "reeds.reseal_compartments")
    stuffed = plan("stuffed with paper, wool or paste")
    assert "reeds.reseal_compartments" not in numbers(stuffed)
    both = zip(hours(stuffed, "reeds.clear_stuffed_seals"), plain, strict=True)
    assert all(more >= 2 * less for more, less in both)


# Units


def test_each_unit_is_tuned_after_the_one_below_it() -> None:
    text = f"{UNITS}[answers.reeds]\n" + "".join(
        f"off_pitch_reeds{unit} = 100\nmissing_reeds{unit} = 1\n"
        for unit in ("", "-zenith", "-attic")
    )
    plan = with_text(text).plans["full"]
    for name in ("rough_tune", "fine_tune"):
        own = [f"reeds.{name}{unit}" for unit in ("", "-zenith", "-attic")]
        assert in_order(plan, *own)
    tuned = [s for s in numbers(plan) if s.startswith("reeds.rank_tuned")]
    assert len(tuned) == 3
    # Reeds and wood of all units settle together.
    assert [s for s in numbers(plan) if s.startswith("reeds.settle")] == ["reeds.settle"]


def test_the_reeds_of_a_unit_are_proved_before_the_next_unit_closes_it_in() -> None:
    text = f"{UNITS}[answers.reeds]\npan_cracks = 2\npan_cracks-zenith = 1\n"
    plan = with_text(text).plans["full"]
    assert in_order(plan, "close reeds.cells", "reeds.reeds_home")
    at = numbers(plan)
    for below, above in (("", "-zenith"), ("-zenith", "-attic")):
        assert at[f"reeds.reeds_home{below}"] < at[f"close action.upper_action{above}"]
        assert at[f"reeds.pan_tight{below}"] < at[f"close action.upper_action{above}"]


def test_a_unit_has_the_hours_of_its_own_reeds() -> None:
    stated = facts(ranks__attic=1, keys__attic=30)
    text = f"{UNITS}{stated}[answers.reeds]\npan_cracks = 1\npan_cracks-attic = 1\n"
    plan = with_text(text).plans["full"]
    main, own = (hours(plan, f"open reeds.cells{unit}") for unit in ("", "-attic"))
    assert own == pytest.approx([h * 30 / TWO_RANKS for h in main])


# What is not there


@pytest.mark.parametrize(
    ("feature", "words"),
    [
        ("resonators", ("resonator",)),
        ("percussion", ("percussion", "hammer")),
        ("celeste", ("celeste",)),
        ("sub_bass", ("sub-bass",)),
    ],
)
def test_no_step_names_a_part_that_is_not_there(feature: str, words: tuple[str, ...]) -> None:
    answers = {"reeds.off_pitch_reeds": 100, "reeds.pan_cracks": 3, "reeds.dead_reeds": 30}
    plan = plan_of(answers, "full", {feature: False})
    titles = " ".join(step.title.casefold() for step in plan.steps)
    assert titles
    assert not [word for word in words if word in titles]
    applying = judged(answers, {feature: False}).graded.judgements.values()
    asked = " ".join(
        j.criterion.asks.casefold()
        for j in applying
        if j.state is not State.NOT_PRESENT and j.id.startswith("reeds.") and len(words) > 1
    )
    assert asked or len(words) == 1
    assert not [word for word in words if word in asked]


def test_the_resonator_board_is_off_before_the_reeds_are_drawn_and_on_after_them() -> None:
    plan = plan_of({"reeds.pan_cracks": 1}, "full", {"resonators": True})
    steps = ["open reeds.resonators", "open reeds.cells", "close reeds.cells"]
    assert in_order(plan, *steps, "close reeds.resonators")
    assert "open reeds.resonators" not in numbers(plan_of({"reeds.pan_cracks": 1}, "full"))


@pytest.mark.parametrize("answer", ["some late, weak or missing", "some rest on their tongues"])
def test_hammers_are_set_before_their_rank_is_tuned(answer: str) -> None:
    features = {"wind": "pressure", "percussion": True}
    given = {"reeds.percussion_hammers": answer, "reeds.off_pitch_reeds": 100}
    plan = plan_of(given, "full", features)
    assert in_order(plan, "open reeds.screwed_pan", "reeds.set_percussion", "reeds.rough_tune")


# Answers and their repairs

PRESSURE = {"wind": "pressure"}


def test_reeds_are_heard_on_a_test_box_before_anything_is_taken_apart() -> None:
    dead = {"pneumatics.first_pump": "both limp", "reeds.pan_cracks": 1}
    result = judged(dead)
    judgements = result.graded.judgements
    assert is_opened(judgements["reeds.reeds_heard"], judgements)
    plan = plan_of({**dead, "reeds.reeds_heard": "none: nothing was heard"}, "full")
    at = numbers(plan)
    opened = [n for step, n in at.items() if step in ("open reeds.cells", "open action.stop_board")]
    assert opened
    assert at["reeds.hear_on_test_box"] < min(opened)
    for heard in ("its own wind", "a test box"):
        steps = numbers(plan_of({**dead, "reeds.reeds_heard": heard}, "full"))
        assert "reeds.hear_on_test_box" not in steps


def test_where_the_bellows_give_wind_nobody_is_asked_what_the_reeds_were_heard_on() -> None:
    judgements = judged({"pneumatics.first_pump": "both move air equally"}).graded.judgements
    assert judgements["reeds.reeds_heard"].is_seen


@pytest.mark.parametrize(
    ("answers", "steps"),
    [
        (
            {"reeds.splinter_under_tongue": "only asleep: it speaks after some playing"},
            ["reeds.awaken_reeds", "reeds.clear_single_reeds"],
        ),
        (
            {"reeds.liquid_in_reeds": "yes: tongues or frames stick"},
            ["open reeds.cells", "reeds.wash_out_liquid", "close reeds.cells"],
        ),
        (
            {"reeds.mixed_sets": "reeds in each other's cells"},
            ["open reeds.cells", "reeds.put_in_own_cells", "reeds.set_complete"],
        ),
        (
            {"reeds.mixed_sets": "some replaced by wrong reeds"},
            ["reeds.replace_wrong_reeds", "reeds.set_complete", "reeds.touch_up_tuning"],
        ),
        (
            {"reeds.pan_cracks": 2, "reeds.pan_crack_kind": "in a board, apart from a seam"},
            ["reeds.clean_pan", "reeds.let_in_wood", "reeds.pan_tight", "close reeds.cells"],
        ),
    ],
)
def test_a_finding_leads_to_its_repair_in_order(
    answers: dict[str, str | float | int], steps: list[str]
) -> None:
    plan = plan_of({"reeds.dead_reeds": 3, **answers}, "full")
    assert in_order(plan, *steps)


def test_a_strip_of_wood_replaces_glue_alone() -> None:
    kinds = {"reeds.pan_cracks": 2, "reeds.pan_crack_kind": "in a board, apart from a seam"}
    assert "reeds.repair_pan_cracks" not in numbers(plan_of(kinds, "full"))
    step = plan_of(kinds, "full").step("reeds.let_in_wood")
    assert step is not None
    assert step.times.count == 2


@pytest.mark.parametrize("count", [1, 2])
def test_only_the_ranks_that_are_off_are_tuned(count: int) -> None:
    plan = plan_of({"reeds.ranks_agree": 25, "reeds.ranks_off": count}, "full")
    assert "reeds.rough_tune" not in numbers(plan)
    assert hours(plan, "reeds.tune_rank") == pytest.approx([3 * count, 6 * count, 12 * count])


def test_a_frail_rank_leads_and_the_others_are_brought_to_it() -> None:
    given = {"reeds.ranks_agree": 25, "reeds.off_rank": "frail: thin, green or cracked"}
    steps = numbers(plan_of(given, "full"))
    assert "reeds.rough_tune" in steps
    assert "reeds.tune_rank" not in steps


def test_frozen_reeds_alone_do_not_silence_it() -> None:
    criterion = assess.knowledge_in_use().criteria["reeds.frozen_reeds"]
    assert not [outcome.label for outcome in criterion.outcomes if outcome.stops_use]
    plan = plan_of({"reeds.frozen_reeds": 4, "reeds.dead_reeds": 0}, "working")
    assert "reeds.free_frozen_reeds" not in numbers(plan)


# Questions at the visit

OPENED = {
    "reeds.choked_reeds": {"reeds.slow_reeds": 0},
    "reeds.frozen_reeds": {"reeds.sample_corrosion": "bright or brown, no pits"},
    "reeds.missing_reeds": {"reeds.dead_reeds": 0},
    "reeds.splinter_under_tongue": {"reeds.dead_reeds": 0},
    "reeds.liquid_in_reeds": {"reeds.dead_reeds": 0},
    "reeds.sinking_reeds": {"reeds.off_pitch_reeds": 0},
    "reeds.bass_tip_weights": {"reeds.off_pitch_reeds": 0},
    "reeds.rank_spread": {"reeds.off_pitch_reeds": 0},
    "reeds.ranks_off": {"reeds.ranks_agree": 2},
    "reeds.off_rank": {"reeds.ranks_agree": 2},
}


@pytest.mark.parametrize("criterion", OPENED)
def test_a_good_answer_spares_the_details(criterion: str) -> None:
    spared = judged(OPENED[criterion]).graded.judgements[criterion]
    assert spared.is_seen
    assert spared.outcome.condition == 0


def test_few_questions_about_reeds_are_asked_of_a_plain_instrument_at_the_visit() -> None:
    sound = {answer: value for given in OPENED.values() for answer, value in given.items()}
    result = judged({"pneumatics.first_pump": "both move air equally", **sound})
    asked = [
        j.id
        for j in result.graded.judgements.values()
        if j.id.startswith("reeds.")
        and j.state is State.NO_ANSWER
        and not j.criterion.computed_from
        and seen_at_visit(j, result.knowledge, result.configuration)
    ]
    assert len(asked) + len(sound) <= 13, asked


def test_missing_reeds_are_looked_for_where_nothing_can_be_heard() -> None:
    text = "[answers.reeds]\ndead_reeds = { answer = 'not seen', note = 'no wind' }\n"
    judgements = with_text(text.replace("'", '"')).graded.judgements
    assert is_opened(judgements["reeds.missing_reeds"], judgements)


# Materials


def test_nothing_is_wasted_of_what_is_bought_whole_and_kits_are_bought_once() -> None:
    materials = [
        m for m in assess.knowledge_in_use().materials.values() if m.id.startswith("reeds.")
    ]
    assert all(m.waste == 0 for m in materials if m.whole)
    kits = {"reeds.brushes", "reeds.tuning_files", "reeds.shim_brass"}
    assert {m.id for m in materials if m.once} == kits


def test_units_share_one_kit_and_whole_things_come_whole() -> None:
    text = f"{UNITS}[answers.reeds]\n" + "".join(
        f"slow_reeds{unit} = 3\noff_pitch_reeds{unit} = 100\nmissing_reeds{unit} = 2\n"
        for unit in ("", "-zenith", "-attic")
    )
    bought = {m.material: m.quantity for m in with_text(text).plans["full"].materials}
    assert bought["reeds.shim_brass"] == bought["reeds.tuning_files"] == 1
    assert bought["reeds.donor_reed"] == 6
    whole = {m.id for m in assess.knowledge_in_use().materials.values() if m.whole}
    assert all(math.floor(q) == q for m, q in bought.items() if m in whole)


# Kept from before


def test_every_repair_of_tuning_goes_upwards() -> None:
    repairs = assess.knowledge_in_use().repairs
    assert all(repairs[f"reeds.{name}"].upwards for name in TUNING)


def test_answers_of_earlier_job_files_still_count() -> None:
    text = (
        "[answers.reeds]\ndead_reeds = 0\nmissing_reeds = 3\nchoked_reeds = 5\nslow_reeds = 0\n"
        'reeds_past_use = 40\nfrozen_reeds = 2\nsample_corrosion = "bright or brown, no pits"\n'
        'splinter_under_tongue = "dust or lint"\nmixed_sets = "a whole rank from elsewhere"\n'
    )
    judgements = with_text(text).graded.judgements
    worse = ("missing_reeds", "choked_reeds", "reeds_past_use", "frozen_reeds", "mixed_sets")
    names = list(itertools.chain(worse, ["splinter_under_tongue"]))
    assert names
    for name in names:
        assert judgements[f"reeds.{name}"].outcome.condition >= 1, name


# Order of work, by the reference


@pytest.mark.parametrize(
    "edge", reference("precedence")["reeds_edge"], ids=lambda e: f"{e['before']} {e['after']}"
)
def test_declared_reasons_put_the_steps_in_the_order_of_the_reference(
    edge: dict[str, str],
) -> None:
    order = master_graph(assess.knowledge_in_use())
    assert edge["after"] in nx.descendants(order, edge["before"])


# The survey of several units


def test_each_unit_has_its_own_sheet_and_counts_from_one_survey(tmp_path: Path) -> None:
    rows = ["unit,note,rank,feet,speech,cents"]
    for unit, level in (("", 0), ("zenith", 20), ("attic", -20)):
        rows += [f"{unit},{note_name(k)},Viola,8,speaks,{level}" for k in range(30, 90)]
        rows.append(f"{unit},F1,Viola,8,{'dead' if unit == 'attic' else 'speaks'},")
    (tmp_path / "reeds.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    ranks = facts(ranks=1, ranks__zenith=1, ranks__attic=1)
    text = f'format = 1\n{UNITS}{ranks}[surveys]\n"reeds.notes" = "reeds.csv"\n'
    result = assess.assess(job_of(text, tmp_path / "job.toml"))
    judged_ = result.graded.judgements
    dead = [judged_[f"reeds.dead_reeds{unit}"].value for unit in ("", "-zenith", "-attic")]
    assert dead == [0, 0, 1]
    sheets = {name: s for name, s in result.sheets.items() if "tuning_sheet" in name}
    assert len(sheets) == 3
    own = sorted(s.title.split("A = ")[1].split(" Hz")[0] for s in sheets.values())
    assert own == ["434.9", "440.0", "445.1"]
    assert {len(s.rows) for s in sheets.values()} == {61}
