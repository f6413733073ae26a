"""The verdict: what is decided, how sure that is, and what would change it.

On everything seen, a decision follows (:mod:`assess.decision.rules`). What is unseen is drawn
(:mod:`assess.uncertainty.monte_carlo`), and the decision that most draws come to is the verdict;
the share of
draws that come to it is its probability. If that is below what the workshop profile asks
for, the verdict is to look further first. It is settled when the unseen could change it no
likelier than the profile allows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from assess.decision.rules import (
    FROM_FULLEST,
    Decision,
    Option,
    VerdictName,
    decide_on,
    grounds,
    percent,
    reasons_of,
    said,
    wished,
)
from assess.decision.scenarios import VERDICT_NAMES, Scenarios, VerdictIndices, simulate_scenarios
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.job.job_file import Owner
from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import Scope
from assess.planning.cost_estimate import Spread, estimate_class
from assess.planning.planner import SCOPE_TITLES
from assess.uncertainty.bayes_network import position
from assess.uncertainty.plan_arrays import PlanArrays

WISHES: tuple[Scope, ...] = ("full", "playing")
GRID = 48
WHAT_IF_DRAWS = 96
WHAT_IF_COLUMNS = 12000
MAJORITY = 0.5
GUESS = 5
"""The class of an estimate that is no more than a guess."""


@dataclass(frozen=True)
class Likely:
    """One scope with the unseen in it: hours, cost, and how likely it stays within the ceiling."""

    scope: Scope
    hours: Spread
    cost: Spread
    within_ceiling: float | None


@dataclass(frozen=True)
class Breakpoint:
    """From this ceiling on, the likeliest verdict, and its probability there."""

    ceiling: float
    name: VerdictName
    probability: float


@dataclass(frozen=True)
class SensitivityFlip:
    """A finding which, were it another class, would turn the likeliest verdict."""

    criterion: str
    said: str
    instead: str
    condition: int
    name: VerdictName


@dataclass(frozen=True)
class Verdict:
    """The verdict with everything that is always given with it.

    Attributes:
        name: what to do; ``look further first`` when no verdict is likely enough.
        scope: how far to go, where the verdict has a scope.
        likeliest: the verdict that most draws come to; ``name`` unless one must look further.
        probability: the share of draws that come to it.
        chances: every verdict that some draw comes to, with its share, likeliest first.
        settled: whether what is unseen could change it no likelier than the profile allows.
        reasons: the chain that led to it, in order.
        options: each scope weighed on what is seen.
        likely: each scope with the unseen in it.
        grounds: findings that speak against restoration.
        ceilings: for each wish that is open, the verdict from which ceiling on.
        as_seen: what would be decided if all that is unseen were in order.
        worth_saving: titles of components seen sound, for an instrument kept for parts.
    """

    name: VerdictName
    scope: Scope | None
    likeliest: VerdictName
    probability: float
    chances: dict[VerdictName, float]
    settled: bool
    reasons: tuple[str, ...]
    options: tuple[Option, ...]
    likely: tuple[Likely, ...]
    grounds: tuple[str, ...]
    ceilings: dict[Scope, tuple[Breakpoint, ...]]
    as_seen: VerdictName
    worth_saving: tuple[str, ...]


def chances_of(verdicts: VerdictIndices) -> dict[VerdictName, float]:
    """The share of draws that come to each verdict, likeliest first."""
    shares = np.bincount(verdicts, minlength=len(VERDICT_NAMES)) / len(verdicts)
    ranked = sorted(range(len(VERDICT_NAMES)), key=lambda i: (-shares[i], i))
    return {VERDICT_NAMES[i]: float(shares[i]) for i in ranked if shares[i] > 0}


def conclude(
    options: Mapping[Scope, Option],
    scenarios: Scenarios,
    graded: Graded,
    owner: Owner,
    workshop: Workshop,
    titles: Mapping[str, str],
) -> Verdict:
    """The verdict.

    Args:
        options: each scope weighed on what is seen.
        scenarios: the instrument as it may be.
        graded: what is seen.
        owner: wish, ceiling and what it means to the owner.
        workshop: what is asked of a verdict.
        titles: component id -> title.
    """
    decision = decide_on(options, owner)
    # With nothing left to draw, the decision on what is seen is the whole truth, and no
    # rounding of the arrays may turn it.
    verdicts = scenarios.verdict_indices(owner, workshop)
    chances = chances_of(verdicts) if scenarios.unseen else {decision.name: 1.0}
    likeliest, probability = next(iter(chances.items()))
    guess = guessed(graded, owner)
    enough = probability >= workshop.verdict_enough and not guess
    name: VerdictName = likeliest if enough else "look further first"
    reasons = _reasons(decision, options, scenarios, likeliest, chances, owner, workshop)
    return Verdict(
        name=name,
        scope=_scope(name, decision, owner),
        likeliest=likeliest,
        probability=probability,
        chances=chances,
        settled=1 - probability <= workshop.settled_doubt and not guess,
        reasons=(*reasons, *guess),
        options=tuple(options[s] for s in FROM_FULLEST),
        likely=tuple(_likely(s, scenarios, owner, workshop) for s in FROM_FULLEST),
        grounds=tuple(f"{said(f)}: {f.outcome.advise_against}" for f in grounds(graded)),
        ceilings={w: limit_breakpoints(scenarios, owner, w, workshop) for w in _open_wishes(owner)},
        as_seen=decision.name,
        worth_saving=_worth_saving(graded, titles) if name == "keep for parts" else (),
    )


def guessed(graded: Graded, owner: Owner) -> tuple[str, ...]:
    """Why no verdict is given though no ceiling stands in its way, or nothing."""
    seen = graded.instrument.coverage
    if owner.ceiling is not None or estimate_class(seen).number < GUESS:
        return ()
    return (
        f"no ceiling is stated, and with {percent(seen)} seen no cost can be named that an owner "
        "could decide on",
    )


def _scope(name: VerdictName, decision: Decision, owner: Owner) -> Scope | None:
    if name == decision.name:
        return decision.scope
    scopes: dict[VerdictName, Scope] = {
        "restore in full": "full",
        "repair to playing order": "playing",
        "conserve unplayed": "stabilise",
    }
    return scopes.get(name)


def _open_wishes(owner: Owner) -> tuple[Scope, ...]:
    if owner.wish is None:
        return WISHES
    return (owner.wish,) if owner.wish in WISHES else ()


def _likely(scope: Scope, scenarios: Scenarios, owner: Owner, workshop: Workshop) -> Likely:
    hours, cost = scenarios.spreads(scope, workshop)
    within = None if owner.ceiling is None else scenarios.within(scope, owner.ceiling, workshop)
    return Likely(scope, hours, cost, within)


def _reasons(
    decision: Decision,
    options: Mapping[Scope, Option],
    scenarios: Scenarios,
    likeliest: VerdictName,
    chances: Mapping[VerdictName, float],
    owner: Owner,
    workshop: Workshop,
) -> tuple[str, ...]:
    if not scenarios.unseen:
        return (*reasons_of(decision, options, owner), "everything that applies is seen")
    share = percent(chances[likeliest])
    if likeliest == decision.name:
        reasons = list(reasons_of(decision, options, owner))
        held = f"that holds in {share} of the ways in which what is unseen may turn out"
        reasons.append(held)
    else:
        reasons = [wished(owner), *_obstacles(scenarios, owner, workshop)]
        reasons += [
            f"on what is seen alone it would be: {decision.name}",
            f"with what is unseen as it may turn out it is: {likeliest}, in {share} of the ways",
        ]
    if chances[likeliest] < workshop.verdict_enough:
        others = ", ".join(f"{name} {percent(p)}" for name, p in list(chances.items())[1:3])
        reasons.append(
            f"a verdict is given from {percent(workshop.verdict_enough)} on; what is unseen "
            f"could still make it otherwise ({others})"
        )
    return tuple(reasons)


def _obstacles(scenarios: Scenarios, owner: Owner, workshop: Workshop) -> list[str]:
    """Of each scope from the wish down, how likely nothing stands against it."""
    wishes = WISHES[WISHES.index(owner.wish) :] if owner.wish in WISHES else WISHES
    lines = []
    for scope in wishes:
        stands = scenarios.stands(scope, owner, workshop)
        told = "; ".join(f"{why} {percent(p)}" for why, p in stands.against.items() if p > 0)
        line = f"{SCOPE_TITLES[scope]}: nothing stands against it in {percent(stands.passes)}"
        lines.append(f"{line} ({told})" if told else line)
    return lines


def limit_breakpoints(
    scenarios: Scenarios, owner: Owner, wish: Scope, workshop: Workshop
) -> tuple[Breakpoint, ...]:
    """The likeliest verdict by ceiling, from zero up; each point to about a hundredth."""

    def at(ceiling: float) -> Breakpoint:
        wishing = owner.model_copy(update={"wish": wish, "ceiling": ceiling})
        chances = chances_of(scenarios.verdict_indices(wishing, workshop))
        name, probability = next(iter(chances.items()))
        return Breakpoint(ceiling, name, probability)

    costs = np.concatenate(
        [scenarios.costs[s].cost_at(workshop.sure_enough, workshop) for s in WISHES]
    )
    grid = sorted({0.0, *(float(c) for c in np.quantile(costs, np.linspace(0, 1, GRID)))})
    seen = [at(ceiling) for ceiling in [*grid, grid[-1] * 1.01 + 1]]
    breakpoints = [seen[0]]
    for low, high in pairwise(seen):
        if low.name == high.name:
            continue
        while high.ceiling - low.ceiling > max(1.0, 0.01 * high.ceiling):
            middle = at((low.ceiling + high.ceiling) / 2)
            low, high = (low, middle) if middle.name != low.name else (middle, high)
        if high.name != breakpoints[-1].name:
            breakpoints.append(high)
    return tuple(breakpoints)


def pivotal_findings(
    plan: PlanArrays,
    scenarios: Scenarios,
    graded: Graded,
    owner: Owner,
    workshop: Workshop,
) -> tuple[SensitivityFlip, ...]:
    """Findings which, were they a class better or worse, would turn the likeliest verdict.

    Each is tried on the same draws of the unseen, fewer of them the more there are to try.
    """
    findings = graded.findings
    tried = [(row, place) for row, f in enumerate(findings) for place in _neighbours(f)]
    if not tried:
        return ()
    share = min(WHAT_IF_DRAWS, scenarios.count, max(8, WHAT_IF_COLUMNS // (len(tried) + 1)))
    own = np.array([position(f) for f in findings], np.int8)
    seen = np.repeat(own[:, None], share * (len(tried) + 1), axis=1)
    for block, (row, place) in enumerate(tried, 1):
        seen[row, block * share : (block + 1) * share] = place
    unseen = np.tile(scenarios.outcomes[:, :share], len(tried) + 1)
    filled = (*scenarios.unseen, *findings)
    what_if = simulate_scenarios(plan, graded, workshop, filled, np.vstack([unseen, seen]))
    verdicts = what_if.verdict_indices(owner, workshop).reshape(len(tried) + 1, share)
    names = [next(iter(chances_of(row))) for row in verdicts]
    turns = []
    for (row, place), name in zip(tried, names[1:], strict=True):
        if name != names[0]:
            finding, outcome = findings[row], findings[row].criterion.outcomes[place]
            turn = SensitivityFlip(
                finding.id, said(finding), outcome.label, outcome.condition, name
            )
            turns.append(turn)
    return tuple(turns)


def _neighbours(finding: Judgement) -> list[int]:
    """The outcomes next to a finding's, a class better and a class worse."""
    outcomes = finding.criterion.outcomes
    classes = sorted({o.condition for o in outcomes})
    own = classes.index(finding.outcome.condition)
    near = classes[max(0, own - 1) : own] + classes[own + 1 : own + 2]
    return [next(i for i, o in enumerate(outcomes) if o.condition == c) for c in near]


def _worth_saving(graded: Graded, titles: Mapping[str, str]) -> tuple[str, ...]:
    """Components of which most was seen, and nothing worse than minor."""
    return tuple(
        titles[component]
        for subsystem in graded.subsystems.values()
        for component, grade in subsystem.components.items()
        if grade.coverage >= MAJORITY and grade.best_class <= 1
    )
