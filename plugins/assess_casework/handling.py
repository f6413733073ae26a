"""Moving an instrument: how many people it takes, and when to use other means.

The lifting equation is for one person and a steady load. For teams, dollies and stairs this
is a cautious guide, and says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from assess import finite, not_negative, positive, within
from assess_casework.lifting import Lift, lifting_index, recommended_weight_limit_kg

# From memory: Manual handling, guidance on regulations, L23 (HSE): two people lift two thirds
# of the sum of what each could, three half. For four, half is taken too.
TEAM_SHARES = MappingProxyType({1: 1.0, 2: 2 / 3, 3: 1 / 2, 4: 1 / 2})

# From memory: Manual handling at work, INDG143 (HSE): guideline weights close to the body,
# between knuckle and elbow height.
GUIDELINE_MEN_KG = 25.0
GUIDELINE_WOMEN_KG = 16.0

# From memory: the usual case is 1.1 to 1.25 m long and is held about 0.3 m under its centre of
# gravity; stairs in houses rise at about 38 degrees.
CASE_LENGTH_M = 1.1
CENTRE_ABOVE_GRIPS_M = 0.3
STAIR_SLOPE_DEGREES = 38.0

HANDLING_CAUTION = (
    "A guide, not a permission. The rules of the place come first, and the lifting equation "
    "does not cover teams, carrying, stairs or a load that shifts. If in doubt, and for any "
    "flight of stairs, ask a mover who is used to keyboard instruments and insured for them."
)

# Common practice: a case held by its handles, against the body, lifted a hand's length.
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
        lifting_index: The first divided by the second; above 1 the risk rises. With movers all
            three are those of the nearest thing to do without them.
        reason: Why these means.
        caution: To be shown with it, always.
    """

    means: Means
    people: int | None
    lifted_kg: float
    limit_kg: float
    lifting_index: float
    reason: str
    caution: str = HANDLING_CAUTION


def person_limit_kg(lift: Lift = CASE_LIFT, guideline_kg: float = GUIDELINE_MEN_KG) -> float:
    """What one person may lift: the lower of the lifting equation and a plain guideline.

    Source: NIOSH 94-110; HSE INDG143 (from memory).

    Args:
        lift: The lift; by default a case held well, which is common practice.
        guideline_kg: The plain guideline, kg; take `GUIDELINE_WOMEN_KG` if anyone in the team
            is a woman, or is not used to lifting.

    Returns:
        The limit, kg; 0 where the equation allows no lift.

    Raises:
        ValueError: A measure of the lift is impossible, or the guideline is not more than zero.

    >>> round(person_limit_kg(), 1)
    18.9
    """
    positive("the guideline", guideline_kg)
    return min(recommended_weight_limit_kg(lift), guideline_kg)


def team_limit_kg(people: int, each_limit_kg: float) -> float:
    """What a team may lift together.

    A team lifts less than the sum of its people: two thirds of it for two, half for three or
    four. Source: HSE L23 (from memory); for four from memory, on the side of caution. People
    are taken as alike; for unlike ones take the weaker.

    Args:
        people: How many, 1 to 4; more cannot stand round a case.
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


def people_needed(load_kg: float, each_limit_kg: float) -> int | None:
    """The fewest people who may lift a load together, or None if even four may not.

    Source: see `team_limit_kg`.

    Args:
        load_kg: What is lifted, kg.
        each_limit_kg: What each may lift alone, kg.

    Returns:
        How many, or None.

    Raises:
        ValueError: A weight is not more than zero, or NaN.

    >>> people_needed(30.0, 20.0)
    3
    """
    positive("the load", load_kg)
    enough = (n for n in sorted(TEAM_SHARES) if team_limit_kg(n, each_limit_kg) >= load_kg)
    return next(enough, None)


def lower_bearer_share(
    length_m: float = CASE_LENGTH_M,
    centre_above_grips_m: float = CENTRE_ABOVE_GRIPS_M,
    slope_degrees: float = STAIR_SLOPE_DEGREES,
) -> float:
    """Share of the weight that comes on the one who walks below, on stairs.

    Share = 1/2 + (h/L) tan(slope). Source: derived from the balance of a rigid case held up at
    both ends, its weight halfway along and a height h over the grips, carried parallel to the
    stairs, both bearers lifting straight up. Above 1 it would tip over on the lower bearer.

    Args:
        length_m: Distance L between the grips, m.
        centre_above_grips_m: Height h of the centre of gravity over the grips, m.
        slope_degrees: Slope of the stairs, 0 to 60 degrees.

    Returns:
        The share, 0.5 and more.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> round(lower_bearer_share(), 2)
    0.71
    """
    positive("the distance between the grips", length_m)
    not_negative("the height of the centre", centre_above_grips_m)
    within("the slope", slope_degrees, 0.0, 60.0, " degrees")
    return 0.5 + centre_above_grips_m / length_m * math.tan(math.radians(slope_degrees))


def plan_moving(
    load_kg: float,
    each_limit_kg: float,
    *,
    stairs: int = 0,
    lower_share: float | None = None,
) -> MovingPlan:
    """How to move an instrument, or a part of it, without lifting more than is recommended.

    On the level: by hand if one or two may lift it; else one end at a time onto a dolly, so
    that half the weight is lifted, by one or two, while another slides the dolly in. On stairs:
    two or four, half of them below with the greater share; never one alone. Movers for
    everything else. Source: `team_limit_kg`, `lower_bearer_share`; dolly and stairs by common
    practice, its centre of gravity taken halfway along.

    Args:
        load_kg: Weight of what is moved, kg.
        each_limit_kg: What each may lift alone, kg: see `person_limit_kg`.
        stairs: Steps on the way.
        lower_share: Share of the weight on those below, on stairs, 0.5 and more; by default
            that of an ordinary case.

    Returns:
        The plan, with its caution.

    Raises:
        ValueError: A number is outside its range, or NaN.

    >>> plan = plan_moving(45.0, 19.0)
    >>> plan.means.value, plan.people
    ('dolly', 3)
    >>> plan_moving(110.0, 19.0, stairs=12).means.value
    'movers'
    """
    positive("the load", load_kg)
    not_negative("the number of stairs", stairs)
    share = lower_bearer_share() if lower_share is None else lower_share
    if finite("the share of those below", share) < 0.5:
        raise ValueError(f"those below bear a share of at least half, not {share:g}")
    ways = (
        _ways_on_stairs(load_kg, each_limit_kg, share)
        if stairs
        else _ways_on_the_level(load_kg, each_limit_kg)
    )
    for way in ways:
        if way.lifting_index <= 1:
            return way
    nearest = min(ways, key=lambda way: way.lifting_index)
    return MovingPlan(
        means=Means.MOVERS,
        people=None,
        lifted_kg=nearest.lifted_kg,
        limit_kg=nearest.limit_kg,
        lifting_index=nearest.lifting_index,
        reason=(
            "More than a team should lift. Take off the top and take out the action, and plan "
            "each part by itself; what is still too heavy is for movers."
        ),
    )


def _ways_on_the_level(load_kg: float, each_limit_kg: float) -> list[MovingPlan]:
    by_hand = [
        _way(
            Means.BY_HAND,
            people,
            load_kg,
            team_limit_kg(people, each_limit_kg),
            f"Within what {_people(people)} may lift.",
        )
        for people in (1, 2)
    ]
    on_dolly = [
        _way(
            Means.DOLLY,
            lifters + 1,
            load_kg / 2,
            team_limit_kg(lifters, each_limit_kg),
            f"One end at a time is within what {_people(lifters)} may lift; one more slides "
            "the dolly in.",
        )
        for lifters in (1, 2)
    ]
    return by_hand + on_dolly


def _ways_on_stairs(load_kg: float, each_limit_kg: float, share: float) -> list[MovingPlan]:
    return [
        _way(
            Means.BY_HAND,
            people,
            load_kg * share,
            team_limit_kg(people, each_limit_kg) / 2,
            f"On stairs those below bear {share:.0%} of it: within what half a team of {people} "
            "may lift.",
        )
        for people in (2, 4)
    ]


def _way(means: Means, people: int, lifted_kg: float, limit_kg: float, reason: str) -> MovingPlan:
    index = lifting_index(lifted_kg, limit_kg)
    return MovingPlan(means, people, lifted_kg, limit_kg, index, reason)


def _people(count: int) -> str:
    return {1: "one person", 2: "two people"}[count]
