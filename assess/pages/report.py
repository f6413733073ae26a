"""The report: everything that follows from one job, as a record that stays with the object.

Its contents are those that a condition record of movable heritage asks for (EN 16095, from
memory): what it is and where it comes from, how it was looked at, its condition with evidence and
pictures, what is recommended, by whom and when.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assess.assessment import Assessment
from assess.base.errors import WorkshopError
from assess.knowledge.model_base import Scope
from assess.output.cautions import numbers_of
from assess.output.grades import assumed_said, title, whole_line
from assess.output.layout import capital
from assess.output.looks import complaint_said
from assess.output.plans import (
    left_alone_said,
    nothing_to_do,
    progress_text,
    replaced_said,
    requirements_said,
    requirements_title,
    summary,
)
from assess.output.verdicts import (
    against,
    drivers,
    estimate_said,
    headline,
    how_sure,
    scopes_said,
    what_would_change_it,
    worth_said,
)
from assess.pages import report_condition as condition
from assess.pages import report_work as work
from assess.pages.letter import Letter, letter_of
from assess.pages.pictures import Picture
from assess.pages.rendering import rendered
from assess.pages.report_condition import BLANKS, Group, Plate, Table
from assess.pages.report_figures import (
    cost_picture,
    grades_picture,
    lanes_picture,
    order_picture,
    plugin_picture,
)
from assess.pages.report_photographs import photographs_of
from assess.pages.report_work import ANY_MONDAY, CautionLine, SourceLine, StageLines
from assess.planning.plan import Plan


@dataclass(frozen=True)
class TitledLines:
    """Lines under a heading of their own."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Report:
    """All that stands in the report, in the order in which it stands there.

    Attributes:
        title, subtitle: of the page.
        summary: the recommendation in short.
        letter: what is written to the owner.
        identity, build: what the job file says, by name.
        blanks: what is filled in by hand.
        plates: photographs.
        grades: grades with their bounds.
        findings, in_order, not_seen: what was looked at, by subsystem.
        measurements, pictures: what was computed, and figures of it.
        complaints: what was complained of, with what explains it.
        ways, scopes: tables of what can be done.
        reasons: why, what stands against it, and what would change it.
        scope: how far the plan goes, in words.
        plan_said, stages, plan_lists: the plan.
        order, lanes: figures of the plan; None where there is nothing to show.
        calendar_said: when it will be done.
        cost, cost_figure, drivers, estimate: what it costs, and what makes that uncertain.
        hidden: faults that may be hidden.
        materials, others, sheets, sheets_missing: what to buy, whom to pay, what to cut.
        cautions: hazards, with whom to ask.
        assumed: what the job file does not say.
        sources: what is published.
    """

    title: str
    subtitle: str
    summary: tuple[str, ...]
    letter: Letter
    identity: tuple[tuple[str, str], ...]
    build: tuple[tuple[str, str], ...]
    blanks: tuple[str, ...]
    plates: tuple[Plate, ...]
    grades: Picture
    findings: tuple[Group, ...]
    in_order: tuple[Group, ...]
    not_seen: tuple[Group, ...]
    measurements: tuple[Group, ...]
    pictures: tuple[Picture, ...]
    complaints: tuple[TitledLines, ...]
    ways: Table
    scopes: Table
    reasons: tuple[TitledLines, ...]
    scope: str
    plan_said: tuple[str, ...]
    stages: tuple[StageLines, ...]
    plan_lists: tuple[TitledLines, ...]
    order: Picture | None
    calendar_said: tuple[str, ...]
    lanes: Picture | None
    cost: Table
    cost_figure: Picture | None
    drivers: tuple[str, ...]
    estimate: str
    hidden: tuple[Table, ...]
    materials: Table | None
    others: Table | None
    sheets: tuple[Table, ...]
    sheets_missing: tuple[str, ...]
    cautions: tuple[CautionLine, ...]
    assumed: tuple[str, ...]
    sources: tuple[SourceLine, ...]


def report_page(
    result: Assessment, scope: Scope, written: dt.date, start: dt.date | None = None
) -> str:
    """The report as a page to print.

    Args:
        result: the assessment.
        scope: whose plan is shown.
        written: the date of the report, from which the offer to the owner runs.
        start: the first day at the bench; without it days are counted from the first.

    Raises:
        JobFileError: a photograph that the job file names is not there, or is no picture.
        UserError: no calendar reaches as far as the start.
    """
    return rendered("report.html", report=report_of(result, scope, written, start))


def report_of(
    result: Assessment, scope: Scope, written: dt.date, start: dt.date | None = None
) -> Report:
    """What stands in the report; see :func:`report_page`."""
    plan = result.plans[scope]
    photographs = photographs_of(result.job, result.knowledge)
    raised = work.cautions_raised(result, plan)
    care = numbers_of(raised, result.knowledge)
    order, calendar_said, lanes = _in_time(result, plan, start)
    day = result.workshop.letter.date(written)
    return Report(
        title=title(result),
        subtitle=f"Condition report of the {result.trade.noun}, {day}",
        summary=(headline(result), how_sure(result), whole_line(result)),
        letter=letter_of(result, written),
        identity=condition.identity(result),
        build=condition.build(result),
        blanks=BLANKS,
        plates=condition.plates(result, photographs),
        grades=grades_picture(result),
        findings=condition.findings(result, photographs),
        in_order=condition.in_order(result),
        not_seen=condition.not_seen(result),
        measurements=condition.measurements(result),
        pictures=tuple(plugin_picture(name, f) for name, f in result.figures.items() if f.series),
        complaints=tuple(_complaints(result)),
        ways=work.ways_table(result),
        scopes=work.scopes_table(result, scopes_said(result)),
        reasons=tuple(_reasons(result)),
        scope=result.trade.scope_title(scope),
        plan_said=_plan_said(result, plan),
        stages=work.stages(result, plan, care),
        plan_lists=tuple(_plan_lists(result, plan)),
        order=order,
        calendar_said=calendar_said,
        lanes=lanes,
        cost=work.cost_table(plan),
        cost_figure=cost_picture(result, plan),
        drivers=tuple(drivers(result, plan)),
        estimate=estimate_said(result, every=True),
        hidden=work.hidden_tables(result, plan),
        materials=work.materials_table(plan),
        others=work.others_table(plan),
        sheets=work.sheet_tables(result),
        sheets_missing=work.sheets_missing(result),
        cautions=work.caution_lines(raised, result.knowledge),
        assumed=tuple(assumed_said(result, every=True)),
        sources=work.sources(result, plan, raised),
    )


def _plan_said(result: Assessment, plan: Plan) -> tuple[str, ...]:
    """How much work it is, and how far it is done."""
    if not plan.steps:
        return (nothing_to_do(result),)
    done = " ".join(progress_text(result, plan).split())
    return tuple(filter(None, (*summary(result, plan)[:3], done)))


def _in_time(
    result: Assessment, plan: Plan, start: dt.date | None
) -> tuple[Picture | None, tuple[str, ...], Picture | None]:
    """The figure of the order, what is said of the calendar, and its figure."""
    if not plan.left:
        return None, (), None
    planner, dated = result.planner, start is not None
    try:
        calendar = planner.calendar(plan, start or ANY_MONDAY)
    except WorkshopError as error:
        # Whoever keeps no hours, or has work for ten years, still wants the rest of the report.
        return None, (f"No calendar can be made: {error}.",), None
    chain = planner.longest_chain(plan, calendar)
    finish = planner.finish(plan, calendar)
    said = work.calendar_said(result, plan, calendar, finish, chain, dated)
    return order_picture(result, plan, chain), said, lanes_picture(result, plan, calendar, dated)


def _complaints(result: Assessment) -> list[TitledLines]:
    return [
        TitledLines(head, tuple(map(capital, lines)))
        for head, lines in (complaint_said(result, explained) for explained in result.complaints)
    ]


def _reasons(result: Assessment) -> list[TitledLines]:
    verdict = result.verdict
    named = (
        ("Why", verdict.reasons),
        (result.trade.against, verdict.grounds),
        ("Against it, from what was seen", against(result)),
        ("What would change it", what_would_change_it(result)),
        ("Worth saving from it", verdict.worth_saving),
        ("What it is worth", (worth_said(result),)),
    )
    return [TitledLines(name, tuple(map(capital, lines))) for name, lines in named if lines]


def _plan_lists(result: Assessment, plan: Plan) -> list[TitledLines]:
    named = (
        (requirements_title(result), requirements_said(result, plan)),
        ("Left alone", left_alone_said(result, plan)),
        ("Left out", replaced_said(result, plan)),
    )
    return [TitledLines(name, tuple(lines)) for name, lines in named if lines]
