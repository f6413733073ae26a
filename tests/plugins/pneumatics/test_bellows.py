"""What to cut: geometry, allowances, and a layout held against an exact solver."""

from __future__ import annotations

import math
import tomllib
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from assess_pneumatics.bellows import (
    Allowances,
    Boards,
    Layout,
    Piece,
    bare_cloth_m2,
    cloth_piece,
    covered_edge_m,
    gasket_m,
    hinge_piece,
    lay_out,
    strap_piece,
    valve_piece,
    webbing_m,
)
from hypothesis import given, settings
from hypothesis import strategies as st

REFERENCES = Path(__file__).parents[2] / "references"
INCH_M = 0.0254
FOOT_M = 12 * INCH_M
YARD_M = 36 * INCH_M

RULES = {
    row["item"]: row["value"]
    for row in tomllib.loads(
        (REFERENCES / "bellows_check_values.toml").read_text(encoding="utf-8")
    )["rule"]
}

ROUND: Any = "round"

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
    pieces = [hinge_piece(ORDINARY), hinge_piece(EXHAUSTERS)]
    about = RULES["hinges of a reservoir and two exhausters, about"]
    assert webbing_m(pieces) / FOOT_M == pytest.approx(about, rel=0.05)


@given(sides, sides, st.floats(0.01, 1.0))
def test_bare_cloth_against_the_surface_of_a_wedge(
    length: float, depth: float, share: float
) -> None:
    opening = share * depth
    half_angle = math.asin(opening / (2 * depth))
    exact = length * opening + depth**2 * math.sin(2 * half_angle)
    found = bare_cloth_m2(Boards("one", length, depth, opening))
    assert exact <= found * (1 + 1e-12)
    assert found <= exact / math.cos(half_angle) * (1 + 1e-12)


@given(sides, sides, sides)
def test_bare_cloth_of_a_parallel_rise_is_a_box_without_ends(
    length: float, depth: float, opening: float
) -> None:
    boards = Boards("one", length, depth, opening, "parallel", 3)
    surface = 2 * (length * depth + length * opening + depth * opening)
    assert bare_cloth_m2(boards) == pytest.approx(3 * (surface - 2 * length * depth), rel=1e-6)


@given(sides, sides, st.floats(0.01, 1.5), st.sampled_from(["wedge", "parallel"]))
def test_the_strip_is_never_less_than_what_it_covers(
    length: float, depth: float, share: float, rise: Any
) -> None:
    boards = Boards("one", length, depth, share * depth, rise)
    bare = cloth_piece(boards, Allowances(0, 0, 0, 0))
    assert bare.length_m == covered_edge_m(boards)
    assert bare.width_m == boards.opening_m
    assert bare.area_m2 >= bare_cloth_m2(boards) * (1 - 1e-12)
    cut = cloth_piece(boards)
    assert cut.area_m2 > bare.area_m2


def test_every_allowance_of_the_strip_counts_at_both_edges() -> None:
    allow = Allowances(lap_m=0.01, fold_over_m=0.02, trim_m=0.03, end_lap_m=0.04)
    piece = cloth_piece(Boards("one", 1.0, 0.5, 0.2), allow)
    assert piece.length_m == pytest.approx(2.0 + 2 * (0.04 + 0.03))
    assert piece.width_m == pytest.approx(0.2 + 2 * (0.01 + 0.02 + 0.03))


def test_a_parallel_rise_is_covered_all_round_and_has_no_hinge() -> None:
    boards = Boards("one", 1.0, 0.5, 0.2, "parallel")
    assert covered_edge_m(boards) == 3.0
    with pytest.raises(ValueError, match="hinge"):
        hinge_piece(boards)


def test_sizes_of_the_small_pieces() -> None:
    allow = Allowances(
        trim_m=0.01,
        hinge_width_m=0.08,
        flap_overlap_m=0.012,
        tack_margin_m=0.02,
        strap_turn_in_m=0.05,
    )
    hinge = hinge_piece(Boards("one", 0.9, 0.4, 0.2, count=2), allow)
    assert (hinge.length_m, hinge.width_m) == pytest.approx((0.92, 0.08))
    assert hinge.count == 2
    flap = valve_piece("inner valve", 0.2, 0.1, 2, allow)
    assert (flap.length_m, flap.width_m) == pytest.approx((0.264, 0.124))
    assert flap.area_m2 == pytest.approx(2 * 0.264 * 0.124)
    strap = strap_piece(0.6, 0.05, 3, allow)
    assert (strap.length_m, strap.width_m) == pytest.approx((0.7, 0.05))
    assert webbing_m([strap, strap_piece(0.4, 0.05, 1, allow)]) == pytest.approx(2.6)


def test_straps_come_in_pairs() -> None:
    assert strap_piece(0.6, 0.05).count == 2


@given(sides, sides, st.integers(0, 5))
def test_a_gasket_goes_round_and_across(length: float, width: float, bars: int) -> None:
    assert gasket_m(length, width) == pytest.approx(gasket_m(width, length))
    assert gasket_m(length, width, bars) == pytest.approx(2 * (length + width) + bars * width)


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
@given(st.lists(pieces, min_size=1, max_size=6), st.booleans())
def test_pieces_lie_on_the_roll_and_not_on_each_other(wanted: list[Piece], turn: bool) -> None:
    layout = lay_out(wanted, 1.37, turn)
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


@settings(max_examples=60)
@given(st.lists(pieces, min_size=1, max_size=6))
def test_leave_to_turn_never_takes_more(wanted: list[Piece]) -> None:
    assert lay_out(wanted, 1.37).length_m <= lay_out(wanted, 1.37, may_turn=False).length_m


def shortest(wanted: list[Piece], roll_m: float) -> float:
    """Exact shortest length for pieces that may not turn.

    Every layout is some pair of orders: a piece before another in both lies beside it, before
    it in one only lies along from it (H. Murata, K. Fujiyoshi, S. Nakatake and Y. Kajitani,
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


def test_the_exact_solver_knows_a_perfect_square() -> None:
    whole = [Piece("a", 0.6, 0.4), Piece("b", 0.4, 0.6), Piece("c", 0.6, 0.6), Piece("d", 0.4, 0.4)]
    assert shortest(whole, 1.0) == pytest.approx(1.0)


@pytest.mark.parametrize("seed", range(12))
def test_layout_against_an_exact_solver(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wanted = [
        Piece("piece", float(rng.uniform(0.2, 1.8)), float(rng.uniform(0.1, 1.0))) for _ in range(4)
    ]
    best = shortest(wanted, 1.37)
    found = lay_out(wanted, 1.37, may_turn=False).length_m
    tallest = max(piece.length_m for piece in wanted)
    assert best - 1e-6 <= found <= 1.7 * best + tallest


def test_layout_of_an_ordinary_instrument_is_the_shortest_possible() -> None:
    wanted = [cloth_piece(ORDINARY), cloth_piece(EXHAUSTERS)]
    exact = shortest(wanted, 54 * INCH_M)
    assert lay_out(wanted, 54 * INCH_M, may_turn=False).length_m == pytest.approx(exact)


def test_a_piece_as_wide_as_the_roll_fits() -> None:
    assert lay_out([Piece("cover", 0.5, 1.25)], 1.25, may_turn=False).length_m == 0.5
    halves = lay_out([Piece("half", 0.5, 0.625, 2)], 1.25, may_turn=False)
    assert halves.length_m == 0.5
    assert halves.used_share == 1.0


@pytest.mark.parametrize("kinds", [8, 9, 40])
def test_many_kinds_are_turned_where_that_saves_cloth(kinds: int) -> None:
    # Straight, each takes 1 m for itself; turned, 0.6 m.
    covers = [Piece(f"cover {n}", 1.0, 0.6) for n in range(kinds)]
    assert lay_out(covers, 1.0).length_m == pytest.approx(0.6 * kinds)
    assert lay_out(covers, 1.0, may_turn=False).length_m == pytest.approx(1.0 * kinds)


def test_only_the_pieces_that_save_cloth_are_turned() -> None:
    covers = [Piece(f"cover {n}", 1.0, 0.6) for n in range(9)]
    strips = [Piece(f"strip {n}", 0.6, 0.4) for n in range(9)]
    wanted = [*covers, *strips]
    turned = [Piece(piece.name, piece.width_m, piece.length_m) for piece in wanted]
    none, every = (lay_out(way, 1.0, may_turn=False).length_m for way in (wanted, turned))
    assert lay_out(wanted, 1.0).length_m < min(none, every)


def test_a_piece_wider_than_the_roll_is_turned_or_must_be_joined() -> None:
    wide = Piece("cover", 0.3, 1.5)
    assert lay_out([wide], 1.37).length_m == 1.5
    with pytest.raises(ValueError, match=r"cover.*join it from two"):
        lay_out([wide], 1.37, may_turn=False)
    with pytest.raises(ValueError, match="join it from two"):
        lay_out([Piece("cover", 1.4, 1.5)], 1.37)


def test_bands_are_as_long_as_their_longest_piece() -> None:
    many = [Piece(f"strip {n}", 0.5 + 0.01 * n, 0.1) for n in range(40)]
    layout = lay_out(many, 1.37, may_turn=False)
    assert len(layout.placed) == 40
    assert not overlaps(layout)
    # Thirteen lie side by side; 40 of them fill three bands and begin a fourth.
    assert layout.length_m == pytest.approx(0.89 + 0.76 + 0.63 + 0.50)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: Boards("one", 0, 0.4, 0.2), "length"),
        (lambda: Boards("one", 0.9, math.nan, 0.2), "depth"),
        (lambda: Boards("one", 0.9, 0.4, -0.2), "opening"),
        (lambda: Boards("one", 0.9, 0.4, 0.8), "twice the depth"),
        (lambda: Boards("one", 0.9, 0.4, 0.2, ROUND), "rise as"),
        (lambda: Boards("one", 0.9, 0.4, 0.2, count=0), "number of bellows"),
        (lambda: Piece("strip", 0, 1), "length of strip"),
        (lambda: Piece("strip", 1, 0), "width of strip"),
        (lambda: Piece("strip", 1, 1, 0), "number of strip"),
        (lambda: Allowances(trim_m=-0.001), "trim_m"),
        (lambda: valve_piece("valve", 0, 0.1, 1), "length of the ports"),
        (lambda: valve_piece("valve", 0.1, 0, 1), "width of the ports"),
        (lambda: strap_piece(0, 0.05), "length of the strap"),
        (lambda: gasket_m(0, 1), "length of the frame"),
        (lambda: gasket_m(1, 0), "width of the frame"),
        (lambda: gasket_m(1, 1, -1), "bars"),
        (lambda: lay_out([], 1.37), "nothing to cut"),
        (lambda: lay_out([Piece("strip", 1, 1)], 0), "width of the roll"),
    ],
)
def test_nothing_to_cut_from_nonsense(call: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
