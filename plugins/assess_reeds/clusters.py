"""Faults that occur together, and what they point at: usually not each reed by itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from assess_reeds.found_tuning import RANKS_AGREE_CENTS, FoundTuning, RankSet
from assess_reeds.pitch import CENTS_PER_SEMITONE, note_name
from assess_reeds.rows import ReedRow, Sign, Speech

# All of these are estimates from memory.
MIN_RUN_OF_NEIGHBOURS = 2  # adjacent notes that make a neighbour sound
MIN_PATCH_REEDS = 3  # corroded reeds that make a patch
PATCH_GAP = 2  # sound keys between two bad ones of a patch, at most
MIN_SILENT_RANKS = 2  # ranks that must be tried before the key is blamed
WEAK_SHARE = 0.6  # share of weak or slow reeds in a rank that points at its mute
MIN_WEAK_RANK_REEDS = 6  # reeds that must have sounded before that share means anything
EXCHANGE_SLACK_CENTS = 30.0  # how far off its new note each of two exchanged reeds may be


class Kind(StrEnum):
    """What a cluster points at."""

    NEIGHBOURS = "notes make neighbours sound"
    CORROSION = "patch of corrosion"
    MIXED_SET = "mixed set"
    RANK_OFF = "rank at another pitch"
    KEY_SILENT = "silent in every rank"
    RANK_WEAK = "whole rank weak"
    EXCHANGED = "two reeds exchanged"


@dataclass(frozen=True)
class Cluster:
    """Faults with a common cause.

    Attributes:
        kind: what it points at.
        rank: the rank with its length, empty if it runs through all ranks.
        key_midis: the keys, upwards.
        cents: how far a set or rank is from the others, None for other kinds.
        says: a sentence for the report, without its full stop.
    """

    kind: Kind
    rank: str
    key_midis: tuple[int, ...]
    cents: float | None
    says: str


def runs(keys: Iterable[int], gap: int = 1) -> tuple[tuple[int, ...], ...]:
    """Keys cut into runs of neighbours that are at most ``gap`` apart.

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


def key_range(keys: Sequence[int]) -> str:
    """Keys in words: a single one, or from the lowest to the highest.

    >>> key_range((53,)), key_range((53, 55, 57))
    ('F3', 'F3 to A3')
    """
    lowest, highest = note_name(min(keys)), note_name(max(keys))
    return lowest if lowest == highest else f"{lowest} to {highest}"


def sounding_neighbours(rows: Sequence[ReedRow]) -> list[Cluster]:
    """Runs of notes in a rank that make neighbours sound: a partition or the pan is cracked.

    Source: fault notes of organ builders (common practice).
    """
    return [
        Cluster(
            Kind.NEIGHBOURS,
            name,
            run,
            None,
            f"{name}, {key_range(run)}: these notes make neighbours sound. Look for a broken "
            "partition or a crack in the pan before you blame the reeds",
        )
        for name, rank in _ranks(rows).items()
        for run in runs(row.key_midi for row in rank if Sign.NEIGHBOUR in row.signs)
        if len(run) >= MIN_RUN_OF_NEIGHBOURS
    ]


def corrosion_patches(rows: Sequence[ReedRow]) -> list[Cluster]:
    """Corroded or stuck reeds close together, in any ranks: something wet was there.

    Source: a patch of green reeds means mouse urine or water (restorers' pages); the numbers
    are estimates from memory.
    """
    bad = [row for row in rows if row.signs & {Sign.CORRODED, Sign.STUCK}]
    patches = []
    for run in runs((row.key_midi for row in bad), PATCH_GAP + 1):
        reeds = sum(row.key_midi in run for row in bad)
        if reeds >= MIN_PATCH_REEDS:
            says = (
                f"{key_range(run)}: {reeds} corroded or stuck reeds together. The cause is mouse "
                "urine or water: check pan, pallets and keys there too"
            )
            patches.append(Cluster(Kind.CORROSION, "", run, None, says))
    return patches


def silent_keys(rows: Sequence[ReedRow]) -> list[Cluster]:
    """Keys silent in every rank that was tried: pallet, sticker or key, not the reeds.

    Source: fault notes of reed-organ repairers (common practice).
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
            f"{note_name(key)} is silent in {len(tried)} ranks: check its pallet, sticker and "
            "key first",
        )
        for key, tried in sorted(by_key.items())
        if len(tried) >= MIN_SILENT_RANKS and all(row.speech is Speech.DEAD for row in tried)
    ]


def weak_ranks(rows: Sequence[ReedRow]) -> list[Cluster]:
    """Ranks in which most reeds are weak or slow: their mute hardly opens.

    Source: fault notes of reed-organ repairers (common practice); the share is an estimate from
    memory. If every rank is weak, the wind is too weak instead.
    """
    ranks = _ranks(rows)
    weak = [name for name, rank in ranks.items() if _is_weak(rank)]
    everywhere = len(weak) == len(ranks)
    advice = "In every rank: measure the suction" if everywhere else "Check its mute"
    return [
        Cluster(
            Kind.RANK_WEAK,
            name,
            tuple(row.key_midi for row in ranks[name]),
            None,
            f"{name}: most reeds are weak or slow. {advice} before you work on reeds",
        )
        for name in weak
    ]


def _is_weak(rank: Sequence[ReedRow]) -> bool:
    silent = (Speech.DEAD, Speech.MISSING, Speech.NOT_TRIED)
    heard = [row for row in rank if row.speech not in silent]
    weak = sum(row.speech in (Speech.WEAK, Speech.SLOW) for row in heard)
    return len(heard) >= MIN_WEAK_RANK_REEDS and weak >= WEAK_SHARE * len(heard)


def mixed_sets(tuning: FoundTuning) -> list[Cluster]:
    """Ranks that contain two sets of reeds, and ranks at another pitch than the others.

    Source: reeds do get exchanged between pitch standards (restorers' pages).
    """
    ranks = {name: main_set(parts) for name, parts in _parts(tuning.sets).items()}
    mixed = [
        _mixed(name, ranks[name], part)
        for name, parts in _parts(tuning.sets).items()
        for part in parts
        if part is not ranks[name]
    ]
    return mixed + _ranks_off({name: main for name, main in ranks.items() if main.sure}, tuning)


def _ranks_off(ranks: dict[str, RankSet], tuning: FoundTuning) -> list[Cluster]:
    if not ranks:
        return []
    largest = max(ranks, key=lambda name: len(ranks[name].key_midis))
    if tuning.pitch is None:
        level, other = ranks[largest].cents, largest
    else:
        level, other = tuning.pitch.cents, "the instrument"
    return [
        _rank_off(name, main, main.cents - level, other)
        for name, main in ranks.items()
        if abs(main.cents - level) > RANKS_AGREE_CENTS
    ]


def main_set(parts: Sequence[RankSet]) -> RankSet:
    """The largest set of a rank; the lower in pitch if two are equally large."""
    return min(parts, key=lambda part: (-len(part.key_midis), part.cents))


def _parts(sets: Sequence[RankSet]) -> dict[str, list[RankSet]]:
    parts: defaultdict[str, list[RankSet]] = defaultdict(list)
    for one in sets:
        parts[one.rank_name].append(one)
    return parts


def _mixed(name: str, main: RankSet, other: RankSet) -> Cluster:
    cents, keys = other.cents - main.cents, other.key_midis
    overlap = any(keys[0] < key < keys[-1] for key in main.key_midis)
    where = f"{len(keys)} scattered reeds" if overlap else "a stretch"
    says = (
        f"{name}: {where} from {key_range(keys)} at A = {other.a_hz:.1f} Hz, {cents:+.0f} cents "
        f"from the rest at {main.a_hz:.1f} Hz. The rank contains reeds of two sets"
    )
    return Cluster(Kind.MIXED_SET, name, keys, cents, says)


def _rank_off(name: str, rank: RankSet, cents: float, other: str) -> Cluster:
    says = (
        f"{name}: the whole rank is {cents:+.0f} cents from {other}, at A = {rank.a_hz:.1f} Hz. "
        "One of them may come from another instrument"
    )
    return Cluster(Kind.RANK_OFF, name, rank.key_midis, cents, says)


def exchanged(wrong: Sequence[tuple[ReedRow, float]]) -> list[Cluster]:
    """Pairs of reeds that each sound the other's note.

    Source: interval arithmetic; the slack is an estimate from memory.

    Args:
        wrong: reeds with a wrong note, each with its distance from its rank [cents].
    """
    pairs = []
    for index, (row, cents) in enumerate(wrong):
        for other, other_cents in wrong[index + 1 :]:
            if row.rank_name != other.rank_name:
                continue
            apart = CENTS_PER_SEMITONE * (other.key_midi - row.key_midi)
            if max(abs(cents - apart), abs(other_cents + apart)) <= EXCHANGE_SLACK_CENTS:
                pairs.append(_exchange(row, other))
    return pairs


def _exchange(row: ReedRow, other: ReedRow) -> Cluster:
    keys = tuple(sorted((row.key_midi, other.key_midi)))
    names = " and ".join(note_name(key) for key in keys)
    says = f"{row.rank_name}: the reeds of {names} sound each other's note. Exchange them"
    return Cluster(Kind.EXCHANGED, row.rank_name, keys, None, says)


def _ranks(rows: Sequence[ReedRow]) -> dict[str, list[ReedRow]]:
    ranks: defaultdict[str, list[ReedRow]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: (row.rank, row.feet, row.key_midi)):
        ranks[row.rank_name].append(row)
    return ranks
