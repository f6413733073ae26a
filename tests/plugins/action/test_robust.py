"""Robust statistics, checked against scipy and against wild readings."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
from assess_action.robust import MAD_TO_SD, OUTLIER_Z_SCORE, Line, fit_line, outliers, robust_sd
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
def test_sd_against_scipy(values: list[float]) -> None:
    assert robust_sd(values) == pytest.approx(
        median_abs_deviation(values, scale="normal"), abs=1e-9
    )


def test_the_factor_fits_normal_errors() -> None:
    assert pytest.approx(1 / NormalDist().inv_cdf(0.75), rel=1e-12) == MAD_TO_SD


def test_the_rule_of_iglewicz_and_hoaglin() -> None:
    # Their modified z-score is 0.6745 (x - median) / MAD, and 3.5 the limit.
    values = [2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3]
    middle = float(np.median(values))
    mad = float(np.median(np.abs(np.array(values) - middle)))
    scores = [0.6745 * abs(value - middle) / mad for value in values]
    assert outliers(values, 1e-6) == [i for i, score in enumerate(scores) if score > 3.5] == [8, 9]
    assert OUTLIER_Z_SCORE == 3.5


@given(st.floats(-5, 5), st.floats(-100, 100), st.data())
def test_a_line_survives_a_quarter_of_wild_readings(
    slope: float, level: float, data: st.DataObject
) -> None:
    ys = [level + slope * x for x in range(20)]
    for index in data.draw(st.sets(st.integers(0, 19), max_size=5)):
        ys[index] = data.draw(wild)
    line = fit_line([float(x) for x in range(20)], ys)
    assert line.slope == pytest.approx(slope, abs=1e-6)
    assert line.level == pytest.approx(level, abs=1e-5)


@given(readings, st.integers(0, 4), wild)
def test_one_wild_reading_changes_the_sd_no_more_than_the_range_of_the_rest(
    values: list[float], wild_index: int, wild_value: float
) -> None:
    changed = [*values]
    changed[wild_index] = wild_value
    rest = [value for index, value in enumerate(values) if index != wild_index]
    assert robust_sd(changed) <= MAD_TO_SD * (max(rest) - min(rest)) + 1e-9


@given(readings, st.floats(-50, 50), st.floats(0.1, 10))
def test_shift_and_scale(values: list[float], shift: float, factor: float) -> None:
    xs = [float(x) for x in range(len(values))]
    moved = [shift + factor * value for value in values]
    plain, line = fit_line(xs, values), fit_line(xs, moved)
    assert line.slope == pytest.approx(factor * plain.slope, abs=1e-6)
    assert line.level == pytest.approx(shift + factor * plain.level, abs=1e-6)
    assert robust_sd(moved) == pytest.approx(factor * robust_sd(values), abs=1e-6)


def test_lines_recover_the_true_slope_under_noise() -> None:
    rng = np.random.default_rng(2)
    xs = np.arange(36.0)
    slopes = [
        fit_line(list(xs), list(20.0 + 0.02 * xs + rng.normal(0, 0.1, 36))).slope
        for _ in range(300)
    ]
    # Least squares would have a standard deviation of 0.1 / sqrt(sum (x - mean)**2) = 0.0016.
    least_squares = 0.1 / math.sqrt(float(np.sum((xs - xs.mean()) ** 2)))
    assert np.mean(slopes) == pytest.approx(0.02, abs=0.0005)
    assert np.std(slopes) < 1.2 * least_squares


def test_equal_readings_need_a_smallest_sd() -> None:
    same = [9.0] * 10 + [9.3]
    assert outliers(same, 0.1) == []
    assert outliers(same, 0.05) == [10]


def test_a_value_at_the_limit_is_no_outlier() -> None:
    assert outliers([0.0] * 9 + [3.5], 1.0) == []
    assert outliers([0.0] * 9 + [3.5001], 1.0) == [9]


def test_normal_readings_have_few_outliers() -> None:
    rng = np.random.default_rng(4)
    found = sum(len(outliers(list(rng.normal(9.5, 0.3, 61)), 0.1)) for _ in range(200))
    assert found / (200 * 61) < 0.003


def test_height_of_a_line() -> None:
    assert Line(2.0, -0.5).at(4.0) == 0.0


@pytest.mark.parametrize(
    ("xs", "ys", "words"),
    [
        ([0.0, 1.0], [1.0], "every position"),
        ([1.0, 1.0], [1.0, 2.0], "two different positions"),
        ([], [], "two different positions"),
        ([0.0, 1.0], [1.0, math.nan], "must be a number"),
        ([0.0, math.inf], [1.0, 2.0], "must be a number"),
    ],
)
def test_no_line_through_impossible_points(xs: list[float], ys: list[float], words: str) -> None:
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
def test_no_outliers_among_impossible_values(values: list[float], least: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        outliers(values, least)
