"""The order of a visit, and what is kept when its minutes are short."""

from __future__ import annotations

import copy
from typing import Any

import pytest
import toy
from hypothesis import given
from hypothesis import strategies as st

from assess.assessment import Assessment, assess
from assess.inspection.visit_walk import VisitMeans, Walk
from assess.knowledge.knowledge_base import Knowledge
from assess.visit.question_numbers import question_numbers

PLACES = ("hatch", "drawer")
STOPS = ("told", "used", "round", *PLACES)


def world(changes: dict[str, dict[str, Any]] | None = None) -> Knowledge:
    """The cart with questions of every stop, and two places that may be opened at a visit."""
    data = copy.deepcopy(toy.WHEELS)
    for name, minutes, inside in (("hatch", 2, None), ("drawer", 3, "hatch")):
        place = copy.deepcopy(next(p for p in data["place"] if p["id"] == "axle"))
        place |= {"id": name, "at_visit": True, "minutes": minutes, "inside": inside}
        place.pop("open_cautions")
        data["place"].append(place if inside else {k: v for k, v in place.items() if v is not None})
    torch = {"id": "torch", "title": "torch", "in_bag": True}
    data["tool"] = [{"id": "gauge", "title": "gauge"}, torch]
    for stop in STOPS:
        for name in (f"{stop}_{number}" for number in range(3)):
            data["criterion"].append(question(name, stop, **(changes or {}).get(name, {})))
    return toy.knowledge(data, toy.BOX)


def question(name: str, stop: str, **also: Any) -> dict[str, Any]:
    where = {"place": stop} if stop in PLACES else {"during": stop}
    return {
        "id": name, "component": "hub", "asks": name, "how": "Look.", "minutes": 1, "weight": 1,
        "outcomes": [{"answer": "good", "class": 0}, {"answer": "bad", "class": 2}],
        **where, **also,
    }  # fmt: skip


def assessed(knowledge: Knowledge, text: str = "") -> Assessment:
    return assess(toy.job(text), knowledge=knowledge)


def walk(knowledge: Knowledge, text: str = "", **means: Any) -> Walk:
    return assessed(knowledge, text).walk(VisitMeans(**means))


def altered(name: str, **changes: Any) -> Knowledge:
    """The same world with one question changed."""
    return world({name: changes})


def test_what_is_told_comes_first_and_what_must_be_opened_last() -> None:
    stops = [stop.id for stop in walk(world()).stops]
    assert stops == ["told", "used", "round", "wheels.hatch", "wheels.drawer"]


def test_a_danger_is_asked_about_before_anything_is_touched() -> None:
    stops = walk(world(), "[instrument.features]\nbrake = true\n").stops
    assert [stop.id for stop in stops][:2] == ["told", "dangers"]
    assert stops[1].questions == ("wheels.shoe",)


def test_each_place_is_opened_once() -> None:
    opens = [place for stop in walk(world()).stops for place in stop.opens]
    assert opens == ["wheels.hatch", "wheels.drawer"]


def test_minutes_count_opening_looking_and_writing() -> None:
    stops = walk(world(), opened=frozenset({"wheels.hatch"})).stops
    drawer = next(stop for stop in stops if stop.id == "wheels.drawer")
    assert drawer.minutes == pytest.approx(3 + 3 * (1 + 0.2))


def test_what_is_answered_is_not_asked_again() -> None:
    answered = walk(world(), '[answers.wheels]\nround_0 = "good"\n')
    assert "wheels.round_0" not in answered.questions
    again = walk(world(), '[answers.wheels]\nround_0 = "good"\n', again=True)
    assert "wheels.round_0" in again.questions


def test_a_question_comes_after_those_whose_reading_it_needs() -> None:
    questions = walk(altered("round_0", after=["round_2"])).questions
    assert questions.index("wheels.round_2") < questions.index("wheels.round_0")


def test_a_question_waits_for_its_tool() -> None:
    knowledge = altered("used_1", tools=["torch", "gauge"])
    assert walk(knowledge).no_tool == {"gauge": ("wheels.used_1",)}
    assert "wheels.used_1" in walk(knowledge, tools=frozenset({"gauge"})).questions
    assert walk(altered("used_1", tools=["torch"])).no_tool == {}


def test_the_tests_of_a_complaint_come_first_at_their_stop() -> None:
    complaint = '[[history.complaint]]\nsymptom = "wheels.wobbles"\n'
    usual = walk(world())
    told = walk(world(), complaint)
    stop = next(s for s in told.stops if "wheels.broken_spokes" in s.questions)
    assert stop.questions[:2] == ("wheels.play", "wheels.broken_spokes")
    assert set(told.questions) == set(usual.questions)


def test_the_tests_of_a_complaint_are_kept_however_short_the_time() -> None:
    complaint = '[[history.complaint]]\nsymptom = "wheels.wobbles"\n'
    assert {"wheels.play", "wheels.broken_spokes"} <= set(
        walk(world(), complaint, minutes=1).questions
    )


@given(minutes=st.floats(0, 60))
def test_what_is_kept_fits_unless_it_must_be_asked(minutes: float) -> None:
    kept = walk(world(), minutes=minutes)
    must = {"wheels.play"}  # vital
    assert must <= set(kept.questions)
    if set(kept.questions) != must:
        assert kept.minutes <= minutes + 1e-9
    everything = walk(world())
    assert set(kept.questions) | set(kept.no_time) == set(everything.questions)
    assert not set(kept.questions) & set(kept.no_time)


@given(minutes=st.floats(0, 60), more=st.floats(0, 60))
def test_the_order_does_not_depend_on_the_minutes(minutes: float, more: float) -> None:
    short, long = walk(world(), minutes=minutes), walk(world(), minutes=minutes + more)
    both = set(short.questions) & set(long.questions)
    assert [q for q in short.questions if q in both] == [q for q in long.questions if q in both]


def test_a_place_is_opened_only_where_that_pays() -> None:
    kept = walk(world(), minutes=9)
    assert kept.questions
    assert "wheels.drawer" not in [stop.id for stop in kept.stops]


def test_numbers_follow_the_walk_and_do_not_change_with_answers() -> None:
    knowledge = world()
    numbers = question_numbers(knowledge)
    assert len(set(numbers.values())) == len(numbers)
    walked = [numbers[q] for q in walk(knowledge).questions]
    assert walked == sorted(walked)
    later = assessed(knowledge, '[answers.wheels]\nround_0 = "bad"\n')
    assert question_numbers(later.knowledge) == numbers
