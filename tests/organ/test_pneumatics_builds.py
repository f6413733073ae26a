"""Ways in which wind supplies are built, and what is found on them: what the plan makes of it.

Rules that are compared with are common practice of the trade (no source), unless a test names
one. The order of work comes from ``references/precedence.toml``.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from assess_pneumatics.cutting import KEEPS_COVER
from conftest import job_of
from hypothesis import given
from hypothesis import strategies as st
from references import reference
from seen import Answers, Features, in_order, judged, numbers

import assess
from assess.knowledge.model_base import Scope
from assess.output.json_data import plan_data
from assess.planning.plan import Plan
from assess.testing import job_with

KNOWLEDGE = assess.knowledge_in_use()
PRESSURE: Features = {"wind": "pressure"}
ORDER = reference("precedence")["pneumatics_order"]
EVERYTHING_SPENT: Answers = {
    "reservoir_cloth": "perished, rubber flaking all over",
    "exhauster_cloth": "perished, rubber flaking all over",
    "straps": "broken or off",
}
MM_IN_AN_INCH = 25.4


def own(answers: Answers) -> dict[str, Any]:
    """Answers under full ids; this file leaves out the name of the wind supply."""
    return {a if "." in a else f"pneumatics.{a}": value for a, value in answers.items()}


def plan_of(answers: Answers, scope: Scope = "full", features: Features | None = None) -> Plan:
    """The plan of a scope for an instrument with these answers."""
    return judged(own(answers), features).plans[scope]


def with_facts(facts: str, answers: Answers, features: str = "") -> assess.Assessment:
    """An instrument with facts and features as they stand in a job file."""
    said = "\n".join(f"{name} = {json.dumps(value)}" for name, value in answers.items())
    return assess.assess(
        job_of(
            f"format = 1\n[instrument.features]\n{features}\n[instrument.facts]\n{facts}\n"
            f"[answers.pneumatics]\n{said}\n"
        )
    )


def hours_of(result: assess.Assessment, step: str) -> float:
    """Likely hours of a step of the full plan."""
    found = result.plans["full"].step(f"pneumatics.{step}")
    assert found
    return found.hours[1]


def words_of(result: assess.Assessment, scope: Scope = "full") -> str:
    """Everything that a plan says about its steps of the wind supply, in small letters."""
    steps = plan_data(result, result.plans[scope])["steps"]
    return json.dumps([s for s in steps if "pneumatics." in s["step"]]).casefold()


# Order


@pytest.mark.parametrize("row", ORDER, ids=lambda r: f"{r['before']} {r['after']}")
def test_a_plan_keeps_the_order_of_the_trade(row: dict[str, Any]) -> None:
    assert row["because"]
    assert row["type"] in reference("precedence")["types"]
    plan = plan_of(row["answers"], features=row.get("features"))
    assert in_order(plan, row["before"], row["after"])


# What blows it


HAND: Features = {"blown_by": "blown_by_hand"}
MOTOR: Features = {"blown_by": "blown_by_motor", "suction_unit": True, "unit_to_run": True}


@pytest.mark.parametrize("features", [HAND, MOTOR])
@pytest.mark.parametrize("scope", ["working", "full"])
def test_no_step_names_treadles_or_straps_that_are_not_there(
    features: Features, scope: Scope
) -> None:
    found = {**EVERYTHING_SPENT, "whole_hold": "8 s", "inner_valve_leather": "crumbled or missing"}
    found.pop("straps")
    words = words_of(judged(own(found), features), scope)
    assert words.count("pneumatics.") > 10
    for absent in ("treadle", "strap", "both feet"):
        named = words.replace("limit strap", "").replace("treadles_work", "")
        assert absent not in named, absent


@pytest.mark.parametrize("features", [HAND, MOTOR])
def test_no_question_names_treadles_or_straps_that_are_not_there(features: Features) -> None:
    asked = [
        f"{j.criterion.asks} {j.criterion.how} {' '.join(o.label for o in j.criterion.outcomes)}"
        for j in judged({}, features).graded.judgements.values()
        if j.counts and j.id.startswith("pneumatics.") and not j.id.endswith("_limit")
    ]
    assert len(asked) > 40
    words = " ".join(asked).casefold()
    assert not [w for w in ("treadle", "strap", "both feet", "your foot") if w in words]


def test_what_is_worked_by_hand_is_proved_by_hand() -> None:
    plan = plan_of({"exhauster_cloth": "gnawed"}, "working", HAND)
    assert plan.step("pneumatics.hand_pump_draws")
    assert not plan.step("pneumatics.treadles_draw")
    by_feet = plan_of({"exhauster_cloth": "gnawed"}, "working")
    assert by_feet.step("pneumatics.treadles_draw")
    assert not by_feet.step("pneumatics.hand_pump_draws")


def test_treadles_are_not_asked_about_where_there_are_none() -> None:
    asked = {c.id for c in KNOWLEDGE.criteria.values() if c.component == "pneumatics.treadles"}
    without = judged({}, HAND).graded.judgements
    assert asked
    assert not [c for c in asked if without[c].counts]


@pytest.mark.parametrize("scope", ["working", "full"])
def test_a_motor_that_is_used_again_is_seen_by_an_electrician_before_it_runs(
    scope: Scope,
) -> None:
    plan = plan_of({"unit_connection": "disconnected", "whole_hold": "8 s"}, scope, MOTOR)
    assert in_order(
        plan,
        "pneumatics.isolate_suction_unit",
        "pneumatics.reconnect_suction_unit",
        "pneumatics.unit_draws",
        "pneumatics.trace_leaks",
        "pneumatics.whole_instrument_tight",
        "pneumatics.regulate_suction_unit",
        "pneumatics.unit_gives_wind",
    )
    cautions = {c for step in plan.steps for c in step.cautions}
    mains = KNOWLEDGE.cautions["pneumatics.mains"]
    assert mains.id in cautions
    assert "licensed electrician" in mains.defer_to


def test_a_motor_that_stays_out_of_use_is_not_connected() -> None:
    plan = plan_of({"unit_wiring": "looks sound, never tested"}, features={"suction_unit": True})
    assert plan.step("pneumatics.isolate_suction_unit")
    assert not plan.step("pneumatics.reconnect_suction_unit")


# Other builds


def test_a_player_mechanism_is_left_to_others_and_planned_round() -> None:
    plan = plan_of({"reservoir_cloth": "gnawed"}, features={"player_mechanism": True})
    step = plan.step("pneumatics.player_left_alone")
    assert step
    assert "outside this tool" in step.title
    assert step.number < numbers(plan)["casework.bring_to_workshop"]
    assert not plan_of({"reservoir_cloth": "gnawed"}).step("pneumatics.player_left_alone")


def test_a_valve_behind_a_board_is_reached_without_opening_a_cover() -> None:
    found = {"inner_valve_leather": "curled, hard or leaking"}
    by_board = plan_of(found, features={"valve_board": True})
    assert by_board.step("pneumatics.renew_inner_valves_by_board")
    assert not by_board.step("pneumatics.renew_inner_valves_at_edge")
    assert not by_board.step("open pneumatics.exhauster_interior")
    assert plan_of(found).step("pneumatics.renew_inner_valves_at_edge")
    pressed = {"feeder_valves": "hiss, or the wind pushes back"}
    plan = plan_of(pressed, features={**PRESSURE, "valve_board": True})
    assert plan.step("pneumatics.renew_feeder_valves_by_board")
    assert not plan.step("open pneumatics.feeder_interior")


@pytest.mark.parametrize("wind", ["suction", "pressure"])
def test_a_ribbed_reservoir_is_covered_with_leather_and_paper(wind: str) -> None:
    features = {"wind": wind, "leather_reservoir": True}
    plan = plan_of({"reservoir_cloth": "gnawed"}, features=features)
    step = plan.step("pneumatics.releather_reservoir")
    assert step
    used = {m.material for m in step.materials}
    assert {"pneumatics.gusset_leather", "pneumatics.rib_paper"} <= used
    bought = {m.material for s in plan.steps for m in s.materials}
    assert "pneumatics.bellows_cloth" not in bought


def test_cracked_paper_over_sound_leather_is_no_reason_for_a_new_cover() -> None:
    plan = plan_of({"reservoir_cloth": "paper cracked on the ribs, leather below whole"})
    assert plan.step("pneumatics.repaper_reservoir")
    assert not plan.step("pneumatics.releather_reservoir")


@pytest.mark.parametrize(
    ("feature", "finding", "repair"),
    [
        ("hung_bellows", {"hung_gasket": "gaps, torn, or pieces missing"}, "renew_hung_gasket"),
        ("loose_chest_floor", {"chest_floor": "hisses in places"}, "relay_chest_floor"),
        (
            "loose_chest_floor",
            {"chest_floor": "hisses where nothing draws it together"},
            "stiffen_chest_floor",
        ),
        ("joint_strips", {"joint_strips": "come loose, or the groove torn"}, "relay_joint_strips"),
        ("wind_trunk", {"unit_trunk": "clear hiss at a joint"}, "reseal_unit_trunk"),
        (
            "folds_up",
            {"folding_linkage": "the wind joint does not close"},
            "repair_folding_linkage",
        ),
    ],
)
def test_a_build_that_only_some_have_is_asked_about_only_there(
    feature: str, finding: Answers, repair: str
) -> None:
    plan = plan_of(finding, "working", {feature: True})
    assert plan.step(f"pneumatics.{repair}")
    (criterion,) = own(finding)
    assert not judged({}).graded.judgements[criterion].counts


@pytest.mark.parametrize(
    ("feature", "finding", "repair"),
    [
        ("hinged_chest", {"hinged_chest_seal": "hisses along one side"}, "renew_hinged_seal"),
        ("hinged_chest", {"hinged_chest_seal": "stiff, but whole and tight"}, "dress_hinged_seal"),
        (
            "double_expression",
            {"double_expression": "one half gets no wind"},
            "repair_double_expression",
        ),
    ],
)
def test_builds_of_pressure_instruments(feature: str, finding: Answers, repair: str) -> None:
    plan = plan_of(finding, features={**PRESSURE, feature: True})
    assert plan.step(f"pneumatics.{repair}")


def test_an_instrument_without_expression_is_not_asked_about_it() -> None:
    known = judged({}, {**PRESSURE, "expression": False}).graded.judgements
    assert not known["pneumatics.expression_valve"].counts
    assert judged({}, PRESSURE).graded.judgements["pneumatics.expression_valve"].counts


# Units


UNITS = (
    'format = 1\n[[instrument.unit]]\nid = "upper"\ntitle = "upper unit"\n'
    '[[instrument.unit]]\nid = "pedal"\nstands = "apart"\ntitle = "pedal unit"\n'
)


def test_each_unit_has_a_chest_and_a_joint_of_its_own() -> None:
    result = assess.assess(
        job_of(f'{UNITS}[answers.pneumatics]\nchest_seams-pedal = "seam open"\n')
    )
    plan = result.plans["full"]
    assert in_order(
        plan,
        "open action.upper_action-pedal",
        "pneumatics.repatch_chest-pedal",
        "pneumatics.upper_action_tight-pedal",
        "close action.upper_action-pedal",
        "pneumatics.whole_instrument_tight",
    )
    assert not plan.step("pneumatics.repatch_chest")
    assert not plan.step("open action.upper_action")
    assert not plan.step("open action.upper_action-upper")


def test_a_lower_unit_is_proved_before_the_next_one_closes_it_in() -> None:
    result = assess.assess(job_of(f'{UNITS}[answers.pneumatics]\nchest_seams = "seam open"\n'))
    assert in_order(
        result.plans["full"],
        "open action.upper_action-upper",
        "open action.upper_action",
        "pneumatics.repatch_chest",
        "pneumatics.upper_action_tight",
        "close action.upper_action",
        "close action.upper_action-upper",
    )


def test_what_is_about_the_whole_is_asked_once() -> None:
    names = assess.assess(job_of(UNITS)).graded.judgements
    assert "pneumatics.chest_leaks-pedal" in names
    assert "pneumatics.foundation_line-upper" in names
    for once in ("winter_hold", "whole_hold", "board_height", "reservoir_cloth"):
        assert not [n for n in names if n.startswith(f"pneumatics.{once}-")]


# Answers


@pytest.mark.parametrize(
    ("finding", "repair"),
    [
        ({"reservoir_cloth": "porous all over, without a crack"}, "recover_reservoir"),
        ({"reservoir_cloth": "vinyl, upholstery cloth or imitation leather"}, "recover_reservoir"),
        ({"reservoir_cloth": "new cloth glued over the old"}, "recover_reservoir"),
        ({"reservoir_cloth": "a batten or tack strip loose, cover sound"}, "reglue_reservoir_edge"),
        ({"exhauster_cloth": "gnawed"}, "recover_exhausters"),
        ({"exhauster_folds": "no ribs: taken out, or never there"}, "recover_exhausters"),
        ({"board_clearance": "one strikes or rubs on something"}, "free_moving_boards"),
        ({"treadle_travel": "added wood or a second strap"}, "free_treadle_travel"),
        ({"wind_way": "flakes of old finish in it"}, "clear_wind_way"),
        ({"wind_loss": "as fast as it is pumped"}, "trace_leaks"),
        (
            {"foundation_line": "screws along one side only: nothing draws it together there"},
            "stiffen_joint",
        ),
        ({"chest_whole": "a board cracked through, apart from its joints"}, "mend_chest_board"),
        ({"chest_screws": "pulled through the wood, or most no longer bite"}, "reset_chest_screws"),
        ({"reservoir_boards": "bowed, or broken out at a screw or an edge"}, "straighten_boards"),
    ],
)
def test_what_is_found_is_cured(finding: Answers, repair: str) -> None:
    assert plan_of(finding).step(f"pneumatics.{repair}")


@pytest.mark.parametrize(
    "found", ["dry, but tight", "paper cracked on the ribs, leather below whole"]
)
def test_dry_leather_is_conditioned_not_renewed(found: str) -> None:
    plan = plan_of({"exhauster_leather": found}, features={"ribbed_exhausters": True})
    assert plan.step("pneumatics.dress_exhauster_leather")
    assert not plan.step("pneumatics.rebuild_ribbed_exhausters")


def test_no_fault_is_looked_for_until_the_crumbs_of_foam_are_out() -> None:
    foam = {"chest_gasket": "foam or another synthetic seal, crumbling", "whole_hold": "8 s"}
    plan = plan_of(foam)
    assert in_order(plan, "pneumatics.clear_chest_foam", "pneumatics.whole_instrument_tight")
    assert not plan.step("pneumatics.trace_leaks")


def test_a_tight_instrument_spares_the_hunt_for_leaks() -> None:
    tight = judged(own({"whole_hold": "120 s", "first_pump": "both move air equally"}))
    loose = judged(own({"whole_hold": "20 s", "first_pump": "one side dead"}))
    spared = ("hissing_spots", "chest_leaks", "foundation_leak", "deep_note", "wind_loss")
    for name in spared:
        assert tight.graded.judgements[f"pneumatics.{name}"].is_seen
        assert not loose.graded.judgements[f"pneumatics.{name}"].is_seen


def test_a_detail_that_was_answered_counts_whatever_its_opening_question_says() -> None:
    answers = {"whole_hold": "120 s", "foundation_leak": "blows along the whole line"}
    assert plan_of(answers, "working").step("pneumatics.renew_foundation_gasket")


# Seconds are judged by what leaks


@pytest.mark.parametrize(
    ("good_hold", "seconds", "condition"),
    [("90 s", 40, 2), ("25 s", 40, 0), ("25 s", 15, 1), ("150 s", 60, 2), ("150 s", 100, 1)],
)
def test_the_same_seconds_mean_another_leak_in_another_reservoir(
    good_hold: str, seconds: int, condition: int
) -> None:
    result = with_facts(f'good_hold = "{good_hold}"', {"whole_hold": f"{seconds} s"})
    assert result.graded.judgements["pneumatics.whole_hold"].outcome.condition == condition


@given(
    share=st.sampled_from([0.05, 0.15, 0.35, 0.7, 1.4]),
    length=st.integers(14, 60),
    width=st.integers(8, 24),
    opening=st.integers(3, 12),
    suction=st.sampled_from([1.8, 2.5, 3.4]),
)
def test_the_same_leak_gets_the_same_class_in_every_reservoir(
    share: float, length: int, width: int, opening: int, suction: float
) -> None:
    """The leak of an ordinary instrument, put into a reservoir of another size."""
    sizes = (
        f'reservoir_length = "{length} in"\nreservoir_width = "{width} in"\n'
        f'reservoir_opening = "{opening} in"\n'
    )
    gauge = {"suction_half": f"{suction} inH2O"}
    good = with_facts(sizes, gauge).measured.values["pneumatics.good_hold"].value
    assert good is not None
    told = with_facts(
        f'{sizes}good_hold = "{good} s"', {**gauge, "whole_hold": f"{share * good} s"}
    )
    ordinary = judged(own({"whole_hold": f"{share * 90} s"}))
    judgement = "pneumatics.whole_hold"
    assert (
        told.graded.judgements[judgement].outcome is ordinary.graded.judgements[judgement].outcome
    )


def test_a_mark_to_pass_is_in_seconds_of_what_a_good_reservoir_of_its_size_holds() -> None:
    step = plan_of({"reservoir_cloth": "gnawed"}).step("pneumatics.whole_instrument_tight")
    assert step
    assert "good (45 to 90 s)" in step.passes


# Hours and materials


@pytest.mark.parametrize(
    ("fact", "finding", "step", "features"),
    [
        ("exhausters", {"exhauster_cloth": "gnawed"}, "recover_exhausters", ""),
        ("exhausters", {"exhauster_cloth": "gnawed"}, "renew_exhauster_hinges", ""),
        ("inner_flaps", {"exhauster_cloth": "gnawed"}, "renew_inner_valves", ""),
        ("outer_flaps", {"outer_valve_leather": "crumbled or gone"}, "renew_outer_valves", ""),
        ("reservoirs", {"reservoir_cloth": "gnawed"}, "recover_reservoir", ""),
        ("feeders", {"feeder_covers": "gnawed"}, "recover_feeders", 'wind = "pressure"'),
        ("feeder_flaps", {"feeder_covers": "gnawed"}, "renew_feeder_valves", 'wind = "pressure"'),
    ],
)
def test_hours_and_materials_grow_with_what_is_there(
    fact: str, finding: Answers, step: str, features: str
) -> None:
    usual = KNOWLEDGE.facts[fact].usual
    assert usual is not None
    few, many = (with_facts(f"{fact} = {n * usual}", finding, features) for n in (1, 3))
    assert hours_of(few, step) == pytest.approx(hours_of(with_facts("", finding, features), step))
    assert hours_of(many, step) == pytest.approx(3 * hours_of(few, step))
    used = [
        {m.material: m.quantity for m in found.materials}
        for r in (few, many)
        if (found := r.plans["full"].step(f"pneumatics.{step}"))
    ]
    assert all(used[1][m] >= used[0][m] for m in used[0])
    assert any(used[1][m] == pytest.approx(3 * used[0][m]) for m in used[0])


@given(
    reservoir=st.tuples(st.integers(24, 60), st.integers(10, 24), st.integers(4, 11)),
    exhauster=st.tuples(st.integers(10, 28), st.integers(8, 22), st.integers(3, 8)),
    ports=st.tuples(st.integers(60, 300), st.integers(20, 150)),
    strap=st.tuples(st.integers(300, 900), st.integers(25, 75)),
    counts=st.tuples(st.integers(1, 2), st.integers(1, 4), st.integers(1, 8), st.integers(1, 8)),
)
def test_sheet_and_plan_agree_on_what_to_buy(
    reservoir: tuple[int, int, int],
    exhauster: tuple[int, int, int],
    ports: tuple[int, int],
    strap: tuple[int, int],
    counts: tuple[int, int, int, int],
) -> None:
    sizes = {
        f"{part}_{name}": MM_IN_AN_INCH * value
        for part, values in (("reservoir", reservoir), ("exhauster", exhauster))
        for name, value in zip(("length", "width", "opening"), values, strict=True)
    }
    sizes |= dict(zip(("port_length", "port_width"), ports, strict=True))
    sizes |= dict(zip(("strap_length", "strap_width"), strap, strict=True))
    names = ("reservoirs", "exhausters", "inner_flaps", "outer_flaps")
    sizes |= dict(zip(names, counts, strict=True))
    facts = "\n".join(f"{name} = {value}" for name, value in sizes.items())
    result = with_facts(facts, EVERYTHING_SPENT)
    notes = result.sheets["pneumatics.cutting_list"].notes
    listed = next(n for n in notes if n.startswith("To buy")).partition(": ")[2].rstrip(".")
    for line in listed.split("; "):
        title, _, amount = line.rpartition(": ")
        number, _, unit = amount.partition(" ")
        planned = sum(
            m.quantity
            for step in result.plans["full"].steps
            for m in step.materials
            if (m.title, m.unit) == (title, unit)
        )
        assert float(number) == pytest.approx(planned, abs=0.006), title
    assert listed.count("; ") == 3


def test_what_is_cut_together_is_what_is_found_to_need_it() -> None:
    """The words with which a cover stays on are those that call for no new one."""
    outcomes = KNOWLEDGE.criteria["pneumatics.reservoir_cloth"].outcomes
    kept = {o.label for o in outcomes if "pneumatics.recover_reservoir" not in o.calls_for}
    assert kept == KEEPS_COVER


def test_exhausters_alone_are_bought_a_length_of_their_own() -> None:
    sizes = "\n".join(
        f"{part}_{size} = {MM_IN_AN_INCH * value}"
        for part, values in (("reservoir", (36, 16, 8)), ("exhauster", (17, 14, 5)))
        for size, value in zip(("length", "width", "opening"), values, strict=True)
    )
    alone = with_facts(sizes, {"exhauster_cloth": "gnawed", "reservoir_cloth": "supple"})
    both = with_facts(sizes, {"exhauster_cloth": "gnawed", "reservoir_cloth": "gnawed"})

    def cloth(result: assess.Assessment, step: str) -> float:
        found = result.plans["full"].step(f"pneumatics.{step}")
        assert found
        return next(m.quantity for m in found.materials if m.unit == "yd")

    long_enough = 1.248 / 0.9144
    assert cloth(alone, "recover_exhausters") >= min(long_enough, 2 * 0.232 / 0.9144)
    assert cloth(both, "recover_exhausters") < cloth(alone, "recover_exhausters")


def test_whole_things_are_bought_without_waste() -> None:
    own_materials = [m for m in KNOWLEDGE.materials.values() if m.id.startswith("pneumatics.")]
    assert [m.id for m in own_materials if m.whole and m.waste] == []


@pytest.mark.parametrize(
    "kit", ["pins_graphite", "felt_leather_bush", "rags_scrapers", "veneer_strip"]
)
def test_a_kit_is_bought_once_a_job(kit: str) -> None:
    """Even if every repair of the wind supply that uses it were in one plan."""
    used = sum(
        use.quantity
        for repair in KNOWLEDGE.repairs.values()
        for use in repair.materials
        if use.id == f"pneumatics.{kit}"
    )
    assert 0 < used <= 2
    plan = plan_of(
        {
            **EVERYTHING_SPENT,
            "rollers": "worn hollow or loose",
            "treadle_hinges": "loose, knock or rub",
            "lower_action_whole": "small parts missing",
        }
    )
    bought = sum(m.quantity for m in plan.materials if m.material == f"pneumatics.{kit}")
    assert bought <= 1


# What is declared


def test_nothing_that_is_new_changes_an_instrument_that_does_not_state_it() -> None:
    result = assess.assess(job_with(own(EVERYTHING_SPENT)))
    steps = {s.step for s in result.plans["full"].steps}
    assert {"pneumatics.recover_reservoir", "pneumatics.recover_exhausters"} <= steps
    special = {
        "releather_reservoir", "renew_hung_gasket", "hand_pump_draws", "player_left_alone",
        "unit_draws", "relay_chest_floor", "reseal_unit_trunk", "renew_inner_valves_by_board",
    }  # fmt: skip
    assert not {f"pneumatics.{name}" for name in special} & steps


def test_a_pressure_instrument_that_holds_well_is_spared_the_questions_about_leaks() -> None:
    answers = {"pneumatics.whole_fall": "95 s"}
    result = judged(answers, {"wind": "pressure"})
    for detail in ("chest_leaks", "foundation_leak", "hissing_spots"):
        found = result.graded.judgements[f"pneumatics.{detail}"]
        assert found.given.startswith("not asked: Hold test"), detail


def test_one_visit_of_an_electrician_serves_the_case_and_the_suction_unit() -> None:
    answers = {
        "casework.mains_near": "old lamps or wires in or on it, not in use",
        "pneumatics.unit_wiring": "looks sound, never tested",
    }
    plan = judged(answers, {"suction_unit": True}).plans["full"]
    (visit,) = [m for m in plan.materials if "electrician" in m.title]
    assert (visit.quantity, visit.kind) == (1, "service")
