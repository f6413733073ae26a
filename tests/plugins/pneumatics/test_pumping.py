"""What the feet move against leaks and reeds, played through stroke by stroke."""

from __future__ import annotations

import math
from typing import Any

import pytest
from assess_pneumatics.pumping import judge_playing, strokes_per_min, strokes_to_close
from assess_pneumatics.uncertainty import Measured
from hypothesis import given
from hypothesis import strategies as st

volumes = st.floats(0.01, 0.1)
strokes_m3 = st.floats(0.002, 0.02)
holds = st.floats(5.0, 600.0)
ROUNDING = 1e-6


@given(volumes, strokes_m3, holds, st.floats(20, 100))
def test_strokes_to_close_played_through(
    volume: float, stroke: float, hold: float, pace: float
) -> None:
    leaked = volume / hold * 60 / pace
    left, count = volume, 0
    while left > 0 and count < 2000:
        left += leaked - stroke
        count += 1
    if leaked >= stroke:
        with pytest.raises(ValueError, match="never closes"):
            strokes_to_close(volume, stroke, hold, pace)
    elif count < 1999:
        needed = strokes_to_close(volume, stroke, hold, pace)
        assert needed - ROUNDING <= count <= math.ceil(needed) + 1


def test_a_tight_reservoir_needs_volume_over_stroke() -> None:
    assert strokes_to_close(0.04, 0.008, 1e9) == pytest.approx(5.0)


@given(volumes, strokes_m3, st.floats(1.0, 60.0))
def test_at_the_strokes_needed_the_reservoir_stays_where_it_is(
    volume: float, stroke: float, note: float
) -> None:
    pace = strokes_per_min(volume, stroke, note)
    assert pace / 60 * stroke == pytest.approx(volume / note)
    # A leak as large as reeds and leaks together leaves nothing to close it with.
    with pytest.raises(ValueError, match="never closes"):
        strokes_to_close(volume, stroke, note, 0.999 * pace)


def test_the_same_strokes_from_the_flows_of_reeds_and_leaks() -> None:
    volume, stroke, hold, note = 0.038, 0.008, 60.0, 20.0
    leak = volume / hold
    reeds = volume / note - leak
    assert strokes_per_min(volume, stroke, note) == pytest.approx(60 * (leak + reeds) / stroke)
    played = judge_playing(Measured(volume), Measured(stroke), Measured(hold), Measured(note))
    assert f"{100 * leak / (leak + reeds):.0f} % of the work lost" in played.statement


def playing(pace: float, sd: float) -> Any:
    """A stroke of 10 L, and a note that needs this pace; all the error is in the volume."""
    volume_m3 = Measured(pace * 0.01 / 6, sd * 0.01 / 6)
    return judge_playing(volume_m3, Measured(0.01), Measured(50.0), Measured(10.0))


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


def test_a_pace_at_the_limit_is_still_easy() -> None:
    # Powers of two, so that the limit is met to the last digit.
    stroke, hold, note = Measured(0.015625), Measured(64.0), Measured(1.0)
    assert judge_playing(Measured(0.015625), stroke, hold, note).ease == "easy"


def test_the_statement_gives_the_share_lost() -> None:
    found = judge_playing(Measured(0.05), Measured(0.01), Measured(50.0), Measured(10.0))
    assert found.statement == "easy: 30.0 strokes per minute, 20 % of the work lost to leaks"


def test_every_error_counts_once() -> None:
    readings = (Measured(0.05, 0.003), Measured(0.01, 0.0004), Measured(50.0, 1.0))
    found = judge_playing(*readings, Measured(10.0, 1.0))
    # The hold time cancels: reeds and leaks together let the volume in while the note lasts.
    relative = math.hypot(0.06, 0.04, 0.1)
    assert found.strokes_per_min.sd == pytest.approx(30.0 * relative, rel=0.01)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: strokes_to_close(math.nan, 0.01, 60), "volume"),
        (lambda: strokes_to_close(0.04, 0.0, 60), "stroke"),
        (lambda: strokes_to_close(0.04, 0.01, 0), "hold time"),
        (lambda: strokes_to_close(0.04, 0.01, 60, 0), "pace"),
        (lambda: strokes_per_min(0.0, 0.01, 20), "volume"),
        (lambda: strokes_per_min(0.04, 0.0, 20), "stroke"),
        (lambda: strokes_per_min(0.04, 0.01, 0), "time of the note"),
        (
            lambda: judge_playing(*map(Measured, (0.04, 0.01, 60.0, 60.0))),
            "longer with a note",
        ),
    ],
)
def test_impossible_pumping(call: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
