"""The tuning as found: the pitch of the instrument and of its ranks, and how its celestes beat."""

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
# Huber, Robust Statistics (1981); the page is from memory.
MEDIAN_LOSS = math.sqrt(math.pi / 2)

RANKS_AGREE_CENTS = 10.0  # ranks this close share one pitch: estimate from memory

# Before a celeste is called even or not, one pattern must fit this much better than the other,
# over at least this ratio of frequencies: estimates from memory.
CELESTE_CLEARNESS = 0.8
CELESTE_LEAST_RATIO = 2.0
LEAST_BEAT_HZ = 0.05
"""A celeste slower than this does not beat: it rounds to zero."""


@dataclass(frozen=True)
class RankSet:
    """Reeds of one rank that belong together; a rank of mixed origin has two sets or more.

    Attributes:
        rank: name of the rank.
        feet: length of the rank [ft].
        key_midis: its keys with a reading, upwards.
        cents: its pitch above A4 = 440 Hz [cents].
        spread_cents: median distance of its reeds from that pitch [cents].
    """

    rank: str
    feet: int
    key_midis: tuple[int, ...]
    cents: float
    spread_cents: float

    @property
    def rank_name(self) -> str:
        """The rank with its length."""
        return f"{self.rank} {self.feet} ft"

    @property
    def a_hz(self) -> float:
        """Its pitch as A4 [Hz]."""
        return shifted_hz(CONCERT_A_HZ, self.cents)

    @property
    def sure(self) -> bool:
        """Whether it has enough reeds for a pitch."""
        return len(self.key_midis) >= MIN_READINGS


@dataclass(frozen=True)
class Pitch:
    """The pitch that the reeds of an instrument share.

    Attributes:
        cents: its A above A4 = 440 Hz [cents].
        spread_cents: median distance of the reeds from it [cents].
        readings: number of reeds it is based on.
        sd_cents: standard deviation of ``cents``, from the scatter of the reeds and from the
            open question of the temperament, without the error of the tuner [cents].
    """

    cents: float
    spread_cents: float
    readings: int
    sd_cents: float

    @property
    def a_hz(self) -> float:
        """The pitch as A4 [Hz]."""
        return shifted_hz(CONCERT_A_HZ, self.cents)


@dataclass(frozen=True)
class CelesteFit:
    """How a celeste rank beats against its unison.

    Attributes:
        rank: name of the rank.
        feet: length of the rank [ft].
        beats_per_s: median beats, negative for a flat celeste [1/s].
        cents: median offset [cents].
        even: True if it beats evenly up the compass, False if it was tuned by octaves and gets
            faster upwards, None if that is not clear.
    """

    rank: str
    feet: int
    beats_per_s: float
    cents: float
    even: bool | None


@dataclass(frozen=True)
class FoundTuning:
    """The tuning of an instrument as found.

    Attributes:
        pitch: its pitch, None if the ranks do not agree or nothing was read.
        temperament: the temperament, or why it is not clear.
        assumed: the temperament to compute with.
        sets: the ranks without celestes, mixed ones in parts.
        celestes: the celeste ranks with at least MIN_READINGS readings.
        says: the pitch in words.
    """

    pitch: Pitch | None
    temperament: TemperamentFit
    assumed: Temperament
    sets: tuple[RankSet, ...]
    celestes: tuple[CelesteFit, ...]
    says: str

    def celeste_offset(self, row: ReedRow) -> float | None:
        """Offset of a reed from its unison that gives the beats of its rank [cents].

        Zero for a rank that is no celeste, None for a celeste whose beats are not known.
        """
        if not row.celeste:
            return 0.0
        beats = self.celeste_beats_per_s(row)
        if beats is None or self.pitch is None:
            return None
        return celeste_cents(self.assumed.hz(row.sounding_midi, self.pitch.a_hz), beats)

    def celeste_beats_per_s(self, row: ReedRow) -> float | None:
        """Beats of the celeste of a reed, negative if flat; None if not known [1/s]."""
        fits = (one for one in self.celestes if (one.rank, one.feet) == (row.rank, row.feet))
        return next((fit.beats_per_s for fit in fits), None)


def found_tuning(readings: Sequence[Reading]) -> FoundTuning:
    """The tuning of an instrument, from the pitches of its reeds.

    The pitch is the median over the reeds of the ranks that agree (within RANKS_AGREE_CENTS),
    if these have more than half of the reeds read. Otherwise there is no common pitch.

    Source: medians (common practice); the thresholds are estimates from memory. The pitch is
    that of the day: reeds fall as the room gets warmer.

    Args:
        readings: reeds with their pitch.
    """
    groups = [
        [rank[position] for position in part]
        for rank in _by_rank(reading for reading in readings if not reading.row.celeste)
        for part in separate_sets([reading.cents for reading in rank])
    ]
    fit = fit_temperament(groups)
    assumed = fit.assumed
    sets = tuple(_rank_set(group, assumed) for group in groups)
    pitch = _common_pitch(groups, sets, fit)
    celestes = _celestes(readings, pitch, assumed)
    return FoundTuning(pitch, fit, assumed, sets, celestes, _pitch_says(pitch, sets))


def _by_rank(readings: Iterable[Reading]) -> list[list[Reading]]:
    ranks: defaultdict[tuple[str, int], list[Reading]] = defaultdict(list)
    for reading in readings:
        ranks[reading.row.rank, reading.row.feet].append(reading)
    return [sorted(ranks[rank], key=lambda reading: reading.row.key_midi) for rank in sorted(ranks)]


def _rank_set(group: Sequence[Reading], assumed: Temperament) -> RankSet:
    level, spread = _middle([reading.cents_above(assumed) for reading in group])
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
    cents, spread = _middle([reading.cents_above(fit.assumed) for reading in shared])
    scatter = MEDIAN_LOSS * MAD_TO_SD * spread / math.sqrt(len(shared))
    sd = math.hypot(scatter, _temperament_sd(shared, fit, cents))
    return Pitch(cents, spread, len(shared), sd)


def _temperament_sd(shared: Sequence[Reading], fit: TemperamentFit, cents: float) -> float:
    """Standard deviation of A that comes from not knowing the temperament [cents]."""
    total = sum(one.weight for one in fit.still_open)
    squares = (
        one.weight
        * (median(reading.cents_above(one.temperament) for reading in shared) - cents) ** 2
        for one in fit.still_open
    )
    return math.sqrt(sum(squares) / total) if total else 0.0


def _agree(one: RankSet, other: RankSet) -> bool:
    return abs(one.cents - other.cents) <= RANKS_AGREE_CENTS


def _pitch_says(pitch: Pitch | None, sets: Sequence[RankSet]) -> str:
    if not sets:
        return "no pitch was read"
    if pitch is None:
        levels = ", ".join(f"{one.rank_name} at {one.a_hz:.1f}" for one in sets)
        return f"the ranks do not share one pitch: {levels} Hz"
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
    """The fit to pairs of a unison [Hz] and the offset of its celeste reed [cents]."""
    beats = median(celeste_beats_per_s(unison_hz, offset) for unison_hz, offset in known)
    cents = median(offset for _, offset in known)
    return CelesteFit(row.rank, row.feet, beats, cents, _is_even(known, beats, cents))


def _is_even(known: Sequence[tuple[float, float]], beats: float, cents: float) -> bool | None:
    unisons = [unison_hz for unison_hz, _ in known]
    if max(unisons) < CELESTE_LEAST_RATIO * min(unisons):
        return None
    by_beats = fmean(abs(offset - celeste_cents(hz, beats)) for hz, offset in known)
    by_cents = fmean(abs(offset - cents) for _, offset in known)
    if min(by_beats, by_cents) > CELESTE_CLEARNESS * max(by_beats, by_cents):
        return None
    return by_beats < by_cents
