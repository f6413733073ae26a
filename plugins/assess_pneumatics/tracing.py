"""Where it leaks: hold times with parts shut off in turn, and what each part takes.

Four tests, each with the same reservoir pumped shut and left to open:

lower_alone
    the lower action on the bench, every outlet sealed;
stops_in
    the whole instrument, all stops in, no key down: lower action, joint and pan;
mutes_open
    all stops drawn, no key down: the pallets alone now keep the room's air out;
keys_down
    all stops in, keys held down: the mutes alone keep it out, at the keys held.

Leak flows add, so a part's flow is the difference of two tests. A pallet and the mute above
it stand one behind the other: with both shut the tighter one governs. What still comes past
both counts with joint and pan, so the flow found for pallets, and that for mutes, is the
least it can be; the sum of joint, pan and pallets is right.

Everything is worked out in openings per second (one over the hold time). The volume of the
reservoir is common to all tests: it scales the flows, but its error cannot make a difference
appear or vanish.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

from assess import positive
from assess_pneumatics.measured import COVERAGE, Measured, propagate

Test = Literal["lower_alone", "stops_in", "mutes_open", "keys_down"]
Path = Literal["lower_action", "joint_and_pan", "pallets", "joint_pan_and_pallets", "mutes"]

NAMES: Mapping[Path, str] = {
    "lower_action": "lower action",
    "joint_and_pan": "joint and pan",
    "pallets": "pallets",
    "joint_pan_and_pallets": "joint, pan and pallets",
    "mutes": "mutes",
}

_COMBINED: Path = "joint_pan_and_pallets"

# Which test shows a path (first), and which the same without it (second).
_DIFFERENCES: Mapping[Path, tuple[Test, Test | None]] = {
    "lower_action": ("lower_alone", None),
    "joint_and_pan": ("stops_in", "lower_alone"),
    "pallets": ("mutes_open", "stops_in"),
    "joint_pan_and_pallets": ("mutes_open", "lower_alone"),
    "mutes": ("keys_down", "stops_in"),
}

_PRESENT: Mapping[Test, frozenset[Path]] = {
    "lower_alone": frozenset({"lower_action"}),
    "stops_in": frozenset({"lower_action", "joint_and_pan"}),
    "mutes_open": frozenset({"lower_action", "joint_and_pan", "pallets"}),
    "keys_down": frozenset({"lower_action", "joint_and_pan", "mutes"}),
}

_TEST_NAMES: Mapping[Test, str] = {
    "lower_alone": "the lower action alone",
    "stops_in": "all stops in",
    "mutes_open": "mutes open",
    "keys_down": "keys down",
}


@dataclass(frozen=True)
class HoldTests:
    """Hold times of one instrument [s]; None for a test not made.

    Attributes:
        lower_alone: lower action on the bench, outlets sealed.
        stops_in: all stops in, no key down.
        mutes_open: all stops drawn, no key down.
        keys_down: all stops in, keys held down.

    Raises:
        ValueError: a hold time that is not more than zero.
    """

    lower_alone: Measured | None = None
    stops_in: Measured | None = None
    mutes_open: Measured | None = None
    keys_down: Measured | None = None

    def __post_init__(self) -> None:
        """Refuse hold times that cannot be."""
        for test, name in _TEST_NAMES.items():
            hold = self.of(test)
            if hold is not None:
                positive(f"the hold time with {name}", hold.value)

    def of(self, test: Test) -> Measured | None:
        """The hold time of a test [s].

        >>> HoldTests(stops_in=Measured(40.0)).of("stops_in")
        Measured(value=40.0, sd=0.0)
        """
        times: Mapping[Test, Measured | None] = {
            "lower_alone": self.lower_alone,
            "stops_in": self.stops_in,
            "mutes_open": self.mutes_open,
            "keys_down": self.keys_down,
        }
        return times[test]


@dataclass(frozen=True)
class LeakPath:
    """What one part of the instrument leaks.

    Attributes:
        path: which part.
        flow_l_s: its flow [L/s]; None where a test is missing.
        leaks: True where the flow is more than its error, False where it cannot be told from
            none, None where a test is missing or two tests contradict each other.
        statement: the same in a sentence.
    """

    path: Path
    flow_l_s: Measured | None
    leaks: bool | None
    statement: str


def trace_leaks(volume_m3: Measured, tests: HoldTests) -> tuple[LeakPath, ...]:
    """Split the leakage between the parts of the instrument.

    A part's flow is V (1/t_with - 1/t_without). Whether it leaks at all is judged from the
    two times alone, at two standard deviations.

    Source: volume balance (derived); flows of leaks side by side add. The same suction must
    rule in all tests (same springs), and the shares are exact where all leaks are of one
    kind. Where porous cloth stands beside holes they shift by less than 3 %, as long as the
    suction keeps a third of its strength until the reservoir is open.

    Args:
        volume_m3: air that goes in between shut and fully open [m3].
        tests: hold times [s].

    Raises:
        ValueError: a volume that is not more than zero.

    >>> tests = HoldTests(Measured(120.0, 2.0), Measured(40.0, 1.0), Measured(39.5, 1.0))
    >>> for part in trace_leaks(Measured(0.038), tests):
    ...     print(part.statement)
    lower action: 0.317 ± 0.005 L/s
    joint and pan: 0.63 ± 0.02 L/s
    pallets: 0.01 ± 0.03 L/s, which these times cannot tell from no leak
    joint, pan and pallets: 0.65 ± 0.02 L/s
    mutes: not tested (keys down)
    """
    positive("the volume", volume_m3.value)
    return tuple(_trace(path, volume_m3, tests) for path in NAMES)


def _trace(path: Path, volume_m3: Measured, tests: HoldTests) -> LeakPath:
    name = NAMES[path]
    missing = [test for test in _DIFFERENCES[path] if test and tests.of(test) is None]
    if missing:
        wanted = " and ".join(_TEST_NAMES[test] for test in missing)
        return LeakPath(path, None, None, f"{name}: not tested ({wanted})")
    rate = _sum(_weights(path), tests)
    flow = propagate(lambda volume, openings: 1000.0 * volume * openings, volume_m3, rate)
    amount = f"{name}: {flow} L/s"
    if not rate.differs_from(0.0):
        return LeakPath(path, flow, False, f"{amount}, which these times cannot tell from no leak")
    if rate.value > 0:
        return LeakPath(path, flow, True, amount)
    shown, without = (_TEST_NAMES[test] for test in _DIFFERENCES[path] if test)
    return LeakPath(
        path,
        flow,
        None,
        f"{amount}, less than nothing: the wind lasted longer with {shown} than with {without}; "
        "make both tests again, and look at the seals",
    )


def _weights(path: Path) -> dict[Test, float]:
    shown, without = _DIFFERENCES[path]
    return {shown: 1.0} if without is None else {shown: 1.0, without: -1.0}


def _sum(weights: Mapping[Test, float], tests: HoldTests) -> Measured:
    """Weighted sum of the rates (one over the hold time) of several tests [1/s]."""
    used = [(weight, hold) for test, weight in weights.items() if (hold := tests.of(test))]

    def rate(*holds: float) -> float:
        return sum(
            weight / positive("a hold time", hold)
            for (weight, _), hold in zip(used, holds, strict=True)
        )

    return propagate(rate, *(hold for _, hold in used))


@dataclass(frozen=True)
class Prediction:
    """Hold time to expect once some leaks are gone.

    Attributes:
        hold_s: hold time to expect [s]; None where what is left cannot be told from no leak.
        at_least_s: what it should reach in all but about one case of forty [s].
        statement: the same in a sentence.
    """

    hold_s: Measured | None
    at_least_s: float
    statement: str


def predict_hold(tests: HoldTests, during: Test, removed: Collection[Path]) -> Prediction:
    """Hold time of one of the tests after the named leaks are made tight.

    t' = 1 / (1/t - sum of the openings per second of what is removed). The volume cancels.
    Each hold time enters once, however many paths rest on it, so that its error is neither
    counted twice nor lost.

    Source: volume balance (derived), valid as :func:`trace_leaks`. The repair is taken as
    perfect: this is the most that it alone can bring, not a promise.

    Args:
        tests: hold times [s].
        during: the test whose hold time is wanted.
        removed: paths made tight; those that do not leak in that test change nothing.

    Raises:
        ValueError: a test is missing, a test or path is unknown, or the readings leave less
            than no leakage.

    >>> tests = HoldTests(Measured(120.0, 2.0), Measured(40.0, 1.0))
    >>> predict_hold(tests, "stops_in", ["lower_action"]).statement
    'should hold 60 ± 2 s with all stops in'
    """
    weights = _left(during, removed)
    missing = [test for test in weights if tests.of(test) is None]
    if missing:
        wanted = " and ".join(_TEST_NAMES[test] for test in missing)
        raise ValueError(f"this cannot be predicted without the hold time with {wanted}")
    if not weights:
        raise ValueError("nothing would be left to leak; name fewer parts")
    rate = _sum(weights, tests)
    highest = rate.value + COVERAGE * rate.sd
    if highest <= 0:
        raise ValueError("these hold times leave less than no leakage; make the tests again")
    name = _TEST_NAMES[during]
    if not rate.differs_from(0.0):
        text = (
            f"should hold at least {1 / highest:.0f} s with {name}; "
            "how much longer, these times cannot tell"
        )
        return Prediction(None, 1 / highest, text)
    hold = Measured(1 / rate.value, rate.sd / rate.value**2)
    text = f"should hold {hold} s with {name}"
    return Prediction(hold, 1 / highest, text)


def _left(during: Test, removed: Collection[Path]) -> dict[Test, float]:
    """Weights of the tests whose sum is the leakage that stays."""
    unknown = sorted(set(removed) - set(NAMES))
    if unknown:
        raise ValueError(f'no such leak path: "{unknown[0]}"; known are {", ".join(NAMES)}')
    if during not in _PRESENT:
        raise ValueError(f'no such hold test: "{during}"; known are {", ".join(_PRESENT)}')
    named = set(removed)
    if _COMBINED in named:
        named |= {"joint_and_pan", "pallets"}
    gone = named & _PRESENT[during]
    weights: dict[Test, float] = {during: 1.0}
    for path in sorted(gone):
        for test, weight in _weights(path).items():
            weights[test] = weights.get(test, 0.0) - weight
    return {test: weight for test, weight in weights.items() if weight}
