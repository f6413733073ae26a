"""The verdict: what is decided, how sure that is, and what would change it.

On everything seen, a decision follows (:mod:`assess.decision.rules`). What is unseen is drawn
many times (:mod:`assess.uncertainty.monte_carlo`), and the decision that most scenarios come to
is the verdict; the share of scenarios that come to it is its probability. If that is below what
the workshop profile asks for, the verdict is to look further first. It is settled when the risk
that unseen parts change it is at most what the profile allows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from assess.base.wording import percent
from assess.decision.rules import (
    FROM_FULLEST,
    Decision,
    Option,
    Setting,
    advising_against,
    decide_on,
    is_evidence,
    reasons_of,
    said,
    wish_said,
)
from assess.decision.scenario_verdicts import (
    chances_of,
    standing,
    verdict_indices,
    verdicts_by_limit,
)
from assess.decision.ways import Way, weigh_ways
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import VerdictName
from assess.planning.cost_estimate import Spread
from assess.uncertainty.plan_arrays import PlanArrays
from assess.uncertainty.scenario_costs import Scenarios, simulate_scenarios

WISHES: tuple[Scope, ...] = ("full", "working")
SCOPES_OF: dict[VerdictName, Scope] = {
    "full": "full",
    "working": "working",
    "conserve": "stabilise",
    "wait": "stabilise",
    "hand_over": "stabilise",
    "pass_on": "stabilise",
}
GRID = 48
WHAT_IF_SCENARIOS = 96
WHAT_IF_COLUMNS = 12000
MAJORITY = 0.5
GUESS = 5
"""The class of an estimate that is no more than a guess."""


@dataclass(frozen=True)
class Likely:
    """One scope, allowing for the unseen: hours, cost, and the chance of staying in the limit."""

    scope: Scope
    hours: Spread
    cost: Spread
    within_limit: float | None


@dataclass(frozen=True)
class Breakpoint:
    """From this limit of the owner on, the likeliest verdict, and its probability there."""

    limit: float
    name: VerdictName
    probability: float


@dataclass(frozen=True)
class SensitivityFlip:
    """A finding which, with another class, would change the likeliest verdict.

    Attributes:
        criterion: its full id.
        asks, given: the question, and its answer today.
        instead: the answer that would change the verdict.
        condition: the class of that answer.
        name: the verdict that would then be the likeliest.
    """

    criterion: str
    asks: str
    given: str
    instead: str
    condition: int
    name: VerdictName


@dataclass(frozen=True)
class Verdict:
    """The verdict with everything that is always given with it.

    Attributes:
        name: what to do; ``look_further`` when no verdict is likely enough.
        scope: how far to go, where the verdict has a scope.
        plan_scope: whose plan is shown unless another is asked for: the verdict's scope, or that
            of the likeliest verdict, or the owner's wish, or the least.
        likeliest: the verdict of most scenarios; ``name`` unless more must be looked at first.
        probability: the share of scenarios that come to it.
        chances: every verdict that some scenario comes to, with its share, likeliest first.
        settled: whether the risk that unseen parts change it is at most what the profile allows.
        reasons: the chain that led to it, in order.
        options: each scope weighed on what was seen.
        likely: each scope, allowing for the unseen.
        ways: every way to go, weighed by the same questions.
        grounds: findings that speak against the work.
        limits: for each wish that is open, the verdict by the owner's limit.
        as_seen: what would be decided if everything unseen were in order.
        worth_saving: titles of components seen sound, where it is kept for parts.
        is_evidence: it is kept as evidence while no documented reason is given to use it.
    """

    name: VerdictName
    scope: Scope | None
    plan_scope: Scope
    likeliest: VerdictName
    probability: float
    chances: dict[VerdictName, float]
    settled: bool
    reasons: tuple[str, ...]
    options: tuple[Option, ...]
    likely: tuple[Likely, ...]
    ways: tuple[Way, ...]
    grounds: tuple[str, ...]
    limits: dict[Scope, tuple[Breakpoint, ...]]
    as_seen: VerdictName
    worth_saving: tuple[str, ...]
    is_evidence: bool


def conclude(
    options: Mapping[Scope, Option],
    scenarios: Scenarios,
    graded: Graded,
    setting: Setting,
    titles: Mapping[str, str],
) -> Verdict:
    """The verdict.

    Args:
        options: each scope weighed on what was seen.
        scenarios: the possible states of the object.
        graded: what was seen.
        setting: owner, workshop, and the trade's words.
        titles: component id -> title, of what can be kept for parts.
    """
    workshop = setting.workshop
    decision = decide_on(options, graded, setting)
    # With nothing left to draw, the decision on what was seen is the whole truth, and no
    # rounding of the arrays may change it.
    chances: dict[VerdictName, float] = {decision.name: 1.0}
    if scenarios.unseen:
        chances = chances_of(verdict_indices(scenarios, setting))
    likeliest, probability = next(iter(chances.items()))
    guess = guessed(graded, setting)
    enough = probability >= workshop.verdict_enough and graded.instrument.coverage > 0
    name: VerdictName = likeliest if enough else "look_further"
    reasons = _reasons(decision, options, scenarios, chances, graded, setting)
    scope = decision.scope if name == decision.name else SCOPES_OF.get(name)
    likely = tuple(_likely(s, scenarios, setting) for s in FROM_FULLEST)
    return Verdict(
        name=name,
        scope=scope,
        plan_scope=scope or SCOPES_OF.get(likeliest) or setting.owner.wish or "working",
        likeliest=likeliest,
        probability=probability,
        chances=chances,
        settled=1 - probability <= workshop.settled_doubt and not guess,
        reasons=(*reasons, *guess),
        options=tuple(options[s] for s in FROM_FULLEST),
        likely=likely,
        ways=weigh_ways(scenarios, {k.scope: k.cost for k in likely}, setting),
        grounds=tuple(f"{said(f)}: {f.outcome.advise_against}" for f in advising_against(graded)),
        limits={w: limit_breakpoints(scenarios, w, setting) for w in _open_wishes(setting)},
        as_seen=decision.name,
        worth_saving=_worth_saving(graded, titles) if name == "salvage" else (),
        is_evidence=is_evidence(graded, setting),
    )


def guessed(graded: Graded, setting: Setting) -> tuple[str, ...]:
    """Why no useful price can be given yet, where the owner names no limit; or nothing."""
    seen = graded.instrument.coverage
    if setting.owner.ceiling is not None or setting.workshop.estimate_class(seen).number < GUESS:
        return ()
    return (f"no useful price can be given yet: {percent(seen)} seen, and no limit from the owner",)


def _open_wishes(setting: Setting) -> tuple[Scope, ...]:
    wish = setting.owner.wish
    if wish is None:
        return WISHES
    return (wish,) if wish in WISHES else ()


def _likely(scope: Scope, scenarios: Scenarios, setting: Setting) -> Likely:
    workshop, limit = setting.workshop, setting.owner.ceiling
    hours, cost = scenarios.spreads(scope, workshop)
    within = None if limit is None else scenarios.within(scope, limit, workshop)
    return Likely(scope, hours, cost, within)


def _reasons(
    decision: Decision,
    options: Mapping[Scope, Option],
    scenarios: Scenarios,
    chances: Mapping[VerdictName, float],
    graded: Graded,
    setting: Setting,
) -> tuple[str, ...]:
    if not scenarios.unseen:
        reasons = reasons_of(decision, options, graded, setting)
        return (*reasons, "everything that applies has been seen")
    trade, enough = setting.trade, setting.workshop.verdict_enough
    likeliest = next(iter(chances))
    if likeliest == decision.name:
        reasons = reasons_of(decision, options, graded, setting)
    else:
        most = f"{trade.verdict(likeliest)} ({percent(chances[likeliest])})"
        reasons = (
            wish_said(setting),
            *_obstacles(scenarios, setting),
            f"judged only on what was seen: {trade.verdict(decision.name)}",
            f"most likely, allowing for the unseen: {most}",
        )
    if chances[likeliest] < enough:
        others = ", ".join(
            f"{trade.verdict(name)} {percent(p)}" for name, p in list(chances.items())[1:3]
        )
        return (*reasons, f"a verdict needs at least {percent(enough)}; otherwise: {others}")
    return reasons


def _obstacles(scenarios: Scenarios, setting: Setting) -> list[str]:
    """For each scope from the wish down, how likely it is possible, and what stands against it."""
    wish = setting.owner.wish
    wishes = WISHES[WISHES.index(wish) :] if wish in WISHES else _open_wishes(setting)
    lines = []
    for scope in wishes:
        found = standing(scenarios, scope, setting)
        listed = "; ".join(f"{why} {percent(p)}" for why, p in found.against.items() if p > 0)
        title = setting.trade.scope_title(scope)
        line = f"{title}: possible in {percent(found.passes)} of cases"
        lines.append(f"{line} ({listed})" if listed else line)
    return lines


def limit_breakpoints(
    scenarios: Scenarios, wish: Scope, setting: Setting
) -> tuple[Breakpoint, ...]:
    """The likeliest verdict by the owner's limit, from zero up; exact to about a hundredth."""
    owner = setting.owner.model_copy(update={"wish": wish})
    verdicts = verdicts_by_limit(scenarios, replace(setting, owner=owner))

    def at(limit: float) -> Breakpoint:
        name, probability = next(iter(chances_of(verdicts(limit)).items()))
        return Breakpoint(limit, name, probability)

    workshop = setting.workshop
    costs = np.concatenate(
        [scenarios.costs[s].cost_at(workshop.sure_quantile, workshop) for s in WISHES]
    )
    grid = sorted({0.0, *(float(c) for c in np.quantile(costs, np.linspace(0, 1, GRID)))})
    seen = [at(limit) for limit in [*grid, grid[-1] * 1.01 + 1]]
    breakpoints = [seen[0]]
    for low, high in pairwise(seen):
        if low.name == high.name:
            continue
        while high.limit - low.limit > max(1.0, 0.01 * high.limit):
            middle = at((low.limit + high.limit) / 2)
            low, high = (low, middle) if middle.name != low.name else (middle, high)
        if high.name != breakpoints[-1].name:
            breakpoints.append(high)
    return tuple(breakpoints)


def pivotal_findings(
    plan: PlanArrays, scenarios: Scenarios, graded: Graded, setting: Setting
) -> tuple[SensitivityFlip, ...]:
    """Findings which, a class better or worse, would change the likeliest verdict.

    Each is tried on the same scenarios of the unseen, fewer of them the more there are to try.
    """
    findings = graded.findings
    tried = [(row, place) for row, f in enumerate(findings) for place in _neighbours(f)]
    if not tried:
        return ()
    share = min(WHAT_IF_SCENARIOS, scenarios.count, max(8, WHAT_IF_COLUMNS // (len(tried) + 1)))
    tried = [(row, place) for row, place in tried if not plan.sets_the_same(findings[row], place)]
    own = np.array([f.position for f in findings], np.int8)
    seen = np.repeat(own[:, None], share * (len(tried) + 1), axis=1)
    for block, (row, place) in enumerate(tried, 1):
        seen[row, block * share : (block + 1) * share] = place
    unseen = np.tile(scenarios.outcomes[:, :share], len(tried) + 1)
    filled, outcomes = (*scenarios.unseen, *findings), np.vstack([unseen, seen])
    what_if = simulate_scenarios(plan, graded, setting.workshop, filled, outcomes)
    verdicts = verdict_indices(what_if, setting).reshape(len(tried) + 1, share)
    names = [next(iter(chances_of(row))) for row in verdicts]
    flips = []
    for (row, place), name in zip(tried, names[1:], strict=True):
        if name != names[0]:
            finding, outcome = findings[row], findings[row].criterion.outcomes[place]
            asks, given = finding.criterion.asks, finding.given
            flips.append(
                SensitivityFlip(finding.id, asks, given, outcome.label, outcome.condition, name)
            )
    return tuple(flips)


def _neighbours(finding: Judgement) -> list[int]:
    """The outcomes next to a finding's, a class better and a class worse."""
    outcomes = finding.criterion.outcomes
    classes = sorted({o.condition for o in outcomes})
    own = classes.index(finding.outcome.condition)
    near = [classes[own - 1], *classes[own + 1 : own + 2]]  # a finding is never of the best class
    return [next(i for i, o in enumerate(outcomes) if o.condition == c) for c in near]


def _worth_saving(graded: Graded, titles: Mapping[str, str]) -> tuple[str, ...]:
    """Components that it has, of which most was seen, and nothing worse than minor."""
    return tuple(
        titles[component]
        for subsystem in graded.subsystems.values()
        for component, grade in subsystem.components.items()
        if component in titles
        and grade.weight > 0
        and grade.coverage >= MAJORITY
        and grade.best_class <= 1
    )
