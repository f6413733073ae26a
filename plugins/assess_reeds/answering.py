"""Which criteria a survey answers, and only where it covers enough of the instrument."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from assess_reeds.clusters import main_set
from assess_reeds.found_tuning import RankSet
from assess_reeds.rows import WITHOUT_PITCH, ReedRow, Sign
from assess_reeds.survey import JudgedReed, Survey

# A count answers for the whole instrument if this share of its reeds was tried. If the others
# are no worse, it is at most a tenth too low, which is less than the width of any outcome
# (estimate from memory).
ENOUGH_SHARE = 0.9

# The middle half of fewer readings than this hangs on two or three reeds (estimate from memory).
ENOUGH_READINGS = 12

_SUB_BASS = re.compile(r"\bsub[- ]?bass\b", re.IGNORECASE)


@dataclass(frozen=True)
class Coverage:
    """How much of the instrument a survey covers.

    Attributes:
        done: reeds of which the survey says what is asked.
        of: reeds that there are; None if not known.
    """

    done: int
    of: int | None

    @property
    def enough(self) -> bool:
        """Whether a count answers for the whole."""
        return self.of is not None and self.done >= ENOUGH_SHARE * self.of

    @property
    def says(self) -> str:
        """In words.

        >>> Coverage(61, 122).says, Coverage(61, 122).enough
        ('61 of 122', False)
        """
        return str(self.done) if self.of is None else f"{self.done} of {self.of}"


@dataclass(frozen=True)
class RanksApart:
    """The two ranks that are furthest apart.

    Attributes:
        lowest: the lowest rank.
        highest: the highest rank.
        ranks: how many ranks were compared.
    """

    lowest: RankSet
    highest: RankSet
    ranks: int

    @property
    def cents(self) -> float:
        """How far they are apart [cents]."""
        return self.highest.cents - self.lowest.cents


def is_sub_bass(row: ReedRow) -> bool:
    """Whether a reed is in the separate chest of the sub-bass, by the name of its rank.

    >>> is_sub_bass(ReedRow(29, "Sub-bass", 16)), is_sub_bass(ReedRow(29, "Bourdon", 16))
    (True, False)
    """
    return _SUB_BASS.search(row.rank) is not None


def tried(found: Survey, reeds: float | None) -> Coverage:
    """How many reeds of the ranks were tried; the sub-bass is counted separately.

    Args:
        found: the survey.
        reeds: reeds of the instrument, without the sub-bass; None if not known.
    """
    return _covered(found, reeds, lambda reed: reed.heard)


def read(found: Survey, reeds: float | None) -> Coverage:
    """As ``tried``, of reeds whose distance from their rank is known, or that are silent."""
    return _covered(found, reeds, _pitch_is_known)


def _covered(found: Survey, reeds: float | None, known: Callable[[JudgedReed], bool]) -> Coverage:
    listed = [reed for reed in found.reeds if not is_sub_bass(reed.row)]
    done = sum(known(reed) for reed in listed)
    return Coverage(done, max(round(reeds), len(listed)) if reeds else None)


def _pitch_is_known(reed: JudgedReed) -> bool:
    return reed.departure_cents is not None or (reed.heard and reed.row.speech in WITHOUT_PITCH)


def sub_bass_tried(found: Survey, notes: float | None) -> Coverage:
    """How many notes of the sub-bass were tried."""
    reeds = [reed for reed in found.reeds if is_sub_bass(reed.row)]
    done = sum(reed.heard for reed in reeds)
    return Coverage(done, max(round(notes), len(reeds)) if notes else None)


def mains(found: Survey) -> dict[str, RankSet]:
    """The main set of each rank that has a pitch of its own, without celestes, by its name."""
    parts: dict[str, list[RankSet]] = {}
    for one in found.tuning.sets:
        parts.setdefault(one.rank_name, []).append(one)
    return {name: main for name, sets in parts.items() if (main := main_set(sets)).sure}


def ranks_apart(found: Survey, reeds: float | None) -> RanksApart | None:
    """The ranks furthest apart; None unless the compass of nearly all ranks was sampled.

    A few notes of each rank are enough: the pitch of a rank is the median of its readings.

    Args:
        found: the survey.
        reeds: reeds of the instrument, without the sub-bass; None if not known.
    """
    levels = mains(found)
    if len(levels) < 2 or not reeds:
        return None
    spans = sum(one.key_midis[-1] - one.key_midis[0] + 1 for one in levels.values())
    if spans < ENOUGH_SHARE * reeds:
        return None
    ordered = sorted(levels.values(), key=lambda one: one.cents)
    return RanksApart(ordered[0], ordered[-1], len(ordered))


def ranks_off(found: Survey, limit_cents: float) -> list[tuple[RankSet, float]]:
    """Ranks that are off the pitch that the instrument shares, with how far [cents], sharp first.

    Where no pitch is shared by more than half of the reeds, all but the largest group are off.

    Args:
        found: the survey.
        limit_cents: how far a rank may be off without counting [cents].
    """
    levels = sorted(mains(found).values(), key=lambda one: -one.cents)
    if not levels:
        return []
    pitch = found.tuning.pitch
    level = pitch.cents if pitch else _most_shared(levels, limit_cents)
    return [(one, one.cents - level) for one in levels if abs(one.cents - level) > limit_cents]


def _most_shared(levels: list[RankSet], limit_cents: float) -> float:
    """The pitch of the rank that most reeds are near [cents above A4 = 440 Hz]."""

    def near(one: RankSet) -> int:
        close = (other for other in levels if abs(other.cents - one.cents) <= limit_cents)
        return sum(len(other.key_midis) for other in close)

    return max(levels, key=near).cents


def widest(found: Survey) -> RankSet | None:
    """The main set whose reeds are most scattered, of those with enough readings."""
    known = [one for one in mains(found).values() if len(one.key_midis) >= ENOUGH_READINGS]
    return max(known, key=lambda one: one.spread_cents, default=None)


def signed(found: Survey, sign: Sign) -> list[ReedRow]:
    """Reeds whose remarks name a sign; that the others lack it does not follow."""
    return [reed.row for reed in found.reeds if sign in reed.row.signs]
