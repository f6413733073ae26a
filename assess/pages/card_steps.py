"""The steps of a plan on paper: what was found, what it takes, cautions, tests and blanks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from assess.assessment import Assessment
from assess.base.units import symbol
from assess.job.answers import read_answers
from assess.output.calendars import short_day
from assess.output.cautions import in_order, numbers_of
from assess.output.layout import amount, waiting
from assess.output.purchases import quantity_said
from assess.output.step_words import failed_line, hours_words, late_line, record_words, times_words
from assess.planning.calendar import Booking
from assess.planning.pass_marks import criterion_read
from assess.planning.plan import Plan, PlanStep, StepState
from assess.planning.workload import MaterialNeed


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


def first_met(steps: Iterable[PlanStep], result: Assessment) -> dict[str, int]:
    """The step at which each caution, by its title, is first met by one who works through them."""
    first: dict[str, int] = {}
    for step in steps:
        for caution in () if step.is_done else step.cautions:
            first.setdefault(result.knowledge.cautions[caution].title, step.number)
    return first


class StepWriter:
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
