"""The lifting equation: what one person may lift.

It is for one person, both hands, standing on a sound floor, with a steady load. It does not
cover a team, carrying, stairs, or a load that shifts.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from assess import not_negative, positive, within

# All constants of the equation: T. R. Waters, V. Putz-Anderson, A. Garg, Applications Manual
# for the Revised NIOSH Lifting Equation, DHHS (NIOSH) 94-110 (1994, revised 2021), metric form.
LOAD_CONSTANT_KG = 23.0
NEAREST_REACH_CM = 25.0
FARTHEST_REACH_CM = 63.0
BEST_HEIGHT_CM = 75.0
HIGHEST_HEIGHT_CM = 175.0
SHORTEST_TRAVEL_CM = 25.0
# From memory: the same manual lets the vertical travel be 175 cm, the twist 135 degrees.
LONGEST_TRAVEL_CM = 175.0
WIDEST_TWIST_DEGREES = 135.0

# Same manual, as coded in public repositories, for work of an hour or less followed by rest:
# pairs of lifts a minute and multiplier.
FREQUENCY_MULTIPLIERS = (
    (0.2, 1.0),
    (0.5, 0.97),
    (1.0, 0.94),
    (2.0, 0.91),
    (3.0, 0.88),
    (4.0, 0.84),
    (5.0, 0.8),
    (6.0, 0.75),
    (7.0, 0.7),
    (8.0, 0.6),
    (9.0, 0.52),
    (10.0, 0.45),
    (11.0, 0.41),
    (12.0, 0.37),
    (13.0, 0.34),
    (14.0, 0.31),
    (15.0, 0.28),
)
# From memory: with the hands below 75 cm the manual's own table is zero above this rate, which
# those copies do not show. The stricter of the two is taken.
FASTEST_LOW_LIFTS_PER_MINUTE = 12.0


class Coupling(StrEnum):
    """How well the hands hold the load."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


# Same manual: hands below 75 cm, and at or above.
COUPLING_MULTIPLIERS = MappingProxyType(
    {Coupling.GOOD: (1.0, 1.0), Coupling.FAIR: (0.95, 1.0), Coupling.POOR: (0.9, 0.9)}
)


@dataclass(frozen=True)
class Lift:
    """One lift, as one person does it.

    Attributes:
        reach_cm: From the middle of the ankles out to the hands, cm.
        height_cm: From the floor to the hands at the start, cm.
        travel_cm: How far the hands rise or sink, cm.
        twist_degrees: How far the load is from straight ahead, degrees.
        lifts_per_minute: How often.
        coupling: How well the hands hold.
    """

    reach_cm: float
    height_cm: float
    travel_cm: float
    twist_degrees: float = 0.0
    lifts_per_minute: float = 0.2
    coupling: Coupling = Coupling.GOOD


@dataclass(frozen=True)
class Multipliers:
    """The six multipliers of the lifting equation, each between 0 and 1.

    Attributes:
        horizontal: For the reach.
        vertical: For the height of the hands.
        distance: For the travel.
        asymmetry: For the twist.
        frequency: For how often.
        coupling: For the hold.
    """

    horizontal: float
    vertical: float
    distance: float
    asymmetry: float
    frequency: float
    coupling: float

    @property
    def recommended_weight_limit_kg(self) -> float:
        """The load constant times all six, kg."""
        return (
            LOAD_CONSTANT_KG
            * self.horizontal
            * self.vertical
            * self.distance
            * self.asymmetry
            * self.frequency
            * self.coupling
        )


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


def asymmetry_multiplier(twist_degrees: float) -> float:
    """Multiplier for lifting with a twist of the body.

    AM = 1 - 0.0032 A, 0 beyond 135 degrees. Source: NIOSH 94-110.

    Args:
        twist_degrees: How far the load is from straight ahead A, degrees.

    Returns:
        The multiplier.

    Raises:
        ValueError: The angle is outside 0 to 180 degrees, or NaN.

    >>> round(asymmetry_multiplier(45.0), 3)
    0.856
    """
    within("the twist", twist_degrees, 0.0, 180.0, " degrees")
    return 0.0 if twist_degrees > WIDEST_TWIST_DEGREES else 1 - 0.0032 * twist_degrees


def frequency_multiplier(lifts_per_minute: float, height_cm: float) -> float:
    """Multiplier for how often one lifts, for work of at most an hour with rest after it.

    Source: NIOSH 94-110, table of frequency multipliers, short duration. Between two rates of
    the table the faster one counts, so that it never allows more than the table. Zero above 15
    lifts a minute, and above 12 with the hands below 75 cm (the latter from memory).

    Args:
        lifts_per_minute: How often.
        height_cm: From the floor to the hands, cm.

    Returns:
        The multiplier.

    Raises:
        ValueError: A number is negative or NaN.

    >>> frequency_multiplier(4.0, 70.0)
    0.84
    """
    not_negative("the rate of lifting", lifts_per_minute)
    not_negative("the height of the hands", height_cm)
    if height_cm < BEST_HEIGHT_CM and lifts_per_minute > FASTEST_LOW_LIFTS_PER_MINUTE:
        return 0.0
    allowed = (share for rate, share in FREQUENCY_MULTIPLIERS if rate >= lifts_per_minute)
    return next(allowed, 0.0)


def coupling_multiplier(coupling: Coupling, height_cm: float) -> float:
    """Multiplier for how well the hands hold.

    Source: NIOSH 94-110, table of coupling multipliers.

    Args:
        coupling: Good (handles), fair (a ledge, or fingers bent under) or poor.
        height_cm: From the floor to the hands, cm.

    Returns:
        The multiplier.

    Raises:
        ValueError: The height is negative or NaN.

    >>> coupling_multiplier(Coupling.FAIR, 40.0)
    0.95
    """
    not_negative("the height of the hands", height_cm)
    below, at_or_above = COUPLING_MULTIPLIERS[coupling]
    return below if height_cm < BEST_HEIGHT_CM else at_or_above


def lift_multipliers(lift: Lift) -> Multipliers:
    """The six multipliers of a lift.

    Source: NIOSH 94-110. See each multiplier for its range.

    Args:
        lift: The lift.

    Returns:
        The multipliers.

    Raises:
        ValueError: A measure of the lift is impossible.

    >>> lift_multipliers(Lift(50.0, 75.0, 25.0)).horizontal
    0.5
    """
    return Multipliers(
        horizontal=horizontal_multiplier(lift.reach_cm),
        vertical=vertical_multiplier(lift.height_cm),
        distance=distance_multiplier(lift.travel_cm),
        asymmetry=asymmetry_multiplier(lift.twist_degrees),
        frequency=frequency_multiplier(lift.lifts_per_minute, lift.height_cm),
        coupling=coupling_multiplier(lift.coupling, lift.height_cm),
    )


def recommended_weight_limit_kg(lift: Lift) -> float:
    """What nearly all healthy people may lift this way, by the revised lifting equation.

    RWL = 23 kg x HM x VM x DM x AM x FM x CM. Source: NIOSH 94-110. For one person, both
    hands, at most an hour; not for teams, carrying, stairs or a load that shifts.

    Args:
        lift: The lift.

    Returns:
        Recommended weight limit, kg; 0 where the equation allows no lift.

    Raises:
        ValueError: A measure of the lift is impossible.

    >>> recommended_weight_limit_kg(Lift(25.0, 75.0, 25.0))
    23.0
    """
    return lift_multipliers(lift).recommended_weight_limit_kg


def lifting_index(load_kg: float, limit_kg: float) -> float:
    """How a load compares with what may be lifted.

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
    positive("the load", load_kg)
    if limit_kg == 0:
        raise ValueError("In this position nothing may be lifted: come nearer or lower.")
    return load_kg / positive("the weight limit", limit_kg)
