"""Readings with uncertainty, against analysis and random draws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from assess_pneumatics.uncertainty import Measured, propagate
from hypothesis import given
from hypothesis import strategies as st

values = st.floats(0.1, 1e4)
relative = st.floats(0.0, 0.05)


@given(values, values, relative, relative)
def test_a_quotient_adds_relative_errors_as_squares(
    a: float, b: float, error_a: float, error_b: float
) -> None:
    result = propagate(lambda x, y: x / y, Measured(a, a * error_a), Measured(b, b * error_b))
    assert result.value == a / b
    # First order, with room for the third-order term of 1/b at 5 %.
    assert result.sd == pytest.approx(
        a / b * math.hypot(error_a, error_b), rel=3e-3, abs=1e-14 * a / b
    )


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(-1e3, 1e3), st.floats(0, 10)), min_size=1))
def test_a_linear_formula_is_exact(terms: list[tuple[float, float, float]]) -> None:
    readings = [Measured(value, sd) for _, value, sd in terms]
    result = propagate(
        lambda *xs: sum(w * x for (w, _, _), x in zip(terms, xs, strict=True)), *readings
    )
    assert result.sd == pytest.approx(math.hypot(*(w * sd for w, _, sd in terms)), abs=1e-8)


def test_agrees_with_random_draws() -> None:
    rng = np.random.default_rng(7)
    volume = rng.normal(0.038, 0.002, 200_000)
    hold = rng.normal(60.0, 2.0, 200_000)
    result = propagate(lambda v, t: v / t, Measured(0.038, 0.002), Measured(60.0, 2.0))
    assert result.sd == pytest.approx(np.std(volume / hold), rel=0.01)


def test_only_the_possible_side_is_used_at_a_limit() -> None:
    def root(x: float) -> float:
        if x < 0:
            raise ValueError("negative")
        return math.sqrt(x)

    assert propagate(root, Measured(4.0, 9.0)).sd == pytest.approx(math.sqrt(13.0) - 2.0)


def test_a_reading_that_can_move_neither_way_is_rejected() -> None:
    def only_one(x: float) -> float:
        if x != 1.0:
            raise ValueError("only 1 is possible")
        return x

    with pytest.raises(ValueError, match="too uncertain to use: only 1 is possible"):
        propagate(only_one, Measured(1.0, 0.5))


def test_exact_readings_give_an_exact_result() -> None:
    assert propagate(lambda x: x**2, Measured(3.0)) == Measured(9.0, 0.0)


@pytest.mark.parametrize(
    ("value", "sd", "words"),
    [
        (0.6333, 0.035, "0.63 ± 0.04"),
        (0.6333, 0.012, "0.633 ± 0.012"),
        (0.6333, 0.02, "0.63 ± 0.02"),
        (1.0, 0.0188, "1.000 ± 0.019"),
        (61.27, 1.99, "61.3 ± 2.0"),
        (61.27, 2.4, "61 ± 2"),
        (613.0, 24.0, "613 ± 24"),
        (-0.0061, 0.03, "-0.01 ± 0.03"),
        (0.0, 0.1, "0.00 ± 0.10"),
        (60.0, 0.0, "60.0"),
        (1234.5, 0.0, "1234"),
        (0.012345, 0.0, "0.0123"),
        (0.0, 0.0, "0"),
    ],
)
def test_digits_shown_match_the_uncertainty(value: float, sd: float, words: str) -> None:
    assert str(Measured(value, sd)) == words


def test_two_standard_deviations_are_the_limit() -> None:
    assert not Measured(1.0, 0.5).differs_from(0.0)
    assert Measured(1.0, 0.499).differs_from(0.0)
    assert not Measured(2.0).differs_from(2.0)


@pytest.mark.parametrize(("value", "sd"), [(math.nan, 0), (math.inf, 0), (1, -1), (1, math.nan)])
def test_impossible_readings(value: float, sd: float) -> None:
    with pytest.raises(ValueError, match=r"must be|cannot be"):
        Measured(value, sd)
