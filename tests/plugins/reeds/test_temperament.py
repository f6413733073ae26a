from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from assess_reeds.pitch import CENTS_PER_SEMITONE, NOTE_NAMES, cents_between, midi_of, note_hz
from assess_reeds.temperament import (
    INTERVALS,
    PURE_FIFTH_CENTS,
    PYTHAGOREAN_COMMA_CENTS,
    SCHISMA_CENTS,
    SYNTONIC_COMMA_CENTS,
    TEMPERAMENT_NAMES,
    bearings,
    beats_per_s,
    celeste_beats_per_s,
    celeste_cents,
    named_temperament,
    tempered_beats_per_s,
)
from hypothesis import given
from hypothesis import strategies as st

REFERENCES = Path(__file__).parents[2] / "references"


def reference(name: str) -> dict[str, Any]:
    return tomllib.loads((REFERENCES / f"{name}.toml").read_text(encoding="utf-8"))


TABLE = reference("tuning_temperaments")
BEATS = reference("tuning_beats_equal_temperament")
EQUAL = named_temperament("equal")

NAMES = st.sampled_from(TEMPERAMENT_NAMES)
A_HZ = st.floats(400.0, 480.0)

# The archive has rational string lengths here, which no chain of fifths gives exactly.
LOOSE = {"young_no1_1800": 0.05}


@pytest.mark.parametrize("row", TABLE["rows"], ids=lambda row: row["name"])
def test_historical_temperament_row(row: dict[str, Any]) -> None:
    made = named_temperament(row["name"])
    slack = LOOSE.get(row["name"], 1.1e-3)
    assert made.cents_from_c == pytest.approx(row["cents_from_C"], abs=slack)
    offsets = [made.offset_cents(midi) for midi in range(60, 72)]
    assert offsets == pytest.approx(row["offset_from_ET_with_A_zero"], abs=max(slack, 0.011))


def test_every_unequal_temperament_is_in_the_table() -> None:
    assert {row["name"] for row in TABLE["rows"]} == set(TEMPERAMENT_NAMES) - {"equal"}


def test_equal_temperament_is_equal() -> None:
    assert EQUAL.cents_from_c == pytest.approx([100.0 * note for note in range(12)], abs=1e-9)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("pythagorean_comma", PYTHAGOREAN_COMMA_CENTS),
        ("syntonic_comma", SYNTONIC_COMMA_CENTS),
        ("schisma", SCHISMA_CENTS),
        ("pure_fifth", PURE_FIFTH_CENTS),
    ],
)
def test_commas(name: str, value: float) -> None:
    assert value == pytest.approx(TABLE["constants"][name], abs=1e-11)


def test_offsets_printed_in_a_tuner_manual() -> None:
    """Printed with F# as zero and in tenths."""
    printed = TABLE["werckmeister_iii_offsets_published"]
    assert printed["order"].split() == list(NOTE_NAMES)
    made = named_temperament("werckmeister_iii")
    zero = made.offset_cents(midi_of("F#4"))
    offsets = [made.offset_cents(midi) - zero for midi in range(60, 72)]
    assert offsets == pytest.approx(printed["cents"], abs=0.051)


def test_the_other_versions_in_the_table_are_not_used() -> None:
    kirnberger = named_temperament("kirnberger_iii").cents_from_c
    assert kirnberger[1] != pytest.approx(92.179, abs=1.0)
    assert kirnberger[8] != pytest.approx(794.134, abs=1.0)
    werckmeister = named_temperament("werckmeister_iii")
    against_c = werckmeister.offset_cents(midi_of("D4")) - werckmeister.offset_cents(60)
    assert against_c != pytest.approx(-6.7, abs=0.5)


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_the_circle_of_fifths_closes(name: str) -> None:
    made = named_temperament(name)
    fifths = [cents_between(made.hz(midi), made.hz(midi + 7)) for midi in range(60, 72)]
    assert sum(fifths) == pytest.approx(8400.0, abs=1e-6)
    assert made.cents_from_c[0] == 0.0
    assert list(made.cents_from_c) == sorted(made.cents_from_c)


@given(NAMES, st.integers(21, 96), A_HZ)
def test_a_is_a_and_octaves_are_pure(name: str, midi: int, a_hz: float) -> None:
    made = named_temperament(name)
    assert made.hz(69, a_hz) == pytest.approx(a_hz, rel=1e-12)
    assert made.hz(midi + 12, a_hz) == pytest.approx(2 * made.hz(midi, a_hz), rel=1e-12)
    assert cents_between(note_hz(midi, a_hz), made.hz(midi, a_hz)) == pytest.approx(
        made.offset_cents(midi), abs=1e-7
    )


def test_unknown_names_are_refused() -> None:
    with pytest.raises(ValueError, match="the known ones are equal"):
        named_temperament("silver")
    with pytest.raises(ValueError, match="the known ones are minor_third"):
        beats_per_s(220.0, 330.0, "tritone")
    with pytest.raises(ValueError, match="the known ones are minor_third"):
        tempered_beats_per_s(EQUAL, "tritone", 57)


@pytest.mark.parametrize("row", BEATS["rows"], ids=lambda row: f"{row['interval']} {row['lower']}")
def test_beat_row(row: dict[str, Any]) -> None:
    interval = INTERVALS[row["interval"]]
    assert (interval.lower_partial, interval.upper_partial) == (
        row["partial_of_lower"],
        row["partial_of_upper"],
    )
    assert midi_of(row["upper"]) - row["lower_midi"] == interval.semitones
    assert midi_of(row["lower"]) == row["lower_midi"]
    beats = abs(tempered_beats_per_s(EQUAL, row["interval"], row["lower_midi"]))
    assert beats == pytest.approx(row["beats_exact"], abs=5.1e-5)
    assert beats == pytest.approx(row["beats_published"], abs=0.05)


def test_no_row_of_beats_is_missing() -> None:
    assert len(BEATS["rows"]) == BEATS["n_rows"]


def test_the_rejected_beat_rate_of_a_fifth_is_not_used() -> None:
    """An old manual gives the difference of the vibrations, 0.43, as the beats of C 256 to G."""
    rows = reference("rejected_values")["rows"]
    (row,) = [row for row in rows if "fifth beat rate" in row["item"]]
    assert "0.43" in row["item"]
    beats = abs(beats_per_s(256.0, 256.0 * 2 ** (7 / 12), "perfect_fifth"))
    assert f"{beats:.3f} beats per second" in row["correct"]
    assert beats != pytest.approx(0.43, abs=0.3)


@given(st.sampled_from(sorted(INTERVALS)), st.floats(40.0, 2000.0), st.floats(0.5, 50.0))
def test_pure_intervals_do_not_beat_and_the_sign_separates_wide_from_narrow(
    name: str, lower_hz: float, cents: float
) -> None:
    interval = INTERVALS[name]
    pure_hz = lower_hz * interval.lower_partial / interval.upper_partial
    assert beats_per_s(lower_hz, pure_hz, name) == pytest.approx(0.0, abs=1e-8)
    assert beats_per_s(lower_hz, pure_hz * 2 ** (cents / 1200), name) > 0
    assert beats_per_s(lower_hz, pure_hz * 2 ** (-cents / 1200), name) < 0
    # The pure interval is the named one: within a third of a semitone of its keys.
    assert abs(cents_between(lower_hz, pure_hz) - CENTS_PER_SEMITONE * interval.semitones) < 33


@given(st.floats(40.0, 1000.0), st.floats(40.0, 1000.0), st.floats(0.5, 2.0))
def test_beats_scale_with_the_pitch(lower_hz: float, upper_hz: float, factor: float) -> None:
    beats = beats_per_s(lower_hz, upper_hz, "major_third")
    scaled = beats_per_s(lower_hz * factor, upper_hz * factor, "major_third")
    assert scaled == pytest.approx(factor * beats, abs=1e-6)


@pytest.mark.parametrize("hz", [0.0, -1.0, math.nan])
def test_beats_of_impossible_frequencies_are_refused(hz: float) -> None:
    for pair in ((hz, 440.0), (440.0, hz)):
        with pytest.raises(ValueError, match="a frequency must be"):
            beats_per_s(*pair, "perfect_fifth")


@pytest.mark.parametrize(
    ("c_hz", "a_hz", "name"),
    [
        (517.3, 435.0, "equal"),
        (522.0, 439.0, "equal"),
        (528.0, 443.99, "equal"),
        (540.0, 454.08, "equal"),
        (506.8, 423.65, "quarter_comma_meantone"),
    ],
)
def test_forks_stamped_with_c(c_hz: float, a_hz: float, name: str) -> None:
    """Pairs of C and A in the table of historic pitches, to their printed digits."""
    made = named_temperament(name)
    assert 440.0 * c_hz / made.hz(midi_of("C5")) == pytest.approx(a_hz, abs=0.06)


@given(NAMES, A_HZ, st.integers(40, 60))
def test_tuning_by_the_bearings_gives_the_temperament(name: str, a_hz: float, lowest: int) -> None:
    """If each step is tuned to its beats, the result is the temperament."""
    made = named_temperament(name)
    steps = bearings(made, a_hz, lowest)
    assert [step.closing for step in steps] == [False] * 11 + [True]
    tuned = {steps[0].from_midi: made.hz(steps[0].from_midi, a_hz)}
    for step in steps[:-1]:
        interval = INTERVALS[step.by.interval]
        known = tuned[step.from_midi]
        if step.to_midi == step.by.upper_midi:
            target = interval.lower_partial * known + step.by.beats_per_s
            tuned[step.to_midi] = target / interval.upper_partial
        else:
            target = interval.upper_partial * known - step.by.beats_per_s
            tuned[step.to_midi] = target / interval.lower_partial
    assert sorted(tuned) == list(range(lowest, lowest + 12))
    for midi, hz in tuned.items():
        assert hz == pytest.approx(made.hz(midi, a_hz), rel=1e-10)
    last = steps[-1].by
    closing = beats_per_s(tuned[last.lower_midi], tuned[last.upper_midi], last.interval)
    assert closing == pytest.approx(last.beats_per_s, abs=1e-6)


def test_thirds_for_checking_are_between_tuned_notes() -> None:
    tuned = {57}
    for step in bearings(EQUAL)[:-1]:
        for third in step.thirds:
            notes = {third.lower_midi, third.upper_midi}
            assert step.to_midi in notes
            assert notes <= tuned | {step.to_midi}
            assert third.beats_per_s > 5
        tuned.add(step.to_midi)
    assert sum(len(step.thirds) for step in bearings(EQUAL)) == 11


def test_in_equal_temperament_fifths_are_narrow_and_fourths_wide() -> None:
    steps = bearings(EQUAL)
    assert steps
    for step in steps:
        assert (step.by.beats_per_s < 0) == (step.by.interval == "perfect_fifth")


def test_the_wolf_fifth_of_meantone_is_the_closing_one() -> None:
    closing = bearings(named_temperament("quarter_comma_meantone"))[-1]
    assert abs(closing.by.beats_per_s) > 8
    assert {closing.from_midi % 12, closing.to_midi % 12} == {3, 8}


@pytest.mark.parametrize(("beats", "cents"), [(1.0, 3.9), (2.0, 7.9), (3.0, 11.8), (5.0, 19.6)])
def test_celeste_at_a4(beats: float, cents: float) -> None:
    """Figures of the trade, computed: about double at A3, about half at A5."""
    assert celeste_cents(440.0, beats) == pytest.approx(cents, abs=0.05)
    assert celeste_cents(220.0, beats) == pytest.approx(2 * cents, rel=0.02)
    assert celeste_cents(880.0, beats) == pytest.approx(cents / 2, rel=0.02)


@given(st.floats(60.0, 2000.0), st.floats(0.1, 8.0), st.booleans())
def test_celeste_round_trip(hz: float, beats: float, sharp: bool) -> None:
    signed = beats if sharp else -beats
    cents = celeste_cents(hz, signed)
    assert (cents > 0) == sharp
    assert celeste_beats_per_s(hz, cents) == pytest.approx(signed, abs=1e-8)


def test_impossible_celestes_are_refused_or_held_at_an_octave() -> None:
    assert celeste_cents(4.0, -5.0) == pytest.approx(-1200.0)
    with pytest.raises(ValueError, match="the beats must be a number"):
        celeste_cents(440.0, math.nan)
    with pytest.raises(ValueError, match="more than zero"):
        celeste_cents(0.0, 2.0)
