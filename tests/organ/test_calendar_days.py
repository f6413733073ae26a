"""The calendar of the fixtures as a craftsman lives by it: visits, answers, orders, seasons."""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path

import pytest

import assess
from assess.assessment import Assessment
from assess.base.wording import percent
from assess.job.workshop_profile import load_workshop
from assess.knowledge.model_base import Scope
from assess.output.calendars import calendar_text
from assess.planning.calendar import Booking, Calendar
from assess.planning.timing import Timing, step_of

FIXTURES = Path(__file__).parents[2] / "fixtures"
MONDAY = dt.date(2027, 1, 11)
RECORD, AGREE = "casework.record_state", "casework.agree_scope"
FETCH, DELIVER = "casework.bring_to_workshop", "casework.deliver"


@cache
def assessed(fixture: str) -> Assessment:
    return assess.assess(assess.load(FIXTURES / f"{fixture}.toml"))


@cache
def put(fixture: str, scope: Scope, start: dt.date = MONDAY) -> tuple[Calendar, Timing]:
    result = assessed(fixture)
    plan = result.plans[scope]
    return result.planner.calendar(plan, start), result.planner.timing(plan)


def booked(calendar: Calendar, step: str) -> list[Booking]:
    """The bookings of a step: two where it is done again on a later day."""
    return [b for b in calendar.bookings if step_of(b.step) == step]


def first_day(calendar: Calendar, step: str) -> dt.date:
    return booked(calendar, step)[0].start.date()


WORKSHOP_JOBS = [
    ("spilt_drink", "working"),
    ("neglected", "full"),
    ("flooded", "working"),
    ("pressure_harmonium", "full"),
    ("heated_house", "working"),
]


@pytest.mark.parametrize(("fixture", "scope"), WORKSHOP_JOBS)
def test_the_visit_the_answer_and_the_fetching_are_on_different_days(
    fixture: str, scope: Scope
) -> None:
    calendar, _ = put(fixture, scope)
    visit, agreed, fetched = (first_day(calendar, s) for s in (RECORD, AGREE, FETCH))
    assert agreed - visit >= dt.timedelta(days=7)
    assert fetched > agreed
    tasks = put(fixture, scope)[1].tasks
    at_the_bench = [b.start.date() for b in calendar.bookings if tasks[b.step].site == "bench"]
    assert min(at_the_bench) > fetched


@pytest.mark.parametrize(("fixture", "scope"), WORKSHOP_JOBS)
def test_no_bench_work_is_booked_on_a_day_at_the_home(fixture: str, scope: Scope) -> None:
    calendar, timing = put(fixture, scope)
    visits = set(calendar.visits(timing.tasks))
    for booking in calendar.bookings:
        if timing.tasks[booking.step].site == "bench":
            assert booking.start.date() not in visits
            assert booking.end.date() not in visits
    assert first_day(calendar, FETCH) in visits
    assert first_day(calendar, DELIVER) in visits


def test_a_strap_from_stock_is_renewed_on_one_visit() -> None:
    calendar, timing = put("one_strap", "working")
    assert calendar.visits(timing.tasks) == (MONDAY,)


def test_nothing_is_opened_at_the_home_before_an_ordered_strap_is_there() -> None:
    shop = load_workshop().model_copy(update={"lead_days": {"pneumatics.webbing": 7}})
    result = assess.assess(assess.load(FIXTURES / "one_strap.toml"), workshop=shop)
    plan = result.plans["working"]
    calendar, timing = result.planner.calendar(plan, MONDAY), result.planner.timing(plan)
    opened = first_day(calendar, "open casework.lower_front")
    assert opened == first_day(calendar, "pneumatics.renew_straps")
    assert opened - first_day(calendar, AGREE) >= dt.timedelta(days=7)
    assert len(calendar.visits(timing.tasks)) == 2


def test_a_conservators_opinion_takes_three_weeks() -> None:
    calendar, _ = put("early_unaltered", "stabilise")
    (asked,) = booked(calendar, "casework.ask_conservator")
    assert asked.ready - asked.end == dt.timedelta(days=21)
    assert booked(calendar, AGREE)[0].start >= asked.ready


def test_an_ordered_reed_holds_up_only_what_needs_it() -> None:
    shop = load_workshop().model_copy(update={"lead_days": {"reeds.donor_reed": 150}})
    result = assess.assess(assess.load(FIXTURES / "neglected.toml"), workshop=shop)
    plan = result.plans["full"]
    calendar = result.planner.calendar(plan, MONDAY)
    there = booked(calendar, AGREE)[0].end + dt.timedelta(days=150)
    assert booked(calendar, "reeds.replace_reeds")[0].start >= there
    assert booked(calendar, "reeds.clean_reeds")[-1].end < there


def test_screws_are_tightened_again_on_a_later_day() -> None:
    calendar, _ = put("heated_house", "working")
    first, second = booked(calendar, "pneumatics.renew_chest_gasket")
    assert second.start.date() > first.start.date()


@pytest.mark.parametrize(
    ("start", "measured"), [(MONDAY, 2027), (dt.date(2027, 5, 3), 2027)], ids=["winter", "spring"]
)
def test_a_fault_of_dry_air_is_measured_in_the_heating_season(
    start: dt.date, measured: int
) -> None:
    calendar, _ = put("heated_house", "working", start)
    first, second = booked(calendar, "pneumatics.reproduce_dry_fault")
    assert first.start.date().month in (11, 12, 1, 2, 3)
    assert first.start.date().year == measured
    assert second.start - first.end >= dt.timedelta(days=27)
    assert second.start.date() - first.start.date() >= dt.timedelta(days=28)


def test_nothing_is_glued_while_the_wood_settles() -> None:
    result = assessed("pressure_harmonium")
    calendar, _ = put("pressure_harmonium", "full")
    (settling,) = booked(calendar, "casework.acclimatise")
    gluing = [b for b in calendar.bookings if "glue" in _does(result, step_of(b.step))]
    assert len(gluing) > 5
    assert all(b.start >= settling.ready for b in gluing)


def _does(result: Assessment, step: str) -> tuple[str, ...]:
    work = result.knowledge.work(step)
    return work.does if work else ()


def test_no_noisy_work_goes_on_while_a_tuning_settles() -> None:
    result = assessed("neglected")
    calendar, _ = put("neglected", "full")
    settlings = booked(calendar, "reeds.settle")
    assert settlings
    for settling in settlings:
        for booking in calendar.bookings:
            work = result.knowledge.work(step_of(booking.step))
            if work is not None and work.noisy:
                assert booking.end <= settling.end or booking.start >= settling.ready


def test_days_off_and_their_weeks_are_free() -> None:
    off = ("2027-01-18 to 2027-01-29", "02-12")
    shop = load_workshop().model_copy(update={"days_off": off})
    result = assess.assess(assess.load(FIXTURES / "spilt_drink.toml"), workshop=shop)
    calendar = result.planner.calendar(result.plans["working"], MONDAY)
    begun = {b.start.date() for b in calendar.bookings} | {b.end.date() for b in calendar.bookings}
    assert dt.date(2027, 2, 12) not in begun
    assert not any(dt.date(2027, 1, 18) <= day <= dt.date(2027, 1, 29) for day in begun)
    assert first_day(calendar, AGREE) == dt.date(2027, 2, 1)


def test_help_and_travel_stand_in_the_price_with_a_range() -> None:
    plan = assessed("neglected").plans["full"]
    others = {m.material: m for m in plan.materials if m.kind != "material"}
    assert others["casework.helper"].quantity == 2, "one to fetch it, one to bring it back"
    assert others["casework.trip"].quantity >= 2
    assert "pneumatics.electrician" in others
    assert all(m.price_low < m.price < m.price_high for m in others.values())
    assert plan.cost.materials == pytest.approx(sum(m.price for m in plan.materials))


def calendar_of(fixture: str, scope: Scope = "working") -> str:
    result = assessed(fixture)
    plan, (calendar, _) = result.plans[scope], put(fixture, scope)
    finish = result.planner.finish(plan, calendar)
    chain = result.planner.longest_chain(plan, calendar)
    return calendar_text(result, plan, calendar, finish, chain)


def test_the_text_names_visits_and_the_day_it_is_back() -> None:
    text = calendar_of("spilt_drink")
    assert "Back with its owner:" in text
    assert "At the home on 4 days:" in " ".join(text.split())
    assert "waits for the owner's" in text
    assert "Again: Dry and clean" in calendar_of("tight_budget")


def test_the_text_says_which_step_may_miss_its_season() -> None:
    """Without it a last look in spring would put off a finish to the next year unexplained."""
    assert "comes too late for its season" not in calendar_of("spilt_drink")
    result = assessed("neglected")
    plan, (calendar, _) = result.plans["full"], put("neglected", "full")
    missed = result.planner.finish(plan, calendar).missed["casework.recheck_pests"]
    number = next(s.number for s in plan.steps if s.step == "casework.recheck_pests")
    said = f"Step {number} comes too late for its season in {percent(missed)} of cases, and waits"
    assert f"{said} until 1 March." in " ".join(calendar_of("neglected", "full").split())
