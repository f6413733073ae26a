"""Figures of the reed survey: the pitch of each reed, and its distance from its own rank."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from assess import Figure, Flag, Series
from assess_reeds.found_tuning import FoundTuning
from assess_reeds.pitch import NOTE_NAMES, note_name
from assess_reeds.rows import Speech
from assess_reeds.survey import JudgedReed, Survey

KEYS = "key (C4 is middle C)"
FLAGGED = {Speech.DEAD: "silent", Speech.MISSING: "missing", Speech.SLOW: "slow"}


def pitches_figure(found: Survey) -> list[Figure]:
    """The pitch of each reed with its uncertainty, in front of the temperament as found.

    Args:
        found: the survey; without a single pitch there is no figure.
    """
    if not any(reed.cents is not None for reed in found.reeds):
        return []
    keys = sorted({reed.row.key_midi for reed in found.reeds})
    ranks: dict[str, list[JudgedReed]] = {}
    for reed in found.reeds:
        ranks.setdefault(reed.row.rank_name, []).append(reed)
    series = [_pitches(name, reeds) for name, reeds in ranks.items()]
    return [
        Figure(
            "pitches",
            "Pitch of each reed",
            KEYS,
            "above equal temperament at A = 440 Hz, cents",
            (*series, *_temperament(found.tuning, keys)),
            (f"Temperament: {found.tuning.temperament.says}.",),
            says="The grey line is the temperament as found: a reed on it is in tune. A bar is the "
            "uncertainty of a pitch that was heard in a recording. Silent, missing and slow reeds "
            "are marked below.",
            joined=False,
            flags=tuple(flag for name, reeds in ranks.items() for flag in _flags(name, reeds)),
            **_along(keys),
        )
    ]


def _pitches(name: str, reeds: Iterable[JudgedReed]) -> Series:
    read = [(reed.row, reed.cents) for reed in reeds if reed.cents is not None]
    points = tuple((float(row.key_midi), cents) for row, cents in read)
    spreads = tuple(row.cents_sd for row, _ in read)
    return Series(name, points, spreads if any(spreads) else ())


def _temperament(tuning: FoundTuning, keys: list[int]) -> list[Series]:
    """The temperament as found, at the common pitch or at that of each rank."""
    title = tuning.assumed.title
    levels = (
        [(f"{title} at A = {tuning.pitch.a_hz:.1f} Hz", tuning.pitch.cents)]
        if tuning.pitch
        else [(f"{title}, {one.rank_name}", one.cents) for one in tuning.sets if one.sure]
    )
    return [
        Series(
            name,
            tuple((float(k), cents + tuning.assumed.offset_cents(k)) for k in keys),
            behind=True,
        )
        for name, cents in levels
    ]


def _flags(name: str, reeds: Iterable[JudgedReed]) -> list[Flag]:
    """What is marked of one rank; a word that fits no reed is left out."""
    at: dict[str, list[float]] = {says: [] for says in FLAGGED.values()}
    for reed in reeds:
        if reed.row.speech in FLAGGED:
            at[FLAGGED[reed.row.speech]].append(float(reed.row.key_midi))
    return [Flag(name, says, tuple(keys)) for says, keys in at.items() if keys]


def departures_figure(found: Survey) -> Figure:
    """Distance of each reed from its own rank, along the compass."""
    lines: dict[str, list[tuple[float, float]]] = {}
    for reed in found.reeds:
        if reed.departure_cents is not None:
            points = lines.setdefault(reed.row.rank_name, [])
            points.append((float(reed.row.key_midi), reed.departure_cents))
    return Figure(
        "departures",
        "How far each reed is from its own rank",
        KEYS,
        "distance, cents",
        tuple(Series(name, tuple(points)) for name, points in lines.items()),
        ("Reeds that are silent or were not read are left out.",),
        says="A reed on the line of 0 is in tune with its own rank; one far from it is wrong "
        "by itself.",
        joined=False,
        **_along({int(key) for points in lines.values() for key, _ in points}),
    )


def _along(keys: Iterable[int]) -> dict[str, Any]:
    """Names of the keys, and the keys of every C, along the axis."""
    names = {float(key): note_name(key) for key in sorted(keys)}
    return {"x_names": names, "x_ticks": tuple(n for n in names if n % len(NOTE_NAMES) == 0)}
