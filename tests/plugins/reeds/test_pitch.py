from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from assess_reeds.pitch import (
    AUDIBLE_CENTS,
    FOOTAGE_SEMITONES,
    REED_CENTS_PER_K,
    cents_between,
    midi_of,
    note_hz,
    note_name,
    off_note_cents,
    room_shift_cents,
    shifted_hz,
    sounding_midi,
)
from assess_reeds.tongue import CENTS_PER_RELATIVE_HZ
from hypothesis import given
from hypothesis import strategies as st

REFERENCES = Path(__file__).parents[2] / "references"


def reference(name: str) -> dict[str, Any]:
    return tomllib.loads((REFERENCES / f"{name}.toml").read_text(encoding="utf-8"))


EQUAL = reference("tuning_equal_temperament")
TEMPERATURE = reference("reed_materials_temperature")["rows"]
HEARING = reference("hearing_jnd")["rows"]

HZ = st.floats(16.0, 16000.0)
MIDI = st.integers(0, 127)


@pytest.mark.parametrize("row", EQUAL["rows"], ids=lambda row: row["note"])
def test_equal_temperament_row(row: dict[str, Any]) -> None:
    assert midi_of(row["note"]) == row["midi"]
    assert note_name(row["midi"]) == row["note"]
    assert note_hz(row["midi"]) == pytest.approx(row["hz"], abs=5.1e-5)
    assert off_note_cents(row["hz"], row["midi"]) == pytest.approx(0.0, abs=5e-3)


def test_equal_temperament_constants() -> None:
    constants = EQUAL["constants"]
    assert shifted_hz(1.0, 1.0) == pytest.approx(constants["cent_ratio"], abs=1e-15)
    a_hz, tolerance_hz = constants["A4_Hz"], constants["ISO16_tolerance_Hz_from_memory"]
    assert note_hz(69) == a_hz
    assert cents_between(a_hz, a_hz + tolerance_hz) == pytest.approx(
        constants["ISO16_tolerance_cents"], abs=1e-9
    )


DERIVED_CENTS = {
    435: -19.8,
    438: -7.9,
    442: 7.9,
    446: 23.4,
    449: 35.1,
    452: 46.6,
    454: 54.2,
    455: 58.0,
    457: 65.6,
    462: 84.5,
}


@pytest.mark.parametrize(("hz", "cents"), DERIVED_CENTS.items())
def test_pitches_found_on_reed_organs(hz: float, cents: float) -> None:
    """Rounded figures that tuners use: recomputed, not published."""
    assert cents_between(440.0, hz) == pytest.approx(cents, abs=0.06)


@pytest.mark.parametrize("row", HEARING, ids=lambda row: row["name"])
def test_hearing_row(row: dict[str, Any]) -> None:
    stated = re.match(r"(?:.* )?([\d.]+) Hz at (\d+) Hz", row["name"])
    if stated is None:
        assert row["name"] == "rule of thumb"
        assert row["cents"] == AUDIBLE_CENTS
    else:
        step_hz, at_hz = (float(number) for number in stated.groups())
        assert cents_between(at_hz, at_hz + step_hz) == pytest.approx(row["cents"], abs=1e-3)


def temperature_rows(part: str, status: str | None = None) -> list[dict[str, Any]]:
    return [row for row in TEMPERATURE if part in row["name"] and status in (None, row["status"])]


@pytest.mark.parametrize(
    "row", [row for row in TEMPERATURE if "cents_per_K" in row], ids=lambda row: row["name"]
)
def test_temperature_row(row: dict[str, Any]) -> None:
    """The relative slope of each row gives its cents, and all are in the band in use."""
    per_k = row["value"] * (1.8 if row["unit"] == "1/F" else 1.0)
    assert row["unit"] in ("1/F", "1/K")
    slope = CENTS_PER_RELATIVE_HZ * per_k
    assert slope == pytest.approx(row["cents_per_K"], abs=1.1e-3)
    assert slope in REED_CENTS_PER_K


@pytest.mark.parametrize(
    ("part", "moduli", "warming_k", "expansion_per_k"),
    [
        ("static moduli", (203.4, 198.6), 93.0 - 21.0, 11.7e-6),
        ("naval brass", (15.0, 14.6), 130.0 / 1.8, 2e-5),
    ],
)
def test_bars_recomputed_from_their_moduli(
    part: str, moduli: tuple[float, float], warming_k: float, expansion_per_k: float
) -> None:
    """The moduli of brass, and the expansion of steel, are from memory."""
    (row,) = temperature_rows(part)
    modulus_per_k = (moduli[1] / moduli[0] - 1) / warming_k
    slope = CENTS_PER_RELATIVE_HZ * (modulus_per_k + expansion_per_k) / 2
    assert slope == pytest.approx(row["cents_per_K"], abs=1.5e-3)


def test_expansion_of_brass_is_that_of_the_table() -> None:
    (row,) = temperature_rows("expansion", "published")
    assert row["value"] == pytest.approx(11.1e-6 * 1.8, rel=2e-3)  # printed per degree F
    assert row["unit"] == "1/K"


def test_reeds_fall_as_they_get_warmer_within_a_wide_band() -> None:
    published = [row["cents_per_K"] for row in temperature_rows("steel", "published")]
    assert max(published) < 0
    assert min(published) / max(published) > 1.7
    assert REED_CENTS_PER_K.high >= max(published)
    assert REED_CENTS_PER_K.low <= min(row["cents_per_K"] for row in temperature_rows("brass bar"))
    assert room_shift_cents(10.0, 20.0).high < 0 < room_shift_cents(20.0, 10.0).low


@given(st.floats(-20, 40), st.floats(-20, 40), st.floats(-20, 40))
def test_warming_in_two_steps_equals_warming_in_one(one: float, two: float, three: float) -> None:
    whole = room_shift_cents(one, three)
    steps = room_shift_cents(one, two).likely + room_shift_cents(two, three).likely
    assert steps == pytest.approx(whole.likely, abs=1e-9)


@pytest.mark.parametrize("temperature_c", [-300.0, 300.0, math.nan])
def test_impossible_temperatures_are_refused(temperature_c: float) -> None:
    with pytest.raises(ValueError, match="the temperature of the room"):
        room_shift_cents(20.0, temperature_c)
    with pytest.raises(ValueError, match="the temperature of the room"):
        room_shift_cents(temperature_c, 20.0)


@given(HZ, st.floats(-2400, 2400))
def test_cents_and_hertz_round_trip(hz: float, cents: float) -> None:
    assert cents_between(hz, shifted_hz(hz, cents)) == pytest.approx(cents, abs=1e-8)


@given(HZ, HZ, HZ)
def test_intervals_add(one: float, two: float, three: float) -> None:
    parts = cents_between(one, two) + cents_between(two, three)
    assert parts == pytest.approx(cents_between(one, three), abs=1e-8)


@given(HZ, st.floats(-500, 500), st.floats(1e-3, 500))
def test_more_cents_are_more_hertz(hz: float, cents: float, more: float) -> None:
    assert shifted_hz(hz, cents + more) > shifted_hz(hz, cents)


@pytest.mark.parametrize("hz", [0.0, -440.0, math.nan, math.inf])
def test_impossible_frequencies_are_refused(hz: float) -> None:
    for call in (
        lambda: cents_between(440.0, hz),
        lambda: cents_between(hz, 440.0),
        lambda: shifted_hz(hz, 0.0),
        lambda: note_hz(69, hz),
    ):
        with pytest.raises(ValueError, match=r"must be (more|a number)"):
            call()


@pytest.mark.parametrize("cents", [math.nan, math.inf, 20001.0])
def test_impossible_intervals_are_refused(cents: float) -> None:
    with pytest.raises(ValueError, match="an interval must be"):
        shifted_hz(440.0, cents)


@given(MIDI)
def test_note_names_round_trip(midi: int) -> None:
    assert midi_of(note_name(midi)) == midi


@pytest.mark.parametrize(
    ("name", "midi"),
    [("C4", 60), ("Cb4", 59), ("B#3", 60), ("E#4", 65), ("Fb4", 64), ("F♯2", 42), (" B♭3 ", 58)],
)
def test_spellings(name: str, midi: int) -> None:
    assert midi_of(name) == midi


@pytest.mark.parametrize("name", ["", "c4", "H3", "C", "4", "Cx4", "C##4", "C10", "A4 4", "B9"])
def test_what_is_not_a_note_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match=r"not the name of a note|run from 0 to 127"):
        midi_of(name)


@pytest.mark.parametrize("midi", [-1, 128])
def test_notes_out_of_range_are_refused(midi: int) -> None:
    for call in (note_name, note_hz):
        with pytest.raises(ValueError, match="from 0 to 127"):
            call(midi)


@given(st.integers(24, 96), st.sampled_from(sorted(FOOTAGE_SEMITONES)))
def test_a_rank_sounds_like_a_pipe_of_its_length(key: int, feet: int) -> None:
    assert note_hz(sounding_midi(key, feet)) == pytest.approx(note_hz(key) * 8 / feet, rel=1e-12)


@pytest.mark.parametrize("feet", [0, -8, 5, 3])
def test_other_lengths_are_refused(feet: int) -> None:
    with pytest.raises(ValueError, match="the length of a rank is 32, 16, 8, 4, 2 ft"):
        sounding_midi(60, feet)
