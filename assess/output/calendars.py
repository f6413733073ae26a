"""A calendar as text."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from assess.assessment import Assessment
from assess.base.wording import counted
from assess.job.workshop_profile import Workshop
from assess.output.grades import title
from assess.output.layout import heading, paragraph, sections, table
from assess.output.plans import nothing_to_do
from assess.planning.calendar import Booking, Calendar, LongestChain, meanwhile
from assess.planning.finish_simulation import Finish
from assess.planning.planner import Plan


def calendar_text(
    result: Assessment, plan: Plan, calendar: Calendar, finish: Finish, chain: LongestChain
) -> str:
    """When all is done, what sets the length, and start and end of every step.

    Args:
        result: the assessment that the plan belongs to.
        plan: one of its plans.
        calendar: its calendar at the mean hours.
        finish: when it will be done.
        chain: what decides how long it takes.
    """
    head = heading(f"{title(result)}: calendar for {result.trade.scope_title(plan.scope)}")
    if not plan.steps:
        return sections([head, paragraph(f"{nothing_to_do(result)} There is nothing to schedule.")])
    numbers = {s.step: s.number for s in plan.steps}
    titles = {s.step: s.title for s in plan.steps}
    worked = {step: [numbers[s] for s in others] for step, others in meanwhile(calendar).items()}
    rows = [
        _row(b, numbers[b.step], titles[b.step], worked.get(b.step, ())) for b in calendar.bookings
    ]
    headers = ["No.", "Step", "Begin", "End", "Dries until"]
    said = [
        f"{finish_said(finish)} {pace_said(result.workshop, calendar)}",
        chain_said(chain, calendar, numbers),
        f"{_from_the_best(calendar)} {_how_to_read(any(worked.values()))}",
    ]
    return sections(
        [head, *map(paragraph, said), table(rows, headers, [4, 34, 10, 10, 10], right=(0,))]
    )


def pace_said(shop: Workshop, calendar: Calendar) -> str:
    """When it begins, and how much is worked."""
    return (
        f"Start: {day(calendar.start)}; {shop.bench_hours_a_day:g} bench hours a day, "
        f"{counted(len(set(shop.bench_days)), 'day')} a week."
    )


def finish_said(finish: Finish) -> str:
    """When it will be done, with an even chance and in nine of ten cases."""
    middle, ninth = day(finish.p50), day(finish.p90)
    if middle == ninth:
        return f"Finish: {ninth} (9 in 10)."
    return f"Finish: {middle} (even chance), {ninth} (9 in 10)."


def _how_to_read(drying: bool) -> str:
    said = "Materials are ordered on the first day. Numbers are those of the plan"
    return f"{said}; 'meanwhile' = work during drying." if drying else f"{said}."


def _from_the_best(calendar: Calendar) -> str:
    at_the_mean = f"At the mean hours, as below, it ends on {day(calendar.finish)}."
    days = (calendar.finish.date() - calendar.bound.date()).days
    if days <= 0:
        return f"{at_the_mean} No order of these steps ends on an earlier day."
    return (
        f"{at_the_mean} No order of these steps could end before {day(calendar.bound)}: this one "
        f"is at most {counted(days, 'day')} later than the best."
    )


def chain_said(chain: LongestChain, calendar: Calendar, numbers: dict[str, int]) -> str:
    """What sets the length, and what the rest of the work adds to it."""
    steps = numbers_in_words(numbers[step] for step in chain.steps)
    alone = calendar.start + dt.timedelta(days=chain.days)
    more = (calendar.finish.date() - alone.date()).days
    rest = f"adds {counted(more, 'day')}" if more > 0 else "fits beside it"
    through = "step" if len(chain.steps) == 1 else "steps"
    if chain.waits_for_materials:
        through = f"the delivery for step {numbers[chain.steps[0]]} and {through}"
    days = counted(max(1, round(chain.days)), "calendar day")
    return f"What sets the length ({days}): {through} {steps}; the rest of the work {rest}."


def numbers_in_words(numbers: Iterable[int]) -> str:
    """Numbers in order, three and more in a row as a range.

    >>> numbers_in_words([9, 3, 4, 5, 8])
    '3 to 5, 8, 9'
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )


def day(moment: dt.datetime) -> str:
    """A day as it is said."""
    return f"{moment.day} {moment:%B} {moment.year}"


def _row(booking: Booking, number: int, name: str, worked: Iterable[int]) -> list[str]:
    dries = _short(booking.ready) if booking.ready > booking.end else ""
    others = numbers_in_words(worked)
    cell = f"{name}\n  meanwhile: {others}" if others else name
    return [str(number), cell, _short(booking.start), _short(booking.end), dries]


def _short(moment: dt.datetime) -> str:
    return f"{moment:%a} {moment.day} {moment:%b}"
