"""The kind of a leak: exponents found again, and no surer than the readings allow."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from assess_pneumatics.leakkind import (
    PowerLaw,
    exponent_from_times,
    leak_exponent,
    power_law_from_readings,
    power_law_from_times,
    what_exponent_suggests,
)
from assess_pneumatics.measured import Measured
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import curve_fit

exponents = st.floats(0.4, 1.1)
coefficients = st.floats(1e-7, 1e-3)
suctions = st.floats(200.0, 1500.0)


def times(law: PowerLaw, volume: float, shut: float, opened: float) -> tuple[float, float]:
    """Half and full time of a reservoir, by numerical integration."""

    def slowness(x: float) -> float:
        return volume / law.flow_m3_s(shut - (shut - opened) * x)

    return quad(slowness, 0.0, 0.5)[0], quad(slowness, 0.0, 1.0)[0]


@given(coefficients, exponents, suctions, st.floats(1.05, 4.0))
def test_two_readings_give_back_their_law(c: float, n: float, p: float, more: float) -> None:
    law = PowerLaw(c, n)
    found = power_law_from_readings(p, law.flow_m3_s(p), more * p, law.flow_m3_s(more * p))
    assert found.exponent == pytest.approx(n, abs=1e-9)
    assert found.coefficient == pytest.approx(c, rel=1e-7)


def test_two_readings_agree_with_a_fit_through_many() -> None:
    law = PowerLaw(2e-6, 0.72)
    suction = np.linspace(200.0, 900.0, 8)
    flow = np.array([law.flow_m3_s(float(p)) for p in suction])
    (c, n), _ = curve_fit(lambda p, c, n: c * p**n, suction, flow, p0=(1e-6, 0.5))
    found = power_law_from_readings(200.0, float(flow[0]), 900.0, float(flow[-1]))
    assert (found.coefficient, found.exponent) == pytest.approx((c, n), rel=1e-5)


@given(exponents, suctions, st.floats(0.05, 0.9))
def test_two_times_give_back_their_exponent(n: float, shut: float, share: float) -> None:
    half, full = times(PowerLaw(1e-6, n), 0.04, shut, share * shut)
    assert exponent_from_times(half, full, shut, share * shut) == pytest.approx(n, abs=1e-6)


@given(st.floats(0.3, 0.95))
def test_two_times_give_back_their_exponent_where_springs_go_slack(n: float) -> None:
    law = PowerLaw(1e-6, n)
    full = law.hold_s(0.04, 800.0, 0.0)
    half = full - law.hold_s(0.02, 400.0, 0.0)
    assert exponent_from_times(half, full, 800.0, 0.0) == pytest.approx(n, abs=1e-9)


def test_slack_springs_are_the_limit_of_weak_ones() -> None:
    slack = exponent_from_times(30.0, 100.0, 800.0, 0.0)
    assert exponent_from_times(30.0, 100.0, 800.0, 1e-6) == pytest.approx(slack, abs=1e-3)


@given(exponents, st.floats(0.05, 0.9))
def test_the_whole_law_comes_back_from_two_times(n: float, share: float) -> None:
    law = PowerLaw(3e-6, n)
    half, full = times(law, 0.04, 800.0, share * 800.0)
    found = power_law_from_times(0.04, half, full, 800.0, share * 800.0)
    assert found.hold_s(0.04, 800.0, share * 800.0) == pytest.approx(full)
    assert found.flow_m3_s(600.0) == pytest.approx(law.flow_m3_s(600.0), rel=1e-4)


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
def test_neither_clock_nor_gauge_scale_matters(clock: float, gauge: float) -> None:
    plain = exponent_from_times(42.0, 100.0, 800.0, 350.0)
    scaled = exponent_from_times(clock * 42.0, clock * 100.0, gauge * 800.0, gauge * 350.0)
    assert scaled == pytest.approx(plain, abs=1e-6)


@pytest.mark.parametrize("n", [0.5, 0.75, 1.0])
@pytest.mark.parametrize("stopwatch_s", [0.3, 2.0])
def test_the_stated_error_covers_the_truth(n: float, stopwatch_s: float) -> None:
    rng = np.random.default_rng(3)
    law = PowerLaw(0.04 / 60.0 / 600.0**n, n)
    half, full = times(law, 0.04, 800.0, 400.0)
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


def test_a_stopwatch_alone_cannot_tell_where_suction_hardly_falls() -> None:
    half, full = times(PowerLaw(0.04 / 60 / 760**0.5, 0.5), 0.04, 800.0, 720.0)
    assert full == pytest.approx(60.0, rel=1e-3)
    found = leak_exponent(
        Measured(half, 0.5), Measured(full, 0.5), Measured(800.0), Measured(720.0)
    )
    assert what_exponent_suggests(found).kind == "cannot tell"


def test_readings_too_uncertain_are_refused() -> None:
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
    sure = what_exponent_suggests(Measured(value, sd)).kind
    unsure = what_exponent_suggests(Measured(value, 2 * sd)).kind
    if sure == "cannot tell":
        assert unsure == "cannot tell"
    if sure in ("porous", "holes"):
        assert unsure in (sure, "cannot tell")


@pytest.mark.parametrize(
    ("given_", "words"),
    [
        ((0, 30, 800, 400), "half open"),
        ((30, 0, 800, 400), "fully open"),
        ((30, 30, 800, 400), "after half open"),
        ((30, math.nan, 800, 400), "fully open"),
        ((30, 70, 800, 800), "does not fall"),
        ((30, 70, 400, 800), "cannot rise"),
        ((30, 70, 0, 0), "shut"),
        ((99, 100, 800, 720), "time them again"),
        ((1, 100, 800, 720), "time them again"),
    ],
)
def test_no_such_times(given_: tuple[Any, ...], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        exponent_from_times(*given_)


@pytest.mark.parametrize(
    ("given_", "words"),
    [
        ((0, 1e-3, 800, 2e-3), "first suction"),
        ((400, 0, 800, 2e-3), "first flow"),
        ((400, 1e-3, -800, 2e-3), "second suction"),
        ((400, 1e-3, 800, math.nan), "second flow"),
        ((400, 1e-3, 400, 2e-3), "different suctions"),
    ],
)
def test_no_such_readings(given_: tuple[float, ...], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        power_law_from_readings(*given_)


@pytest.mark.parametrize(("c", "n"), [(0, 0.5), (-1, 0.5), (math.nan, 0.5), (1e-6, math.inf)])
def test_no_such_law(c: float, n: float) -> None:
    with pytest.raises(ValueError, match="of the leak"):
        PowerLaw(c, n)


def test_times_of_no_leak_have_no_law() -> None:
    with pytest.raises(ValueError, match="exponent must be more than zero"):
        power_law_from_times(0.04, 60.0, 100.0, 800.0, 0.0)
