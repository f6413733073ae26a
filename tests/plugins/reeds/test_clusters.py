from __future__ import annotations

import dataclasses
import itertools

import pytest
from assess_reeds.clusters import (
    MIN_PATCH_REEDS,
    PATCH_GAP,
    Kind,
    corrosion_patches,
    exchanged,
    key_range,
    mixed_sets,
    runs,
    silent_keys,
    sounding_neighbours,
    weak_ranks,
)
from assess_reeds.fitting import readings_of
from assess_reeds.found_tuning import found_tuning
from assess_reeds.rows import ReedRow, Sign, Speech
from hypothesis import given
from hypothesis import strategies as st
from made_organs import rank


def sound(keys: range = range(40, 60), name: str = "Viola") -> list[ReedRow]:
    return [ReedRow(key, name) for key in keys]


def marked(keys: set[int], sign: Sign, rows: list[ReedRow]) -> list[ReedRow]:
    return [
        dataclasses.replace(row, signs=frozenset({sign})) if row.key_midi in keys else row
        for row in rows
    ]


def speaking(keys: set[int], speech: Speech, rows: list[ReedRow]) -> list[ReedRow]:
    return [
        dataclasses.replace(row, speech=speech) if row.key_midi in keys else row for row in rows
    ]


@given(st.lists(st.integers(0, 127)), st.integers(1, 4))
def test_runs_hold_every_key_once_and_never_touch(keys: list[int], gap: int) -> None:
    found = runs(keys, gap)
    assert [key for run in found for key in run] == sorted(set(keys))
    for run in found:
        assert all(after - before <= gap for before, after in itertools.pairwise(run))
    for one, following in itertools.pairwise(found):
        assert following[0] - one[-1] > gap


def test_a_range_of_keys_in_words() -> None:
    assert key_range((60,)) == "C4"
    assert key_range((62, 60)) == "C4 to D4"


def test_adjacent_notes_that_make_neighbours_sound_are_one_cluster() -> None:
    rows = marked({43, 44, 45, 50}, Sign.NEIGHBOUR, sound())
    (found,) = sounding_neighbours(rows)
    assert (found.kind, found.key_midis) == (Kind.NEIGHBOURS, (43, 44, 45))
    assert "crack in the pan" in found.says


def test_notes_in_different_ranks_are_not_adjacent() -> None:
    one, other = sound(), sound(name="Melody")
    assert (
        sounding_neighbours(marked({43}, Sign.NEIGHBOUR, one) + marked({44}, Sign.NEIGHBOUR, other))
        == []
    )


def test_a_patch_of_corrosion_spans_the_ranks() -> None:
    rows = [
        *marked({43}, Sign.CORRODED, sound()),
        *marked({43, 44 + PATCH_GAP}, Sign.STUCK, sound(name="Melody")),
    ]
    (found,) = corrosion_patches(rows)
    assert (found.key_midis, found.rank) == ((43, 44 + PATCH_GAP), "")
    assert f"{MIN_PATCH_REEDS} corroded or stuck" in found.says


@pytest.mark.parametrize("keys", [{43, 45}, {43, 47, 51}, set()])
def test_scattered_corrosion_is_not_a_patch(keys: set[int]) -> None:
    assert corrosion_patches(marked(keys, Sign.CORRODED, sound())) == []


def test_a_key_silent_in_every_rank_points_at_the_key() -> None:
    rows = speaking({45, 50}, Speech.DEAD, sound()) + speaking(
        {45}, Speech.DEAD, sound(name="Melody")
    )
    (found,) = silent_keys(rows)
    assert found.key_midis == (45,)
    assert "pallet" in found.says


def test_a_key_tried_in_one_rank_is_not_blamed() -> None:
    alone = speaking({45}, Speech.DEAD, sound())
    assert silent_keys(alone) == []
    untried = speaking({45}, Speech.NOT_TRIED, sound(name="Melody"))
    missing = speaking({45}, Speech.MISSING, sound(name="Flute"))
    assert silent_keys(alone + untried + missing) == []


def test_a_weak_rank_points_at_its_mute() -> None:
    weak = speaking(set(range(40, 53)), Speech.WEAK, sound())
    (found,) = weak_ranks(weak + sound(name="Melody"))
    assert found.rank == "Viola 8 ft"
    assert "mute" in found.says


def test_weakness_in_every_rank_points_at_the_suction() -> None:
    ranks = [
        *speaking(set(range(40, 60)), Speech.SLOW, sound()),
        *speaking(set(range(40, 60)), Speech.WEAK, sound(name="Melody")),
    ]
    found = weak_ranks(ranks)
    assert len(found) == 2
    assert all("suction" in one.says for one in found)


@pytest.mark.parametrize("weak", [range(40, 51), range(40, 44)])
def test_half_a_rank_of_weak_reeds_is_not_a_weak_rank(weak: range) -> None:
    assert weak_ranks(speaking(set(weak), Speech.WEAK, sound())) == []


def test_a_few_weak_reeds_are_not_a_weak_rank() -> None:
    assert weak_ranks(speaking({40, 41, 42}, Speech.WEAK, sound(range(40, 43)))) == []


def test_foreign_reeds_in_a_stretch_and_scattered() -> None:
    stretch = rank("Viola", keys=range(29, 50), level=54.0) + rank("Viola", keys=range(50, 90))
    scattered = [
        dataclasses.replace(row, rank="Melody", cents=54.0 if row.key_midi % 4 == 0 else 0.0)
        for row in rank()
    ]
    by_rank = {one.rank: one for one in mixed_sets(found_tuning(readings_of(stretch + scattered)))}
    assert by_rank["Viola 8 ft"].key_midis == tuple(range(29, 50))
    assert "a stretch from F1 to F#3" not in by_rank["Melody 8 ft"].says
    assert "a stretch from F1 to C#3" in by_rank["Viola 8 ft"].says
    assert "15 scattered reeds" in by_rank["Melody 8 ft"].says
    assert all(one.kind is Kind.MIXED_SET for one in by_rank.values())
    assert all(one.cents == pytest.approx(54.0) for one in by_rank.values())


def test_a_rank_at_another_pitch() -> None:
    ranks = rank("Viola") + rank("Melody") + rank("Flute", 4, level=-20.0)
    (found,) = mixed_sets(found_tuning(readings_of(ranks)))
    assert (found.kind, found.rank) == (Kind.RANK_OFF, "Flute 4 ft")
    assert found.cents == pytest.approx(-20.0)
    assert "from the instrument" in found.says


def test_two_ranks_apart_are_compared_with_each_other() -> None:
    ranks = rank("Viola") + rank("Melody", keys=range(40, 90), level=54.0)
    found = mixed_sets(found_tuning(readings_of(ranks + rank("Flute", 4, level=-40.0))))
    assert [one.rank for one in found] == ["Flute 4 ft", "Melody 8 ft"] or [
        one.rank for one in found
    ] == ["Melody 8 ft", "Viola 8 ft"]
    assert all("ft, at" in one.says for one in found)


def test_a_few_readings_do_not_make_a_rank_at_another_pitch() -> None:
    few = rank("Flute", 4, range(60, 63), level=54.0)
    assert mixed_sets(found_tuning(readings_of(rank() + few))) == []
    assert mixed_sets(found_tuning(())) == []


@given(st.integers(1, 12), st.floats(-14.0, 14.0), st.floats(-14.0, 14.0))
def test_two_reeds_exchanged(apart: int, off: float, other_off: float) -> None:
    low, high = ReedRow(50, "Viola"), ReedRow(50 + apart, "Viola")
    cents = 100.0 * apart
    (found,) = exchanged([(high, -cents + off), (low, cents + other_off)])
    assert found.key_midis == (50, 50 + apart)
    assert exchanged([(low, cents), (dataclasses.replace(high, rank="Melody"), -cents)]) == []
    assert exchanged([(low, cents), (high, cents)]) == []


def test_foreign_reeds_are_measured_from_the_rest_of_the_rank() -> None:
    rows = rank(keys=range(29, 45), level=-46.0) + rank(keys=range(45, 90), level=8.0)
    (found,) = [
        one for one in mixed_sets(found_tuning(readings_of(rows))) if one.kind is Kind.MIXED_SET
    ]
    assert found.cents == pytest.approx(-54.0)


@pytest.mark.parametrize("own", [30, 49])
def test_one_own_reed_among_foreign_ones_makes_them_scattered(own: int) -> None:
    rows = [
        dataclasses.replace(row, cents=54.0) if row.key_midi <= 50 and row.key_midi != own else row
        for row in rank()
    ]
    (found,) = mixed_sets(found_tuning(readings_of(rows)))
    assert "scattered" in found.says


@pytest.mark.parametrize(("heard", "weak", "found"), [(10, 6, 1), (10, 5, 0), (6, 6, 1), (5, 5, 0)])
def test_how_many_weak_reeds_make_a_weak_rank(heard: int, weak: int, found: int) -> None:
    keys = range(40, 40 + heard)
    rows = speaking(set(keys[:weak]), Speech.WEAK, sound(keys))
    silent = speaking({90}, Speech.DEAD, sound(range(90, 91)))
    assert len(weak_ranks(rows + silent)) == found
