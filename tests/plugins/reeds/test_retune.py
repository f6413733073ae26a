from __future__ import annotations

import dataclasses
import math
from typing import Any

import pytest
from assess_reeds.pitch import cents_between, room_shift_cents
from assess_reeds.retune import (
    CAREFUL_FROM_MIDI,
    CHECK_MINUTES,
    LARGE_MOVE_MINUTES,
    SMALL_MOVE_MINUTES,
    USUAL_TARGETS_HZ,
    Room,
    compare_targets,
    minutes_for,
    retune,
)
from assess_reeds.rows import ReedRow, Sign, Speech
from assess_reeds.survey import survey
from assess_reeds.temperament import TEMPERAMENT_NAMES, celeste_beats_per_s, named_temperament
from assess_reeds.values import Band
from hypothesis import given
from hypothesis import strategies as st
from made_organs import celeste, rank

TARGETS = st.floats(425.0, 470.0)


def test_an_instrument_in_tune_at_its_pitch_needs_no_filing() -> None:
    own, *others = compare_targets(survey(rank(level=-19.0)))
    assert [plan.a_hz for plan in others] == [435.0, 440.0, 442.0]
    assert own.a_hz == pytest.approx(440.0 * 2 ** (-19.0 / 1200))
    assert not (own.to_move)
    assert not (own.beyond)
    assert not (own.far_ranks)
    assert own.max_cents == pytest.approx(0.0, abs=1e-9)


@given(TARGETS, st.floats(-60.0, 60.0), st.integers(0, 20))
def test_every_reed_that_is_moved_ends_on_its_target(a_hz: float, level: float, seed: int) -> None:
    plan = retune(
        survey(rank(level=level, scatter=5.0, seed=seed)), a_hz, named_temperament("equal")
    )
    assert len(plan.moves) == 61
    for move in plan.moves:
        ends = (move.row.cents or 0.0) + move.cents
        assert ends == pytest.approx(cents_between(440.0, a_hz), abs=1e-8)
    sizes = [abs(move.cents) for move in plan.moves]
    assert plan.max_cents == max(sizes)
    assert plan.median_cents == sorted(sizes)[30]


def test_from_454_to_440_every_reed_falls_too_far() -> None:
    """54 cents on every reed is more than a set should move."""
    level = cents_between(440.0, 454.0)
    plan = retune(survey(rank(level=level) + rank("Flute", 4, level=level)), 440.0)
    assert sum(move.cents < 0 for move in plan.to_move) == 122
    assert plan.median_cents == pytest.approx(54.2, abs=0.05)
    assert len(plan.beyond) == 122
    assert plan.far_ranks == ("Flute 4 ft", "Viola 8 ft")
    # 10 to 20 hours; another figure of the trade is 6 to 16 for 122 reeds (both from memory).
    assert plan.hours.low == pytest.approx(122 * 5 / 60)
    assert plan.hours.high == pytest.approx(122 * 10 / 60)


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_going_to_another_temperament_moves_the_notes_by_their_offsets(name: str) -> None:
    made = named_temperament(name)
    plan = retune(survey(rank()), 440.0, made)
    assert plan.moves
    for move in plan.moves:
        assert move.cents == pytest.approx(made.offset_cents(move.row.key_midi), abs=1e-9)


def test_the_temperament_of_the_instrument_is_kept() -> None:
    made = named_temperament("quarter_comma_meantone")
    plan = retune(survey(rank(level=-20.0, temperament=made)), 435.0)
    assert plan.temperament == made
    assert plan.max_cents < 0.3


def test_bass_reeds_move_less_far() -> None:
    plan = retune(survey(rank(level=30.0)), 440.0)
    unsafe = {move.row.key_midi for move in plan.beyond}
    assert unsafe == set(range(29, CAREFUL_FROM_MIDI))


@pytest.mark.parametrize(
    ("level", "beyond"), [(19.9, 0), (20.1, 19), (49.9, 19), (50.1, 61), (-50.1, 61)]
)
def test_limits_hold_up_and_down(level: float, beyond: int) -> None:
    assert len(retune(survey(rank(level=level)), 440.0).beyond) == beyond


def test_reeds_to_replace_and_reeds_unread_are_counted_apart() -> None:
    rows = rank()
    changes: dict[int, dict[str, Any]] = {
        60: {"cents": None, "speech": Speech.MISSING},
        61: {"cents": None, "speech": Speech.DEAD},
        62: {"cents": 200.0},
        63: {"signs": frozenset({Sign.CRACKED})},
        64: {"cents": None},
    }
    rows = [dataclasses.replace(row, **changes.get(row.key_midi, {})) for row in rows]
    plan = retune(survey(rows), 440.0)
    assert [row.key_midi for row in plan.replaced] == [60, 62, 63]
    assert [row.key_midi for row in plan.unread] == [61, 64]
    assert len(plan.moves) == 56
    assert plan.max_cents == pytest.approx(0.0)


def test_without_readings_nothing_moves() -> None:
    found = survey([ReedRow(60, "Viola"), ReedRow(61, "Viola", speech=Speech.DEAD)])
    plan = retune(found, 440.0)
    assert (plan.moves, plan.median_cents, plan.max_cents) == ((), 0.0, 0.0)
    assert len(plan.unread) == 2
    assert plan.hours == Band(0.0, 0.0, 0.0)
    assert [other.a_hz for other in compare_targets(found)] == list(USUAL_TARGETS_HZ)


def test_hours_add_up_reed_by_reed() -> None:
    offs = [0.0, 3.0, 3.1, -15.0, 15.1, -40.0]
    cents = dict(zip(range(60, 66), offs, strict=True))
    rows = [dataclasses.replace(row, cents=cents.get(row.key_midi, 0.0)) for row in rank()]
    hours = retune(survey(rows), 440.0, named_temperament("equal")).hours
    for end in ("low", "likely", "high"):
        checks, small, large = (
            getattr(band, end) for band in (CHECK_MINUTES, SMALL_MOVE_MINUTES, LARGE_MOVE_MINUTES)
        )
        assert getattr(hours, end) == pytest.approx((57 * checks + 2 * small + 2 * large) / 60)


@given(st.floats(0.0, 60.0), st.floats(0.0, 60.0))
def test_a_longer_move_never_takes_less_time(one: float, other: float) -> None:
    nearer, further = sorted((one, other))
    short, long = minutes_for(nearer), minutes_for(-further)
    assert short.low <= long.low
    assert short.likely <= long.likely
    assert short.high <= long.high


def test_a_cold_room_makes_reeds_look_sharp() -> None:
    """Read at 10 degrees and used at 20: the reeds will fall by themselves."""
    shift = room_shift_cents(10.0, 20.0)
    plan = retune(survey(rank(level=-shift.likely)), 440.0, room=Room(10.0, 20.0))
    assert plan.room_shift_cents == shift
    assert plan.max_cents == pytest.approx(0.0, abs=1e-9)
    uncorrected = retune(survey(rank(level=-shift.likely)), 440.0)
    assert uncorrected.room_shift_cents is None
    assert uncorrected.median_cents == pytest.approx(-shift.likely)


def test_its_own_pitch_is_that_in_use() -> None:
    own = compare_targets(survey(rank(level=5.0)), (), room=Room(8.0, 22.0))[0]
    assert own.to_move == ()
    assert cents_between(440.0, own.a_hz) == pytest.approx(5.0 - 0.30 * 14)
    with pytest.raises(ValueError, match="the temperature of the room"):
        Room(20.0, 200.0)


@given(st.floats(1.0, 3.0), TARGETS)
def test_a_celeste_keeps_its_beats_at_another_pitch(beats: float, a_hz: float) -> None:
    plan = retune(survey(rank() + celeste(beats)), a_hz, named_temperament("equal"))
    unison = {move.row.key_midi: move for move in plan.moves if not move.row.celeste}
    assert any(move.row.celeste for move in plan.moves)
    for move in plan.moves:
        if move.row.celeste:
            below = unison[move.row.key_midi]
            ends = (move.row.cents or 0.0) + move.cents
            unison_ends = (below.row.cents or 0.0) + below.cents
            hz = named_temperament("equal").hz(move.row.key_midi, a_hz)
            heard = celeste_beats_per_s(hz, ends - unison_ends)
            assert heard == pytest.approx(beats, rel=1e-6)


def test_a_celeste_of_unknown_beats_has_no_target() -> None:
    plan = retune(survey(rank() + celeste(2.0, range(60, 62))), 440.0)
    assert [row.rank for row in plan.unread] == ["Celeste", "Celeste"]


@pytest.mark.parametrize("a_hz", [0.0, -435.0, math.nan])
def test_an_impossible_target_is_refused(a_hz: float) -> None:
    with pytest.raises(ValueError, match="a frequency must be"):
        retune(survey(rank()), a_hz)
