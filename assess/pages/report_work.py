"""The second half of the report: what can be done, in which order, when, and what it costs."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from assess.assessment import Assessment
from assess.base.wording import counted, percent
from assess.inspection.hidden_defects import Hidden
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import Step, subsystem_of
from assess.output.calendars import chain_said, finish_said, missed_said, pace_said, visits_said
from assess.output.cautions import in_order
from assess.output.layout import amount, span, waiting
from assess.output.looks import hidden_name
from assess.output.measures import missing_lines
from assess.output.plans import by_stage, searches_said
from assess.output.purchases import materials_columns, materials_rows, others_columns, others_rows
from assess.output.step_words import (
    care_of,
    failed_line,
    hours_words,
    late_line,
    record_words,
    telling_reason,
    times_words,
)
from assess.output.verdicts import scope_columns, scope_rows, ways_columns, ways_rows
from assess.pages.report_condition import Table
from assess.planning.calendar import Calendar
from assess.planning.critical_path import LongestChain
from assess.planning.finish_simulation import Finish
from assess.planning.plan import Plan, PlanStep, StepState

ANY_MONDAY = dt.date(2024, 1, 1)
"""Where no first day is named, days are counted from a Monday."""
MOST_WHY = 4
"""How many of the findings that call for a step are named."""
MOST_HIDDEN = 20
"""How many faults that may be hidden are listed of each kind."""
ADDRESS = re.compile(r"https?://[^\s<>\"']+")


@dataclass(frozen=True)
class StepLine:
    """A step of the plan.

    Attributes:
        number, title, hours, waits: as the plan has them.
        kind: ``repair``, ``hold point``, ``open``, ``close`` or ``find``.
        passes: what a hold point must read.
        why: the findings that it mends, or what else brought it into the plan.
        place: why it stands where it does.
        stays: what cannot be undone, and how long a makeshift holds.
        told: of a step that finds a cause, where to look and what may cure it.
        progress: what was done of it, that it failed, or that it is late.
        care: numbers of cautions.
    """

    number: int
    title: str
    kind: str
    hours: str
    waits: str
    passes: str
    why: str
    place: str
    stays: tuple[str, ...]
    told: tuple[str, ...]
    progress: tuple[str, ...]
    care: tuple[int, ...]


@dataclass(frozen=True)
class StageLines:
    """The steps of one stage, under its title."""

    title: str
    steps: tuple[StepLine, ...]


@dataclass(frozen=True)
class CautionLine:
    """A hazard: what it is, what to do, whom to ask and which rules to follow."""

    number: int
    title: str
    text: str
    ask: str
    follow: str
    people: bool


@dataclass(frozen=True)
class SourceLine:
    """Something published that the report rests on."""

    title: str
    url: str


def ways_table(result: Assessment) -> Table:
    """Every way to go."""
    columns = ("Way", f"Price, {result.workshop.currency}", *ways_columns(result)[2:])
    notes = (
        "Prices allow for what was not seen and hold in 4 jobs of 5. Wish: what the owner wants. "
        "In limit: chance of staying under the owner's limit.",
    )
    rows = tuple(map(tuple, ways_rows(result)))
    return Table("Ways to go", columns, rows, frozenset({5}), notes)


def scopes_table(result: Assessment, note: str) -> Table:
    """What each scope costs, as seen and with the unseen."""
    rows = tuple(tuple(cell.replace("\n", " ") for cell in row) for row in scope_rows(result))
    columns = tuple(scope_columns(result))
    return Table("What each scope would cost", columns, rows, frozenset({4}), (note,))


def stages(result: Assessment, plan: Plan, cautions: dict[str, int]) -> tuple[StageLines, ...]:
    """The plan by stage.

    Args:
        result: the assessment that the plan belongs to.
        plan: the plan.
        cautions: caution id -> its number in the report.
    """
    numbers = {s.step: s.number for s in plan.steps}
    told = {
        step: tuple(line.strip() for line in lines)
        for step, lines in searches_said(result, plan, how=False).items()
    }
    found = []
    for title, steps in by_stage(plan):
        care = care_of(steps, cautions, result)
        lines = (_step_line(s, numbers, told.get(s.step, ()), care[s.step]) for s in steps)
        found.append(StageLines(title, tuple(lines)))
    return tuple(found)


def _step_line(
    step: PlanStep, numbers: dict[str, int], told: tuple[str, ...], care: tuple[int, ...]
) -> StepLine:
    best = telling_reason(step, numbers)
    stays = []
    if not step.reversible:
        stays.append("Cannot be undone.")
    if step.lasts_years:
        stays.append(f"Temporary: lasts about {amount(step.lasts_years)} years.")
    return StepLine(
        step.number,
        f"{step.title}{times_words(step)}",
        step.kind,
        "done" if step.is_done else hours_words(step),
        "" if step.is_done else waiting(step.waits_hours),
        step.passes,
        _why(step),
        f"After {numbers[best.after]}: {best.reason.text}." if best else "",
        tuple(stays),
        told,
        tuple(_progress(step)),
        care,
    )


def _progress(step: PlanStep) -> Iterator[str]:
    """What the job file says was done of a step, and what follows from it."""
    if step.is_done and (said := record_words(step)):
        yield f"Done: {said}"
    if step.state is StepState.FAILED:
        yield failed_line(step)
    if step.before_done:
        yield late_line(step)


def _why(step: PlanStep) -> str:
    """What brought a step into the plan: findings if there are any, in one line."""
    found = [c.text for c in step.causes if c.kind == "finding"]
    other = [c.text for c in step.causes if not Step(c.by).is_access]
    named = found or (other if step.kind == "repair" else [])
    more = f"; and {len(named) - MOST_WHY} more" if len(named) > MOST_WHY else ""
    return "; ".join(named[:MOST_WHY]) + more


def calendar_said(
    result: Assessment,
    plan: Plan,
    calendar: Calendar,
    finish: Finish,
    chain: LongestChain,
    dated: bool,
) -> tuple[str, ...]:
    """When it will be done and what sets the length; without dates where no day is named."""
    numbers = {s.step: s.number for s in plan.steps}
    length = chain_said(chain, calendar, numbers)
    if dated:
        tasks = result.planner.timing(plan).tasks
        visits, missed = visits_said(calendar, tasks, plan), missed_said(finish, tasks, numbers)
        said = f"{finish_said(finish)} {pace_said(result.workshop, calendar)}"
        return tuple(filter(None, (said, missed, length, visits)))
    first = calendar.start.date()
    middle, ninth = ((m.date() - first).days + 1 for m in (finish.p50, finish.p90))
    if middle == ninth:
        done = f"Done within {counted(ninth, 'day')} (9 in 10)"
    else:
        done = f"Done within {counted(middle, 'day')} (even chance), {ninth} days (9 in 10)"
    pace = pace_said(result.workshop, calendar).partition("; ")[2]
    return f"{done}, counted from a Monday; {pace}", length


def cost_table(plan: Plan) -> Table:
    """What the cost is made of, at the middle of the hours."""
    cost, hours, total = plan.cost, plan.hours, plan.estimate.total
    others = any(m.kind != "material" for m in plan.materials)
    bought = "Materials, help and travel" if others else "Materials"
    factor = f"{percent(cost.contingency)} of all above"
    rows = (
        ("Bench hours", f"{span(hours.p10, hours.p90)}, about {amount(hours.p50)}"),
        ("Rate an hour", f"{cost.currency} {cost.rate_per_hour:,.0f}"),
        (bought, f"{cost.currency} {cost.materials:,.0f}"),
        ("Transport", f"{cost.currency} {cost.transport:,.0f}" if cost.transport else "none"),
        ("Contingency", factor),
        ("Cost as seen", f"{cost.currency} {total.p10:,.0f} to {total.p90:,.0f}"),
    )
    return Table("What the cost is made of", ("Part", "Amount"), rows)


def hidden_tables(result: Assessment, plan: Plan) -> tuple[Table, ...]:
    """Faults that may be hidden: what only opening shows, and what a visit shows."""
    found = result.hidden(plan.scope)
    tables = []
    for at_visit, where in (
        (False, "To be seen in the workshop only"),
        (True, "To be seen at a visit"),
    ):
        those = [line for line in found if line.at_visit == at_visit]
        more = len(those) - MOST_HIDDEN
        notes = (f"And {more} more, each of which matters less.",) if more > 0 else ()
        if those:
            rows = tuple(_hidden_row(result, line) for line in those[:MOST_HIDDEN])
            columns = (
                "Fault",
                "Where",
                "Chance",
                "Extra hours",
                f"Extra {result.workshop.currency}",
            )
            tables.append(Table(where, columns, rows, frozenset({2, 3, 4}), notes))
    return tuple(tables)


def _hidden_row(result: Assessment, line: Hidden) -> tuple[str, ...]:
    place = result.knowledge.places[line.opens[-1]].title if line.opens else "without opening"
    name = hidden_name(result, line)
    return name, place, percent(line.chance), amount(line.hours), f"{line.cost:,.0f}"


def materials_table(plan: Plan) -> Table | None:
    """What to buy; nothing where nothing is bought."""
    rows = tuple(map(tuple, materials_rows(plan)))
    if not rows:
        return None
    return Table("Materials", tuple(materials_columns(plan)), rows, frozenset({2, 3}), dense=True)


def others_table(plan: Plan) -> Table | None:
    """Helpers, other trades and journeys; nothing where there are none."""
    rows = tuple(map(tuple, others_rows(plan)))
    if not rows:
        return None
    return Table("Others and travel", tuple(others_columns(plan)), rows, frozenset({2, 3, 4}))


def sheet_tables(result: Assessment) -> tuple[Table, ...]:
    """Every sheet for the bench that can be made."""
    return tuple(
        Table(
            sheet.title,
            sheet.columns,
            sheet.rows,
            frozenset(range(1, len(sheet.columns))),
            sheet.notes,
            dense=True,
        )
        for sheet in result.sheets.values()
        if sheet.rows
    )


def sheets_missing(result: Assessment) -> tuple[str, ...]:
    """Sheets that cannot be made, and what is missing for them."""
    wanting = [(sheet.title, sheet.wants) for sheet in result.sheets.values() if sheet.wants]
    return missing_lines(wanting, result.knowledge)


def cautions_raised(result: Assessment, plan: Plan) -> list[str]:
    """Ids of every caution that a finding or a step of the plan raises."""
    found = (c for f in result.graded.findings for c in f.outcome.cautions)
    return list(dict.fromkeys((*found, *plan.cautions)))


def caution_lines(raised: Iterable[str], knowledge: Knowledge) -> tuple[CautionLine, ...]:
    """Cautions in full, dangers to people first, numbered."""
    found = [knowledge.cautions[c] for c in in_order(raised, knowledge)]
    return tuple(
        CautionLine(number, c.title, c.text, c.defer_to, c.follow, c.people)
        for number, c in enumerate(found, 1)
    )


def sources(result: Assessment, plan: Plan, raised: Iterable[str]) -> tuple[SourceLine, ...]:
    """What is published of all that the report rests on, by title, each once."""
    knowledge = result.knowledge
    named: list[tuple[str, str]] = [
        (j.id, j.criterion.source) for j in result.graded.judgements.values() if j.is_seen
    ]
    for step in plan.steps:
        work = knowledge.work(step.step)
        named += [(step.step, work.source)] if work else []
        named += [(step.step, reason.reason.source) for reason in step.reasons]
    named += [(c, knowledge.cautions[c].source) for c in raised if c in knowledge.cautions]
    named += [(m.material, knowledge.materials[m.material].source) for m in plan.materials]
    named += [(symptom.id, symptom.source) for _, symptom in result.told.complaints]
    keys = {
        f"{subsystem_of(owner)}.{key}" for owner, keys in named for key in keys.split(", ") if key
    }
    found = {
        knowledge.sources[k].title: knowledge.sources[k].url
        for k in sorted(keys)
        if k in knowledge.sources
    }
    return tuple(
        SourceLine(title, url if ADDRESS.fullmatch(url) else "")
        for title, url in sorted(found.items(), key=lambda item: item[0].casefold())
    )
