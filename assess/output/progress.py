"""What was written down of work done, as text."""

from __future__ import annotations

from collections.abc import Iterable

from assess.assessment import Assessment
from assess.base.wording import counted
from assess.output.calendars import numbers_in_words
from assess.output.layout import bullets, paragraph, sections
from assess.output.plans import progress_text
from assess.output.step_words import failed_line, record_words
from assess.planning.plan import Plan, PlanStep, StepState


def done_text(result: Assessment, plan: Plan, steps: Iterable[str]) -> str:
    """What was recorded of some steps, and how things stand now.

    Args:
        result: the assessment with the records.
        plan: the plan whose numbers are shown.
        steps: ids of the steps that were recorded.
    """
    lines = [_recorded(result, plan.step(s), s) for s in steps]
    late = [s.number for s in plan.left if s.before_done]
    earlier = ""
    if late:
        said = f"{counted(len(late), 'step')} before it not recorded: {numbers_in_words(late)}."
        earlier = paragraph(f"{said} Mark them too if they are done.")
    return sections([bullets(lines), earlier, progress_text(result, plan)])


def undone_text(result: Assessment, steps: Iterable[str]) -> str:
    """That the last record of some steps was taken out."""
    return bullets([f"Taken out: {result.knowledge.title(s)}." for s in steps]) + "\n"


def _recorded(result: Assessment, step: PlanStep | None, name: str) -> str:
    if step is None:
        return f"Done, though not in this plan: {result.knowledge.title(name)}."
    named = f"{step.number} {step.title}"
    if step.state is StepState.FAILED:
        reach = f" It must read: {step.passes}." if step.passes else ""
        return f"Still open: {named}. {failed_line(step)}{reach}"
    said = record_words(step)
    return f"Done: {named} ({said})." if said else f"Done: {named}."
