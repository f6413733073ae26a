"""Moving an instrument: how many people it takes, and when to use other means.

The lifting equation is for one person and a steady load. For teams, dollies and stairs this
is a cautious guide, and says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from assess import not_negative, positive, within
from assess_casework.lifting import Lift, lifting_index, recommended_weight_limit_kg

# From memory: Manual handling, guidance on regulations, L23 (HSE): two people lift two thirds
# of the sum of what each could, three half. For four, half is taken too.
TEAM_SHARES = MappingProxyType({1: 1.0, 2: 2 / 3, 3: 1 / 2, 4: 1 / 2})

# From memory: Manual handling at work, INDG143 (HSE): guideline weights close to the body,
# between knuckle and elbow height.
GUIDELINE_MEN_KG = 25.0
GUIDELINE_WOMEN_KG = 16.0

# From memory: the usual case is 1.1 to 1.25 m long and is held about 0.3 m below its centre of
# gravity; stairs in houses rise at about 38 degrees.
CASE_LENGTH_M = 1.1
CENTRE_ABOVE_GRIPS_M = 0.3
STAIR_SLOPE_DEGREES = 38.0

HANDLING_CAUTION = (
    "This is a guide, not a permission. Local rules come first, and the lifting equation does "
    "not cover teams, carrying, stairs or a load that shifts. If in doubt, and for every flight "
    "of stairs, ask a mover who knows keyboard instruments and is insured for them."
)

# Common practice: a case held by its handles, against the body, lifted by a hand's length.
CASE_LIFT = Lift(reach_cm=30.0, height_cm=70.0, travel_cm=25.0)


class Means(StrEnum):
    """By what means to move a load."""

    BY_HAND = "by hand"
    DOLLY = "dolly"
    MOVERS = "movers"


@dataclass(frozen=True)
class MovingPlan:
    """How to move a load.

    Attributes:
        means: By hand, on a dolly, or by movers.
        people: How many it takes, or None for movers, who decide themselves.
        lifted_kg: The most that has to be lifted at once, kg.
        limit_kg: What those who lift may lift together, kg.
        reason: Why these means.
        caution: Always to be shown with it.
    """

    means: Means
    people: int | None
    lifted_kg: float
    limit_kg: float
    reason: str
    caution: str = HANDLING_CAUTION

    @property
    def lifting_index(self) -> float:
        """What is lifted divided by what may be lifted; above 1 the risk of injury rises.

        For movers it is that of the best way without them.
        """
        return lifting_index(self.lifted_kg, self.limit_kg)


def person_limit_kg(guideline_kg: float = GUIDELINE_MEN_KG) -> float:
    """What one person may lift of a case: the lifting equation or a guideline, the lower one.

    Source: NIOSH 94-110; HSE INDG143 (from memory). The lift is that of a case held well,
    which is common practice.

    Args:
        guideline_kg: The guideline, kg; `GUIDELINE_WOMEN_KG`, the lower figure of the guide, for
            anyone who is smaller or not used to lifting.

    Returns:
        The limit, kg.

    Raises:
        ValueError: The guideline is not more than zero, or NaN.

    >>> round(person_limit_kg(), 1)
    18.9
    """
    return min(recommended_weight_limit_kg(CASE_LIFT), positive("the guideline", guideline_kg))


def team_limit_kg(people: int, each_limit_kg: float) -> float:
    """What a team may lift together.

    A team lifts less than the sum of its people: two thirds of it for two, half for three or
    four. Source: HSE L23 (from memory); for four from memory, on the side of caution. All
    people are assumed to be alike; otherwise use the limit of the weakest.

    Args:
        people: How many, 1 to 4; there is no room for more round a case.
        each_limit_kg: What each may lift alone, kg.

    Returns:
        The limit of the team, kg.

    Raises:
        ValueError: The team is not of 1 to 4, or the limit is not more than zero, or NaN.

    >>> team_limit_kg(3, 20.0)
    30.0
    """
    positive("the weight limit of a person", each_limit_kg)
    if people not in TEAM_SHARES:
        raise ValueError(f"A team is of 1 to {max(TEAM_SHARES)} people, not {people}.")
    return people * TEAM_SHARES[people] * each_limit_kg


def lower_bearer_share(
    length_m: float = CASE_LENGTH_M,
    centre_above_grips_m: float = CENTRE_ABOVE_GRIPS_M,
    slope_degrees: float = STAIR_SLOPE_DEGREES,
) -> float:
    """Share of the weight that the person below carries on stairs.

    Share = 1/2 + (h/L) tan(slope). Source: derived from the balance of a rigid case held at
    both ends, its centre of gravity halfway along and at a height h above the grips, carried
    parallel to the stairs, with both carriers lifting straight up. Above 1 it would tip over on
    to the person below.

    Args:
        length_m: Distance L between the grips, m.
        centre_above_grips_m: Height h of the centre of gravity above the grips, m.
        slope_degrees: Slope of the stairs, 0 to 60 degrees.

    Returns:
        The share, 0.5 or more.

    Raises:
        ValueError: A number is out of range or NaN.

    >>> round(lower_bearer_share(), 2)
    0.71
    """
    positive("the distance between the grips", length_m)
    not_negative("the height of the centre", centre_above_grips_m)
    within("the slope", slope_degrees, 0.0, 60.0, " degrees")
    return 0.5 + centre_above_grips_m / length_m * math.tan(math.radians(slope_degrees))


def plan_moving(load_kg: float, each_limit_kg: float, *, stairs: int = 0) -> MovingPlan:
    """How to move an instrument, or a part of it, without lifting more than is recommended.

    The first of `ways_on_the_level` or `ways_on_stairs` that is within its limit; movers if none
    is.

    Args:
        load_kg: Weight of what is moved, kg.
        each_limit_kg: What each may lift alone, kg: see `person_limit_kg`.
        stairs: Number of stairs on the way.

    Returns:
        The plan, with its caution.

    Raises:
        ValueError: A number is out of range or NaN.

    >>> plan = plan_moving(45.0, 19.0)
    >>> plan.means.value, plan.people
    ('dolly', 3)
    >>> plan_moving(110.0, 19.0, stairs=12).means.value
    'movers'
    """
    not_negative("the number of stairs", stairs)
    find_ways = ways_on_stairs if stairs else ways_on_the_level
    ways = find_ways(load_kg, each_limit_kg)
    for way in ways:
        if way.lifting_index <= 1:
            return way
    best = min(ways, key=lambda way: way.lifting_index)
    return MovingPlan(
        means=Means.MOVERS,
        people=None,
        lifted_kg=best.lifted_kg,
        limit_kg=best.limit_kg,
        reason=(
            "more than a team should lift. Take off the top, take out the action, and plan each "
            "part separately; what is still too heavy is for movers."
        ),
    )


def ways_on_the_level(load_kg: float, each_limit_kg: float) -> list[MovingPlan]:
    """Ways to move a load without stairs, the simplest first.

    By hand with one or two people, or one end at a time on to a dolly: then one or two people
    lift half the weight, and another slides the dolly in. Source: `team_limit_kg`; the dolly is
    common practice, its centre of gravity taken as halfway along.

    Args:
        load_kg: Weight of what is moved, kg.
        each_limit_kg: What each may lift alone, kg.

    Returns:
        The ways, also those above their limit.

    Raises:
        ValueError: A weight is not more than zero, or NaN.

    >>> [(way.means.value, way.people) for way in ways_on_the_level(30.0, 19.0)]
    [('by hand', 1), ('by hand', 2), ('dolly', 2), ('dolly', 3)]
    """
    positive("the load", load_kg)
    by_hand = [
        MovingPlan(
            Means.BY_HAND,
            people,
            load_kg,
            team_limit_kg(people, each_limit_kg),
            f"within what {_people(people)} may lift.",
        )
        for people in (1, 2)
    ]
    on_dolly = [
        MovingPlan(
            Means.DOLLY,
            lifters + 1,
            load_kg / 2,
            team_limit_kg(lifters, each_limit_kg),
            f"one end at a time is within what {_people(lifters)} may lift; one more slides the "
            "dolly in.",
        )
        for lifters in (1, 2)
    ]
    return by_hand + on_dolly


def ways_on_stairs(load_kg: float, each_limit_kg: float) -> list[MovingPlan]:
    """Ways to carry a load on stairs: two or four people, half of them below, never one alone.

    Those below carry the greater share and may lift half of what the team may. Source:
    `team_limit_kg`, `lower_bearer_share`; the rest is common practice.

    Args:
        load_kg: Weight of what is moved, kg.
        each_limit_kg: What each may lift alone, kg.

    Returns:
        The ways, also those above their limit.

    Raises:
        ValueError: A weight is not more than zero, or NaN.

    >>> [way.people for way in ways_on_stairs(30.0, 19.0)]
    [2, 4]
    """
    positive("the load", load_kg)
    share = lower_bearer_share()
    return [
        MovingPlan(
            Means.BY_HAND,
            people,
            load_kg * share,
            team_limit_kg(people, each_limit_kg) / 2,
            f"on stairs those below carry {100 * share:.0f} % of it, within what half a team of "
            f"{people} may lift.",
        )
        for people in (2, 4)
    ]


def _people(count: int) -> str:
    return {1: "one person", 2: "two people"}[count]
