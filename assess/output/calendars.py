"""A calendar as text."""

from __future__ import annotations

import datetime as dt
from calendar import month_name
from collections.abc import Iterable, Mapping

from assess.assessment import Assessment
from assess.base.wording import counted, percent
from assess.job.workshop_profile import Workshop
from assess.output.grades import title
from assess.output.layout import heading, paragraph, sections, table
from assess.output.plans import nothing_to_do, progress_text
from assess.planning.calendar import Booking, Calendar, meanwhile
from assess.planning.critical_path import LongestChain
from assess.planning.finish_simulation import Finish
from assess.planning.plan import Plan, PlanStep
from assess.planning.tasks import Task
from assess.planning.timing import step_of

WORTH_SAYING = 0.05
"""A season that is missed more rarely than this is not mentioned."""


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
    progress = progress_text(result, plan)
    if not plan.left:
        return sections([head, progress])
    steps = {s.step: s for s in plan.steps}
    tasks = result.planner.timing(plan).tasks
    worked = meanwhile(calendar)
    rows = [
        _row(b, calendar.start, steps, tasks[b.step], worked.get(b.step, ()), result)
        for b in calendar.bookings
    ]
    headers = ["No.", "Step", "Where", "Begin", "End", "Wait until"]
    said = [
        f"{finish_said(finish)} {pace_said(result.workshop, calendar)}",
        missed_said(finish, tasks, {s: step.number for s, step in steps.items()}),
        chain_said(chain, calendar, {s: step.number for s, step in steps.items()}),
        visits_said(calendar, tasks, plan),
        f"{_from_the_best(calendar)} {_how_to_read(plan, tasks, any(worked.values()))}",
    ]
    return sections(
        [
            head,
            progress,
            *(paragraph(text) for text in said if text),
            table(rows, headers, [4, 28, 5, 11, 11, 11], right=(0,)),
        ]
    )


def pace_said(shop: Workshop, calendar: Calendar) -> str:
    """When it begins, and how much is worked."""
    off = " without your days off" if shop.days_off else ""
    return (
        f"Start: {day(calendar.start)}; {shop.bench_hours_a_day:g} bench hours a day, "
        f"{counted(len(set(shop.bench_days)), 'day')} a week{off}."
    )


def finish_said(finish: Finish) -> str:
    """When it will be done and back, with an even chance and in nine of ten cases."""
    said = f"Finish: {_even_and_ninth(finish.p50, finish.p90)}."
    if finish.back_p50 is None or finish.back_p90 is None:
        return said
    return f"Back with its owner: {_even_and_ninth(finish.back_p50, finish.back_p90)}. {said}"


def missed_said(finish: Finish, tasks: Mapping[str, Task], numbers: Mapping[str, int]) -> str:
    """Which steps may come after their season, how likely, and when the next one begins.

    Args:
        finish: when the plan will be done.
        tasks: every step, with its season.
        numbers: of the steps in the plan.
    """
    return " ".join(
        f"Step {numbers[step_of(step)]} comes too late for its season in {percent(share)} of "
        f"cases, and waits until {season.first[1]} {month_name[season.first[0]]}."
        for step, share in finish.missed.items()
        if share >= WORTH_SAYING and (season := tasks[step].season) is not None
    )


def _even_and_ninth(middle: dt.datetime, ninth: dt.datetime) -> str:
    if day(middle) == day(ninth):
        return f"{day(ninth)} (9 in 10)"
    return f"{day(middle)} (even chance), {day(ninth)} (9 in 10)"


def visits_said(calendar: Calendar, tasks: Mapping[str, Task], plan: Plan) -> str:
    """The days at the customer's home, and how many of them the plan prices."""
    days = calendar.visits(tasks)
    if not days:
        return ""
    named = ", ".join(_short(visit, calendar.start) for visit in days)
    priced = round(sum(m.quantity for m in plan.materials if m.kind == "trip"))
    carried = " and carrying it both ways" if plan.cost.transport else ""
    trips = f"the plan prices {counted(priced, 'trip')}{carried}"
    return f"At the home on {counted(len(days), 'day')}: {named}; {trips}."


def _how_to_read(plan: Plan, tasks: Mapping[str, Task], waiting: bool) -> str:
    """What the table does not say by itself."""
    numbers = {s.step: s.number for s in plan.steps}
    ordering = {t.ordered_after for t in tasks.values() if t.lead_days}
    orders = [
        f"after step {numbers[s]}" if s else "on the first day"
        for s in sorted(ordering, key=lambda s: (s is not None, s))
    ]
    ordered = f"What is not in stock is ordered {' or '.join(orders)}. " if orders else ""
    done = (
        ""
        if len(plan.left) == len(plan.steps)
        else ("Steps that are done are left out and count as dry. ")
    )
    said = f"{done}{ordered}Numbers are those of the plan"
    return f"{said}; 'meanwhile' = work begun during a wait." if waiting else f"{said}."


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
    steps = numbers_in_words({numbers[step_of(step)] for step in chain.steps})
    alone = calendar.start + dt.timedelta(days=chain.days)
    more = (calendar.finish.date() - alone.date()).days
    rest = f"adds {counted(more, 'day')}" if more > 0 else "fits beside it"
    through = "step" if len(chain.steps) == 1 else "steps"
    waits = [
        f" (waiting for {what} {numbers_in_words(numbers[step_of(s)] for s in those)})"
        for what, those in (
            ("what is ordered for", chain.deliveries),
            ("the season of", chain.seasons),
        )
        if those
    ]
    days = counted(max(1, round(chain.days)), "calendar day")
    return (
        f"What sets the length ({days}): {through} {steps}{''.join(waits)}; "
        f"the rest of the work {rest}."
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


def _row(
    booking: Booking,
    first_day: dt.datetime,
    steps: Mapping[str, PlanStep],
    task: Task,
    worked: Iterable[str],
    result: Assessment,
) -> list[str]:
    step = steps[step_of(booking.step)]
    work = result.knowledge.work(step.step)
    second = booking.step != step.step
    lines = [f"Again: {step.title}" if second else step.title]
    last_half = second or work is None or not work.again_after_days
    if booking.ready > booking.end and work is not None and work.waiting_for and last_half:
        lines.append(f"  waits for {work.waiting_for}")
    if others := numbers_in_words({steps[step_of(s)].number for s in worked} - {step.number}):
        lines.append(f"  meanwhile: {others}")
    start, end = booking.start, booking.end
    days = (
        _short(start, first_day),
        _short(end, first_day) if end.date() != start.date() else "",
        _short(booking.ready, first_day) if booking.ready > end else "",
    )
    return [str(step.number), "\n".join(lines), task.site, *days]


def _short(moment: dt.date, first_day: dt.date) -> str:
    """A day with its weekday; with its year instead where it is not the year of the first day."""
    if moment.year == first_day.year:
        return short_day(moment)
    return f"{moment.day} {moment:%b} {moment.year}"


def short_day(moment: dt.date) -> str:
    """A day in a table, with its weekday."""
    return f"{moment:%a} {moment.day} {moment:%b}"
