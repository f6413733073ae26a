"""Answers as people type them: numbers and units, notes, and what could mean two things."""

from __future__ import annotations

from typing import Any

import pytest
import toy
from hypothesis import example, given
from hypothesis import strategies as st

from assess.base.measures import parse_measure
from assess.base.units import UnitError
from assess.job.answers import read_answer
from assess.job.job_file import Answer
from assess.knowledge.criteria import Criterion
from assess.visit.typed_answers import as_written, read_typed

WORDS = toy.knowledge().criteria["box.crack"]


def number(unit: str) -> Criterion:
    """A question that is answered with a number in a unit."""
    outcomes = [{"from": 0, "says": "low", "class": 0}, {"from": 5, "says": "high", "class": 2}]
    data: dict[str, Any] = {
        "id": "reading", "component": "hub", "asks": "Reading", "how": "Read.", "minutes": 1,
        "weight": 1, "unit": unit, "outcomes": outcomes,
    }  # fmt: skip
    return Criterion.model_validate(data)


# Factors are those of base/units, which tests/engine/test_units.py compares with pint.
@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("20 C", "degC", 20), ("68 F", "degC", 20), ("6 cmH2O", "inH2O", 2.36220),
        ("60 mm WS", "inH2O", 2.36220), ("2.4 in", "inH2O", 2.4), ("4 oz", "g", 113.3981),
        ("ca. 9 s", "s", 9), ("about 9 s", "s", 9), ("9-10 s", "s", 9.5), ("9 to 10 s", "s", 9.5),
        ("none", "count", 0), ("5 spokes", "count", 5), ("9 Sek", "s", 9), ("1 Zoll", "mm", 25.4),
        ('½"', "mm", 12.7), ("1½ in", "mm", 38.1), ("3 h", "days", 0.125), ("2,5 mm", "mm", 2.5),
    ],
)  # fmt: skip
def test_numbers_as_people_write_them(typed: str, unit: str, value: float) -> None:
    assert parse_measure(typed, unit) == pytest.approx(value, rel=1e-5)


def test_an_ounce_of_pressure_is_an_ounce_on_a_square_inch() -> None:
    # 1 psi is 27.708 inches of water at 4 degC (from memory), so an ounce is a sixteenth of it.
    assert parse_measure("16 oz", "inH2O") == pytest.approx(27.68, abs=0.05)


@pytest.mark.parametrize("typed", ["nine", "9 - ", "5 kg", "½½", "1/0 in", "- 4 mm s"])
def test_what_is_no_number_is_refused(typed: str) -> None:
    with pytest.raises(UnitError):
        parse_measure(typed, "mm")


@given(low=st.integers(1, 500), more=st.integers(1, 500))
def test_a_range_is_read_as_its_middle(low: int, more: int) -> None:
    middle = (low + low + more) / 2
    assert parse_measure(f"{low}-{low + more} s", "s") == pytest.approx(middle)
    assert parse_measure(f"{low} min", "s") == pytest.approx(60 * low)


@pytest.mark.parametrize(
    ("typed", "unit", "either"),
    [
        ("1.500", "mm", ("1500", "1.5")), ("2,250 mm", "mm", ("2250", "2.25")),
        ("0.52", "%", ("0.52 %", "52 %")), ("20°", "degC", ("20 °C", "20 °F")),
    ],
)  # fmt: skip
def test_a_number_that_could_mean_two_things_is_asked_about(
    typed: str, unit: str, either: tuple[str, str]
) -> None:
    unclear = read_typed(typed, number(unit)).unclear
    assert all(reading in unclear for reading in either)


@pytest.mark.parametrize(
    ("typed", "unit"), [("0.125 in", "mm"), ("52 %", "%"), ("1500", "mm"), ("20 C", "degC")]
)
def test_a_clear_number_is_not_asked_about(typed: str, unit: str) -> None:
    assert not read_typed(typed, number(unit)).unclear


@pytest.mark.parametrize(
    ("typed", "words", "note"),
    [
        ("1", "none", ""), ("1/by the tail board", "none", "by the tail board"),
        ("2 / by 1/3", "one", "by 1/3"), ("ROTTEN/soft", "ROTTEN", "soft"), ("N", "not seen", ""),
        ("X/no box", "doesn't apply", "no box"), ("2/-", "one", "-"),
    ],
)  # fmt: skip
def test_words_and_notes(typed: str, words: str, note: str) -> None:
    read = read_typed(typed, WORDS)
    assert (read.words, read.note) == (words, note)


@example("1")
@example("\u00b9")
@example("9" * 5000)
@given(st.text(max_size=30))
def test_whatever_is_typed_is_an_answer_or_said_to_be_none(typed: str) -> None:
    for criterion in (WORDS, number("mm"), number("count")):
        read = read_typed(typed, criterion)
        given_answer = read_answer(criterion, Answer(answer=read.words))
        assert typed != "1" or not given_answer.fault
        if not given_answer.fault:
            written = as_written(criterion, read.words, given_answer)
            again = read_answer(criterion, Answer(answer=written))
            assert (again.kind, again.outcome) == (given_answer.kind, given_answer.outcome)
            assert again.value == given_answer.value or abs(again.value - given_answer.value) < 1e-9
