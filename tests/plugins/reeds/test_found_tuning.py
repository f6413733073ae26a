from __future__ import annotations

import dataclasses

import pytest
from assess_reeds.fitting import Reading, readings_of
from assess_reeds.pitch import cents_between
from assess_reeds.rows import ReedRow
from assess_reeds.standing import Standing, standing
from assess_reeds.temperament import TEMPERAMENT_NAMES, temperament
from hypothesis import given
from hypothesis import strategies as st
from made_organs import celeste, rank


def stands(*ranks: list[ReedRow]) -> Standing:
    return standing(readings_of(row for rows in ranks for row in rows))


@given(st.floats(-100.0, 100.0), st.floats(0.0, 6.0), st.integers(0, 1000))
def test_the_pitch_is_found_under_noise(level: float, scatter: float, seed: int) -> None:
    found = stands(
        rank(level=level, scatter=scatter, seed=seed),
        rank("Flute", 4, level=level, scatter=scatter, seed=seed + 1),
    )
    assert found.pitch is not None
    assert found.pitch.cents == pytest.approx(level, abs=0.01 + 0.8 * scatter)
    assert found.pitch.readings == 122
    assert found.pitch.a_hz == pytest.approx(440.0 * 2 ** (found.pitch.cents / 1200))


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_a_is_the_a_of_the_temperament(name: str) -> None:
    """In an uneven temperament A is not the middle of the notes; it is still found."""
    found = stands(rank(level=30.0, tempering=temperament(name)))
    assert found.pitch is not None
    assert found.pitch.cents == pytest.approx(30.0, abs=1e-6)


def test_the_error_told_of_the_pitch_is_the_error_made() -> None:
    inside = 0
    for seed in range(100):
        pitch = stands(rank(level=10.0, scatter=5.0, seed=seed)).pitch
        assert pitch is not None
        inside += abs(pitch.cents - 10.0) <= 2 * pitch.sd_cents
    assert 85 <= inside <= 100


def test_not_knowing_the_temperament_makes_the_pitch_less_sure() -> None:
    octave = [3.0, 0.0, 1.0, 2.0, -1.0, 3.0, -2.0, 2.0, 1.0, -4.0, 3.0, -2.0]
    found = stands(rank(octave=octave))
    assert found.temperament.likely is None
    assert found.pitch is not None
    surer = standing(readings_of(rank(octave=octave)), [temperament("equal")]).pitch
    assert surer is not None
    assert found.pitch.sd_cents > surer.sd_cents


@given(st.integers(0, 60), st.floats(-1200.0, 1200.0), st.integers(0, 20))
def test_one_wild_reading_changes_little(place: int, wild: float, seed: int) -> None:
    readings = list(readings_of(rank(level=-20.0, scatter=3.0, seed=seed)))
    before = standing(readings).pitch
    readings[place] = Reading(readings[place].row, wild)
    after = standing(readings).pitch
    assert before is not None
    assert after is not None
    assert after.cents == pytest.approx(before.cents, abs=1.5)
    assert after.spread_cents == pytest.approx(before.spread_cents, abs=1.0)


def test_a_third_of_the_reeds_may_be_wild() -> None:
    rows = rank(level=12.0, scatter=1.0)
    wild = [
        dataclasses.replace(row, cents=400.0 - 13 * index) if index % 3 == 0 else row
        for index, row in enumerate(rows)
    ]
    pitch = stands(wild).pitch
    assert pitch is not None
    assert pitch.cents == pytest.approx(12.0, abs=1.5)


def test_hertz_and_cents_mix() -> None:
    rows = rank(level=-19.8)
    by_hz = [
        ReedRow(row.key_midi, row.rank, hz=temperament("equal").hz(row.sounding_midi, 435.0))
        if row.key_midi % 2
        else row
        for row in rows
    ]
    pitch = stands(by_hz).pitch
    assert pitch is not None
    assert pitch.a_hz == pytest.approx(435.0, abs=0.01)


def test_the_majority_of_ranks_gives_the_pitch() -> None:
    found = stands(
        rank("Viola", level=0.0), rank("Melody", level=3.0), rank("Flute", 4, level=54.0)
    )
    assert found.pitch is not None
    assert found.pitch.cents == pytest.approx(1.5, abs=1.51)
    assert found.pitch.readings == 122


def test_two_ranks_that_disagree_have_no_one_pitch() -> None:
    found = stands(rank("Viola"), rank("Melody", level=54.0))
    assert found.pitch is None
    assert "no one pitch: Melody 8 ft at 453.9, Viola 8 ft at 440.0 Hz" in found.says
    assert found.temperament.likely == temperament("equal")


@pytest.mark.parametrize(("apart", "agree"), [(9.5, True), (10.5, False)])
def test_ranks_agree_up_to_the_limit(apart: float, agree: bool) -> None:
    found = stands(rank("Viola"), rank("Melody", level=apart))
    assert (found.pitch is not None) is agree


def test_a_mixed_rank_shows_its_sets() -> None:
    rows = rank(keys=range(29, 60), level=54.0) + rank(keys=range(60, 90))
    found = stands(rows)
    lower, upper = found.sets
    assert (lower.key_midis, upper.key_midis) == (tuple(range(60, 90)), tuple(range(29, 60)))
    assert lower.a_hz == pytest.approx(440.0)
    assert cents_between(lower.a_hz, upper.a_hz) == pytest.approx(54.0)


def test_nothing_read_is_no_pitch() -> None:
    found = stands([ReedRow(60, "Viola")])
    assert (found.pitch, found.sets, found.celestes) == (None, (), ())
    assert found.says == "no pitch was read"


@given(st.floats(0.8, 4.0), st.booleans(), st.floats(-60.0, 60.0))
def test_an_even_celeste_is_found(beats: float, sharp: bool, level: float) -> None:
    signed = beats if sharp else -beats
    found = stands(rank(level=level), celeste(signed, level=level))
    (fit,) = found.celestes
    assert fit.beats_per_s == pytest.approx(signed, abs=1e-6)
    assert fit.even is True
    assert found.pitch is not None
    assert found.pitch.cents == pytest.approx(level, abs=1e-6)


def test_a_celeste_tuned_by_octaves_races() -> None:
    racing = [ReedRow(key, "Celeste", cents=8.0, celeste=True) for key in range(53, 90)]
    (fit,) = stands(rank(), racing).celestes
    assert fit.cents == pytest.approx(8.0)
    assert fit.even is False


def test_a_celeste_with_its_unison_out_of_tune_is_heard_against_that_reed() -> None:
    unison = [dataclasses.replace(row, cents=-5.0) for row in rank(keys=range(60, 90))]
    (fit,) = stands(rank("Flute", 4), unison, celeste(2.0, level=-5.0)).celestes
    assert fit.beats_per_s == pytest.approx(2.0, abs=1e-6)


def test_a_celeste_without_a_unison_of_its_own_is_held_against_the_instrument() -> None:
    (fit,) = stands(rank("Flute", 4), celeste(2.0)).celestes
    assert fit.beats_per_s == pytest.approx(2.0, abs=1e-6)


def test_how_a_celeste_was_tuned_cannot_be_told_from_little() -> None:
    assert stands(rank(), celeste(2.0, range(60, 63))).celestes == ()
    assert len(stands(rank(), celeste(2.0, range(60, 64))).celestes) == 1
    (narrow,) = stands(rank(), celeste(2.0, range(60, 70))).celestes
    assert narrow.even is None
    (none_at_all,) = stands(celeste(2.0), rank(keys=range(60, 90))).celestes
    assert none_at_all.even is True
    assert stands(celeste(2.0)).celestes == ()


def test_two_sets_tuned_alike_do_not_beat() -> None:
    """Some instruments wave by a second mute over sets that are tuned alike."""
    alike = [dataclasses.replace(row, rank="Celeste", celeste=True) for row in rank()]
    (fit,) = stands(rank(), alike).celestes
    assert fit.beats_per_s == pytest.approx(0.0, abs=1e-9)


def test_a_flat_celeste_in_the_lowest_bass_stays_a_vibration() -> None:
    """Median beats of the treble would ask a 16 Hz reed for less than nothing."""
    fast = celeste(-20.0, range(60, 90))
    found = stands(rank(), fast)
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
    found = standing(readings_of(moved), [temperament("equal")])
    assert found.pitch is not None
    assert found.pitch.spread_cents == pytest.approx(3.0)
    assert found.sets[0].spread_cents == pytest.approx(3.0)


def test_a_celeste_without_unison_is_heard_in_the_temperament_and_pitch_in_use() -> None:
    made = temperament("quarter_comma_meantone")
    flute = rank("Flute", 4, level=54.0, tempering=made)
    waving = [
        dataclasses.replace(row, cents=(row.cents or 0.0) + made.offset_cents(row.key_midi))
        for row in celeste(2.0, level=54.0)
    ]
    (fit,) = stands(flute, waving).celestes
    assert fit.beats_per_s == pytest.approx(2.0, abs=0.02)
    assert fit.even is True
