"""Plans as text that a person can work from."""

from __future__ import annotations

from itertools import groupby

from assess.assessment import Assessment
from assess.output.cautions import caution_list, numbers_of
from assess.output.grades import title
from assess.output.layout import amount, heading, paragraph, sections, span, table, waiting
from assess.planning.planner import SCOPE_TITLES, Plan, PlanStep, StepReason

STEP_WIDTH = 48
KIND_MARKS = {"hold point": "HOLD POINT: ", "open": "", "close": "", "repair": ""}


def plan_text(result: Assessment, plan: Plan, full_reasons: bool = False) -> str:
    """A plan as numbered steps under headings, with hours, drying, hold points and cautions.

    Args:
        result: the assessment that the plan belongs to.
        plan: one of its plans.
        full_reasons: print every reason of order instead of the most telling one.
    """
    head = heading(f"Plan: {SCOPE_TITLES[plan.scope]}", "-")
    if not plan.steps:
        nothing = "No finding within this scope calls for work."
        return sections([title(result), f"{head}\n{nothing}"])
    numbers = {s.step: s.number for s in plan.steps}
    cautions = numbers_of(plan.cautions, result.knowledge)
    stages = [
        _stage(stage, list(steps), numbers, cautions, full_reasons)
        for stage, steps in groupby(plan.steps, key=lambda s: s.stage)
    ]
    return sections(
        [
            title(result),
            f"{head}\n{summary(plan)}",
            caution_list(plan.cautions, result.knowledge),
            *stages,
            _materials(plan),
            _replaced(result, plan),
        ]
    )


def _stage(
    stage: str,
    steps: list[PlanStep],
    numbers: dict[str, int],
    cautions: dict[str, int],
    full_reasons: bool,
) -> str:
    rows = [
        [
            s.number,
            _step_cell(s, numbers, cautions, full_reasons),
            _hours(s),
            waiting(s.waits_hours),
        ]
        for s in steps
    ]
    widths = [4, STEP_WIDTH, 10, 9]
    headers = ["No.", "Step", "Hours", "Then wait"]
    return f"{heading(stage, '-')}\n{table(rows, headers, widths, right=(0,))}"


def summary(plan: Plan) -> str:
    """Steps, hours and cost of a plan in a sentence."""
    hours, total = plan.hours, plan.estimate.total
    holds = sum(s.kind == "hold point" for s in plan.steps)
    proofs = "1 of them a hold point" if holds == 1 else f"{holds} of them hold points"
    where = "in the workshop" if plan.workshop_job else "at the customer's home"
    return paragraph(
        f"{len(plan.steps)} steps, {proofs}, {where}. "
        f"About {amount(hours.p50)} bench hours "
        f"(in four of five such jobs {span(hours.p10, hours.p90)}); "
        f"cost about {plan.cost.currency} {total.p50:,.0f} "
        f"({total.p10:,.0f} to {total.p90:,.0f}). "
        "A hold point must pass before work goes on. "
        "Hours of the steps are low to high, before jobs are batched."
    )


def _hours(step: PlanStep) -> str:
    low, _, high = step.hours
    return span(low, high)


def _step_cell(
    step: PlanStep, numbers: dict[str, int], cautions: dict[str, int], full_reasons: bool
) -> str:
    lines = [f"{KIND_MARKS[step.kind]}{step.title}{_times(step)}"]
    if step.how and step.kind != "open":
        lines.append(f"  {step.how}")
    if step.passes:
        lines.append(f"  Pass: {step.passes}")
    if step.if_fails:
        lines.append(f"  If it fails: {step.if_fails}")
    if step.avoid:
        lines.append(f"  Avoid: {step.avoid}")
    if step.test:
        lines.append(f"  Done when: {step.test}")
    if step.lasts_years:
        lines.append(f"  Temporary: lasts about {amount(step.lasts_years)} years")
    if step.cautions:
        refs = ", ".join(map(str, sorted({cautions[c] for c in step.cautions})))
        lines.append(f"  Take care: see {refs} above")
    lines += [f"  {line}" for line in _reasons(step, numbers, full_reasons)]
    return "\n".join(lines)


def _times(step: PlanStep) -> str:
    if step.times.count == 1 and step.times.counted:
        return ""
    if step.times.note:
        return f" ({step.times.note})"
    return f" (x {amount(step.times.count)})" if step.kind == "repair" else ""


def _reasons(step: PlanStep, numbers: dict[str, int], full: bool) -> list[str]:
    if not full:
        best = telling_reason(step, numbers)
        return [f"After {numbers[best.after]}: {best.reason.text}."] if best else []
    lines = [
        f"After {numbers[r.after]}: {r.reason.text}"
        + (f" [{r.reason.source}]" if r.reason.source else "")
        for r in sorted(step.reasons, key=lambda r: numbers[r.after])
    ]
    lines += [f"In the plan: {c.text} [{c.by}]" for c in step.causes]
    return [*lines, f"Before the others that were free: {step.rule}"]


def telling_reason(step: PlanStep, numbers: dict[str, int]) -> StepReason | None:
    """The reason that says most: one of the trade before one of access, the nearest step."""
    weight = {"trade": 2, "proof": 1, "access": 0}
    told = [r for r in step.reasons if r.reason.kind in weight]
    if step.kind == "close":
        told = [r for r in told if r.reason.kind == "trade"]
    return max(told, key=lambda r: (weight[r.reason.kind], numbers[r.after]), default=None)


def _materials(plan: Plan) -> str:
    if not plan.materials:
        return ""
    rows = [
        [
            m.title,
            amount(m.quantity) + ("" if m.unit == "each" else f" {m.unit}"),
            f"{m.price:,.0f}",
            m.lead_days or "",
        ]
        for m in plan.materials
    ]
    text = table(
        rows,
        ["Material, with waste", "Amount", f"{plan.cost.currency}", "Days to get"],
        [40, 16, 8, 11],
        right=(2, 3),
    )
    return f"{heading('Materials', '-')}\n{text}\n"


def _replaced(result: Assessment, plan: Plan) -> str:
    lines = [
        f"{result.knowledge.title(lesser)}: needless, since {result.knowledge.title(by)} is done"
        for lesser, by in sorted(plan.replaced.items())
    ]
    if not lines:
        return ""
    return heading("Left out", "-") + "\n" + "\n".join(paragraph(x, "  ", "- ") for x in lines)
