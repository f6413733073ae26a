"""A calendar as text."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from assess.assessment import Assessment
from assess.job.workshop_profile import Workshop
from assess.output.grades import title
from assess.output.layout import heading, paragraph, sections, table
from assess.planning.calendar import Booking, Calendar, LongestChain, meanwhile
from assess.planning.finish_simulation import Finish
from assess.planning.planner import SCOPE_TITLES, Plan


def calendar_text(
    result: Assessment, plan: Plan, calendar: Calendar, finish: Finish, chain: LongestChain
) -> str:
    """Start and end of every step, what is done while it dries, and when all will be done.

    Args:
        result: the assessment that the plan belongs to.
        plan: one of its plans.
        calendar: its calendar at the mean hours.
        finish: when it will be done.
        chain: what decides how long it takes.
    """
    head = heading(f"Calendar: {SCOPE_TITLES[plan.scope]}", "-")
    if not plan.steps:
        nothing = "No finding within this scope calls for work, so there is nothing to schedule."
        return sections([title(result), f"{head}\n{nothing}"])
    numbers = {s.step: s.number for s in plan.steps}
    titles = {s.step: s.title for s in plan.steps}
    worked = {step: [numbers[s] for s in others] for step, others in meanwhile(calendar).items()}
    rows = [
        _row(b, numbers[b.step], titles[b.step], worked.get(b.step, ())) for b in calendar.bookings
    ]
    shown = table(
        rows,
        ["No.", "Step", "Begin", "End", "Dries until"],
        [4, 34, 10, 10, 10],
        right=(0,),
    )
    said = [
        f"{_pace(result.workshop, calendar)} {_done_by(finish)}",
        f"{_from_the_best(calendar)} {_how_to_read(any(worked.values()))}",
        _chain(chain, calendar, numbers),
    ]
    intro = [f"{head}\n{paragraph(said[0])}", *map(paragraph, said[1:])]
    return sections([title(result), *intro, shown])


def _pace(shop: Workshop, calendar: Calendar) -> str:
    return (
        f"From {day(calendar.start)}, {shop.bench_hours_a_day:g} bench hours a day, "
        f"{_counted(len(set(shop.bench_days)), 'day')} a week."
    )


def _done_by(finish: Finish) -> str:
    middle, ninth = day(finish.p50), day(finish.p90)
    if middle == ninth:
        return f"Done by {ninth} in nine of ten cases."
    return f"Done by {middle} as likely as not, by {ninth} in nine of ten cases."


def _how_to_read(drying: bool) -> str:
    said = "Materials are ordered on the first day. Numbers are those of the plan"
    if not drying:
        return f"{said}."
    return f"{said}; what the hands do while a step dries stands below it."


def _from_the_best(calendar: Calendar) -> str:
    at_the_mean = f"At the mean hours, as below, it ends on {day(calendar.finish)}."
    days = (calendar.finish.date() - calendar.bound.date()).days
    if days <= 0:
        return f"{at_the_mean} No order of these steps ends on an earlier day."
    return (
        f"{at_the_mean} No order of these steps could end before {day(calendar.bound)}, so this "
        f"one is at most {_counted(days, 'day')} from the best."
    )


def _chain(chain: LongestChain, calendar: Calendar, numbers: dict[str, int]) -> str:
    """What decides the length, and what the rest of the work adds to it."""
    made_of = "delivery, work and drying" if chain.waits_for_materials else "work and drying"
    steps = numbers_in_words(numbers[step] for step in chain.steps)
    alone = calendar.start + dt.timedelta(days=chain.days)
    more = (calendar.finish.date() - alone.date()).days
    rest = f"adds {_counted(more, 'day')}" if more > 0 else "fits beside it"
    by_the_clock = _counted(max(1, round(chain.days)), "day")
    through = "step" if len(chain.steps) == 1 else "steps"
    if chain.waits_for_materials:
        through = f"the delivery for step {numbers[chain.steps[0]]} and {through}"
    return (
        f"The longest chain of {made_of}, {by_the_clock} by the clock, runs through {through} "
        f"{steps}; the rest of the work {rest}."
    )


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


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def _row(booking: Booking, number: int, name: str, worked: Iterable[int]) -> list[str]:
    dries = _short(booking.ready) if booking.ready > booking.end else ""
    others = numbers_in_words(worked)
    cell = f"{name}\n  meanwhile: {others}" if others else name
    return [str(number), cell, _short(booking.start), _short(booking.end), dries]


def _short(moment: dt.datetime) -> str:
    return f"{moment:%a} {moment.day} {moment:%b}"
