"""Reading, refusing and saving job files."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
import tomlkit
import toy
from hypothesis import given
from hypothesis import strategies as st

import assess
from assess.base.errors import JobFileError
from assess.base.text_files import save_text
from assess.job.job_edits import dumps, with_answer
from assess.job.job_file import NO_NOTE, Answer, Job
from assess.job.job_reading import load, parse
from assess.knowledge.trade import Trade
from assess.output.grades import description, grades_text
from assess.output.json_data import grades_data, verdict_data

SMALL = """\
# kept
format = 1
title = "Cart"   # kept too

[owner]
wish = "full"

[answers.wheels]
play = "7 mm"
noise = { answer = "silent", note = "oiled lately" }
"""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", 'no "format = 1" in it'),
        ("format = 2", "1: format: Input should be 1 (given: 2)"),
        ("format = 1\ntitel = 'x'", '2: titel: unknown key; did you mean "title"?'),
        (
            "format = 1\n[owner]\nceilling = 3",
            '3: owner.ceilling: unknown key; did you mean "ceiling"?',
        ),
        (
            "format = 1\n[owner]\nceiling = -3",
            "3: owner.ceiling: Input should be greater than or equal to 0",
        ),
        (
            "format = 1\n[owner]\nwish = 'new'",
            '3: owner.wish: no such wish \'new\'; known: "full", "stabilise", "working"',
        ),
        (
            "format = 1\n[owner]\nwish = 'worknig'",
            "3: owner.wish: no such wish 'worknig'; did you mean \"working\"?",
        ),
        ("format = 1\n[owner]\nwish = 3", "3: owner.wish: no such wish 3"),
        ("format = 1\n[owner]\nattachment = 4", "3: owner.attachment"),
        (
            "format = 1\n[object.identity]\nserail = 7",
            '3: object.identity.serail: unknown key; did you mean "serial"?',
        ),
        (
            "format = 1\n[object.identity]\nyear = 'old'",
            "3: object.identity.year: Input should be a valid integer",
        ),
        (
            "format = 1\n[photograps]\n",
            '2: photograps: unknown key; did you mean "photographs"?',
        ),
        ("format = 1\ndate = 2026-02-30", "not valid TOML"),
        ("format = 1\ndate = 'tomorrow'", "2: date"),
        ("format = 1\n[answers]\nwheels = 3", "3: answers.wheels: expected a table of answers"),
        ("format = 1\n[answers.wheels]\nplay = [1]", "3: answers.wheels.play: an answer is text"),
        (
            "format = 1\n[answers.wheels]\nplay = { note = 'x' }",
            "3: answers.wheels.play: an answer is text",
        ),
        ("format = 1\n[answers.wheels", "not valid TOML"),
        ("format = 1\nformat = 1", "not valid TOML"),
    ],
)
def test_what_cannot_be_read_is_named_with_its_line(text: str, words: str) -> None:
    with pytest.raises(JobFileError) as error:
        parse(text, "cart.toml")
    assert words in str(error.value)
    assert str(error.value).startswith("cart.toml")


def test_files_that_are_no_job_files(tmp_path: Path) -> None:
    big = tmp_path / "big.toml"
    big.write_bytes(b"x" * 6_000_000)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    for path, words in (
        (big, "larger than any such file"),
        (binary, "not a text file in UTF-8"),
        (tmp_path, "is a folder"),
        (tmp_path / "bog.toml", 'there is no such file; did you mean "big.toml"'),
    ):
        with pytest.raises(JobFileError) as error:
            load(path)
        assert words in str(error.value)


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbfformat = 1\n")
    assert load(path).format == 1


def test_an_answer_is_put_in_and_everything_else_is_kept() -> None:
    text = with_answer(SMALL, "wheels.play", "2 mm")
    assert text == SMALL.replace("7 mm", "2 mm")
    text = with_answer(SMALL, "wheels.noise", "squeaks")
    assert parse(text).answers["wheels"]["noise"] == Answer(answer="squeaks", note="oiled lately")
    text = with_answer(SMALL, "box.crack", "one", note="left side")
    assert text.startswith(SMALL)
    assert parse(text).answers["box"]["crack"] == Answer(answer="one", note="left side")


def test_an_interrupted_save_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(SMALL)

    def fails(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fails)
    with pytest.raises(JobFileError, match="No space left"):
        save_text(path, "format = 1\n")
    assert path.read_text() == SMALL
    assert [p.name for p in tmp_path.iterdir()] == ["job.toml"]


def test_saving_keeps_the_files_permissions(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(SMALL)
    path.chmod(0o600)
    save_text(path, SMALL)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


words = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20
)
names = st.from_regex(r"[a-z][a-z0-9_]{0,8}", fullmatch=True)
answers = st.builds(
    Answer,
    answer=st.one_of(words, st.booleans(), st.integers(-9, 9), st.floats(-1e6, 1e6)),
    note=words | st.just(""),
)


@given(st.dictionaries(names, st.dictionaries(names, answers, max_size=4), max_size=3), words)
def test_saving_and_loading_changes_nothing(
    given_answers: dict[str, dict[str, Answer]], title: str
) -> None:
    job = Job(format=1, title=title, answers=given_answers)
    again = parse(dumps(job))
    assert again.answers == job.answers
    assert again.owner == job.owner
    assert again.title == title


def test_a_job_is_read_and_written_in_the_words_of_its_trade() -> None:
    scopes = {"working": {"id": "sailing", "title": "sea trim"}}
    trade = Trade.model_validate(
        {"table": "boat", "reason_key": "reason_to_sail", "scopes": scopes}
    )
    text = (
        'format = 1\n[owner]\nwish = "sailing"\nreason_to_sail = "a race"\n'
        '[boat]\ndescription = "A dinghy"\n[boat.facts]\nribs = 12\n'
    )
    job = parse(text, "boat.toml", trade)
    assert (job.owner.wish, job.owner.reason_to_use) == ("working", "a race")
    assert job.instrument.facts == {"ribs": 12}
    assert job.where("instrument", "facts", "ribs") == "boat.toml:8: boat.facts.ribs"
    written = dumps(job)
    assert 'wish = "sailing"' in written
    assert 'reason_to_sail = "a race"' in written
    assert "[boat.facts]" in written
    again = parse(written, "boat.toml", trade)
    assert (again.owner, again.instrument) == (job.owner, job.instrument)
    # Read in the words of another trade, the same file is refused, each fault with its line.
    with pytest.raises(JobFileError) as error:
        parse(text, "boat.toml")
    faults = [line.split(";")[0] for line in str(error.value).splitlines()]
    assert sorted(faults) == [
        "boat.toml:3: owner.wish: no such wish 'sailing'",
        "boat.toml:4: owner.reason_to_sail: unknown key",
        "boat.toml:5: boat: unknown key",
    ]


@given(names, names, words, words | st.just(""))
def test_an_answer_put_in_is_read_back(subsystem: str, name: str, answer: str, note: str) -> None:
    text = with_answer(SMALL, f"{subsystem}.{name}", answer, note)
    found = parse(text).answers[subsystem][name]
    assert found.answer == answer
    if note:
        assert found.note == ("" if note == NO_NOTE else note)
    assert tomlkit.parse(text)["title"] == "Cart"


IDENTIFIED = """\
format = 1
[object]
description = "Red."
[object.identity]
maker = "Example and Sons"
serial = 4711
year = 1888
label = "Anytown"
[photographs]
whole = ["front.jpg", "back.jpg"]
"""


def test_which_object_it_is_is_kept_and_shown_with_the_grades_and_the_verdict() -> None:
    job = parse(IDENTIFIED, "cart.toml")
    assert parse(dumps(job), "cart.toml").instrument == job.instrument
    result = assess.assess(job, knowledge=toy.knowledge())
    assert "Example and Sons, no. 4711, 1888" in grades_text(result)
    said = description(result)
    for part in ("no. 4711", 'Label: "Anytown"', "2 photographs", "Red."):
        assert part in said
    for data in (grades_data(result)["identity"], verdict_data(result)["identity"]):
        assert (data["serial"], data["year"]) == ("4711", 1888)
        assert data["photographs"] == {"whole": ["front.jpg", "back.jpg"]}


def test_a_job_that_does_not_say_which_object_it_is_shows_nothing_of_it() -> None:
    result = assess.assess(parse("format = 1\n", "cart.toml"), knowledge=toy.knowledge())
    assert description(result) == ""
    assert grades_data(result)["identity"]["year"] is None
