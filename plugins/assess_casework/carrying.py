"""Who may carry it: the lifting index, and a sheet of ways to carry it."""

from __future__ import annotations

from assess import Inspection, Measurement, Sheet
from assess_casework.handling import (
    GUIDELINE_WOMEN_KG,
    HANDLING_CAUTION,
    MovingPlan,
    lower_bearer_share,
    person_limit_kg,
    plan_moving,
    ways_on_stairs,
    ways_on_the_level,
)

LIFTING = "revised lifting equation (Waters, Putz-Anderson, Garg and Fine 1993; NIOSH 94-110)"
TEAMS = "HSE L23 and INDG143 (from memory)"


def lifting_index(inspection: Inspection) -> Measurement:
    """What is lifted, divided by what the team may lift; what is missing without the weight."""
    title = "Lifting index: what is lifted, divided by what the team may lift"
    formula = "weight lifted divided by the recommended limit of the team"
    weight = inspection.number("weight_kg", "kg")
    if weight is None:
        return Measurement("lifting_index", title, "count", formula, LIFTING, wants=("weight_kg",))
    stairs = int(inspection.number("stairs", "count") or 0)
    plan = plan_moving(weight, person_limit_kg(), stairs=stairs)
    return Measurement(
        "lifting_index",
        title,
        "count",
        formula,
        f"{LIFTING}; {TEAMS}",
        plan.lifting_index,
        None,
        (("weight", f"{weight:g} kg"), ("stairs", f"{stairs}")),
        f"{plan.means.value.capitalize()}: {plan.reason} {plan.caution}",
    )


def sheets(inspection: Inspection) -> list[Sheet]:
    """What teams of different sizes may lift and carry, on the level and on stairs."""
    title = "Ways to carry it, and what a team may lift"
    weight = inspection.number("weight_kg", "kg")
    if weight is None:
        return [Sheet("carrying", title, wants=("weight_kg",))]
    trained, other = person_limit_kg(), person_limit_kg(GUIDELINE_WOMEN_KG)
    share = lower_bearer_share()
    rows = [
        _way_row(where, *ways)
        for where, find_ways in (("Level", ways_on_the_level), ("Stairs", ways_on_stairs))
        for ways in zip(find_ways(weight, trained), find_ways(weight, other), strict=True)
    ]
    return [
        Sheet(
            "carrying",
            title,
            ("Way", "People", "Lifted, kg", "Limit A, kg", "Limit B, kg"),
            tuple(rows),
            (
                f"For {weight:g} kg. Lifted: the most that is lifted at once. On a dolly that is "
                "half of it, one end at a time; on stairs, "
                f"{100 * share:.0f} % of it is on those below.",
                f"Limit A: people used to lifting, {trained:.1f} kg each. Limit B: the lower "
                f"figure of the guide, for anyone not used to lifting, {other:.1f} kg each.",
                "If the weight lifted is above the limit, take parts off first, or call movers.",
                HANDLING_CAUTION,
                f"Source: {LIFTING}; {TEAMS}.",
            ),
        )
    ]


def _way_row(where: str, trained: MovingPlan, other: MovingPlan) -> tuple[str, ...]:
    return (
        f"{where}, {trained.means.value}",
        f"{trained.people}",
        f"{trained.lifted_kg:.0f}",
        f"{trained.limit_kg:.0f}",
        f"{other.limit_kg:.0f}",
    )
