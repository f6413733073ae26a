"""The revised lifting equation: what one person may lift.

It is for one person, both hands, standing on a sound floor, with a steady load. It does not
cover a team, carrying, stairs, or a load that shifts.
"""

from __future__ import annotations

from dataclasses import dataclass

from assess import not_negative, positive

# All constants of the equation: T. R. Waters, V. Putz-Anderson, A. Garg, Applications Manual
# for the Revised NIOSH Lifting Equation, DHHS (NIOSH) 94-110 (1994, revised 2021), metric form.
LOAD_CONSTANT_KG = 23.0
NEAREST_REACH_CM = 25.0
FARTHEST_REACH_CM = 63.0
BEST_HEIGHT_CM = 75.0
HIGHEST_HEIGHT_CM = 175.0
SHORTEST_TRAVEL_CM = 25.0
# From memory: the same manual allows a vertical travel of 175 cm at most.
LONGEST_TRAVEL_CM = 175.0


@dataclass(frozen=True)
class Lift:
    """One lift by one person: straight ahead, with a good hold, at most once in five minutes.

    Attributes:
        reach_cm: From the middle of the ankles out to the hands, cm.
        height_cm: From the floor to the hands at the start, cm.
        travel_cm: How far the hands rise or sink, cm.
    """

    reach_cm: float
    height_cm: float
    travel_cm: float


def horizontal_multiplier(reach_cm: float) -> float:
    """Multiplier for how far the hands are from the body.

    HM = 25/H, 1 up to 25 cm, 0 beyond 63 cm. Source: NIOSH 94-110.

    Args:
        reach_cm: From the middle of the ankles out to the hands H, cm.

    Returns:
        The multiplier.

    Raises:
        ValueError: The reach is negative or NaN.

    >>> horizontal_multiplier(50.0)
    0.5
    """
    not_negative("the reach", reach_cm)
    if reach_cm > FARTHEST_REACH_CM:
        return 0.0
    return NEAREST_REACH_CM / max(reach_cm, NEAREST_REACH_CM)


def vertical_multiplier(height_cm: float) -> float:
    """Multiplier for the height of the hands.

    VM = 1 - 0.003 |V - 75|, 0 above 175 cm. Source: NIOSH 94-110.

    Args:
        height_cm: From the floor to the hands V, cm.

    Returns:
        The multiplier.

    Raises:
        ValueError: The height is negative or NaN.

    >>> round(vertical_multiplier(25.0), 3)
    0.85
    """
    not_negative("the height of the hands", height_cm)
    if height_cm > HIGHEST_HEIGHT_CM:
        return 0.0
    return 1 - 0.003 * abs(height_cm - BEST_HEIGHT_CM)


def distance_multiplier(travel_cm: float) -> float:
    """Multiplier for how far the hands rise or sink.

    DM = 0.82 + 4.5/D, 1 up to 25 cm, 0 beyond 175 cm. Source: NIOSH 94-110.

    Args:
        travel_cm: Vertical travel of the hands D, cm.

    Returns:
        The multiplier.

    Raises:
        ValueError: The travel is negative or NaN.

    >>> round(distance_multiplier(90.0), 3)
    0.87
    """
    not_negative("the travel of the hands", travel_cm)
    if travel_cm > LONGEST_TRAVEL_CM:
        return 0.0
    return 0.82 + 4.5 / max(travel_cm, SHORTEST_TRAVEL_CM)


def recommended_weight_limit_kg(lift: Lift) -> float:
    """What nearly all healthy people may lift this way, by the revised lifting equation.

    RWL = 23 kg x HM x VM x DM x AM x FM x CM, where the multipliers for twist (AM), frequency
    (FM) and hold (CM) are 1 for a `Lift`. Source: NIOSH 94-110. For one person, both hands, at
    most an hour; not for teams, carrying, stairs or a load that shifts.

    Args:
        lift: The lift.

    Returns:
        Recommended weight limit, kg; 0 where the equation allows no lift.

    Raises:
        ValueError: A length of the lift is negative or NaN.

    >>> recommended_weight_limit_kg(Lift(25.0, 75.0, 25.0))
    23.0
    """
    return (
        LOAD_CONSTANT_KG
        * horizontal_multiplier(lift.reach_cm)
        * vertical_multiplier(lift.height_cm)
        * distance_multiplier(lift.travel_cm)
    )


def lifting_index(load_kg: float, limit_kg: float) -> float:
    """A load divided by what may be lifted.

    LI = load/RWL. Source: NIOSH 94-110: above 1 the risk of a back injury rises for some
    people; above 3 for most (from memory).

    Args:
        load_kg: What is lifted, kg.
        limit_kg: Recommended weight limit, kg.

    Returns:
        The lifting index.

    Raises:
        ValueError: The load or the limit is not more than zero, or NaN.

    >>> lifting_index(46.0, 23.0)
    2.0
    """
    return positive("the load", load_kg) / positive("the weight limit", limit_kg)
