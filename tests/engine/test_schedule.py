"""The calendar of random jobs: its rules, and small jobs against every possible order."""

from __future__ import annotations

import datetime as dt
import itertools

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assess.errors import WorkshopError
from assess.schedule import Bench, Booking, Calendar, Task, schedule
from assess.workshop import Workshop, load_workshop

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


def test_a_start_on_a_sunday_waits_for_monday() -> None:
    closed: dict[str, frozenset[str]] = {"a": frozenset()}
    calendar = schedule({"a": Task(7)}, closed, shop(), dt.date(2027, 1, 10))
    (booking,) = calendar.bookings
    assert booking.start == dt.datetime(2027, 1, 11, 9)
    assert booking.end == dt.datetime(2027, 1, 12, 11)


@pytest.mark.parametrize("workshop", [shop(0), shop(5, ())])
def test_a_workshop_without_hours_schedules_nothing(workshop: Workshop) -> None:
    with pytest.raises(WorkshopError, match="no bench hours"):
        schedule({"a": Task(1)}, {"a": frozenset()}, workshop, MONDAY)


def test_more_than_ten_years_is_refused() -> None:
    job = ({"a": Task(1, 24 * 4000), "b": Task(1)}, nx.DiGraph([("a", "b")]))
    with pytest.raises(WorkshopError, match="ten years"):
        put(job, shop())


def test_an_empty_job_ends_when_it_begins() -> None:
    calendar = schedule({}, {}, shop(), MONDAY)
    assert calendar.finish == calendar.bound == calendar.start
    assert not calendar.bookings
