"""Robust fits to the pitches of reeds: sets that stand apart, and the temperament left in them.

Everything here is medians and absolute deviations, so that a reed gone wild, or one slip of
the pen, moves nothing.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from statistics import fmean, median

from assess_reeds.pitch import CONCERT_A_HZ
from assess_reeds.rows import ReedRow, reading_cents
from assess_reeds.temperament import TEMPERAMENT_NAMES, Temperament, temperament

# 1 / (normal quantile of 3/4): turns a median absolute deviation into a standard deviation
# (P. J. Huber, Robust Statistics, 1981, from memory for the place).
MAD_TO_SD = 1.482602218505602

# All of these are estimates from memory.
MIN_READINGS = 4  # fewer reeds than this give a rank no pitch of its own
MIN_SET_READINGS = 5  # fewer reeds than this are strays, not a second set
SET_APART_CENTS = 15.0  # sets closer than this cannot be told from bad tuning
SET_CLEARNESS = 5.0  # sets stand apart by so many times the scatter inside them
SET_CAUTION_READINGS = 4.0  # the fewer reeds, the more: with so many, twice as much
READING_FLOOR_CENTS = 1.0  # no reading of a reed is better than this
MIN_NOTES = 8  # fewer of the twelve notes cannot show a temperament
POOR_FIT_CENTS = 8.0  # a temperament missed by this much on average was not set
SURE_WEIGHT = 0.9  # share of belief from which a temperament is named
OPEN_WEIGHT = 0.05  # share below which a temperament is out of question
EQUAL_PRIOR = 0.5  # equal temperament before listening; the others share the rest

EQUAL = temperament("equal")


@dataclass(frozen=True)
class Reading:
    """A reed with its pitch: cents above its note in equal temperament at A4 = 440 Hz."""

    row: ReedRow
    cents: float

    def above(self, tempering: Temperament) -> float:
        """Cents above its note in a temperament whose A4 is 440 Hz."""
        return self.cents - tempering.offset_cents(self.row.sounding_midi)


def readings_of(rows: Iterable[ReedRow], tuner_a_hz: float = CONCERT_A_HZ) -> tuple[Reading, ...]:
    """The reeds whose pitch was taken.

    Args:
        rows: the survey.
        tuner_a_hz: what the tuner's A was set to when cents were read [Hz].

    Raises:
        ValueError: a tuner set to no pitch of this world.
    """
    cents = ((row, reading_cents(row, tuner_a_hz)) for row in rows)
    return tuple(Reading(row, value) for row, value in cents if value is not None)


def separate_sets(values: Sequence[float]) -> tuple[tuple[int, ...], ...]:
    """Split readings into sets that stand clearly apart; usually there is only one.

    The split is the one with the least sum of absolute deviations from the two medians. It
    counts if the medians are at least SET_APART_CENTS apart and SET_CLEARNESS times the
    scatter inside the sets (a single normal heap would show 2.3 times, an even spread 2.7;
    with few reeds more is asked, since chance then does much), and if each has
    MIN_SET_READINGS without borrowing from the other; then each part is looked at again.

    Source: k-medians with k = 2, exact in one dimension; the thresholds are estimates from
    memory.

    Args:
        values: pitches of the reeds of a rank [cents].

    Returns:
        For each set the positions in ``values``, the lowest set first.

    >>> separate_sets([0, 1, 54, 2, 55, 0, 53, 54, 1, 56])
    ((0, 1, 3, 5, 8), (2, 4, 6, 7, 9))
    >>> separate_sets([0, 3, 6, 9, 12, 15, 18, 21, 24, 27])
    ((0, 1, 2, 3, 4, 5, 6, 7, 8, 9),)
    """
    order = sorted(range(len(values)), key=lambda position: values[position])
    parts = _split([(values[position], position) for position in order])
    return tuple(tuple(sorted(position for _, position in part)) for part in parts)


def _split(ranked: list[tuple[float, int]]) -> list[list[tuple[float, int]]]:
    cut = _best_cut([value for value, _ in ranked])
    if cut is None:
        return [ranked]
    lower, upper = ranked[:cut], ranked[cut:]
    if not _stand_apart([value for value, _ in lower], [value for value, _ in upper]):
        return [ranked]
    return _split(lower) + _split(upper)


def _stand_apart(lower: list[float], upper: list[float]) -> bool:
    low, high = median(lower), median(upper)
    # A reed nearer to the other set was only drawn in to make up the number of a set.
    if not lower[-1] < (low + high) / 2 < upper[0]:
        return False
    distances = [abs(value - low) for value in lower] + [abs(value - high) for value in upper]
    clearness = SET_CLEARNESS * (1 + SET_CAUTION_READINGS / len(distances))
    return high - low >= max(SET_APART_CENTS, clearness * MAD_TO_SD * median(distances))


def _best_cut(values: list[float]) -> int | None:
    sums = [0.0, *accumulate(values)]

    def deviations(start: int, end: int) -> float:
        # About the median, the upper half minus the lower half; an odd middle cancels.
        half = (end - start) // 2
        return (sums[end] - sums[end - half]) - (sums[start + half] - sums[start])

    cuts = range(MIN_SET_READINGS, len(values) - MIN_SET_READINGS + 1)
    return min(
        cuts, key=lambda cut: deviations(0, cut) + deviations(cut, len(values)), default=None
    )


@dataclass(frozen=True)
class Candidate:
    """A temperament the instrument may have been left in.

    Attributes:
        temperament: the temperament.
        mean_off_cents: how far the twelve notes lie from it on average [cents].
        weight: share of belief, all candidates together 1.
    """

    temperament: Temperament
    mean_off_cents: float
    weight: float


@dataclass(frozen=True)
class TemperamentFit:
    """The temperament, or why it cannot be told.

    Attributes:
        likely: the temperament, None where it cannot be told.
        candidates: all that were tried, best first.
        notes: how many of the twelve notes were read.
        says: the result in a sentence.
    """

    likely: Temperament | None
    candidates: tuple[Candidate, ...]
    notes: int
    says: str

    @property
    def still_open(self) -> tuple[Candidate, ...]:
        """Those that are not out of question."""
        return tuple(one for one in self.candidates if one.weight >= OPEN_WEIGHT)

    @property
    def assumed(self) -> Temperament:
        """One to reckon with: the likely one, else equal unless that is out of question."""
        if self.likely is not None:
            return self.likely
        names = {one.temperament.name for one in self.still_open}
        if not names or "equal" in names or self.candidates[0].mean_off_cents > POOR_FIT_CENTS:
            return EQUAL
        return self.candidates[0].temperament


def fit_temperament(
    groups: Sequence[Sequence[Reading]], candidates: Sequence[Temperament] = ()
) -> TemperamentFit:
    """The temperament that the tuning comes closest to.

    Each group (a set of reeds that stand together) has a pitch of its own, the median of its
    reeds. What is left is put together by note name, C to B, as a median again: octaves are
    tuned from one another, so twelve notes are twelve witnesses however many reeds there are.
    The mean of their absolute deviations s is what a candidate is judged by. Its weight is
    prior * max(s, 1 cent) ** -n for n notes: the likelihood of n deviations with Laplace's law
    of errors, its width fitted. Half the prior is on equal temperament.

    Source: least absolute deviations (common practice); Laplace's first law of error (1774)
    for the weight. Priors and thresholds are estimates from memory. Valid for candidates that
    differ by more than a tuner can read; the others stay open together.

    Args:
        groups: readings of each set.
        candidates: temperaments to try; if empty, every one known, built on C.

    Returns:
        The fit; its ``likely`` is None where two are too close, where nothing fits, or where
        too few of the twelve notes were read.
    """
    tried = _different(candidates or [temperament(name) for name in TEMPERAMENT_NAMES])
    used = [group for group in groups if len(group) >= MIN_READINGS]
    notes = len({reading.row.sounding_midi % 12 for group in used for reading in group})
    if notes < MIN_NOTES:
        says = f"cannot tell the temperament: only {notes} of the twelve notes were read"
        return TemperamentFit(None, (), notes, says)
    scored = [(one, _mean_off_cents(used, one)) for one in tried]
    ranked = _weighed(scored, notes)
    likely, says = _decided(ranked)
    return TemperamentFit(likely, ranked, notes, says)


def _different(candidates: Sequence[Temperament]) -> list[Temperament]:
    kept: list[Temperament] = []
    for candidate in candidates:
        if not any(candidate.same_as(other) for other in kept):
            kept.append(candidate)
    return kept


def _mean_off_cents(groups: Sequence[Sequence[Reading]], tempering: Temperament) -> float:
    by_note: defaultdict[int, list[float]] = defaultdict(list)
    for group in groups:
        level = median(reading.above(tempering) for reading in group)
        for reading in group:
            by_note[reading.row.sounding_midi % 12].append(reading.above(tempering) - level)
    notes = [median(values) for values in by_note.values()]
    middle = median(notes)
    return fmean(abs(note - middle) for note in notes)


def _weighed(scored: list[tuple[Temperament, float]], notes: int) -> tuple[Candidate, ...]:
    others = max(1, sum(one.name != "equal" for one, _ in scored))
    logs = [
        math.log(EQUAL_PRIOR if one.name == "equal" else (1 - EQUAL_PRIOR) / others)
        - notes * math.log(max(off_cents, READING_FLOOR_CENTS))
        for one, off_cents in scored
    ]
    top = max(logs)
    total = sum(math.exp(log - top) for log in logs)
    weighed = [
        Candidate(one, off_cents, math.exp(log - top) / total)
        for (one, off_cents), log in zip(scored, logs, strict=True)
    ]
    return tuple(sorted(weighed, key=lambda one: (-one.weight, one.mean_off_cents)))


def _decided(ranked: tuple[Candidate, ...]) -> tuple[Temperament | None, str]:
    best = ranked[0]
    if best.mean_off_cents > POOR_FIT_CENTS:
        return None, (
            f"cannot tell the temperament: even the closest, {_called(best.temperament)}, is "
            f"missed by {best.mean_off_cents:.1f} cents on average"
        )
    if best.weight >= SURE_WEIGHT:
        return best.temperament, (
            f"{_called(best.temperament)}, to {best.mean_off_cents:.1f} cents on average"
        )
    names = " or ".join(_called(one.temperament) for one in ranked if one.weight >= OPEN_WEIGHT)
    return None, f"cannot tell the temperament: {names}"


def _called(tempering: Temperament) -> str:
    return tempering.title if tempering.key == "C" else f"{tempering.title} on {tempering.key}"
