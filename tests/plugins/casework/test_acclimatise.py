"""Waiting for wood: the estimate against diffusion solved numerically, and properties.

The diffusion coefficients are from memory, without a published table. The tests show that the
formula is that of diffusion and that it is on the side of a longer wait.
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
    time_constant_days,
    wait_before_gluing,
)
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]

moistures = st.floats(0.0, 30.0)
constants = st.floats(0.5, 200.0)
CELLS = 80


def average_by_diffusion(
    thickness_mm: float, open_faces: int, diffusion_m2_s: float, days: list[float]
) -> Any:
    """Share of the difference that remains, by finite volumes through the thickness.

    Open faces are held at the new moisture from the start; a sealed face lets nothing through.
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
def test_the_wait_is_never_too_short_and_never_much_too_long(
    open_faces: int, thickness_mm: float, diffusion: float
) -> None:
    """By true diffusion less of the change remains: in the end 8/pi^2 of what is allowed."""
    tau = time_constant_days(thickness_mm, open_faces, diffusion)
    allowed = [0.95, 0.8, 0.6, 0.4, 0.1, 0.05]
    days = [days_to_settle(1.0, 0.0, tau, tolerance) for tolerance in allowed]
    left = average_by_diffusion(thickness_mm, open_faces, diffusion, days)
    assert all(true < most for true, most in zip(left, allowed, strict=True))
    settled = [true / most for true, most in zip(left[4:], allowed[4:], strict=True)]
    assert settled == pytest.approx([8 / math.pi**2] * 2, rel=2e-3)


@given(st.floats(1.0, 100.0), st.floats(1e-11, 1e-9))
def test_a_sealed_face_counts_as_double_thickness(thickness_mm: float, diffusion: float) -> None:
    """The wait is four times as long."""
    one = time_constant_days(thickness_mm, 1, diffusion)
    assert one == pytest.approx(time_constant_days(2 * thickness_mm, 2, diffusion))
    assert one == pytest.approx(4 * time_constant_days(thickness_mm, 2, diffusion))


@given(moistures, moistures, constants, st.floats(0.1, 3.0))
def test_after_the_wait_only_the_tolerance_remains(
    start: float, end: float, tau: float, tolerance: float
) -> None:
    """By first-order decay."""
    days = days_to_settle(start, end, tau, tolerance)
    if abs(start - end) <= tolerance:
        assert days == 0
    else:
        assert abs(start - end) * math.exp(-days / tau) == pytest.approx(tolerance, rel=1e-9)


def test_waits_come_in_order_and_with_advice() -> None:
    """Fast, likely, slow: each is twice the one before, like the diffusion coefficients."""
    wait = wait_before_gluing(20.0, 12.0, 8.0)
    assert wait.likely_days == pytest.approx(2 * wait.fast_days)
    assert wait.slow_days == pytest.approx(2 * wait.likely_days)
    assert wait.advice == WAIT_ADVICE
    assert "from memory" in wait.advice


def test_the_likely_wait_by_hand() -> None:
    """20 mm, one face, 1e-10 m2/s: 18.8 days, times the logarithm of 4, is 26 days."""
    wait = wait_before_gluing(20.0, 12.0, 8.0)
    assert wait.likely_days == pytest.approx(0.04**2 / (math.pi**2 * 1e-10) / 86_400 * math.log(4))
    assert wait.likely_days == pytest.approx(26.0, abs=0.05)


def test_wood_within_the_tolerance_need_not_wait() -> None:
    """The wait is 0."""
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
        days_to_settle(12.0, 8.0, wrong)
    with pytest.raises(ValueError, match="tolerance"):
        days_to_settle(12.0, 8.0, 5.0, wrong)


@pytest.mark.parametrize("mc", [-0.1, 30.1, math.nan])
def test_impossible_moisture_is_refused(mc: float) -> None:
    """At the start and at the end."""
    for start, end in ((mc, 8.0), (8.0, mc)):
        with pytest.raises(ValueError, match="moisture content"):
            days_to_settle(start, end, 5.0)


@pytest.mark.parametrize("open_faces", [0, 3])
def test_a_board_has_two_faces(open_faces: int) -> None:
    """One may be sealed; with both sealed the moisture never changes."""
    with pytest.raises(ValueError, match="1 or 2 open faces"):
        time_constant_days(20.0, open_faces)
