"""What is said of one step of a plan, and of the steps of one stage."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assess.assessment import Assessment
from assess.knowledge.steps import Step
from assess.output.layout import (
    amount,
    span,
)
from assess.planning.plan import PlanStep, StepReason, StepState
from assess.planning.priority_order import NO_CHOICE


def failed_line(step: PlanStep) -> str:
    """That a test failed, and what to do; the reading and the day where they are known."""
    said = record_words(step)
    failed = f"It failed ({said})" if said else "It failed"
    return f"{failed}: {step.if_fails}" if step.if_fails else f"{failed}."


def record_words(step: PlanStep) -> str:
    """What the record of a step says: reading, day and note."""
    record = step.record
    if record is None:
        return ""
    on = f"{record.date.day} {record.date:%B %Y}" if record.date else ""
    return ", ".join(str(part) for part in (record.reading, on, record.note) if part != "")


def late_line(step: PlanStep) -> str:
    """That a step is open although a later one is done; nothing where it is not so."""
    if not step.before_done:
        return ""
    return (
        f"Comes before step {step.before_done}, which is done. If it is still needed, look "
        f"whether step {step.before_done} must be opened or done again."
    )


def care_of(
    steps: Sequence[PlanStep], numbers: Mapping[str, int], result: Assessment
) -> dict[str, tuple[int, ...]]:
    """Step -> the numbers of its cautions; what goes for a whole stage at its first step only."""
    care: dict[str, tuple[int, ...]] = {}
    said: set[int] = set()
    for step in steps:
        new = {numbers[c] for c in step.cautions} - said
        care[step.step] = tuple(sorted(new))
        said |= {numbers[c] for c in step.cautions if result.knowledge.cautions[c].once_a_stage}
    return care


def hours_words(step: PlanStep) -> str:
    """The hours of a step, low to high."""
    low, _, high = step.hours
    return span(low, high)


def step_said(step: PlanStep) -> str:
    """A step as it stands in a plan: title, what must pass, and what was recorded."""
    mark = "HOLD POINT: " if step.kind == "hold point" else ""
    lines = [f"{mark}{step.title}{times_words(step)}"]
    if step.passes:
        lines.append(f"  Pass: {step.passes}")
    if step.is_done and (said := record_words(step)):
        lines.append(f"  Done: {said}")
    if step.state is StepState.FAILED:
        lines.append(f"  {failed_line(step)}")
    if step.before_done:
        lines.append(f"  {late_line(step)}")
    return "\n".join(lines)


def how_said(step: PlanStep, numbers: dict[str, int], why: bool) -> list[str]:
    """How a step is done, what to avoid, when it is done, and the reasons of its place."""
    lines = [
        f"  {label}{text}"
        for label, text in (
            ("", step.how if step.kind not in ("open", "find") else ""),
            ("If it fails: ", step.if_fails),
            ("Avoid: ", step.avoid),
            ("Done when: ", step.test),
        )
        if text
    ]
    if step.lasts_years:
        lines.append(f"  Temporary: lasts about {amount(step.lasts_years)} years")
    return [*lines, *(f"  {line}" for line in _reasons(step, numbers, why))]


def times_words(step: PlanStep) -> str:
    """How many times a step is done, in brackets; nothing where that is once."""
    if step.times.count == 1 and step.times.counted:
        return ""
    if step.times.note:
        return f" ({step.times.note})"
    return f" (x {amount(step.times.count)})" if step.kind == "repair" else ""


def _reasons(step: PlanStep, numbers: dict[str, int], full: bool) -> list[str]:
    if not full:
        best = telling_reason(step, numbers)
        return [f"After {numbers[best.after]}: {best.reason.text}."] if best else []
    lines = [f"Why: {c.text}." for c in step.causes if not Step(c.by).is_access]
    lines += [
        f"After {numbers[r.after]}: {r.reason.text}."
        for r in sorted(step.reasons, key=lambda r: numbers[r.after])
    ]
    if step.rule != NO_CHOICE:
        lines.append(f"Before other steps that could come now: {step.rule}.")
    return lines


def telling_reason(step: PlanStep, numbers: dict[str, int]) -> StepReason | None:
    """The reason that says most: one of the trade before one of access, the nearest step."""
    weight = {"trade": 2, "proof": 1, "access": 0}
    candidates = [r for r in step.reasons if r.reason.kind in weight]
    if step.kind == "close":
        candidates = [r for r in candidates if r.reason.kind == "trade"]
    return max(candidates, key=lambda r: (weight[r.reason.kind], numbers[r.after]), default=None)
