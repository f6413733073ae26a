"""Every way to go, compared by the same questions: possible, advised, wanted, affordable.

The recommendation is one of them; the table of all lets an informed owner choose another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from assess.decision.rules import Rarity, Setting
from assess.decision.scenario_verdicts import rarities, standing
from assess.knowledge.model_base import Scope
from assess.planning.cost_estimate import Spread
from assess.uncertainty.scenario_costs import Scenarios

WayName = Literal[
    "leave", "service", "working", "full", "conserve", "hand_over", "pass_on", "salvage"
]
MAJORITY = 0.5
"""A service where it is has a price of its own only where it is likely to be enough."""


@dataclass(frozen=True)
class Way:
    """One way to go.

    Attributes:
        name: which.
        cost: what it costs, allowing for the unseen; None where nothing is charged.
        possible: probability that it can be done at all, and in the workshop's hours.
        advised: probability that nothing speaks against it, besides money.
        wanted: whether the owner wants it; None where that is not said.
        within_limit: probability of staying under the owner's limit; None without a limit.
    """

    name: WayName
    cost: Spread | None
    possible: float
    advised: float
    wanted: bool | None
    within_limit: float | None


def weigh_ways(
    scenarios: Scenarios, costs: Mapping[Scope, Spread], setting: Setting
) -> tuple[Way, ...]:
    """Every way to go, from the least to the most, then what is left where none will do.

    Args:
        scenarios: the possible states of the object.
        costs: the cost of each scope, allowing for the unseen.
        setting: owner, workshop, and what is told.
    """
    owner, told = setting.owner, setting.told
    working = scenarios.costs["working"]
    level = rarities(scenarios, setting)
    kept = float((level >= Rarity.EVIDENCE).mean())
    hopeless = working.impossible & (level == Rarity.COMMON) & (not setting.stance.attached)
    at_home = float((~working.away & ~working.impossible).mean())
    as_it_is = float(working.needless.mean())
    if told.usable:
        as_it_is = 1.0
    elif told.history.works == "not at all":
        as_it_is = 0.0
    scope_ways = {s: _scope_way(scenarios, costs, s, setting) for s in ("working", "full")}
    lets_go = None if owner.keeps is None else not owner.keeps
    kept_safe = _within(scenarios, "stabilise", setting)
    wants_safe = None if owner.wish is None else owner.wish == "stabilise"
    service = scope_ways["working"]
    return (
        Way("leave", None, as_it_is, 1.0, None, None),
        replace(
            service,
            name="service",
            cost=service.cost if at_home >= MAJORITY else None,
            within_limit=service.within_limit if at_home >= MAJORITY else None,
            possible=at_home,
        ),
        scope_ways["working"],
        scope_ways["full"],
        Way("conserve", costs["stabilise"], 1.0, 1.0, wants_safe, kept_safe),
        Way("hand_over", None, 1.0, kept, lets_go, None),
        Way("pass_on", None, 1.0, 1 - kept, lets_go, None),
        Way("salvage", None, 1.0, float(np.mean(hopeless)), lets_go, None),
    )


def _scope_way(
    scenarios: Scenarios, costs: Mapping[Scope, Spread], scope: Scope, setting: Setting
) -> Way:
    found = standing(scenarios, scope, setting)
    name: WayName = "full" if scope == "full" else "working"
    return Way(
        name,
        costs[scope],
        found.doable,
        1 - found.against["advised against"],
        _is_wanted(scope, setting),
        _within(scenarios, scope, setting),
    )


def _within(scenarios: Scenarios, scope: Scope, setting: Setting) -> float | None:
    limit = setting.owner.ceiling
    return None if limit is None else scenarios.within(scope, limit, setting.workshop)


def _is_wanted(scope: Scope, setting: Setting) -> bool | None:
    """Whether the owner wants to go so far; the wish is the most that the owner wants."""
    wish = setting.owner.wish
    if wish is None:
        return None
    if scope == "full":
        return wish == "full"
    return wish in ("working", "full")
