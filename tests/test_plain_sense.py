"""Mistakes that a craftsman would object to in a plan, each of them once seen in one."""

from __future__ import annotations

import assess
from assess.planning.plan import Plan
from assess.testing import job_with


def full_plan(
    answers: dict[str, str | float | int], features: dict[str, bool | str] | None = None
) -> Plan:
    """The full plan by all installed plugins."""
    return assess.assess(job_with(answers, features)).plans["full"]


def waits_days(plan: Plan, step: str) -> float:
    """Days that a step of the plan waits."""
    found = plan.step(step)
    assert found is not None
    return found.waits_hours / 24


# Watching takes time


def test_the_proof_that_nothing_lives_takes_its_thirty_days() -> None:
    plan = full_plan({"casework.live_woodworm": "fresh pale dust"})
    assert waits_days(plan, "casework.no_live_pests") == 30


def test_watching_whether_anything_lives_takes_a_month() -> None:
    plan = full_plan({"casework.live_woodworm": "clean holes, no dust seen"})
    assert waits_days(plan, "casework.watch_pests") == 30


# One search, one wait


def test_leaks_are_not_traced_where_the_perished_cover_is_renewed() -> None:
    poor = {"pneumatics.whole_hold": "8 s"}
    perished = "perished, rubber flaking all over"
    assert full_plan(poor).step("pneumatics.trace_leaks")
    plan = full_plan({**poor, "pneumatics.reservoir_cloth": perished})
    assert plan.step("pneumatics.trace_leaks") is None
    assert plan.replaced["pneumatics.trace_leaks"] == "pneumatics.recover_reservoir"


def test_a_leak_is_still_traced_where_the_cover_is_only_patched() -> None:
    result = assess.assess(
        job_with(
            {
                "pneumatics.whole_hold": "8 s",
                "pneumatics.reservoir_cloth": "split, or light shines through",
            }
        )
    )
    steps = {s.step for s in result.plans["working"].steps}
    assert steps >= {"pneumatics.trace_leaks", "pneumatics.patch_reservoir_cloth"}


def test_keys_of_a_silent_run_are_not_traced_one_by_one() -> None:
    dead = {"action.dead_keys": 11}
    assert full_plan(dead).step("action.trace_dead_keys")
    plan = full_plan({**dead, "action.silent_run": "several neighbouring notes"})
    assert plan.step("action.trace_silent_run")
    assert plan.step("action.trace_dead_keys") is None


def test_damp_wood_is_dried_in_one_wait() -> None:
    damp_works = {"pneumatics.lower_action_damp": "damp to the touch"}
    assert full_plan(damp_works).step("pneumatics.dry_lower_action")
    plan = full_plan({**damp_works, "casework.wood_moisture": "15 %"})
    assert plan.step("casework.settle_moisture")
    assert plan.step("pneumatics.dry_lower_action") is None
    assert plan.step("casework.acclimatise") is None


def test_nothing_is_opened_or_glued_before_that_wait_is_over() -> None:
    plan = full_plan(
        {
            "casework.wood_moisture": "15 %",
            "pneumatics.lower_action_damp": "damp to the touch",
            "pneumatics.reservoir_cloth": "perished, rubber flaking all over",
        }
    )
    numbers = {s.step: s.number for s in plan.steps}
    dry = numbers["casework.settle_moisture"]
    assert dry < numbers["open pneumatics.lower_action"]
    assert dry < numbers["pneumatics.recover_reservoir"]


# Set where it is played


def test_straps_are_set_with_the_lower_action_in_the_case() -> None:
    plan = full_plan(
        {
            "pneumatics.strap_slack": "50 mm",
            "pneumatics.reservoir_cloth": "perished, rubber flaking all over",
        }
    )
    numbers = {s.step: s.number for s in plan.steps}
    assert numbers["close pneumatics.lower_action"] < numbers["pneumatics.adjust_straps"]
    assert numbers["pneumatics.adjust_straps"] < numbers["pneumatics.whole_instrument_tight"]


def test_the_second_manual_and_its_coupler_are_set_to_a_finished_first() -> None:
    plan = full_plan(
        {
            "action.second_manual_felts": "hard",
            "action.manual_coupler": "notes fail or stay on",
            "action.key_dip": "6 mm",
        },
        {"second_manual": True},
    )
    numbers = {s.step: s.number for s in plan.steps}
    order = [
        "action.overhaul_second_manual",
        "action.repair_manual_coupler",
        "action.set_key_dip",
        "action.set_second_manual",
        "action.regulate_manual_coupler",
        "action.final_regulation",
    ]
    assert sorted(order, key=numbers.__getitem__) == order


# Dangers and wrong advice


def test_a_suction_unit_nobody_looked_at_is_left_to_an_electrician() -> None:
    answers: dict[str, str | float | int] = {"action.dead_keys": 3}
    assert "pneumatics.mains" not in full_plan(answers).cautions
    plan = full_plan(answers, {"suction_unit": True})
    assert "pneumatics.mains" in plan.cautions
    assert plan.step("pneumatics.unit_unplugged")
    caution = assess.knowledge_in_use().cautions["pneumatics.mains"]
    assert "electrician" in caution.defer_to


def test_reed_work_that_fits_both_kinds_of_wind_speaks_of_neither() -> None:
    knowledge = assess.knowledge_in_use()
    works = [*knowledge.repairs.values(), *knowledge.hold_points.values()]
    said = {
        work.id: " ".join(str(getattr(work, field, "")) for field in ("title", "how", "test"))
        for work in works
        if work.id.startswith("reeds.") and not {"suction", "pressure"} & set(work.needs)
    }
    assert len(said) > 10
    assert [step for step, words in said.items() if "suction" in words or "suck" in words] == []


def test_a_bottom_board_is_not_counted_among_wormed_members_too() -> None:
    knowledge = assess.knowledge_in_use()
    assert "bottom board" in knowledge.criteria["casework.wormed_wood"].how
    assert "bottom board" in knowledge.repairs["casework.replace_wormed_wood"].how
