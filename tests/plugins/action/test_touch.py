"""Touch weight: statics by moments, and what a weight far off means."""

from __future__ import annotations

import math
from typing import Any

import pytest
from assess_action.touch import (
    NEWTON_PER_GRAM,
    coupled_touch_g,
    judge_touch,
    opens_by_itself_pa,
    split_touch,
    sticker_force_n,
    suction_force_n,
    touch_g,
)
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

SUCKS: Any = "sucks"

lengths = st.floats(0.02, 0.2)
widths = st.floats(0.004, 0.02)
suctions = st.floats(100.0, 1500.0)
springs = st.floats(0.3, 5.0)
weights = st.floats(1.0, 300.0)


@given(springs, lengths, widths)
def test_at_the_suction_that_opens_it_a_pallet_needs_no_touch(
    spring: float, length: float, width: float
) -> None:
    suction = suction_force_n(length, width, opens_by_itself_pa(spring, length, width))
    assert sticker_force_n(spring, suction, "opens") == pytest.approx(0.0, abs=1e-9)


@given(springs, lengths, widths, suctions, st.floats(0.1, 1.0))
def test_suction_lightens_or_burdens_by_the_same(
    spring: float, length: float, width: float, suction: float, share: float
) -> None:
    pull = suction_force_n(length, width, suction)
    still = sticker_force_n(spring, pull, "none", share)
    light = sticker_force_n(spring, pull, "opens", share)
    heavy = sticker_force_n(spring, pull, "shuts", share)
    assert light < still < heavy
    assert heavy - still == pytest.approx(still - light)
    assert still == share * spring


def test_a_pallet_hinged_at_one_end_by_moments() -> None:
    length, width, suction, spring = 0.12, 0.009, 700.0, 1.6
    moment, _ = quad(lambda x: suction * width * x, 0.0, length)
    at_the_end = (spring * length / 2 + moment) / length
    pull = suction_force_n(length, width, suction)
    assert sticker_force_n(spring, pull, "shuts", share=0.5) == pytest.approx(at_the_end)


@given(st.floats(0.05, 5.0), st.floats(0.1, 0.3), st.floats(0.02, 0.3))
def test_finger_and_sticker_balance_about_the_pivot(
    force: float, finger: float, sticker: float
) -> None:
    grams = touch_g(force, finger, sticker)
    assert grams * NEWTON_PER_GRAM * finger == pytest.approx(force * sticker)


def test_the_weight_of_the_key_itself_is_added() -> None:
    assert touch_g(0.8, 0.2, 0.1, key_g=-6.0) == pytest.approx(touch_g(0.8, 0.2, 0.1) - 6.0)


def test_an_ordinary_key_lies_in_the_usual_range() -> None:
    # 60 to 110 g, an estimate from memory, for a slot of 100 x 9 mm at 3 in of water.
    pull = suction_force_n(0.100, 0.009, 747.0)
    for mute in ("opens", "none"):
        force = sticker_force_n(1.7, pull, mute)
        assert 60 <= touch_g(force, 0.20, 0.12) <= 110


@given(weights, weights, st.floats(0.0, 30.0))
def test_a_coupler_adds_its_partner(own: float, partner: float, coupler: float) -> None:
    assert coupled_touch_g(own, partner, coupler) == pytest.approx(
        coupled_touch_g(partner, own) + coupler
    )
    assert coupled_touch_g(own, own) == 2 * own


@given(st.floats(0, 200), st.floats(0, 60))
def test_balance_and_friction_make_both_weights(balance: float, friction: float) -> None:
    down, up = balance + friction, balance - friction
    if up < 0:
        return
    found = split_touch(down, up)
    assert found.balance_g == pytest.approx(balance, abs=1e-9)
    assert found.friction_g == pytest.approx(friction, abs=1e-9)


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
def test_what_a_touch_far_off_means(measured: float, reading: str) -> None:
    found = judge_touch(measured, 100.0)
    assert found.reading == reading
    assert found.statement.startswith(f"{measured:.0f} g for 100 g, ")


def test_the_statement_says_where_to_look() -> None:
    assert "something rubs" in judge_touch(150.0, 100.0).statement
    assert "spring is weak" in judge_touch(50.0, 100.0).statement
    assert judge_touch(95.0, 100.0).statement.endswith("as expected")


def test_just_as_far_as_allowed_is_not_far() -> None:
    assert judge_touch(125.0, 100.0, far_share=0.25).reading == "as expected"
    assert judge_touch(75.0, 100.0, far_share=0.25).reading == "as expected"


def test_how_far_is_far_can_be_told() -> None:
    assert judge_touch(120.0, 100.0, far_share=0.1).reading == "friction"


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: suction_force_n(0, 0.01, 700), "length of the slot"),
        (lambda: suction_force_n(0.1, -0.01, 700), "width of the slot"),
        (lambda: suction_force_n(0.1, 0.01, math.nan), "suction"),
        (lambda: opens_by_itself_pa(0, 0.1, 0.01), "spring"),
        (lambda: sticker_force_n(0, 0.5, "opens"), "spring"),
        (lambda: sticker_force_n(1, -0.5, "opens"), "suction"),
        (lambda: sticker_force_n(1, 0.5, SUCKS), "none"),
        (lambda: sticker_force_n(1, 0.5, "opens", 0), "share"),
        (lambda: touch_g(math.inf, 0.2, 0.1), "force"),
        (lambda: touch_g(1, 0, 0.1), "finger"),
        (lambda: touch_g(1, 0.2, 0), "sticker"),
        (lambda: touch_g(1, 0.2, 0.1, math.nan), "key"),
        (lambda: coupled_touch_g(0, 80), "touch of the key"),
        (lambda: coupled_touch_g(80, 0), "partner"),
        (lambda: coupled_touch_g(80, 80, -1), "coupler"),
        (lambda: split_touch(-1, 0), "down weight"),
        (lambda: split_touch(50, -1), "up weight"),
        (lambda: split_touch(50, 51), "bring up more"),
        (lambda: judge_touch(-1, 80), "measured"),
        (lambda: judge_touch(80, 0), "stronger than the spring"),
        (lambda: judge_touch(80, -5), "stronger than the spring"),
        (lambda: judge_touch(80, 80, 1), "between 0 and 1"),
        (lambda: judge_touch(80, 80, 0), "between 0 and 1"),
    ],
)
def test_no_such_touch(call: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
