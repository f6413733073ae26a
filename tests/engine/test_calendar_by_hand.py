"""Calendars of single jobs, worked by hand: dates, visits, orders, seasons, and what is refused."""

from __future__ import annotations

import datetime as dt

import networkx as nx
import pytest
from bench_jobs import MONDAY, chain_of, put, shop

from assess.base.errors import UserError, WorkshopError
from assess.base.year_days import YearSpan
from assess.job.workshop_profile import Workshop
from assess.planning.bench_days import Bench
from assess.planning.calendar import Calendar, meanwhile, schedule
from assess.planning.critical_path import LongestChain
from assess.planning.tasks import Task


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


@pytest.mark.parametrize(
    ("fits", "too_long"),
    [
        # Ten years have 3650 days, and at 25 hours a week 13,035 bench hours.
        (Task(12_900), Task(13_100)),
        (Task(1, 24 * 3640), Task(1, 24 * 3660)),
        (Task(1, 0, 3640), Task(1, 0, 3660)),
    ],
    ids=["work", "drying", "delivery"],
)
def test_what_takes_almost_ten_years_is_scheduled_and_what_takes_more_is_refused(
    fits: Task, too_long: Task
) -> None:
    apart = nx.DiGraph({"a": [], "sweep": []})
    calendar = put(({"a": fits, "sweep": Task(1)}, apart), shop())
    assert 3600 < (calendar.finish - calendar.start).days < 3650
    with pytest.raises(WorkshopError, match="ten years"):
        put(({"a": too_long, "sweep": Task(1)}, apart), shop())


def test_days_that_a_better_calendar_could_save_are_counted_from_its_bound() -> None:
    start, bound = dt.datetime(2027, 1, 11, 9), dt.datetime(2027, 1, 20, 9)
    assert Calendar((), start, dt.datetime(2027, 1, 22, 21), bound).slack_days == 2.5
    assert Calendar((), start, bound, bound).slack_days == 0


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


def test_it_is_not_put_off_even_where_that_would_save_a_visit_and_end_no_later() -> None:
    """The letter waits for the look; both could wait until the filler is hard."""
    work = {
        "fill": Task(2, 72),
        "fit": Task(2, site="home"),
        "look": Task(1, site="home"),
        "letter": Task(1, site="desk"),
    }
    found = begins(work, ("fill", "fit"), ("look", "letter"))
    assert found == {"fill": "01-11", "look": "01-12", "letter": "01-12", "fit": "01-14"}


def test_a_visit_is_not_put_off_when_that_ends_later() -> None:
    """Nothing waits for the glue, but it sets for three weeks."""
    work = {
        "look": Task(1, 90, site="home"),
        "fetch": Task(2, site="home"),
        "agree": Task(1, 24, site="desk"),
        "glue": Task(1, 504, site="home"),
    }
    found = begins(work, ("look", "fetch"), ("agree", "glue"))
    assert (found["glue"], found["fetch"]) == ("01-12", "01-15")


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
