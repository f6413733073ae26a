"""The survey of all reeds: faults of each, tuning as found, faults that belong together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from assess_reeds import clusters
from assess_reeds.clusters import Cluster
from assess_reeds.fitting import readings_of
from assess_reeds.found_tuning import FoundTuning, RankSet, found_tuning
from assess_reeds.pitch import AUDIBLE_CENTS, CENTS_PER_OCTAVE, CENTS_PER_SEMITONE, CONCERT_A_HZ
from assess_reeds.rows import ReedRow, Sign, Speech, reading_cents

# A reed further from its rank than this is out of tune: twice what is just audible one tone after
# another, since reed organs were never tuned as finely as pianos (estimate from memory).
OUT_OF_TUNE_CENTS = 2 * AUDIBLE_CENTS

# A reed further from its rank than this has more than a tuning fault: three quarters of a semitone
# are nearer to the next note, or to a tongue that cracks (estimate from memory).
WRONG_REED_CENTS = 75.0

ROBUST = "medians over ranks; limits are estimates from memory"
"""What values of a survey rest on."""


class Fault(StrEnum):
    """What is wrong with a reed, the worst first."""

    MISSING = "missing"
    DEAD = "dead"
    CRACKED = "cracked"
    WRONG_REED = "wrong reed"
    OUT_OF_TUNE = "out of tune"
    CHOKED = "choked"
    BUZZ = "buzz"
    SLOW = "slow"
    WEAK = "weak"


_SEVERITY = {fault: place for place, fault in enumerate(Fault)}

_FAULT_OF_SPEECH = {
    Speech.MISSING: Fault.MISSING,
    Speech.DEAD: Fault.DEAD,
    Speech.CHOKED: Fault.CHOKED,
    Speech.BUZZ: Fault.BUZZ,
    Speech.SLOW: Fault.SLOW,
    Speech.WEAK: Fault.WEAK,
}


@dataclass(frozen=True)
class JudgedReed:
    """One reed with its faults.

    Attributes:
        row: the reed.
        cents: its pitch above its note, equal temperament, A4 = 440 Hz; None if not read [cents].
        departure_cents: its distance from its own rank; None if not known [cents].
        faults: what is wrong, the worst first; empty if nothing was found.
        heard: whether it was tried at all; a reed that was not tried is never taken as sound.
        says: what its pitch points at, in words; empty if nothing.
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
        tuning: the pitch and temperament as found.
        clusters: faults with a common cause; look at these first.
    """

    reeds: tuple[JudgedReed, ...]
    tuning: FoundTuning
    clusters: tuple[Cluster, ...]

    @property
    def heard(self) -> int:
        """How many reeds, or empty cells, were tried."""
        return sum(reed.heard for reed in self.reeds)


def survey(rows: Iterable[ReedRow], *, tuner_a_hz: float = CONCERT_A_HZ) -> Survey:
    """Judge every reed, find pitch and temperament, and find faults that belong together.

    A reed is compared with its own rank: with the main set of a mixed rank, and with the whole
    instrument if too few reeds of the rank were read. A celeste is compared with its own beats.

    Source: medians (common practice); for the limits see OUT_OF_TUNE_CENTS and WRONG_REED_CENTS,
    for the pitch ``found_tuning``.

    Args:
        rows: the reeds.
        tuner_a_hz: what the tuner's A was set to when the cents were read [Hz].

    Raises:
        ValueError: two rows for one reed, or the tuner's A is out of range.

    >>> from assess_reeds.rows import reed_row
    >>> notes = "C4 D4 E4 F4 G4 A4 B4".split()
    >>> rows = [reed_row(note, "Viola", cents=-20.0) for note in notes]
    >>> rows += [reed_row("C5", "Viola", speech="dead"), reed_row("D5", "Viola", cents=3.0)]
    >>> found = survey(rows)
    >>> found.tuning.says
    'A = 434.9 Hz, half of the reeds within 0.0 cents of it'
    >>> found.reeds[-1].faults, found.reeds[-1].departure_cents
    ((<Fault.OUT_OF_TUNE: 'out of tune'>,), 23.0)
    """
    listed = tuple(rows)
    _refuse_doubles(listed)
    tuning = found_tuning(readings_of(listed, tuner_a_hz))
    levels = _levels(tuning)
    reeds = tuple(_judged(row, reading_cents(row, tuner_a_hz), levels, tuning) for row in listed)
    return Survey(reeds, tuning, tuple(_clusters(listed, reeds, tuning)))


def _refuse_doubles(rows: Sequence[ReedRow]) -> None:
    counted = Counter(row.label for row in rows)
    doubles = [label for label, times in counted.items() if times > 1]
    if doubles:
        raise ValueError(f"more than one row for {'; '.join(doubles)}")


def _levels(tuning: FoundTuning) -> dict[str, float]:
    """The pitch of each rank that has one, by its name with length [cents above A4 = 440 Hz]."""
    parts: dict[str, list[RankSet]] = {}
    for one in tuning.sets:
        parts.setdefault(one.rank_name, []).append(one)
    mains = ((name, clusters.main_set(sets)) for name, sets in parts.items())
    return {name: main.cents for name, main in mains if main.sure}


def _judged(
    row: ReedRow, cents: float | None, levels: dict[str, float], tuning: FoundTuning
) -> JudgedReed:
    departure = None if cents is None else _departure(row, cents, levels, tuning)
    faults = {_FAULT_OF_SPEECH[row.speech]} if row.speech in _FAULT_OF_SPEECH else set()
    if Sign.CRACKED in row.signs:
        faults.add(Fault.CRACKED)
    pitch_fault = _pitch_fault(departure)
    if pitch_fault is not None:
        faults.add(pitch_fault)
    return JudgedReed(
        row,
        cents,
        departure,
        tuple(sorted(faults, key=lambda fault: _SEVERITY[fault])),
        row.speech is not Speech.NOT_TRIED,
        _pitch_says(departure, pitch_fault),
    )


def _departure(
    row: ReedRow, cents: float, levels: dict[str, float], tuning: FoundTuning
) -> float | None:
    pitch = None if tuning.pitch is None else tuning.pitch.cents
    level = pitch if row.celeste else levels.get(row.rank_name, pitch)
    offset = tuning.celeste_offset(row)
    if level is None or offset is None:
        return None
    return cents - level - tuning.assumed.offset_cents(row.sounding_midi) - offset


def _pitch_fault(departure_cents: float | None) -> Fault | None:
    if departure_cents is None or abs(departure_cents) <= OUT_OF_TUNE_CENTS:
        return None
    if abs(departure_cents) > WRONG_REED_CENTS:
        return Fault.WRONG_REED
    return Fault.OUT_OF_TUNE


def _pitch_says(departure_cents: float | None, fault: Fault | None) -> str:
    if departure_cents is None or fault is not Fault.WRONG_REED:
        return ""
    octaves = round(departure_cents / CENTS_PER_OCTAVE)
    if octaves and abs(departure_cents - CENTS_PER_OCTAVE * octaves) < CENTS_PER_SEMITONE / 2:
        return "octaves off: the tuner heard an overtone, or the reed is from another rank"
    if departure_cents < 0:
        return "far too flat: a reed of another note, or a tongue cracking at its root"
    return "far too sharp: a reed of another note, or a tongue that lost its tip weight"


def _clusters(
    rows: Sequence[ReedRow], reeds: Sequence[JudgedReed], tuning: FoundTuning
) -> list[Cluster]:
    wrong = [
        (reed.row, reed.departure_cents)
        for reed in reeds
        if Fault.WRONG_REED in reed.faults and reed.departure_cents is not None
    ]
    return [
        *clusters.silent_keys(rows),
        *clusters.weak_ranks(rows),
        *clusters.sounding_neighbours(rows),
        *clusters.corrosion_patches(rows),
        *clusters.mixed_sets(tuning),
        *clusters.exchanged(wrong),
    ]
