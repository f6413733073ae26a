"""The plan as pages for the bench: steps to tick, tests to pass, cautions, what to cut and buy."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from assess.assessment import Assessment
from assess.base.errors import UserError
from assess.base.wording import counted
from assess.knowledge.steps import subsystem_of
from assess.output.calendars import day, numbers_in_words
from assess.output.grades import title
from assess.output.layout import amount, span
from assess.output.measures import missing
from assess.output.plans import nothing_to_do, progress_text
from assess.output.purchases import quantity_said
from assess.pages.card_steps import CardStep, StepWriter, first_met
from assess.pages.rendering import rendered
from assess.planning.calendar import Booking
from assess.planning.plan import Plan, PlanStep
from assess.planning.step_names import find_stage, find_step
from assess.planning.timing import step_of
from assess.planning.workload import MaterialNeed

LONG = 6
"""From so many steps on a bench gets a page of its own."""
MANY_ROWS = 24
"""From so many rows on a sheet gets a page of its own."""


@dataclass(frozen=True)
class CardChoice:
    """Which part of a plan is wanted, and with what.

    Attributes:
        bench: a stage by its title or some words of it; None for all.
        first: the step to begin at, by number, id or words; None for the first.
        start: the first day at the bench, for dates; None for blanks.
        how: also how each step is done.
    """

    bench: str | None = None
    first: str | None = None
    start: dt.date | None = None
    how: bool = False


@dataclass(frozen=True)
class CardSection:
    """The steps at one bench, one after the other."""

    title: str
    steps: tuple[CardStep, ...]
    is_long: bool


@dataclass(frozen=True)
class CardMaterial:
    """A material to buy: how much, how long it takes to get, and for which steps."""

    title: str
    amount: str
    days: str
    steps: str


@dataclass(frozen=True)
class CardSheet:
    """A table of a plugin, or what is missing to make it; ``numbers`` are columns of numbers."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]
    lacks: str
    is_long: bool
    numbers: tuple[int, ...]


@dataclass(frozen=True)
class BenchRow:
    """One bench in the table on the first page: its steps and its hold points, by number."""

    title: str
    steps: str
    holds: str


@dataclass(frozen=True)
class Card:
    """Everything on the pages for the bench."""

    title: str
    scope: str
    part: str
    said: tuple[str, ...]
    benches: tuple[BenchRow, ...]
    sections: tuple[CardSection, ...]
    materials: tuple[CardMaterial, ...]
    sheets: tuple[CardSheet, ...]
    start: str


def card_page(result: Assessment, plan: Plan, choice: CardChoice | None = None) -> str:
    """The pages for the bench, to print; see :func:`bench_card`."""
    return rendered("card.html", card=bench_card(result, plan, choice or CardChoice()))


def bench_card(result: Assessment, plan: Plan, choice: CardChoice) -> Card:
    """A plan, or a part of it, as it is shown at the bench.

    Args:
        result: the assessment that the plan belongs to.
        plan: one of its plans.
        choice: which part, and with what.

    Raises:
        UserError: no such bench or step, or that bench has no step from there on.
    """
    steps = _chosen(plan, choice)
    booked: Mapping[str, Booking] = {}
    if choice.start and plan.left:
        booked = _booked(result.planner.calendar(plan, choice.start).bookings)
    writer = StepWriter(result, plan, choice.how, booked, first_met(steps, result))
    return Card(
        title=title(result),
        scope=result.trade.scope_title(plan.scope),
        part=_part(plan, choice, steps),
        said=_said(result, plan),
        benches=_benches(steps),
        sections=tuple(
            CardSection(stage, shown, sum(not s.is_done for s in shown) >= LONG)
            for stage, shown in (
                (stage, tuple(writer.step(s) for s in there))
                for stage, there in groupby(steps, key=lambda s: s.stage)
            )
        ),
        materials=_materials(result, steps),
        sheets=_sheets(result, steps),
        start=day(dt.datetime.combine(choice.start, dt.time())) if choice.start else "",
    )


def _booked(bookings: Iterable[Booking]) -> dict[str, Booking]:
    """When each step begins and is over, its second half included."""
    booked: dict[str, Booking] = {}
    for booking in bookings:
        step = step_of(booking.step)
        first = booked.get(step, booking)
        booked[step] = replace(booking, step=step, start=first.start)
    return booked


def _chosen(plan: Plan, choice: CardChoice) -> tuple[PlanStep, ...]:
    """The steps that are wanted."""
    if not plan.steps:
        return ()
    first = find_step(plan, choice.first).number if choice.first is not None else 1
    stage = find_stage(plan, choice.bench) if choice.bench is not None else None
    steps = [s for s in plan.steps if s.number >= first and stage in (None, s.stage)]
    if not steps:
        last = max(s.number for s in plan.steps if s.stage == stage)
        raise UserError(f'"{stage}" has no step from {first} on; its last is {last}')
    return tuple(steps)


def _part(plan: Plan, choice: CardChoice, steps: Sequence[PlanStep]) -> str:
    """Which part of the plan is shown, where it is not all of it."""
    if len(steps) == len(plan.steps):
        return ""
    bench = f"{steps[0].stage}: " if choice.bench is not None else ""
    numbers = numbers_in_words(s.number for s in steps)
    return f"{bench}steps {numbers} of {len(plan.steps)}"


def _said(result: Assessment, plan: Plan) -> tuple[str, ...]:
    """The first lines: how much work it is, what is done, and where work goes on."""
    if not plan.steps:
        return (nothing_to_do(result),)
    holds = sum(s.kind == "hold point" for s in plan.steps)
    whole = (
        f"{counted(len(plan.steps), 'step')}, {counted(holds, 'hold point')}, about "
        f"{amount(plan.hours.p50)} bench hours ({span(plan.hours.p10, plan.hours.p90)})."
    )
    return tuple(filter(None, (whole, " ".join(progress_text(result, plan).split()))))


def _benches(steps: Iterable[PlanStep]) -> tuple[BenchRow, ...]:
    by_stage: dict[str, list[PlanStep]] = {}
    for step in steps:
        by_stage.setdefault(step.stage, []).append(step)
    return tuple(
        BenchRow(
            stage,
            numbers_in_words(s.number for s in there),
            numbers_in_words(s.number for s in there if s.kind == "hold point"),
        )
        for stage, there in by_stage.items()
    )


def _materials(result: Assessment, steps: Iterable[PlanStep]) -> tuple[CardMaterial, ...]:
    """What is to be bought for the steps that are not done, longest delivery first."""
    left = [s for s in steps if not s.is_done]
    needs = result.planner.materials_of(left)
    return tuple(
        CardMaterial(
            need.title,
            quantity_said(need),
            str(need.lead_days or ""),
            numbers_in_words(s.number for s in left if _uses(s, need)),
        )
        for need in sorted(needs, key=lambda n: (-n.lead_days, n.title.casefold()))
    )


def _uses(step: PlanStep, need: MaterialNeed) -> bool:
    """Whether a step uses a material, whichever subsystem declares it."""
    what = need.title.casefold(), need.unit
    return any((m.title.casefold(), m.unit) == what for m in step.materials)


def _sheets(result: Assessment, steps: Iterable[PlanStep]) -> tuple[CardSheet, ...]:
    """The sheets of the subsystems that are worked on."""
    worked = {subsystem_of(s.step) for s in steps if not s.is_done and s.kind == "repair"}
    return tuple(
        CardSheet(
            sheet.title,
            sheet.columns,
            sheet.rows,
            sheet.notes,
            missing(sheet.wants, result.knowledge) if sheet.wants else "",
            len(sheet.rows) >= MANY_ROWS,
            tuple(c for c in range(1, len(sheet.columns)) if _are_numbers(sheet.rows, c)),
        )
        for name, sheet in result.sheets.items()
        if subsystem_of(name) in worked
    )


def _are_numbers(rows: Iterable[Sequence[str]], column: int) -> bool:
    """Whether every cell of a column that holds anything is a number."""
    cells = [row[column].strip("-+ ") for row in rows]
    return all(re.fullmatch(r"[\d.,]+( to [\d.,]+)?", cell) for cell in cells if cell)
