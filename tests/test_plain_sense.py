"""What would make a craftsman shake his head over a plan, each thing once seen in one."""

from __future__ import annotations

import assess
from assess.scopes import Plan
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


# What must be watched takes time


def test_the_proof_that_nothing_lives_takes_its_thirty_days() -> None:
    plan = full_plan({"casework.live_woodworm": "fresh pale dust"})
    assert waits_days(plan, "casework.no_live_pests") == 30


def test_watching_whether_anything_lives_takes_a_month() -> None:
    plan = full_plan({"casework.live_woodworm": "clean holes, no dust seen"})
    assert waits_days(plan, "casework.watch_pests") == 30
