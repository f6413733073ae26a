"""Waiting for wood: the estimate against diffusion solved step by step, and what must hold.

The diffusion coefficients are from memory; no published table stands behind them here. What is
tested is that the formula is that of diffusion and that it errs on the side of waiting.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from assess_casework.acclimatise import (
    FAST_DIFFUSION_M2_S,
    LIKELY_DIFFUSION_M2_S,
    SLOW_DIFFUSION_M2_S,
    WAIT_ADVICE,
    days_to_settle,
    moisture_after_days,
    time_constant_days,
    time_constant_from_readings_days,
    wait_before_gluing,
)
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]

moistures = st.floats(0.0, 30.0)
constants = st.floats(0.5, 200.0)
CELLS = 80


def average_by_diffusion(
    thickness_mm: float, open_faces: int, diffusion_m2_s: float, days: list[float]
) -> Any:
    """Share of the difference still left, by finite volumes through the thickness.

    Open faces are held at the new moisture from the start; a sealed one lets nothing through.
    """
    cell_m = thickness_mm / 1000 / CELLS
    rate = diffusion_m2_s / cell_m**2

    def change(_time_s: float, moisture: Any) -> Any:
        left = -2 * moisture[0]
        right = -2 * moisture[-1] if open_faces == 2 else 0.0
        flow = np.diff(moisture)
        return rate * (np.append(flow, right) - np.insert(flow, 0, -left))

    times_s = [day * 86_400 for day in days]
    solved = solve_ivp(
        change,
        (0, times_s[-1]),
        np.ones(CELLS),
        "LSODA",
        times_s,
        lband=1,
        uband=1,
        rtol=1e-8,
        atol=1e-10,
    )
    return solved.y.mean(axis=0)


@pytest.mark.parametrize("open_faces", [1, 2])
@pytest.mark.parametrize("thickness_mm", [8.0, 20.0, 45.0])
@pytest.mark.parametrize(
    "diffusion", [SLOW_DIFFUSION_M2_S, LIKELY_DIFFUSION_M2_S, FAST_DIFFUSION_M2_S]
)
def test_never_ahead_of_diffusion_and_never_far_behind(
    open_faces: int, thickness_mm: float, diffusion: float
) -> None:
    """True diffusion comes to 8/pi^2 of the estimate: a head start of a fifth of the constant."""
    tau = time_constant_days(thickness_mm, open_faces, diffusion)
    days = [share * tau for share in (0.05, 0.2, 0.5, 1.0, 2.0, 3.0)]
    left = average_by_diffusion(thickness_mm, open_faces, diffusion, days)
    estimated = [moisture_after_days(1.0, 0.0, day, tau) for day in days]
    assert all(true < guess for true, guess in zip(left, estimated, strict=True))
    settled = [true / guess for true, guess in zip(left[3:], estimated[3:], strict=True)]
    assert settled == pytest.approx([8 / math.pi**2] * 3, rel=2e-3)


@given(st.floats(1.0, 100.0), st.floats(1e-11, 1e-9))
def test_sealing_a_face_is_doubling_the_thickness(thickness_mm: float, diffusion: float) -> None:
    """Four times the wait."""
    one = time_constant_days(thickness_mm, 1, diffusion)
    assert one == pytest.approx(time_constant_days(2 * thickness_mm, 2, diffusion))
    assert one == pytest.approx(4 * time_constant_days(thickness_mm, 2, diffusion))


@given(moistures, moistures, constants)
def test_the_beginning_and_the_end(start: float, end: float, tau: float) -> None:
    """Nothing yet at first, all but done after forty constants."""
    assert moisture_after_days(start, end, 0.0, tau) == pytest.approx(start, abs=1e-12)
    assert moisture_after_days(start, end, 40 * tau, tau) == pytest.approx(end, abs=1e-12)


@given(moistures, moistures, constants, st.floats(0.0, 400.0), st.floats(0.0, 400.0))
def test_wood_only_ever_comes_nearer(
    start: float, end: float, tau: float, one: float, other: float
) -> None:
    """It does not turn back and does not overshoot."""
    early, late = sorted((one, other))
    before = moisture_after_days(start, end, early, tau)
    after = moisture_after_days(start, end, late, tau)
    assert abs(after - end) <= abs(before - end) + 1e-12
    assert min(start, end) - 1e-12 <= after <= max(start, end) + 1e-12


@given(moistures, moistures, constants, st.floats(0.1, 3.0))
def test_after_the_wait_the_tolerance_is_just_kept(
    start: float, end: float, tau: float, tolerance: float
) -> None:
    """The wait undoes the decay."""
    days = days_to_settle(start, end, tau, tolerance)
    left = abs(moisture_after_days(start, end, days, tau) - end)
    if abs(start - end) <= tolerance:
        assert days == 0
    else:
        assert left == pytest.approx(tolerance, rel=1e-9)


@given(moistures, moistures, constants, st.floats(0.02, 3.0))
def test_readings_give_the_constant_back(
    start: float, end: float, tau: float, share: float
) -> None:
    """Two readings and the place it goes to are enough."""
    assume(abs(start - end) > 0.5)
    days = share * tau
    later = moisture_after_days(start, end, days, tau)
    assert time_constant_from_readings_days(start, later, end, days) == pytest.approx(tau, rel=1e-6)


@given(st.floats(-0.25, 0.25))
def test_a_meter_off_by_a_quarter_still_tells(error: float) -> None:
    """Half of 6 % made up, read a quarter of a percent wrong: within 15 %."""
    tau = time_constant_from_readings_days(14.0, 11.0 + error, 8.0, 7.0)
    assert tau == pytest.approx(7 / math.log(2), rel=0.15)


@pytest.mark.parametrize("later", [12.0, 12.5, 8.0, 7.9])
def test_readings_that_do_not_approach_are_refused(later: float) -> None:
    """Not moved, moved away, there already, or beyond."""
    with pytest.raises(ValueError, match="must lie between"):
        time_constant_from_readings_days(12.0, later, 8.0, 7.0)


def test_waits_come_in_order_and_with_advice() -> None:
    """Fast, likely, slow: each twice the one before, since the diffusion is."""
    wait = wait_before_gluing(20.0, 12.0, 8.0)
    assert wait.likely_days == pytest.approx(2 * wait.fast_days)
    assert wait.slow_days == pytest.approx(2 * wait.likely_days)
    assert wait.advice == WAIT_ADVICE
    assert "from memory" in wait.advice


def test_the_likely_wait_by_hand() -> None:
    """20 mm, both faces, 1e-10 m2/s: 4.69 days, times the logarithm of 4 %, is 6.5 days."""
    wait = wait_before_gluing(20.0, 12.0, 8.0, open_faces=2)
    assert wait.likely_days == pytest.approx(0.02**2 / (math.pi**2 * 1e-10) / 86_400 * math.log(4))
    assert wait.likely_days == pytest.approx(6.5, abs=0.05)


def test_wood_that_is_there_need_not_wait() -> None:
    """Within the tolerance already."""
    wait = wait_before_gluing(20.0, 8.4, 8.0)
    assert (wait.fast_days, wait.likely_days, wait.slow_days) == (0, 0, 0)


@given(st.floats(3.0, 60.0), st.floats(3.0, 60.0), moistures, moistures)
def test_thicker_boards_wait_longer(one: float, other: float, start: float, end: float) -> None:
    """Never shorter."""
    thin, thick = sorted((one, other))
    assert (
        wait_before_gluing(thin, start, end).likely_days
        <= wait_before_gluing(thick, start, end).likely_days
    )


@pytest.mark.parametrize("wrong", [0.0, -1.0, math.nan, math.inf])
def test_impossible_numbers_are_refused(wrong: float) -> None:
    """Each is named."""
    with pytest.raises(ValueError, match="thickness"):
        wait_before_gluing(wrong, 12.0, 8.0)
    with pytest.raises(ValueError, match="diffusion"):
        time_constant_days(20.0, 2, wrong)
    with pytest.raises(ValueError, match="time constant"):
        moisture_after_days(12.0, 8.0, 1.0, wrong)
    with pytest.raises(ValueError, match="time constant"):
        days_to_settle(12.0, 8.0, wrong)
    with pytest.raises(ValueError, match="tolerance"):
        days_to_settle(12.0, 8.0, 5.0, wrong)
    with pytest.raises(ValueError, match="between the readings"):
        time_constant_from_readings_days(12.0, 10.0, 8.0, wrong)


@pytest.mark.parametrize("days", [-0.1, math.nan, math.inf])
def test_time_does_not_run_backwards(days: float) -> None:
    """Nor is it endless."""
    with pytest.raises(ValueError, match="time"):
        moisture_after_days(12.0, 8.0, days, 5.0)


@pytest.mark.parametrize("mc", [-0.1, 30.1, math.nan])
def test_impossible_moisture_is_refused(mc: float) -> None:
    """Wherever it stands."""
    for start, end in ((mc, 8.0), (8.0, mc)):
        with pytest.raises(ValueError, match="moisture content"):
            moisture_after_days(start, end, 1.0, 5.0)
        with pytest.raises(ValueError, match="moisture content"):
            days_to_settle(start, end, 5.0)
    for readings in ((mc, 10.0, 8.0), (12.0, mc, 8.0), (12.0, 10.0, mc)):
        with pytest.raises(ValueError, match="moisture content"):
            time_constant_from_readings_days(*readings, 7.0)


@pytest.mark.parametrize("open_faces", [0, 3])
def test_a_board_has_two_faces(open_faces: int) -> None:
    """One may be sealed; with both sealed nothing settles."""
    with pytest.raises(ValueError, match="1 or 2 open faces"):
        time_constant_days(20.0, open_faces)
