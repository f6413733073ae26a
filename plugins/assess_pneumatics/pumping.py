"""What the player's feet deliver, against what leaks and what the reeds use."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from assess import not_negative, positive
from assess_pneumatics.leakage import Rise, mean_flow_m3_s, reservoir_volume_m3
from assess_pneumatics.measured import COVERAGE, Measured, propagate

# Strokes a minute of both feet together: an easy pace, and the most that a player keeps up
# through a piece. Estimates from memory.
EASY_STROKES_PER_MIN = 60.0
MOST_STROKES_PER_MIN = 100.0

# Deepest 8 or 16 ft stop, reservoir pumped until the relief valve hisses, lowest key held:
# the note lasts at least so long. A workshop's advice for people interested in harmoniums,
# emmenegger-orgelbau.ch.
NOTE_LASTS_AT_LEAST_S = 20.0

Ease = Literal["easy", "tiring", "not playable", "too close to tell"]


def stroke_m3(length_m: float, depth_m: float, travel_m: float, rise: Rise = "wedge") -> float:
    """Air that an exhauster displaces in one full stroke, by its boards.

    Source: geometry, as :func:`~assess_pneumatics.leakage.reservoir_volume_m3`. What really
    arrives is less, by folds, valves and short strokes; see :func:`delivered_m3`.

    Args:
        length_m: board, along the hinge [m].
        depth_m: board, from hinge to free edge [m].
        travel_m: of the free edge, in one stroke [m].
        rise: "wedge" or "parallel".

    Raises:
        ValueError: a size that is not more than zero, or a travel the boards cannot make.

    >>> round(1000 * stroke_m3(0.43, 0.36, 0.13), 1)  # litres
    10.1
    """
    return reservoir_volume_m3(length_m, depth_m, travel_m, rise)


def delivered_m3(reservoir_m3: float, strokes: float, pumping_s: float, leak_m3_s: float) -> float:
    """Air that one stroke really takes out, from counting strokes to shut the reservoir.

    V_stroke = (V + Q t) / strokes: what was in the reservoir, and what leaked in meanwhile.

    Source: volume balance (derived). Against :func:`stroke_m3` it shows how well the flap
    valves and the exhauster cloth do.

    Args:
        reservoir_m3: air in the reservoir when open, over that when shut [m3].
        strokes: full strokes counted until it is shut [1].
        pumping_s: time they took [s].
        leak_m3_s: leakage [m3/s].

    Raises:
        ValueError: an argument that is not more than zero (leakage may be zero).

    >>> round(1000 * delivered_m3(0.038, 5, 6.0, 0.0006), 2)  # litres
    8.32
    """
    leaked = not_negative("the leakage", leak_m3_s) * positive("the time of pumping", pumping_s)
    return (positive("the volume", reservoir_m3) + leaked) / positive("the strokes", strokes)


def strokes_to_shut(
    reservoir_m3: float, delivered_stroke_m3: float, strokes_per_min: float, leak_m3_s: float
) -> float:
    """Strokes until an open reservoir is shut, no key down; infinite if it never will be.

    N = V / (V_stroke - 60 Q / r).

    Source: volume balance (derived). Three to eight strokes are usual (estimate from memory).

    Args:
        reservoir_m3: air in the reservoir when open, over that when shut [m3].
        delivered_stroke_m3: air that one stroke takes out [m3].
        strokes_per_min: of both feet together [1/min].
        leak_m3_s: leakage [m3/s].

    Raises:
        ValueError: an argument that is not more than zero (leakage may be zero).

    >>> round(strokes_to_shut(0.038, 0.008, 60.0, 0.0006), 1)
    5.1
    """
    positive("the volume", reservoir_m3)
    positive("the air a stroke takes out", delivered_stroke_m3)
    a_stroke_s = 60.0 / positive("the strokes a minute", strokes_per_min)
    gained = delivered_stroke_m3 - not_negative("the leakage", leak_m3_s) * a_stroke_s
    return reservoir_m3 / gained if gained > 0 else math.inf


def reed_flow_m3_s(reservoir_m3: float, hold_s: float, note_s: float) -> float:
    """Air that the reeds sounding use, from how long the wind lasts with and without them.

    Q = V / t_note - V / t_hold.

    Source: volume balance (derived); flows add.

    Args:
        reservoir_m3: air that goes in between shut and fully open [m3].
        hold_s: hold time with no key down [s].
        note_s: the same with the note or chord held [s].

    Raises:
        ValueError: an argument that is not more than zero, or wind that lasts longer with
            the note than without.

    >>> round(1000 * reed_flow_m3_s(0.038, 60.0, 20.0), 2)  # litres a second
    1.27
    """
    leak = mean_flow_m3_s(reservoir_m3, hold_s)
    if positive("the time the note lasts", note_s) >= hold_s:
        raise ValueError("the wind cannot last longer with a note than without one")
    return mean_flow_m3_s(reservoir_m3, note_s) - leak


def note_s(reservoir_m3: float, leak_m3_s: float, reeds_m3_s: float) -> float:
    """How long a note lasts on one reservoir, with the feet still.

    t = V / (Q_leak + Q_reeds). To be held against :data:`NOTE_LASTS_AT_LEAST_S`.

    Source: volume balance (derived).

    Args:
        reservoir_m3: air that goes in between shut and fully open [m3].
        leak_m3_s: leakage [m3/s].
        reeds_m3_s: air that the reeds use [m3/s].

    Raises:
        ValueError: a negative flow, no flow at all, or no volume.

    >>> round(note_s(0.038, 0.0006, 0.0012), 1)
    21.1
    """
    return positive("the volume", reservoir_m3) / _demand_m3_s(leak_m3_s, reeds_m3_s)


def _demand_m3_s(leak_m3_s: float, reeds_m3_s: float) -> float:
    leak = not_negative("the leakage", leak_m3_s)
    return positive("the air used", leak + not_negative("the air of the reeds", reeds_m3_s))


def lost_share(leak_m3_s: float, reeds_m3_s: float) -> float:
    """Share of the player's work that goes into leaks: Q_leak / (Q_leak + Q_reeds).

    Source: derived; the work at a given suction is suction times air moved, so shares of
    air are shares of work. Friction and exhauster springs are left out.

    Args:
        leak_m3_s: leakage [m3/s].
        reeds_m3_s: air that the reeds use [m3/s].

    Raises:
        ValueError: a negative flow, or no flow at all.

    >>> round(lost_share(0.0006, 0.0012), 3)
    0.333
    """
    return leak_m3_s / _demand_m3_s(leak_m3_s, reeds_m3_s)


def pumping_power_w(flow_m3_s: float, suction_pa: float) -> float:
    """Power that goes into moving air against suction: P = p Q.

    Source: thermodynamics of a small pressure difference. The legs also move boards,
    springs and cloth.

    Args:
        flow_m3_s: air moved [m3/s].
        suction_pa: against this suction [Pa].

    Raises:
        ValueError: a flow or suction that is not more than zero.

    >>> round(pumping_power_w(0.005, 747.0), 2)
    3.73
    """
    return positive("the flow", flow_m3_s) * positive("the suction", suction_pa)


def strokes_needed_per_min(
    delivered_stroke_m3: float, leak_m3_s: float, reeds_m3_s: float
) -> float:
    """Strokes a minute that keep the reservoir where it is: 60 (Q_leak + Q_reeds) / V_stroke.

    Source: volume balance (derived).

    Args:
        delivered_stroke_m3: air that one stroke takes out [m3].
        leak_m3_s: leakage [m3/s].
        reeds_m3_s: air that the reeds use [m3/s].

    Raises:
        ValueError: a negative flow, no flow at all, or an empty stroke.

    >>> round(strokes_needed_per_min(0.008, 0.0006, 0.0012), 1)
    13.5
    """
    demand = _demand_m3_s(leak_m3_s, reeds_m3_s)
    return 60.0 * demand / positive("the air a stroke takes out", delivered_stroke_m3)


@dataclass(frozen=True)
class Playing:
    """Whether the feet can keep up.

    Attributes:
        ease: "easy", "tiring", "not playable" or "too close to tell".
        strokes_per_min: needed, of both feet together [1/min].
        lost_share: of the work, into leaks [1].
        statement: the same in a sentence.
    """

    ease: Ease
    strokes_per_min: Measured
    lost_share: Measured
    statement: str


def judge_playing(
    delivered_stroke_m3: Measured,
    leak_m3_s: Measured,
    reeds_m3_s: Measured,
    easy_per_min: float = EASY_STROKES_PER_MIN,
    most_per_min: float = MOST_STROKES_PER_MIN,
) -> Playing:
    """Whether the instrument can be played by foot, and what share of the work leaks away.

    The strokes needed, give or take two standard deviations, must lie on one side of a limit
    for a verdict.

    Source: :func:`strokes_needed_per_min` and :func:`lost_share`, errors by
    :func:`~assess_pneumatics.measured.propagate`; the two limits are estimates from memory.

    Args:
        delivered_stroke_m3: air that one stroke takes out [m3].
        leak_m3_s: leakage [m3/s].
        reeds_m3_s: air that the reeds use, in the fullest playing wanted [m3/s].
        easy_per_min: up to here it is easy [1/min].
        most_per_min: up to here it can be done [1/min].

    Raises:
        ValueError: flows that cannot be, an empty stroke, or limits out of order.

    >>> judge_playing(Measured(8e-3, 5e-4), Measured(6e-4, 5e-5), Measured(5e-3, 5e-4)).statement
    'easy: 42 ± 5 strokes a minute, 11 % of the work lost to leaks'
    """
    if positive("the easy pace", easy_per_min) >= positive("the fastest pace", most_per_min):
        raise ValueError("the fastest pace must be above the easy one")
    strokes = propagate(strokes_needed_per_min, delivered_stroke_m3, leak_m3_s, reeds_m3_s)
    lost = propagate(lost_share, leak_m3_s, reeds_m3_s)
    low = _ease(strokes.value - COVERAGE * strokes.sd, easy_per_min, most_per_min)
    high = _ease(strokes.value + COVERAGE * strokes.sd, easy_per_min, most_per_min)
    ease: Ease = low if low == high else "too close to tell"
    statement = (
        f"{ease}: {strokes} strokes a minute, {100 * lost.value:.0f} % of the work lost to leaks"
    )
    return Playing(ease, strokes, lost, statement)


def _ease(strokes_per_min: float, easy_per_min: float, most_per_min: float) -> Ease:
    if strokes_per_min <= easy_per_min:
        return "easy"
    return "tiring" if strokes_per_min <= most_per_min else "not playable"
