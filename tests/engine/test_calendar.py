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
from exact_calendar import Best, best_calendar
from hypothesis import given
from hypothesis import strategies as st

from assess.base.errors import UserError, WorkshopError
from assess.base.year_days import YearSpan, days_off
from assess.job.workshop_profile import Workshop, load_workshop
from assess.planning.bench_days import Bench
from assess.planning.calendar import Booking, Calendar, _Hands, meanwhile, schedule
from assess.planning.critical_path import LongestChain, longest_chain
from assess.planning.order_search import OrderSearch
from assess.planning.tasks import Task, in_season_h

MONDAY = dt.date(2027, 1, 11)
A_SECOND = dt.timedelta(seconds=1)


def shop(
    hours: float = 5, days: tuple[int, ...] = (0, 1, 2, 3, 4), off: tuple[str, ...] = ()
) -> Workshop:
    changed = {"bench_hours_a_day": hours, "bench_days": days, "days_off": off}
    return load_workshop().model_copy(update=changed)


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
def jobs(draw: st.DrawFn, most: int = 10) -> tuple[dict[str, Task], nx.DiGraph]:
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


def put(job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop) -> Calendar:
    work, graph = job
    closed = {n: frozenset(nx.descendants(graph, n)) for n in graph}
    return schedule(work, closed, workshop, MONDAY)


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
    bookings = put(job, workshop).bookings
    assert {booking.step for booking in bookings} == job[0].keys()
    for booking in bookings:
        assert worked_hours(booking, workshop) == pytest.approx(
            job[0][booking.step].hands_h, abs=1e-3
        )


@given(jobs(), shops)
def test_nothing_begins_before_what_it_waits_for(
    job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop
) -> None:
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
    job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop
) -> None:
    calendar = put(job, workshop)
    at: dict[str, set[dt.date]] = {"bench": set(), "home": set(), "desk": set()}
    for booking in calendar.bookings:
        at[job[0][booking.step].site] |= days_of(booking)
    assert not at["bench"] & at["home"]
    assert set(calendar.visits(job[0])) <= at["home"]


def in_sequence(order: tuple[str, ...], job: tuple[dict[str, Task], nx.DiGraph]) -> dt.datetime:
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
    job: tuple[dict[str, Task], nx.DiGraph], workshop: Workshop, chance: random.Random
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
    bench = Bench(workshop, MONDAY)
    begin, worked = later / 60, work_minutes / 60
    end = bench.after_h(begin, worked)
    before = bench.worked_h(begin)
    assert bench.worked_h(end) - before == pytest.approx(worked)
    assert bench.worked_h(bench.next_h(end)) - before == pytest.approx(worked)


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
    assert all(job[0][step].lead_days > 0 for step in chain.deliveries)
    assert all(job[0][step].season is not None for step in chain.seasons)
    assert chain.waits_for_materials == bool(chain.deliveries)


def test_drying_makes_a_chain_longer_than_more_work_does() -> None:
    work = {"glue": Task(1, 72), "screw": Task(1), "carve": Task(8), "wax": Task(2)}
    graph = nx.DiGraph([("glue", "screw"), ("carve", "wax")])
    chain = chain_of((work, graph), shop())
    assert chain == LongestChain(("glue", "screw"), (), (), pytest.approx(3 + 2 / 24))


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
        ("cover",), ("cover",), (), pytest.approx(10 + 2 / 24)
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
        waiting = {d for d in nx.descendants(job[1], step) if step not in job[0][d].at_once_after}
        assert not set(others) & waiting
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
    bench = Bench(shop(), MONDAY)
    begin = bench.clock_h(dt.datetime(2027, 1, 11, 9))
    assert bench.moment(bench.after_h(begin, hours)) == ends


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


# Visits, orders, seasons and days off


def begins(
    work: dict[str, Task], *order: tuple[str, str], **shop_changes: object
) -> dict[str, str]:
    """The first day of each step, without the year."""
    graph = nx.DiGraph(order)
    graph.add_nodes_from(work)
    found = put((work, graph), shop().model_copy(update=shop_changes)).bookings
    return {b.step: f"{b.start:%m-%d}" for b in found}


def test_a_visit_an_answer_and_a_fetch_are_not_one_day() -> None:
    work = {
        "look": Task(1, site="home"),
        "propose": Task(1, 168, site="desk"),
        "fetch": Task(2, site="home"),
        "strip": Task(2),
    }
    found = begins(work, ("look", "propose"), ("propose", "fetch"), ("fetch", "strip"))
    assert found == {"look": "01-11", "propose": "01-11", "fetch": "01-18", "strip": "01-19"}


def test_work_at_the_home_is_done_on_one_visit_before_a_letter_is_written() -> None:
    work = {
        "letter": Task(1, 240, site="desk"),
        "look": Task(1, site="home"),
        "measure": Task(1, site="home"),
        "plane": Task(3),
    }
    found = begins(work, ("look", "letter"))
    assert found == {"look": "01-11", "measure": "01-11", "letter": "01-11", "plane": "01-12"}


def test_what_nothing_waits_for_is_put_off_to_the_next_visit() -> None:
    """The answer comes on Friday; the strap could be put round on Tuesday, but need not be."""
    work = {
        "look": Task(1, 90, site="home"),
        "propose": Task(1, site="desk"),
        "fetch": Task(2, site="home"),
        "agree": Task(1, 24, site="desk"),
        "strap": Task(1, site="home"),
    }
    order = [("look", "fetch"), ("agree", "strap"), ("strap", "fetch"), ("look", "propose")]
    found = begins(work, *order)
    assert found["look"] == "01-11"
    assert found["strap"] == found["fetch"] == "01-15"


def test_a_visit_is_not_put_off_when_something_waits_for_it() -> None:
    work = {
        "look": Task(1, 90, site="home"),
        "fetch": Task(2, site="home"),
        "agree": Task(1, 24, site="desk"),
        "measure": Task(1, site="home"),
        "calculate": Task(1, 72, site="desk"),
        "build": Task(20),
    }
    order = [("look", "fetch"), ("agree", "measure"), ("measure", "calculate")]
    found = begins(work, *order, ("calculate", "build"))
    assert found["measure"] == "01-12"


def test_a_step_that_goes_on_at_once_does_not_sit_out_the_wait() -> None:
    work = {
        "deliver": Task(1, 336, site="home"),
        "level": Task(1, site="home", at_once_after=frozenset({"deliver"})),
        "visit": Task(1, site="home"),
    }
    found = begins(work, ("deliver", "level"), ("deliver", "visit"), ("level", "visit"))
    assert found == {"deliver": "01-11", "level": "01-11", "visit": "01-25"}


def test_materials_are_ordered_after_the_step_that_orders_them() -> None:
    work = {"agree": Task(1, 72), "cover": Task(1, 0, 7, "agree"), "plane": Task(1)}
    found = begins(work, ("agree", "cover"), ("agree", "plane"))
    # Agreed on Monday, answered on Thursday, ordered then, there a week later.
    assert found == {"agree": "01-11", "plane": "01-14", "cover": "01-21"}


@pytest.mark.parametrize(
    ("start", "begun"),
    [(dt.date(2027, 1, 11), "2027-01-11"), (dt.date(2027, 6, 1), "2027-11-01"),
     (dt.date(2027, 12, 31), "2027-12-31"), (dt.date(2028, 3, 31), "2028-11-01")],
)  # fmt: skip
def test_a_season_is_waited_for_from_the_date(start: dt.date, begun: str) -> None:
    winter = {"measure": Task(1, season=YearSpan((11, 1), (3, 30)))}
    calendar = schedule(winter, {"measure": frozenset()}, shop(), start)
    assert calendar.bookings[0].start.date().isoformat() == begun
    assert calendar.finish == calendar.bound


def test_nothing_is_done_on_a_day_off() -> None:
    off = ("2027-01-12", "2027-01-14 to 2027-01-15", "01-18")
    calendar = put(({"carve": Task(12)}, nx.DiGraph({"carve": []})), shop(off=off))
    # Five hours on Monday, five on Wednesday, two on the Tuesday after.
    assert calendar.finish == calendar.bound == dt.datetime(2027, 1, 19, 11)


def test_a_year_off_leaves_nothing_to_schedule() -> None:
    with pytest.raises(WorkshopError, match="days_off leaves no bench day"):
        put(({"a": Task(1)}, nx.DiGraph({"a": []})), shop(off=("01-01 to 12-31",)))


def test_a_season_that_never_has_a_bench_day_is_refused() -> None:
    task = Task(1, season=YearSpan((12, 25), (12, 25)))
    with pytest.raises(WorkshopError, match="ten years"):
        put(({"a": task}, nx.DiGraph({"a": []})), shop(off=("12-25",)))


def test_the_longest_chain_names_what_it_waits_for() -> None:
    work = {
        "agree": Task(1),
        "cover": Task(1, 0, 7, "agree"),
        "prove": Task(1, season=YearSpan((11, 1), (3, 1))),
    }
    graph = nx.DiGraph([("agree", "cover"), ("cover", "prove")])
    chain = chain_of((work, graph), shop())
    assert chain.steps == ("agree", "cover", "prove")
    assert (chain.deliveries, chain.seasons) == (("cover",), ())
    late = dict(work, prove=Task(1, season=YearSpan((11, 1), (12, 1))))
    assert chain_of((late, graph), shop()).seasons == ("prove",)
