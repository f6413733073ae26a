"""Which pitch to tune to: how many reeds must move, how far, and what that takes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from statistics import median

from assess import positive
from assess_reeds.pitch import (
    CONCERT_A_HZ,
    REED_CENTS_PER_K,
    cents_between,
    room_shift_cents,
    shifted_hz,
)
from assess_reeds.rows import ReedRow
from assess_reeds.standing import beating_cents
from assess_reeds.survey import Fault, Judgement, Survey
from assess_reeds.temperament import Temperament
from assess_reeds.values import Band

# Pitches that are asked for beside the instrument's own: diapason normal, concert pitch, and
# what orchestras use today (common practice).
USUAL_TARGETS_HZ = (435.0, 440.0, 442.0)

# Reeds that get another reed or tongue, and so are not filed to pitch as they are.
REPLACED = frozenset({Fault.MISSING, Fault.CRACKED, Fault.WRONG_REED})


# Minutes for one reed, drawn, filed, put back and heard, as often as it takes: 2 to 4 for a
# correction of 5 to 15 cents, 5 to 10 where all reeds are retuned. Estimates from memory; the
# check of a reed that is left alone as well.
CHECK_MINUTES = Band(0.5, 1.0, 2.0)
SMALL_MOVE_MINUTES = Band(2.0, 3.0, 4.0)
LARGE_MOVE_MINUTES = Band(5.0, 7.0, 10.0)
SMALL_MOVE_CENTS = 15.0


@dataclass(frozen=True)
class MoveLimits:
    """How far reeds may be filed. No source with a measured limit was found.

    Every value is an estimate from memory: the default of a careful craftsman.

    Attributes:
        leave_cents: a reed this close is left alone [cents].
        free_cents: up to here any reed may be moved [cents].
        careful_cents: up to here a reed of the middle or treble may be moved, at some change
            of loudness; beyond it only for a good reason [cents].
        careful_from_midi: lowest sounding note that counts as middle; C3.
        set_cents: a whole set is not moved further than this; look for a donor set [cents].

    Raises:
        ValueError: limits that are not more than zero, or not in that order.
    """

    leave_cents: float = 3.0
    free_cents: float = 20.0
    careful_cents: float = 50.0
    careful_from_midi: int = 48
    set_cents: float = 50.0

    def __post_init__(self) -> None:
        for limit in (self.leave_cents, self.free_cents, self.careful_cents, self.set_cents):
            positive("a limit", limit)
        if not self.leave_cents < self.free_cents <= self.careful_cents:
            raise ValueError("the limits must grow: leave, free, careful")

    def safe_cents(self, sounding_midi: int) -> float:
        """How far a reed of this note may be moved [cents]."""
        bass = sounding_midi < self.careful_from_midi
        return self.free_cents if bass else self.careful_cents


@dataclass(frozen=True)
class Minutes:
    """Minutes that a reed takes; for the defaults see CHECK_MINUTES.

    Attributes:
        check: a reed that is left alone, only listened to [min].
        small: a reed to move by up to ``small_cents`` [min].
        large: a reed to move further [min].
        small_cents: where a small move ends [cents].

    Raises:
        ValueError: a small move that is not more than zero.
    """

    check: Band = CHECK_MINUTES
    small: Band = SMALL_MOVE_MINUTES
    large: Band = LARGE_MOVE_MINUTES
    small_cents: float = SMALL_MOVE_CENTS

    def __post_init__(self) -> None:
        positive("the end of a small move", self.small_cents)

    def of(self, move_cents: float, leave_cents: float) -> Band:
        """Minutes for one reed that must move by so much [min]."""
        if abs(move_cents) <= leave_cents:
            return self.check
        return self.small if abs(move_cents) <= self.small_cents else self.large


@dataclass(frozen=True)
class Room:
    """The rooms, where they are known.

    Attributes:
        surveyed_c: temperature when the pitches were read [degrees C].
        used_c: temperature at which the instrument shall be in tune [degrees C].
        cents_per_k: how reeds move with warmth [cents/K].

    Raises:
        ValueError: a temperature that no room has.
    """

    surveyed_c: float
    used_c: float
    cents_per_k: Band = REED_CENTS_PER_K

    def __post_init__(self) -> None:
        self.shift_cents()

    def shift_cents(self) -> Band:
        """How far the reeds will stand from what was read, once in use [cents]."""
        return room_shift_cents(self.surveyed_c, self.used_c, self.cents_per_k)


@dataclass(frozen=True)
class Move:
    """One reed to tune.

    Attributes:
        row: the reed.
        cents: how far; positive is up: metal off at the tip [cents].
        safe: whether that is within the limits.
    """

    row: ReedRow
    cents: float
    safe: bool


@dataclass(frozen=True)
class RetunePlan:
    """What it takes to tune to one pitch.

    Attributes:
        a_hz: the pitch [Hz].
        temperament: the temperament.
        moves: every reed with a pitch, also those that are left alone.
        leave_cents: moves up to this are left alone [cents].
        replaced: reeds that get another reed or tongue instead.
        unread: reeds whose pitch is not known.
        far_sets: ranks that would move further, in the median, than a set should; a donor set
            is the better way.
        hours: bench hours for ``moves``, if all reeds err the same way; drawing the reeds,
            cleaning and replacing are not in it [h].
        room_shift_cents: what the change of room does, counted in the moves by its likely
            value; None if the rooms were not told [cents].
    """

    a_hz: float
    temperament: Temperament
    moves: tuple[Move, ...]
    leave_cents: float
    replaced: tuple[ReedRow, ...]
    unread: tuple[ReedRow, ...]
    far_sets: tuple[str, ...]
    hours: Band
    room_shift_cents: Band | None

    @property
    def to_move(self) -> tuple[Move, ...]:
        """The reeds that must be touched."""
        return tuple(move for move in self.moves if abs(move.cents) > self.leave_cents)

    @property
    def beyond(self) -> tuple[Move, ...]:
        """The reeds that would have to go further than is safe."""
        return tuple(move for move in self.moves if not move.safe)

    @property
    def raised(self) -> int:
        """How many go up."""
        return sum(move.cents > 0 for move in self.to_move)

    @property
    def lowered(self) -> int:
        """How many go down."""
        return sum(move.cents < 0 for move in self.to_move)

    @property
    def median_cents(self) -> float:
        """Median distance of all reeds with a pitch, 0 if there are none [cents]."""
        return median([abs(move.cents) for move in self.moves] or [0.0])

    @property
    def max_cents(self) -> float:
        """Longest distance, 0 if there are none [cents]."""
        return max((abs(move.cents) for move in self.moves), default=0.0)


@dataclass(frozen=True)
class Terms:
    """What a plan is reckoned with.

    Attributes:
        limits: how far reeds may be filed.
        minutes: how long a reed takes.
        room: the rooms, None if they are not known.
        celeste_beats_per_s: beats each celeste rank shall have, negative for a flat one; a
            rank not named keeps the beats it has [1/s].
    """

    limits: MoveLimits = field(default_factory=MoveLimits)
    minutes: Minutes = field(default_factory=Minutes)
    room: Room | None = None
    celeste_beats_per_s: dict[str, float] = field(default_factory=dict)


def retune(
    found: Survey, a_hz: float, tempering: Temperament | None = None, terms: Terms | None = None
) -> RetunePlan:
    """What it takes to bring an instrument to a pitch.

    The move of a reed is where it shall stand less where it stands, the warmth of the room
    counted in. Reeds that must be replaced are counted apart, so that one wrong reed does not
    look like a dangerous move.

    Source: interval arithmetic; for limits and minutes see MoveLimits and Minutes.

    Args:
        found: the survey.
        a_hz: pitch to tune to, at the temperature of use [Hz].
        tempering: temperament to tune; the one the instrument stands in if not told.
        terms: limits, minutes, rooms and celestes; the defaults if not told.

    Raises:
        ValueError: a pitch that is not more than zero.

    >>> from assess_reeds.rows import reed_row
    >>> from assess_reeds.survey import survey
    >>> notes = "C4 C#4 D4 Eb4 E4 F4 F#4 G4".split()
    >>> plan = retune(survey([reed_row(note, "Viola", cents=54.0) for note in notes]), 440.0)
    >>> len(plan.to_move), plan.max_cents, len(plan.beyond), plan.far_sets
    (8, 54.0, 8, ('Viola 8 ft',))
    """
    chosen, kept = terms or Terms(), tempering or found.standing.assumed
    target = cents_between(CONCERT_A_HZ, a_hz)
    shift = chosen.room.shift_cents() if chosen.room else None
    replaced = [reed.row for reed in found.reeds if REPLACED & set(reed.faults)]
    moves, unread = [], []
    for reed in found.reeds:
        if REPLACED & set(reed.faults):
            continue
        goal = _goal_cents(reed.row, target, kept, found, chosen)
        if reed.cents is None or goal is None:
            unread.append(reed.row)
        else:
            moves.append(_move(reed, goal - (shift.likely if shift else 0.0), chosen.limits))
    return RetunePlan(
        a_hz=a_hz,
        temperament=kept,
        moves=tuple(moves),
        leave_cents=chosen.limits.leave_cents,
        replaced=tuple(replaced),
        unread=tuple(unread),
        far_sets=_far_sets(moves, chosen.limits),
        hours=_hours(moves, chosen),
        room_shift_cents=shift,
    )


def _goal_cents(
    row: ReedRow, target_cents: float, kept: Temperament, found: Survey, terms: Terms
) -> float | None:
    unison = target_cents + kept.offset_cents(row.sounding_midi)
    if not row.celeste:
        return unison
    beats = terms.celeste_beats_per_s.get(row.rank, found.standing.celeste_beats_per_s(row))
    if beats is None:
        return None
    unison_hz = shifted_hz(kept.hz(row.sounding_midi), target_cents)
    return unison + beating_cents(unison_hz, beats)


def _move(reed: Judgement, goal_cents: float, limits: MoveLimits) -> Move:
    cents = goal_cents - (reed.cents or 0.0)
    return Move(reed.row, cents, abs(cents) <= limits.safe_cents(reed.row.sounding_midi))


def _far_sets(moves: Sequence[Move], limits: MoveLimits) -> tuple[str, ...]:
    ranks: defaultdict[str, list[float]] = defaultdict(list)
    for move in moves:
        ranks[f"{move.row.rank} {move.row.feet} ft"].append(abs(move.cents))
    return tuple(name for name, cents in sorted(ranks.items()) if median(cents) > limits.set_cents)


def _hours(moves: Iterable[Move], terms: Terms) -> Band:
    total = Band(0.0, 0.0, 0.0)
    for move in moves:
        total = total.plus(terms.minutes.of(move.cents, terms.limits.leave_cents))
    return total.scaled(1 / 60)


def compare_targets(
    found: Survey,
    targets_hz: Sequence[float] = USUAL_TARGETS_HZ,
    tempering: Temperament | None = None,
    terms: Terms | None = None,
) -> tuple[RetunePlan, ...]:
    """The plan for the instrument's own pitch first, if it has one, then for each other.

    Its own pitch is what it will stand at when in use, so that a warmer room calls for no
    filing.

    Source: as for ``retune``.

    Args:
        found: the survey.
        targets_hz: other pitches to look at [Hz].
        tempering: temperament to tune; the one the instrument stands in if not told.
        terms: limits, minutes, rooms and celestes; the defaults if not told.

    Raises:
        ValueError: a pitch that is not more than zero.
    """
    room = terms.room if terms else None
    own = [] if found.standing.pitch is None else [found.standing.pitch.a_hz]
    if room is not None:
        own = [shifted_hz(a_hz, room.shift_cents().likely) for a_hz in own]
    return tuple(retune(found, a_hz, tempering, terms) for a_hz in (*own, *targets_hz))
