"""A calendar as text."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

from assess.assessment import Assessment
from assess.schedule import Booking, Calendar
from assess.scopes import SCOPE_TITLES, Plan
from assess.text.grades import title
from assess.text.tables import heading, paragraph, sections, table


def calendar_text(
    result: Assessment, plan: Plan, likely: Calendar, late: Calendar, warnings: Sequence[str] = ()
) -> str:
    """Start and end of every step, what dries meanwhile, and when it will be done.

    Args:
        result: the assessment that the plan belongs to.
        plan: one of its plans.
        likely: its calendar at the middle of the hours.
        late: its calendar at the ninth tenth of the hours.
        warnings: said before the calendar.
    """
    head = heading(f"Calendar: {SCOPE_TITLES[plan.scope]}", "-")
    if not plan.steps:
        nothing = "No finding within this scope calls for work, so there is nothing to schedule."
        return sections([title(result), f"{head}\n{nothing}"])
    numbers = {s.step: s for s in plan.steps}
    rows = [_row(b, numbers[b.step].number, numbers[b.step].title) for b in likely.bookings]
    shown = table(
        rows,
        ["No.", "Step", "Begin", "End", "Dries until"],
        [4, 34, 10, 10, 10],
        right=(0,),
    )
    return sections(
        [title(result), f"{head}\n{paragraph(summary(result, likely, late))}", *warnings, shown]
    )


def summary(result: Assessment, likely: Calendar, late: Calendar) -> str:
    """When it will be done, and how far that can be from the best possible."""
    shop = result.workshop
    return (
        f"From {day(likely.start)}, {shop.bench_hours_a_day:g} bench hours a day, "
        f"{len(shop.bench_days)} days a week. {_done_by(likely, late)} "
        f"{_from_the_best(likely)} Materials are ordered on the first day. Numbers are those of "
        "the plan; while something dries, the hands go on with what follows in this list."
    )


def _done_by(likely: Calendar, late: Calendar) -> str:
    middle, ninth = day(likely.finish), day(late.finish)
    if middle == ninth:
        return f"Done by {ninth} in nine of ten cases."
    return f"Done by {middle} as likely as not, by {ninth} in nine of ten cases."


def _from_the_best(likely: Calendar) -> str:
    days = math.ceil(likely.slack_days - 0.01)
    if days <= 0:
        return "No order of these steps ends earlier."
    return (
        f"No order of these steps could end before {day(likely.bound)}, so this one is at most "
        f"{days} {'day' if days == 1 else 'days'} from the best."
    )


def day(moment: dt.datetime) -> str:
    """A day as it is said."""
    return f"{moment.day} {moment:%B %Y}"


def _row(booking: Booking, number: int, name: str) -> list[str]:
    dries = _short(booking.ready) if booking.ready > booking.end else ""
    return [str(number), name, _short(booking.start), _short(booking.end), dries]


def _short(moment: dt.datetime) -> str:
    return f"{moment:%a} {moment.day} {moment:%b}"
