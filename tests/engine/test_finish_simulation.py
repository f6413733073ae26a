"""Finish dates by simulation, compared with closed forms and the calendar day by day."""

from __future__ import annotations

import datetime as dt
import itertools

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assess.base.year_days import YearSpan
from assess.job.workshop_profile import Workshop, load_workshop
from assess.knowledge.model_base import HoursRange
from assess.planning.bench_days import Bench
from assess.planning.calendar import Calendar, schedule
from assess.planning.cost_estimate import job_hours, sampled_hours
from assess.planning.finish_simulation import BenchClock, Finish, finish_of
from assess.planning.tasks import Task

MONDAY = dt.date(2027, 1, 11)
A_SECOND = dt.timedelta(seconds=1)
MANY = 20_000


def shop(**changed: object) -> Workshop:
    return load_workshop().model_copy(update=changed)


shops = st.builds(
    shop,
    bench_hours_a_day=st.sampled_from([1, 2.5, 5, 7 / 3, 8, 15]),
    bench_days=st.sampled_from(
        [(0, 1, 2, 3, 4), (5,), (0, 2), (6, 0), (0, 1, 2, 3, 4, 5, 6), (1, 4, 4)]
    ),
    days_off=st.sampled_from([(), ("12-24 to 01-06",), ("2027-01-13", "2027-02-01 to 2027-02-09")]),
)
starts = st.dates(dt.date(1, 1, 1), dt.date(9700, 1, 1))
minutes = st.integers(0, 60 * 24 * 40)


# From the clock to bench hours and back


@given(shops, starts, minutes)
def test_a_moment_goes_on_at_the_next_working_moment(
    workshop: Workshop, start: dt.date, later: int
) -> None:
    bench = Bench(workshop, start)
    clock = BenchClock(bench)
    moment = dt.datetime.combine(start, dt.time()) + dt.timedelta(minutes=later)
    worked = clock.worked_h(np.array([bench.clock_h(moment)]))
    (begins,) = clock.begins_at(worked)
    assert begins == pytest.approx(bench.next_h(bench.clock_h(moment)), abs=1e-5)


@given(shops, starts, minutes, st.integers(1, 60 * 300))
def test_work_ends_when_the_bench_says(
    workshop: Workshop, start: dt.date, later: int, work_minutes: int
) -> None:
    bench = Bench(workshop, start)
    clock = BenchClock(bench)
    moment = dt.datetime.combine(start, dt.time()) + dt.timedelta(minutes=later)
    begin = bench.next_h(bench.clock_h(moment))
    worked = clock.worked_h(np.array([begin])) + work_minutes / 60
    (ends,) = clock.ends_at(worked)
    assert ends == pytest.approx(bench.after_h(begin, work_minutes / 60), abs=1e-5)


@given(shops, st.lists(st.floats(0, 24 * 400), min_size=2, max_size=20))
def test_later_moments_never_have_less_work_behind_them(
    workshop: Workshop, moments: list[float]
) -> None:
    clock = BenchClock(Bench(workshop, MONDAY))
    worked = clock.worked_h(np.sort(np.array(moments)))
    assert np.all(np.diff(worked) >= -1e-9)
    assert clock.worked_h(clock.ends_at(worked)) == pytest.approx(worked, abs=1e-6)
    assert clock.worked_h(clock.begins_at(worked)) == pytest.approx(worked, abs=1e-6)


# Drawn hours

ranges = st.lists(st.floats(0, 50), min_size=3, max_size=3).map(
    lambda v: HoursRange(tuple(sorted(v)))
)
SOME_STEPS = [
    [HoursRange((1, 2, 6))],
    [HoursRange((0, 0, 4)), HoursRange((3, 3, 3)), HoursRange((2, 7, 7))],
    [HoursRange((1, 2, 6))] * 20,
]


@pytest.mark.parametrize("spread", [0.0, 0.25, 0.5])
@pytest.mark.parametrize("steps", SOME_STEPS, ids=len)
def test_drawn_totals_have_the_mean_and_variance_of_the_closed_form(
    steps: list[HoursRange], spread: float
) -> None:
    workshop = shop(whole_job_spread=spread, pace=1.3)
    totals = sampled_hours(steps, workshop, MANY).sum(axis=0)
    expected = job_hours(steps, workshop)
    assert totals.mean() == pytest.approx(expected.mean, rel=0.01)
    assert totals.std() == pytest.approx(expected.sd, rel=0.02)


def test_every_drawn_step_lies_in_its_range_and_has_its_mean() -> None:
    steps = SOME_STEPS[1]
    drawn = sampled_hours(steps, shop(whole_job_spread=0.0, overlap=1.0), MANY)
    assert steps
    for (low, likely, high), hours in zip(steps, drawn, strict=True):
        assert low <= hours.min()
        assert hours.max() <= high
        assert hours.mean() == pytest.approx((low + 4 * likely + high) / 6, rel=0.02)


def test_one_factor_is_shared_by_all_steps_of_a_job() -> None:
    drawn = sampled_hours([HoursRange((2, 2, 2))] * 2, shop(), MANY)
    assert drawn[0] == pytest.approx(drawn[1])
    assert np.log(drawn[0]).std() == pytest.approx(shop().whole_job_spread, rel=0.01)
    assert drawn[0].mean() == pytest.approx(2, rel=0.001)


@given(ranges)
def test_any_range_can_be_drawn_from(hours: HoursRange) -> None:
    drawn = sampled_hours([hours], shop(), 10)
    assert np.all(np.isfinite(drawn))
    assert np.all(drawn >= 0)


def test_the_same_plan_has_the_same_dates_every_time() -> None:
    once, again = (sampled_hours(SOME_STEPS[2], shop()) for _ in range(2))
    assert np.array_equal(once, again)
    assert not np.array_equal(once, sampled_hours(SOME_STEPS[2], shop(), seed=1))


# Finish

Job = tuple[dict[str, Task], dict[str, HoursRange], dict[str, frozenset[str]]]
quarters = st.integers(0, 48).map(lambda n: n / 4)


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Steps of hours in quarters without any spread."""
    names = [f"s{n}" for n in range(draw(st.integers(0, 8)))]
    graph = nx.DiGraph()
    graph.add_nodes_from(names)
    if pairs := list(itertools.combinations(names, 2)):
        graph.add_edges_from(draw(st.lists(st.sampled_from(pairs), max_size=10)))
    tasks = {
        name: Task(
            draw(quarters),
            draw(st.sampled_from([0, 0, 2, 24, 72])),
            draw(st.sampled_from([0, 0, 3, 10])),
            draw(st.sampled_from([None, *nx.ancestors(graph, name)])),
            draw(st.sampled_from(["bench", "bench", "home", "desk"])),
            draw(st.sampled_from([None, None, None, YearSpan((2, 20), (4, 30))])),
            draw(st.frozensets(st.sampled_from(names), max_size=1)),
        )
        for name in names
    }
    hours = {s: HoursRange((t.hands_h, t.hands_h, t.hands_h)) for s, t in tasks.items()}
    return tasks, hours, {n: frozenset(nx.descendants(graph, n)) for n in graph}


def certain(workshop: Workshop) -> Workshop:
    return workshop.model_copy(update={"whole_job_spread": 0.0, "overlap": 1.0, "pace": 1.0})


@given(jobs(), shops, st.sampled_from([MONDAY, dt.date(2027, 1, 16)]))
def test_fixed_hours_end_when_the_calendar_does(
    job: Job, workshop: Workshop, start: dt.date
) -> None:
    tasks, hours, descendants = job
    calendar = schedule(tasks, descendants, workshop, start)
    finish = finish_of(calendar, tasks, hours, descendants, certain(workshop))
    assert abs(finish.p50 - calendar.finish) < A_SECOND
    assert finish.p50 == finish.p90


def put(tasks: dict[str, Task], workshop: Workshop) -> Calendar:
    return schedule(tasks, dict.fromkeys(tasks, frozenset()), workshop, MONDAY)


def test_one_step_ends_when_the_tenths_of_its_lognormal_hours_say() -> None:
    """With the hours of a step fixed, only the shared factor is left, and its tenths are known."""
    workshop = shop(overlap=1.0)
    tasks, hours = {"a": Task(40)}, {"a": HoursRange((40, 40, 40))}
    finish = finish_of(put(tasks, workshop), tasks, hours, {"a": frozenset()}, workshop)
    bench = Bench(workshop, MONDAY)
    begin = bench.clock_h(dt.datetime.combine(MONDAY, dt.time(9)))
    spread = job_hours(hours.values(), workshop)
    nearly = dt.timedelta(minutes=6)
    assert abs(finish.p50 - bench.moment(bench.after_h(begin, spread.p50))) < nearly
    assert abs(finish.p90 - bench.moment(bench.after_h(begin, spread.p90))) < nearly


def test_drying_in_the_night_takes_no_bench_hours() -> None:
    """Glued on Monday by two, dry on Tuesday by eight, and screwed on Tuesday."""
    workshop = certain(shop())
    tasks = {"glue": Task(5, 18), "screw": Task(2)}
    descendants = {"glue": frozenset({"screw"}), "screw": frozenset[str]()}
    hours = {s: HoursRange((t.hands_h,) * 3) for s, t in tasks.items()}
    calendar = schedule(tasks, descendants, workshop, MONDAY)
    finish = finish_of(calendar, tasks, hours, descendants, workshop)
    assert finish == Finish(dt.datetime(2027, 1, 12, 11), dt.datetime(2027, 1, 12, 11))


def test_a_finish_is_a_moment_at_the_bench() -> None:
    workshop = shop()
    tasks, hours = {"a": Task(30)}, {"a": HoursRange((20, 30, 60))}
    finish = finish_of(put(tasks, workshop), tasks, hours, {"a": frozenset()}, workshop)
    for moment in (finish.p50, finish.p90):
        assert moment.weekday() in workshop.bench_days
        assert 9 <= moment.hour + moment.minute / 60 <= 9 + workshop.bench_hours_a_day
    assert finish.p50 < finish.p90


def test_nothing_to_do_and_steps_without_hours_are_done_at_once() -> None:
    opens = dt.datetime.combine(MONDAY, dt.time(9))
    assert finish_of(put({}, shop()), {}, {}, {}, shop()) == Finish(opens, opens)
    tasks, hours = {"a": Task(0)}, {"a": HoursRange((0, 0, 0))}
    found = finish_of(put(tasks, shop()), tasks, hours, {"a": frozenset()}, shop())
    assert found == Finish(opens, opens)


def test_a_step_that_may_miss_its_season_is_named_with_its_probability() -> None:
    """Ten days of work before a season that ends after eleven: a few hours decide on a year."""
    season = YearSpan((1, 1), (1, 25))
    tasks = {"early": Task(1, season=season), "work": Task(49), "look": Task(1, season=season)}
    descendants = {
        "early": frozenset({"work", "look"}),
        "work": frozenset({"look"}),
        "look": frozenset[str](),
    }
    hours = {s: HoursRange((t.hands_h,) * 3) for s, t in tasks.items()}
    calendar = schedule(tasks, descendants, shop(overlap=1.0), MONDAY)
    finish = finish_of(calendar, tasks, hours, descendants, shop(overlap=1.0))
    assert calendar.finish < dt.datetime(2027, 1, 26)
    assert finish.missed.keys() == {"look"}
    assert 0.1 < finish.missed["look"] < 0.5
    assert finish.p50 < dt.datetime(2027, 1, 26)
    assert dt.datetime(2028, 1, 1) < finish.p90 < dt.datetime(2028, 1, 10)
    in_time = finish_of(calendar, tasks, hours, descendants, certain(shop()))
    assert not in_time.missed
