"""What to cut: geometry, allowances, and a layout compared with an exact solver."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import permutations, product
from typing import Any

import numpy as np
import pytest
from assess_pneumatics.bellows import (
    END_LAP_M,
    FLAP_OVERLAP_M,
    FOLD_OVER_M,
    HINGE_WIDTH_M,
    LAP_M,
    STRAP_TURN_IN_M,
    TACK_MARGIN_M,
    TRIM_M,
    Boards,
    Layout,
    Piece,
    cloth_piece,
    hinge_piece,
    lay_out,
    strap_piece,
    valve_piece,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from references import reference

INCH_M = 0.0254
FOOT_M = 12 * INCH_M
YARD_M = 36 * INCH_M

RULES = {row["item"]: row["value"] for row in reference("bellows_check_values")["rule"]}

ORDINARY = Boards("reservoir", 36 * INCH_M, 16 * INCH_M, 8 * INCH_M)
EXHAUSTERS = Boards("exhausters", 17 * INCH_M, 14 * INCH_M, 5 * INCH_M, count=2)
# A two-manual instrument with pedals.
VERY_LARGE = Boards("reservoir", 54 * INCH_M, 24 * INCH_M, 9 * INCH_M)

sides = st.floats(0.05, 2.0)
pieces = st.builds(
    Piece, st.just("piece"), st.floats(0.02, 2.0), st.floats(0.02, 1.2), st.integers(1, 4)
)


# --- pieces ---------------------------------------------------------------------------


def test_a_very_large_reservoir_takes_more_than_eight_feet() -> None:
    least = RULES["a very large reservoir takes more bellows cloth than"] * FOOT_M
    assert cloth_piece(VERY_LARGE).length_m > least
    assert cloth_piece(ORDINARY).length_m < least


def test_cloth_of_an_ordinary_instrument_is_what_is_usually_bought() -> None:
    # The range is an estimate from memory.
    what = "bellows cloth 54 in wide for a reservoir and two exhausters, "
    layout = lay_out([cloth_piece(ORDINARY), cloth_piece(EXHAUSTERS)], 54 * INCH_M)
    assert RULES[what + "from"] <= layout.length_m / YARD_M <= RULES[what + "to"]


def test_hinges_of_an_ordinary_instrument() -> None:
    # An estimate from memory.
    strips = [hinge_piece(ORDINARY), hinge_piece(EXHAUSTERS)]
    about = RULES["hinges of a reservoir and two exhausters, about"]
    length_m = sum(strip.length_m * strip.count for strip in strips)
    assert length_m / FOOT_M == pytest.approx(about, rel=0.05)


@given(sides, sides, st.floats(0.01, 1.0))
def test_the_strip_covers_the_open_wedge(length: float, depth: float, share: float) -> None:
    opening = share * depth
    half_angle = math.asin(opening / (2 * depth))
    open_sides = length * opening + depth**2 * math.sin(2 * half_angle)
    piece = cloth_piece(Boards("one", length, depth, opening))
    assert piece.area_m2 > open_sides


def test_every_allowance_of_the_strip_counts_at_both_edges() -> None:
    piece = cloth_piece(Boards("one", 1.0, 0.5, 0.2, count=3))
    assert piece.length_m == pytest.approx(2.0 + 2 * (END_LAP_M + TRIM_M))
    assert piece.width_m == pytest.approx(0.2 + 2 * (LAP_M + FOLD_OVER_M + TRIM_M))
    assert piece.count == 3
    # At least half an inch of trim (Reed Organ Repair: A generic approach, later parts).
    assert TRIM_M >= 0.5 * INCH_M


def test_sizes_of_the_small_pieces() -> None:
    hinge = hinge_piece(Boards("one", 0.9, 0.4, 0.2, count=2))
    assert (hinge.length_m, hinge.width_m) == pytest.approx((0.9 + 2 * TRIM_M, HINGE_WIDTH_M))
    assert hinge.count == 2
    flap = valve_piece("inner valve", 0.2, 0.1, 2)
    assert flap.length_m == pytest.approx(0.2 + 2 * (FLAP_OVERLAP_M + TACK_MARGIN_M))
    assert flap.width_m == pytest.approx(0.1 + 2 * FLAP_OVERLAP_M)
    assert flap.area_m2 == pytest.approx(2 * flap.length_m * flap.width_m)
    strap = strap_piece(0.6, 0.05)
    assert (strap.length_m, strap.width_m) == pytest.approx((0.6 + 2 * STRAP_TURN_IN_M, 0.05))
    assert strap.count == 2


# --- layout ---------------------------------------------------------------------------


def overlaps(layout: Layout) -> bool:
    slack = 1e-9
    return any(
        a.across_m + a.width_m > b.across_m + slack
        and b.across_m + b.width_m > a.across_m + slack
        and a.along_m + a.length_m > b.along_m + slack
        and b.along_m + b.length_m > a.along_m + slack
        for i, a in enumerate(layout.placed)
        for b in layout.placed[:i]
    )


@settings(max_examples=60)
@given(st.lists(pieces, min_size=1, max_size=6))
def test_pieces_are_on_the_roll_and_not_on_each_other(wanted: list[Piece]) -> None:
    layout = lay_out(wanted, 1.37)
    assert len(layout.placed) == sum(piece.count for piece in wanted)
    assert not overlaps(layout)
    for placed in layout.placed:
        assert 0 <= placed.across_m <= placed.across_m + placed.width_m <= 1.37 + 1e-9
        assert 0 <= placed.along_m <= placed.along_m + placed.length_m <= layout.length_m + 1e-9
    cut = sorted((p.width_m * p.length_m) for p in layout.placed)
    asked = sorted(p.length_m * p.width_m for p in wanted for _ in range(p.count))
    assert cut == pytest.approx(asked)
    assert layout.used_share == pytest.approx(sum(asked) / (1.37 * layout.length_m))
    assert layout.used_share <= 1 + 1e-9
    assert layout.length_m <= sum(p.length_m * p.count for p in wanted) + 1e-9


def turned(piece: Piece) -> Piece:
    return Piece(piece.name, piece.width_m, piece.length_m, piece.count)


def shortest(wanted: Iterable[Piece], roll_m: float) -> float:
    """Exact shortest length for pieces that may not turn.

    Every layout is some pair of orders: a piece before another in both is beside it, before
    it in one only is along from it (H. Murata, K. Fujiyoshi, S. Nakatake and Y. Kajitani,
    VLSI module placement based on rectangle-packing by the sequence-pair, 1996).
    """
    single = [piece for piece in wanted for _ in range(piece.count)]
    best = math.inf
    for first in permutations(range(len(single))):
        for second in permutations(range(len(single))):
            place = {index: at for at, index in enumerate(second)}
            across, along = [0.0] * len(single), [0.0] * len(single)
            for at, i in enumerate(first):
                for j in first[:at]:
                    if place[j] < place[i]:
                        across[i] = max(across[i], across[j] + single[j].width_m)
            for at, i in enumerate(second):
                for j in second[:at]:
                    if first.index(j) > first.index(i):
                        along[i] = max(along[i], along[j] + single[j].length_m)
            width = max(x + p.width_m for x, p in zip(across, single, strict=True))
            if width <= roll_m:
                length = max(y + p.length_m for y, p in zip(along, single, strict=True))
                best = min(best, length)
    return best


def shortest_turned(wanted: list[Piece], roll_m: float) -> float:
    """Exact shortest length for kinds of pieces that may turn."""
    ways = product(*((piece, turned(piece)) for piece in wanted))
    return min(shortest(way, roll_m) for way in ways)


def test_the_exact_solver_finds_a_perfect_square() -> None:
    whole = [Piece("a", 0.6, 0.4), Piece("b", 0.4, 0.6), Piece("c", 0.6, 0.6), Piece("d", 0.4, 0.4)]
    assert shortest(whole, 1.0) == pytest.approx(1.0)


@pytest.mark.parametrize("seed", range(6))
def test_layout_against_an_exact_solver(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wanted = [
        Piece("piece", float(rng.uniform(0.2, 1.8)), float(rng.uniform(0.1, 1.0))) for _ in range(4)
    ]
    best = shortest_turned(wanted, 1.37)
    found = lay_out(wanted, 1.37).length_m
    longest = max(max(piece.length_m, piece.width_m) for piece in wanted)
    assert best - 1e-6 <= found <= 1.7 * best + longest


def test_layout_of_an_ordinary_instrument_is_the_shortest_possible() -> None:
    wanted = [cloth_piece(ORDINARY), cloth_piece(EXHAUSTERS)]
    exact = shortest_turned(wanted, 54 * INCH_M)
    assert lay_out(wanted, 54 * INCH_M).length_m == pytest.approx(exact)


def test_a_piece_as_wide_as_the_roll_fits() -> None:
    assert lay_out([Piece("cover", 0.5, 1.25)], 1.25).length_m == 0.5
    halves = lay_out([Piece("half", 0.5, 0.625, 2)], 1.25)
    assert halves.length_m == 0.5
    assert halves.used_share == 1.0


def test_a_piece_is_turned_if_that_saves_cloth() -> None:
    assert lay_out([Piece("cover", 1.0, 0.6)], 1.0).length_m == pytest.approx(0.6)


def test_a_piece_wider_than_the_roll_is_turned_or_must_be_joined() -> None:
    assert lay_out([Piece("cover", 0.3, 1.5)], 1.37).length_m == 1.5
    with pytest.raises(ValueError, match=r"cover.*join it from two"):
        lay_out([Piece("cover", 1.4, 1.5)], 1.37)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: Boards("one", 0, 0.4, 0.2), "length"),
        (lambda: Boards("one", 0.9, math.nan, 0.2), "depth"),
        (lambda: Boards("one", 0.9, 0.4, -0.2), "opening"),
        (lambda: Boards("one", 0.9, 0.4, 0.8), "twice the depth"),
        (lambda: Boards("one", 0.9, 0.4, 0.2, count=0), "number of bellows"),
        (lambda: Piece("strip", 0, 1), "length of strip"),
        (lambda: Piece("strip", 1, 0), "width of strip"),
        (lambda: Piece("strip", 1, 1, 0), "number of strip"),
        (lambda: valve_piece("valve", 0, 0.1, 1), "length of the ports"),
        (lambda: valve_piece("valve", 0.1, 0, 1), "width of the ports"),
        (lambda: strap_piece(0, 0.05), "length of the strap"),
        (lambda: lay_out([], 1.37), "nothing to cut"),
        (lambda: lay_out([Piece("strip", 1, 1)], 0), "width of the roll"),
    ],
)
def test_impossible_pieces(call: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
