"""What a finding on the wind supply leads to: the least work that cures it, and its proof.

Each rule that is compared with is common practice of the trade (no source), unless its test
names one.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from seen import Answers, Features, chance_of_class, judged, strengths

import assess
from assess.knowledge.criteria import Outcome
from assess.knowledge.model_base import Scope
from assess.knowledge.work import HoldPoint
from assess.planning.plan import Plan

KNOWLEDGE = assess.knowledge_in_use()
WIND = "pneumatics.wind_holds"
TREADLES = "pneumatics.treadles_work"
PRESSURE: Features = {"wind": "pressure"}
RIBBED: Features = {"ribbed_exhausters": True}
NEW_COVERS = {
    "pneumatics.recover_reservoir",
    "pneumatics.recover_exhausters",
    "pneumatics.rebuild_ribbed_exhausters",
    "pneumatics.recover_feeders",
}
AN_HOUR_AND_ITS_ROUTINE = 3.5
"""Bench hours of a job of about an hour at home, with tests, record, agreement, and hand-over.

In so short a job nothing is batched, and every hour counts in full.
"""
LEATHER_DRESSED = 1.0
"""Bench hours of working a dressing into the leather of one set of bellows."""


def full_id(name: str) -> str:
    """An id of the wind supply, which this file writes without its name; others as they are."""
    return name if "." in name else f"pneumatics.{name}"


def wind_supply(answers: Answers, features: Features | None = None) -> assess.Assessment:
    """An instrument with these answers."""
    return judged({full_id(name): answer for name, answer in answers.items()}, features)


def plan_of(answers: Answers, scope: Scope = "working", features: Features | None = None) -> Plan:
    """The plan of a scope."""
    return wind_supply(answers, features).plans[scope]


def steps_of(plan: Plan) -> list[str]:
    """The steps of a plan in their order, those of the wind supply without its name."""
    return [s.step.replace("pneumatics.", "") for s in plan.steps]


def in_order(plan: Plan, *steps: str) -> bool:
    """Whether a plan has these steps in this order."""
    numbers = [steps_of(plan).index(step) for step in steps]
    return all(a < b for a, b in pairwise(numbers))


def outcomes() -> list[tuple[str, Outcome]]:
    """Every outcome of the wind supply, with the id of its criterion."""
    return [
        (criterion.id, outcome)
        for criterion in KNOWLEDGE.criteria.values()
        if criterion.id.startswith("pneumatics.")
        for outcome in criterion.outcomes
    ]


# What keeps it from being played


def test_each_serious_finding_says_whether_it_can_be_played_all_the_same() -> None:
    silent = [
        (criterion, outcome.label)
        for criterion, outcome in outcomes()
        if outcome.condition >= 2 and not (outcome.breaks or outcome.breaks_none)
    ]
    assert silent == []


def test_what_cannot_be_played_calls_for_work_in_playing_order() -> None:
    idle = [
        (criterion, outcome.label)
        for criterion, outcome in outcomes()
        if outcome.breaks and not outcome.calls("working")
    ]
    assert idle == []


@pytest.mark.parametrize(
    ("finding", "features"),
    [
        ({"whole_hold": "15 s"}, {}),
        ({"hissing_spots": 12}, {}),
        ({"reservoir_cloth": "cracked at the folds"}, {}),
        ({"exhauster_cloth": "cracked at the folds"}, {}),
        ({"exhauster_leather": "worn at the corners, or ribs loose"}, RIBBED),
        ({"inner_valve_leather": "curled, hard or leaking"}, {}),
        ({"strokes_to_close": 20}, {}),
        ({"deep_note": "7 s"}, {}),
        ({"first_pump": "one side dead"}, {}),
        ({"whole_fall": "15 s"}, PRESSURE),
        ({"feeder_covers": "cracked at folds or gussets"}, PRESSURE),
        ({"wind_trunks": "clear hiss at joints"}, PRESSURE),
    ],
)
def test_lost_wind_and_dead_treadles_are_cured_and_proved_in_playing_order(
    finding: Answers, features: Features
) -> None:
    steps = steps_of(plan_of(finding, features=features))
    proofs = {"whole_instrument_tight", "pressure_whole_tight", "treadles_draw"}
    assert proofs & set(steps)


@pytest.mark.parametrize("finding", [{"whole_hold": "60 s"}, {"straps": "worn at the roller"}])
def test_what_can_be_played_is_left_alone_in_playing_order(
    finding: Answers,
) -> None:
    assert steps_of(plan_of(finding)) == []


@pytest.mark.parametrize("scope", ["working", "full"])
@pytest.mark.parametrize(
    "finding",
    [
        {"whole_hold": "8 s"},
        {"hissing_spots": 1},
        {"hissing_spots": 12},
        {"mutes_hold": "10 s"},
        {"chord_hold": "8 s"},
        {"sag": "70 %"},
        {"chest_leaks": "clear hiss"},
    ],
)
def test_a_search_for_leaks_is_never_the_whole_cure(finding: Answers, scope: Scope) -> None:
    plan = plan_of(finding, scope)
    if finding != {"hissing_spots": 1} or scope == "full":
        assert in_order(plan, "trace_leaks", "seal_traced_leaks", "whole_instrument_tight")


def test_a_search_is_followed_by_a_test_whatever_calls_for_it() -> None:
    for search, proofs in (
        ("trace_leaks", {"whole_instrument_tight", "pressure_whole_tight"}),
        ("search_treadles", {"treadles_draw", "hand_pump_draws"}),
    ):
        holds = {
            hold.id.removeprefix("pneumatics.")
            for hold in KNOWLEDGE.hold_points.values()
            if f"pneumatics.{search}" in hold.proves
        }
        assert holds == proofs


def test_a_leak_that_was_found_is_not_sealed_twice() -> None:
    steps = steps_of(plan_of({"whole_hold": "15 s", "reservoir_cloth": "cracked at the folds"}))
    assert "patch_reservoir_cloth" in steps
    assert "seal_traced_leaks" not in steps


def test_a_broken_strap_ends_the_search_for_the_dead_side() -> None:
    dead = {"first_pump": "one side dead"}
    assert "search_treadles" in steps_of(plan_of(dead))
    steps = steps_of(plan_of({**dead, "straps": "broken or off"}))
    assert "search_treadles" not in steps
    assert steps.index("renew_straps") < steps.index("treadles_draw")


def test_the_proof_of_the_treadles_opens_nothing_that_a_strap_does_not() -> None:
    plan = plan_of({"straps": "broken or off"})
    opened = [step for step in steps_of(plan) if step.startswith("open ")]
    assert opened == ["open casework.lower_front"]
    assert in_order(plan, "renew_straps", "treadles_draw", "close casework.lower_front")
    assert KNOWLEDGE.requirements[TREADLES].proved_by[0] == "pneumatics.treadles_draw"


# Tests that the planned work can pass


def mark(hold: str, scope: Scope = "full") -> float:
    """The least number that a hold point lets through."""
    found = KNOWLEDGE.hold_points[f"pneumatics.{hold}"]
    passes = found.passes
    assert passes is not None
    most = passes.at_most_class
    if scope == "working" and passes.at_most_class_to_work is not None:
        most = passes.at_most_class_to_work
    let_through = [
        o.from_
        for o in KNOWLEDGE.criteria[passes.criterion].outcomes
        if o.condition <= most and o.from_ is not None
    ]
    return min(let_through)


@pytest.mark.parametrize(
    ("new", "old"),
    [
        ("reservoir_alone", "resealed_reservoir_holds"),
        ("pressure_reservoir_alone", "pressure_resealed_reservoir_holds"),
        ("new_covers_hold", "lower_action_complete"),
        ("pressure_new_covers_hold", "pressure_lower_action_complete"),
    ],
)
def test_a_new_cover_must_hold_longer_than_an_old_one(new: str, old: str) -> None:
    assert mark(new) >= 2 * mark(old)


def test_what_resealing_promises_passes_its_test() -> None:
    """A resealed cover holds as long as is acceptable for an old one, in any scope."""
    for hold in ("resealed_reservoir_holds", "lower_action_complete"):
        acceptable = next(
            o.from_
            for o in KNOWLEDGE.criteria["pneumatics.reservoir_hold"].outcomes
            if o.label == "acceptable for an old cover"
        )
        assert mark(hold, "full") == mark(hold, "working") == acceptable


def test_no_repair_promises_less_than_its_own_test_asks() -> None:
    """A repair that leaves class 1 behind is not tested for class 0 of what it repaired."""
    asked_too_much = [
        (hold.id, step)
        for hold in KNOWLEDGE.hold_points.values()
        if hold.id.startswith("pneumatics.") and hold.passes and hold.passes.at_most_class == 0
        for step in hold.proves
        if step in KNOWLEDGE.repairs
        and KNOWLEDGE.repairs[step].restores_to > 0
        and hold.passes.at_most_class_to_work is None
    ]
    assert asked_too_much == []


@pytest.mark.parametrize("scope", ["working", "full"])
def test_an_old_cover_and_a_new_one_are_not_asked_for_the_same(scope: Scope) -> None:
    resealed = steps_of(plan_of({"reservoir_hold": "30 s"}, scope))
    assert {"reseal_reservoir", "resealed_reservoir_holds"} <= set(resealed)
    assert not {"reservoir_alone", "new_covers_hold"} & set(resealed)
    renewed = steps_of(plan_of({"reservoir_hold": "10 s"}, scope))
    assert {"recover_reservoir", "reservoir_alone", "new_covers_hold"} <= set(renewed)
    assert "resealed_reservoir_holds" not in renewed


def marked(hold: HoldPoint) -> bool:
    """Whether a hold point reads a number that a requirement depends on."""
    return (
        hold.id.startswith("pneumatics.")
        and hold.passes is not None
        and hold.id.removeprefix("pneumatics.")
        in {
            "whole_instrument_tight",
            "pressure_whole_tight",
            "lower_action_complete",
            "pressure_lower_action_complete",
            "resealed_reservoir_holds",
            "pressure_resealed_reservoir_holds",
            "resealed_exhausters_hold",
            "resealed_feeders_hold",
            "treadles_draw",
            "upper_action_tight",
        }
    )


def test_what_a_test_lets_through_can_be_played_and_what_it_refuses_cannot() -> None:
    holds = [h for h in KNOWLEDGE.hold_points.values() if marked(h)]
    assert len(holds) == 10
    for hold in holds:
        assert hold.passes is not None
        most = hold.passes.at_most_class_to_work
        most = hold.passes.at_most_class if most is None else most
        for outcome in KNOWLEDGE.criteria[hold.passes.criterion].outcomes:
            assert outcome.stops_use is (outcome.condition > most), (hold.id, outcome.label)


# The least that cures


@pytest.mark.parametrize("scope", ["working", "full"])
@pytest.mark.parametrize(
    "finding",
    [
        {"flap_sound": "hiss on the return stroke"},
        {"outer_valve_leather": "curled or hard"},
        {"flap_gap": "2 mm"},
        {"exhauster_return": "4 s"},
    ],
)
def test_an_outer_valve_or_a_spring_is_an_hour_with_the_front_off(
    finding: Answers, scope: Scope
) -> None:
    plan = plan_of(finding, scope)
    opened = [step for step in steps_of(plan) if step.startswith("open ")]
    assert opened == ["open casework.lower_front"]
    assert plan.estimate.hours.p50 <= AN_HOUR_AND_ITS_ROUTINE


@pytest.mark.parametrize("scope", ["working", "full"])
def test_white_glue_on_tight_bellows_is_left_alone(scope: Scope) -> None:
    for glue in ("white or yellow glue", "contact cement, hot-melt or silicone"):
        assert steps_of(plan_of({"earlier_bellows_work": glue}, scope)) == []


def test_white_glue_is_undone_where_the_cover_comes_off_in_any_case() -> None:
    worn = {"exhauster_cloth": "perished, rubber flaking all over"}
    glued = plan_of({**worn, "earlier_bellows_work": "white or yellow glue"}, "full")
    assert in_order(
        glued, "open exhauster_interior", "reverse_earlier_repairs", "clean_exhauster_boards"
    )
    assert "open reservoir_interior" not in steps_of(glued)
    hide = plan_of({**worn, "earlier_bellows_work": "hide glue and cloth, well done"}, "full")
    assert "reverse_earlier_repairs" not in steps_of(hide)


@pytest.mark.parametrize("gasket", ["chest_gasket", "foundation_gasket"])
def test_a_hard_but_tight_gasket_stays(gasket: str) -> None:
    assert steps_of(plan_of({gasket: "hard or flattened"}, "full")) == []
    assert steps_of(plan_of({gasket: "gaps in the mark of compression"}, "full")) != []


@pytest.mark.parametrize("scope", ["working", "full"])
@pytest.mark.parametrize(
    ("finding", "glued", "features"),
    [
        (
            {"reservoir_cloth": "an edge has come unglued, cloth sound"},
            "reglue_reservoir_edge",
            {},
        ),
        (
            {"exhauster_cloth": "an edge has come unglued, cloth sound"},
            "reglue_exhauster_edge",
            {},
        ),
        (
            {"exhauster_leather": "an edge has come unglued, leather sound"},
            "reglue_exhauster_edge",
            RIBBED,
        ),
        (
            {"feeder_covers": "an edge has come unglued, cover sound"},
            "reglue_feeder_edge",
            PRESSURE,
        ),
    ],
)
def test_a_loose_edge_is_glued_down_and_the_cover_stays(
    finding: Answers,
    glued: str,
    features: Features,
    scope: Scope,
) -> None:
    plan = plan_of(finding, scope, features)
    assert glued in steps_of(plan)
    assert not NEW_COVERS & {s.step for s in plan.steps}
    dressed = [step for step in steps_of(plan) if step.startswith("dress_")]
    assert scope == "full" or not dressed
    assert plan.estimate.hours.p50 <= AN_HOUR_AND_ITS_ROUTINE + LEATHER_DRESSED * len(dressed)


@pytest.mark.parametrize("scope", ["working", "full"])
@pytest.mark.parametrize(
    ("finding", "features"),
    [
        ({"inner_valve_leather": "curled, hard or leaking"}, RIBBED),
        ({"inner_valve_leather": "crumbled or missing"}, {}),
        ({"feeder_valves": "hiss, or the wind pushes back"}, PRESSURE),
        ({"reservoir_springs_inside": "broken or missing"}, {}),
    ],
)
def test_a_sound_cover_is_not_stripped_to_reach_what_is_behind_it(
    finding: Answers, features: Features, scope: Scope
) -> None:
    plan = plan_of(finding, scope, features)
    assert steps_of(plan) != []
    assert not NEW_COVERS & {s.step for s in plan.steps}
    assert not [s for s in steps_of(plan) if s.startswith("open ") and "interior" in s]


def test_behind_a_cover_that_comes_off_the_valves_are_renewed_the_plain_way() -> None:
    plan = plan_of(
        {
            "exhauster_leather": "eaten, or turning to powder all over",
            "inner_valve_leather": "curled, hard or leaking",
        },
        "full",
        RIBBED,
    )
    assert "renew_inner_valves" in steps_of(plan)
    assert "renew_inner_valves_at_edge" not in steps_of(plan)


def test_screws_are_tightened_before_a_gasket_is_renewed_for_playing_order() -> None:
    hiss = {"foundation_leak": "clear hiss in places"}
    steps = steps_of(plan_of(hiss))
    assert "tighten_foundation_screws" in steps
    assert "open action.upper_action" not in steps
    assert "renew_foundation_gasket" in steps_of(plan_of(hiss, "full"))
    blows = {"foundation_leak": "blows along the whole line"}
    assert "renew_foundation_gasket" in steps_of(plan_of(blows))


# Gates


@pytest.mark.parametrize("scope", ["working", "full"])
def test_a_fault_of_dry_air_is_reproduced_before_anything_is_opened(scope: Scope) -> None:
    plan = plan_of({"winter_hold": "no wind at all in winter"}, scope)
    steps = steps_of(plan)
    measured = steps.index("reproduce_dry_fault")
    assert all(measured < n for n, step in enumerate(steps) if step.startswith("open "))
    assert steps.index("holds_in_dry_air") > measured
    found = plan.step("pneumatics.reproduce_dry_fault")
    assert found is not None
    assert found.waits_hours >= 28 * 24


def test_for_playing_order_the_air_is_cured_before_the_gasket() -> None:
    steps = steps_of(plan_of({"winter_hold": "no wind at all in winter"}))
    assert "renew_chest_gasket" not in steps
    assert "casework.advise_climate" in steps


@pytest.mark.parametrize(
    ("finding", "features", "inside", "proof", "closed"),
    [
        (
            {"exhauster_cloth": "perished, rubber flaking all over"},
            {},
            "renew_inner_valves",
            "inner_valves_seat",
            "close exhauster_interior",
        ),
        (
            {"feeder_covers": "perished all over"},
            PRESSURE,
            "renew_feeder_valves",
            "feeder_valves_seat",
            "close feeder_interior",
        ),
        (
            {"inner_valve_leather": "crumbled or missing"},
            {},
            "renew_inner_valves_at_edge",
            "resealed_exhausters_hold",
            "close lower_action",
        ),
        (
            {"reservoir_cloth": "perished, rubber flaking all over"},
            {},
            "recover_reservoir",
            "reservoir_alone",
            "close lower_action",
        ),
        (
            {"foundation_gasket": "gaps in the mark of compression"},
            {},
            "renew_foundation_gasket",
            "gasket_joint",
            "close action.upper_action",
        ),
    ],
)
def test_what_will_be_hidden_is_proved_before_it_is_closed(
    finding: Answers,
    features: Features,
    inside: str,
    proof: str,
    closed: str,
) -> None:
    assert in_order(plan_of(finding, "full", features), inside, proof, closed)


def test_outer_valves_and_springs_are_on_before_the_lower_action_is_tested() -> None:
    plan = plan_of({"exhauster_cloth": "perished, rubber flaking all over"}, "full")
    for part in ("renew_outer_valves", "match_exhauster_springs"):
        assert in_order(plan, "recover_exhausters", part, "exhausters_alone")
        assert in_order(plan, part, "lower_action_complete", "close lower_action")


# What one finding makes likelier


def chance(
    criterion: str, answers: Answers, features: Features | None = None, from_class: int = 2
) -> float:
    """How likely a finding of some class and worse is."""
    return chance_of_class(wind_supply(answers, features), full_id(criterion), from_class)


@pytest.mark.parametrize("hold", ["whole_fall", "strokes_to_fill"])
def test_a_massive_loss_makes_valves_and_covers_of_the_feeders_suspect(hold: str) -> None:
    readings: dict[str, tuple[str | int, str | int]] = {
        "whole_fall": ("3 s", "120 s"),
        "strokes_to_fill": (50, 5),
    }
    bad, good = readings[hold]
    for part in ("feeder_valves", "feeder_covers"):
        usual = chance(part, {}, PRESSURE)
        assert chance(part, {hold: bad}, PRESSURE) > usual > chance(part, {hold: good}, PRESSURE)


def test_sound_covers_do_not_clear_the_valves_of_a_massive_loss() -> None:
    """Sound covers say that the instrument was cared for, but the loss must still come from
    somewhere: the valves stay likelier to be bad than where nothing is known."""
    usual = chance("feeder_valves", {}, PRESSURE)
    loss: Answers = {
        "whole_fall": "3 s",
        "strokes_to_fill": 50,
        "feeder_covers": "supple and tight",
    }
    assert chance("feeder_valves", loss, PRESSURE) > 1.5 * usual


@pytest.mark.parametrize(
    ("seen", "sound", "suspect", "features"),
    [
        (
            {"first_pump": "one side dead"},
            {"first_pump": "one moves less air than the other"},
            ["straps", "outer_valve_leather", "rollers", "treadle_hinges"],
            {},
        ),
        (
            {"first_pump": "one side dead"},
            {"first_pump": "one moves less air than the other"},
            ["straps", "feeder_valves"],
            PRESSURE,
        ),
        (
            {"water_damage": "plywood lifting on several boards"},
            {"water_damage": "none"},
            ["reservoir_boards", "chest_whole", "lower_action_damp", "casework.mould", "straps"],
            {},
        ),
        (
            {"lower_action_damp": "wet, or mould growing"},
            {"lower_action_damp": "dry and clean"},
            ["casework.mould", "action.stuck_stickers", "reeds.sample_corrosion"],
            {},
        ),
        (
            {"exhauster_leather": "eaten, or turning to powder all over"},
            {"exhauster_leather": "soft and tight"},
            ["outer_valve_leather", "action.pallet_facing", "casework.moth", "casework.rodents"],
            RIBBED,
        ),
        (
            {"wind_way": "blocked"},
            {"wind_way": "free"},
            ["action.foreign_matter", "reeds.sample_corrosion", "casework.rodents"],
            {},
        ),
        (
            {"hissing_spots": 12},
            {"hissing_spots": 0},
            ["reservoir_cloth", "chest_gasket", "foundation_gasket"],
            {},
        ),
        (
            {"earlier_bellows_work": "tape or plastic sheet"},
            {"earlier_bellows_work": "none"},
            ["reservoir_cloth", "exhauster_cloth"],
            {},
        ),
    ],
)
def test_a_finding_makes_what_it_causes_and_what_causes_it_likelier(
    seen: Answers, sound: Answers, suspect: list[str], features: Features
) -> None:
    assert suspect
    for criterion in suspect:
        with_it = chance(criterion, seen, features)
        without = chance(criterion, sound, features)
        assert with_it > chance(criterion, {}, features)
        assert with_it / (1 - with_it) > 1.2 * without / (1 - without)


def test_a_heavy_treadle_still_has_its_strap() -> None:
    heavy = {"first_pump": "heavy, but no wind at the keys"}
    limp = {"first_pump": "both limp"}
    assert chance("straps", heavy, from_class=3) < chance("straps", limp, from_class=3) / 2
    assert chance("inner_valve_leather", heavy, from_class=3) > chance(
        "inner_valve_leather", limp, from_class=3
    )


# Symptoms

SYMPTOMS = {
    key: symptom for key, symptom in KNOWLEDGE.symptoms.items() if key.startswith("pneumatics.")
}
ORDER_OF_CAUSES = {
    "no_wind": ["straps", "outer_valve_leather", "exhauster_cloth"],
    "heavy_treadles": ["inner_valve_leather", "wind_way"],
    "only_bass_plays": ["chest_seams", "action.swell_travel"],
    "one_treadle_dead": ["straps", "outer_valve_leather", "exhauster_cloth"],
}
"""Causes as the trade ranks them (common practice; the seam and the shutter: S18)."""


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_at_least_three_looks_tell_the_causes_apart(symptom: str) -> None:
    assert len(SYMPTOMS[symptom].tests) >= 3


@pytest.mark.parametrize("symptom", ["no_wind", "one_treadle_dead"])
def test_a_strap_is_pulled_by_hand_before_anything_else(symptom: str) -> None:
    first = SYMPTOMS[f"pneumatics.{symptom}"].tests[0]
    assert first == "pneumatics.straps"
    assert "by hand" in KNOWLEDGE.criteria[first].how


def test_where_wind_is_lost_the_hold_test_comes_first() -> None:
    assert SYMPTOMS["pneumatics.loses_wind"].tests[0] == "pneumatics.whole_hold"
    assert SYMPTOMS["pneumatics.reservoir_sinks"].tests[0] == "pneumatics.whole_fall"


@pytest.mark.parametrize("symptom", ORDER_OF_CAUSES)
def test_the_likeliest_cause_is_named_first_and_is_the_strongest(symptom: str) -> None:
    found = SYMPTOMS[f"pneumatics.{symptom}"]
    strength = {c.removeprefix("pneumatics."): s for c, s in strengths(found).items()}
    ranked = ORDER_OF_CAUSES[symptom]
    assert found.causes[0].criterion == f"pneumatics.{ranked[0]}"
    assert sorted(ranked, key=lambda name: -strength[name]) == ranked
    assert all(strength[name] >= 0.5 for name in ranked)


def test_only_no_wind_at_all_keeps_everything_from_sounding() -> None:
    assert [s.id for s in SYMPTOMS.values() if s.stops_all] == ["pneumatics.no_wind"]
    assert set(SYMPTOMS["pneumatics.no_wind"].breaks) == {WIND, TREADLES}


@pytest.mark.parametrize("symptom", [s for s in SYMPTOMS if SYMPTOMS[s].breaks])
def test_what_breaks_a_requirement_has_causes_that_call_for_work(symptom: str) -> None:
    strongest = SYMPTOMS[symptom].causes[0]
    worst = max(KNOWLEDGE.criteria[strongest.criterion].outcomes, key=lambda o: o.condition)
    assert worst.calls("working")
