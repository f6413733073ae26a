from __future__ import annotations

import dataclasses
import math

import pytest
from assess_reeds.fitting import MAD_TO_SD, Reading, readings_of
from assess_reeds.found_tuning import MEDIAN_LOSS, FoundTuning, found_tuning
from assess_reeds.pitch import cents_between
from assess_reeds.rows import ReedRow
from assess_reeds.temperament import TEMPERAMENT_NAMES, named_temperament
from hypothesis import given
from hypothesis import strategies as st
from made_organs import celeste, rank


def tuning_of(*ranks: list[ReedRow]) -> FoundTuning:
    return found_tuning(readings_of(row for rows in ranks for row in rows))


@given(st.floats(-100.0, 100.0), st.floats(0.0, 6.0), st.integers(0, 1000))
def test_the_pitch_is_found_under_noise(level: float, scatter: float, seed: int) -> None:
    found = tuning_of(
        rank(level=level, scatter=scatter, seed=seed),
        rank("Flute", 4, level=level, scatter=scatter, seed=seed + 1),
    )
    assert found.pitch is not None
    assert found.pitch.cents == pytest.approx(level, abs=0.01 + 0.8 * scatter)
    assert found.pitch.readings == 122
    assert found.pitch.a_hz == pytest.approx(440.0 * 2 ** (found.pitch.cents / 1200))


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_the_pitch_is_the_a_of_the_temperament(name: str) -> None:
    """In an unequal temperament A is not the middle of the notes, but it is still found."""
    found = tuning_of(rank(level=30.0, temperament=named_temperament(name)))
    assert found.pitch is not None
    assert found.pitch.cents == pytest.approx(30.0, abs=1e-6)


def test_the_stated_error_of_the_pitch_is_realistic() -> None:
    inside = 0
    for seed in range(100):
        pitch = tuning_of(rank(level=10.0, scatter=5.0, seed=seed)).pitch
        assert pitch is not None
        inside += abs(pitch.cents - 10.0) <= 2 * pitch.sd_cents
    assert 85 <= inside <= 100


def test_an_unclear_temperament_makes_the_pitch_less_certain() -> None:
    octave = [3.0, 0.0, 1.0, 2.0, -1.0, 3.0, -2.0, 2.0, 1.0, -4.0, 3.0, -2.0]
    found = tuning_of(rank(octave=octave))
    assert found.temperament.likely is None
    assert found.pitch is not None
    scatter = MEDIAN_LOSS * MAD_TO_SD * found.pitch.spread_cents / math.sqrt(61)
    assert found.pitch.sd_cents > scatter + 0.1


@given(st.integers(0, 60), st.floats(-1200.0, 1200.0), st.integers(0, 20))
def test_one_wild_reading_changes_little(place: int, wild: float, seed: int) -> None:
    readings = list(readings_of(rank(level=-20.0, scatter=3.0, seed=seed)))
    before = found_tuning(readings).pitch
    readings[place] = Reading(readings[place].row, wild)
    after = found_tuning(readings).pitch
    assert before is not None
    assert after is not None
    assert after.cents == pytest.approx(before.cents, abs=1.5)
    assert after.spread_cents == pytest.approx(before.spread_cents, abs=1.0)


def test_the_pitch_holds_when_a_third_of_the_reeds_are_wild() -> None:
    rows = rank(level=12.0, scatter=1.0)
    wild = [
        dataclasses.replace(row, cents=400.0 - 13 * index) if index % 3 == 0 else row
        for index, row in enumerate(rows)
    ]
    pitch = tuning_of(wild).pitch
    assert pitch is not None
    assert pitch.cents == pytest.approx(12.0, abs=1.5)


def test_hertz_and_cents_can_be_mixed() -> None:
    rows = rank(level=-19.8)
    by_hz = [
        ReedRow(row.key_midi, row.rank, hz=named_temperament("equal").hz(row.sounding_midi, 435.0))
        if row.key_midi % 2
        else row
        for row in rows
    ]
    pitch = tuning_of(by_hz).pitch
    assert pitch is not None
    assert pitch.a_hz == pytest.approx(435.0, abs=0.01)


def test_the_majority_of_ranks_gives_the_pitch() -> None:
    found = tuning_of(
        rank("Viola", level=0.0), rank("Melody", level=3.0), rank("Flute", 4, level=54.0)
    )
    assert found.pitch is not None
    assert found.pitch.cents == pytest.approx(1.5, abs=1.51)
    assert found.pitch.readings == 122


def test_two_ranks_that_disagree_share_no_pitch() -> None:
    found = tuning_of(rank("Viola"), rank("Melody", level=54.0))
    assert found.pitch is None
    assert "do not share one pitch: Melody 8 ft at 453.9, Viola 8 ft at 440.0 Hz" in found.says
    assert found.temperament.likely == named_temperament("equal")


@pytest.mark.parametrize(("apart", "agree"), [(9.5, True), (10.5, False)])
def test_ranks_agree_up_to_the_limit(apart: float, agree: bool) -> None:
    found = tuning_of(rank("Viola"), rank("Melody", level=apart))
    assert (found.pitch is not None) is agree


def test_a_mixed_rank_shows_its_sets() -> None:
    rows = rank(keys=range(29, 60), level=54.0) + rank(keys=range(60, 90))
    found = tuning_of(rows)
    lower, upper = found.sets
    assert (lower.key_midis, upper.key_midis) == (tuple(range(60, 90)), tuple(range(29, 60)))
    assert lower.a_hz == pytest.approx(440.0)
    assert cents_between(lower.a_hz, upper.a_hz) == pytest.approx(54.0)


def test_without_readings_there_is_no_pitch() -> None:
    found = tuning_of([ReedRow(60, "Viola")])
    assert (found.pitch, found.sets, found.celestes) == (None, (), ())
    assert found.says == "no pitch was read"


@given(st.floats(0.8, 4.0), st.booleans(), st.floats(-60.0, 60.0))
def test_an_even_celeste_is_found(beats: float, sharp: bool, level: float) -> None:
    signed = beats if sharp else -beats
    found = tuning_of(rank(level=level), celeste(signed, level=level))
    (fit,) = found.celestes
    assert fit.beats_per_s == pytest.approx(signed, abs=1e-6)
    assert fit.even is True
    assert found.pitch is not None
    assert found.pitch.cents == pytest.approx(level, abs=1e-6)


def test_a_celeste_tuned_by_octaves_gets_faster_upwards() -> None:
    by_octaves = [ReedRow(key, "Celeste", cents=8.0, celeste=True) for key in range(53, 90)]
    (fit,) = tuning_of(rank(), by_octaves).celestes
    assert fit.cents == pytest.approx(8.0)
    assert fit.even is False


def test_a_celeste_is_compared_with_its_own_unison_even_if_out_of_tune() -> None:
    unison = [dataclasses.replace(row, cents=-5.0) for row in rank(keys=range(60, 90))]
    (fit,) = tuning_of(rank("Flute", 4), unison, celeste(2.0, level=-5.0)).celestes
    assert fit.beats_per_s == pytest.approx(2.0, abs=1e-6)


def test_a_celeste_without_unison_is_compared_with_the_instrument() -> None:
    (fit,) = tuning_of(rank("Flute", 4), celeste(2.0)).celestes
    assert fit.beats_per_s == pytest.approx(2.0, abs=1e-6)


def test_few_readings_do_not_show_how_a_celeste_was_tuned() -> None:
    assert tuning_of(rank(), celeste(2.0, range(60, 63))).celestes == ()
    assert len(tuning_of(rank(), celeste(2.0, range(60, 64))).celestes) == 1
    (narrow,) = tuning_of(rank(), celeste(2.0, range(60, 70))).celestes
    assert narrow.even is None
    (none_at_all,) = tuning_of(celeste(2.0), rank(keys=range(60, 90))).celestes
    assert none_at_all.even is True
    assert tuning_of(celeste(2.0)).celestes == ()


def test_two_sets_tuned_alike_do_not_beat() -> None:
    """Some instruments make the effect by a second mute over sets tuned alike."""
    alike = [dataclasses.replace(row, rank="Celeste", celeste=True) for row in rank()]
    (fit,) = tuning_of(rank(), alike).celestes
    assert fit.beats_per_s == pytest.approx(0.0, abs=1e-9)


def test_a_flat_celeste_in_the_lowest_bass_keeps_a_frequency_above_zero() -> None:
    """The median beats of the treble would need a frequency below zero in the lowest bass."""
    fast = celeste(-20.0, range(60, 90))
    found = tuning_of(rank(), fast)
    offset = found.celeste_offset(ReedRow(24, "Celeste", 16, celeste=True))
    assert offset is None
    same = found.celeste_offset(ReedRow(12, "Celeste", 8, celeste=True))
    assert same == pytest.approx(-1200.0)
    assert found.celeste_offset(ReedRow(12, "Viola", 8)) == 0.0


def test_the_spread_is_the_median_distance_from_the_pitch() -> None:
    rows = rank(level=50.0, keys=range(60, 72))
    offs = [-3.0, 3.0] * 6
    moved = [
        dataclasses.replace(row, cents=(row.cents or 0.0) + off)
        for row, off in zip(rows, offs, strict=True)
    ]
    found = tuning_of(moved)
    assert found.assumed == named_temperament("equal")
    assert found.pitch is not None
    assert found.pitch.spread_cents == pytest.approx(3.0)
    assert found.sets[0].spread_cents == pytest.approx(3.0)


def test_a_celeste_without_unison_is_compared_in_the_temperament_of_the_instrument() -> None:
    made = named_temperament("quarter_comma_meantone")
    flute = rank("Flute", 4, level=54.0, temperament=made)
    celeste_rows = [
        dataclasses.replace(row, cents=(row.cents or 0.0) + made.offset_cents(row.key_midi))
        for row in celeste(2.0, level=54.0)
    ]
    (fit,) = tuning_of(flute, celeste_rows).celestes
    assert fit.beats_per_s == pytest.approx(2.0, abs=0.02)
    assert fit.even is True
