"""The plan as pages for the bench: steps to tick, tests to pass, cautions, what to cut and buy."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from assess.assessment import Assessment
from assess.base.errors import UserError
from assess.base.units import symbol
from assess.base.wording import counted
from assess.job.answers import read_answers
from assess.knowledge.steps import subsystem_of
from assess.output.calendars import day, numbers_in_words, short_day
from assess.output.cautions import in_order, numbers_of
from assess.output.grades import title
from assess.output.layout import amount, span, waiting
from assess.output.measures import missing
from assess.output.plans import (
    failed_line,
    hours_words,
    late_line,
    nothing_to_do,
    progress_text,
    quantity_said,
    record_words,
    times_words,
)
from assess.pages.rendering import rendered
from assess.planning.calendar import Booking
from assess.planning.pass_marks import criterion_read
from assess.planning.plan import Plan, PlanStep, StepState
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
class CardCaution:
    """A caution in full, at the step where it first matters.

    Attributes:
        number: as in the plan on the screen.
        asked, rules: whom to ask, and which rules to follow.
        full_at: the number of that step.
    """

    number: int
    title: str
    text: str
    asked: str
    rules: str
    full_at: int


@dataclass(frozen=True)
class CardTest:
    """A hold point's value to reach, the value of the visit, and blanks to write into."""

    is_measured: bool
    reach: str
    passes: str
    before: str
    blanks: tuple[str, ...]
    unit: str
    if_fails: str
    failed: str


@dataclass(frozen=True)
class CardStep:
    """One step on paper; of a step that is done only its title and record are shown.

    ``dries`` tells drying from rest. ``cautions`` are those that first matter here, ``again``
    those of earlier steps.
    """

    number: int
    title: str
    hours: str
    waits: str
    dries: bool
    begins: str
    dries_until: str
    is_done: bool
    record: str
    late: str
    how: str
    avoid: str
    done_when: str
    temporary: str
    found: tuple[str, ...]
    takes: tuple[str, ...]
    cautions: tuple[CardCaution, ...]
    again: tuple[CardCaution, ...]
    test: CardTest | None


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
    writer = _Writer(result, plan, choice.how, booked, _first_met(steps, result))
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


def _first_met(steps: Iterable[PlanStep], result: Assessment) -> dict[str, int]:
    """The step at which each caution, by its title, is first met by one who works through them."""
    first: dict[str, int] = {}
    for step in steps:
        for caution in () if step.is_done else step.cautions:
            first.setdefault(result.knowledge.cautions[caution].title, step.number)
    return first


class _Writer:
    """Makes of steps what is shown of them."""

    def __init__(
        self,
        result: Assessment,
        plan: Plan,
        how: bool,
        booked: Mapping[str, Booking],
        first_met: Mapping[str, int],
    ) -> None:
        self.result, self.knowledge, self.how = result, result.knowledge, how
        self.plan, self.booked, self.first_met = plan, booked, first_met
        self.numbers = numbers_of(plan.cautions, result.knowledge)
        self.notes = {c: a.note for c, a in read_answers(result.job, result.knowledge).items()}

    def step(self, step: PlanStep) -> CardStep:
        """One step."""
        booking, is_hold = self.booked.get(step.step), step.kind == "hold point"
        waits = booking is not None and booking.ready > booking.end
        repair = self.knowledge.repairs.get(step.step)
        cautions = () if step.is_done else tuple(self._cautions(step))
        lasts = f"about {amount(step.lasts_years)} years" if step.lasts_years else ""
        return CardStep(
            number=step.number,
            title=f"{step.title}{times_words(step)}",
            hours=hours_words(step),
            waits=waiting(step.waits_hours),
            dries=repair is not None and repair.drying_hours >= step.waits_hours,
            begins=short_day(booking.start) if booking else "",
            dries_until=short_day(booking.ready) if booking and waits else "",
            is_done=step.is_done,
            record=record_words(step),
            late=late_line(step),
            how=step.how if self.how or is_hold else "",
            avoid=step.avoid,
            done_when=step.test,
            temporary=lasts,
            found=tuple(self._found(step)),
            takes=tuple(_taken(m) for m in step.materials),
            cautions=tuple(c for c in cautions if c.full_at == step.number),
            again=tuple(c for c in cautions if c.full_at != step.number),
            test=self._test(step) if is_hold else None,
        )

    def _found(self, step: PlanStep) -> list[str]:
        """What the visit found that calls for a step: answers, notes and rows of surveys."""
        lines = []
        for criterion in self._criteria(step):
            judgement = self.result.graded.judgements[criterion]
            line = f"{judgement.criterion.asks}: {judgement.given}"
            if note := self.notes.get(criterion):
                line += f' ("{note}")'
            measured = self.result.measured.values.get(criterion)
            if measured is not None and measured.which:
                line += f"; by the survey: {', '.join(measured.which)}"
            lines.append(line)
        return lines

    def _criteria(self, step: PlanStep) -> list[str]:
        """The findings that a step answers, those of lesser repairs that it replaces too."""
        own = [c.by for c in step.causes if c.kind == "finding"]
        replaced = [
            criterion
            for lesser in self.plan.replaced
            if self._replacing(lesser) == step.step
            for criterion in self.plan.called.get(lesser, ())
        ]
        return list(dict.fromkeys((*own, *replaced)))

    def _replacing(self, lesser: str) -> str:
        """What is done instead of a lesser repair, through others that are replaced as well."""
        by = lesser
        for _ in self.plan.replaced:
            by = self.plan.replaced.get(by, by)
        return by

    def _cautions(self, step: PlanStep) -> Iterator[CardCaution]:
        for name in in_order(step.cautions, self.knowledge):
            caution = self.knowledge.cautions[name]
            yield CardCaution(
                self.numbers[name],
                caution.title,
                caution.text,
                caution.defer_to,
                caution.follow,
                self.first_met[caution.title],
            )

    def _test(self, step: PlanStep) -> CardTest:
        criterion = criterion_read(self.knowledge.hold_points.get(step.step), self.knowledge)
        measured = criterion is not None and criterion.measured
        before = ""
        if criterion is not None and self.result.graded.judgements[criterion.id].is_seen:
            before = self.result.graded.judgements[criterion.id].given
            before += f' ("{note}")' if (note := self.notes.get(criterion.id)) else ""
        counts = criterion is not None and criterion.unit == "count"
        unit = symbol(criterion.unit) if criterion is not None and measured and not counts else ""
        blanks: tuple[str, ...] = ("Found",) if step.to_reach else ("Result",)
        if measured:
            blanks = ("Counted",) if counts else ("1st", "2nd", "3rd", "Middle one")
        failed = failed_line(step) if step.state is StepState.FAILED else ""
        return CardTest(
            is_measured=measured,
            reach=step.to_reach,
            passes=step.passes if step.passes != step.to_reach else "",
            before=before,
            blanks=blanks,
            unit=unit,
            if_fails="" if failed else step.if_fails,
            failed=failed,
        )


def _taken(need: MaterialNeed) -> str:
    """A material with its amount."""
    return f"{need.title} ({quantity_said(need)})"


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
