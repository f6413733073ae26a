"""Which key each heard tone was: the cheapest way along the scale, by dynamic programming.

Keys are played upwards. A tone may be the next key, the same key again, a slip of the finger, or
none at all; a key may be silent, if the time for it is there. The costs are squared departures
where something can be measured, and estimates from memory where it cannot. The method is
R. Bellman, Dynamic programming, 1957, as used to align two sequences (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

import numpy as np
from numpy.typing import NDArray

Costs = NDArray[np.float64]

OFF_SEMITONES = 0.3
"""A reed is usually within this of its note, once the pitch of the instrument is known."""
PER_SEMITONE_WRONG = 6.0
TIME_SPREAD = 0.3
"""Spread of the time between two keys, as a share of it."""
MOST_TIME_COST = 3.0
REPEATED = 2.0
SILENT = 0.9
LEAST_SILENT_TIME = 0.5
"""Up to this part of the time of one key may be missing where keys are taken to be silent."""
SKIPPED = (3.5, 0.7)
BACKWARDS = (3.0, 0.5)
NO_KEY = 4.5
MOST_EXTRAS = 3
OTHER_FIRST_KEY = (1.5, 0.6)
PER_SEMITONE_OFF = 2.0
OFFSETS = (-3, -2, -1, 0, 1, 2, 3)
UNUSUAL_END = 1.0
"""A compass usually ends on F or C (common practice)."""
USUAL_ENDS = (0, 5)
CLEAR_BY = 1.5
"""The second best reading must cost this much more, or both are shown."""


@dataclass(frozen=True)
class Named:
    """The keys of heard tones.

    Attributes:
        keys: the key of each tone, None if it belongs to none.
        silent: keys that were silent although there was time for them.
        skipped: keys that were passed over without time for them; whether they speak is not known.
        offset: how far the instrument stands above the tuner's pitch [semitones].
        period_s: the usual time from key to key [s].
        other_offset: another reading that is nearly as good, None if there is none [semitones].
        cost: of the whole reading, for each tone.
    """

    keys: tuple[int | None, ...]
    silent: tuple[int, ...]
    skipped: tuple[int, ...]
    offset: float
    period_s: float
    other_offset: float | None
    cost: float


def name_keys(
    pitches: Sequence[float],
    starts_s: Sequence[float],
    compass: tuple[int, int],
    first: int | None = None,
) -> Named:
    """Which key each tone was.

    Args:
        pitches: note numbers of the tones as an 8 ft rank would show them, with fractions, in the
            order in which they were played.
        starts_s: when each began [s].
        compass: the lowest and the highest key that there may be.
        first: the key that was played first, if it was said.

    >>> named = name_keys([53.1, 54.1, 55.1, 57.1], [0.0, 2.0, 4.0, 8.1], (29, 89), first=53)
    >>> named.keys, named.silent
    ((53, 54, 55, 57), (56,))
    """
    keys = np.arange(compass[0], compass[1] + 1)
    heard, starts = np.array(pitches), np.array(starts_s)
    fine = _fraction(heard)
    period = _period(heard, starts)
    ways = []
    for offset in OFFSETS:
        departures = np.asarray(heard[:, None] - keys - offset - fine, np.float64)
        cost, path = _cheapest(_off(departures), starts, period, _first_costs(keys, first))
        last = next(k for k in reversed(path) if k is not None)
        cost += PER_SEMITONE_OFF * abs(offset + fine)
        cost += 0.0 if int(keys[last]) % 12 in USUAL_ENDS else UNUSUAL_END
        ways.append((cost, offset + fine, [None if k is None else int(keys[k]) for k in path]))
    ways.sort(key=lambda way: way[0])
    best, second = ways[0], ways[1]
    silent, skipped = _gaps(best[2], starts, period)
    other = second[1] if second[0] < best[0] + CLEAR_BY else None
    cost = best[0] / len(heard)
    return Named(tuple(best[2]), silent, skipped, float(best[1]), period, other, float(cost))


def _fraction(pitches: Costs) -> float:
    """By what part of a semitone all of them are off together, -0.5 to 0.5: circular mean."""
    turn = np.exp(2j * np.pi * pitches).mean()
    return float(np.angle(turn) / (2 * np.pi))


def _period(pitches: Costs, starts: Costs) -> float:
    """The usual time from one key to the next [s]."""
    steps, times = np.diff(pitches), np.diff(starts)
    single = times[(steps > 0.4) & (steps < 1.6)]
    chosen = single if len(single) else times
    return float(median(chosen)) if len(chosen) else 2.0


def _off(departures: Costs) -> Costs:
    """Cost of a departure [semitones] from the note: squared when small, then straight."""
    size = np.abs(departures)
    small = (size / OFF_SEMITONES) ** 2 / 2
    edge = (0.5 / OFF_SEMITONES) ** 2 / 2
    return np.minimum(np.where(size < 0.5, small, edge + PER_SEMITONE_WRONG * (size - 0.5)), 9.0)


def _first_costs(keys: NDArray[np.int64], first: int | None) -> Costs:
    if first is None:
        return np.zeros(len(keys))
    away = np.abs(keys - first)
    return np.where(away == 0, 0.0, OTHER_FIRST_KEY[0] + OTHER_FIRST_KEY[1] * away)


def _silent_costs(steps: NDArray[np.int64], time: float, period: float) -> Costs:
    """Cost of ``steps`` keys up in a time, those between silent."""
    expected = np.maximum(steps, 1) * period
    late = (time - expected) / (TIME_SPREAD * period * np.sqrt(np.maximum(steps, 1)))
    # Whoever lingers, or tries a silent key twice, takes longer: more time costs little.
    capped = np.minimum(late**2 / 2, MOST_TIME_COST)
    too_soon = (steps > 1) & (time < (steps - LEAST_SILENT_TIME) * period)
    return np.asarray(np.where(too_soon, 99.0, capped + SILENT * (np.maximum(steps, 1) - 1)))


def _skip_costs(steps: NDArray[np.int64]) -> Costs:
    return np.asarray(SKIPPED[0] + SKIPPED[1] * (steps - 1))


def _step_costs(count: int, time: float, period: float) -> Costs:
    """Cost of going from any key to any other in a time, shape (count, count)."""
    steps = np.arange(count)[None, :] - np.arange(count)[:, None]
    upwards = np.minimum(
        _silent_costs(steps, time, period), np.where(steps > 1, _skip_costs(steps), 99)
    )
    backwards = BACKWARDS[0] - BACKWARDS[1] * steps
    return np.where(steps > 0, upwards, np.where(steps == 0, REPEATED, backwards))


def _cheapest(
    off: Costs, starts: Costs, period: float, first: Costs
) -> tuple[float, list[int | None]]:
    """The cheapest way: its cost, and the position of the key of each tone."""
    tones, count = off.shape
    best = np.full((tones, count), np.inf)
    came: dict[int, tuple[NDArray[np.int64], NDArray[np.int64]]] = {}
    for tone in range(tones):
        best[tone] = NO_KEY * tone + first + off[tone] if tone <= MOST_EXTRAS else np.inf
        before = np.full(count, -1)
        source = np.zeros(count, int)
        for earlier in range(max(tone - 1 - MOST_EXTRAS, 0), tone):
            extras = tone - earlier - 1
            time = float(starts[tone] - starts[earlier])
            # Tones that belong to no key may have taken time of their own, or none.
            steps = np.minimum(
                _step_costs(count, time, period), _step_costs(count, time - extras * period, period)
            )
            ways = best[earlier][:, None] + steps
            total = ways.min(axis=0) + off[tone] + NO_KEY * extras
            better = total < best[tone]
            best[tone] = np.where(better, total, best[tone])
            before = np.where(better, earlier, before)
            source = np.where(better, ways.argmin(axis=0), source)
        came[tone] = (before, source)
    ends = [best[t].min() + NO_KEY * (tones - 1 - t) for t in range(tones)]
    tone = int(np.argmin(ends))
    cost, key = float(ends[tone]), int(best[tone].argmin())
    path: list[int | None] = [None] * tones
    while tone >= 0:
        path[tone] = key
        tone, key = int(came[tone][0][key]), int(came[tone][1][key])
    return cost, path


def _gaps(
    keys: Sequence[int | None], starts: Costs, period: float
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Keys between those that were heard: silent ones, and those passed over."""
    heard = {key for key in keys if key is not None}
    named = [(key, start) for key, start in zip(keys, starts, strict=True) if key is not None]
    silent: list[int] = []
    skipped: list[int] = []
    for (low, began), (high, next_began) in pairwise(named):
        steps = np.array([high - low])
        if high - low < 2:
            continue
        had_time = _silent_costs(steps, next_began - began, period) < _skip_costs(steps)
        (silent if had_time[0] else skipped).extend(range(low + 1, high))
    skipped_set = {k for k in skipped if k not in heard}
    return tuple(sorted({k for k in silent if k not in heard} - skipped_set)), tuple(
        sorted(skipped_set)
    )
