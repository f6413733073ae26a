"""Plans as text that a person can work from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from itertools import groupby
from typing import TYPE_CHECKING

from assess.assessment import Assessment
from assess.base.wording import counted, percent
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
from assess.output.purchases import (
    materials_text,
    others_text,
)
from assess.output.step_words import (
    care_of,
    failed_line,
    hours_words,
    how_said,
    step_said,
)
from assess.planning.plan import Plan, PlanStep, StepState
from assess.planning.use_requirements import left_alone, requirements_of

if TYPE_CHECKING:
    from assess.inspection.likely_cures import LikelyCure, LikelyCures

STEP_WIDTH = 46
MOST_CURES = 6
"""How many likely cures of a complaint are listed."""
MOST_NAMED = 2
"""How many repairs of one cure are named."""
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
    searches = searches_said(result, plan, how or why)
    stages = [
        section(
            stage,
            _steps(steps, numbers, care_of(steps, cautions, result), searches, how or why, why),
        )
        for stage, steps in by_stage(plan)
    ]
    more = "" if how or why else "How each step is done: --how. Why it stands where it does: --why."
    return sections(
        [
            head,
            progress_text(result, plan),
            "\n".join(map(paragraph, summary(result, plan))),
            *stages,
            more,
            _requirements(result, plan),
            _left_alone(result, plan),
            materials_text(plan),
            others_text(plan),
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


def progress_text(result: Assessment, plan: Plan) -> str:
    """How much is done, what is left, and where work goes on; nothing before work has begun."""
    if not plan.begun and not plan.done_besides:
        return ""
    done = len(plan.steps) - len(plan.left)
    hours, step = plan.hours_left, plan.next_step
    lines = [f"Done: {done} of {counted(len(plan.steps), 'step')}."]
    if step is None:
        lines = [f"All {counted(len(plan.steps), 'step')} are done."]
    else:
        lines += [
            f"Left: about {amount(hours.p50)} bench hours ({span(hours.p10, hours.p90)}).",
            f"Next: {step.number} {step.title}.",
            *([failed_line(step)] if step.state is StepState.FAILED else []),
        ]
    if plan.done_besides:
        titles = "; ".join(result.knowledge.title(s) for s in plan.done_besides)
        lines.append(f"Done besides this plan: {titles}.")
    return paragraph(" ".join(lines))


def requirements_title(result: Assessment) -> str:
    """What stands above what it must do to be used."""
    return f"What it must do to {result.trade.use}"


def requirements_said(result: Assessment, plan: Plan) -> list[str]:
    """What it must do to be used: what is not met as it is, and which step proves it."""
    if plan.scope == "stabilise":
        return []
    lines = []
    for item in requirements_of(result.planner, plan):
        proof = f"proved by {_steps_named(item.proofs)}" if item.proofs else "no step proves it"
        if item.searches:
            find = "finds" if len(item.searches) == 1 else "find"
            finds = f"{_steps_named(item.searches)} {find} the cause of what is complained of"
            proof = f"{finds}; {proof}"
        if item.searches and not item.broken_by:
            state = "not so, as complained of"
        elif not item.broken_by:
            state = "nothing found against it"
        elif item.mended:
            state = f"not so now ({counted(len(item.broken_by), 'finding')}), mended"
        else:
            state = "NOT SO, and beyond repair or not mended here"
        lines.append(f"{item.requirement.title}: {state}; {proof}.")
    return lines


def _steps_named(numbers: Sequence[int]) -> str:
    *others, last = map(str, numbers)
    return f"steps {', '.join(others)} and {last}" if others else f"step {last}"


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
    care: Mapping[str, Sequence[int]],
    searches: Mapping[str, Sequence[str]],
    how: bool,
    why: bool,
) -> str:
    rows = [
        [
            step.number,
            "\n".join(
                [
                    step_said(step),
                    *(how_said(step, numbers, why) if how else ()),
                    *searches.get(step.step, ()),
                ]
            ),
            "done" if step.is_done else hours_words(step),
            "" if step.is_done else waiting(step.waits_hours),
            ", ".join(map(str, care[step.step])),
        ]
        for step in steps
    ]
    headers = ["No.", "Step", "Hours", "Then wait", "Care"]
    return table(rows, headers, [4, STEP_WIDTH, 10, 9, 5], right=(0,))


def by_stage(plan: Plan) -> Iterator[tuple[str, list[PlanStep]]]:
    """Steps that follow each other in one stage, under its title."""
    for stage, steps in groupby(plan.steps, key=lambda s: s.stage):
        yield stage, list(steps)


def searches_said(result: Assessment, plan: Plan, how: bool) -> dict[str, list[str]]:
    """Under each step that finds a cause: what to look at in which order, and likely cures."""
    criteria = result.knowledge.criteria
    found: dict[str, list[str]] = {}
    for search in result.searches if plan.steps else ():
        step = plan.step(search.step)
        if step is None:
            continue
        told = [] if how else [f"  {step.how}"]
        for head, looks in search.parts if how else ():
            told += [f"  {head}:", *(f"  - {criteria[c].asks}: {criteria[c].how}" for c in looks)]
        cures = result.likely_cures(plan.scope)[search.step]
        found[step.step] = [*told, *_cures(cures, result, plan)]
    return found


def _cures(cures: LikelyCures, result: Assessment, plan: Plan) -> list[str]:
    """What may cure what is complained of, with its chance and what it adds to the plan."""
    currency, planned = plan.cost.currency, {step.step for step in plan.steps}
    lines = [f"  Likely cures, and what each adds ({currency}):"]
    for cure in cures.listed[:MOST_CURES]:
        lines.append(f"  {percent(cure.chance)} {_cure(cure, result, planned)}")
    more = len(cures.listed) - MOST_CURES
    if more > 0:
        lines.append(f"  and {counted(more, 'less likely one')}")
    return [*lines, f"  {percent(cures.otherwise)} none of these"]


def _cure(cure: LikelyCure, result: Assessment, planned: AbstractSet[str]) -> str:
    asked = "; ".join(result.knowledge.criteria[c].asks for c in cure.causes[:MOST_NAMED])
    if not cure.repairs:
        return f"nothing in this plan cures it ({asked})"
    names = [result.knowledge.title(repair) for repair in cure.repairs[:MOST_NAMED]]
    if len(cure.repairs) > MOST_NAMED:
        names.append(f"and {len(cure.repairs) - MOST_NAMED} more")
    if planned >= set(cure.repairs):
        return f"{'; '.join(names)}: in this plan already"
    return f"{'; '.join(names)}: {cure.cost:,.0f}"


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
