from __future__ import annotations

import math
from typing import Any

import pytest
from assess_reeds.pitch import cents_between, note_hz, note_name
from assess_reeds.rows import ReedRow, Sign, Speech, reading_cents, reed_row, signs_in
from hypothesis import given
from hypothesis import strategies as st


@pytest.mark.parametrize("speech", list(Speech))
def test_every_way_of_speaking_is_read_from_its_word(speech: Speech) -> None:
    assert reed_row("C4", "Viola", speech=f" {speech.value.upper()} ").speech is speech


def test_the_nearest_word_is_suggested() -> None:
    with pytest.raises(ValueError, match="did you mean 'slow'"):
        reed_row("C4", "Viola", speech="slov")
    with pytest.raises(ValueError, match="write one of speaks, slow"):
        reed_row("C4", "Viola", speech="xyz")


@pytest.mark.parametrize(
    ("remarks", "signs"),
    [
        ("", set()),
        ("Green at the heel.", {Sign.CORRODED}),
        ("mouse urine; stuck", {Sign.CORRODED, Sign.STUCK}),
        ("no verdigris", set()),
        ("not cracked but dusty", {Sign.DIRTY}),
        ("old file marks, without cracks", {Sign.FILED}),
        ("a neighbour speaks along", {Sign.NEIGHBOUR}),
        ("filed along the edge", {Sign.FILED}),
        ("hairline crack at the rivet", {Sign.CRACKED}),
        ("evergreen tone", set()),
    ],
)
def test_signs_in_remarks(remarks: str, signs: set[Sign]) -> None:
    assert signs_in(remarks) == signs
    row = reed_row("C4", "Viola", remarks=remarks)
    assert row.signs == signs
    assert row.remarks == remarks


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"cents": 3.0, "hz": 440.0}, "cents or hertz, not both"),
        ({"cents": 3.0, "speech": "dead"}, "dead has no pitch"),
        ({"hz": 440.0, "speech": "missing"}, "missing has no pitch"),
        ({"cents": 0.0, "speech": "not tried"}, "not tried has no pitch"),
        ({"shown": "Bb4"}, "needs its cents"),
        ({"cents": math.nan}, "the cents must be a number"),
        ({"cents": 1300.0}, "the cents must be from -1200 to 1200"),
        ({"hz": math.inf}, "the frequency must be a number"),
        ({"hz": 0.0}, "the frequency must be from 8 to 16000 Hz"),
        ({"feet": 7}, "the length of a rank is 32, 16, 8, 4, 2 ft"),
        ({"rank": " "}, "needs the name of a rank"),
        ({"key": "a4"}, "capital letter"),
        ({"cents": 1.0, "shown": "H4"}, "capital letter"),
    ],
)
def test_rows_that_contradict_themselves_are_refused(arguments: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        reed_row(**({"key": "A4", "rank": "Viola"} | arguments))


@pytest.mark.parametrize("a_hz", [0.0, -440.0, 44.0, math.nan])
def test_a_tuner_set_out_of_range_is_refused(a_hz: float) -> None:
    with pytest.raises(ValueError, match="the tuner's A"):
        reading_cents(reed_row("A4", "Viola", cents=0.0), a_hz)


def test_a_reed_without_reading_has_no_pitch() -> None:
    assert reading_cents(reed_row("A4", "Viola")) is None
    assert reading_cents(reed_row("A4", "Viola", speech="dead")) is None


@given(
    st.integers(29, 89),
    st.sampled_from([16, 8, 4, 2]),
    st.floats(-190.0, 190.0),
    st.floats(430.0, 460.0),
)
def test_hertz_and_the_display_of_a_tuner_agree(
    key: int, feet: int, off_cents: float, tuner_a_hz: float
) -> None:
    """The same reed, read as a frequency and by a tuner that shows the nearest note."""
    nominal = ReedRow(key, "Viola", feet).sounding_midi
    hz = note_hz(nominal) * 2 ** (off_cents / 1200)
    by_hz = reading_cents(ReedRow(key, "Viola", feet, hz=hz))
    above_a = cents_between(tuner_a_hz, hz)
    shown = 69 + round(above_a / 100)
    cents = above_a - 100 * (shown - 69)
    by_tuner = reading_cents(ReedRow(key, "Viola", feet, cents=cents, shown_midi=shown), tuner_a_hz)
    assert by_hz == pytest.approx(off_cents, abs=1e-7)
    assert by_tuner == pytest.approx(off_cents, abs=1e-7)


def test_the_setting_of_the_tuner_matters_for_cents_but_not_for_hertz() -> None:
    by_cents, by_hz = reed_row("A4", "Viola", cents=0.0), reed_row("A4", "Viola", hz=435.0)
    assert reading_cents(by_cents, 435.0) == pytest.approx(cents_between(440.0, 435.0))
    assert reading_cents(by_hz, 435.0) == reading_cents(by_hz, 440.0)


def test_the_label_names_the_reed() -> None:
    assert ReedRow(60, "Viola", 4).label == f"Viola 4 ft, key {note_name(60)}"
