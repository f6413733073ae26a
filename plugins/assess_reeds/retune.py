"""Which pitch to tune to: how many reeds must move, how far, and how long that takes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from assess_reeds.answering import mains
from assess_reeds.found_tuning import FoundTuning, RankSet
from assess_reeds.pitch import CONCERT_A_HZ, cents_between, room_shift_cents, shifted_hz
from assess_reeds.rows import ReedRow, Sign
from assess_reeds.survey import Fault, JudgedReed, Survey
from assess_reeds.temperament import Temperament, celeste_cents
from assess_reeds.values import Band

# Pitches to compare with the instrument's own: diapason normal, concert pitch, and what orchestras
# use today (common practice).
USUAL_TARGETS_HZ = (435.0, 440.0, 442.0)

# Reeds that get another reed or tongue, and so are not filed to pitch.
REPLACED = frozenset({Fault.MISSING, Fault.CRACKED, Fault.WRONG_REED})

# How far reeds may be filed. No source with a measured limit was found: all of these are estimates
# from memory, the limits of a careful craftsman.
LEAVE_CENTS = 3.0  # a reed this close is left alone
FREE_CENTS = 20.0  # any reed may be moved this far
CAREFUL_CENTS = 50.0  # a middle or treble reed may be moved this far, and its loudness changes
CAREFUL_FROM_MIDI = 48  # C3, the lowest sounding note that counts as middle
FRAIL_CENTS = 5.0  # a reed of a frail rank may be touched up this far, and no further
SET_CENTS = 50.0  # beyond this, look for a donor set instead of filing a whole set

# A rank is frail if this share of its reeds, and this many, are corroded, cracked or filed down
# by their remarks: a file finishes such tongues. Estimates from memory.
FRAIL_SIGNS = frozenset({Sign.CORRODED, Sign.CRACKED, Sign.FILED})
FRAIL_SHARE = 0.1
FRAIL_REEDS = 3

# Minutes for one reed, drawn, filed, put back and heard, as often as needed: 2 to 4 for a
# correction of 5 to 15 cents, 5 to 10 when all reeds are retuned. The check is for a reed that is
# left alone. Estimates from memory.
CHECK_MINUTES = Band(0.5, 1.0, 2.0)
SMALL_MOVE_MINUTES = Band(2.0, 3.0, 4.0)
LARGE_MOVE_MINUTES = Band(5.0, 7.0, 10.0)
SMALL_MOVE_CENTS = 15.0


def safe_cents(sounding_midi: int) -> float:
    """How far a reed of this note may be moved, up or down [cents].

    Source: the limits above (estimates from memory).
    """
    return FREE_CENTS if sounding_midi < CAREFUL_FROM_MIDI else CAREFUL_CENTS


def minutes_for(move_cents: float) -> Band:
    """Minutes for one reed that must move this far, up or down [min].

    Source: the minutes above (estimates from memory).
    """
    if abs(move_cents) <= LEAVE_CENTS:
        return CHECK_MINUTES
    return SMALL_MOVE_MINUTES if abs(move_cents) <= SMALL_MOVE_CENTS else LARGE_MOVE_MINUTES


def frail_ranks(found: Survey) -> dict[str, int]:
    """Ranks whose tongues must not be moved, with how many reeds say so, the frailest first.

    Source: FRAIL_SIGNS, and the numbers beside them.

    >>> from assess_reeds.rows import reed_row
    >>> from assess_reeds.survey import survey
    >>> reeds = [reed_row(n, "Viola", remarks="green, pitted") for n in "C4 D4 E4".split()]
    >>> frail_ranks(survey([*reeds, reed_row("F4", "Viola"), reed_row("C4", "Dulciana")]))
    {'Viola 8 ft': 3}
    """
    reeds: defaultdict[str, list[bool]] = defaultdict(list)
    for reed in found.reeds:
        reeds[reed.row.rank_name].append(bool(FRAIL_SIGNS & reed.row.signs))
    frail = {
        name: sum(bad)
        for name, bad in reeds.items()
        if sum(bad) >= FRAIL_REEDS and sum(bad) >= FRAIL_SHARE * len(bad)
    }
    return dict(sorted(frail.items(), key=lambda item: (-item[1] / len(reeds[item[0]]), item[0])))


def leading_rank(found: Survey) -> RankSet | None:
    """The frailest rank with a pitch of its own: it stays as it is, and the others come to it.

    None if no rank is frail. A celeste leads nothing: it is set against its unison.
    """
    levels = mains(found)
    return next((levels[name] for name in frail_ranks(found) if name in levels), None)


@dataclass(frozen=True)
class Room:
    """The temperatures of the survey and of use.

    Attributes:
        surveyed_c: temperature when the pitches were read [degrees C].
        used_c: temperature at which the instrument must be in tune [degrees C].

    Raises:
        ValueError: a temperature is outside the range of ``room_shift_cents``.
    """

    surveyed_c: float
    used_c: float

    def __post_init__(self) -> None:
        self.shift_cents()

    def shift_cents(self) -> Band:
        """How far the reeds will be from what was read, when in use [cents]."""
        return room_shift_cents(self.surveyed_c, self.used_c)


@dataclass(frozen=True)
class Move:
    """One reed to tune.

    Attributes:
        row: the reed.
        cents: how far; positive is up, by taking metal off the tip [cents].
        safe: whether that is within the limits.
        frail: whether it is in a rank that must not be moved.
    """

    row: ReedRow
    cents: float
    safe: bool
    frail: bool = False


@dataclass(frozen=True)
class RetunePlan:
    """What it takes to tune to one pitch.

    Attributes:
        a_hz: the pitch [Hz].
        temperament: the temperament.
        moves: every reed with a pitch, including those that are left alone.
        replaced: reeds that get another reed or tongue instead.
        unread: reeds whose pitch is not known.
        far_ranks: ranks whose median move is more than SET_CENTS; a donor set is better there.
        hours: bench hours for ``moves``, if all reeds err the same way; without drawing the
            reeds, cleaning and replacing [h].
        room_shift_cents: the effect of the change of temperature, already in the moves with its
            likely value; None if the temperatures are not known [cents].
    """

    a_hz: float
    temperament: Temperament
    moves: tuple[Move, ...]
    replaced: tuple[ReedRow, ...]
    unread: tuple[ReedRow, ...]
    far_ranks: tuple[str, ...]
    hours: Band
    room_shift_cents: Band | None

    @property
    def to_move(self) -> tuple[Move, ...]:
        """The reeds that must be filed."""
        return tuple(move for move in self.moves if abs(move.cents) > LEAVE_CENTS)

    @property
    def beyond(self) -> tuple[Move, ...]:
        """The reeds that would have to move further than is safe."""
        return tuple(move for move in self.moves if not move.safe)

    @property
    def median_cents(self) -> float:
        """Median distance of all reeds with a pitch, 0 if there are none [cents]."""
        return median([abs(move.cents) for move in self.moves] or [0.0])

    @property
    def max_cents(self) -> float:
        """Longest distance, 0 if there are no reeds with a pitch [cents]."""
        return max((abs(move.cents) for move in self.moves), default=0.0)


def retune(
    found: Survey,
    a_hz: float,
    temperament: Temperament | None = None,
    room: Room | None = None,
    frail: Collection[str] = (),
) -> RetunePlan:
    """What it takes to bring an instrument to a pitch.

    The move of a reed is its target minus its pitch, corrected for the temperature of the room.
    A celeste keeps the beats it has. Reeds that must be replaced are counted separately, so that
    one wrong reed does not look like a dangerous move.

    Source: interval arithmetic; the limits and minutes above.

    Args:
        found: the survey.
        a_hz: pitch to tune to, at the temperature of use [Hz].
        temperament: temperament to tune in; None for the one that it is tuned in.
        room: the temperatures; None if they are not known.
        frail: ranks, by name with length, whose reeds may be moved by FRAIL_CENTS only.

    Raises:
        ValueError: the pitch is not more than zero.

    >>> from assess_reeds.rows import reed_row
    >>> from assess_reeds.survey import survey
    >>> notes = "C4 C#4 D4 Eb4 E4 F4 F#4 G4".split()
    >>> plan = retune(survey([reed_row(note, "Viola", cents=54.0) for note in notes]), 440.0)
    >>> len(plan.to_move), plan.max_cents, len(plan.beyond), plan.far_ranks
    (8, 54.0, 8, ('Viola 8 ft',))
    """
    kept = temperament or found.tuning.assumed
    target = cents_between(CONCERT_A_HZ, a_hz)
    shift = room.shift_cents() if room else None
    replaced = [reed.row for reed in found.reeds if REPLACED & set(reed.faults)]
    moves, unread = [], []
    for reed in found.reeds:
        if REPLACED & set(reed.faults):
            continue
        goal = _goal_cents(reed.row, target, kept, found.tuning)
        if reed.cents is None or goal is None:
            unread.append(reed.row)
        else:
            is_frail = reed.row.rank_name in frail
            moves.append(_move(reed, goal - (shift.likely if shift else 0.0), frail=is_frail))
    return RetunePlan(
        a_hz=a_hz,
        temperament=kept,
        moves=tuple(moves),
        replaced=tuple(replaced),
        unread=tuple(unread),
        far_ranks=_far_ranks(moves),
        hours=_hours(moves),
        room_shift_cents=shift,
    )


def _goal_cents(
    row: ReedRow, target_cents: float, kept: Temperament, tuning: FoundTuning
) -> float | None:
    unison = target_cents + kept.offset_cents(row.sounding_midi)
    if not row.celeste:
        return unison
    beats = tuning.celeste_beats_per_s(row)
    if beats is None:
        return None
    return unison + celeste_cents(shifted_hz(kept.hz(row.sounding_midi), target_cents), beats)


def _move(reed: JudgedReed, goal_cents: float, *, frail: bool) -> Move:
    cents = goal_cents - (reed.cents or 0.0)
    limit = FRAIL_CENTS if frail else safe_cents(reed.row.sounding_midi)
    return Move(reed.row, cents, abs(cents) <= limit, frail)


def _far_ranks(moves: Sequence[Move]) -> tuple[str, ...]:
    ranks: defaultdict[str, list[float]] = defaultdict(list)
    for move in moves:
        ranks[move.row.rank_name].append(abs(move.cents))
    return tuple(name for name, cents in sorted(ranks.items()) if median(cents) > SET_CENTS)


def _hours(moves: Iterable[Move]) -> Band:
    total = Band(0.0, 0.0, 0.0)
    for move in moves:
        total = total.plus(minutes_for(move.cents))
    return total.scaled(1 / 60)


def compare_targets(
    found: Survey,
    targets_hz: Sequence[float] = USUAL_TARGETS_HZ,
    room: Room | None = None,
    frail: Collection[str] = (),
    temperament: Temperament | None = None,
) -> tuple[RetunePlan, ...]:
    """The plan for the instrument's own pitch first, if it has one, then for each other.

    Its own pitch is what it will have in use, so that a warmer room needs no filing.

    Source: as for ``retune``.

    Args:
        found: the survey.
        targets_hz: other pitches to compare [Hz].
        room: the temperatures; None if they are not known.
        frail: as for ``retune``.
        temperament: as for ``retune``.

    Raises:
        ValueError: a pitch is not more than zero.
    """
    own = own_hz(found, room)
    targets = targets_hz if own is None else (own, *targets_hz)
    return tuple(retune(found, a_hz, temperament, room, frail) for a_hz in targets)


def own_hz(found: Survey, room: Room | None) -> float | None:
    """The pitch that the instrument will have in use without being moved; None if it has none."""
    pitch = found.tuning.pitch
    if pitch is None:
        return None
    return shifted_hz(pitch.a_hz, room.shift_cents().likely) if room else pitch.a_hz
