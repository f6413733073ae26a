"""The survey of all reeds: what is wrong with each, where they stand, what stands together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from assess import positive
from assess_reeds import clusters
from assess_reeds.clusters import Cluster
from assess_reeds.fitting import readings_of
from assess_reeds.pitch import AUDIBLE_CENTS, CENTS_PER_OCTAVE, CENTS_PER_SEMITONE, CONCERT_A_HZ
from assess_reeds.rows import ReedRow, Sign, Speech, reading_cents
from assess_reeds.standing import RankSet, Standing, standing
from assess_reeds.temperament import Temperament


class Fault(StrEnum):
    """What is wrong with a reed, the gravest first."""

    MISSING = "missing"
    DEAD = "dead"
    CRACKED = "cracked"
    WRONG_REED = "wrong reed"
    OUT_OF_TUNE = "out of tune"
    CHOKED = "choked"
    BUZZ = "buzz"
    SLOW = "slow"
    WEAK = "weak"


_GRAVITY = {fault: rank for rank, fault in enumerate(Fault)}

_FAULT_OF_SPEECH = {
    Speech.MISSING: Fault.MISSING,
    Speech.DEAD: Fault.DEAD,
    Speech.CHOKED: Fault.CHOKED,
    Speech.BUZZ: Fault.BUZZ,
    Speech.SLOW: Fault.SLOW,
    Speech.WEAK: Fault.WEAK,
}


@dataclass(frozen=True)
class Limits:
    """Where a departure from the rank becomes a fault. Both are estimates from memory.

    Attributes:
        out_of_tune_cents: more than this is out of tune: twice what can just be heard one
            after another, and reed organs were never tuned as finely as pianos [cents].
        wrong_reed_cents: more than this is no tuning fault: three quarters of a semitone lie
            nearer to the next note, or to a tongue that cracks [cents].

    Raises:
        ValueError: limits that are not more than zero, or in the wrong order.
    """

    out_of_tune_cents: float = 2 * AUDIBLE_CENTS
    wrong_reed_cents: float = 75.0

    def __post_init__(self) -> None:
        positive("the limit for out of tune", self.out_of_tune_cents)
        if positive("the limit for a wrong reed", self.wrong_reed_cents) <= self.out_of_tune_cents:
            raise ValueError("a wrong reed must be further off than one out of tune")


@dataclass(frozen=True)
class Judgement:
    """One reed, judged.

    Attributes:
        row: the reed.
        cents: where it stands above its note, equal, A4 = 440 Hz; None if not read [cents].
        departure_cents: how far from its own rank; None if it cannot be told [cents].
        faults: what is wrong, the gravest first; empty if nothing was found.
        heard: whether it was tried at all: a reed not heard is never taken as sound.
        says: what the pitch points at; empty if nothing.
    """

    row: ReedRow
    cents: float | None
    departure_cents: float | None
    faults: tuple[Fault, ...]
    heard: bool
    says: str = ""


@dataclass(frozen=True)
class Survey:
    """All reeds together.

    Attributes:
        reeds: every reed, in the order of the rows.
        standing: the pitch and temperament the instrument stands at.
        clusters: faults with a cause in common; look at these first.
    """

    reeds: tuple[Judgement, ...]
    standing: Standing
    clusters: tuple[Cluster, ...]

    def count(self, fault: Fault) -> int:
        """How many reeds have a fault."""
        return sum(fault in reed.faults for reed in self.reeds)

    @property
    def heard(self) -> int:
        """How many reeds, or empty cells, were tried."""
        return sum(reed.heard for reed in self.reeds)

    @property
    def share_speaking(self) -> float | None:
        """Share that gives a sound, of those that were tried; None if none was."""
        silent = self.count(Fault.DEAD) + self.count(Fault.MISSING)
        return 1.0 - silent / self.heard if self.heard else None


def survey(
    rows: Iterable[ReedRow],
    *,
    tuner_a_hz: float = CONCERT_A_HZ,
    limits: Limits | None = None,
    candidates: Sequence[Temperament] = (),
) -> Survey:
    """Judge every reed, find the pitch and temperament, and see what stands together.

    A reed is held against its own rank: against the main set of it where the rank is mixed,
    and against the instrument where too few of the rank were read. A celeste is held against
    its own beats.

    Source: medians (common practice); for the limits see Limits, for the pitch ``standing``.

    Args:
        rows: the reeds.
        tuner_a_hz: what the tuner's A was set to when cents were read [Hz].
        limits: where a departure becomes a fault; the defaults if not told.
        candidates: temperaments to try; if empty, every one known, built on C.

    Raises:
        ValueError: two rows for one reed, or a tuner set to no pitch of this world.

    >>> from assess_reeds.rows import reed_row
    >>> notes = "C4 D4 E4 F4 G4 A4 B4".split()
    >>> rows = [reed_row(note, "Viola", cents=-20.0) for note in notes]
    >>> rows += [reed_row("C5", "Viola", speech="dead"), reed_row("D5", "Viola", cents=3.0)]
    >>> found = survey(rows)
    >>> found.standing.says
    'A = 434.9 Hz, half of the reeds within 0.0 cents of it'
    >>> found.reeds[-1].faults, found.reeds[-1].departure_cents
    ((<Fault.OUT_OF_TUNE: 'out of tune'>,), 23.0)
    """
    listed = tuple(rows)
    _refuse_doubles(listed)
    stands = standing(readings_of(listed, tuner_a_hz), candidates)
    levels = _levels(stands)
    chosen = limits or Limits()
    reeds = tuple(
        _judged(row, reading_cents(row, tuner_a_hz), levels, stands, chosen) for row in listed
    )
    return Survey(reeds, stands, tuple(_clusters(listed, reeds, stands)))


def _refuse_doubles(rows: Sequence[ReedRow]) -> None:
    counted = Counter(row.label for row in rows)
    doubles = [label for label, times in counted.items() if times > 1]
    if doubles:
        raise ValueError(f"more than one row for {'; '.join(doubles)}")


def _levels(stands: Standing) -> dict[tuple[str, int], float]:
    parts: dict[tuple[str, int], list[RankSet]] = {}
    for one in stands.sets:
        parts.setdefault((one.rank, one.feet), []).append(one)
    mains = ((name, clusters.main_set(sets)) for name, sets in parts.items())
    return {name: main.cents for name, main in mains if main.sure}


def _judged(
    row: ReedRow,
    cents: float | None,
    levels: dict[tuple[str, int], float],
    stands: Standing,
    limits: Limits,
) -> Judgement:
    departure = None if cents is None else _departure(row, cents, levels, stands)
    faults = {_FAULT_OF_SPEECH[row.speech]} if row.speech in _FAULT_OF_SPEECH else set()
    if Sign.CRACKED in row.signs:
        faults.add(Fault.CRACKED)
    tuning = _tuning_fault(departure, limits)
    if tuning is not None:
        faults.add(tuning)
    return Judgement(
        row,
        cents,
        departure,
        tuple(sorted(faults, key=lambda fault: _GRAVITY[fault])),
        row.speech is not Speech.NOT_TRIED,
        _pitch_says(departure, tuning),
    )


def _departure(
    row: ReedRow, cents: float, levels: dict[tuple[str, int], float], stands: Standing
) -> float | None:
    pitch = None if stands.pitch is None else stands.pitch.cents
    level = pitch if row.celeste else levels.get((row.rank, row.feet), pitch)
    offset = stands.celeste_offset(row)
    if level is None or offset is None:
        return None
    return cents - level - stands.assumed.offset_cents(row.sounding_midi) - offset


def _tuning_fault(departure_cents: float | None, limits: Limits) -> Fault | None:
    if departure_cents is None or abs(departure_cents) <= limits.out_of_tune_cents:
        return None
    if abs(departure_cents) > limits.wrong_reed_cents:
        return Fault.WRONG_REED
    return Fault.OUT_OF_TUNE


def _pitch_says(departure_cents: float | None, tuning: Fault | None) -> str:
    if departure_cents is None or tuning is not Fault.WRONG_REED:
        return ""
    octaves = round(departure_cents / CENTS_PER_OCTAVE)
    if octaves and abs(departure_cents - CENTS_PER_OCTAVE * octaves) < CENTS_PER_SEMITONE / 2:
        return "whole octaves off: the tuner may have heard an overtone; else another rank's reed"
    if departure_cents < 0:
        return "far too flat: a reed of another note, or a tongue that is cracking at its root"
    return "far too sharp: a reed of another note, or a tongue that has lost its weight"


def _clusters(
    rows: Sequence[ReedRow], reeds: Sequence[Judgement], stands: Standing
) -> list[Cluster]:
    wrong = [
        (reed.row, reed.departure_cents)
        for reed in reeds
        if Fault.WRONG_REED in reed.faults and reed.departure_cents is not None
    ]
    return [
        *clusters.silent_keys(rows),
        *clusters.whispering_ranks(rows),
        *clusters.speaking_along(rows),
        *clusters.corrosion_patches(rows),
        *clusters.mixed_sets(stands),
        *clusters.exchanged(wrong),
    ]
