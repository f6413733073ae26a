"""Plans, costs and the owner's wish to a decision, with its reasons.

The scopes are tried from the fullest wish down. The first that is technically possible,
stays within the owner's ceiling with the asked-for probability, and fits the workshop's
hours, is taken. If none passes, an instrument that is significant or dear to its owner, or
against which only money or time stands, is conserved unplayed; any other is kept for parts.

What is decided turns on a few yes-or-no facts, a :class:`Feasibility` of each scope, so that it
can be decided alike for one instrument as it is seen and for thousands as they may be.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.job.job_file import Owner
from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import Scope
from assess.planning.cost_estimate import probability_within
from assess.planning.planner import SCOPE_TITLES, Plan

VerdictName = Literal[
    "restore in full",
    "repair to playing order",
    "conserve unplayed",
    "keep for parts",
    "look further first",
    "leave as it is",
]
FROM_FULLEST: tuple[Scope, ...] = ("full", "playing", "stabilise")
CONSERVE_FROM = 2
"""Significance or attachment from which an instrument is conserved, of 0..3."""
WORTH_TIMES = 3.0
"""Cost beyond this many times the stated worth is advised against (estimate from memory)."""

Ground = Literal[
    "nothing called for",
    "kept as evidence",
    "wished",
    "plays as it is",
    "passes",
    "dear",
    "only money or time",
    "nothing speaks for it",
]


@dataclass(frozen=True)
class Feasibility:
    """What the decision turns on for one scope.

    Attributes:
        needless: nothing within the scope calls for work.
        passes: nothing stands against it.
        possible: nothing it needs is beyond repair.
        dissuaded: findings or the stated worth advise against it, beyond money and time.
    """

    needless: bool
    passes: bool
    possible: bool
    dissuaded: bool


@dataclass(frozen=True)
class Decision:
    """What is decided, on which ground, and the scopes tried and found wanting before."""

    name: VerdictName
    scope: Scope | None
    ground: Ground
    failed: tuple[Scope, ...] = ()


@dataclass(frozen=True)
class Option:
    """One scope weighed: whether it can be done, at what cost, and what stands against it."""

    scope: Scope
    plan: Plan
    feasibility: Feasibility
    within_ceiling: float | None
    against: tuple[str, ...]


def decide(full: Feasibility, playing: Feasibility, differs: bool, owner: Owner) -> Decision:
    """The decision on an instrument of which everything counted is known.

    Args:
        full: what is known of a full restoration.
        playing: what is known of playing order.
        differs: whether a full restoration calls for more than playing order does.
        owner: the wish, and what the instrument means to the owner.
    """
    if full.needless and full.passes:
        return Decision("leave as it is", None, "nothing called for")
    if kept_as_evidence(owner):
        return Decision("conserve unplayed", "stabilise", "kept as evidence")
    wish = owner.wish or "full"
    if wish == "stabilise":
        return Decision("conserve unplayed", "stabilise", "wished")
    failed: list[Scope] = []
    tried: tuple[tuple[Scope, Feasibility], ...] = (("full", full), ("playing", playing))
    for scope, feasibility in tried[0 if wish == "full" else 1 :]:
        if not feasibility.passes:
            failed.append(scope)
            continue
        if feasibility.needless:
            return Decision("leave as it is", None, "plays as it is", tuple(failed))
        whole = scope == "full" and differs
        name: VerdictName = "restore in full" if whole else "repair to playing order"
        return Decision(name, scope, "passes", tuple(failed))
    if max(owner.significance or 0, owner.attachment or 0) >= CONSERVE_FROM:
        return Decision("conserve unplayed", "stabilise", "dear", tuple(failed))
    if playing.possible and not playing.dissuaded:
        return Decision("conserve unplayed", "stabilise", "only money or time", tuple(failed))
    return Decision("keep for parts", None, "nothing speaks for it", tuple(failed))


def kept_as_evidence(owner: Owner) -> bool:
    """Whether the instrument is significant, and no documented reason is to make it play."""
    return (owner.significance or 0) >= CONSERVE_FROM and not owner.reason_to_use


def heeds_advice(owner: Owner) -> bool:
    """Whether grounds to advise against work weigh: not where the owner is attached to it."""
    return (owner.attachment or 0) < CONSERVE_FROM


def weigh(
    plans: Mapping[Scope, Plan], graded: Graded, owner: Owner, workshop: Workshop
) -> dict[Scope, Option]:
    """Each scope with what stands against it, on what is seen."""
    return {s: _option(s, plans[s], graded, owner, workshop) for s in FROM_FULLEST}


def _option(scope: Scope, plan: Plan, graded: Graded, owner: Owner, workshop: Workshop) -> Option:
    against = [
        f"{said(f)}: {f.outcome.beyond_repair}"
        for f in graded.findings
        if f.outcome.beyond_repair and (f.outcome.calls(scope) or scope == "full")
    ]
    possible = not against
    within = None
    if owner.ceiling is not None:
        within = probability_within(plan.cost, owner.ceiling)
        if within < workshop.sure_enough:
            against.append(
                f"it stays within {money(owner.ceiling, workshop)} in {percent(within)} of cases, "
                f"and {percent(workshop.sure_enough)} is asked for"
            )
    if plan.cost.hours.p50 > workshop.most_hours:
        against.append(
            f"about {plan.cost.hours.p50:.0f} hours are more than the "
            f"{workshop.most_hours:.0f} that the workshop takes on"
        )
    dissuasions = [] if scope == "stabilise" else _dissuasions(plan, graded, owner, workshop)
    against += dissuasions
    feasibility = Feasibility(not plan.steps, not against, possible, bool(dissuasions))
    return Option(scope, plan, feasibility, within, tuple(against))


def _dissuasions(plan: Plan, graded: Graded, owner: Owner, workshop: Workshop) -> list[str]:
    """What speaks against work on an instrument to which the owner is not attached."""
    if kept_as_evidence(owner):
        return [KEPT]
    if not heeds_advice(owner):
        return []
    against = [f"{said(f)}: {f.outcome.advise_against}" for f in grounds(graded)]
    likely = plan.cost.total.p50
    if owner.worth is not None and likely > WORTH_TIMES * owner.worth:
        against.append(
            f"about {money(likely, workshop)} is more than {WORTH_TIMES:g} times the stated "
            f"worth of {money(owner.worth, workshop)}, and no strong attachment is stated"
        )
    return against


KEPT = (
    "early, rare or unaltered, and no documented reason to make it play: "
    "what is there is evidence, and is kept"
)


def grounds(graded: Graded) -> list[Judgement]:
    """Findings that advise against restoration."""
    return [f for f in graded.findings if f.outcome.advise_against]


def decide_on(options: Mapping[Scope, Option], owner: Owner) -> Decision:
    """The decision on options as they are weighed."""
    full, playing = options["full"], options["playing"]
    differs = set(full.plan.called) != set(playing.plan.called)
    return decide(full.feasibility, playing.feasibility, differs, owner)


def reasons_of(
    decision: Decision, options: Mapping[Scope, Option], owner: Owner
) -> tuple[str, ...]:
    """The chain of reasons that led to a decision on what is seen, in order."""
    if decision.ground == "nothing called for":
        return ("no finding calls for work",)
    reasons = [wished(owner)]
    for scope in decision.failed:
        reasons += [f"{SCOPE_TITLES[scope]}: {line}" for line in options[scope].against]
    if decision.ground == "passes" and decision.scope:
        option = options[decision.scope]
        reasons.append(f"{SCOPE_TITLES[decision.scope]}: {_in_favour(option)}")
    else:
        reasons += _LAST[decision.ground]
    return tuple(reasons)


_LAST: dict[Ground, list[str]] = {
    "kept as evidence": [KEPT],
    "wished": [],
    "plays as it is": ["it plays as it is, and nothing in it is decaying"],
    "dear": ["it is significant or dear to its owner, so it is kept as it is"],
    "only money or time": [
        "only money or time stands against it: nothing is lost by keeping it dry and whole "
        "until they are found"
    ],
    "nothing speaks for it": ["nothing is stated that would make it worth conserving"],
}


def wished(owner: Owner) -> str:
    """What the owner wishes, or what is tried for want of a wish."""
    if owner.wish:
        return f"the owner wishes: {SCOPE_TITLES[owner.wish]}"
    return "no wish is stated: the fullest scope is tried first"


def _in_favour(option: Option) -> str:
    within = option.within_ceiling
    ceiling = (
        "no ceiling is stated"
        if within is None
        else f"it stays within the ceiling in {percent(within)} of cases"
    )
    return f"it can be done; {ceiling}; the hours fit the workshop"


def said(finding: Judgement) -> str:
    """A finding in words, with its answer."""
    return f"{finding.criterion.asks} ({finding.given})"


def money(amount: float, workshop: Workshop) -> str:
    """An amount with its currency."""
    return f"{workshop.currency} {amount:,.0f}"


def percent(share: float) -> str:
    """A share as a person says it; never quite none or all unless it is.

    >>> [percent(s) for s in (0.0, 0.001, 0.42, 0.999, 1.0)]
    ['0 %', 'under 1 %', '42 %', 'over 99 %', '100 %']
    """
    if 0.995 <= share < 1:
        return "over 99 %"
    if 0 < share < 0.01:
        return "under 1 %"
    return f"{100 * share:.0f} %"
