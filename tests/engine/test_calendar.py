"""The calendar of random jobs: its rules, and small jobs compared with every possible order.

Small jobs in whole quarters of an hour are compared with the best calendar by constraint
programming as well.
"""

from __future__ import annotations

import datetime as dt
import itertools
import random

import networkx as nx
import pytest
from exact_calendar import best_calendar
from hypothesis import given
from hypothesis import strategies as st

from assess.base.errors import UserError, WorkshopError
from assess.job.workshop_profile import Workshop, load_workshop
from assess.planning.calendar import (
    Bench,
    Booking,
    Calendar,
    LongestChain,
    Task,
    longest_chain,
    meanwhile,
    schedule,
)

MONDAY = dt.date(2027, 1, 11)
A_SECOND = dt.timedelta(seconds=1)


def shop(hours: float = 5, days: tuple[int, ...] = (0, 1, 2, 3, 4)) -> Workshop:
    changed = {"bench_hours_a_day": hours, "bench_days": days}
    return load_workshop().model_copy(update=changed)


tasks = st.builds(
    Task,
    hands_h=st.floats(0, 12),
    waits_h=st.sampled_from([0, 0, 2, 24, 72]),
    lead_days=st.sampled_from([0, 0, 3, 10]),
)
shops = st.builds(
    shop,
    st.sampled_from([1, 2.5, 5, 8]),
    st.sampled_from([(0, 1, 2, 3, 4), (5,), (0, 2), (0, 1, 2, 3, 4, 5, 6)]),
)


@st.composite
def jobs(draw: st.DrawFn, most: int = 10) -> tuple[dict[str, Task], nx.DiGraph]:
    """Tasks and a precedence without circles among them."""
    names = [f"s{n}" for n in range(draw(st.integers(1, most)))]
    graph = nx.DiGraph()
    graph.add_nodes_from(names)
    pairs = list(itertools.combinations(names, 2))
    if pairs:
        graph.add_edges_from(draw(st.lists(st.sampled_from(pairs), max_size=12)))
    return {name: draw(tasks) for name in names}, graph


def put(job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop) -> Calendar:
    work, graph = job
    closed = {n: frozenset(nx.descendants(graph, n)) for n in graph}
    return schedule(work, closed, workshop, MONDAY)


def worked_hours(booking: Booking, workshop: Workshop) -> float:
    """Bench hours between begin and end, counted day by day."""
    total = 0.0
    for offset in range((booking.end.date() - booking.start.date()).days + 1):
        opens = dt.datetime.combine(booking.start.date(), dt.time(9)) + dt.timedelta(days=offset)
        if opens.weekday() in workshop.bench_days:
            closes = opens + dt.timedelta(hours=workshop.bench_hours_a_day)
            inside = min(closes, booking.end) - max(opens, booking.start)
            total += max(0.0, inside.total_seconds() / 3600)
    return total


@given(jobs(), shops)
def test_one_pair_of_hands_does_one_thing_at_a_time(
    job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop
) -> None:
    bookings = put(job, workshop).bookings
    assert sorted(b.step for b in bookings) == sorted(job[0])
    assert all(a.end <= b.start + A_SECOND for a, b in itertools.pairwise(bookings))


@given(jobs(), shops)
def test_work_is_done_in_bench_hours_and_in_full(
    job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop
) -> None:
    for booking in put(job, workshop).bookings:
        assert worked_hours(booking, workshop) == pytest.approx(
            job[0][booking.step].hands_h, abs=1e-3
        )


@given(jobs(), shops)
def test_nothing_begins_before_what_it_waits_for(
    job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop
) -> None:
    calendar = put(job, workshop)
    booked = {b.step: b for b in calendar.bookings}
    for before, after in job[1].edges:
        dry = booked[before].end + dt.timedelta(hours=job[0][before].waits_h)
        assert booked[after].start >= dry - A_SECOND
    for step, task in job[0].items():
        assert booked[step].start >= calendar.start + dt.timedelta(days=task.lead_days)


def in_sequence(order: tuple[str, ...], job: tuple[dict[str, Task], nx.DiGraph]) -> dt.datetime:
    """When the job ends if the hands keep to one order."""
    bench, begin = Bench(shop()), dt.datetime.combine(MONDAY, dt.time(9))
    now, ready = begin, {}
    for step in order:
        task = job[0][step]
        waits = [ready[other] for other in nx.ancestors(job[1], step)]
        now = bench.next_moment(max([now, begin + dt.timedelta(days=task.lead_days), *waits]))
        now = bench.after(now, task.hands_h)
        ready[step] = now + dt.timedelta(hours=task.waits_h)
    return max(ready.values())


@given(jobs(most=5))
def test_no_order_of_a_small_job_ends_before_the_bound(
    job: tuple[dict[str, Task], nx.DiGraph],
) -> None:
    calendar = put(job, shop())
    best = min(in_sequence(order, job) for order in nx.all_topological_sorts(job[1]))
    assert calendar.bound <= best + A_SECOND
    assert best <= calendar.finish + A_SECOND
    assert calendar.finish == max(b.ready for b in calendar.bookings)


# The best possible


def whole_quarters(seed: int) -> tuple[dict[str, Task], nx.DiGraph]:
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
        )
        for name in names
    }
    return work, graph


@pytest.mark.parametrize("seed", range(25))
def test_the_best_calendar_lies_between_our_bound_and_our_finish(seed: int) -> None:
    work, graph = whole_quarters(seed)
    ours = put((work, graph), shop())
    best = best_calendar(work, graph, shop(), ours, seconds=60)
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


def test_the_bound_counts_the_nights_of_a_chain() -> None:
    """Twelve hours in a row are three days at the bench, and two weeks of drying follow."""
    calendar = put(({"a": Task(12, 336)}, nx.DiGraph({"a": []})), shop())
    assert calendar.bound == calendar.finish == dt.datetime(2027, 1, 27, 11)


def test_the_bound_counts_all_work_that_waits_for_a_delivery() -> None:
    """Two steps of four hours cannot begin before a Monday a week later."""
    work = {"a": Task(4, 0, 7), "b": Task(4, 0, 7), "c": Task(1)}
    calendar = put((work, nx.empty_graph(work, nx.DiGraph)), shop())
    assert calendar.bound == calendar.finish == dt.datetime(2027, 1, 19, 12)


def test_the_bound_counts_what_one_pair_of_hands_does_between_delivery_and_drying() -> None:
    """Two steps of four hours from the 18th on, then three days of drying for a third."""
    work = {"a": Task(4, 0, 7), "b": Task(4, 0, 7), "c": Task(2, 72)}
    calendar = put((work, nx.DiGraph([("a", "c"), ("b", "c")])), shop())
    assert calendar.bound == calendar.finish == dt.datetime(2027, 1, 22, 14)


@given(shops, st.integers(0, 60 * 24 * 9), st.integers(1, 60 * 200))
def test_bench_hours_between_two_moments_are_those_worked(
    workshop: Workshop, later: int, work_minutes: int
) -> None:
    bench = Bench(workshop)
    begin = dt.datetime.combine(MONDAY, dt.time()) + dt.timedelta(minutes=later)
    end = bench.after(begin, work_minutes / 60)
    assert bench.between(begin, end) == pytest.approx(work_minutes / 60)
    assert bench.between(begin, bench.next_moment(end)) == pytest.approx(work_minutes / 60)
    assert bench.between(end, end) == 0


# The longest chain, and what is done meanwhile


def chain_of(job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop) -> LongestChain:
    closed = {n: frozenset(nx.descendants(job[1], n)) for n in job[1]}
    return longest_chain(job[0], closed, workshop, MONDAY)


@given(jobs(), shops)
def test_no_calendar_is_shorter_than_the_longest_chain(
    job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop
) -> None:
    calendar, chain = put(job, workshop), chain_of(job, workshop)
    assert calendar.start + dt.timedelta(days=chain.days) <= calendar.bound + A_SECOND
    assert all(nx.has_path(job[1], a, b) for a, b in itertools.pairwise(chain.steps))
    assert chain.waits_for_materials <= (job[0][chain.steps[0]].lead_days > 0)


def test_drying_makes_a_chain_longer_than_more_work_does() -> None:
    work = {"glue": Task(1, 72), "screw": Task(1), "carve": Task(8), "wax": Task(2)}
    graph = nx.DiGraph([("glue", "screw"), ("carve", "wax")])
    chain = chain_of((work, graph), shop())
    assert chain == LongestChain(("glue", "screw"), False, pytest.approx(3 + 2 / 24))


def test_an_hour_of_work_is_longer_by_the_clock_than_an_hour_of_drying() -> None:
    """Twenty bench hours are four days; thirty hours of drying are little more than one."""
    work = {"glue": Task(1, 30), "carve": Task(20)}
    chain = chain_of((work, nx.empty_graph(work, nx.DiGraph)), shop())
    assert chain.steps == ("carve",)
    assert chain.days == pytest.approx(3 + 5 / 24)


def test_a_chain_may_begin_with_a_delivery() -> None:
    work = {"cut": Task(1), "cover": Task(2, 0, 10), "carve": Task(4)}
    graph = nx.DiGraph([("cut", "cover")])
    graph.add_node("carve")
    # Ordered on Monday the 11th, there on Thursday the 21st.
    assert chain_of((work, graph), shop()) == LongestChain(
        ("cover",), True, pytest.approx(10 + 2 / 24)
    )


def test_what_is_begun_while_a_step_dries() -> None:
    work = {"glue": Task(2, 24), "sweep": Task(1), "screw": Task(1), "sand": Task(4)}
    graph = nx.DiGraph([("glue", "screw"), ("glue", "sand"), ("screw", "sand")])
    graph.add_node("sweep")
    assert meanwhile(put((work, graph), shop())) == {"glue": ("sweep",)}


@given(jobs(), shops)
def test_meanwhile_holds_only_what_does_not_wait_for_the_drying(
    job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop
) -> None:
    calendar = put(job, workshop)
    booked = {b.step: b for b in calendar.bookings}
    found = meanwhile(calendar)
    assert found.keys() == {s for s, t in job[0].items() if t.waits_h}
    for step, others in found.items():
        assert not set(others) & nx.descendants(job[1], step)
        assert all(booked[step].end <= booked[s].start < booked[step].ready for s in others)


# Single jobs, and what is refused


def test_glue_dries_over_the_weekend_while_other_work_goes_on() -> None:
    job = (
        {"glue": Task(5, 48), "sweep": Task(1), "tune": Task(2)},
        nx.DiGraph([("glue", "tune")]),
    )
    job[1].add_node("sweep")
    begin = [(b.step, b.start.isoformat(timespec="hours")) for b in put(job, shop()).bookings]
    assert begin == [
        ("glue", "2027-01-11T09"),
        ("sweep", "2027-01-12T09"),
        ("tune", "2027-01-14T09"),
    ]


def test_what_dries_longest_is_done_first() -> None:
    work = {"a": Task(4), "b": Task(1, 24), "c": Task(1, 72)}
    calendar = put((work, nx.empty_graph(work, nx.DiGraph)), shop())
    assert [b.step for b in calendar.bookings] == ["c", "b", "a"]


@pytest.mark.parametrize(
    ("hours", "ends"),
    [(25, dt.datetime(2027, 1, 15, 14)), (50, dt.datetime(2027, 1, 22, 14)),
     (50.5, dt.datetime(2027, 1, 25, 9, 30))],
)  # fmt: skip
def test_whole_weeks_of_work_end_on_a_friday(hours: float, ends: dt.datetime) -> None:
    assert Bench(shop()).after(dt.datetime(2027, 1, 11, 9), hours) == ends


def test_a_start_on_a_sunday_waits_for_monday() -> None:
    closed: dict[str, frozenset[str]] = {"a": frozenset()}
    calendar = schedule({"a": Task(7)}, closed, shop(), dt.date(2027, 1, 10))
    (booking,) = calendar.bookings
    assert booking.start == dt.datetime(2027, 1, 11, 9)
    assert booking.end == dt.datetime(2027, 1, 12, 11)


@pytest.mark.parametrize("workshop", [shop(0), shop(1e-9), shop(5, ())])
def test_a_workshop_without_hours_schedules_nothing(workshop: Workshop) -> None:
    with pytest.raises(WorkshopError, match="no bench hours"):
        schedule({"a": Task(1)}, {"a": frozenset()}, workshop, MONDAY)


def test_more_than_ten_years_is_refused() -> None:
    job = ({"a": Task(1, 24 * 4000), "b": Task(1)}, nx.DiGraph([("a", "b")]))
    with pytest.raises(WorkshopError, match="ten years"):
        put(job, shop())


@pytest.mark.parametrize("task", [Task(1e9), Task(0, 1e12), Task(1, 0, 10**9)])
def test_what_would_run_past_the_last_date_is_refused(task: Task) -> None:
    with pytest.raises(WorkshopError, match="ten years"):
        put(({"a": task}, nx.DiGraph({"a": []})), shop())


def test_a_start_at_either_end_of_all_dates() -> None:
    closed: dict[str, frozenset[str]] = {"a": frozenset()}
    first = schedule({"a": Task(1)}, closed, shop(), dt.date(1, 1, 1))
    assert first.finish == dt.datetime(1, 1, 1, 10)
    for last in (dt.date(9800, 1, 1), dt.date(9999, 12, 31)):
        with pytest.raises(UserError, match="before the year 9800"):
            schedule({"a": Task(1)}, closed, shop(), last)


def test_an_empty_job_ends_when_it_begins() -> None:
    calendar = schedule({}, {}, shop(), MONDAY)
    assert calendar.finish == calendar.bound == calendar.start
    assert not calendar.bookings
