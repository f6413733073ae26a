"""What to cut for bellows: cloth, hinges, valve leather, webbing, gaskets, from the boards.

Sizes are for cutting oversize and trimming after gluing. A piece is given as the rectangle
that comes off the roll; the tapered sides of a wedge are cut from it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import product

from assess import not_negative, positive
from assess_pneumatics.leakage import Rise

# Estimates from memory, but for the trim: at least half an inch (Reed Organ Repair: A generic
# approach, later parts), as is the rule that the width is the full opening with the margins
# for glue and folding over.
LAP_M = 0.020
FOLD_OVER_M = 0.020
TRIM_M = 0.0127
END_LAP_M = 0.040
HINGE_WIDTH_M = 0.075
FLAP_OVERLAP_M = 0.012
TACK_MARGIN_M = 0.020
STRAP_TURN_IN_M = 0.050

# Up to so many different pieces every way of turning them is tried: at most 256 layouts.
_TURN_ALL = 8


@dataclass(frozen=True)
class Allowances:
    """What is added to the bare size of a piece.

    Attributes:
        lap_m: glued to the edge of each board [m].
        fold_over_m: folded over that edge, at each board [m].
        trim_m: cut off after gluing, on each edge [m].
        end_lap_m: of the cloth round the hinge corner, or over its own start, at each end [m].
        hinge_width_m: whole width of a hinge strip, half on each board [m].
        flap_overlap_m: of a valve flap beyond its ports, on each side [m].
        tack_margin_m: more at the tacked end of a flap [m].
        strap_turn_in_m: of a strap, turned in at each end [m].

    Raises:
        ValueError: an allowance less than zero.
    """

    lap_m: float = LAP_M
    fold_over_m: float = FOLD_OVER_M
    trim_m: float = TRIM_M
    end_lap_m: float = END_LAP_M
    hinge_width_m: float = HINGE_WIDTH_M
    flap_overlap_m: float = FLAP_OVERLAP_M
    tack_margin_m: float = TACK_MARGIN_M
    strap_turn_in_m: float = STRAP_TURN_IN_M

    def __post_init__(self) -> None:
        """Refuse allowances that take away."""
        for name, value in vars(self).items():
            not_negative(f"the allowance {name}", value)


USUAL = Allowances()


@dataclass(frozen=True)
class Boards:
    """One reservoir, or exhausters that are alike.

    Attributes:
        name: what they are.
        length_m: board, along the hinge [m].
        depth_m: board, from hinge to free edge [m].
        opening_m: inside, between the boards, at the free edge when fully open [m].
        rise: "wedge" or "parallel".
        count: how many of them.

    Raises:
        ValueError: a size that is not more than zero, a wedge opened further than its boards
            reach, a rise that is neither, or none of them.
    """

    name: str
    length_m: float
    depth_m: float
    opening_m: float
    rise: Rise = "wedge"
    count: int = 1

    def __post_init__(self) -> None:
        """Refuse boards that cannot be."""
        positive("the length of the board", self.length_m)
        positive("the depth of the board", self.depth_m)
        positive("the opening", self.opening_m)
        positive("the number of bellows", self.count)
        if self.rise not in ("wedge", "parallel"):
            raise ValueError(f'bellows rise as "wedge" or "parallel", not "{self.rise}"')
        if self.rise == "wedge" and self.opening_m >= 2 * self.depth_m:
            raise ValueError("a wedge cannot open to twice the depth of its boards")


@dataclass(frozen=True)
class Piece:
    """A rectangle to cut.

    Attributes:
        name: what it is for.
        length_m: longer way of use: round the boards, along the hinge, along the strap [m].
        width_m: the other way [m].
        count: how many alike.

    Raises:
        ValueError: a size that is not more than zero, or none of them.
    """

    name: str
    length_m: float
    width_m: float
    count: int = 1

    def __post_init__(self) -> None:
        """Refuse pieces that cannot be cut."""
        positive(f"the length of {self.name}", self.length_m)
        positive(f"the width of {self.name}", self.width_m)
        positive(f"the number of {self.name}", self.count)

    @property
    def area_m2(self) -> float:
        """Area of all of them together [m2]."""
        return self.length_m * self.width_m * self.count


def covered_edge_m(boards: Boards) -> float:
    """Edge of one board that the cloth goes round.

    Wedge: the free edge and both sides, the hinge having its own strip. Parallel rise: all
    four sides.

    Source: geometry.

    Args:
        boards: of the bellows [m].

    >>> round(covered_edge_m(Boards("reservoir", 0.914, 0.406, 0.203)), 3)
    1.726
    """
    if boards.rise == "wedge":
        return boards.length_m + 2 * boards.depth_m
    return 2 * (boards.length_m + boards.depth_m)


def bare_cloth_m2(boards: Boards) -> float:
    """Cloth that bounds the air of all these bellows when open, without laps.

    Wedge: free edge x opening, and two triangles of depth x opening / 2. Parallel rise:
    edge x opening.

    Source: geometry; the triangles as if right-angled, at most some per cent too large.

    Args:
        boards: of the bellows [m].

    >>> round(bare_cloth_m2(Boards("reservoir", 0.914, 0.406, 0.203)), 3)
    0.268
    """
    edge_m = covered_edge_m(boards)
    if boards.rise == "wedge":
        edge_m = boards.length_m + boards.depth_m
    return boards.count * edge_m * boards.opening_m


def cloth_piece(boards: Boards, allow: Allowances = USUAL) -> Piece:
    """The one strip of bellows cloth that goes round a reservoir or exhauster.

    Length: the edge covered, with a lap and trim at both ends. Width: the full opening, with
    lap, fold over and trim at both boards.

    Source: width after Reed Organ Repair: A generic approach, later parts (full opening,
    glue margin, fold over, at least 1/2 in trim); the rest common practice. Where the boards
    are thick and the cloth covers their edges, give the outside opening.

    Args:
        boards: of the bellows [m].
        allow: what is added [m].

    >>> piece = cloth_piece(Boards("reservoir", 0.914, 0.406, 0.203))
    >>> round(piece.length_m, 3), round(piece.width_m, 3)
    (1.831, 0.308)
    """
    margin_m = allow.lap_m + allow.fold_over_m + allow.trim_m
    return Piece(
        f"cloth of {boards.name}",
        covered_edge_m(boards) + 2 * (allow.end_lap_m + allow.trim_m),
        boards.opening_m + 2 * margin_m,
        boards.count,
    )


def hinge_piece(boards: Boards, allow: Allowances = USUAL) -> Piece:
    """The hinge strip of a wedge, of cloth or leather, with trim at both ends.

    Source: common practice.

    Args:
        boards: of the bellows [m].
        allow: what is added [m].

    Raises:
        ValueError: bellows of parallel rise, which have no hinge, or a hinge without width.

    >>> round(hinge_piece(Boards("reservoir", 0.914, 0.406, 0.203)).length_m, 3)
    0.939
    """
    if boards.rise != "wedge":
        raise ValueError("only a wedge has a hinge")
    length_m = boards.length_m + 2 * allow.trim_m
    return Piece(f"hinge of {boards.name}", length_m, allow.hinge_width_m, boards.count)


def valve_piece(
    name: str, ports_length_m: float, ports_width_m: float, count: int, allow: Allowances = USUAL
) -> Piece:
    """A leather flap that covers a group of ports, with overlap and a margin to tack.

    Source: common practice. Leather has holes, thin places and a belly: allow a third more
    skin than the flaps measure (estimate from memory).

    Args:
        name: which valve.
        ports_length_m: over all ports under one flap, along the flap [m].
        ports_width_m: across [m].
        count: flaps alike.
        allow: what is added [m].

    Raises:
        ValueError: a size that is not more than zero, or no flap.

    >>> round(valve_piece("inner valve", 0.20, 0.10, 2).area_m2, 3)  # m2 of leather
    0.065
    """
    positive("the length of the ports", ports_length_m)
    positive("the width of the ports", ports_width_m)
    overlap_m = 2 * allow.flap_overlap_m
    return Piece(
        name, ports_length_m + overlap_m + 2 * allow.tack_margin_m, ports_width_m + overlap_m, count
    )


def strap_piece(
    length_m: float, width_m: float, count: int = 2, allow: Allowances = USUAL
) -> Piece:
    """Webbing from the treadles to the exhausters, turned in at both ends.

    Source: common practice; same length and width as the old strap.

    Args:
        length_m: from fixing to fixing [m].
        width_m: of the webbing [m].
        count: how many.
        allow: what is added [m].

    Raises:
        ValueError: a size that is not more than zero, or no strap.

    >>> round(strap_piece(0.55, 0.05).length_m, 2)
    0.65
    """
    positive("the length of the strap", length_m)
    return Piece("treadle strap", length_m + 2 * allow.strap_turn_in_m, width_m, count)


def webbing_m(straps: Iterable[Piece]) -> float:
    """Webbing for all straps, end to end [m].

    Source: arithmetic.

    Args:
        straps: as :func:`strap_piece` gives them [m].

    >>> round(webbing_m([strap_piece(0.55, 0.05)]), 2)
    1.3
    """
    return sum(strap.length_m * strap.count for strap in straps)


def gasket_m(length_m: float, width_m: float, crossings: int = 0) -> float:
    """Leather strip for a gasket: round a frame, and across it where there are bars.

    Source: geometry; butt joints, nothing lapped.

    Args:
        length_m: of the frame [m].
        width_m: of the frame [m].
        crossings: bars across its width.

    Raises:
        ValueError: a size that is not more than zero, or a negative number of bars.

    >>> round(gasket_m(0.914, 0.406), 2)
    2.64
    """
    positive("the length of the frame", length_m)
    positive("the width of the frame", width_m)
    not_negative("the number of bars", crossings)
    return 2 * (length_m + width_m) + crossings * width_m


@dataclass(frozen=True)
class Placed:
    """Where one piece lies on the roll.

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
        roll_width_m: of the roll [m].
        length_m: to cut off it [m].
        placed: every piece, one by one.
        used_share: of the cloth cut off, in pieces [1].
    """

    roll_width_m: float
    length_m: float
    placed: tuple[Placed, ...]
    used_share: float


def lay_out(pieces: Sequence[Piece], roll_width_m: float, may_turn: bool = True) -> Layout:
    """Lay pieces on a roll of given width, and tell what length to cut off.

    Pieces are laid in bands across the roll, longest first, each in the first band with room.
    Each kind of piece is tried both ways round and the shortest result is kept; beyond eight
    kinds they are turned one at a time for as long as that saves cloth.

    Source: first-fit decreasing height, Coffman, Garey, Johnson and Tarjan, Performance
    bounds for level-oriented two-dimensional packing algorithms, SIAM J. Comput. 9 (1980):
    for pieces that may not turn, at most 1.7 times the shortest possible and one piece more.

    Args:
        pieces: to cut [m].
        roll_width_m: usable width of the roll [m].
        may_turn: whether pieces may lie either way of the cloth.

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
    ways = [_ways(piece, roll_width_m, may_turn) for piece in pieces]
    if len(pieces) > _TURN_ALL:
        choices = _turn_one_by_one(ways, roll_width_m)
    else:
        choices = [list(choice) for choice in product(*ways)]
    placed = min((_bands(choice, roll_width_m) for choice in choices), key=_length_m)
    length_m = _length_m(placed)
    used = sum(piece.area_m2 for piece in pieces) / (length_m * roll_width_m)
    return Layout(roll_width_m, length_m, tuple(placed), used)


def _ways(piece: Piece, roll_width_m: float, may_turn: bool) -> list[Piece]:
    """The piece as it may lie, its length along the roll: straight first, then turned."""
    turned = Piece(piece.name, piece.width_m, piece.length_m, piece.count)
    ways = [piece, turned] if may_turn else [piece]
    fitting = [way for way in ways if way.width_m <= roll_width_m]
    if not fitting:
        raise ValueError(
            f"{piece.name}: {piece.length_m:.2f} x {piece.width_m:.2f} m does not fit on a roll "
            f"of {roll_width_m:.2f} m; join it from two"
        )
    return fitting


def _turn_one_by_one(ways: list[list[Piece]], roll_width_m: float) -> list[list[Piece]]:
    """Two ways of laying many pieces, each bettered by turning single ones."""
    starts = [[choices[0] for choices in ways], [choices[-1] for choices in ways]]
    for laid in starts:
        shortest = _length_m(_bands(laid, roll_width_m))
        for index, choices in enumerate(ways):
            for choice in choices:
                tried = [*laid[:index], choice, *laid[index + 1 :]]
                length_m = _length_m(_bands(tried, roll_width_m))
                if length_m < shortest:
                    shortest, laid[index] = length_m, choice
    return starts


@dataclass
class _Band:
    along_m: float
    used_m: float = field(default=0.0)


def _bands(pieces: list[Piece], roll_width_m: float) -> list[Placed]:
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
