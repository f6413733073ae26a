"""Where it leaks: known leaks recovered, through a network of openings solved by scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from assess_pneumatics.tracing import (
    NAMES,
    HoldTests,
    LeakPath,
    Path,
    Test,
    predict_hold,
    trace_leaks,
)
from assess_pneumatics.uncertainty import Measured
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

VOLUME = 0.038
rates = st.floats(1e-4, 0.05)
leaks = st.floats(1e-6, 1e-3)
TESTS: tuple[Test, ...] = ("lower_alone", "stops_in", "mutes_open", "keys_down")


def by_path(parts: tuple[LeakPath, ...]) -> dict[Path, LeakPath]:
    return {part.path: part for part in parts}


def flow_l_s(parts: dict[Path, LeakPath], path: Path) -> float:
    flow = parts[path].flow_l_s
    assert flow is not None
    return flow.value


def two_holds(lower: Measured, whole: Measured) -> HoldTests:
    return {"lower_alone": lower, "stops_in": whole}


@given(rates, rates, rates, rates)
def test_leaks_side_by_side_are_recovered(
    lower: float, joint: float, pallets: float, mutes: float
) -> None:
    sums = (lower, lower + joint, lower + joint + pallets, lower + joint + mutes)
    holds = {test: Measured(1 / rate) for test, rate in zip(TESTS, sums, strict=True)}
    parts = by_path(trace_leaks(Measured(VOLUME), holds))
    expected: dict[Path, float] = {
        "lower_action": lower,
        "joint_and_pan": joint,
        "pallets": pallets,
        "joint_pan_and_pallets": joint + pallets,
        "mutes": mutes,
    }
    assert list(parts) == list(NAMES)
    for path, rate in expected.items():
        assert flow_l_s(parts, path) == pytest.approx(1000 * VOLUME * rate, rel=1e-6, abs=1e-9)


def in_series(first: float, second: float, suction: float) -> float:
    """Flow through two openings in series, each C sqrt(p), by root finding."""

    def imbalance(between: float) -> float:
        return first * math.sqrt(between) - second * math.sqrt(suction - between)

    between = brentq(imbalance, 0.0, suction)
    return first * math.sqrt(between)


@given(leaks, leaks, leaks, leaks)
def test_pallets_and_mutes_in_series(
    lower: float, joint: float, pallets: float, mutes: float
) -> None:
    suction = 700.0
    root = math.sqrt(suction)
    past_both = in_series(mutes, pallets, suction)
    steady = (lower + joint) * root
    flows: dict[Test, float] = {
        "lower_alone": lower * root,
        "stops_in": steady + past_both,
        "mutes_open": steady + pallets * root,
        "keys_down": steady + mutes * root,
    }
    holds = {test: Measured(VOLUME / flow) for test, flow in flows.items()}
    parts = by_path(trace_leaks(Measured(VOLUME), holds))

    def found(path: Path) -> float:
        return flow_l_s(parts, path) / 1000

    slack = 1e-9
    assert found("lower_action") == pytest.approx(lower * root)
    assert found("joint_pan_and_pallets") == pytest.approx((joint + pallets) * root)
    assert found("pallets") <= pallets * root + slack
    assert found("mutes") <= mutes * root + slack
    assert found("joint_and_pan") >= joint * root - slack


@pytest.mark.parametrize("porous", [0.2, 1.0, 5.0])
@pytest.mark.parametrize("open_share", [1.0, 0.6, 1 / 3])
def test_porous_cloth_beside_holes_shifts_the_shares_little(
    porous: float, open_share: float
) -> None:
    def hold(cloth: float, holes: float) -> float:
        def slowness(x: float) -> float:
            suction = 1.0 - (1.0 - open_share) * x
            return 1.0 / (cloth * suction + holes * math.sqrt(suction))

        return float(quad(slowness, 0.0, 1.0)[0])

    tests = two_holds(Measured(hold(porous, 0.0)), Measured(hold(porous, 1.0)))
    joint = flow_l_s(by_path(trace_leaks(Measured(1.0), tests)), "joint_and_pan")
    assert joint / 1000 == pytest.approx(1.0 / hold(0.0, 1.0), rel=0.03)


def test_equal_times_show_no_leak_and_say_so() -> None:
    holds = dict.fromkeys(TESTS, Measured(60.0, 1.0))
    parts = by_path(trace_leaks(Measured(VOLUME, 0.004), holds))
    for path in ("joint_and_pan", "pallets", "joint_pan_and_pallets", "mutes"):
        assert parts[path].leaks is False
        assert "too little to tell from no leak" in parts[path].statement
    assert parts["lower_action"].leaks is True


def test_false_alarms_are_as_rare_as_promised() -> None:
    rng = np.random.default_rng(5)
    alarms, surveys = 0, 2000
    for _ in range(surveys):
        first, second = (Measured(seconds, 1.0) for seconds in 60.0 + rng.normal(size=2))
        tests: HoldTests = {"stops_in": first, "mutes_open": second}
        alarms += by_path(trace_leaks(Measured(VOLUME), tests))["pallets"].leaks is not False
    assert 0.03 <= alarms / surveys <= 0.06


def test_a_poorly_known_volume_hides_no_difference() -> None:
    tests = two_holds(Measured(60.0, 0.5), Measured(50.0, 0.5))
    part = by_path(trace_leaks(Measured(VOLUME, 0.6 * VOLUME), tests))["joint_and_pan"]
    assert part.leaks is True
    assert part.flow_l_s is not None
    # The amount is as uncertain as the volume, though.
    assert part.flow_l_s.sd > 0.5 * part.flow_l_s.value


def test_tests_that_contradict_each_other_are_named() -> None:
    tests = two_holds(Measured(40.0, 1.0), Measured(60.0, 1.0))
    part = by_path(trace_leaks(Measured(VOLUME), tests))["joint_and_pan"]
    assert part.leaks is None
    assert "longer with all stops in than with lower action alone" in part.statement


def test_what_was_not_tested_is_not_guessed() -> None:
    parts = by_path(trace_leaks(Measured(VOLUME), {"stops_in": Measured(40.0, 1.0)}))
    assert all(part.flow_l_s is None and part.leaks is None for part in parts.values())
    assert parts["joint_and_pan"].statement == "not tested (lower action alone)"
    assert parts["joint_pan_and_pallets"].statement == (
        "not tested (mutes open and lower action alone)"
    )


def test_impossible_volumes_and_holds() -> None:
    with pytest.raises(ValueError, match="volume"):
        trace_leaks(Measured(0.0), {})
    with pytest.raises(ValueError, match="hold time"):
        trace_leaks(Measured(VOLUME), {"lower_alone": Measured(0.0)})


# --- prediction -----------------------------------------------------------------------


@given(rates, rates)
def test_a_tight_lower_action_leaves_the_other_leaks(lower: float, above: float) -> None:
    found = predict_hold(Measured(1 / (lower + above)), Measured(1 / lower))
    assert found.hold_s is not None
    assert found.hold_s.value == pytest.approx(1 / above, rel=1e-6)


def test_if_nothing_measurable_is_left_only_a_lower_bound_is_given() -> None:
    found = predict_hold(Measured(58.0, 1.0), Measured(60.0, 1.0))
    assert found.hold_s is None
    rate = 1 / 58 - 1 / 60
    sd = math.hypot(1 / 58**2, 1 / 60**2)
    assert found.at_least_s == pytest.approx(1 / (rate + 2 * sd), rel=1e-3)
    assert found.statement.startswith("should hold at least 720 s")


def test_the_lower_bound_holds_as_often_as_promised() -> None:
    rng = np.random.default_rng(9)
    lower, above = 1 / 90, 1 / 70
    kept, surveys = 0, 2000
    for _ in range(surveys):
        alone = Measured(1 / lower + rng.normal(), 1.0)
        whole = Measured(1 / (lower + above) + rng.normal(), 1.0)
        kept += predict_hold(whole, alone).at_least_s <= 1 / above
    assert 0.96 <= kept / surveys <= 0.99


@given(rates, rates, st.floats(0.01, 5.0))
def test_less_leakage_never_holds_shorter(lower: float, above: float, sd: float) -> None:
    whole = Measured(1 / (lower + above), sd * min(1.0, 0.05 / (lower + above)))
    found = predict_hold(whole, Measured(1 / lower, whole.sd))
    assume(found.hold_s is not None)
    assert found.hold_s.value >= whole.value


def test_contradicting_holds_predict_nothing() -> None:
    with pytest.raises(ValueError, match="shorter than the whole"):
        predict_hold(Measured(60.0, 0.1), Measured(20.0, 0.1))


@pytest.mark.parametrize(("whole", "lower"), [(0.0, 60.0), (40.0, 0.0), (-5.0, 60.0)])
def test_impossible_holds(whole: float, lower: float) -> None:
    with pytest.raises(ValueError, match="hold time"):
        predict_hold(Measured(whole), Measured(lower))
