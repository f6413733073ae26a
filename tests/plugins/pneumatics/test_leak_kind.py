"""The kind of a leak: exponents recovered, and no more certain than the readings allow."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from assess_pneumatics.leak_kind import (
    exponent_from_times,
    leak_exponent,
    what_exponent_suggests,
)
from assess_pneumatics.uncertainty import Measured
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

exponents = st.floats(0.4, 1.1)
suctions = st.floats(200.0, 1500.0)


def times(n: float, closed: float, opened: float, full_s: float = 60.0) -> tuple[float, float]:
    """Half and full time of a reservoir with a leak Q = C p**n, by numerical integration."""

    def slowness(x: float) -> float:
        return ((closed - (closed - opened) * x) / closed) ** -n

    half, whole = quad(slowness, 0.0, 0.5)[0], quad(slowness, 0.0, 1.0)[0]
    return full_s * half / whole, full_s


@given(exponents, suctions, st.floats(0.05, 0.9))
def test_two_times_give_back_their_exponent(n: float, closed: float, share: float) -> None:
    half, full = times(n, closed, share * closed)
    assert exponent_from_times(half, full, closed, share * closed) == pytest.approx(n, abs=1e-6)


@given(st.floats(10, 49), st.floats(0.2, 0.9), st.floats(0.01, 0.5))
def test_a_slower_second_half_means_a_larger_exponent(
    half: float, share: float, less: float
) -> None:
    try:
        slow = exponent_from_times(half - less, 100.0, 800.0, share * 800.0)
        fast = exponent_from_times(half, 100.0, 800.0, share * 800.0)
    except ValueError:
        assume(False)
    assert slow > fast


@given(st.floats(0.1, 10), st.floats(0.1, 10))
def test_the_scales_of_clock_and_gauge_do_not_matter(clock: float, gauge: float) -> None:
    plain = exponent_from_times(42.0, 100.0, 800.0, 350.0)
    scaled = exponent_from_times(clock * 42.0, clock * 100.0, gauge * 800.0, gauge * 350.0)
    assert scaled == pytest.approx(plain, abs=1e-6)


@pytest.mark.parametrize("opened", [1e-13, 1e-300])
def test_hardly_any_suction_left_does_not_overflow(opened: float) -> None:
    # The limit for no suction left: half / full = 1 - 2**(n-1).
    expected = 1.0 + math.log2(1.0 - 0.3)
    assert exponent_from_times(30.0, 100.0, 800.0, opened) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("n", [0.5, 0.75, 1.0])
@pytest.mark.parametrize("stopwatch_s", [0.3, 2.0])
def test_the_stated_error_covers_the_truth(n: float, stopwatch_s: float) -> None:
    rng = np.random.default_rng(3)
    half, full = times(n, 800.0, 400.0, 80.0)
    covered, surveys = 0, 600
    for _ in range(surveys):
        found = leak_exponent(
            Measured(half + stopwatch_s * rng.normal(), stopwatch_s),
            Measured(full + stopwatch_s * rng.normal(), stopwatch_s),
            Measured(800.0 + 15.0 * rng.normal(), 15.0),
            Measured(400.0 + 15.0 * rng.normal(), 15.0),
        )
        covered += not found.differs_from(n)
    assert 0.92 <= covered / surveys <= 0.98


def test_a_stopwatch_cannot_tell_if_the_suction_hardly_falls() -> None:
    half, full = times(0.5, 800.0, 720.0)
    found = leak_exponent(
        Measured(half, 0.5), Measured(full, 0.5), Measured(800.0), Measured(720.0)
    )
    assert what_exponent_suggests(found).kind == "cannot tell"


def test_readings_too_uncertain_are_rejected() -> None:
    with pytest.raises(ValueError, match="too uncertain"):
        leak_exponent(Measured(25.0, 40.0), Measured(60.0), Measured(800.0), Measured(400.0))


@pytest.mark.parametrize(
    ("value", "sd", "kind"),
    [
        (0.5, 0.02, "holes"),
        (0.55, 0.05, "holes"),
        (1.0, 0.05, "porous"),
        (0.9, 0.1, "porous"),
        (0.75, 0.05, "mixed"),
        (0.75, 0.2, "cannot tell"),
        (0.2, 0.05, "not a leak"),
        (1.4, 0.1, "not a leak"),
        (1.4, 0.5, "cannot tell"),
    ],
)
def test_what_exponents_suggest(value: float, sd: float, kind: str) -> None:
    found = what_exponent_suggests(Measured(value, sd))
    assert found.kind == kind
    assert found.statement.startswith(f"exponent {Measured(value, sd)}: ")


@given(st.floats(-1, 3), st.floats(0.001, 1))
def test_a_larger_error_never_says_more(value: float, sd: float) -> None:
    certain = what_exponent_suggests(Measured(value, sd)).kind
    uncertain = what_exponent_suggests(Measured(value, 2 * sd)).kind
    if certain == "cannot tell":
        assert uncertain == "cannot tell"
    if certain in ("porous", "holes"):
        assert uncertain in (certain, "cannot tell")


@pytest.mark.parametrize(
    ("given_", "words"),
    [
        ((0, 30, 800, 400), "half open"),
        ((30, 0, 800, 400), "fully open"),
        ((30, 30, 800, 400), "after half open"),
        ((30, math.nan, 800, 400), "fully open"),
        ((30, 70, 800, 800), "if the suction falls"),
        ((30, 70, 400, 800), "if the suction falls"),
        ((30, 70, 800, 0), "suction open"),
        ((30, 70, math.nan, 400), "suction closed"),
        ((99, 100, 800, 720), "no leak gives"),
        ((1, 100, 800, 720), "no leak gives"),
    ],
)
def test_impossible_times(given_: tuple[Any, ...], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        exponent_from_times(*given_)
