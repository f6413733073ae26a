"""What an object must do to be used: where a plan proves it, and what the plan leaves alone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from assess.grading.judgements import Judgement
from assess.knowledge.symptoms import Requirement
from assess.planning.plan import Plan
from assess.planning.planner import Planner


@dataclass(frozen=True)
class RequirementInPlan:
    """One requirement, as a plan treats it.

    Attributes:
        requirement: what must be met.
        broken_by: findings that break it.
        mended: whether the plan mends all of them.
        proofs: the numbers of the steps that prove it.
        searches: the numbers of the steps that find the cause of a complaint that breaks it.
    """

    requirement: Requirement
    broken_by: tuple[Judgement, ...]
    mended: bool
    proofs: tuple[int, ...]
    searches: tuple[int, ...] = ()


@dataclass(frozen=True)
class LeftAlone:
    """A finding that a plan does nothing about, and why not."""

    finding: Judgement
    why: str


def requirements_of(planner: Planner, plan: Plan) -> tuple[RequirementInPlan, ...]:
    """Every requirement that applies to the object, in declared order."""
    numbers = {step.step: step.number for step in plan.steps}
    found = []
    for requirement in planner.knowledge.requirements.values():
        if not planner.configuration.admits(requirement.needs, requirement.excludes):
            continue
        broken = tuple(f for f in planner.graded.findings if requirement.id in f.outcome.breaks)
        proofs = sorted(numbers[hold] for hold in requirement.proved_by if hold in numbers)
        mended = all(_is_mended(finding, plan) for finding in broken)
        searches = tuple(
            numbers[search.step]
            for search in planner.context.searches
            if search.step in numbers
            and requirement.id in planner.knowledge.symptoms[search.symptom].breaks
        )
        found.append(
            RequirementInPlan(requirement, broken, mended, tuple(proofs), tuple(sorted(searches)))
        )
    return tuple(found)


def left_alone(planner: Planner, plan: Plan, use: str) -> tuple[LeftAlone, ...]:
    """Findings that call for work which a plan leaves out, worst first.

    Args:
        planner: what the plans have in common.
        plan: one of them.
        use: what it does when it is in order, as a word after "can".
    """
    found = [
        LeftAlone(finding, finding.outcome.breaks_none or f"it can {use} with it")
        for finding in planner.graded.findings
        if finding.outcome.calls_for and not _is_mended(finding, plan)
    ]
    return tuple(sorted(found, key=lambda item: -item.finding.outcome.condition))


def _is_mended(finding: Judgement, plan: Plan) -> bool:
    """Whether a plan does something about a finding, or a more thorough repair does it."""
    called: Iterable[str] = finding.calls(plan.scope)
    done = {step.step for step in plan.steps} | plan.replaced.keys()
    return any(repair in done for repair in (*called, *finding.outcome.calls_for))
