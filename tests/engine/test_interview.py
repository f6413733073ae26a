"""The interview: answers saved one by one, left and resumed at will."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import toy

from assess.base.measures import parse_measure
from assess.cli.interview import Interview
from assess.job.job_file import Job
from assess.job.job_reading import load as load_in
from assess.job.workshop_profile import load_workshop
from assess.visit.session import VisitSession

CART = toy.knowledge()


def load(path: Path) -> Job:
    return load_in(path, CART.trade)


class Person:
    """Somebody who types prepared lines and hears what is said."""

    def __init__(self, *lines: str) -> None:
        self.lines: Iterator[str] = iter(lines)
        self.heard: list[str] = []
        self.interview: Interview | None = None

    def ask(self, prompt: str) -> str:
        try:
            return next(self.lines)
        except StopIteration:
            raise EOFError from None

    def say(self, text: str) -> None:
        self.heard.append(text)

    def said(self) -> str:
        return "\n".join(self.heard)


def talk(path: Path, *lines: str, **options: Any) -> Person:
    person = Person(*lines)
    visit = VisitSession(path, CART, load_workshop(trade=CART.trade), **options)
    person.interview = Interview(visit, person.ask, person.say)
    person.interview.run()
    return person


def new(tmp_path: Path, text: str = "") -> Path:
    path = tmp_path / "job.toml"
    path.write_text(f"format = 1  # kept\n{text}")
    return path


def test_answers_in_words_by_number_with_units_and_notes(tmp_path: Path) -> None:
    path = new(tmp_path)
    person = talk(path, "7", "3", "1 / near the tail board")
    answers = load(path).answers
    assert answers["box"]["crack"].answer == "none"
    assert answers["box"]["crack"].note == "near the tail board"
    assert answers["wheels"]["play"].answer == "7 mm"
    assert answers["wheels"]["broken_spokes"].answer == 3
    assert "# kept" in path.read_text()
    assert "wobbles: class 3" in person.said()


def test_not_seen_and_does_not_apply_are_answers(tmp_path: Path) -> None:
    path = new(tmp_path)
    talk(path, "n", "x")
    answers = load(path).answers
    assert [a.answer for t in answers.values() for a in t.values()] == ["not seen", "doesn't apply"]


def test_leaving_and_resuming(tmp_path: Path) -> None:
    path = new(tmp_path)
    first = talk(path, "4 mm", "q")
    assert load(path).answers["wheels"]["play"].answer == "4 mm"
    assert "[3 left" in first.said()
    second = talk(path, "0", "one")
    assert "[2 left" in second.said()
    assert "[3 left" not in second.said()
    assert "Nothing is left to ask." in talk(path).said()


def test_a_slip_is_explained_and_asked_again(tmp_path: Path) -> None:
    path = new(tmp_path)
    person = talk(path, "fast", "-2", "2 s", "1,5 mm", "s", "rottten", "?", "rotten")
    assert 'did you mean "rotten"?' in person.said()
    assert "Look." in person.said()
    assert "not a number" in person.said()
    assert "out of range" in person.said()
    assert "is a unit of time" in person.said()
    assert load(path).answers["wheels"]["play"].answer == "1,5 mm"


def test_back_and_skip(tmp_path: Path) -> None:
    path = new(tmp_path)
    talk(path, "s", "4", "b", "b", "4 mm", "none", "q")
    assert load(path).answers["box"]["crack"].answer == "none"
    assert load(path).answers["wheels"]["play"].answer == "4 mm"
    assert load(path).answers["wheels"]["broken_spokes"].answer == 4


def test_what_lies_behind_closed_places_is_asked_on_request(tmp_path: Path) -> None:
    path = new(tmp_path)
    assert "Noise of the hub" not in talk(path, "n", "n", "n", "n").said()
    assert "Noise of the hub" in talk(path, "n", "n", everything=True).said()


def test_a_danger_is_cautioned_at_once(tmp_path: Path) -> None:
    path = new(tmp_path, "[instrument.features]\nbrake = true\n")
    person = talk(path, "loose")
    assert "TAKE CARE: Heavy load." in person.said()
    assert "the lifting rules in force" in person.said()


def test_answered_questions_are_asked_again_on_request(tmp_path: Path) -> None:
    path = new(tmp_path, '[answers.box]\ncrack = { answer = "one", note = "old" }\n')
    talk(path, "s", "s", "rotten", again=True)
    changed = load(path).answers["box"]["crack"]
    assert (changed.answer, changed.note) == ("rotten", "old")


def test_answers_that_were_saved_are_counted(tmp_path: Path) -> None:
    path = new(tmp_path)
    saved = [talk(path, *lines).interview for lines in (("s", "q"), ("4 mm", "fast", "3", "q"))]
    assert [(i.saved, i.unsaved) for i in saved if i] == [(0, {}), (2, {})]


def test_an_answer_that_cannot_be_saved_is_named_and_asked_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = new(tmp_path)
    replace, full = os.replace, [True, True, False]

    def fails_twice(*paths: Any) -> None:
        if full.pop(0):
            raise OSError(28, "No space left on device")
        replace(*paths)

    monkeypatch.setattr(os, "replace", fails_twice)
    lost = talk(path, "4 mm", "q")
    assert lost.interview
    assert lost.interview.unsaved == {"wheels.play": "wheels.play: 4 mm"}
    assert "NOT SAVED." in lost.said()
    assert "No space left on device" in lost.said()
    assert load(path).answers == {}
    again = talk(path, "4 mm", "4 mm", "q")
    assert again.interview
    assert (again.interview.saved, again.interview.unsaved) == (1, {})
    assert "NOT SAVED." in again.said()
    assert load(path).answers["wheels"]["play"].answer == "4 mm"


@pytest.mark.parametrize("typed", ["1 / 8 in", "1/8 in", "1 / 8 in / by the left wheel"])
def test_a_fraction_is_not_taken_for_a_note(tmp_path: Path, typed: str) -> None:
    path = new(tmp_path)
    talk(path, typed, "q")
    answer = load(path).answers["wheels"]["play"]
    assert parse_measure(str(answer.answer), "mm") == pytest.approx(25.4 / 8)
    assert answer.note == ("by the left wheel" if "left" in typed else "")


BRAKED = "[instrument.features]\nbrake = true\n"


def test_capital_letters_and_loose_slashes(tmp_path: Path) -> None:
    path = new(tmp_path)
    talk(path, "4 MM/left wheel", "N", "ROTTEN/soft", "Q")
    answers = load(path).answers
    assert (answers["wheels"]["play"].answer, answers["wheels"]["play"].note) == (
        "4 MM",
        "left wheel",
    )
    assert answers["wheels"]["broken_spokes"].answer == "not seen"
    assert answers["box"]["crack"].answer == "rotten"


def test_enter_keeps_the_present_answer_and_a_dash_takes_its_note_away(tmp_path: Path) -> None:
    text = '[answers.wheels]\nplay = { answer = "4 mm", note = "left" }\n'
    path = new(tmp_path, text)
    person = talk(path, "", "q", again=True)
    assert "now: 4 mm / left (Enter keeps it)" in person.said()
    assert load(path).answers["wheels"]["play"].note == "left"
    talk(path, "4 mm/-", "q", again=True)
    assert load(path).answers["wheels"]["play"].note == ""


def test_a_question_is_found_by_a_word(tmp_path: Path) -> None:
    path = new(tmp_path)
    person = talk(path, "/crack", "one", "/zebra", "q")
    assert load(path).answers["box"]["crack"].answer == "one"
    assert "no question has 'zebra'" in person.said()


def test_several_questions_with_a_word_are_listed(tmp_path: Path) -> None:
    path = new(tmp_path)
    person = talk(path, "/wheels", "2", "3", "q")
    assert "2  Broken spokes" in person.said()
    assert load(path).answers["wheels"]["broken_spokes"].answer == 3


def test_the_overview_shows_what_is_answered_and_what_is_not(tmp_path: Path) -> None:
    said = talk(new(tmp_path), "4 mm", "o", "q").said()
    assert "1 of 3 answered" in said
    assert "to be asked" in said


def test_back_reaches_answers_of_an_earlier_sitting(tmp_path: Path) -> None:
    path = new(tmp_path)
    talk(path, "4 mm", "3", "q")
    talk(path, "b", "5", "q")
    assert load(path).answers["wheels"]["broken_spokes"].answer == 5


def test_a_danger_that_was_passed_over_is_asked_once_more(tmp_path: Path) -> None:
    path = new(tmp_path, BRAKED)
    person = talk(path, "s", "4 mm", "3", "none", "loose")
    assert load(path).answers["wheels"]["shoe"].answer == "loose"
    assert person.said().count("Brake shoe") == 3  # twice asked, once at the end
    assert talk(new(tmp_path, BRAKED), "s", "s", "s", "s", "s").said().count("Brake shoe\n") == 2


def test_no_verdict_before_what_decides_was_tried(tmp_path: Path) -> None:
    early = talk(new(tmp_path), "v", "q").said()
    assert "Too early for a verdict" in early
    assert "%" not in early
    later = talk(new(tmp_path), "4 mm", "v", "q").said()
    assert "Recommendation" in later


def test_the_clock_leaves_out_what_does_not_fit(tmp_path: Path) -> None:
    seconds = iter(range(0, 100_000, 60))
    said = talk(
        new(tmp_path), "4 mm", "q", agreed_min=3.0, clock=lambda: float(next(seconds))
    ).said()
    assert "of 3 min" in said
    assert "No time for" in said


def test_a_missing_tool_is_named_once(tmp_path: Path) -> None:
    data = toy.altered(toy.WHEELS, "criterion", "broken_spokes", tools=["gauge"])
    data["tool"] = [{"id": "gauge", "title": "spoke gauge"}]
    person = Person("4 mm", "q")
    knowledge = toy.knowledge(data, toy.BOX)
    visit = VisitSession(new(tmp_path), knowledge, load_workshop(trade=CART.trade))
    Interview(visit, person.ask, person.say).run()
    assert person.heard[1].startswith(
        "Not in the bag, with the questions that wait for it: spoke gauge (1)"
    )


def test_a_photograph_is_kept_with_the_question_shown(tmp_path: Path) -> None:
    image = pytest.importorskip("PIL.Image")
    image.new("RGB", (3000, 20)).save(tmp_path / "left wheel.png")
    path = new(tmp_path)
    person = talk(
        path, f"p {tmp_path}/left wheel.png", f"P '{tmp_path}/left wheel.png'", "4 mm", "q"
    )
    kept = load(path).photographs
    assert kept == {
        "wheels.play": ("job_photographs/wheels.play-1.jpg", "job_photographs/wheels.play-2.jpg")
    }
    with image.open(tmp_path / kept["wheels.play"][0]) as picture:
        assert (picture.format, picture.size) == ("JPEG", (2000, 13))
    assert load(path).answers["wheels"]["play"].answer == "4 mm"
    assert person.interview
    assert person.interview.saved == 3


def test_what_is_no_photograph_is_said_and_not_kept(tmp_path: Path) -> None:
    pytest.importorskip("PIL.Image")
    (tmp_path / "notes.txt").write_text("no picture")
    path = new(tmp_path)
    person = talk(
        path, "p", f"p {tmp_path}/note.txt", f"p {tmp_path}/notes.txt", f"p {tmp_path}", "q"
    )
    said = " ".join(person.said().split())
    assert "p and the name of a file" in said
    assert 'did you mean "notes.txt"?' in said
    assert "NOT SAVED. cannot be read as a picture" in said
    assert load(path).photographs == {}
    assert person.interview
    assert person.interview.saved == 0
    assert not list(tmp_path.glob("job_photographs/*"))


def test_without_the_library_of_pictures_one_line_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "PIL", None)
    (tmp_path / "left.jpg").write_bytes(b"whatever")
    path = new(tmp_path)
    person = talk(path, f"p {tmp_path}/left.jpg", "4 mm", "q")
    assert "  pillow is not installed; pip install 'reed-organ-assess[photographs]'" in person.heard
    assert load(path).answers["wheels"]["play"].answer == "4 mm"


def test_an_answer_from_elsewhere_meanwhile_is_kept(tmp_path: Path) -> None:
    path = new(tmp_path)
    person = Person()

    def ask(_: str) -> str:
        if "crack" not in path.read_text():
            path.write_text(path.read_text() + '[answers.box]\ncrack = "one"\n')
            return "4 mm"
        raise EOFError

    Interview(VisitSession(path, CART, load_workshop(trade=CART.trade)), ask, person.say).run()
    answers = load(path).answers
    assert answers["box"]["crack"].answer == "one"
    assert answers["wheels"]["play"].answer == "4 mm"
