"""Where an instrument stands: its pitch, its ranks, and how its celestes beat."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean, median

from assess_reeds.fitting import (
    EQUAL,
    MAD_TO_SD,
    MIN_READINGS,
    Reading,
    TemperamentFit,
    fit_temperament,
    separate_sets,
)
from assess_reeds.pitch import CONCERT_A_HZ, shifted_hz
from assess_reeds.rows import ReedRow
from assess_reeds.temperament import Temperament, celeste_beats_per_s, celeste_cents

# The median of n normal readings has a standard deviation of sqrt(pi / 2) sd / sqrt(n): P. J.
# Huber, Robust Statistics (1981), from memory for the place.
MEDIAN_LOSS = math.sqrt(math.pi / 2)

RANKS_AGREE_CENTS = 10.0  # ranks this close stand at one pitch: estimate from memory

# One pattern must fit a celeste this much better than the other, over this ratio of pitches,
# before its tuning is called even or racing: estimates from memory.
CELESTE_CLEARNESS = 0.8
CELESTE_LEAST_RATIO = 2.0


@dataclass(frozen=True)
class RankSet:
    """Reeds of one rank that stand together; a rank of mixed origin has two or more.

    Attributes:
        rank: name of the rank.
        feet: its length name [ft].
        key_midis: its keys with a reading, upward.
        cents: its pitch above A4 = 440 Hz [cents].
        spread_cents: median distance of its reeds from that [cents].
    """

    rank: str
    feet: int
    key_midis: tuple[int, ...]
    cents: float
    spread_cents: float

    @property
    def a_hz(self) -> float:
        """Its pitch as A4 [Hz]."""
        return shifted_hz(CONCERT_A_HZ, self.cents)

    @property
    def sure(self) -> bool:
        """Whether there are reeds enough to speak of a pitch."""
        return len(self.key_midis) >= MIN_READINGS


@dataclass(frozen=True)
class Pitch:
    """The pitch that the reeds of an instrument share.

    Attributes:
        cents: its A above A4 = 440 Hz [cents].
        spread_cents: median distance of the reeds from it [cents].
        readings: reeds that it rests on.
        sd_cents: standard deviation of ``cents`` from the scatter of the reeds, and from not
            knowing which temperament leads to A; the tuner's own error comes on top [cents].
    """

    cents: float
    spread_cents: float
    readings: int
    sd_cents: float

    @property
    def a_hz(self) -> float:
        """The same as A4 [Hz]."""
        return shifted_hz(CONCERT_A_HZ, self.cents)


@dataclass(frozen=True)
class CelesteFit:
    """How a celeste rank beats against its unison.

    Attributes:
        rank: name of the rank.
        feet: its length name [ft].
        beats_per_s: median beats, negative for a flat celeste [1/s].
        cents: median offset [cents].
        even: True if it beats evenly up the compass, False if it was tuned by octaves and
            races upward, None where that cannot be told.
    """

    rank: str
    feet: int
    beats_per_s: float
    cents: float
    even: bool | None


@dataclass(frozen=True)
class Standing:
    """Where the instrument stands.

    Attributes:
        pitch: its pitch, None where the ranks do not agree or nothing was read.
        temperament: the temperament, or why it cannot be told.
        assumed: the temperament reckoned with: the likely one; else equal, unless that is out
            of question.
        sets: the ranks, mixed ones in parts; celestes are left out.
        celestes: the celeste ranks with at least MIN_READINGS reeds read.
        says: the pitch in a sentence.
    """

    pitch: Pitch | None
    temperament: TemperamentFit
    assumed: Temperament
    sets: tuple[RankSet, ...]
    celestes: tuple[CelesteFit, ...]
    says: str

    def celeste_offset(self, row: ReedRow) -> float | None:
        """How far from its unison the beats of its rank put a reed [cents].

        Zero for a rank that is no celeste, None for a celeste whose beats are not known.
        """
        if not row.celeste:
            return 0.0
        beats = self.celeste_beats_per_s(row)
        if beats is None or self.pitch is None:
            return None
        unison_hz = shifted_hz(self.assumed.hz(row.sounding_midi), self.pitch.cents)
        return beating_cents(unison_hz, beats)

    def celeste_beats_per_s(self, row: ReedRow) -> float | None:
        """Beats of the celeste a reed belongs to, negative if flat; None if not known [1/s]."""
        fits = (one for one in self.celestes if (one.rank, one.feet) == (row.rank, row.feet))
        return next((fit.beats_per_s for fit in fits), None)


def beating_cents(unison_hz: float, signed_beats_per_s: float) -> float:
    """Offset of a celeste reed for beats that are negative if it is flat.

    In the lowest bass the rate of the treble could ask a flat reed for less than no vibration:
    there it is held at an octave.

    Source: as for ``celeste_cents``.

    Args:
        unison_hz: frequency of the unison [Hz].
        signed_beats_per_s: beats, negative for a flat celeste [1/s].

    Raises:
        ValueError: a frequency that is not more than zero, or beats that are no number.

    >>> round(beating_cents(440.0, -2.0), 1), round(beating_cents(20.0, -15.0), 1)
    (-7.9, -1200.0)
    """
    if signed_beats_per_s >= 0:
        return celeste_cents(unison_hz, signed_beats_per_s)
    return celeste_cents(unison_hz, min(-signed_beats_per_s, unison_hz / 2), sharp=False)


def standing(readings: Sequence[Reading], candidates: Sequence[Temperament] = ()) -> Standing:
    """Where the instrument stands.

    The pitch is the median over the reeds of the ranks that agree (within RANKS_AGREE_CENTS),
    if these hold more than half of the reeds read; otherwise there is no one pitch.

    Source: medians (common practice); thresholds are estimates from memory. The pitch is that
    of the day: reeds fall as the room warms.

    Args:
        readings: reeds with their pitch.
        candidates: temperaments to try; if empty, every one known, built on C.
    """
    groups = [
        [rank[position] for position in part]
        for rank in _by_rank(reading for reading in readings if not reading.row.celeste)
        for part in separate_sets([reading.cents for reading in rank])
    ]
    fit = fit_temperament(groups, candidates)
    assumed = fit.assumed
    sets = tuple(_rank_set(group, assumed) for group in groups)
    pitch = _common_pitch(groups, sets, fit)
    celestes = _celestes(readings, pitch, assumed)
    return Standing(pitch, fit, assumed, sets, celestes, _pitch_says(pitch, sets))


def _by_rank(readings: Iterable[Reading]) -> list[list[Reading]]:
    ranks: defaultdict[tuple[str, int], list[Reading]] = defaultdict(list)
    for reading in readings:
        ranks[reading.row.rank, reading.row.feet].append(reading)
    return [sorted(ranks[rank], key=lambda reading: reading.row.key_midi) for rank in sorted(ranks)]


def _rank_set(group: Sequence[Reading], assumed: Temperament) -> RankSet:
    level, spread = _middle([reading.above(assumed) for reading in group])
    row = group[0].row
    keys = tuple(reading.row.key_midi for reading in group)
    return RankSet(row.rank, row.feet, keys, level, spread)


def _middle(values: Sequence[float]) -> tuple[float, float]:
    level = median(values)
    return level, median(abs(value - level) for value in values)


def _common_pitch(
    groups: Sequence[Sequence[Reading]], sets: Sequence[RankSet], fit: TemperamentFit
) -> Pitch | None:
    def reeds_near(one: RankSet) -> int:
        return sum(len(other.key_midis) for other in sets if _agree(one, other))

    centre = max(sets, key=reeds_near, default=None)
    if centre is None or 2 * reeds_near(centre) <= sum(len(one.key_midis) for one in sets):
        return None
    shared = [
        reading
        for group, one in zip(groups, sets, strict=True)
        if _agree(centre, one)
        for reading in group
    ]
    cents, spread = _middle([reading.above(fit.assumed) for reading in shared])
    scatter = MEDIAN_LOSS * MAD_TO_SD * spread / math.sqrt(len(shared))
    sd = math.hypot(scatter, _sd_of_a(shared, fit, cents))
    return Pitch(cents, spread, len(shared), sd)


def _sd_of_a(shared: Sequence[Reading], fit: TemperamentFit, cents: float) -> float:
    total = sum(one.weight for one in fit.still_open)
    squares = (
        one.weight * (median(reading.above(one.temperament) for reading in shared) - cents) ** 2
        for one in fit.still_open
    )
    return math.sqrt(sum(squares) / total) if total else 0.0


def _agree(one: RankSet, other: RankSet) -> bool:
    return abs(one.cents - other.cents) <= RANKS_AGREE_CENTS


def _pitch_says(pitch: Pitch | None, sets: Sequence[RankSet]) -> str:
    if not sets:
        return "no pitch was read"
    if pitch is None:
        levels = ", ".join(f"{one.rank} {one.feet} ft at {one.a_hz:.1f}" for one in sets)
        return f"the ranks stand at no one pitch: {levels} Hz"
    return f"A = {pitch.a_hz:.1f} Hz, half of the reeds within {pitch.spread_cents:.1f} cents of it"


def _celestes(
    readings: Sequence[Reading], pitch: Pitch | None, assumed: Temperament
) -> tuple[CelesteFit, ...]:
    unisons = {
        (reading.row.key_midi, reading.row.feet): reading.cents
        for reading in readings
        if not reading.row.celeste
    }
    fits = []
    for rank in _by_rank(reading for reading in readings if reading.row.celeste):
        pairs = [(reading, _unison_cents(reading, unisons, pitch, assumed)) for reading in rank]
        known = [
            (shifted_hz(EQUAL.hz(reading.row.sounding_midi), unison), reading.cents - unison)
            for reading, unison in pairs
            if unison is not None
        ]
        if len(known) >= MIN_READINGS:
            fits.append(_celeste_fit(rank[0].row, known))
    return tuple(fits)


def _unison_cents(
    reading: Reading,
    unisons: dict[tuple[int, int], float],
    pitch: Pitch | None,
    assumed: Temperament,
) -> float | None:
    row = reading.row
    if (row.key_midi, row.feet) in unisons:
        return unisons[row.key_midi, row.feet]
    return None if pitch is None else pitch.cents + assumed.offset_cents(row.sounding_midi)


def _celeste_fit(row: ReedRow, known: Sequence[tuple[float, float]]) -> CelesteFit:
    beats = median(celeste_beats_per_s(unison_hz, offset) for unison_hz, offset in known)
    cents = median(offset for _, offset in known)
    return CelesteFit(row.rank, row.feet, beats, cents, _is_even(known, beats, cents))


def _is_even(known: Sequence[tuple[float, float]], beats: float, cents: float) -> bool | None:
    unisons = [unison_hz for unison_hz, _ in known]
    if max(unisons) < CELESTE_LEAST_RATIO * min(unisons):
        return None
    by_beats = fmean(abs(offset - beating_cents(hz, beats)) for hz, offset in known)
    by_cents = fmean(abs(offset - cents) for _, offset in known)
    if min(by_beats, by_cents) > CELESTE_CLEARNESS * max(by_beats, by_cents):
        return None
    return by_beats < by_cents
