"""What the feet deliver against leaks and reeds, played out stroke by stroke."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from assess_pneumatics.leakage import reservoir_volume_m3
from assess_pneumatics.measured import Measured
from assess_pneumatics.pumping import (
    NOTE_LASTS_AT_LEAST_S,
    delivered_m3,
    judge_playing,
    lost_share,
    note_s,
    pumping_power_w,
    reed_flow_m3_s,
    stroke_m3,
    strokes_needed_per_min,
    strokes_to_shut,
)
from hypothesis import given
from hypothesis import strategies as st

REFERENCES = Path(__file__).parents[2] / "references"
HOLD_TESTS = tomllib.loads((REFERENCES / "hold_tests.toml").read_text(encoding="utf-8"))["rows"]

volumes = st.floats(0.01, 0.1)
strokes_m3 = st.floats(0.002, 0.02)
flows = st.floats(1e-5, 5e-3)


@pytest.mark.parametrize("row", HOLD_TESTS, ids=lambda row: row["status"])
def test_the_published_benchmark_of_a_held_note(row: dict[str, Any]) -> None:
    assert "the note lasts at least" in row["test"]
    assert row["seconds"] == NOTE_LASTS_AT_LEAST_S


@given(volumes, st.floats(1.0, 20.0), flows)
def test_who_cannot_hold_the_wind_cannot_hold_the_note(
    volume: float, hold: float, reeds: float
) -> None:
    assert note_s(volume, volume / hold, reeds) < NOTE_LASTS_AT_LEAST_S


@given(volumes, st.floats(25.0, 600.0), flows)
def test_reed_flow_is_found_again_from_two_times(volume: float, hold: float, reeds: float) -> None:
    lasted = note_s(volume, volume / hold, reeds)
    assert reed_flow_m3_s(volume, hold, lasted) == pytest.approx(reeds, rel=1e-6)


@given(st.floats(0.2, 1), st.floats(0.2, 1), st.floats(0.02, 0.2))
def test_a_stroke_is_the_volume_between_its_boards(
    length: float, depth: float, travel: float
) -> None:
    assert stroke_m3(length, depth, travel) == reservoir_volume_m3(length, depth, travel)
    assert stroke_m3(length, depth, travel, "parallel") == pytest.approx(length * depth * travel)


@given(volumes, strokes_m3, st.floats(20, 100), flows)
def test_strokes_to_shut_played_out(
    volume: float, stroke: float, per_min: float, leak: float
) -> None:
    needed = strokes_to_shut(volume, stroke, per_min, leak)
    left, count = volume, 0
    while left > 0 and count < 2000:
        left += leak * 60 / per_min - stroke
        count += 1
    if math.isinf(needed):
        assert count == 2000
    elif needed < 1999:
        assert count in (math.ceil(needed), math.ceil(needed) + 1)


@given(volumes, strokes_m3, st.floats(20, 100), flows)
def test_counting_strokes_gives_back_the_stroke(
    volume: float, stroke: float, per_min: float, leak: float
) -> None:
    count = strokes_to_shut(volume, stroke, per_min, leak)
    if count < 1e4:
        found = delivered_m3(volume, count, count * 60 / per_min, leak)
        assert found == pytest.approx(stroke, rel=1e-6)


def test_a_reservoir_that_leaks_faster_than_the_feet_is_never_shut() -> None:
    assert strokes_to_shut(0.038, 0.005, 60.0, 0.005) == math.inf
    assert strokes_to_shut(0.038, 0.005, 60.0, 0.00499) > 1000


def test_a_tight_reservoir_needs_volume_over_stroke() -> None:
    assert strokes_to_shut(0.04, 0.008, 60.0, 0.0) == pytest.approx(5.0)


@given(flows, flows)
def test_shares_of_leaks_and_reeds_make_the_whole(leak: float, reeds: float) -> None:
    assert lost_share(leak, reeds) + lost_share(reeds, leak) == pytest.approx(1.0)


@given(flows, flows, st.floats(1.1, 10))
def test_more_leakage_loses_more_and_asks_more_strokes(
    leak: float, reeds: float, more: float
) -> None:
    assert lost_share(more * leak, reeds) > lost_share(leak, reeds)
    assert strokes_needed_per_min(0.008, more * leak, reeds) > strokes_needed_per_min(
        0.008, leak, reeds
    )


def test_no_leak_no_loss() -> None:
    assert lost_share(0.0, 0.002) == 0.0
    assert lost_share(0.002, 0.0) == 1.0


@given(strokes_m3, flows, flows)
def test_at_the_strokes_needed_the_reservoir_stands_still(
    stroke: float, leak: float, reeds: float
) -> None:
    per_min = strokes_needed_per_min(stroke, leak, reeds)
    assert per_min / 60 * stroke == pytest.approx(leak + reeds)
    assert strokes_to_shut(0.04, stroke, 0.999 * per_min, leak + reeds) == math.inf


@given(flows, flows, st.floats(100, 1500))
def test_the_share_of_air_is_the_share_of_power(leak: float, reeds: float, suction: float) -> None:
    share = pumping_power_w(leak, suction) / pumping_power_w(leak + reeds, suction)
    assert share == pytest.approx(lost_share(leak, reeds))


def test_power_is_suction_times_flow() -> None:
    assert pumping_power_w(0.004, 750.0) == pytest.approx(3.0)


def playing(strokes_per_min: float, sd: float) -> Any:
    reeds = strokes_per_min * 0.01 / 60
    return judge_playing(Measured(0.01), Measured(0.0), Measured(reeds, sd * 0.01 / 60))


@pytest.mark.parametrize(
    ("strokes", "sd", "ease"),
    [
        (30, 0, "easy"),
        (59.9, 0, "easy"),
        (60.1, 0, "tiring"),
        (99.9, 0, "tiring"),
        (100.1, 0, "not playable"),
        (50, 4.9, "easy"),
        (50, 5.1, "too close to tell"),
        (75, 7.4, "tiring"),
        (75, 7.6, "too close to tell"),
        (80, 15, "too close to tell"),
        (120, 9.9, "not playable"),
    ],
)
def test_whether_it_can_be_played(strokes: float, sd: float, ease: str) -> None:
    found = playing(strokes, sd)
    assert found.ease == ease
    assert found.statement.startswith(f"{ease}: {found.strokes_per_min} strokes")
    assert found.strokes_per_min.value == pytest.approx(strokes)


def test_a_pace_at_the_limit_can_just_be_kept() -> None:
    # Powers of two, so that the limit is met to the last digit.
    stroke, still = Measured(0.015625), Measured(0.0)
    assert judge_playing(stroke, still, Measured(0.015625), 60, 120).ease == "easy"
    assert judge_playing(stroke, still, Measured(0.03125), 60, 120).ease == "tiring"


def test_the_statement_tells_the_share_lost() -> None:
    found = judge_playing(Measured(0.01), Measured(1e-3), Measured(4e-3))
    assert found.statement == "easy: 30.0 strokes a minute, 20 % of the work lost to leaks"


def test_the_error_of_the_stroke_counts_too() -> None:
    found = judge_playing(Measured(0.01, 0.001), Measured(1e-3), Measured(4e-3))
    assert found.strokes_per_min.sd == pytest.approx(3.0, rel=0.02)
    assert found.lost_share == Measured(0.2, 0.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: stroke_m3(0.4, 0.3, 0.0), "opening"),
        (lambda: delivered_m3(0.0, 5, 6, 0), "volume"),
        (lambda: delivered_m3(0.04, 0, 6, 0), "strokes"),
        (lambda: delivered_m3(0.04, 5, 0, 0), "time of pumping"),
        (lambda: delivered_m3(0.04, 5, 6, -1e-3), "leakage"),
        (lambda: strokes_to_shut(0.04, 0.0, 60, 0), "stroke takes out"),
        (lambda: strokes_to_shut(0.04, 0.01, 0, 0), "strokes a minute"),
        (lambda: strokes_to_shut(math.nan, 0.01, 60, 0), "volume"),
        (lambda: reed_flow_m3_s(0.04, 60, 60), "longer with a note"),
        (lambda: reed_flow_m3_s(0.04, 60, 0), "note lasts"),
        (lambda: note_s(0.04, 0, 0), "air used"),
        (lambda: note_s(0.0, 1e-3, 0), "volume"),
        (lambda: lost_share(-1e-3, 2e-3), "leakage"),
        (lambda: lost_share(1e-3, -1e-4), "reeds"),
        (lambda: pumping_power_w(0, 700), "flow"),
        (lambda: pumping_power_w(1e-3, 0), "suction"),
        (lambda: strokes_needed_per_min(0, 1e-3, 1e-3), "stroke takes out"),
        (
            lambda: judge_playing(Measured(0.01), Measured(0), Measured(1e-3), 100, 100),
            "above the easy one",
        ),
    ],
)
def test_no_such_pumping(call: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
