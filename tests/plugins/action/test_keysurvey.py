"""The key survey: keyboards with known faults, and one odd key that changes nothing else."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import fmean

import numpy as np
import pytest
from assess_action.keysurvey import (
    KeyRow,
    dip_spread,
    is_sharp,
    key_number,
    keys_to_ease,
    keys_to_rebush,
    level_keys,
    odd_touch,
)
from hypothesis import given
from hypothesis import strategies as st

NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def note(number: int) -> str:
    return f"{NAMES[number % 12]}{number // 12 - 1}"


# 61 notes from F1, as on most parlour organs.
COMPASS = [note(number) for number in range(29, 90)]


def keyboard(seed: int = 1, slope: float = 0.01, noise: float = 0.05) -> list[KeyRow]:
    """A sound keyboard: rising a little, sharps 12 mm above, bass heavier than treble."""
    rng = np.random.default_rng(seed)
    return [
        KeyRow(
            name,
            dip_mm=9.5 + float(rng.normal(0, noise)),
            height_mm=20 + 12 * is_sharp(name) + slope * place + float(rng.normal(0, noise)),
            side_play_mm=0.2,
            touch_g=95 - 0.4 * place + float(rng.normal(0, 2)),
        )
        for place, name in enumerate(COMPASS)
    ]


def changed(rows: list[KeyRow], name: str, **readings: float | None) -> list[KeyRow]:
    return [replace(row, **readings) if row.note == name else row for row in rows]  # type: ignore[arg-type]


# --- notes ----------------------------------------------------------------------------


def test_every_note_of_the_compass_has_its_number() -> None:
    assert [key_number(name) for name in COMPASS] == list(range(29, 90))
    assert sum(is_sharp(name) for name in COMPASS) == 25


@pytest.mark.parametrize(
    ("name", "number"),
    [("A4", 69), ("C4", 60), ("C-1", 0), ("Bb3", 58), ("b♭3", 58), ("f♯1", 30), (" E 2 ", 40)],
)
def test_ways_of_writing_a_note(name: str, number: int) -> None:
    assert key_number(name) == number


@pytest.mark.parametrize("name", ["", "H2", "F", "F##1", "F10", "1F", "F1x"])
def test_not_a_note(name: str) -> None:
    with pytest.raises(ValueError, match="is not a note"):
        key_number(name)


# --- level ----------------------------------------------------------------------------


def test_a_sound_keyboard_needs_nothing() -> None:
    levels = level_keys(keyboard())
    assert [level.note for level in levels] == COMPASS
    assert all(level.adjustment == "leave" and level.shim_mm == 0.0 for level in levels)


@given(st.floats(-0.05, 0.05), st.floats(0.45, 3.0), st.sampled_from(COMPASS))
def test_a_low_key_gets_the_shim_it_needs(slope: float, low: float, name: str) -> None:
    rows = keyboard(slope=slope, noise=0.0)
    height = next(row.height_mm for row in rows if row.note == name)
    assert height is not None
    levels = {key.note: key for key in level_keys(changed(rows, name, height_mm=height - low))}
    assert levels[name].adjustment == "shim"
    assert levels[name].shim_mm == pytest.approx(low, abs=0.025 + 1e-9)
    assert levels[name].off_mm == pytest.approx(-low, abs=1e-9)
    assert all(key.adjustment == "leave" for key in levels.values() if key.note != name)


def test_a_high_key_is_lowered_not_shimmed() -> None:
    rows = changed(keyboard(noise=0.0), "C4", height_mm=22.0)
    key = next(key for key in level_keys(rows) if key.note == "C4")
    assert (key.adjustment, key.shim_mm) == ("lower", 0.0)


@given(st.lists(st.floats(-2.0, 2.0), min_size=61, max_size=61))
def test_after_the_shims_no_low_key_is_left(offs: list[float]) -> None:
    rows = [
        replace(row, height_mm=(row.height_mm or 0.0) + off)
        for row, off in zip(keyboard(noise=0.0), offs, strict=True)
    ]
    keys = level_keys(rows, tolerance_mm=0.3, step_mm=0.05)
    assert len(keys) == 61
    for key in keys:
        assert key.off_mm is not None
        if key.adjustment == "shim":
            assert abs(key.off_mm + key.shim_mm) <= 0.025 + 1e-6
        elif key.adjustment == "leave":
            assert abs(key.off_mm) <= 0.3
        else:
            assert key.off_mm > 0.3


@pytest.mark.parametrize("off", [0.5, -0.5])
def test_a_key_just_within_tolerance_is_left(off: float) -> None:
    rows = [KeyRow(f"{letter}3", height_mm=20.0) for letter in "CDEFGA"]
    rows.append(KeyRow("B3", height_mm=20.0 + off))
    assert {key.adjustment for key in level_keys(rows, tolerance_mm=0.5)} == {"leave"}
    assert level_keys(rows, tolerance_mm=0.49)[-1].adjustment != "leave"


def test_a_shim_is_at_least_one_step() -> None:
    rows = changed(keyboard(noise=0.0, slope=0.0), "C4", height_mm=19.6)
    key = next(key for key in level_keys(rows, step_mm=2.0) if key.note == "C4")
    assert key.shim_mm == 2.0


@given(st.sampled_from(COMPASS), st.floats(-1e4, 1e4))
def test_one_wild_height_moves_no_other_key(name: str, wild: float) -> None:
    rows = keyboard()
    sound = {key.note: key.off_mm for key in level_keys(rows)}
    disturbed = {key.note: key.off_mm for key in level_keys(changed(rows, name, height_mm=wild))}
    for other in COMPASS:
        if other != name:
            before, after = sound[other], disturbed[other]
            assert before is not None
            assert after is not None
            # A tenth of the tolerance.
            assert after == pytest.approx(before, abs=0.03)


def test_sharps_are_compared_with_sharps() -> None:
    rows = [replace(row, height_mm=40.0) if is_sharp(row.note) else row for row in keyboard()]
    assert {key.adjustment for key in level_keys(rows, tolerance_mm=0.35)} == {"leave"}


def test_too_few_of_a_kind_are_not_judged() -> None:
    rows = [row for row in keyboard() if not is_sharp(row.note)][:6]
    sharps = [KeyRow(name, height_mm=30.0) for name in ("F#1", "G#1", "A#1", "C#2")]
    adjustments = {key.note: key.adjustment for key in level_keys([*rows, *sharps])}
    assert all(adjustments[key.note] == "not judged" for key in sharps)
    assert all(adjustments[row.note] == "leave" for row in rows)
    five = [*sharps, KeyRow("D#2", height_mm=30.0)]
    assert {key.adjustment for key in level_keys([*rows, *five])} == {"leave"}


def test_order_of_the_rows_does_not_matter() -> None:
    rows = keyboard(noise=0.4)
    assert level_keys(rows) == level_keys(rows[::-1])


# --- dip ------------------------------------------------------------------------------


def test_dip_of_a_sound_keyboard() -> None:
    spread = dip_spread(keyboard())
    assert spread.usual_mm == pytest.approx(9.5, abs=0.03)
    assert spread.range_mm < 0.35
    assert spread.outliers == ()


@given(st.sampled_from(COMPASS), st.floats(15.0, 1e4))
def test_one_wild_dip_is_named_and_changes_nothing_else(name: str, wild: float) -> None:
    rows = keyboard()
    sound, disturbed = dip_spread(rows), dip_spread(changed(rows, name, dip_mm=wild))
    assert disturbed.outliers == (name,)
    assert disturbed.usual_mm == pytest.approx(sound.usual_mm, abs=0.02)
    assert disturbed.range_mm <= sound.range_mm
    # The mean, for comparison, would have moved by far more.
    assert fmean([9.5] * 60 + [wild]) - 9.5 > 0.05


def test_odd_dips_are_named_from_low_to_high() -> None:
    rows = changed(changed(keyboard(), "C5", dip_mm=3.0), "F#1", dip_mm=13.0)
    assert dip_spread(rows[::-1]).outliers == ("F#1", "C5")


def test_dips_that_were_not_measured_are_left_out() -> None:
    rows = [replace(row, dip_mm=None) for row in keyboard()[:60]] + keyboard()[60:]
    assert dip_spread(rows).range_mm == 0.0
    with pytest.raises(ValueError, match="no key dip"):
        dip_spread(rows[:60])


# --- touch and side play --------------------------------------------------------------


def test_the_trend_of_the_compass_is_not_a_fault() -> None:
    assert odd_touch(keyboard()) == ()


@pytest.mark.parametrize("name", ["F1", "C#4", "F6"])
def test_a_heavy_key_is_found_against_the_trend(name: str) -> None:
    place = COMPASS.index(name)
    found = odd_touch(changed(keyboard(), name, touch_g=140.0))
    assert [key.note for key in found] == [name]
    assert found[0].touch_g == 140.0
    assert found[0].expected_g == pytest.approx(95 - 0.4 * place, abs=2.0)


@given(st.sampled_from(COMPASS), st.floats(300.0, 1e5))
def test_one_wild_touch_makes_no_other_key_odd(name: str, wild: float) -> None:
    assert [key.note for key in odd_touch(changed(keyboard(), name, touch_g=wild))] == [name]


def test_touch_of_too_few_keys_is_not_judged() -> None:
    rows = [KeyRow(f"{letter}3", touch_g=80.0) for letter in "CDE"]
    assert odd_touch([*rows, KeyRow("F3", touch_g=200.0)]) == ()
    rows.append(KeyRow("G3", touch_g=80.0))
    assert [key.note for key in odd_touch([*rows, KeyRow("F3", touch_g=200.0)])] == ["F3"]


def test_keys_to_ease_and_why() -> None:
    rows = changed(keyboard(), "C4", side_play_mm=0.04)
    rows = changed(rows, "G4", touch_g=150.0)
    rows = changed(rows, "A4", touch_g=20.0)
    rows = changed(rows, "D3", side_play_mm=0.0, touch_g=160.0)
    found = {key.note: key.reasons for key in keys_to_ease(rows)}
    assert list(found) == ["D3", "C4", "G4"]
    assert found["C4"] == ("side play 0.04 mm, under 0.1 mm",)
    assert found["G4"][0].startswith("touch 150 g, usual there ")
    assert len(found["D3"]) == 2


def test_side_play_at_the_limits_is_right() -> None:
    rows = [KeyRow("C3", side_play_mm=0.1), KeyRow("D3", side_play_mm=0.3)]
    assert keys_to_ease(rows) == ()
    assert keys_to_rebush(rows) == ()


def test_loose_keys_from_low_to_high() -> None:
    rows = changed(changed(keyboard(), "C5", side_play_mm=0.9), "F#1", side_play_mm=0.31)
    assert keys_to_rebush(rows[::-1]) == ("F#1", "C5")


def test_an_empty_survey_finds_nothing() -> None:
    assert level_keys([]) == ()
    assert odd_touch([]) == ()
    assert keys_to_ease([]) == ()
    assert keys_to_rebush([]) == ()


# --- impossible values ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ({"dip_mm": -1.0}, "dip of C3"),
        ({"dip_mm": math.nan}, "dip of C3"),
        ({"height_mm": math.inf}, "height of C3"),
        ({"side_play_mm": -0.1}, "side play of C3"),
        ({"touch_g": -5.0}, "touch of C3"),
    ],
)
def test_impossible_readings_are_refused(readings: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        KeyRow("C3", **readings)


def test_a_row_needs_a_note() -> None:
    with pytest.raises(ValueError, match="is not a note"):
        KeyRow("H2")


def test_a_height_below_the_plane_is_a_reading() -> None:
    assert KeyRow("C3", height_mm=-1.5).height_mm == -1.5


def test_a_key_is_surveyed_once() -> None:
    rows = [KeyRow("F#3", height_mm=20.0), KeyRow("Gb3", height_mm=20.0)]
    with pytest.raises(ValueError, match="more than once"):
        level_keys(rows)


@pytest.mark.parametrize(("setting", "words"), [("tolerance_mm", "tolerance"), ("step_mm", "step")])
def test_impossible_settings_are_refused(setting: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        level_keys(keyboard(), **{setting: 0.0})
