"""Robust statistics, against scipy and against wild readings."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
from assess_action.robust import MAD_TO_SD, ODD_BEYOND, Line, fit_line, odd_ones, robust_sd
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import median_abs_deviation, theilslopes

readings = st.lists(st.floats(-100, 100), min_size=5, max_size=40)
wild = st.floats(-1e6, 1e6)


@given(readings)
def test_line_against_scipy(ys: list[float]) -> None:
    xs = [float(x) for x in range(len(ys))]
    line = fit_line(xs, ys)
    slope, level, *_ = theilslopes(ys, xs, method="joint")
    assert line.slope == pytest.approx(slope, abs=1e-9)
    assert line.level == pytest.approx(level, abs=1e-9)


@given(readings)
def test_scatter_against_scipy(values: list[float]) -> None:
    assert robust_sd(values) == pytest.approx(
        median_abs_deviation(values, scale="normal"), abs=1e-9
    )


def test_the_factor_is_that_of_normal_errors() -> None:
    assert pytest.approx(1 / NormalDist().inv_cdf(0.75), rel=1e-12) == MAD_TO_SD


def test_the_rule_of_iglewicz_and_hoaglin() -> None:
    # Their modified z-score is 0.6745 (x - median) / MAD, and 3.5 the limit.
    values = [2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3]
    middle = float(np.median(values))
    mad = float(np.median(np.abs(np.array(values) - middle)))
    scores = [0.6745 * abs(value - middle) / mad for value in values]
    assert odd_ones(values, 1e-6) == [i for i, score in enumerate(scores) if score > 3.5] == [8, 9]
    assert ODD_BEYOND == 3.5


@given(st.floats(-5, 5), st.floats(-100, 100), st.data())
def test_a_line_survives_a_quarter_of_wild_readings(
    slope: float, level: float, data: st.DataObject
) -> None:
    ys = [level + slope * x for x in range(20)]
    for place in data.draw(st.sets(st.integers(0, 19), max_size=5)):
        ys[place] = data.draw(wild)
    line = fit_line([float(x) for x in range(20)], ys)
    assert line.slope == pytest.approx(slope, abs=1e-6)
    assert line.level == pytest.approx(level, abs=1e-5)


@given(readings, st.integers(0, 4), wild)
def test_scatter_of_the_rest_bounds_what_one_wild_reading_does(
    values: list[float], place: int, odd: float
) -> None:
    spoilt = [*values]
    spoilt[place] = odd
    rest = [value for index, value in enumerate(values) if index != place]
    assert robust_sd(spoilt) <= MAD_TO_SD * (max(rest) - min(rest)) + 1e-9


@given(readings, st.floats(-50, 50), st.floats(0.1, 10))
def test_shift_and_scale(values: list[float], shift: float, factor: float) -> None:
    xs = [float(x) for x in range(len(values))]
    moved = [shift + factor * value for value in values]
    plain, line = fit_line(xs, values), fit_line(xs, moved)
    assert line.slope == pytest.approx(factor * plain.slope, abs=1e-6)
    assert line.level == pytest.approx(shift + factor * plain.level, abs=1e-6)
    assert robust_sd(moved) == pytest.approx(factor * robust_sd(values), abs=1e-6)


def test_lines_recover_what_made_them_under_noise() -> None:
    rng = np.random.default_rng(2)
    xs = np.arange(36.0)
    slopes = [
        fit_line(list(xs), list(20.0 + 0.02 * xs + rng.normal(0, 0.1, 36))).slope
        for _ in range(300)
    ]
    # Least squares would scatter by 0.1 / sqrt(sum (x - mean)**2) = 0.0016; nearly as well.
    least_squares = 0.1 / math.sqrt(float(np.sum((xs - xs.mean()) ** 2)))
    assert np.mean(slopes) == pytest.approx(0.02, abs=0.0005)
    assert np.std(slopes) < 1.2 * least_squares


def test_equal_readings_need_a_floor() -> None:
    same = [9.0] * 10 + [9.3]
    assert odd_ones(same, 0.1) == []
    assert odd_ones(same, 0.05) == [10]


def test_just_at_the_limit_is_not_odd() -> None:
    assert odd_ones([0.0] * 9 + [3.5], 1.0) == []
    assert odd_ones([0.0] * 9 + [3.5001], 1.0) == [9]


def test_few_are_odd_among_normal_readings() -> None:
    rng = np.random.default_rng(4)
    odd = sum(len(odd_ones(list(rng.normal(9.5, 0.3, 61)), 0.1)) for _ in range(200))
    assert odd / (200 * 61) < 0.003


def test_a_line_is_a_line() -> None:
    assert Line(2.0, -0.5).at(4.0) == 0.0


@pytest.mark.parametrize(
    ("xs", "ys", "words"),
    [
        ([0.0, 1.0], [1.0], "every place"),
        ([1.0, 1.0], [1.0, 2.0], "two different places"),
        ([], [], "two different places"),
        ([0.0, 1.0], [1.0, math.nan], "must be a number"),
        ([0.0, math.inf], [1.0, 2.0], "must be a number"),
    ],
)
def test_no_such_line(xs: list[float], ys: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        fit_line(xs, ys)


@pytest.mark.parametrize(
    ("values", "least", "words"),
    [
        ([], 0.1, "at least one"),
        ([1.0, math.nan], 0.1, "must be a number"),
        ([1.0, 2.0], 0.0, "error of a reading"),
    ],
)
def test_nothing_is_odd_in_nonsense(values: list[float], least: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        odd_ones(values, least)
