"""The calendar of random jobs: its rules, and small jobs compared with every possible order.

Small jobs in whole quarters of an hour are compared with the best calendar by constraint
programming as well.
"""

from __future__ import annotations

import datetime as dt
import itertools
import random
from dataclasses import replace
from functools import cache

import networkx as nx
import pytest
from bench_jobs import MONDAY, BenchJob, chain_of, put, shop
from exact_calendar import Best, best_calendar
from hypothesis import given
from hypothesis import strategies as st

from assess.base.year_days import YearSpan, days_off
from assess.job.workshop_profile import Workshop
from assess.planning.bench_days import Bench
from assess.planning.calendar import Booking, Calendar, _Hands, meanwhile, schedule
from assess.planning.order_search import OrderSearch
from assess.planning.tasks import Task, in_season_h

A_SECOND = dt.timedelta(seconds=1)


tasks = st.builds(
    Task,
    hands_h=st.floats(0, 12).map(lambda h: round(h, 4)),  # nothing takes a part of a second
    waits_h=st.sampled_from([0, 0, 2, 24, 72]),
    lead_days=st.sampled_from([0, 0, 3, 10]),
    site=st.sampled_from(["bench", "bench", "home", "desk"]),
    season=st.sampled_from([None, None, None, YearSpan((2, 20), (4, 30))]),
)
shops = st.builds(
    shop,
    st.sampled_from([1, 2.5, 5, 8]),
    st.sampled_from([(0, 1, 2, 3, 4), (5,), (0, 2), (0, 1, 2, 3, 4, 5, 6)]),
    st.sampled_from([(), ("01-16 to 02-03",), ("2027-01-13", "2027-01-18 to 2027-01-22")]),
)


@st.composite
def jobs(draw: st.DrawFn, most: int = 10) -> BenchJob:
    """Tasks and a precedence without circles among them."""
    names = [f"s{n}" for n in range(draw(st.integers(1, most)))]
    graph = nx.DiGraph()
    graph.add_nodes_from(names)
    pairs = list(itertools.combinations(names, 2))
    if pairs:
        graph.add_edges_from(draw(st.lists(st.sampled_from(pairs), max_size=12)))
    work = {name: draw(tasks) for name in names}
    for name in names:
        ordered_after = draw(st.sampled_from([None, *sorted(nx.ancestors(graph, name))]))
        soon = draw(st.frozensets(st.sampled_from(names), max_size=1))
        work[name] = replace(work[name], ordered_after=ordered_after, at_once_after=soon)
    return work, graph


def worked_hours(booking: Booking, workshop: Workshop) -> float:
    """Bench hours between begin and end, counted day by day."""
    total, off = 0.0, days_off(workshop.days_off)
    for offset in range((booking.end.date() - booking.start.date()).days + 1):
        opens = dt.datetime.combine(booking.start.date(), dt.time(9)) + dt.timedelta(days=offset)
        if opens.weekday() in workshop.bench_days and not off.holds(opens.date()):
            closes = opens + dt.timedelta(hours=workshop.bench_hours_a_day)
            inside = min(closes, booking.end) - max(opens, booking.start)
            total += max(0.0, inside.total_seconds() / 3600)
    return total


@given(jobs(), shops)
def test_one_pair_of_hands_does_one_thing_at_a_time(job: BenchJob, workshop: Workshop) -> None:
    bookings = put(job, workshop).bookings
    assert sorted(b.step for b in bookings) == sorted(job[0])
    assert all(a.end <= b.start + A_SECOND for a, b in itertools.pairwise(bookings))


@given(jobs(), shops)
def test_work_is_done_in_bench_hours_and_in_full(job: BenchJob, workshop: Workshop) -> None:
    bookings = put(job, workshop).bookings
    assert {booking.step for booking in bookings} == job[0].keys()
    for booking in bookings:
        assert worked_hours(booking, workshop) == pytest.approx(
            job[0][booking.step].hands_h, abs=1e-3
        )


@given(jobs(), shops)
def test_nothing_begins_before_what_it_waits_for(job: BenchJob, workshop: Workshop) -> None:
    calendar = put(job, workshop)
    booked = {b.step: b for b in calendar.bookings}
    assert booked.keys() == job[0].keys()
    for before, after in job[1].edges:
        soon = before in job[0][after].at_once_after
        waits_h = 0.0 if soon else job[0][before].waits_h
        dry = booked[before].end + dt.timedelta(hours=waits_h)
        assert booked[after].start >= dry - A_SECOND
    for step, task in job[0].items():
        ordered = booked[task.ordered_after].ready if task.ordered_after else calendar.start
        there = ordered + dt.timedelta(days=task.lead_days)
        assert not task.lead_days or booked[step].start >= there - A_SECOND
        assert task.season is None or task.season.holds(booked[step].start.date())


def days_of(booking: Booking) -> set[dt.date]:
    """The days on which a step is worked on, and those between."""
    first, last = booking.start.date(), booking.end.date()
    return {first + dt.timedelta(days=n) for n in range((last - first).days + 1)}


@given(jobs(), shops)
def test_no_day_is_spent_both_at_the_bench_and_at_the_home(
    job: BenchJob, workshop: Workshop
) -> None:
    calendar = put(job, workshop)
    at: dict[str, set[dt.date]] = {"bench": set(), "home": set(), "desk": set()}
    for booking in calendar.bookings:
        at[job[0][booking.step].site] |= days_of(booking)
    assert not at["bench"] & at["home"]
    assert set(calendar.visits(job[0])) <= at["home"]


def in_sequence(order: tuple[str, ...], job: BenchJob) -> dt.datetime:
    """When the job ends if the hands keep to one order."""
    bench = Bench(shop(), MONDAY)
    begin = now = bench.clock_h(dt.datetime.combine(MONDAY, dt.time(9)))
    ready: dict[str, float] = {}
    ended: dict[str, float] = {}
    site, site_day = "", -1
    for step in order:
        task = job[0][step]
        waits = [
            ended[other] if other in task.at_once_after else ready[other]
            for other in nx.ancestors(job[1], step)
        ]
        if task.lead_days:
            ordered = ready[task.ordered_after] if task.ordered_after else begin
            waits.append(ordered + 24 * task.lead_days)
        now = max([now, *waits])
        now = in_season_h(task, now, bench)
        if task.site not in ("desk", site) and now // 24 == site_day:
            now = in_season_h(task, 24 * (site_day + 1), bench)
        now = bench.after_h(now, task.hands_h)
        ended[step], ready[step] = now, now + task.waits_h
        if task.site != "desk":
            site, site_day = task.site, now // 24
    return bench.moment(max(ready.values()))


@given(jobs(most=5))
def test_no_order_of_a_small_job_ends_before_the_bound(
    job: BenchJob,
) -> None:
    calendar = put(job, shop())
    best = min(in_sequence(order, job) for order in nx.all_topological_sorts(job[1]))
    assert calendar.bound <= best + A_SECOND
    assert best <= calendar.finish + A_SECOND
    assert calendar.finish == max(b.ready for b in calendar.bookings)


# The best possible


def whole_quarters(seed: int) -> BenchJob:
    """A small job in whole quarters of an hour, so that constraint programming is exact."""
    chance = random.Random(seed)
    names = [f"s{n}" for n in range(chance.randint(3, 7))]
    graph = nx.DiGraph()
    graph.add_nodes_from(names)
    pairs = itertools.combinations(names, 2)
    graph.add_edges_from(pair for pair in pairs if chance.random() < 0.25)
    work = {
        name: Task(
            chance.randint(0, 32) / 4,
            chance.choice([0, 0, 2, 12.25, 24, 72]),
            chance.choice([0, 0, 0, 3, 10]),
            chance.choice([None, *sorted(nx.ancestors(graph, name))]),
            chance.choice(["bench", "bench", "home", "desk"]),
            chance.choice([None, None, None, None, YearSpan((1, 20), (1, 27))]),
            frozenset({chance.choice(names)}),
        )
        for name in names
    }
    return work, graph


@cache
def ours_and_best(seed: int) -> tuple[Calendar, Best]:
    work, graph = whole_quarters(seed)
    ours = put((work, graph), shop())
    return ours, best_calendar(work, graph, shop(), ours, seconds=60)


def test_nine_of_ten_small_calendars_are_the_best_there_are() -> None:
    found = [ours_and_best(seed) for seed in range(25)]
    assert sum(abs(ours.finish - best.finish) < A_SECOND for ours, best in found) >= 23


def test_moving_steps_ends_earlier_than_the_longest_tail_first() -> None:
    chance = random.Random(1029)
    names = [f"s{n}" for n in range(29)]
    graph = nx.DiGraph()
    graph.add_nodes_from(names)
    for place, name in enumerate(names[1:], 1):
        near = names[max(0, place - 8) : place]
        graph.add_edges_from((other, name) for other in near if chance.random() < 0.2)
    work = {
        n: Task(
            chance.randint(1, 20) / 4, chance.choice([0] * 4 + [24, 168]), chance.choice([0, 0, 7])
        )
        for n in names
    }
    closed = {n: frozenset(nx.descendants(graph, n)) for n in graph}
    longest_first = listed_only(work, closed)
    assert put((work, graph), shop()).finish < longest_first


def listed_only(work: dict[str, Task], closed: dict[str, frozenset[str]]) -> dt.datetime:
    """The finish of the list schedule, before any step is moved."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(OrderSearch, "improved", lambda _self, order, _bound: list(order))
        return schedule(work, closed, shop(), MONDAY).finish


@given(jobs(), shops, st.randoms(use_true_random=False))
def test_a_search_works_an_order_through_as_the_calendar_does(
    job: BenchJob, workshop: Workshop, chance: random.Random
) -> None:
    work, graph = job
    order = list(nx.lexicographical_topological_sort(graph, key=lambda _: chance.random()))
    closed = {n: frozenset(nx.descendants(graph, n)) for n in graph}
    before = {n: frozenset(nx.ancestors(graph, n)) for n in graph}
    bench = Bench(workshop, MONDAY)
    begin_h = bench.clock_h(dt.datetime.combine(MONDAY, dt.time(9)))
    tails = dict.fromkeys(work, 0.0)
    booked = _Hands(work, closed, before, tails, bench, begin_h).booked({}, order)
    assert [b.step for b in booked] == order
    search = OrderSearch(work, before, closed, bench, begin_h, {})
    ends = search.finish_h(order)
    assert abs(bench.moment(ends) - max(b.ready for b in booked)) < A_SECOND


@pytest.mark.parametrize("seed", range(25))
def test_the_best_calendar_lies_between_our_bound_and_our_finish(seed: int) -> None:
    ours, best = ours_and_best(seed)
    assert best.finish == best.bound, "not proven in the time allowed"
    assert ours.bound <= best.finish + A_SECOND
    assert best.finish <= ours.finish + A_SECOND


@pytest.mark.parametrize("seed", range(12))
def test_constraint_programming_agrees_with_every_order_tried(seed: int) -> None:
    """The other method is checked too: what it finds is the best of all orders."""
    job = whole_quarters(seed)
    best = min(in_sequence(order, job) for order in nx.all_topological_sorts(job[1]))
    found = best_calendar(*job, shop(), put(job, shop()), seconds=60).finish
    assert abs(found - best) < A_SECOND


@given(shops, st.integers(0, 60 * 24 * 9), st.integers(1, 60 * 200))
def test_bench_hours_between_two_moments_are_those_worked(
    workshop: Workshop, later: int, work_minutes: int
) -> None:
    bench = Bench(workshop, MONDAY)
    begin, worked = later / 60, work_minutes / 60
    end = bench.after_h(begin, worked)
    before = bench.worked_h(begin)
    assert bench.worked_h(end) - before == pytest.approx(worked)
    assert bench.worked_h(bench.next_h(end)) - before == pytest.approx(worked)


# The longest chain, and what is done meanwhile


@given(jobs(), shops)
def test_no_calendar_is_shorter_than_the_longest_chain(job: BenchJob, workshop: Workshop) -> None:
    calendar, chain = put(job, workshop), chain_of(job, workshop)
    assert calendar.start + dt.timedelta(days=chain.days) <= calendar.bound + A_SECOND
    assert all(nx.has_path(job[1], a, b) for a, b in itertools.pairwise(chain.steps))
    assert all(job[0][step].lead_days > 0 for step in chain.deliveries)
    assert all(job[0][step].season is not None for step in chain.seasons)
    assert chain.waits_for_materials == bool(chain.deliveries)


@given(jobs(), shops)
def test_meanwhile_holds_only_what_does_not_wait_for_the_drying(
    job: BenchJob, workshop: Workshop
) -> None:
    calendar = put(job, workshop)
    booked = {b.step: b for b in calendar.bookings}
    found = meanwhile(calendar)
    assert found.keys() == {s for s, t in job[0].items() if t.waits_h}
    for step, others in found.items():
        waiting = {d for d in nx.descendants(job[1], step) if step not in job[0][d].at_once_after}
        assert not set(others) & waiting
        assert all(booked[step].end <= booked[s].start < booked[step].ready for s in others)
