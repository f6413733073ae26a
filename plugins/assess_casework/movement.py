"""Movement of wood: what a change of moisture does to the width of boards, and to cracks.

Everything here is for solid wood across the grain. Along the grain wood hardly moves, and
plywood hardly moves at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assess import positive, within
from assess_casework.moisture import require_moisture_percent
from assess_casework.woods import Cut, Wood

# Wood Handbook (2010), chapter 13: the coefficients hold between these moisture contents.
COEFFICIENT_LOWEST_MC_PERCENT = 6.0
COEFFICIENT_HIGHEST_MC_PERCENT = 14.0

# From memory: one standard deviation of shrinkage among boards of one wood, as a share of it.
MOVEMENT_VARIATION = 0.15

# From memory: the thinnest leaf of a usual feeler gauge. A smaller change cannot be measured.
SMALLEST_CHANGE_MM = 0.05


@dataclass(frozen=True)
class Board:
    """A board, or several glued edge to edge, that moves across its grain.

    Attributes:
        wood: The wood it is made of.
        cut: Direction of its width.
        width_mm: Width across the grain, mm.
    """

    wood: Wood
    cut: Cut
    width_mm: float


@dataclass(frozen=True)
class Movement:
    """What a change of moisture does to the width of a board that is free to move.

    Attributes:
        change_mm: Change of width, mm; positive when it swells.
        spread_mm: One standard deviation among boards of the same wood, mm.
        formula: Name of the published formula that was used.
    """

    change_mm: float
    spread_mm: float
    formula: str


class CrackOutcome(StrEnum):
    """What happens to a crack."""

    CLOSES = "closes"
    NARROWS = "narrows"
    UNCHANGED = "stays the same"
    OPENS = "opens"


@dataclass(frozen=True)
class CrackForecast:
    """What a change of moisture does to a crack.

    Attributes:
        outcome: What happens to it.
        gap_after_mm: Its width afterwards, mm.
        squeeze_mm: Swelling that is left over once the crack is shut, mm. It crushes the wood
            or bows the board, and the crack opens wider at the next dry spell.
        spread_mm: One standard deviation of the change among boards of the same wood, mm, as
            long as the crack is open.
    """

    outcome: CrackOutcome
    gap_after_mm: float
    squeeze_mm: float
    spread_mm: float


def shrinkage_from_coefficient_percent(coefficient_per_percent: float) -> float:
    """Shrinkage from green to oven dry that corresponds to a dimensional change coefficient.

    S = 3000/(1/C + 20). Source: the shrinkage formula of the Wood Handbook (2010), chapter 13,
    at 10 % moisture content, solved for S.

    Args:
        coefficient_per_percent: Coefficient C, more than 0 and at most 0.0125 per 1 %.

    Returns:
        Shrinkage S, %.

    Raises:
        ValueError: The coefficient is out of range or NaN.

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
    both moisture contents are between 6 and 14 %.

    Args:
        width_mm: Width D across the grain at the first moisture content, mm.
        coefficient_per_percent: Coefficient C, per 1 % of moisture content.
        from_mc_percent: Moisture content M1, 6 to 14 %.
        to_mc_percent: Moisture content M2, 6 to 14 %.

    Returns:
        Change of width, mm; positive when it swells.

    Raises:
        ValueError: A number is out of range or NaN.

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
    from 0 to 30 % moisture content, and least certain above 20 %.

    Args:
        width_mm: Width D across the grain at the first moisture content, mm.
        shrinkage_percent: Shrinkage S, %.
        from_mc_percent: Moisture content M1, 0 to 30 %.
        to_mc_percent: Moisture content M2, 0 to 30 %.

    Returns:
        Change of width, mm; positive when it swells.

    Raises:
        ValueError: A number is out of range or NaN.

    >>> round(change_by_shrinkage_mm(400.0, 7.8, 18.0, 7.0), 2)
    -11.81
    """
    positive("the width", width_mm)
    positive("the shrinkage", shrinkage_percent)
    within("the shrinkage", shrinkage_percent, 0.0, 30.0, " %")
    require_moisture_percent(from_mc_percent)
    require_moisture_percent(to_mc_percent)
    rise_percent = to_mc_percent - from_mc_percent
    return width_mm * rise_percent / (3000 / shrinkage_percent - 30 + from_mc_percent)


def board_movement(board: Board, from_mc_percent: float, to_mc_percent: float) -> Movement:
    """What a change of moisture does to the width of a free board.

    Between 6 and 14 % by the coefficient of its wood, outside by its shrinkage; where no
    shrinkage is published, by the one that corresponds to the coefficient. At the ends of the
    range the two differ by less than 2 % of the movement, far less than boards differ. Source:
    the two formulas above; how much boards differ is an estimate from memory.

    Args:
        board: The board.
        from_mc_percent: Moisture content before, 0 to 30 %.
        to_mc_percent: Moisture content after, 0 to 30 %.

    Returns:
        The movement.

    Raises:
        ValueError: A number is out of range or NaN.

    >>> from assess_casework.woods import WOODS
    >>> top = Board(WOODS["walnut, black"], Cut.TANGENTIAL, 400.0)
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
    return Movement(change_mm, MOVEMENT_VARIATION * abs(change_mm), formula)


def forecast_crack(
    board: Board, gap_mm: float, from_mc_percent: float, to_mc_percent: float
) -> CrackForecast:
    """What a change of moisture does to a crack or open joint along the grain.

    The board is taken as glued or screwed at its edges to a frame that does not move. It cannot
    change its width, so the crack takes up the movement: gap after = gap - movement, and never
    less than 0. Source: derived from the movement of the free board. Crushed edges and new
    cracks are not forecast.

    Args:
        board: The board, with the width between its fixings.
        gap_mm: Width of the crack at the first moisture content, mm; 0 for one that is shut.
        from_mc_percent: Moisture content before, 0 to 30 %.
        to_mc_percent: Moisture content after, 0 to 30 %.

    Returns:
        The forecast.

    Raises:
        ValueError: A number is out of range or NaN.

    >>> from assess_casework.woods import WOODS
    >>> panel = Board(WOODS["pine, eastern white"], Cut.TANGENTIAL, 250.0)
    >>> forecast = forecast_crack(panel, 0.8, 6.0, 9.0)
    >>> forecast.outcome.value, round(forecast.squeeze_mm, 2)
    ('closes', 0.79)
    """
    movement = board_movement(board, from_mc_percent, to_mc_percent)
    within("the gap of the crack", gap_mm, 0.0, board.width_mm, " mm")
    gap_after_mm = max(0.0, gap_mm - movement.change_mm)
    return CrackForecast(
        outcome=_crack_outcome(gap_mm, gap_after_mm),
        gap_after_mm=gap_after_mm,
        squeeze_mm=max(0.0, movement.change_mm - gap_mm),
        spread_mm=movement.spread_mm,
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
    # 0.0125 corresponds to a shrinkage of 30 %, twice that of the wood that shrinks most.
    within("the coefficient", coefficient_per_percent, 0.0, 0.0125, " per 1 %")
