"""The sheet to tune by: every reed of every rank, its target, and the order of work.

First the temperament octave, from A round the circle of fifths; then outwards from it along the
same rank; then every other rank against it, key by key; the celeste last, against finished unisons.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from assess import finite
from assess_reeds.pitch import (
    A4_MIDI,
    CONCERT_A_HZ,
    FOOTAGE_SEMITONES,
    note_name,
    off_note_cents,
    room_shift_cents,
    shifted_hz,
    sounding_midi,
)
from assess_reeds.temperament import (
    Bearing,
    Beat,
    Temperament,
    bearings,
    celeste_cents,
    named_temperament,
)
from assess_reeds.values import Band

# The usual temperament octave starts at F3: slow beats, clear tone (common practice).
LOWEST_BEARING_MIDI = 53

# How close is close enough: sounding notes in the middle of the compass, C3 to C6, and the others.
# Estimates from memory.
MIDDLE_MIDI = range(48, 85)
MIDDLE_TOLERANCE_CENTS = 3.0
OUTER_TOLERANCE_CENTS = 5.0

# Lengths in the order in which a rank may be tuned first: 8 ft sounds as written.
LEADING_FEET = (8, 4, 16, 2, 32)


@dataclass(frozen=True)
class Rank:
    """A rank, or the half of one that has its own stop.

    Attributes:
        name: what it is called.
        feet: its length: 32, 16, 8, 4 or 2 [ft].
        lowest_midi: lowest key.
        highest_midi: highest key.
        celeste_beats_per_s: beats against its unison, negative for a flat celeste; None if it
            is no celeste [1/s].

    Raises:
        ValueError: keys out of range or in the wrong order, or beats of zero.
    """

    name: str
    feet: int
    lowest_midi: int
    highest_midi: int
    celeste_beats_per_s: float | None = None

    def __post_init__(self) -> None:
        sounding_midi(self.lowest_midi, self.feet)
        sounding_midi(self.highest_midi, self.feet)
        if self.lowest_midi > self.highest_midi:
            raise ValueError(f"{self.name}: the lowest key is above the highest")
        if self.celeste_beats_per_s is not None and finite("beats", self.celeste_beats_per_s) == 0:
            raise ValueError(f"{self.name}: a celeste must beat; without beats it is a unison")

    @property
    def celeste(self) -> bool:
        """Whether it is meant to beat."""
        return self.celeste_beats_per_s is not None

    @property
    def keys(self) -> range:
        """Its keys, upwards."""
        return range(self.lowest_midi, self.highest_midi + 1)

    def sounding(self, key_midi: int) -> int:
        """The note that one of its keys sounds."""
        return sounding_midi(key_midi, self.feet)


class Stage(StrEnum):
    """The parts of the work, in order."""

    FIRST_NOTE = "first note"
    OCTAVE = "temperament octave"
    OUTWARD = "outwards"
    OTHER_RANKS = "other ranks"
    CELESTE = "celeste"


@dataclass(frozen=True)
class Line:
    """One reed to tune.

    Attributes:
        number: place in the order of work, from 1.
        stage: part of the work.
        rank: the rank.
        key_midi: its key.
        sounding_midi: the note that it must sound, or beside which a celeste sounds.
        target_hz: frequency, at the temperature of the workshop [Hz].
        cents: what a tuner set to ``bench_a_hz`` of the sheet shows [cents].
        against: what to set it by, in words: an interval between sounding notes, another key
            of the same rank, another rank on the same key, or a tuner.
        beats_per_s: beats to hear then, positive if wide (a celeste: if sharp), negative if
            narrow; 0 for none, or if a tuner is needed [1/s].
        checks: thirds and sixths of the note in the temperament octave.
    """

    number: int
    stage: Stage
    rank: Rank
    key_midi: int
    sounding_midi: int
    target_hz: float
    cents: float
    against: str
    beats_per_s: float
    checks: tuple[Beat, ...]


@dataclass(frozen=True)
class TuningSheet:
    """The whole sheet.

    Attributes:
        a_hz: target pitch where the instrument is used [Hz].
        bench_a_hz: A4 to tune to in the workshop, to be right in use [Hz].
        unsure_cents: how far the pitch in use may be from ``a_hz``, because the effect of
            temperature is not well known [cents].
        temperament: the temperament.
        lines: the reeds in the order of work.
        closing: the last fifth of the temperament octave, as a check; None without an octave.
    """

    a_hz: float
    bench_a_hz: float
    unsure_cents: float
    temperament: Temperament
    lines: tuple[Line, ...]
    closing: Beat | None


@dataclass(frozen=True)
class _Task:
    """A reed, with what it is tuned against."""

    stage: Stage
    rank: Rank
    key_midi: int
    against: str
    beats_per_s: float = 0.0
    checks: tuple[Beat, ...] = ()


def tuning_sheet(
    ranks: Sequence[Rank],
    a_hz: float = CONCERT_A_HZ,
    temperament: Temperament | None = None,
    *,
    bench_c: float | None = None,
    used_c: float | None = None,
) -> TuningSheet:
    """Targets of all reeds in the order of work.

    Source: temperament octave, then octaves outwards, then the other ranks, each set against
    what is tuned already; a celeste after its unison, note by note (common practice). For the
    beats see ``beats_per_s`` and ``celeste_cents``, for the temperature ``room_shift_cents``.

    Args:
        ranks: the ranks.
        a_hz: target pitch of A4 where the instrument is used [Hz].
        temperament: temperament to tune in; None for equal temperament.
        bench_c: temperature of the workshop [degrees C].
        used_c: temperature where the instrument is used [degrees C].

    Raises:
        ValueError: no rank but celestes, two ranks of one name and length with keys in common,
            one temperature without the other, or a pitch that is not more than zero.

    >>> sheet = tuning_sheet([Rank("Viola", 8, 41, 77), Rank("Celeste", 8, 60, 77, 2.0)])
    >>> line = sheet.lines[1]
    >>> line.against, round(line.target_hz, 2), round(line.beats_per_s, 2)
    ('fifth A3 to E4', 329.63, -0.74)
    >>> [(line.stage.value, round(line.cents, 1)) for line in sheet.lines[-1:]]
    [('celeste', 5.0)]
    """
    _refuse_doubles(ranks)
    chosen = temperament or named_temperament("equal")
    shift = _shift_cents(bench_c, used_c)
    bench_a_hz = shifted_hz(a_hz, -shift.likely)
    plain = [rank for rank in ranks if not rank.celeste]
    if not plain:
        raise ValueError("a celeste needs a rank to beat with, and there is none")
    lead = _leading(plain)
    steps = _bearings(lead, chosen, bench_a_hz)
    tasks = _tasks(ranks, lead, steps)
    lines = tuple(
        _line(number, task, chosen, bench_a_hz) for number, task in enumerate(tasks, start=1)
    )
    unsure = max(shift.high - shift.likely, shift.likely - shift.low)
    closing = next((step.by for step in steps if step.closing), None)
    return TuningSheet(a_hz, bench_a_hz, unsure, chosen, lines, closing)


def _refuse_doubles(ranks: Sequence[Rank]) -> None:
    seen: set[tuple[str, int, int]] = set()
    for rank in ranks:
        reeds = {(rank.name, rank.feet, key) for key in rank.keys}
        if seen & reeds:
            raise ValueError(f"{rank.name} {rank.feet} ft is listed twice for the same keys")
        seen |= reeds


def _shift_cents(bench_c: float | None, used_c: float | None) -> Band:
    if bench_c is None and used_c is None:
        return Band(0.0, 0.0, 0.0)
    if bench_c is None or used_c is None:
        raise ValueError("give both temperatures, of the workshop and of use")
    return room_shift_cents(bench_c, used_c)


def _tasks(ranks: Sequence[Rank], lead: dict[int, Rank], steps: Sequence[Bearing]) -> list[_Task]:
    plain = [rank for rank in ranks if not rank.celeste]
    others = sorted(
        (rank for rank in plain if rank not in lead.values()),
        key=lambda rank: (LEADING_FEET.index(rank.feet), rank.lowest_midi, rank.name),
    )
    return [
        *_octave(lead, steps),
        *_outwards(lead),
        *(task for rank in others for task in _other(rank, lead)),
        *(task for rank in ranks if rank.celeste for task in _celeste(rank, plain)),
    ]


def _leading(plain: Sequence[Rank]) -> dict[int, Rank]:
    """The rank to tune first, or the two halves of a divided one, by key."""
    lines = [_line_of(rank for rank in plain if rank.feet == feet) for feet in LEADING_FEET]
    leading = max((line for line in lines if line), key=_covered)
    return {key: rank for rank in leading for key in rank.keys}


def _line_of(ranks: Iterable[Rank]) -> list[Rank]:
    line: list[Rank] = []
    for rank in sorted(ranks, key=lambda rank: (-len(rank.keys), rank.lowest_midi, rank.name)):
        if all(set(rank.keys).isdisjoint(other.keys) for other in line):
            line.append(rank)
    return line


def _covered(line: Sequence[Rank]) -> int:
    """Notes of the usual temperament octave that a line has; equal lines keep their order."""
    notes = {rank.sounding(key) for rank in line for key in rank.keys}
    return len(notes & set(range(LOWEST_BEARING_MIDI, LOWEST_BEARING_MIDI + 12)))


def _lowest_bearing(lead: dict[int, Rank]) -> int | None:
    """Lowest key of the complete octave nearest to the usual one, None if there is none."""
    starts = [key for key in lead if all(key + step in lead for step in range(12))]
    return min(
        starts,
        key=lambda key: (abs(lead[key].sounding(key) - LOWEST_BEARING_MIDI), key),
        default=None,
    )


def _bearings(lead: dict[int, Rank], temperament: Temperament, a_hz: float) -> tuple[Bearing, ...]:
    lowest = _lowest_bearing(lead)
    return () if lowest is None else bearings(temperament, a_hz, lead[lowest].sounding(lowest))


def _octave(lead: dict[int, Rank], steps: Sequence[Bearing]) -> list[_Task]:
    if not steps:
        return []
    shift = FOOTAGE_SEMITONES[next(iter(lead.values())).feet]
    start = steps[0].from_midi - shift
    first = _Task(Stage.FIRST_NOTE, lead[start], start, _fork_words(steps[0].from_midi))
    rest = [
        _Task(
            Stage.OCTAVE, lead[key], key, interval_words(step.by), step.by.beats_per_s, step.thirds
        )
        for step in steps
        if not step.closing
        for key in (step.to_midi - shift,)
    ]
    return [first, *rest]


def _fork_words(sounding: int) -> str:
    return "fork or tuner" if sounding == A4_MIDI else "fork, by octave"


def interval_words(beat: Beat) -> str:
    """An interval in words: ``fifth A3 to E4``, ``major third F3 to A3``."""
    interval = beat.interval.removeprefix("perfect_").replace("_", " ")
    return f"{interval} {note_name(beat.lower_midi)} to {note_name(beat.upper_midi)}"


def _outwards(lead: dict[int, Rank]) -> list[_Task]:
    lowest = _lowest_bearing(lead)
    if lowest is None:
        return [_Task(Stage.OUTWARD, lead[key], key, "tuner") for key in sorted(lead)]
    above = [key for key in sorted(lead) if key > lowest + 11]
    below = [key for key in sorted(lead, reverse=True) if key < lowest]
    up = [_Task(Stage.OUTWARD, lead[key], key, _own_octave(lead, key, -12)) for key in above]
    down = [_Task(Stage.OUTWARD, lead[key], key, _own_octave(lead, key, 12)) for key in below]
    return [*up, *down]


def _own_octave(lead: dict[int, Rank], key: int, towards: int) -> str:
    inner = key + towards
    return f"octave with key {note_name(inner)}" if inner in lead else "tuner"


def _other(rank: Rank, lead: dict[int, Rank]) -> list[_Task]:
    return [
        _Task(Stage.OTHER_RANKS, rank, key, _with_lead(rank, lead.get(key))) for key in rank.keys
    ]


def _with_lead(rank: Rank, leader: Rank | None) -> str:
    if leader is None:
        return "tuner"
    octaves = abs(FOOTAGE_SEMITONES[rank.feet] - FOOTAGE_SEMITONES[leader.feet]) // 12
    interval = {0: "unison", 1: "octave"}.get(octaves, f"{octaves} octaves")
    return f"{interval} with {leader.name}"


def _celeste(rank: Rank, plain: Sequence[Rank]) -> list[_Task]:
    beats = rank.celeste_beats_per_s or 0.0
    unisons = {key: other for other in plain if other.feet == rank.feet for key in other.keys}
    side = "sharp" if beats > 0 else "flat"
    tasks = []
    for key in rank.keys:
        against = f"{side} of {unisons[key].name}" if key in unisons else f"tuner, {side}"
        tasks.append(_Task(Stage.CELESTE, rank, key, against, beats))
    return tasks


def _line(number: int, task: _Task, temperament: Temperament, a_hz: float) -> Line:
    sounding = task.rank.sounding(task.key_midi)
    hz = temperament.hz(sounding, a_hz)
    if task.stage is Stage.CELESTE:
        hz = shifted_hz(hz, celeste_cents(hz, task.beats_per_s))
    return Line(
        number=number,
        stage=task.stage,
        rank=task.rank,
        key_midi=task.key_midi,
        sounding_midi=sounding,
        target_hz=hz,
        cents=off_note_cents(hz, sounding, a_hz),
        against=task.against,
        beats_per_s=task.beats_per_s,
        checks=task.checks,
    )
