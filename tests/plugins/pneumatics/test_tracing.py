"""Where it leaks: known leaks found again, through a network of openings solved by scipy."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from assess_pneumatics.measured import Measured
from assess_pneumatics.tracing import (
    NAMES,
    HoldTests,
    LeakPath,
    Path,
    Prediction,
    predict_hold,
    trace_leaks,
)
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

VOLUME = 0.038
rates = st.floats(1e-4, 0.05)
leaks = st.floats(1e-6, 1e-3)
TESTS = ("lower_alone", "stops_in", "mutes_open", "keys_down")


def by_path(parts: tuple[LeakPath, ...]) -> dict[Path, LeakPath]:
    return {part.path: part for part in parts}


def holds_of(lower: float, joint: float, pallets: float, mutes: float, sd: float) -> HoldTests:
    """Hold times of four leaks side by side, each in openings per second."""
    sums = (lower, lower + joint, lower + joint + pallets, lower + joint + mutes)
    return HoldTests(*(Measured(1 / rate, sd) for rate in sums))


@given(rates, rates, rates, rates)
def test_leaks_side_by_side_are_found_again(
    lower: float, joint: float, pallets: float, mutes: float
) -> None:
    parts = by_path(trace_leaks(Measured(VOLUME), holds_of(lower, joint, pallets, mutes, 0.0)))
    wanted: dict[Path, float] = {
        "lower_action": lower,
        "joint_and_pan": joint,
        "pallets": pallets,
        "joint_pan_and_pallets": joint + pallets,
        "mutes": mutes,
    }
    assert list(parts) == list(NAMES)
    for path, rate in wanted.items():
        flow = parts[path].flow_l_s
        assert flow is not None
        assert flow.value == pytest.approx(1000 * VOLUME * rate, rel=1e-6, abs=1e-9)


def series(first: float, second: float, suction: float) -> float:
    """Flow through two openings one behind the other, each C sqrt(p), by bisection."""

    def imbalance(between: float) -> float:
        return first * math.sqrt(between) - second * math.sqrt(suction - between)

    between = brentq(imbalance, 0.0, suction)
    return first * math.sqrt(between)


@given(leaks, leaks, leaks, leaks)
def test_pallets_and_mutes_one_behind_the_other(
    lower: float, joint: float, pallets: float, mutes: float
) -> None:
    suction = 700.0
    open_flow = math.sqrt(suction)
    past_both = series(mutes, pallets, suction)
    steady = (lower + joint) * open_flow
    flows = {
        "lower_alone": lower * open_flow,
        "stops_in": steady + past_both,
        "mutes_open": steady + pallets * open_flow,
        "keys_down": steady + mutes * open_flow,
    }
    holds = HoldTests(*(Measured(VOLUME / flows[test]) for test in TESTS))
    parts = by_path(trace_leaks(Measured(VOLUME), holds))

    def found(path: Path) -> float:
        flow = parts[path].flow_l_s
        assert flow is not None
        return flow.value / 1000

    slack = 1e-9
    assert found("lower_action") == pytest.approx(lower * open_flow)
    assert found("joint_pan_and_pallets") == pytest.approx((joint + pallets) * open_flow)
    assert found("pallets") <= pallets * open_flow + slack
    assert found("mutes") <= mutes * open_flow + slack
    assert found("joint_and_pan") >= joint * open_flow - slack


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

    tests = HoldTests(Measured(hold(porous, 0.0)), Measured(hold(porous, 1.0)))
    joint = by_path(trace_leaks(Measured(1.0), tests))["joint_and_pan"].flow_l_s
    assert joint is not None
    assert joint.value / 1000 == pytest.approx(1.0 / hold(0.0, 1.0), rel=0.03)


def test_equal_times_are_no_leak_and_said_so() -> None:
    same = Measured(60.0, 1.0)
    parts = by_path(trace_leaks(Measured(VOLUME, 0.004), HoldTests(same, same, same, same)))
    for path in ("joint_and_pan", "pallets", "joint_pan_and_pallets", "mutes"):
        assert parts[path].leaks is False
        assert "cannot tell from no leak" in parts[path].statement
    assert parts["lower_action"].leaks is True


def test_false_alarms_are_as_rare_as_promised() -> None:
    rng = np.random.default_rng(5)
    alarms, surveys = 0, 2000
    for _ in range(surveys):
        first, second = 60.0 + rng.normal(size=2)
        tests = HoldTests(stops_in=Measured(first, 1.0), mutes_open=Measured(second, 1.0))
        alarms += by_path(trace_leaks(Measured(VOLUME), tests))["pallets"].leaks is not False
    assert 0.03 <= alarms / surveys <= 0.06


def test_a_poorly_known_volume_hides_no_difference() -> None:
    tests = HoldTests(Measured(60.0, 0.5), Measured(50.0, 0.5))
    part = by_path(trace_leaks(Measured(VOLUME, 0.6 * VOLUME), tests))["joint_and_pan"]
    assert part.leaks is True
    assert part.flow_l_s is not None
    # The amount is as poor as the volume, though.
    assert part.flow_l_s.sd > 0.5 * part.flow_l_s.value


def test_tests_that_contradict_each_other_are_named() -> None:
    tests = HoldTests(Measured(40.0, 1.0), Measured(60.0, 1.0))
    part = by_path(trace_leaks(Measured(VOLUME), tests))["joint_and_pan"]
    assert part.leaks is None
    assert "with all stops in than with the lower action alone" in part.statement


def test_what_was_not_tested_is_not_guessed() -> None:
    parts = by_path(trace_leaks(Measured(VOLUME), HoldTests(stops_in=Measured(40.0, 1.0))))
    assert all(part.flow_l_s is None and part.leaks is None for part in parts.values())
    assert parts["joint_and_pan"].statement == (
        "joint and pan: not tested (the lower action alone)"
    )
    assert parts["joint_pan_and_pallets"].statement == (
        "joint, pan and pallets: not tested (mutes open and the lower action alone)"
    )


@given(rates, rates, rates, rates, st.sampled_from(["stops_in", "mutes_open", "keys_down"]))
def test_removing_a_leak_leaves_the_others(
    lower: float, joint: float, pallets: float, mutes: float, during: Any
) -> None:
    tests = holds_of(lower, joint, pallets, mutes, 0.0)
    whole = {"stops_in": 0.0, "mutes_open": pallets, "keys_down": mutes}[during] + lower + joint
    prediction = predict_hold(tests, during, ["joint_and_pan"])
    assert prediction.hold_s is not None
    assert prediction.hold_s.value == pytest.approx(1 / (whole - joint), rel=1e-6)


@pytest.mark.parametrize("during", ["stops_in", "mutes_open"])
def test_taking_off_all_above_leaves_the_lower_action_as_it_was_measured(during: Any) -> None:
    tests = holds_of(1 / 120, 1 / 80, 1 / 200, 1 / 300, 1.5)
    prediction = predict_hold(tests, during, ["joint_pan_and_pallets"])
    assert prediction.hold_s is not None
    assert tests.lower_alone is not None
    assert prediction.hold_s.value == pytest.approx(tests.lower_alone.value)
    # Each hold time counts once: the others cancel, with their errors.
    assert prediction.hold_s.sd == pytest.approx(tests.lower_alone.sd, rel=1e-3)
    parted = predict_hold(tests, during, ["pallets", "joint_and_pan"])
    assert parted == prediction


def test_a_leak_that_a_test_does_not_meet_changes_nothing() -> None:
    tests = holds_of(1 / 120, 1 / 80, 1 / 200, 1 / 300, 1.0)
    assert predict_hold(tests, "stops_in", ["mutes", "pallets"]) == predict_hold(
        tests, "stops_in", []
    )


def test_where_nothing_measurable_is_left_only_a_lower_bound_is_given() -> None:
    tests = HoldTests(Measured(60.0, 1.0), Measured(58.0, 1.0))
    prediction = predict_hold(tests, "stops_in", ["lower_action"])
    assert prediction.hold_s is None
    rate = 1 / 58 - 1 / 60
    sd = math.hypot(1 / 58**2, 1 / 60**2)
    assert prediction.at_least_s == pytest.approx(1 / (rate + 2 * sd), rel=1e-3)
    assert prediction.statement.startswith("should hold at least 720 s")


def test_the_lower_bound_holds_as_often_as_promised() -> None:
    rng = np.random.default_rng(9)
    lower, joint = 1 / 90, 1 / 70
    kept, surveys = 0, 2000
    for _ in range(surveys):
        alone = Measured(1 / lower + rng.normal(), 1.0)
        whole = Measured(1 / (lower + joint) + rng.normal(), 1.0)
        found = predict_hold(HoldTests(alone, whole), "stops_in", ["lower_action"])
        kept += found.at_least_s <= 1 / joint
    assert 0.96 <= kept / surveys <= 0.99


@given(rates, rates, st.floats(0.01, 5.0))
def test_less_leakage_never_holds_shorter(lower: float, joint: float, sd: float) -> None:
    tests = holds_of(lower, joint, 0.001, 0.001, sd * min(1.0, 0.05 / (lower + joint)))
    with_it = predict_hold(tests, "stops_in", [])
    without = predict_hold(tests, "stops_in", ["lower_action"])
    if with_it.hold_s is not None and without.hold_s is not None:
        assert without.hold_s.value >= with_it.hold_s.value


@pytest.mark.parametrize(
    ("tests", "during", "removed", "words"),
    [
        (HoldTests(), "stops_in", [], "without the hold time with all stops in"),
        (HoldTests(stops_in=Measured(40.0)), "stops_in", ["lower_action"], "lower action alone"),
        (HoldTests(stops_in=Measured(40.0)), "stops_in", ["bellows"], "no such leak path"),
        (HoldTests(stops_in=Measured(40.0)), "all_open", [], "no such hold test"),
        (HoldTests(Measured(40.0)), "lower_alone", ["lower_action"], "nothing would be left"),
        (
            HoldTests(Measured(20.0, 0.1), Measured(60.0, 0.1)),
            "stops_in",
            ["lower_action"],
            "less than no leakage",
        ),
    ],
)
def test_no_such_prediction(tests: HoldTests, during: Any, removed: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        predict_hold(tests, during, removed)


def test_the_prediction_names_its_test() -> None:
    found = predict_hold(HoldTests(Measured(120.0), Measured(40.0)), "stops_in", [])
    assert isinstance(found, Prediction)
    assert found.statement == "should hold 40.0 s with all stops in"


@pytest.mark.parametrize("hold", [0.0, -5.0])
@pytest.mark.parametrize("test", TESTS)
def test_no_such_hold_times(test: str, hold: float) -> None:
    with pytest.raises(ValueError, match="hold time with"):
        HoldTests(**{test: Measured(hold)})


def test_no_volume_no_tracing() -> None:
    with pytest.raises(ValueError, match="volume"):
        trace_leaks(Measured(0.0), HoldTests())
