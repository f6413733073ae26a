"""What is decided in each of many scenarios.

The share of scenarios that are decided one way is the probability of that verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from assess.decision.rules import UNIQUE, Feasibility, Rarity, Setting, Stance, decide
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import VerdictName
from assess.uncertainty.packed_facts import Bools
from assess.uncertainty.scenario_costs import Scenarios

VerdictIndices = NDArray[np.int8]
"""For each scenario, which of :data:`VERDICT_NAMES` is decided; of shape (scenarios,)."""

FULL_PASSES, WORKING_PASSES = 1, 5
"""Which of the nine bits of a decision, from the first, say that a scope passes."""
VERDICT_NAMES: tuple[VerdictName, ...] = (
    "full",
    "working",
    "conserve",
    "salvage",
    "leave",
    "wait",
    "hand_over",
    "pass_on",
)
"""Every verdict that a scenario can end in; nothing is unseen in it, so nobody looks further."""


@dataclass(frozen=True)
class Standing:
    """The share of scenarios in which a scope passes, and in which each obstacle stands.

    ``doable`` is the share in which it can be done at all, and in the workshop's hours.
    """

    passes: float
    doable: float
    against: dict[str, float]


def verdict_indices(scenarios: Scenarios, setting: Setting) -> VerdictIndices:
    """What is decided in each scenario, as an index into :data:`VERDICT_NAMES`."""
    rarity = rarities(scenarios, setting)
    full, working = (_feasibility(scenarios, s, setting, rarity) for s in ("full", "working"))
    return _decision_table(setting.stance)[_codes(rarity, (*full, *working, scenarios.differs))]


def verdicts_by_limit(scenarios: Scenarios, setting: Setting) -> Callable[[float], VerdictIndices]:
    """What :func:`verdict_indices` gives for a limit; that of the setting's owner does not count.

    Only whether a scope passes turns on the limit, so all else is worked out once.
    """
    unlimited = replace(setting, owner=setting.owner.model_copy(update={"ceiling": None}))
    rarity, workshop = rarities(scenarios, setting), setting.workshop
    full, working = (_feasibility(scenarios, s, unlimited, rarity) for s in ("full", "working"))
    never = np.zeros_like(scenarios.differs)
    bits = [*full, *working, scenarios.differs]
    bits[FULL_PASSES] = bits[WORKING_PASSES] = never
    codes, table = _codes(rarity, bits), _decision_table(setting.stance)
    places: dict[Scope, tuple[Bools, int]] = {
        "full": (full[1], FULL_PASSES),
        "working": (working[1], WORKING_PASSES),
    }
    ways = [
        (passes, scenarios.costs[s].cost_at(workshop.sure_quantile, workshop), 2 ** (8 - place))
        for s, (passes, place) in places.items()
    ]

    def at(limit: float) -> VerdictIndices:
        found = codes
        for passes, costs, worth in ways:
            found = found + worth * (passes & (costs <= limit))
        return table[found]

    return at


def _codes(rarity: NDArray[np.int8], bits: Iterable[Bools]) -> NDArray[np.intp]:
    """The row of the decision table for each scenario."""
    codes = rarity.astype(np.intp)
    for bit in bits:
        codes = 2 * codes + bit
    return codes


def rarities(scenarios: Scenarios, setting: Setting) -> NDArray[np.int8]:
    """The :class:`Rarity` of each scenario; of shape (scenarios,)."""
    levels = np.array([setting.rarity(found) for found in range(UNIQUE + 1)], np.int8)
    return levels[scenarios.significance]


def chances_of(verdicts: VerdictIndices) -> dict[VerdictName, float]:
    """The share of scenarios that come to each verdict, likeliest first."""
    shares = np.bincount(verdicts, minlength=len(VERDICT_NAMES)) / len(verdicts)
    ranked = sorted(range(len(VERDICT_NAMES)), key=lambda i: (-shares[i], i))
    return {VERDICT_NAMES[i]: float(shares[i]) for i in ranked if shares[i] > 0}


def standing(scenarios: Scenarios, scope: Scope, setting: Setting) -> Standing:
    """How likely nothing stands against a scope, and how likely each kind of obstacle."""
    costs = scenarios.costs[scope]
    rarity = rarities(scenarios, setting)
    _, passes, possible, dissuaded = _feasibility(scenarios, scope, setting, rarity)
    too_long = costs.median_h > setting.workshop.most_hours
    against = {
        "too expensive": 1 - float(_affordable(scenarios, scope, setting).mean()),
        "too many hours": float(too_long.mean()),
        "beyond repair": 1 - float(possible.mean()),
        "advised against": float(dissuaded.mean()),
    }
    doable = possible & ~too_long
    return Standing(float(passes.mean()), float(doable.mean()), against)


def _affordable(scenarios: Scenarios, scope: Scope, setting: Setting) -> Bools:
    limit, workshop = setting.owner.ceiling, setting.workshop
    if limit is None:
        return np.ones(scenarios.count, np.bool_)
    return scenarios.costs[scope].cost_at(workshop.sure_quantile, workshop) <= limit


def _feasibility(
    scenarios: Scenarios, scope: Scope, setting: Setting, rarity: NDArray[np.int8]
) -> tuple[Bools, ...]:
    """The fields of a :class:`Feasibility` in each scenario, in their order."""
    costs, workshop = scenarios.costs[scope], setting.workshop
    dissuaded: Bools = rarity >= Rarity.EVIDENCE
    if setting.heeds_advice:
        advised = scenarios.dissuaded[scope]
        if setting.owner.worth is not None:
            most = workshop.worth_times * setting.owner.worth
            advised = advised | (costs.cost_at(0.5, workshop) > most)
        dissuaded = dissuaded | advised
    within = _affordable(scenarios, scope, setting)
    fits = costs.median_h <= workshop.most_hours
    possible = ~costs.impossible
    if setting.heeds_advice:
        possible &= ~scenarios.ruined
    passes = possible & within & fits & ~dissuaded
    return costs.needless, passes, possible, dissuaded


@lru_cache(maxsize=64)
def _decision_table(stance: Stance) -> VerdictIndices:
    """What is decided for every combination of what a decision turns on; of shape (2048,)."""
    table = []
    for rarity, bits in product(Rarity, product((False, True), repeat=9)):
        full, working = Feasibility(*bits[:4]), Feasibility(*bits[4:8])
        decision = decide(full, working, bits[8], rarity, stance)
        table.append(VERDICT_NAMES.index(decision.name))
    return np.array(table, np.int8)
