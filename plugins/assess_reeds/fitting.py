"""Robust fits to the pitches of reeds: sets that are apart, and the temperament they are tuned in.

Everything here uses medians and absolute deviations, so that one odd reed, or one error in
writing, changes almost nothing.
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
from assess_reeds.temperament import TEMPERAMENT_NAMES, Temperament, named_temperament

# 1 / (normal quantile of 3/4): turns a median absolute deviation into a standard deviation
# (P. J. Huber, Robust Statistics, 1981; the page is from memory).
MAD_TO_SD = 1.482602218505602

# All of these are estimates from memory.
MIN_READINGS = 4  # a rank with fewer readings has no pitch of its own
MIN_SET_READINGS = 5  # fewer readings than this are strays, not a second set
SET_APART_CENTS = 15.0  # sets closer than this look like bad tuning
SET_CLEARNESS = 5.0  # sets must be this many times the scatter inside them apart
SET_CAUTION_READINGS = 4.0  # with this many readings, twice as far apart; with more, less
READING_FLOOR_CENTS = 1.0  # no reading of a reed is more accurate than this
MIN_NOTES = 8  # with fewer of the twelve notes, a temperament cannot be recognised
POOR_FIT_CENTS = 8.0  # a temperament missed by this much on average was not intended
SURE_WEIGHT = 0.9  # probability from which a temperament is named
OPEN_WEIGHT = 0.05  # probability below which a temperament is ruled out
EQUAL_PRIOR = 0.5  # prior probability of equal temperament; the others share the rest

EQUAL = named_temperament("equal")


@dataclass(frozen=True)
class Reading:
    """A reed with its pitch: cents above its note in equal temperament at A4 = 440 Hz."""

    row: ReedRow
    cents: float

    def cents_above(self, temperament: Temperament) -> float:
        """Cents above its note in a temperament whose A4 is 440 Hz."""
        return self.cents - temperament.offset_cents(self.row.sounding_midi)


def readings_of(rows: Iterable[ReedRow], tuner_a_hz: float = CONCERT_A_HZ) -> tuple[Reading, ...]:
    """The reeds whose pitch was read.

    Args:
        rows: the survey.
        tuner_a_hz: what the tuner's A was set to when the cents were read [Hz].

    Raises:
        ValueError: the tuner's A is out of range.
    """
    cents = ((row, reading_cents(row, tuner_a_hz)) for row in rows)
    return tuple(Reading(row, value) for row, value in cents if value is not None)


def separate_sets(values: Sequence[float]) -> tuple[tuple[int, ...], ...]:
    """Split readings into sets that are clearly apart; usually there is only one.

    The split is the one with the smallest sum of absolute deviations from the two medians. It
    counts if the medians are at least SET_APART_CENTS apart and SET_CLEARNESS times the scatter
    inside the sets (one normal cluster would show 2.3 times, an even spread 2.7; with few reeds
    more is needed, because chance then does a lot), and if each set has MIN_SET_READINGS without
    taking any from the other. Each part is then split again in the same way.

    Source: k-medians with k = 2, exact in one dimension; the thresholds are estimates from
    memory.

    Args:
        values: pitches of the reeds of a rank, shape (n,) [cents].

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
    if not _are_apart([value for value, _ in lower], [value for value, _ in upper]):
        return [ranked]
    return _split(lower) + _split(upper)


def _are_apart(lower: list[float], upper: list[float]) -> bool:
    low, high = median(lower), median(upper)
    # A reed nearer to the other set is here only to make up the number of a set.
    if not lower[-1] < (low + high) / 2 < upper[0]:
        return False
    distances = [abs(value - low) for value in lower] + [abs(value - high) for value in upper]
    clearness = SET_CLEARNESS * (1 + SET_CAUTION_READINGS / len(distances))
    return high - low >= max(SET_APART_CENTS, clearness * MAD_TO_SD * median(distances))


def _best_cut(values: list[float]) -> int | None:
    sums = [0.0, *accumulate(values)]

    def deviations(start: int, end: int) -> float:
        # About the median: the upper half minus the lower half; an odd middle cancels out.
        half = (end - start) // 2
        return (sums[end] - sums[end - half]) - (sums[start + half] - sums[start])

    cuts = range(MIN_SET_READINGS, len(values) - MIN_SET_READINGS + 1)
    return min(
        cuts, key=lambda cut: deviations(0, cut) + deviations(cut, len(values)), default=None
    )


@dataclass(frozen=True)
class Candidate:
    """A temperament that the instrument may be tuned in.

    Attributes:
        temperament: the temperament.
        mean_off_cents: mean distance of the twelve notes from it [cents].
        weight: its probability; all candidates together make 1.
    """

    temperament: Temperament
    mean_off_cents: float
    weight: float


@dataclass(frozen=True)
class TemperamentFit:
    """The temperament, or why it is not clear.

    Attributes:
        likely: the temperament, None if it is not clear.
        candidates: all temperaments tried, best first.
        notes: how many of the twelve notes were read.
        says: the result in words.
    """

    likely: Temperament | None
    candidates: tuple[Candidate, ...]
    notes: int
    says: str

    @property
    def still_open(self) -> tuple[Candidate, ...]:
        """The candidates that are not ruled out."""
        return tuple(one for one in self.candidates if one.weight >= OPEN_WEIGHT)

    @property
    def assumed(self) -> Temperament:
        """The temperament to compute with: the likely one, else equal unless ruled out."""
        if self.likely is not None:
            return self.likely
        names = {one.temperament.name for one in self.still_open}
        if not names or "equal" in names or self.candidates[0].mean_off_cents > POOR_FIT_CENTS:
            return EQUAL
        return self.candidates[0].temperament


def fit_temperament(groups: Sequence[Sequence[Reading]]) -> TemperamentFit:
    """The temperament that the tuning comes closest to, of all known ones, built on C.

    Each group (a set of reeds that belong together) has a pitch of its own, the median of its
    reeds. What remains is combined by note name, C to B, again by the median: octaves are tuned
    from one another, so the twelve notes are twelve observations, however many reeds there are.
    A candidate is judged by the mean s of their absolute deviations. Its weight is
    prior * max(s, 1 cent) ** -n for n notes: the likelihood of n deviations with Laplacian
    errors of fitted width. Half of the prior is on equal temperament.

    Source: least absolute deviations (common practice); Laplace's first law of error (1774) for
    the weight. Prior and thresholds are estimates from memory. Valid for candidates that differ
    by more than a tuner can read; closer ones stay open together.

    Args:
        groups: readings of each set.

    Returns:
        The fit; its ``likely`` is None if two candidates are too close, nothing fits, or too
        few of the twelve notes were read.
    """
    used = [group for group in groups if len(group) >= MIN_READINGS]
    notes = len({reading.row.sounding_midi % 12 for group in used for reading in group})
    if notes < MIN_NOTES:
        says = f"not clear, because only {notes} of the twelve notes were read"
        return TemperamentFit(None, (), notes, says)
    candidates = [named_temperament(name) for name in TEMPERAMENT_NAMES]
    ranked = _weighed([(one, _mean_off_cents(used, one)) for one in candidates], notes)
    likely, says = _decided(ranked)
    return TemperamentFit(likely, ranked, notes, says)


def _mean_off_cents(groups: Sequence[Sequence[Reading]], temperament: Temperament) -> float:
    by_note: defaultdict[int, list[float]] = defaultdict(list)
    for group in groups:
        level = median(reading.cents_above(temperament) for reading in group)
        for reading in group:
            off_cents = reading.cents_above(temperament) - level
            by_note[reading.row.sounding_midi % 12].append(off_cents)
    notes = [median(values) for values in by_note.values()]
    middle = median(notes)
    return fmean(abs(note - middle) for note in notes)


def _weighed(scored: list[tuple[Temperament, float]], notes: int) -> tuple[Candidate, ...]:
    others = len(scored) - 1
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
            f"not clear, because even the closest, {best.temperament.title}, is "
            f"{best.mean_off_cents:.1f} cents off on average"
        )
    if best.weight >= SURE_WEIGHT:
        return best.temperament, (
            f"{best.temperament.title}, {best.mean_off_cents:.1f} cents off on average"
        )
    titles = [one.temperament.title for one in ranked if one.weight >= OPEN_WEIGHT]
    return None, f"not clear, possibly {' or '.join(titles)}"
