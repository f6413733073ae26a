"""How findings of the case and its surroundings are judged, and what they put into a plan."""

from __future__ import annotations

import networkx as nx
import pytest
from seen import (
    FIXTURES,
    Answers,
    assessed,
    chance_of_class,
    is_seen_in_the_home,
    judged,
    numbers,
    outcome,
)

import assess
from assess.assessment import Assessment
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.precedence_graph import master_graph
from assess.knowledge.symptoms import Symptom

KNOWLEDGE = assess.knowledge_in_use()
CASE_CRITERIA = [c for c in KNOWLEDGE.criteria.values() if c.id.startswith("casework.")]


# What keeps it from being played


@pytest.mark.parametrize(
    ("criterion", "answer", "repair"),
    [
        ("casework.legs", "cracked or split", "casework.mend_legs"),
        ("casework.bottom_board", "soft, worm-eaten or missing", "casework.renew_bottom_board"),
        ("casework.squareness", "25 mm", "casework.reglue_case_joints"),
        ("casework.wormed_wood", "many parts crumble", "casework.replace_wormed_wood"),
        ("casework.floor_rock", "16 mm", "casework.level_instrument"),
    ],
)
def test_what_does_not_stand_firm_is_mended_for_playing_order(
    criterion: str, answer: str, repair: str
) -> None:
    """Nobody sits down to a case that may give way: common practice, no source."""
    assert repair in numbers(judged({criterion: answer}).plans["working"])


@pytest.mark.parametrize(
    ("criterion", "answer"),
    [
        ("casework.finish", "flaking off or gone over large areas"),
        ("casework.veneer_missing", 20),
        ("casework.fretwork", "panel missing or in shreds"),
        ("casework.casters_failed", 4),
    ],
)
def test_looks_are_no_part_of_playing_order(criterion: str, answer: str | int) -> None:
    result = judged({criterion: answer})
    assert numbers(result.plans["full"])
    assert numbers(result.plans["working"]) == {}


def test_a_top_that_may_fall_is_fixed_for_playing_and_strapped_to_be_kept() -> None:
    wobbly = judged({"casework.high_top_firm": "wobbles: it could fall"}, {"high_top": True})
    assert "casework.refix_high_top" in numbers(wobbly.plans["working"])
    assert "casework.reglue_high_top" not in numbers(wobbly.plans["working"])
    kept = numbers(wobbly.plans["stabilise"])
    assert "casework.strap_high_top" in kept
    assert "casework.refix_high_top" not in kept


def test_what_is_mended_to_stand_is_tried_with_a_player_before_it_is_accepted() -> None:
    plan = numbers(judged({"casework.legs": "cracked or split"}).plans["working"])
    assert plan["casework.mend_legs"] < plan["casework.stands_firm"] < plan["casework.acceptance"]


# Wishes, rooms and rarity


@pytest.mark.parametrize(
    ("answer", "least"), [("early, rare or never altered", 2), ("only one known", 3)]
)
def test_a_rare_instrument_is_significant_whatever_its_owner_says(answer: str, least: int) -> None:
    """Conserve what is early, rare or unaltered; a sole survivor goes to a museum: S71, S72."""
    found = outcome("casework.significance", answer)
    assert found.significance == least
    assert set(found.against) == {"working", "full"}


@pytest.mark.parametrize(
    ("criterion", "answer"),
    [
        ("casework.climate_care", "cannot be kept right, or the owner will not"),
        ("casework.finish_wish", "sound old finish stripped to look new"),
    ],
)
def test_a_wish_or_a_room_speaks_against_full_restoration_only(criterion: str, answer: str) -> None:
    found = outcome(criterion, answer)
    assert found.advise_against
    assert found.against == ("full",)


def test_no_reason_against_the_work_condemns_the_instrument() -> None:
    """A finding may dissuade from work; it never says that the instrument is worth nothing."""
    said = {
        f"{c.id}: {o.label}": f"{o.advise_against} {o.means}".casefold()
        for c in CASE_CRITERIA
        for o in c.outcomes
        if o.advise_against
    }
    assert len(said) > 6
    condemning = ("hopeless", "worthless", "spare parts", "scrap", "nothing is left of the organ")
    assert [name for name, words in said.items() if any(w in words for w in condemning)] == []


# What is noticed, and where it comes from

SYMPTOMS = [s for s in KNOWLEDGE.symptoms.values() if s.id.startswith("casework.")]


@pytest.mark.parametrize("symptom", SYMPTOMS, ids=lambda s: s.id)
def test_the_first_test_of_a_symptom_opens_nothing(symptom: Symptom) -> None:
    assert KNOWLEDGE.criteria[symptom.tests[0]].place is None


@pytest.mark.parametrize("symptom", SYMPTOMS, ids=lambda s: s.id)
def test_what_most_surely_gives_a_symptom_and_can_be_seen_at_the_visit_is_tested(
    symptom: Symptom,
) -> None:
    strong = {
        c.criterion
        for c in symptom.causes
        if c.strength >= 0.7 and is_seen_in_the_home(c.criterion)
    }
    assert strong <= set(symptom.tests)


@pytest.mark.parametrize(
    ("symptom", "first"),
    [
        ("casework.wobbles", "casework.floor_rock"),
        ("casework.rattles_in_case", "casework.floor_rock"),
        ("casework.fails_in_dry_air", "casework.room_humidity"),
    ],
)
def test_the_floor_and_the_air_are_looked_at_before_the_instrument(
    symptom: str, first: str
) -> None:
    """Shim it and listen again (S10); an organ tight in summer may fail in dry air (S26)."""
    assert KNOWLEDGE.symptoms[symptom].tests[0] == first


# What a cause makes likely elsewhere


@pytest.mark.parametrize(
    ("cause", "harmless", "consequences"),
    [
        (
            {"casework.heating": "floor heating under it"},
            {"casework.heating": "steady and well away"},
            ["reeds.pan_cracks", "pneumatics.chest_joint_gap", "pneumatics.winter_hold"],
        ),
        (
            {"casework.water_damage": "joints open, wood firm"},
            {"casework.water_damage": "none"},
            ["pneumatics.water_damage", "reeds.pan_whole", "casework.veneer_lifting"],
        ),
        (
            {"casework.water_damage": "rings and drips on top"},
            {"casework.water_damage": "none"},
            ["reeds.sample_corrosion", "action.key_pins", "action.sticking_keys"],
        ),
        (
            {"casework.moth": "empty cases, not sure"},
            {"casework.moth": "none"},
            ["action.felt_insects", "action.ciphering_notes", "reeds.reed_bed_felt"],
        ),
        (
            {"casework.rodents": "droppings or urine stains"},
            {"casework.rodents": "none"},
            ["reeds.sample_corrosion", "reeds.dead_reeds", "action.foreign_matter"],
        ),
        (
            {"casework.wood_moisture": "15 %"},
            {"casework.wood_moisture": "8 %"},
            ["action.sticking_keys", "action.stop_pull", "pneumatics.lower_action_damp"],
        ),
        (
            {"casework.earlier_glue": "epoxy, contact cement or foam"},
            {"casework.earlier_glue": "none, or neat with hide glue"},
            ["pneumatics.earlier_bellows_work", "reeds.pan_earlier_work", "action.pallet_facing"],
        ),
    ],
    ids=lambda v: next(iter(v.values())) if isinstance(v, dict) else "",
)
def test_a_cause_makes_its_consequences_likelier_in_every_part(
    cause: Answers, harmless: Answers, consequences: list[str]
) -> None:
    """The trade looks for these where it finds the cause: S25, S26, S35, S66, S99, S107."""
    found, sound = judged(cause), judged(harmless)
    assert consequences
    for criterion in consequences:
        assert chance_of_class(found, criterion, 2) > 1.4 * chance_of_class(sound, criterion, 2), (
            criterion
        )


def test_moth_cases_make_eaten_felt_likelier_not_worn_felt_only() -> None:
    """Where there are cases, something was eaten: pallet and key felts first (S25, S100)."""
    found = judged({"casework.moth": "empty cases, not sure"})
    sound = judged({"casework.moth": "none"})
    for felts in ("action.pallet_facing", "action.frame_felts"):
        assert chance_of_class(found, felts, 3) > 2 * chance_of_class(sound, felts, 3)


def test_no_two_findings_hint_at_each_other() -> None:
    """Associations work both ways; declared twice, they would count twice."""
    hints = {
        (c.id, h.criterion)
        for c in KNOWLEDGE.criteria.values()
        for o in c.outcomes
        for h in o.hints
    }
    assert [pair for pair in hints if pair[0].startswith("casework.") and pair[::-1] in hints] == []


@pytest.mark.parametrize(
    "criterion", [c.id for c in CASE_CRITERIA if any(o.hints for o in c.outcomes)]
)
def test_a_hint_of_the_case_is_moderate(criterion: str) -> None:
    """Nothing but taking it apart makes a fault inside certain."""
    odds = [h.odds for o in KNOWLEDGE.criteria[criterion].outcomes for h in o.hints]
    assert odds
    assert all(1 / 6 <= one <= 6 for one in odds)


# Dry first


def waits_days(result: Assessment, scope: Scope, step: str) -> float:
    """Days that a step of a plan waits."""
    found = result.plans[scope].step(step)
    assert found is not None, step
    return found.waits_hours / 24


DRYING = {"casework.settle_moisture", "pneumatics.dry_lower_action"}
BEFORE_DRY = {"casework.decontaminate", "casework.make_paint_safe"} | DRYING
"""What waits by the clock without being glued: made safe, or dried."""
EASED_OR_DRAWN = {
    "action.ease_keys",
    "action.free_single_keys",
    "action.straighten_keys",
    "action.ease_sticker_holes",
    "action.free_single_stops",
    "action.free_stop_action",
    "action.free_coupler_draw",
    "action.ease_second_manual",
    "action.straighten_mutes",
    "open action.stickers",
    "pneumatics.part_glued_joint",
    "open reeds.cells",
    "reeds.clear_single_reeds",
    "reeds.reseat_reeds",
    "reeds.free_frozen_reeds",
}


def glues(step: str) -> bool:
    """Whether a step glues: it dries, or uses glue."""
    repair = KNOWLEDGE.repairs.get(step)
    if repair is None or step in BEFORE_DRY:
        return False
    return repair.drying_hours > 0 or any("glue" in m.id for m in repair.materials)


def too_early(plan: dict[str, int]) -> list[str]:
    """Steps that glue, ease or draw before the hold point that proves the wood dry."""
    dry = plan["casework.dry_and_clean"]
    return [s for s, n in plan.items() if n < dry and (glues(s) or s in EASED_OR_DRAWN)]


DAMP: Answers = {
    "casework.wood_moisture": "14 %",
    "casework.loose_joints": 6,
    "casework.back_panel_state": "split or cracked",
    "casework.veneer_lifting": 5,
    "casework.music_desk": "loose or cracked",
    "casework.fretwork": "bars cracked or loose",
    "action.sticking_keys": 8,
    "action.stuck_stickers": 4,
    "action.failing_stops": 1,
    "action.coupler_draw": "stiff, worse when damp",
    "action.loose_coverings": 3,
    "reeds.choked_reeds": 5,
    "reeds.frozen_reeds": 2,
    "pneumatics.reservoir_cloth": "cracked at the folds",
    "pneumatics.treadle_covering": "worn through or rusty",
}


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("stem", FIXTURES)
def test_no_fixture_glues_eases_or_draws_before_its_wood_is_dry(stem: str, scope: Scope) -> None:
    plan = numbers(assessed(stem).plans[scope])
    if plan.keys() & DRYING:
        assert too_early(plan) == []


@pytest.mark.parametrize("scope", SCOPES)
def test_nothing_is_glued_eased_or_drawn_in_a_damp_instrument(scope: Scope) -> None:
    plan = numbers(judged(DAMP).plans[scope])
    assert plan["casework.settle_moisture"] < plan["casework.dry_and_clean"]
    assert too_early(plan) == []


def test_some_step_of_every_kind_waits_for_the_dry_wood() -> None:
    plan = numbers(judged(DAMP).plans["full"])
    assert sum(glues(s) for s in plan) > 8
    assert len(EASED_OR_DRAWN & plan.keys()) > 5


def test_every_glued_joint_waits_for_dry_wood_in_any_plan() -> None:
    """Not only in the plans here: a chain of declared reasons leads to each."""
    order = master_graph(KNOWLEDGE)
    waiting = nx.descendants(order, "casework.dry_and_clean")
    steps = [r.id for r in KNOWLEDGE.repairs.values() if glues(r.id) and r.phase == "work"]
    assert len(steps) > 80
    assert [s for s in (*steps, *sorted(EASED_OR_DRAWN)) if s not in waiting] == []


def test_the_wood_is_proved_dry_only_after_it_has_dried() -> None:
    result = judged({"casework.wood_moisture": "14 %"})
    assert waits_days(result, "full", "casework.settle_moisture") >= 28
    proof = KNOWLEDGE.hold_points["casework.dry_and_clean"]
    assert proof.passes
    criterion = KNOWLEDGE.criteria[proof.passes.criterion]
    damp = criterion.outcome_for(13.5)
    assert damp
    assert damp.condition > proof.passes.at_most_class
    works = judged({"pneumatics.lower_action_damp": "wet, or mould growing"})
    plan = numbers(works.plans["stabilise"])
    assert plan["pneumatics.dry_lower_action"] < plan["casework.dry_and_clean"]


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize(
    ("answers", "repair"),
    [
        ({"casework.heating": "floor heating under it"}, "casework.advise_climate"),
        ({"casework.heating": "hot air blown into the room"}, "casework.advise_climate"),
        ({"casework.winter_humidity": "25 %"}, "casework.advise_climate"),
        ({"casework.wood_moisture": "14 %"}, "casework.settle_moisture"),
        ({"casework.wood_moisture": "14 %"}, "casework.advise_climate"),
        (
            {"casework.damp_source": "damp wall, damp floor or cellar"},
            "casework.cure_damp_cause",
        ),
    ],
)
def test_a_root_cause_is_cured_whatever_else_is_done(
    answers: Answers, repair: str, scope: Scope
) -> None:
    """What is made tight opens again in the same air (S26, S107)."""
    assert repair in numbers(judged(answers).plans[scope])


def test_damp_wood_alone_is_dried_where_it_stands() -> None:
    """A month of moving air needs no van: common practice, no source."""
    plan = judged({"casework.wood_moisture": "14 %"}).plans["stabilise"]
    assert plan.step("casework.dry_and_clean")
    assert not plan.workshop_job


def test_the_room_is_watched_for_a_month_before_it_passes_as_dry() -> None:
    result = judged({"casework.damp_source": "damp wall, damp floor or cellar"})
    for scope in SCOPES:
        plan = numbers(result.plans[scope])
        assert waits_days(result, scope, "casework.cure_damp_cause") >= 30
        assert plan["casework.cure_damp_cause"] < plan["casework.room_dry"]
        assert plan["casework.room_dry"] < plan["casework.hand_over_record"]


def test_the_workshop_need_not_stand_still_while_the_room_dries() -> None:
    """The instrument has left the damp room by then: common practice, no source."""
    result = judged(
        {
            "casework.damp_source": "damp wall, damp floor or cellar",
            "pneumatics.reservoir_cloth": "perished, rubber flaking all over",
        }
    )
    plan = result.plans["full"]
    order = nx.descendants(master_graph(KNOWLEDGE), "casework.cure_damp_cause")
    assert "pneumatics.recover_reservoir" in numbers(result.plans["full"])
    assert "pneumatics.recover_reservoir" not in order
    assert plan.step("casework.room_dry")


# Pests dead before anything is opened


LIVE: list[Answers] = [
    {"casework.live_woodworm": "fresh pale dust"},
    {"casework.moth": "live grubs, fresh cases or moths"},
    {"action.key_insects": "fresh pale dust"},
    {"action.felt_insects": "live larvae or fresh cases"},
]


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("live", LIVE, ids=lambda a: next(iter(a)))
def test_live_pests_are_treated_in_one_block_before_anything_is_opened_or_glued(
    live: Answers, scope: Scope
) -> None:
    """Untreated wood is not glued in, nor opened beside other wood: S97."""
    also: Answers = {
        "pneumatics.treadle_covering": "worn through or rusty",
        "action.loose_coverings": 3,
        "action.sticking_keys": 8,
        "casework.fall": "cracked, or a corner broken off",
        "casework.rodents": "droppings or urine stains",
    }
    result = judged({**also, **live})
    plan = numbers(result.plans[scope])
    treated = plan["casework.treat_pests"]
    assert [s for s, n in plan.items() if n < treated and (s.startswith("open ") or glues(s))] == []
    # Three to five weeks without oxygen at room temperature: estimate from memory.
    assert 21 <= waits_days(result, scope, "casework.treat_pests") <= 35


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("stem", FIXTURES)
def test_no_fixture_opens_or_glues_before_live_pests_are_treated(stem: str, scope: Scope) -> None:
    plan = numbers(assessed(stem).plans[scope])
    treated = plan.get("casework.treat_pests", 0)
    assert [s for s, n in plan.items() if n < treated and (s.startswith("open ") or glues(s))] == []


def test_what_may_be_alive_is_watched_for_a_month_before_it_is_glued_in() -> None:
    """Live insects must not be glued in: S97."""
    result = judged(
        {
            "casework.live_woodworm": "clean holes, no dust seen",
            "casework.wormed_wood": "one or two parts crumble",
            "casework.loose_joints": 3,
            "casework.bottom_board": "loose or split",
            "action.eaten_keys": 3,
        }
    )
    plan = numbers(result.plans["full"])
    glued = (
        "casework.replace_wormed_wood",
        "casework.glue_joints_in_place",
        "casework.mend_bottom_board",
        "action.rebuild_key_tails",
    )
    assert waits_days(result, "full", "casework.watch_pests") >= 30
    assert [s for s in glued if plan[s] < plan["casework.watch_pests"]] == []


def test_no_wait_for_a_better_season_runs_into_the_season_of_flight() -> None:
    """Beetles leave the wood from March on (S97): what flies is sealed and treated at once."""
    result = judged(
        {"casework.live_woodworm": "fresh pale dust", "casework.beetle_season": "spring or summer"}
    )
    plan = numbers(result.plans["full"])
    assert waits_days(result, "full", "casework.await_dormant_season") == 0
    assert plan["casework.await_dormant_season"] < plan["casework.bring_to_workshop"]
    assert plan["casework.bring_to_workshop"] < plan["casework.treat_pests"]


# A proof that can fail


@pytest.mark.parametrize("scope", SCOPES)
def test_a_fault_of_dry_air_is_measured_in_dry_air_before_and_after(scope: Scope) -> None:
    """An organ tight in summer may fail in a heated winter (S26): August proves nothing."""
    result = judged(
        {
            "casework.winter_humidity": "22 %",
            "casework.rodents": "droppings or urine stains",
        }
    )
    plan = numbers(result.plans[scope])
    steps = [
        "casework.measure_in_dry_air",
        "casework.humidify_at_home",
        "casework.again_in_moister_air",
        "casework.bring_to_workshop",
        "casework.deliver",
        "casework.proved_in_dry_air",
    ]
    assert sorted(steps, key=plan.__getitem__) == steps
    opened = [n for s, n in plan.items() if s.startswith("open ")]
    assert plan["casework.again_in_moister_air"] < min(opened)
    assert waits_days(result, scope, "casework.humidify_at_home") >= 14


# Prop before a support goes


WEAK: list[Answers] = [
    {"casework.bottom_board": "soft, worm-eaten or missing"},
    {"casework.loose_joints": 10},
    {"casework.wormed_wood": "one or two parts crumble"},
    {"casework.squareness": "25 mm"},
    {"casework.water_damage": "plywood coming apart where it was wet"},
]


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("weak", WEAK, ids=lambda a: next(iter(a)))
def test_a_weak_case_is_propped_or_glued_before_anything_that_carries_is_taken_out(
    weak: Answers, scope: Scope
) -> None:
    """Prop first, then take the support away: common practice, no source."""
    result = judged({**weak, "pneumatics.reservoir_cloth": "perished, rubber flaking all over"})
    plan = numbers(result.plans[scope])
    glued = plan.get("casework.glue_joints_in_place")
    firm = plan.get("casework.support_base", glued)
    assert firm
    taken_out = {
        "open action.upper_action",
        "open pneumatics.lower_action",
        "casework.reglue_case_joints",
        "casework.renew_bottom_board",
        "casework.replace_wormed_wood",
        "casework.renew_ply_panels",
    }
    assert [s for s in taken_out & plan.keys() if plan[s] < firm] == []


SUPPORTS = {"casework.renew_bottom_board", "casework.mend_legs", "casework.make_legs"}


@pytest.mark.parametrize("stem", FIXTURES)
def test_no_fixture_takes_a_support_out_of_a_case_that_is_not_propped(stem: str) -> None:
    for scope in SCOPES:
        plan = numbers(assessed(stem).plans[scope])
        for step in SUPPORTS & plan.keys():
            assert plan["casework.support_base"] < plan[step], scope


def test_some_fixture_dries_its_wood_and_some_takes_a_support_out() -> None:
    plans = [numbers(assessed(stem).plans["full"]) for stem in FIXTURES]
    assert any(plan.keys() & DRYING for plan in plans)
    assert any(plan.keys() & SUPPORTS for plan in plans)


def test_a_prop_is_no_cure() -> None:
    result = judged({"casework.wormed_wood": "one or two parts crumble"})
    assert "casework.replace_wormed_wood" in numbers(result.plans["working"])
    assert KNOWLEDGE.repairs["casework.support_base"].restores_to >= 2


# The least that cures


def test_a_few_more_loose_joints_do_not_take_the_case_apart() -> None:
    """Single joints are glued in place until that takes as long as knocking the case apart."""
    hours = {}
    for joints in range(1, 13):
        plan = judged({"casework.loose_joints": joints}).plans["full"]
        hours[joints] = plan.hours.mean
        if joints < 8:
            assert plan.step("casework.glue_joints_in_place")
            assert plan.step("open pneumatics.lower_action") is None
    assert hours[5] - hours[4] < 2 * (hours[4] - hours[3])
    assert judged({"casework.loose_joints": 12}).plans["full"].step("casework.reglue_case_joints")


def test_for_playing_order_loose_joints_are_glued_where_they_are() -> None:
    plan = numbers(judged({"casework.loose_joints": 10}).plans["working"])
    assert "casework.glue_joints_in_place" in plan
    assert "open pneumatics.lower_action" not in plan


def test_a_case_a_little_out_of_square_is_pulled_square_with_its_works_in() -> None:
    plan = numbers(judged({"casework.squareness": "9 mm"}).plans["full"])
    assert "casework.pull_square" in plan
    assert "open pneumatics.lower_action" not in plan
    leaning = numbers(judged({"casework.squareness": "25 mm"}).plans["full"])
    assert "casework.reglue_case_joints" in leaning
