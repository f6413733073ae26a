"""The sheet to tune by: every reed of every rank, its target, and the order of work.

First the octave that all is tuned from, from A round the circle of fifths; then outward from it
along the same rank; then every other rank against it, key by key; the celeste last, when what
it beats with stands.
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
    cents_between,
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
    temperament,
)
from assess_reeds.values import Band

# F3 to E4: slow beats, clear tone (common practice).
LOWEST_BEARING_MIDI = 53

# Sounding notes that are tuned the more closely: middle of the compass, estimate from memory,
# as are the tolerances.
MIDDLE_MIDI = range(48, 85)
MIDDLE_TOLERANCE_CENTS = 3.0
OUTER_TOLERANCE_CENTS = 5.0

# Ranks that lead, the first that can: 8 ft sounds as written.
LEADING_FEET = (8, 4, 16, 2, 32)


@dataclass(frozen=True)
class Rank:
    """A rank, or the half of one that has a stop of its own.

    Attributes:
        name: what it is called.
        feet: its length name: 32, 16, 8, 4 or 2 [ft].
        lowest_midi: lowest key.
        highest_midi: highest key.
        celeste_beats_per_s: beats against its unison, negative if it is to be flat; None if it
            is no celeste [1/s].

    Raises:
        ValueError: keys that are not there or in the wrong order, or beats of zero.
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
            raise ValueError(f"{self.name}: the lowest key lies above the highest")
        if self.celeste_beats_per_s is not None and finite("beats", self.celeste_beats_per_s) == 0:
            raise ValueError(f"{self.name}: a celeste that does not beat is a unison")

    @property
    def celeste(self) -> bool:
        """Whether it is meant to beat."""
        return self.celeste_beats_per_s is not None

    @property
    def keys(self) -> range:
        """Its keys, upward."""
        return range(self.lowest_midi, self.highest_midi + 1)

    def sounding(self, key_midi: int) -> int:
        """The note that a key of it sounds."""
        return sounding_midi(key_midi, self.feet)


class Stage(StrEnum):
    """Parts of the work, in their order."""

    FIRST_NOTE = "first note"
    OCTAVE = "temperament octave"
    OUTWARD = "outward"
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
        sounding_midi: the note it is to sound (a celeste: near which).
        target_hz: frequency, in the room where the tuning is done [Hz].
        cents: what a tuner shows that is set to the A of the sheet [cents].
        cents_at_440: what a tuner shows that is set to A4 = 440 Hz [cents].
        tolerance_cents: how close is close enough [cents].
        against: what to listen to, in words; notes are those that sound, keys those pressed.
        beats_per_s: beats to hear then, positive if wide (a celeste: if sharp), negative if
            narrow; 0 where none are to be heard, or where a tuner must do [1/s].
        checks: thirds and sixths that the note makes in the temperament octave.
    """

    number: int
    stage: Stage
    rank: Rank
    key_midi: int
    sounding_midi: int
    target_hz: float
    cents: float
    cents_at_440: float
    tolerance_cents: float
    against: str
    beats_per_s: float
    checks: tuple[Beat, ...]


@dataclass(frozen=True)
class Sheet:
    """The whole sheet.

    Attributes:
        a_hz: pitch wanted where the instrument is used [Hz].
        bench_a_hz: A4 to tune to in the workshop, so that it comes right in use [Hz].
        unsure_cents: how far the pitch in use may differ from ``a_hz``, since the effect of
            warmth is not well known [cents].
        temperament: the temperament.
        lines: the reeds in the order of work.
    """

    a_hz: float
    bench_a_hz: float
    unsure_cents: float
    temperament: Temperament
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class _Task:
    """A reed with what it is tuned against."""

    stage: Stage
    rank: Rank
    key_midi: int
    against: str
    beats_per_s: float = 0.0
    checks: tuple[Beat, ...] = ()


def tuning_sheet(
    ranks: Sequence[Rank],
    a_hz: float = CONCERT_A_HZ,
    tempering: Temperament | None = None,
    *,
    bench_c: float | None = None,
    used_c: float | None = None,
) -> Sheet:
    """Targets of all reeds in the order of work.

    Source: temperament octave, then octaves outward, then the other ranks, each set against
    what stands; a celeste after its unison, note by note (common practice). For the beats see
    ``beats_per_s`` and ``celeste_cents``, for the warmth ``room_shift_cents``.

    Args:
        ranks: the ranks.
        a_hz: pitch of A4 wanted where the instrument is used [Hz].
        tempering: temperament to tune; equal if not told.
        bench_c: temperature of the workshop [degrees C].
        used_c: temperature where the instrument is used [degrees C].

    Raises:
        ValueError: no rank but celestes, two ranks of one name and length with keys in common,
            one temperature without the other, or a pitch that is not more than zero.

    >>> sheet = tuning_sheet([Rank("Viola", 8, 41, 77), Rank("Celeste", 8, 60, 77, 2.0)])
    >>> line = sheet.lines[1]
    >>> line.against, round(line.target_hz, 2), round(line.beats_per_s, 2)
    ('perfect fifth A3 to E4', 329.63, -0.74)
    >>> [(line.stage.value, round(line.cents, 1)) for line in sheet.lines[-1:]]
    [('celeste', 5.0)]
    """
    _refuse_doubles(ranks)
    chosen = tempering or temperament("equal")
    warmth = _warmth_cents(bench_c, used_c)
    bench_a_hz = shifted_hz(a_hz, -warmth.likely)
    tasks = _tasks(ranks, chosen, bench_a_hz)
    lines = tuple(
        _line(number, task, chosen, bench_a_hz) for number, task in enumerate(tasks, start=1)
    )
    unsure = max(warmth.high - warmth.likely, warmth.likely - warmth.low)
    return Sheet(a_hz, bench_a_hz, unsure, chosen, lines)


def _refuse_doubles(ranks: Sequence[Rank]) -> None:
    seen: set[tuple[str, int, int]] = set()
    for rank in ranks:
        reeds = {(rank.name, rank.feet, key) for key in rank.keys}
        if seen & reeds:
            raise ValueError(f"{rank.name} {rank.feet} ft is listed twice for the same keys")
        seen |= reeds


def _warmth_cents(bench_c: float | None, used_c: float | None) -> Band:
    if bench_c is None and used_c is None:
        return Band(0.0, 0.0, 0.0)
    if bench_c is None or used_c is None:
        raise ValueError("give both temperatures, that of the workshop and that of use")
    return room_shift_cents(bench_c, used_c)


def _tasks(ranks: Sequence[Rank], tempering: Temperament, a_hz: float) -> list[_Task]:
    plain = [rank for rank in ranks if not rank.celeste]
    if not plain:
        raise ValueError("a celeste needs a rank to beat with: none was given")
    leading = _leading(plain)
    lead = {key: rank for rank in leading for key in rank.keys}
    others = sorted(
        (rank for rank in plain if rank not in leading),
        key=lambda rank: (LEADING_FEET.index(rank.feet), rank.lowest_midi, rank.name),
    )
    return [
        *_octave(lead, tempering, a_hz),
        *_outward(lead),
        *(task for rank in others for task in _other(rank, lead)),
        *(task for rank in ranks if rank.celeste for task in _celeste(rank, plain)),
    ]


def _leading(plain: Sequence[Rank]) -> list[Rank]:
    """The rank to begin with, or the two halves of a divided one: ranks of one length."""
    lines = [_line_of(rank for rank in plain if rank.feet == feet) for feet in LEADING_FEET]
    return max((line for line in lines if line), key=_covered)


def _line_of(ranks: Iterable[Rank]) -> list[Rank]:
    line: list[Rank] = []
    for rank in sorted(ranks, key=lambda rank: (-len(rank.keys), rank.lowest_midi, rank.name)):
        if all(set(rank.keys).isdisjoint(other.keys) for other in line):
            line.append(rank)
    return line


def _covered(line: Sequence[Rank]) -> int:
    """Notes of the usual bearing octave that a line has; equal lines keep their order."""
    notes = {rank.sounding(key) for rank in line for key in rank.keys}
    return len(notes & set(range(LOWEST_BEARING_MIDI, LOWEST_BEARING_MIDI + 12)))


def _lowest_bearing(lead: dict[int, Rank]) -> int | None:
    """Lowest key of the whole octave nearest to the usual one, None if there is no octave."""
    starts = [key for key in lead if all(key + step in lead for step in range(12))]
    return min(
        starts,
        key=lambda key: (abs(lead[key].sounding(key) - LOWEST_BEARING_MIDI), key),
        default=None,
    )


def _octave(lead: dict[int, Rank], tempering: Temperament, a_hz: float) -> list[_Task]:
    lowest = _lowest_bearing(lead)
    if lowest is None:
        return []
    shift = FOOTAGE_SEMITONES[lead[lowest].feet]
    steps = bearings(tempering, a_hz, lowest + shift)
    start = steps[0].from_midi - shift
    first = _Task(Stage.FIRST_NOTE, lead[start], start, _fork_words(steps[0].from_midi))
    rest = [
        _Task(Stage.OCTAVE, lead[key], key, _bearing_words(step), step.by.beats_per_s, step.thirds)
        for step in steps
        if not step.closing
        for key in (step.to_midi - shift,)
    ]
    return [first, *rest]


def _fork_words(sounding: int) -> str:
    return "fork or tuner, A4" if sounding == A4_MIDI else "fork or tuner, octaves of A4"


def _bearing_words(step: Bearing) -> str:
    interval = step.by.interval.replace("_", " ")
    return f"{interval} {note_name(step.by.lower_midi)} to {note_name(step.by.upper_midi)}"


def _outward(lead: dict[int, Rank]) -> list[_Task]:
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
    return f"octave with key {note_name(inner)}, no beat" if inner in lead else "tuner"


def _other(rank: Rank, lead: dict[int, Rank]) -> list[_Task]:
    return [
        _Task(Stage.OTHER_RANKS, rank, key, _with_lead(rank, lead.get(key))) for key in rank.keys
    ]


def _with_lead(rank: Rank, leader: Rank | None) -> str:
    if leader is None:
        return "tuner"
    octaves = abs(FOOTAGE_SEMITONES[rank.feet] - FOOTAGE_SEMITONES[leader.feet]) // 12
    interval = {0: "unison", 1: "octave"}.get(octaves, f"{octaves} octaves")
    return f"{interval} with {leader.name} {leader.feet} ft, same key, no beat"


def _celeste(rank: Rank, plain: Sequence[Rank]) -> list[_Task]:
    beats = rank.celeste_beats_per_s or 0.0
    unisons = {key: other for other in plain if other.feet == rank.feet for key in other.keys}
    side = "sharp" if beats > 0 else "flat"
    tasks = []
    for key in rank.keys:
        unison = unisons.get(key)
        heard = f"unison with {unison.name} {unison.feet} ft, same key" if unison else "tuner"
        tasks.append(_Task(Stage.CELESTE, rank, key, f"{heard}, {side}", beats))
    return tasks


def _line(number: int, task: _Task, tempering: Temperament, a_hz: float) -> Line:
    sounding = task.rank.sounding(task.key_midi)
    hz = tempering.hz(sounding, a_hz)
    if task.stage is Stage.CELESTE:
        beats = task.beats_per_s
        hz = shifted_hz(hz, celeste_cents(hz, abs(beats), sharp=beats > 0))
    cents = off_note_cents(hz, sounding, a_hz)
    return Line(
        number=number,
        stage=task.stage,
        rank=task.rank,
        key_midi=task.key_midi,
        sounding_midi=sounding,
        target_hz=hz,
        cents=cents,
        cents_at_440=cents + cents_between(CONCERT_A_HZ, a_hz),
        tolerance_cents=(
            MIDDLE_TOLERANCE_CENTS if sounding in MIDDLE_MIDI else OUTER_TOLERANCE_CENTS
        ),
        against=task.against,
        beats_per_s=task.beats_per_s,
        checks=task.checks,
    )
