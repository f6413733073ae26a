"""Movement of wood: what a change of moisture does to the width of boards, and to cracks.

Everything here is for solid wood across the grain. Along the grain wood hardly moves, and
plywood hardly moves at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from assess import positive, within
from assess_casework.moisture import Climate, require_moisture_percent
from assess_casework.woods import Cut, Wood

# Wood Handbook (2010), chapter 13: the coefficients hold between these moisture contents.
COEFFICIENT_LOWEST_MC_PERCENT = 6.0
COEFFICIENT_HIGHEST_MC_PERCENT = 14.0

# From memory: one standard deviation of shrinkage among boards of one wood, as a share of it.
MOVEMENT_VARIATION = 0.15

# From memory: the thinnest leaf of a usual feeler gauge. A smaller change cannot be told.
SMALLEST_CHANGE_MM = 0.05


@dataclass(frozen=True)
class Board:
    """A board, or several glued edge to edge, that moves across its grain.

    Attributes:
        name: What it is, for the reader.
        wood: The wood it is made of.
        cut: Direction of its width.
        width_mm: Width across the grain, mm.
    """

    name: str
    wood: Wood
    cut: Cut
    width_mm: float


@dataclass(frozen=True)
class Movement:
    """What a change of moisture does to the width of a board that is free to move.

    Attributes:
        board: The board.
        change_mm: Change of width, mm; more than zero when it swells.
        spread_mm: One standard deviation among boards of the same wood, mm.
        formula: Which published formula gave it.
    """

    board: Board
    change_mm: float
    spread_mm: float
    formula: str


class CrackOutcome(StrEnum):
    """What becomes of a crack."""

    CLOSES = "closes"
    NARROWS = "narrows"
    UNCHANGED = "unchanged"
    OPENS = "opens"


@dataclass(frozen=True)
class Crack:
    """A crack or open seam along the grain.

    Attributes:
        board: The board it is in, with the width that lies between its fixings.
        gap_mm: How wide it gapes now, mm; 0 for one that is shut.
        held_share: How firmly the edges of the board are held: 1 glued or screwed to a frame
            that does not move, 0 free. A free board carries its crack along unchanged.
    """

    board: Board
    gap_mm: float
    held_share: float = 1.0


@dataclass(frozen=True)
class CrackForecast:
    """What a change of moisture does to a crack.

    Attributes:
        crack: The crack.
        outcome: Closes, narrows, unchanged or opens.
        gap_after_mm: How wide it will gape, mm.
        change_mm: Change of the gap, mm; less than zero when it narrows.
        squeeze_mm: Swelling left over once the crack is shut, mm. It crushes the wood or
            bows the board, and the crack gapes wider at the next dry spell.
        spread_mm: One standard deviation of the change among boards of the same wood, mm, as
            long as the crack is open: near the edge the outcome may as well be the other.
    """

    crack: Crack
    outcome: CrackOutcome
    gap_after_mm: float
    change_mm: float
    squeeze_mm: float
    spread_mm: float


@dataclass(frozen=True)
class MoveForecast:
    """What moving an instrument from one air to another does to its wood.

    Attributes:
        from_mc_percent: Moisture content before, %.
        to_mc_percent: Moisture content once settled, %.
        movements: One for each board, in the order given.
        cracks: One for each crack, in the order given.
    """

    from_mc_percent: float
    to_mc_percent: float
    movements: tuple[Movement, ...]
    cracks: tuple[CrackForecast, ...]


def coefficient_from_shrinkage(shrinkage_percent: float) -> float:
    """Dimensional change coefficient that belongs to a shrinkage from green to oven dry.

    C = 1/(3000/S - 20): the shrinkage formula of the Wood Handbook (2010), chapter 13, taken
    at 10 % moisture content. It reproduces the published coefficients to the last digit, but
    for a few rows.

    Args:
        shrinkage_percent: Shrinkage S, more than 0 and at most 30 %.

    Returns:
        Coefficient C, per 1 % of moisture content.

    Raises:
        ValueError: The shrinkage is outside its range, or NaN.

    >>> round(coefficient_from_shrinkage(7.8), 5)
    0.00274
    """
    _require_shrinkage(shrinkage_percent)
    return 1 / (3000 / shrinkage_percent - 20)


def shrinkage_from_coefficient_percent(coefficient_per_percent: float) -> float:
    """Shrinkage from green to oven dry that belongs to a dimensional change coefficient.

    S = 3000/(1/C + 20), the inverse of `coefficient_from_shrinkage`.

    Args:
        coefficient_per_percent: Coefficient C, more than 0 and at most 0.0125 per 1 %.

    Returns:
        Shrinkage S, %.

    Raises:
        ValueError: The coefficient is outside its range, or NaN.

    >>> round(shrinkage_from_coefficient_percent(0.00274), 1)
    7.8
    """
    _require_coefficient(coefficient_per_percent)
    return 3000 / (1 / coefficient_per_percent + 20)


def change_by_coefficient_mm(
    width_mm: float, coefficient_per_percent: float, from_mc_percent: float, to_mc_percent: float
) -> float:
    """Change of width of a free board, by its dimensional change coefficient.

    dD = D C (M2 - M1). Source: Wood Handbook (2010), chapter 13 and Table 13-5. Valid when
    both moisture contents lie between 6 and 14 %.

    Args:
        width_mm: Width D across the grain at the first moisture content, mm.
        coefficient_per_percent: Coefficient C, per 1 % of moisture content.
        from_mc_percent: Moisture content M1, 6 to 14 %.
        to_mc_percent: Moisture content M2, 6 to 14 %.

    Returns:
        Change of width, mm; more than zero when it swells.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> round(change_by_coefficient_mm(400.0, 0.00274, 12.0, 7.0), 2)
    -5.48
    """
    positive("the width", width_mm)
    _require_coefficient(coefficient_per_percent)
    for mc_percent in (from_mc_percent, to_mc_percent):
        within(
            "the moisture content for this formula",
            mc_percent,
            COEFFICIENT_LOWEST_MC_PERCENT,
            COEFFICIENT_HIGHEST_MC_PERCENT,
            " %",
        )
    return width_mm * coefficient_per_percent * (to_mc_percent - from_mc_percent)


def change_by_shrinkage_mm(
    width_mm: float, shrinkage_percent: float, from_mc_percent: float, to_mc_percent: float
) -> float:
    """Change of width of a free board, by its shrinkage from green to oven dry.

    dD = D (M2 - M1) / (3000/S - 30 + M1). Source: Wood Handbook (2010), chapter 13. Valid
    from 0 to 30 % moisture content; least sure above 20 %.

    Args:
        width_mm: Width D across the grain at the first moisture content, mm.
        shrinkage_percent: Shrinkage S, %.
        from_mc_percent: Moisture content M1, 0 to 30 %.
        to_mc_percent: Moisture content M2, 0 to 30 %.

    Returns:
        Change of width, mm; more than zero when it swells.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> round(change_by_shrinkage_mm(400.0, 7.8, 18.0, 7.0), 2)
    -11.81
    """
    positive("the width", width_mm)
    _require_shrinkage(shrinkage_percent)
    require_moisture_percent(from_mc_percent)
    require_moisture_percent(to_mc_percent)
    rise_percent = to_mc_percent - from_mc_percent
    return width_mm * rise_percent / (3000 / shrinkage_percent - 30 + from_mc_percent)


def board_movement(board: Board, from_mc_percent: float, to_mc_percent: float) -> Movement:
    """What a change of moisture does to the width of a free board.

    By the coefficient of its wood between 6 and 14 %, by its shrinkage outside; where no
    shrinkage is published, by the one that belongs to the coefficient. The two differ by less
    than 2 % of the movement at the ends of the range, well inside the spread among boards.

    Args:
        board: The board.
        from_mc_percent: Moisture content before, 0 to 30 %.
        to_mc_percent: Moisture content after, 0 to 30 %.

    Returns:
        The movement.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> from assess_casework.woods import find_wood
    >>> top = Board("top", find_wood("black walnut"), Cut.TANGENTIAL, 400.0)
    >>> round(board_movement(top, 12.0, 7.0).change_mm, 1)
    -5.5
    """
    require_moisture_percent(from_mc_percent)
    require_moisture_percent(to_mc_percent)
    coefficient = board.wood.coefficient_per_percent(board.cut)
    if _coefficient_holds(from_mc_percent) and _coefficient_holds(to_mc_percent):
        formula = "dimensional change coefficient"
        change_mm = change_by_coefficient_mm(
            board.width_mm, coefficient, from_mc_percent, to_mc_percent
        )
    else:
        formula = "shrinkage from green to oven dry"
        shrinkage = board.wood.shrinkage_percent(board.cut)
        if shrinkage is None:
            shrinkage = shrinkage_from_coefficient_percent(coefficient)
        change_mm = change_by_shrinkage_mm(
            board.width_mm, shrinkage, from_mc_percent, to_mc_percent
        )
    return Movement(board, change_mm, MOVEMENT_VARIATION * abs(change_mm), formula)


def forecast_crack(crack: Crack, from_mc_percent: float, to_mc_percent: float) -> CrackForecast:
    """What a change of moisture does to a crack along the grain.

    A board whose edges are held cannot change its width, so the crack takes up the change:
    gap after = gap - held share x movement, and never less than nothing. Source: derived from
    the movement of the free board. The held share is a judgement: forecast with 1 and with 0
    to have both ends. Crushed edges and new cracks are not foreseen.

    Args:
        crack: The crack, as it is at the first moisture content.
        from_mc_percent: Moisture content before, 0 to 30 %.
        to_mc_percent: Moisture content after, 0 to 30 %.

    Returns:
        The forecast.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> from assess_casework.woods import find_wood
    >>> pan = Board("reed pan", find_wood("eastern white pine"), Cut.TANGENTIAL, 250.0)
    >>> forecast = forecast_crack(Crack(pan, 0.8), 6.0, 9.0)
    >>> forecast.outcome.value, round(forecast.squeeze_mm, 2)
    ('closes', 0.79)
    """
    movement = board_movement(crack.board, from_mc_percent, to_mc_percent)
    within("the gap of the crack", crack.gap_mm, 0.0, crack.board.width_mm, " mm")
    within("the held share", crack.held_share, 0.0, 1.0)
    taken_up_mm = crack.held_share * movement.change_mm
    gap_after_mm = max(0.0, crack.gap_mm - taken_up_mm)
    return CrackForecast(
        crack=crack,
        outcome=_crack_outcome(crack.gap_mm, gap_after_mm),
        gap_after_mm=gap_after_mm,
        change_mm=gap_after_mm - crack.gap_mm,
        squeeze_mm=max(0.0, taken_up_mm - crack.gap_mm),
        spread_mm=crack.held_share * movement.spread_mm,
    )


def forecast_move(
    stood: Climate,
    will_stand: Climate,
    boards: Sequence[Board] = (),
    cracks: Sequence[Crack] = (),
    *,
    measured_mc_percent: float | None = None,
) -> MoveForecast:
    """What moving an instrument from one air to another does to its boards and cracks.

    Source: the formulae of this module. It is the state once the wood has settled, which
    takes weeks, and takes each climate as steady: what counts is the average of a season, not
    the reading of an hour.

    Args:
        stood: Air where the instrument stood.
        will_stand: Air where it will stand.
        boards: Boards to look at.
        cracks: Cracks to look at, as they are now.
        measured_mc_percent: Moisture content now by a meter, %; taken in place of what the
            first air would give.

    Returns:
        The forecast.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> forecast = forecast_move(Climate(10.0, 75.0), Climate(21.0, 35.0))
    >>> round(forecast.from_mc_percent, 1), round(forecast.to_mc_percent, 1)
    (14.8, 6.9)
    """
    before = stood.moisture_percent if measured_mc_percent is None else measured_mc_percent
    require_moisture_percent(before)
    after = will_stand.moisture_percent
    return MoveForecast(
        from_mc_percent=before,
        to_mc_percent=after,
        movements=tuple(board_movement(board, before, after) for board in boards),
        cracks=tuple(forecast_crack(crack, before, after) for crack in cracks),
    )


def _crack_outcome(gap_mm: float, gap_after_mm: float) -> CrackOutcome:
    if gap_after_mm == 0 < gap_mm:
        return CrackOutcome.CLOSES
    if abs(gap_after_mm - gap_mm) < SMALLEST_CHANGE_MM:
        return CrackOutcome.UNCHANGED
    return CrackOutcome.OPENS if gap_after_mm > gap_mm else CrackOutcome.NARROWS


def _coefficient_holds(mc_percent: float) -> bool:
    return COEFFICIENT_LOWEST_MC_PERCENT <= mc_percent <= COEFFICIENT_HIGHEST_MC_PERCENT


def _require_coefficient(coefficient_per_percent: float) -> None:
    positive("the coefficient", coefficient_per_percent)
    # 0.0125 belongs to a shrinkage of 30 %, twice that of the wood that shrinks most.
    within("the coefficient", coefficient_per_percent, 0.0, 0.0125, " per 1 %")


def _require_shrinkage(shrinkage_percent: float) -> None:
    positive("the shrinkage", shrinkage_percent)
    within("the shrinkage", shrinkage_percent, 0.0, 30.0, " %")
