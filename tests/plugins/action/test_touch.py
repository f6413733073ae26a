"""Touch weight: statics by moments, and what a weight far from the expected one means."""

from __future__ import annotations

import math
from typing import Any

import pytest
from assess_action.touch import (
    NEWTON_PER_GRAM,
    cipher_suction_pa,
    coupled_touch_g,
    judge_touch,
    sticker_force_n,
    suction_force_n,
    touch_g,
)
from hypothesis import given
from hypothesis import strategies as st

lengths = st.floats(0.02, 0.2)
widths = st.floats(0.004, 0.02)
springs = st.floats(0.3, 5.0)
weights = st.floats(1.0, 300.0)


@given(springs, lengths, widths)
def test_at_the_cipher_suction_a_pallet_needs_no_touch(
    spring: float, length: float, width: float
) -> None:
    suction = suction_force_n(length, width, cipher_suction_pa(spring, length, width))
    assert sticker_force_n(spring, suction) == pytest.approx(0.0, abs=1e-9)


@given(springs, lengths, widths)
def test_without_wind_only_the_spring_resists(spring: float, length: float, width: float) -> None:
    assert sticker_force_n(spring, suction_force_n(length, width, 0.0)) == spring


@given(st.floats(0.05, 5.0), st.floats(0.1, 0.3), st.floats(0.02, 0.3))
def test_finger_and_sticker_balance_about_the_pivot(
    force: float, finger: float, sticker: float
) -> None:
    grams = touch_g(force, finger, sticker)
    assert grams * NEWTON_PER_GRAM * finger == pytest.approx(force * sticker)


def test_an_ordinary_key_is_in_the_usual_range() -> None:
    # 60 to 110 g, an estimate from memory, for a slot of 100 x 9 mm at 3 in of water.
    for suction_n in (suction_force_n(0.100, 0.009, 747.0), 0.0):
        assert 60 <= touch_g(sticker_force_n(1.7, suction_n), 0.20, 0.12) <= 110


@given(weights, weights)
def test_a_coupler_adds_its_partner(own: float, partner: float) -> None:
    assert coupled_touch_g(own, partner) == coupled_touch_g(partner, own)
    assert coupled_touch_g(own, own) == 2 * own


@pytest.mark.parametrize(
    ("measured", "reading"),
    [
        (131.0, "friction"),
        (129.0, "as expected"),
        (100.0, "as expected"),
        (71.0, "as expected"),
        (69.0, "weak spring or leak"),
        (0.0, "weak spring or leak"),
    ],
)
def test_what_a_touch_far_from_the_expected_one_means(measured: float, reading: str) -> None:
    assert judge_touch(measured, 100.0) == reading


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: suction_force_n(0, 0.01, 700), "length of the slot"),
        (lambda: suction_force_n(0.1, -0.01, 700), "width of the slot"),
        (lambda: suction_force_n(0.1, 0.01, math.nan), "suction"),
        (lambda: suction_force_n(0.1, 0.01, -1), "suction"),
        (lambda: cipher_suction_pa(0, 0.1, 0.01), "spring"),
        (lambda: sticker_force_n(0, 0.5), "spring"),
        (lambda: sticker_force_n(1, -0.5), "suction"),
        (lambda: touch_g(math.inf, 0.2, 0.1), "force"),
        (lambda: touch_g(1, 0, 0.1), "finger"),
        (lambda: touch_g(1, 0.2, 0), "sticker"),
        (lambda: coupled_touch_g(0, 80), "touch of the key"),
        (lambda: coupled_touch_g(80, 0), "partner"),
        (lambda: judge_touch(-1, 80), "measured"),
        (lambda: judge_touch(80, 0), "expected"),
        (lambda: judge_touch(80, -5), "expected"),
    ],
)
def test_impossible_values_are_refused(call: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
