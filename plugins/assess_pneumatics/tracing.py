"""Where it leaks: hold times with parts shut off in turn, and what each part leaks.

Four tests, each with the same reservoir pumped closed and left to open:

lower_alone
    the lower action on the bench, every outlet sealed;
stops_in
    the whole instrument, all stops in, no key held: lower action, joint and pan;
mutes_open
    all stops drawn, no key held: only the pallets now keep the room's air out;
keys_down
    all stops in, keys held down: only the mutes keep it out, at the keys held.

Leak flows add, so the flow of a part is the difference of two tests. A pallet and the mute
above it are in series: with both shut, the tighter one decides. What still passes both counts
as joint and pan, so the flow found for pallets, and that for mutes, is the least it can be;
the sum of joint, pan and pallets is right.

Everything is computed in openings per second (one over the hold time). The volume of the
reservoir is the same in all tests: it scales the flows, but its error cannot make a difference
appear or vanish.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assess import positive
from assess_pneumatics.uncertainty import COVERAGE, Measured, propagate

Test = Literal["lower_alone", "stops_in", "mutes_open", "keys_down"]
Path = Literal["lower_action", "joint_and_pan", "pallets", "joint_pan_and_pallets", "mutes"]

NAMES: Mapping[Path, str] = {
    "lower_action": "lower action",
    "joint_and_pan": "joint and pan",
    "pallets": "pallets",
    "joint_pan_and_pallets": "joint, pan and pallets",
    "mutes": "mutes",
}

DIFFERENCES: Mapping[Path, tuple[Test, Test | None]] = {
    "lower_action": ("lower_alone", None),
    "joint_and_pan": ("stops_in", "lower_alone"),
    "pallets": ("mutes_open", "stops_in"),
    "joint_pan_and_pallets": ("mutes_open", "lower_alone"),
    "mutes": ("keys_down", "stops_in"),
}
"""The test that includes each path (first), and the same test without it (second)."""

TEST_NAMES: Mapping[Test, str] = {
    "lower_alone": "lower action alone",
    "stops_in": "all stops in",
    "mutes_open": "mutes open",
    "keys_down": "keys down",
}

HoldTests = Mapping[Test, Measured]
"""Hold times of one instrument [s]; a test that was not made is left out."""


@dataclass(frozen=True)
class LeakPath:
    """What one part of the instrument leaks.

    Attributes:
        path: which part.
        flow_l_s: its flow [L/s]; None if a test is missing.
        leaks: True if the flow is more than its error, False if it is not distinct from zero,
            None if a test is missing or two tests contradict each other.
        statement: what that means, in words.
    """

    path: Path
    flow_l_s: Measured | None
    leaks: bool | None
    statement: str


def trace_leaks(volume_m3: Measured, tests: HoldTests) -> tuple[LeakPath, ...]:
    """Split the leakage between the parts of the instrument.

    The flow of a part is V (1/t_with - 1/t_without). Whether it leaks at all is judged from
    the two times alone, at two standard deviations.

    Source: volume balance (derived); flows of leaks side by side add. The suction must be the
    same in all tests (same springs). The shares are exact if all leaks are of one kind; with
    porous cloth beside holes they shift by less than 3 %, as long as the suction keeps a
    third of its strength until the reservoir is open.

    Args:
        volume_m3: air that leaks in between closed and fully open [m3].
        tests: hold times [s].

    Raises:
        ValueError: a volume or hold time that is not above zero.

    >>> tests = {"lower_alone": Measured(120.0, 2.0), "stops_in": Measured(40.0, 1.0),
    ...     "mutes_open": Measured(39.5, 1.0)}
    >>> for part in trace_leaks(Measured(0.038), tests):
    ...     print(f"{part.path}: {part.flow_l_s} L/s, {part.statement}")
    lower_action: 0.317 ± 0.005 L/s, a real leak
    joint_and_pan: 0.63 ± 0.02 L/s, a real leak
    pallets: 0.01 ± 0.03 L/s, too little to tell from no leak
    joint_pan_and_pallets: 0.65 ± 0.02 L/s, a real leak
    mutes: None L/s, not tested (keys down)
    """
    positive("the volume", volume_m3.value)
    return tuple(_trace(path, volume_m3, tests) for path in NAMES)


def _trace(path: Path, volume_m3: Measured, tests: HoldTests) -> LeakPath:
    used = [test for test in DIFFERENCES[path] if test]
    missing = [TEST_NAMES[test] for test in used if test not in tests]
    if missing:
        return LeakPath(path, None, None, f"not tested ({' and '.join(missing)})")
    rate = propagate(openings_per_s, *(tests[test] for test in used))
    flow = propagate(lambda volume, openings: 1000.0 * volume * openings, volume_m3, rate)
    if not rate.differs_from(0.0):
        return LeakPath(path, flow, False, "too little to tell from no leak")
    if rate.value > 0:
        return LeakPath(path, flow, True, "a real leak")
    with_it, without = (TEST_NAMES[test] for test in used)
    contradiction = (
        f"less than nothing: it held longer with {with_it} than with {without}; "
        "repeat both tests and check the seals"
    )
    return LeakPath(path, flow, None, contradiction)


def openings_per_s(hold_s: float, without_s: float | None = None) -> float:
    """One over a hold time, less one over the hold time without the part [1/s].

    Source: derived. The air that leaks is the volume over the hold time, and leaks add up.

    Args:
        hold_s: hold time of the test that includes the part [s].
        without_s: hold time of the test without it [s]; left out if there is no such test.

    Raises:
        ValueError: a hold time that is not above zero.

    >>> round(openings_per_s(40.0, 120.0), 4)
    0.0167
    """
    rate = 1.0 / positive("a hold time", hold_s)
    return rate if without_s is None else rate - 1.0 / positive("a hold time", without_s)


@dataclass(frozen=True)
class Prediction:
    """Hold time to expect of the whole instrument once the lower action is tight.

    Attributes:
        hold_s: hold time [s]; None if what is left may be no leak at all.
        at_least_s: what it should reach in all but about one case in forty [s].
        statement: the same in words.
    """

    hold_s: Measured | None
    at_least_s: float
    statement: str


def predict_hold(whole_s: Measured, lower_alone_s: Measured) -> Prediction:
    """Hold time of the whole instrument once the lower action is tight.

    t' = 1 / (1/t_whole - 1/t_lower). The volume cancels.

    Source: volume balance (derived), valid as :func:`trace_leaks`. The repair is taken as
    perfect: this is the most that it alone can achieve, not a promise.

    Args:
        whole_s: hold time of the whole instrument, all stops in [s].
        lower_alone_s: hold time of the lower action alone [s].

    Raises:
        ValueError: a hold time that is not above zero, or times that contradict each other.

    >>> predict_hold(Measured(40.0, 1.0), Measured(120.0, 2.0)).statement
    'should hold 60 ± 2 s'
    """
    rate = propagate(openings_per_s, whole_s, lower_alone_s)
    highest = rate.value + COVERAGE * rate.sd
    if highest <= 0:
        raise ValueError("the lower action alone held shorter than the whole instrument")
    if not rate.differs_from(0.0):
        text = f"should hold at least {1 / highest:.0f} s; the tests cannot show how much longer"
        return Prediction(None, 1 / highest, text)
    hold = Measured(1 / rate.value, rate.sd / rate.value**2)
    return Prediction(hold, 1 / highest, f"should hold {hold} s")
