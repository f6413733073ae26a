"""The best possible calendar of a job, by constraint programming, to compare ours with.

One pair of hands works in bench hours on bench days; work may stop at the end of a bench day and
goes on the next, but no other step comes between; drying runs by the clock; no day is spent both
at the bench and at the home; steps wait for materials ordered on the first day or after another
step, and for their season. Time is counted in
quarters of a bench hour, and tables give the clock, in quarters of an hour since the midnight
before the first day, at which work begins or ends after so many of them. It is exact for jobs
whose hours are whole quarters.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import networkx as nx
from ortools.sat.python import cp_model

from assess.base.year_days import YearSpan, days_off
from assess.job.workshop_profile import Workshop
from assess.planning.bench_days import OPENS_AT
from assess.planning.calendar import Calendar
from assess.planning.tasks import Task

QUARTER = dt.timedelta(minutes=15)


@dataclass(frozen=True)
class Best:
    """The best finish found, and what no finish can come before; the same when proven."""

    finish: dt.datetime
    bound: dt.datetime


@dataclass(frozen=True)
class Tables:
    """The clock before and after every quarter of a bench hour, from the first day on."""

    midnight: dt.datetime
    begins: list[int]
    ends: list[int]

    def clock(self, moment: dt.datetime) -> int:
        """A moment in quarters of an hour."""
        return round((moment - self.midnight) / QUARTER)

    def moment(self, clock: float) -> dt.datetime:
        """Quarters of an hour as a moment."""
        return self.midnight + round(clock) * QUARTER


def tables(workshop: Workshop, start: dt.date, until: dt.datetime) -> Tables:
    """The clock at every quarter of a bench hour that begins before a moment."""
    midnight = dt.datetime.combine(start, dt.time())
    begins, ends = [], []
    off = days_off(workshop.days_off)
    for day in range((until - midnight).days + 30):
        date = start + dt.timedelta(days=day)
        if date.weekday() in workshop.bench_days and not off.holds(date):
            for quarter in range(round(workshop.bench_hours_a_day * 4)):
                begins.append(day * 96 + OPENS_AT.hour * 4 + quarter)
                ends.append(begins[-1] + 1)
    # After w quarters the next one begins at begins[w], and the last one ended at ends[w].
    return Tables(midnight, begins, [begins[0], *ends[:-1]])


def rounded(tasks: Mapping[str, Task]) -> dict[str, Task]:
    """The same tasks in whole quarters of an hour."""
    return {
        step: replace(t, hands_h=round(4 * t.hands_h) / 4, waits_h=round(4 * t.waits_h) / 4)
        for step, t in tasks.items()
    }


def best_calendar(
    tasks: Mapping[str, Task],
    graph: nx.DiGraph,
    workshop: Workshop,
    ours: Calendar,
    seconds: float,
) -> Best:
    """The best calendar that can be found in some seconds, beginning from ours.

    Args:
        tasks: every step, its hours in whole quarters.
        graph: the precedence among the steps.
        workshop: bench hours a day, in whole quarters, and bench days.
        ours: a calendar of these tasks; nothing that ends later is looked at.
        seconds: time limit.
    """
    clock = tables(workshop, ours.start.date(), ours.finish)
    model = cp_model.CpModel()
    latest = clock.clock(ours.finish)
    last = sum(begins <= latest for begins in clock.begins)
    finish = model.new_int_var(0, latest, "finish")
    hands = {step: round(4 * t.hands_h) for step, t in tasks.items()}
    start = {s: model.new_int_var(0, max(0, last - hands[s]), f"start of {s}") for s in tasks}
    model.add_no_overlap(
        model.new_interval_var(start[s], hands[s], start[s] + hands[s], s) for s in tasks
    )
    begins = {s: looked_up(model, clock.begins, start[s], latest) for s in tasks}
    ready: dict[str, Any] = {}
    for step, task in tasks.items():
        ended = (
            looked_up(model, clock.ends, start[step] + hands[step], latest)
            if hands[step]
            else begins[step]
        )
        ready[step] = ended + round(4 * task.waits_h)
        model.add(ready[step] <= finish)
        if task.ordered_after is None:
            model.add(begins[step] >= OPENS_AT.hour * 4 + task.lead_days * 96)
        if task.season is not None:
            model.add_linear_expression_in_domain(begins[step], days_of(task.season, clock, latest))
    for step, task in tasks.items():
        if task.ordered_after is not None and task.lead_days:
            model.add(begins[step] >= ready[task.ordered_after] + task.lead_days * 96)
    keep_visits_apart(model, tasks, start, hands, round(4 * workshop.bench_hours_a_day))
    soon = any(task.at_once_after for task in tasks.values())
    followed = nx.transitive_closure(graph) if soon else nx.transitive_reduction(graph)
    for before, after in followed.edges:
        model.add(start[after] >= start[before] + hands[before])
        if before not in tasks[after].at_once_after:
            model.add(begins[after] >= ready[before])
    for booking in ours.bookings:
        model.add_hint(start[booking.step], quarters_before(clock, booking.start))
    model.minimize(finish)
    return solved(model, clock, ours, seconds)


def days_of(season: YearSpan, clock: Tables, latest: int) -> cp_model.Domain:
    """The quarters of all days of a season, up to some days after a last quarter."""
    days = [
        day
        for day in range(latest // 96 + 30)
        if season.holds(clock.midnight.date() + dt.timedelta(days=day))
    ]
    return cp_model.Domain.from_intervals([[96 * day, 96 * day + 95] for day in days])


def keep_visits_apart(
    model: cp_model.CpModel,
    tasks: Mapping[str, Task],
    start: Mapping[str, Any],
    hands: Mapping[str, int],
    quarters_a_day: int,
) -> None:
    """Of two steps, one at the bench and one at the home, one ends on a day before the other."""
    first, last = {}, {}
    for step in (s for s, t in tasks.items() if t.site != "desk"):
        first[step], last[step] = (model.new_int_var(0, 10_000, "") for _ in range(2))
        model.add_division_equality(first[step], start[step], quarters_a_day)
        model.add_division_equality(
            last[step], start[step] + max(0, hands[step] - 1), quarters_a_day
        )
    for one, other in itertools.combinations(first, 2):
        if tasks[one].site != tasks[other].site:
            order = model.new_bool_var("")
            model.add(last[one] < first[other]).only_enforce_if(order)
            model.add(last[other] < first[one]).only_enforce_if(~order)


def looked_up(model: cp_model.CpModel, table: list[int], index: Any, latest: int) -> Any:
    """A variable that is the table's value at an index."""
    value = model.new_int_var(0, latest + 30 * 96, "")
    model.add_element(index, table, value)
    return value


def quarters_before(clock: Tables, moment: dt.datetime) -> int:
    """Bench quarters that begin before a moment."""
    return sum(begins < clock.clock(moment) for begins in clock.begins)


def solved(model: cp_model.CpModel, clock: Tables, ours: Calendar, seconds: float) -> Best:
    """Solve on one core, always in the same way; ours stands where nothing is found in time.

    Raises:
        RuntimeError: there is no solution, though ours is one.
    """
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    status = solver.solve(model)
    bound = clock.moment(solver.best_objective_bound)
    if status == cp_model.UNKNOWN:
        return Best(ours.finish, bound)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise RuntimeError(f"no calendar: {solver.status_name(status)}")
    return Best(clock.moment(solver.objective_value), bound)
