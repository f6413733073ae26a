"""From steps to tasks of the calendar, on the hand cart: sites, orders, second readings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import pytest
from toy import BOX, WHEELS, altered, declaration, knowledge

from assess.job.workshop_profile import Workshop, load_workshop, unknown_ids
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.lint import doubts
from assess.knowledge.model_base import HoursRange
from assess.knowledge.precedence_graph import precedence
from assess.planning.calendar import schedule
from assess.planning.cost_estimate import job_hours
from assess.planning.timing import Timing, step_of, timing
from assess.planning.workload import material_need

AN_HOUR = HoursRange((1, 1, 1))
MONDAY = dt.date(2027, 1, 11)


def shop(**changed: object) -> Workshop:
    even = {"overlap": 1.0, "pace": 1.0}
    return load_workshop().model_copy(update=even | changed)


def cart(*, box: dict[str, Any] = BOX, wheels: dict[str, Any] = WHEELS) -> Knowledge:
    return knowledge(wheels, box)


def timed(
    known: Knowledge,
    steps: Sequence[str],
    leads: dict[str, int] | None = None,
    workshop: Workshop | None = None,
) -> Timing:
    """Steps of an hour each, in the order of a plan."""
    among, hours = precedence(known).among(steps), dict.fromkeys(steps, AN_HOUR)
    return timing(hours, leads or {}, among, known, workshop or shop(), float(len(steps)))


def test_the_calendar_has_the_hours_of_the_plan_at_the_pace_of_the_workshop() -> None:
    """Six steps of two hours: four in full and half of the rest, by a hand half as quick."""
    wheels = altered(WHEELS, "repair", "grease_hub", again_after_days=1)
    steps, known = dict.fromkeys(PLAN, HoursRange((1, 2, 3))), cart(wheels=wheels)
    slow = shop(overlap=0.5, overlap_from=4.0, pace=2.0)
    found = timing(steps, {}, precedence(known).among(PLAN), known, slow, 12.0)
    assert sum(task.hands_h for task in found.tasks.values()) == pytest.approx(2 * (4 + 8 / 2))
    assert job_hours(steps.values(), slow).mean == pytest.approx(16)


def carted_away() -> dict[str, Any]:
    """The box's knowledge with a cart that is fetched and brought back."""
    box = altered(BOX, "repair", "fetch", moves="to_workshop")
    return altered(box, "repair", "hand_over", moves="back")


PLAN = [
    "box.photograph",
    "box.fetch",
    "open wheels.axle",
    "wheels.grease_hub",
    "close wheels.axle",
    "box.hand_over",
]


def test_what_is_never_moved_is_worked_on_at_the_bench() -> None:
    assert {t.site for t in timed(cart(), PLAN).tasks.values()} == {"bench"}


def test_between_fetching_and_bringing_back_it_is_at_the_bench() -> None:
    found = timed(cart(box=carted_away()), PLAN)
    assert [found.tasks[step].site for step in PLAN] == [
        "home", "home", "bench", "bench", "bench", "home",
    ]  # fmt: skip
    assert found.back == "box.hand_over"


def test_what_is_not_fetched_is_worked_on_at_the_home() -> None:
    steps = [step for step in PLAN if step not in ("box.fetch", "box.hand_over")]
    found = timed(cart(box=carted_away()), steps)
    assert {found.tasks[step].site for step in steps} == {"home"}
    assert found.back is None


def test_a_letter_is_written_at_a_desk_and_some_work_stays_at_the_home() -> None:
    box = altered(carted_away(), "repair", "new_boards", where="desk")
    box = altered(box, "repair", "glue_crack", where="home")
    found = timed(cart(box=box), [*PLAN[:2], "box.new_boards", "box.glue_crack", *PLAN[2:]])
    assert found.tasks["box.new_boards"].site == "desk"
    assert found.tasks["box.glue_crack"].site == "home"


def test_nothing_is_opened_at_the_home_before_the_material_for_it_is_there() -> None:
    steps = [step for step in PLAN if step not in ("box.fetch", "box.hand_over")]
    found = timed(cart(box=carted_away()), steps, {"wheels.grease_hub": 12})
    assert found.tasks["open wheels.axle"].lead_days == 12
    assert found.tasks["box.photograph"].lead_days == 0


def test_at_the_bench_only_the_step_that_needs_it_waits() -> None:
    found = timed(cart(box=carted_away()), PLAN, {"wheels.grease_hub": 12})
    assert found.tasks["open wheels.axle"].lead_days == 0
    assert found.tasks["wheels.grease_hub"].lead_days == 12


@pytest.mark.parametrize("step", ["photograph", "fetch"])
def test_materials_are_ordered_after_the_step_that_says_so(step: str) -> None:
    box = altered(carted_away(), "repair", step, orders=True)
    found = timed(cart(box=box), PLAN, {"wheels.grease_hub": 12})
    assert found.tasks["wheels.grease_hub"].ordered_after == f"box.{step}"


def test_at_the_home_a_place_waits_for_no_material_that_is_used_once_it_is_closed() -> None:
    closed = [{"step": "close wheels.axle", "because": "the box is set on its axle"}]
    box = altered(carted_away(), "repair", "new_boards", after=closed)
    steps = ["box.photograph", "open wheels.axle", "close wheels.axle", "box.new_boards"]
    found = timed(cart(box=box), steps, {"box.new_boards": 12})
    assert found.tasks["open wheels.axle"].lead_days == 0
    assert found.tasks["box.new_boards"].lead_days == 12


@pytest.mark.parametrize(
    ("declared", "hours"),
    [
        ({}, 0),
        ({"drying_hours": 30}, 30),
        ({"waiting_days": 2}, 48),
        ({"drying_hours": 30, "waiting_days": 1}, 30),
        ({"drying_hours": 30, "waiting_days": 2}, 48),
    ],
)
def test_a_step_waits_until_it_is_dry_and_rested(declared: dict[str, int], hours: float) -> None:
    found = timed(cart(wheels=altered(WHEELS, "repair", "grease_hub", **declared)), PLAN)
    assert found.tasks["wheels.grease_hub"].waits_h == hours
    assert found.tasks["open wheels.axle"].waits_h == 0


@pytest.mark.parametrize(("at_once", "begins"), [(False, 14), (True, 11)])
def test_only_what_is_said_to_go_on_at_once_does_not_wait_for_drying(
    at_once: bool, begins: int
) -> None:
    wheels = altered(WHEELS, "repair", "grease_hub", drying_hours=60)
    link = {"step": "wheels.grease_hub", "because": "it is greased", "at_once": at_once}
    box = altered(BOX, "repair", "new_boards", after=[link])
    found = timed(cart(box=box, wheels=wheels), ["wheels.grease_hub", "box.new_boards"])
    calendar = schedule(found.tasks, found.descendants, shop(), MONDAY)
    assert calendar.bookings[1].start.date() == dt.date(2027, 1, begins)


@pytest.mark.parametrize("hours_a_day", [5, 14])
@pytest.mark.parametrize(("days", "again"), [(1, "2027-01-12"), (7, "2027-01-18")])
def test_a_second_reading_is_on_a_later_day(days: int, again: str, hours_a_day: float) -> None:
    wheels = altered(WHEELS, "repair", "grease_hub", again_after_days=days)
    workshop = shop(bench_hours_a_day=hours_a_day)
    found = timed(cart(wheels=wheels), ["open wheels.axle", "wheels.grease_hub"], workshop=workshop)
    calendar = schedule(found.tasks, found.descendants, workshop, MONDAY)
    readings = [b for b in calendar.bookings if step_of(b.step) == "wheels.grease_hub"]
    assert [b.start.date().isoformat() for b in readings] == ["2027-01-11", again]
    # The declared hour holds for both.
    assert sum((b.end - b.start for b in readings), dt.timedelta()) == dt.timedelta(hours=1)


def test_what_follows_waits_for_the_second_reading() -> None:
    wheels = altered(WHEELS, "repair", "grease_hub", again_after_days=1)
    found = timed(cart(wheels=wheels), PLAN)
    assert "close wheels.axle" in found.descendants["again wheels.grease_hub"]
    assert "again wheels.grease_hub" in found.descendants["open wheels.axle"]


def test_work_that_a_wait_holds_back_comes_after_it() -> None:
    box = altered(BOX, "repair", "glue_crack", does=["glue"])
    wheels = altered(WHEELS, "repair", "grease_hub", holds_back=["glue"], waiting_days=7)
    steps = ["box.glue_crack", "open wheels.axle", "wheels.grease_hub"]
    assert "box.glue_crack" not in timed(cart(), steps).descendants["wheels.grease_hub"]
    found = timed(cart(box=box, wheels=wheels), steps)
    assert "box.glue_crack" in found.descendants["wheels.grease_hub"]
    assert "box.glue_crack" in found.descendants["open wheels.axle"]


def test_work_that_must_come_first_is_not_held_back() -> None:
    box = altered(BOX, "repair", "glue_crack", holds_back=["pressing"], waiting_days=7)
    wheels = altered(WHEELS, "repair", "grease_hub", does=["pressing"])
    wheels = altered(
        wheels, "repair", "grease_hub", before=[{"step": "box.glue_crack", "because": "it is"}]
    )
    steps = ["open wheels.axle", "wheels.grease_hub", "box.glue_crack"]
    found = timed(cart(box=box, wheels=wheels), steps)
    assert "wheels.grease_hub" not in found.descendants["box.glue_crack"]


def test_what_is_held_back_for_nothing_is_doubted() -> None:
    box = altered(BOX, "repair", "glue_crack", does=["gluing"])
    wheels = altered(WHEELS, "repair", "grease_hub", holds_back=["glueing"])
    assert not [d for d in doubts(cart(box=box)) if "holds back" in d]
    (doubt,) = [d for d in doubts(cart(box=box, wheels=wheels)) if "holds back" in d]
    assert doubt.startswith("wheels.grease_hub: holds back 'glueing'")
    assert "gluing" in doubt


@pytest.mark.parametrize("noisy_first", [True, False])
def test_noisy_work_keeps_its_side_of_a_quiet_wait(noisy_first: bool) -> None:
    box = altered(BOX, "repair", "new_boards", noisy=True)
    wheels = altered(WHEELS, "repair", "grease_hub", quiet=True, waiting_days=3)
    steps = ["open wheels.axle", "wheels.grease_hub"]
    steps.insert(0 if noisy_first else 2, "box.new_boards")
    found = timed(cart(box=box, wheels=wheels), steps).descendants
    assert ("wheels.grease_hub" in found["box.new_boards"]) == noisy_first
    assert ("box.new_boards" in found["wheels.grease_hub"]) != noisy_first


def test_a_season_is_taken_from_what_is_declared() -> None:
    box = {**BOX, "season": [{"id": "wet", "title": "wet", "first": "10-01", "last": "12-31"}]}
    box = altered(box, "repair", "glue_crack", season="wet")
    found = timed(cart(box=box), ["box.glue_crack"])
    assert found.tasks["box.glue_crack"].season is not None
    calendar = schedule(found.tasks, found.descendants, shop(), MONDAY)
    assert calendar.bookings[0].start.date() == dt.date(2027, 10, 1)


@pytest.mark.parametrize("day", ["13-01", "2027-11-01", "winter"])
def test_a_season_without_days_is_refused(day: str) -> None:
    season = {"id": "wet", "title": "wet", "first": day, "last": "12-31"}
    with pytest.raises(ValueError, match="write a month and a day"):
        declaration({**BOX, "season": [season]})


# Materials and fees


def test_what_is_in_stock_has_no_lead_time_and_a_profile_may_say_otherwise() -> None:
    spoke = cart(wheels=altered(WHEELS, "material", "spoke", stock=True)).materials["wheels.spoke"]
    assert material_need(spoke, 1, shop()).lead_days == 0
    assert material_need(spoke, 1, shop(lead_days={"wheels.spoke": 9})).lead_days == 9
    ordered = cart().materials["wheels.spoke"]
    assert material_need(ordered, 1, shop()).lead_days == 3
    assert material_need(ordered, 1, shop(lead_days={"wheels.spoke": 0})).lead_days == 0


def test_an_unknown_material_with_days_to_get_it_is_named() -> None:
    (line,) = unknown_ids(shop(lead_days={"wheels.spoke": 1, "wheels.spok": 1}), cart())
    assert line.startswith('lead_days."wheels.spok" has no effect')
    assert "wheels.spoke" in line


def test_a_fee_has_a_range_that_an_own_price_replaces() -> None:
    wheels = altered(WHEELS, "material", "spoke", price_range=[2, 10])
    wheels["material"][-1]["kind"] = "service"
    smith = cart(wheels=wheels).materials["wheels.spoke"]
    need = material_need(smith, 3, shop())
    assert (need.kind, need.price_low, need.price, need.price_high) == ("service", 6, 12, 30)
    own = material_need(smith, 3, shop(prices={"wheels.spoke": 5}))
    assert (own.price_low, own.price, own.price_high) == (15, 15, 15)


def test_a_price_outside_its_range_is_refused() -> None:
    with pytest.raises(ValueError, match="within price_range"):
        declaration(altered(WHEELS, "material", "spoke", price_range=[5, 10]))
