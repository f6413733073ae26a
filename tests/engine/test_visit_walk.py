"""The order of a visit, and what is kept when its minutes are short."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest
import toy
from hypothesis import assume, given
from hypothesis import strategies as st

from assess.assessment import Assessment, assess
from assess.inspection.visit_stops import RETURN_MIN, VisitMeans
from assess.inspection.visit_walk import Walk
from assess.job.workshop_profile import load_workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.visit.question_numbers import question_numbers
from assess.visit.session import VisitSession

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


# Where the visit stands


def stops_of(**means: Any) -> list[str]:
    return [stop.id for stop in walk(world(), **means).stops]


def test_a_stop_is_finished_before_the_next() -> None:
    assert stops_of(been=("told", "used", "wheels.hatch"))[0] == "wheels.hatch"


def test_a_stop_that_was_left_comes_last() -> None:
    been = ("told", "used", "round")
    assert stops_of(been=been) == ["round", "wheels.hatch", "wheels.drawer", "told", "used"]


def test_going_back_to_a_place_counts_its_opening_and_the_way() -> None:
    opened = frozenset({"wheels.hatch"})
    there, back = (
        next(s for s in walk(world(), opened=opened, been=been).stops if s.id == "wheels.hatch")
        for been in (("wheels.hatch",), ("wheels.hatch", "wheels.drawer"))
    )
    assert there.minutes == pytest.approx(3 * 1.2)
    assert back.minutes == pytest.approx(there.minutes + 2 + RETURN_MIN)


@given(minutes=st.floats(0, 60))
def test_what_is_kept_fits_with_going_back(minutes: float) -> None:
    been = ("told", "wheels.hatch", "round")
    kept = walk(world(), minutes=minutes, been=been, opened=frozenset({"wheels.hatch"}))
    assume(set(kept.questions) != {"wheels.play"})
    assert kept.minutes <= minutes + 1e-9


def test_with_little_time_nobody_goes_back_for_one_question_more() -> None:
    been = ("told", "used", "round", "wheels.hatch", "wheels.drawer")
    opened = frozenset({"wheels.hatch", "wheels.drawer"})
    seen = '[answers.wheels]\nplay = "4 mm"\nbroken_spokes = 0\n[answers.box]\ncrack = "none"\n'
    standing, elsewhere = (
        walk(world(), seen, minutes=4, been=been[:n], opened=opened) for n in (5, 4)
    )
    assert [(s.id, len(s.questions)) for s in standing.stops] == [("wheels.drawer", 3)]
    assert [(s.id, len(s.questions)) for s in elsewhere.stops] == [("wheels.hatch", 3)]


# The order within a stop


def test_what_decides_comes_first_then_what_is_read_off_the_same_test() -> None:
    knowledge = world({"used_1": {"vital": True}, "used_2": {"after": ["used_1"]}})
    stop = next(s for s in walk(knowledge).stops if "wheels.used_1" in s.questions)
    own = [q for q in stop.questions if q.startswith("wheels.used_")]
    assert own == ["wheels.used_1", "wheels.used_2", "wheels.used_0"]


def test_what_must_be_asked_brings_the_readings_that_it_needs() -> None:
    knowledge = world({"used_1": {"vital": True, "after": ["used_2"]}})
    questions = walk(knowledge, minutes=0).questions
    assert {"wheels.used_1", "wheels.used_2"} <= set(questions)
    assert "wheels.used_0" not in questions
    assert questions.index("wheels.used_2") < questions.index("wheels.used_1")


@given(minutes=st.floats(0, 60))
def test_no_question_is_kept_without_the_reading_that_it_needs(minutes: float) -> None:
    knowledge = world({"round_1": {"after": ["used_0"]}, "drawer_2": {"after": ["round_1"]}})
    kept = set(walk(knowledge, minutes=minutes).questions)
    assert "wheels.drawer_2" not in kept or "wheels.round_1" in kept
    assert "wheels.round_1" not in kept or "wheels.used_0" in kept


def test_questions_that_name_each_other_are_still_all_asked() -> None:
    knowledge = world({"used_0": {"after": ["used_1"]}, "used_1": {"after": ["used_0"]}})
    assert {"wheels.used_0", "wheels.used_1"} <= set(walk(knowledge, minutes=30).questions)


# A session keeps track of it


def session(path: Path, **also: Any) -> VisitSession:
    path.write_text("format = 1\n")
    knowledge = world()
    return VisitSession(path, knowledge, load_workshop(trade=knowledge.trade), **also)


def answer(visit: VisitSession, question: str) -> Walk:
    """Answer a question; the walk as it then is."""
    result = visit.assessed()
    visit.walk(result)
    visit.save(result, result.knowledge.criteria[question], "good")
    return visit.walk(visit.assessed())


def test_a_session_finishes_the_place_it_opened(tmp_path: Path) -> None:
    visit = session(tmp_path / "job.toml")
    at = visit.walk(visit.assessed()).stops[0].id
    while at != "wheels.hatch":
        stop = visit.walk(visit.assessed()).stops[0]
        result = visit.assessed()
        criterion = result.knowledge.criteria[stop.questions[0]]
        words = criterion.outcomes[0].label if not criterion.measured else "1"
        visit.save(result, criterion, words)
        at = visit.walk(visit.assessed()).stops[0].id
    first = answer(visit, "wheels.hatch_0").stops[0]
    assert (first.id, first.opens) == ("wheels.hatch", ())


def test_an_answer_that_is_jumped_to_moves_nobody(tmp_path: Path) -> None:
    visit = session(tmp_path / "job.toml")
    after = answer(visit, "wheels.drawer_1")
    assert after.stops[0].id == "told"
    assert [p for stop in after.stops for p in stop.opens] == ["wheels.hatch", "wheels.drawer"]
