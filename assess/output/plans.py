"""Plans as text that a person can work from."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from assess.assessment import Assessment
from assess.base.wording import counted, percent
from assess.knowledge.steps import Step
from assess.output.cautions import caution_list, numbers_of
from assess.output.grades import title
from assess.output.layout import (
    amount,
    bullets,
    capital,
    heading,
    money_span,
    paragraph,
    section,
    sections,
    span,
    table,
    waiting,
)
from assess.planning.planner import Plan, PlanStep, StepReason
from assess.planning.priority_order import NO_CHOICE
from assess.planning.use_requirements import left_alone, requirements_of

STEP_WIDTH = 46
MOST_LEFT = 8
"""How many findings that a plan leaves alone are listed."""


def plan_text(result: Assessment, plan: Plan, how: bool = False, why: bool = False) -> str:
    """A plan as numbered steps under headings, with hours, drying, hold points and cautions.

    Args:
        result: the assessment that the plan belongs to.
        plan: one of its plans.
        how: print how each step is done, what to avoid and when it is done.
        why: print every reason of each step as well.
    """
    head = heading(f"{title(result)}: plan for {result.trade.scope_title(plan.scope)}")
    if not plan.steps:
        return sections([head, nothing_to_do(result)])
    numbers = {s.step: s.number for s in plan.steps}
    cautions = numbers_of(plan.cautions, result.knowledge)
    stages = [
        section(stage, _steps(list(steps), numbers, cautions, how or why, why))
        for stage, steps in groupby(plan.steps, key=lambda s: s.stage)
    ]
    more = "" if how or why else "How each step is done: --how. Why it stands where it does: --why."
    return sections(
        [
            head,
            "\n".join(map(paragraph, summary(result, plan))),
            *stages,
            more,
            _requirements(result, plan),
            _left_alone(result, plan),
            _materials(plan),
            _replaced(result, plan),
            caution_list(plan.cautions, result.knowledge),
        ]
    )


def nothing_to_do(result: Assessment) -> str:
    """Why a plan is empty."""
    seen = result.graded.instrument.coverage
    if seen == 0:
        return "Nothing has been looked at yet."
    return f"Nothing found so far calls for work here ({percent(seen)} seen)."


def summary(result: Assessment, plan: Plan) -> list[str]:
    """Steps, hours and cost of a plan, from what was seen and allowing for the rest."""
    hours, total = plan.hours, plan.estimate.total
    holds = sum(s.kind == "hold point" for s in plan.steps)
    where = "in the workshop" if plan.workshop_job else "at the customer's home"
    seen = percent(result.graded.instrument.coverage)
    _, cost = result.scenarios.spreads(plan.scope, result.workshop)
    currency = plan.cost.currency
    return [
        f"{counted(len(plan.steps), 'step')}, {counted(holds, 'hold point')}, {where}.",
        f"For what was seen ({seen}): about {amount(hours.p50)} bench hours "
        f"({span(hours.p10, hours.p90)}), {currency} {total.p50:,.0f} "
        f"({money_span(total.p10, total.p90)}).",
        f"Allowing for what was not seen: {currency} {money_span(cost.p10, cost.p90)}.",
        "Ranges hold in 4 jobs of 5. Step hours are low to high; doing jobs together saves some. "
        "A hold point must pass before work goes on. Care: see Take care at the end.",
    ]


def requirements_title(result: Assessment) -> str:
    """What stands above what it must do to be used."""
    return f"What it must do to {result.trade.use}"


def requirements_said(result: Assessment, plan: Plan) -> list[str]:
    """What it must do to be used: what is not met as it is, and which step proves it."""
    if plan.scope == "stabilise":
        return []
    lines = []
    for item in requirements_of(result.planner, plan):
        steps = " and ".join(map(str, item.proofs))
        proof = f"proved by step {steps}" if steps else "no step proves it"
        if not item.broken_by:
            state = "nothing found against it"
        elif item.mended:
            state = f"not so now ({counted(len(item.broken_by), 'finding')}), mended"
        else:
            state = "NOT SO, and beyond repair or not mended here"
        lines.append(f"{item.requirement.title}: {state}; {proof}.")
    return lines


def _requirements(result: Assessment, plan: Plan) -> str:
    lines = requirements_said(result, plan)
    return section(requirements_title(result), bullets(lines)) if lines else ""


def left_alone_said(result: Assessment, plan: Plan) -> list[str]:
    """Findings that the plan does nothing about, and why not."""
    items = left_alone(result.planner, plan, result.trade.use)
    return [f"{i.finding.criterion.asks} ({i.finding.given}): {i.why}" for i in items]


def _left_alone(result: Assessment, plan: Plan) -> str:
    every = left_alone_said(result, plan)
    lines = every[:MOST_LEFT]
    if len(every) > MOST_LEFT:
        lines.append(f"... and {len(every) - MOST_LEFT} more (assess grade)")
    return section("Left alone", bullets(lines)) if lines else ""


def _steps(
    steps: Sequence[PlanStep],
    numbers: dict[str, int],
    cautions: dict[str, int],
    how: bool,
    why: bool,
) -> str:
    rows = [
        [
            step.number,
            "\n".join([_name(step), *(_how(step, numbers, why) if how else ())]),
            hours_said(step),
            waiting(step.waits_hours),
            ", ".join(map(str, sorted({cautions[c] for c in step.cautions}))),
        ]
        for step in steps
    ]
    headers = ["No.", "Step", "Hours", "Then wait", "Care"]
    return table(rows, headers, [4, STEP_WIDTH, 10, 9, 5], right=(0,))


def hours_said(step: PlanStep) -> str:
    """Low to high hours of a step."""
    low, _, high = step.hours
    return span(low, high)


def _name(step: PlanStep) -> str:
    mark = "HOLD POINT: " if step.kind == "hold point" else ""
    lines = [f"{mark}{step.title}{times_said(step)}"]
    if step.passes:
        lines.append(f"  Pass: {step.passes}")
    return "\n".join(lines)


def _how(step: PlanStep, numbers: dict[str, int], why: bool) -> list[str]:
    """How a step is done, what to avoid, when it is done, and the reasons of its place."""
    lines = [
        f"  {label}{text}"
        for label, text in (
            ("", step.how if step.kind != "open" else ""),
            ("If it fails: ", step.if_fails),
            ("Avoid: ", step.avoid),
            ("Done when: ", step.test),
        )
        if text
    ]
    if step.lasts_years:
        lines.append(f"  Temporary: lasts about {amount(step.lasts_years)} years")
    return [*lines, *(f"  {line}" for line in _reasons(step, numbers, why))]


def times_said(step: PlanStep) -> str:
    """How many times a repair is done, where it is not once."""
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


def materials_columns(plan: Plan) -> list[str]:
    """Headings of the table of materials."""
    return ["Material, with waste", "Amount", plan.cost.currency, "Days to get"]


def materials_rows(plan: Plan) -> list[list[str]]:
    """What to buy for a plan: amount with waste, price, days to get it."""
    return [
        [
            m.title,
            amount(m.quantity) + ("" if m.unit == "each" else f" {m.unit}"),
            f"{m.price:,.0f}",
            str(m.lead_days or ""),
        ]
        for m in plan.materials
    ]


def _materials(plan: Plan) -> str:
    rows = materials_rows(plan)
    if not rows:
        return ""
    shown = table(rows, materials_columns(plan), [40, 16, 8, 11], right=(2, 3))
    return section("Materials", shown)


def replaced_said(result: Assessment, plan: Plan) -> list[str]:
    """Lesser repairs that the plan leaves out, and because of what."""
    title_of = result.knowledge.title
    return [
        capital(f"{title_of(lesser)}: not needed, because of: {title_of(by)}")
        for lesser, by in sorted(plan.replaced.items())
    ]


def _replaced(result: Assessment, plan: Plan) -> str:
    lines = replaced_said(result, plan)
    return section("Left out", bullets(lines)) if lines else ""
