"""The interview: answers saved one by one, left and resumed at will."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import toy

from assess.base.units import parse_measure
from assess.cli.interview import Interview
from assess.job.job_file import Job
from assess.job.job_file import load as load_in
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
    assert lost.interview.unsaved == {"wheels.play": "wheels.play = 4 mm"}
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
