"""Faults that stand together, and what that says: the cause is then seldom each reed alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from assess_reeds.pitch import CENTS_PER_SEMITONE, note_name
from assess_reeds.rows import ReedRow, Sign, Speech
from assess_reeds.standing import RANKS_AGREE_CENTS, RankSet, Standing

# All of these are estimates from memory.
MIN_ALONG = 2  # neighbours that speak along
MIN_PATCH_REEDS = 3  # corroded reeds that make a patch
PATCH_GAP = 2  # sound keys between two bad ones of a patch, at most
MIN_SILENT_RANKS = 2  # ranks that must be tried before the key is blamed
WHISPER_SHARE = 0.6  # weak or slow share of a rank that points at its mute
MIN_WHISPER_REEDS = 6  # reeds that spoke, before a share of them means anything
EXCHANGE_SLACK_CENTS = 30.0  # how far two exchanged reeds may be off besides


class Kind(StrEnum):
    """What a cluster points at."""

    SPEAKS_ALONG = "neighbours speak along"
    CORROSION = "patch of corrosion"
    MIXED_SET = "mixed set"
    RANK_OFF = "rank at another pitch"
    KEY_SILENT = "silent in every rank"
    RANK_WHISPERS = "whole rank weak"
    EXCHANGED = "two reeds exchanged"


@dataclass(frozen=True)
class Cluster:
    """Faults with a cause in common.

    Attributes:
        kind: what it points at.
        rank: the rank with its length, empty where it goes through all.
        key_midis: the keys, upward.
        cents: how far a set or rank stands from the others, None where that means nothing.
        says: a sentence for the report.
    """

    kind: Kind
    rank: str
    key_midis: tuple[int, ...]
    cents: float | None
    says: str


def runs(keys: Iterable[int], gap: int = 1) -> tuple[tuple[int, ...], ...]:
    """Keys cut into runs of neighbours, no two further apart than ``gap``.

    >>> runs([41, 43, 40, 50, 44], gap=2)
    ((40, 41, 43, 44), (50,))
    """
    found: list[list[int]] = []
    for key in sorted(set(keys)):
        if found and key - found[-1][-1] <= gap:
            found[-1].append(key)
        else:
            found.append([key])
    return tuple(tuple(run) for run in found)


def compass(keys: Sequence[int]) -> str:
    """Keys as words: one, or from the lowest to the highest.

    >>> compass((53,)), compass((53, 55, 57))
    ('F3', 'F3 to A3')
    """
    lowest, highest = note_name(min(keys)), note_name(max(keys))
    return lowest if lowest == highest else f"{lowest} to {highest}"


def speaking_along(rows: Sequence[ReedRow]) -> list[Cluster]:
    """Runs of neighbours in a rank that speak along: a cell wall or the pan is cracked.

    Source: fault notes of organ builders (common practice).
    """
    return [
        Cluster(
            Kind.SPEAKS_ALONG,
            name,
            run,
            None,
            f"{name}, {compass(run)}: neighbours speak along: look for a broken cell wall or a "
            "crack in the pan before blaming reeds",
        )
        for name, rank in _ranks(rows).items()
        for run in runs(row.key_midi for row in rank if Sign.ALONG in row.signs)
        if len(run) >= MIN_ALONG
    ]


def corrosion_patches(rows: Sequence[ReedRow]) -> list[Cluster]:
    """Corroded or stuck reeds close together, in whatever ranks: something wet was there.

    Source: green reeds, many in one patch, mean mouse urine or water (restorers' pages); the
    numbers are estimates from memory.
    """
    bad = [row for row in rows if row.signs & {Sign.CORRODED, Sign.STUCK}]
    patches = []
    for run in runs((row.key_midi for row in bad), PATCH_GAP + 1):
        reeds = sum(row.key_midi in run for row in bad)
        if reeds >= MIN_PATCH_REEDS:
            says = (
                f"{compass(run)}: {reeds} corroded or stuck reeds together: mouse urine or "
                "water; look at the pan, pallets and keys there too"
            )
            patches.append(Cluster(Kind.CORROSION, "", run, None, says))
    return patches


def silent_keys(rows: Sequence[ReedRow]) -> list[Cluster]:
    """Keys dead in every rank that was tried: pallet, sticker or key, not the reeds.

    Source: fault notes of reed-organ menders (common practice).
    """
    by_key: defaultdict[int, list[ReedRow]] = defaultdict(list)
    for row in rows:
        if row.speech not in (Speech.NOT_TRIED, Speech.MISSING):
            by_key[row.key_midi].append(row)
    return [
        Cluster(
            Kind.KEY_SILENT,
            "",
            (key,),
            None,
            f"{note_name(key)} is silent in {len(tried)} ranks: look at its pallet, sticker and "
            "key first",
        )
        for key, tried in sorted(by_key.items())
        if len(tried) >= MIN_SILENT_RANKS and all(row.speech is Speech.DEAD for row in tried)
    ]


def whispering_ranks(rows: Sequence[ReedRow]) -> list[Cluster]:
    """Ranks of which most reeds are weak or slow: the mute over them hardly opens.

    Source: fault notes of reed-organ menders (common practice); the share is an estimate
    from memory. Where every rank whispers the wind is too weak instead.
    """
    ranks = _ranks(rows)
    weak = [name for name, rank in ranks.items() if _whispers(rank)]
    everywhere = len(weak) == len(ranks)
    cause = "every rank does: measure the suction" if everywhere else "look at its mute"
    return [
        Cluster(
            Kind.RANK_WHISPERS,
            name,
            tuple(row.key_midi for row in ranks[name]),
            None,
            f"{name}: most reeds are weak or slow; {cause} before working on reeds",
        )
        for name in weak
    ]


def _whispers(rank: Sequence[ReedRow]) -> bool:
    silent = (Speech.DEAD, Speech.MISSING, Speech.NOT_TRIED)
    heard = [row for row in rank if row.speech not in silent]
    weak = sum(row.speech in (Speech.WEAK, Speech.SLOW) for row in heard)
    return len(heard) >= MIN_WHISPER_REEDS and weak >= WHISPER_SHARE * len(heard)


def mixed_sets(stands: Standing) -> list[Cluster]:
    """Ranks with two sets of reeds in them, and ranks that stand apart from the others.

    Source: reeds exchanged between pitch standards occur (restorers' pages).
    """
    ranks = {name: main_set(parts) for name, parts in _parts(stands.sets).items()}
    mixed = [
        _mixed(name, ranks[name], part)
        for name, parts in _parts(stands.sets).items()
        for part in parts
        if part is not ranks[name]
    ]
    return mixed + _ranks_off({name: main for name, main in ranks.items() if main.sure}, stands)


def _ranks_off(ranks: dict[str, RankSet], stands: Standing) -> list[Cluster]:
    if not ranks:
        return []
    largest = max(ranks, key=lambda name: len(ranks[name].key_midis))
    if stands.pitch is None:
        level, other = ranks[largest].cents, largest
    else:
        level, other = stands.pitch.cents, "the instrument"
    return [
        _rank_off(name, main, main.cents - level, other)
        for name, main in ranks.items()
        if abs(main.cents - level) > RANKS_AGREE_CENTS
    ]


def main_set(parts: Sequence[RankSet]) -> RankSet:
    """The largest set of a rank; of two as large, the lower in pitch."""
    return min(parts, key=lambda part: (-len(part.key_midis), part.cents))


def _parts(sets: Sequence[RankSet]) -> dict[str, list[RankSet]]:
    parts: defaultdict[str, list[RankSet]] = defaultdict(list)
    for one in sets:
        parts[f"{one.rank} {one.feet} ft"].append(one)
    return parts


def _mixed(name: str, main: RankSet, other: RankSet) -> Cluster:
    cents, keys = other.cents - main.cents, other.key_midis
    overlap = any(keys[0] < key < keys[-1] for key in main.key_midis)
    where = f"{len(keys)} reeds scattered" if overlap else "a stretch"
    says = (
        f"{name}: {where} from {compass(keys)} at A = {other.a_hz:.1f} Hz, {cents:+.0f} cents "
        f"from the rest at {main.a_hz:.1f} Hz: reeds of two sets"
    )
    return Cluster(Kind.MIXED_SET, name, keys, cents, says)


def _rank_off(name: str, rank: RankSet, cents: float, other: str) -> Cluster:
    says = (
        f"{name}: the whole rank stands {cents:+.0f} cents from {other}, at "
        f"A = {rank.a_hz:.1f} Hz: one of them may come from another instrument"
    )
    return Cluster(Kind.RANK_OFF, name, rank.key_midis, cents, says)


def exchanged(wrong: Sequence[tuple[ReedRow, float]]) -> list[Cluster]:
    """Pairs of reeds that each sound the other's note.

    Source: interval arithmetic; the slack is an estimate from memory.

    Args:
        wrong: reeds of a wrong note with their departure from their rank [cents].
    """
    pairs = []
    for index, (row, cents) in enumerate(wrong):
        for other, other_cents in wrong[index + 1 :]:
            if _rank_name(row) != _rank_name(other):
                continue
            apart = CENTS_PER_SEMITONE * (other.key_midi - row.key_midi)
            if max(abs(cents - apart), abs(other_cents + apart)) <= EXCHANGE_SLACK_CENTS:
                pairs.append(_exchange(row, other))
    return pairs


def _exchange(row: ReedRow, other: ReedRow) -> Cluster:
    keys = tuple(sorted((row.key_midi, other.key_midi)))
    names = " and ".join(note_name(key) for key in keys)
    says = f"{_rank_name(row)}: the reeds of {names} sound each other's note: exchange them"
    return Cluster(Kind.EXCHANGED, _rank_name(row), keys, None, says)


def _rank_name(row: ReedRow) -> str:
    return f"{row.rank} {row.feet} ft"


def _ranks(rows: Sequence[ReedRow]) -> dict[str, list[ReedRow]]:
    ranks: defaultdict[str, list[ReedRow]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: (row.rank, row.feet, row.key_midi)):
        ranks[_rank_name(row)].append(row)
    return ranks
