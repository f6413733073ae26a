"""What the player's feet move, against what leaks and what the reeds use."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assess import positive
from assess_pneumatics.uncertainty import COVERAGE, Measured, propagate

# Strokes per minute of both feet together: an easy pace, and the most that a player keeps up
# through a piece. Estimates from memory.
EASY_STROKES_PER_MIN = 60.0
MOST_STROKES_PER_MIN = 100.0

Ease = Literal["easy", "tiring", "not playable", "too close to tell"]


def strokes_to_close(
    reservoir_m3: float,
    stroke_m3: float,
    hold_s: float,
    strokes_per_min: float = EASY_STROKES_PER_MIN,
) -> float:
    """Full strokes until an open reservoir is closed, no key held [1].

    N = V / (V_stroke - V / t_hold * 60 / pace): each stroke moves its volume, less what leaks
    in meanwhile.

    Source: volume balance (derived). Three to eight strokes are usual (estimate from memory).
    The stroke is taken from the boards, so this is the least that is needed: folds, flap
    valves and short strokes cost more.

    Args:
        reservoir_m3: air in the reservoir between closed and open [m3].
        stroke_m3: air that one exhauster moves in a full stroke [m3].
        hold_s: hold time of the whole instrument [s].
        strokes_per_min: pace of both feet together [1/min].

    Raises:
        ValueError: an argument that is not above zero, or more leaks in than a stroke moves.

    >>> round(strokes_to_close(0.038, 0.008, 60.0), 1)
    5.2
    """
    positive("the volume", reservoir_m3)
    positive("the stroke", stroke_m3)
    stroke_s = 60.0 / positive("the pace", strokes_per_min)
    leaked = reservoir_m3 / positive("the hold time", hold_s) * stroke_s
    if leaked >= stroke_m3:
        raise ValueError("it never closes: more leaks in than the strokes move")
    return reservoir_m3 / (stroke_m3 - leaked)


def strokes_per_min(reservoir_m3: float, stroke_m3: float, note_s: float) -> float:
    """Strokes per minute that keep the reservoir where it is while a note is held [1/min].

    60 V / (t_note V_stroke): in the time that the note lasts, reeds and leaks together let
    the volume of the reservoir in.

    Source: volume balance (derived).

    Args:
        reservoir_m3: air in the reservoir between closed and open [m3].
        stroke_m3: air that one exhauster moves in a full stroke [m3].
        note_s: how long the note lasts on one full pump [s].

    Raises:
        ValueError: an argument that is not above zero.

    >>> round(strokes_per_min(0.038, 0.008, 20.0), 2)
    14.25
    """
    positive("the volume", reservoir_m3)
    positive("the stroke", stroke_m3)
    return 60.0 * reservoir_m3 / (stroke_m3 * positive("the time of the note", note_s))


@dataclass(frozen=True)
class Playing:
    """Whether the feet can keep up.

    Attributes:
        ease: "easy", "tiring", "not playable" or "too close to tell".
        strokes_per_min: needed, of both feet together [1/min].
        statement: the same in words, with the share of the work lost to leaks.
    """

    ease: Ease
    strokes_per_min: Measured
    statement: str


def judge_playing(
    reservoir_m3: Measured, stroke_m3: Measured, hold_s: Measured, note_s: Measured
) -> Playing:
    """Whether a note can be kept up by foot, and what share of the work leaks away.

    The strokes needed, plus and minus two standard deviations, must be on one side of a limit
    for a verdict. The share lost to leaks is the air that leaks over all the air that comes
    in, t_note / t_hold; the work at a given suction is suction times air moved, so shares of
    air are shares of work. Friction and exhauster springs are left out.

    Source: :func:`strokes_per_min`; volume balance (derived); uncertainty by
    :func:`~assess_pneumatics.uncertainty.propagate`; the two limits are estimates from memory.

    Args:
        reservoir_m3: air in the reservoir between closed and open [m3].
        stroke_m3: air that one exhauster moves in a full stroke [m3].
        hold_s: hold time of the whole instrument, no key held [s].
        note_s: how long the note lasts on one full pump [s].

    Raises:
        ValueError: readings that are not above zero, or a note that lasts longer than the
            wind without it.

    >>> judge_playing(Measured(38e-3, 1e-3), Measured(8e-3, 5e-4), Measured(60, 1),
    ...     Measured(7, 1)).statement
    'easy: 41 ± 7 strokes per minute, 12 % of the work lost to leaks'
    """
    if note_s.value >= hold_s.value:
        raise ValueError("the wind cannot last longer with a note than without")
    strokes = propagate(strokes_per_min, reservoir_m3, stroke_m3, note_s)
    low = _ease(strokes.value - COVERAGE * strokes.sd)
    high = _ease(strokes.value + COVERAGE * strokes.sd)
    ease: Ease = low if low == high else "too close to tell"
    lost = 100.0 * note_s.value / hold_s.value
    statement = f"{ease}: {strokes} strokes per minute, {lost:.0f} % of the work lost to leaks"
    return Playing(ease, strokes, statement)


def _ease(pace: float) -> Ease:
    if pace <= EASY_STROKES_PER_MIN:
        return "easy"
    return "tiring" if pace <= MOST_STROKES_PER_MIN else "not playable"
