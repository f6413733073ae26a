"""What to cut for wedge bellows, from their boards: cloth, hinges, valve leather, straps.

Sizes are for cutting oversize and trimming after gluing. A piece is given as the rectangle
that comes off the roll; the tapered sides of a wedge are cut from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import product

from assess import positive

# Allowances added to the bare size of a piece. The trim of at least half an inch, and the rule
# that the width is the full opening with margins for gluing and folding over, are from Reed
# Organ Repair: A generic approach, later parts; the rest are estimates from memory.
LAP_M = 0.020
"""Glued to the edge of each board [m]."""
FOLD_OVER_M = 0.020
"""Folded over that edge, at each board [m]."""
TRIM_M = 0.0127
"""Cut off after gluing, on each edge [m]."""
END_LAP_M = 0.040
"""Of the cloth round the hinge corner, at each end [m]."""
HINGE_WIDTH_M = 0.075
"""Whole width of a hinge strip, half on each board [m]."""
FLAP_OVERLAP_M = 0.012
"""Of a valve flap beyond its ports, on each side [m]."""
TACK_MARGIN_M = 0.020
"""Added at each tacked end of a flap [m]."""
STRAP_TURN_IN_M = 0.050
"""Of a strap, turned in at each end [m]."""


@dataclass(frozen=True)
class Boards:
    """One wedge bellows, or several that are alike.

    Attributes:
        name: what they are.
        length_m: board, along the hinge [m].
        depth_m: board, from hinge to free edge [m].
        opening_m: inside, between the boards, at the free edge when fully open [m].
        count: how many of them.

    Raises:
        ValueError: a size or count that is not above zero, or an opening wider than the boards
            reach.
    """

    name: str
    length_m: float
    depth_m: float
    opening_m: float
    count: int = 1

    def __post_init__(self) -> None:
        positive("the length of the board", self.length_m)
        positive("the depth of the board", self.depth_m)
        positive("the opening", self.opening_m)
        positive("the number of bellows", self.count)
        if self.opening_m >= 2 * self.depth_m:
            raise ValueError("a wedge cannot open to twice the depth of its boards")


@dataclass(frozen=True)
class Piece:
    """A rectangle to cut.

    Attributes:
        name: what it is for.
        length_m: the long way in use: round the boards, along the hinge, along the strap [m].
        width_m: the other way [m].
        count: how many alike.

    Raises:
        ValueError: a size or count that is not above zero.
    """

    name: str
    length_m: float
    width_m: float
    count: int = 1

    def __post_init__(self) -> None:
        positive(f"the length of {self.name}", self.length_m)
        positive(f"the width of {self.name}", self.width_m)
        positive(f"the number of {self.name}", self.count)

    @property
    def area_m2(self) -> float:
        """Area of all of them together [m2]. Source: geometry."""
        return self.length_m * self.width_m * self.count


def cloth_piece(boards: Boards) -> Piece:
    """The one strip of bellows cloth that goes round a reservoir or exhauster.

    Length: the free edge and both sides, with end lap and trim at both ends; the hinge has
    its own strip. Width: the full opening, with lap, fold-over and trim at both boards.

    Source: width after Reed Organ Repair: A generic approach, later parts (full opening,
    glue margin, fold-over, at least 1/2 in trim); the rest is common practice. If the boards
    are thick and the cloth covers their edges, give the outside opening.

    Args:
        boards: of the bellows [m].

    >>> piece = cloth_piece(Boards("reservoir", 0.914, 0.406, 0.203))
    >>> round(piece.length_m, 3), round(piece.width_m, 3)
    (1.831, 0.308)
    """
    return Piece(
        f"cloth of {boards.name}",
        boards.length_m + 2 * boards.depth_m + 2 * (END_LAP_M + TRIM_M),
        boards.opening_m + 2 * (LAP_M + FOLD_OVER_M + TRIM_M),
        boards.count,
    )


def hinge_piece(boards: Boards) -> Piece:
    """The hinge strip, of cloth or leather, with trim at both ends.

    Source: common practice.

    Args:
        boards: of the bellows [m].

    >>> round(hinge_piece(Boards("reservoir", 0.914, 0.406, 0.203)).length_m, 3)
    0.939
    """
    length_m = boards.length_m + 2 * TRIM_M
    return Piece(f"hinge of {boards.name}", length_m, HINGE_WIDTH_M, boards.count)


def valve_piece(name: str, ports_length_m: float, ports_width_m: float, count: int) -> Piece:
    """A leather flap that covers a group of ports, with overlap and tack margins.

    Source: common practice. Leather has holes, thin places and a belly: allow a third more
    skin than the flaps measure (estimate from memory).

    Args:
        name: which valve.
        ports_length_m: over all ports under one flap, along the flap [m].
        ports_width_m: across [m].
        count: flaps alike.

    Raises:
        ValueError: a size or count that is not above zero.

    >>> round(valve_piece("inner valve", 0.20, 0.10, 2).area_m2, 3)  # m2 of leather
    0.065
    """
    positive("the length of the ports", ports_length_m)
    positive("the width of the ports", ports_width_m)
    length_m = ports_length_m + 2 * (FLAP_OVERLAP_M + TACK_MARGIN_M)
    return Piece(name, length_m, ports_width_m + 2 * FLAP_OVERLAP_M, count)


def strap_piece(length_m: float, width_m: float) -> Piece:
    """The two straps from the treadles to the exhausters, turned in at both ends.

    Source: common practice; same length and width as the old strap.

    Args:
        length_m: between the fixings [m].
        width_m: of the webbing [m].

    Raises:
        ValueError: a size that is not above zero.

    >>> round(strap_piece(0.55, 0.05).length_m, 2)
    0.65
    """
    positive("the length of the strap", length_m)
    return Piece("treadle strap", length_m + 2 * STRAP_TURN_IN_M, width_m, 2)


@dataclass(frozen=True)
class Placed:
    """Position of one piece on the roll.

    Attributes:
        name: what it is for.
        across_m: its near corner, across the roll [m].
        along_m: the same corner, along the roll [m].
        width_m: size across the roll [m].
        length_m: size along the roll [m].
    """

    name: str
    across_m: float
    along_m: float
    width_m: float
    length_m: float


@dataclass(frozen=True)
class Layout:
    """How pieces are cut off a roll.

    Attributes:
        length_m: to cut off the roll [m].
        placed: every single piece.
        used_share: of the cloth cut off, in pieces [1].
    """

    length_m: float
    placed: tuple[Placed, ...]
    used_share: float


def lay_out(pieces: Sequence[Piece], roll_width_m: float) -> Layout:
    """Lay a few kinds of pieces on a roll of given width, and say what length to cut off.

    Pieces are laid in bands across the roll, longest first, each in the first band with room.
    Every way of turning the kinds of piece is tried and the shortest result is kept.

    Source: first-fit decreasing height, Coffman, Garey, Johnson and Tarjan, Performance
    bounds for level-oriented two-dimensional packing algorithms, SIAM J. Comput. 9 (1980):
    at most 1.7 times the shortest possible and one piece more.

    Args:
        pieces: to cut [m].
        roll_width_m: usable width of the roll [m].

    Raises:
        ValueError: no pieces, a roll without width, or a piece that fits neither way and must
            be joined from two.

    >>> boards = [Boards("reservoir", 0.914, 0.406, 0.203), Boards("exhausters", 0.43, 0.36, 0.13,
    ...     count=2)]
    >>> layout = lay_out([cloth_piece(b) for b in boards], 1.37)
    >>> round(layout.length_m, 2), round(layout.used_share, 2)
    (1.83, 0.46)
    """
    positive("the width of the roll", roll_width_m)
    if not pieces:
        raise ValueError("there is nothing to cut")
    choices = product(*(_ways(piece, roll_width_m) for piece in pieces))
    placed = min((_bands(choice, roll_width_m) for choice in choices), key=_length_m)
    length_m = _length_m(placed)
    used = sum(piece.area_m2 for piece in pieces) / (length_m * roll_width_m)
    return Layout(length_m, tuple(placed), used)


def _ways(piece: Piece, roll_width_m: float) -> list[Piece]:
    """The ways the piece fits on the roll, its length along it: straight, then turned."""
    turned = Piece(piece.name, piece.width_m, piece.length_m, piece.count)
    fitting = [way for way in (piece, turned) if way.width_m <= roll_width_m]
    if not fitting:
        raise ValueError(
            f"{piece.name}: {piece.length_m:.2f} x {piece.width_m:.2f} m does not fit on a roll "
            f"of {roll_width_m:.2f} m; join it from two"
        )
    return fitting


@dataclass
class _Band:
    """A strip across the roll: where it begins, and how much of its width is used."""

    along_m: float
    used_m: float = field(default=0.0)


def _bands(pieces: Sequence[Piece], roll_width_m: float) -> list[Placed]:
    """Every single piece in the first band with room, longest first."""
    single = [piece for piece in pieces for _ in range(piece.count)]
    single.sort(key=lambda piece: -piece.length_m)
    bands: list[_Band] = []
    placed: list[Placed] = []
    length_m = 0.0
    for piece in single:
        band = next((b for b in bands if b.used_m + piece.width_m <= roll_width_m), None)
        if band is None:
            band = _Band(length_m)
            bands.append(band)
            length_m += piece.length_m
        placed.append(Placed(piece.name, band.used_m, band.along_m, piece.width_m, piece.length_m))
        band.used_m += piece.width_m
    return placed


def _length_m(placed: Sequence[Placed]) -> float:
    return max(piece.along_m + piece.length_m for piece in placed)
