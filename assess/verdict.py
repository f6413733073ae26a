"""Plans, costs and the owner's wish to a verdict, with its reasons and what would change it.

The scopes are tried from the fullest wish down. The first that is technically possible,
stays within the owner's ceiling with the asked-for probability, and fits the workshop's
hours, is the verdict. If none passes, an instrument that is significant or dear to its
owner, or against which only money or time stands, is conserved unplayed; any other is kept
for parts. If what is still unseen could turn
the verdict, and too little is seen, the verdict is to look further first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assess.costing import ceiling_for, probability_within
from assess.grading import Graded, Judgement
from assess.jobfile import Owner
from assess.knowledge import Scope
from assess.scopes import SCOPE_TITLES, Plan
from assess.workshop import Workshop

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


@dataclass(frozen=True)
class Option:
    """One scope weighed: whether it can be done, at what cost, and what stands against it.

    ``possible`` is whether nothing it needs is beyond repair; ``dissuaded`` whether findings
    or the stated worth advise against it, beyond money and time.
    """

    scope: Scope
    plan: Plan
    possible: bool
    within_ceiling: float | None
    against: tuple[str, ...]
    dissuaded: bool

    @property
    def passes(self) -> bool:
        """Whether nothing stands against it."""
        return not self.against


@dataclass(frozen=True)
class Decision:
    """The verdict before asking whether enough was seen: its name, scope and reasons."""

    name: VerdictName
    scope: Scope | None
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Verdict:
    """The verdict with everything that is always given with it.

    Attributes:
        reasons: the chain that led to it, in order.
        options: each scope weighed.
        grounds: findings that speak against restoration.
        turns: what would change it.
        look_at: criteria to look at next, heaviest first.
        as_seen, at_worst: the verdict on what is seen, and if all unseen were at its worst.
    """

    name: VerdictName
    scope: Scope | None
    reasons: tuple[str, ...]
    options: tuple[Option, ...]
    grounds: tuple[str, ...]
    turns: tuple[str, ...]
    look_at: tuple[str, ...]
    as_seen: VerdictName
    at_worst: VerdictName


def weigh(
    plans: Mapping[Scope, Plan], graded: Graded, owner: Owner, workshop: Workshop
) -> dict[Scope, Option]:
    """Each scope with what stands against it."""
    return {s: _option(s, plans[s], graded, owner, workshop) for s in FROM_FULLEST}


def _option(scope: Scope, plan: Plan, graded: Graded, owner: Owner, workshop: Workshop) -> Option:
    against = [
        f"{_said(f)}: {f.best.beyond_repair}"
        for f in graded.findings
        if f.best.beyond_repair and (f.best.calls(scope) or scope == "full")
    ]
    possible = not against
    within = None
    if owner.ceiling is not None:
        within = probability_within(plan.cost, owner.ceiling)
        if within < workshop.sure_enough:
            against.append(
                f"it stays within {_money(owner.ceiling, plan)} in {_percent(within)} of cases, "
                f"and {_percent(workshop.sure_enough)} is asked for"
            )
    if plan.hours.p50 > workshop.most_hours:
        against.append(
            f"about {plan.hours.p50:.0f} hours are more than the "
            f"{workshop.most_hours:.0f} that the workshop takes on"
        )
    dissuasions = [] if scope == "stabilise" else _dissuasions(plan, graded, owner)
    return Option(
        scope, plan, possible, within, (*against, *dissuasions), dissuaded=bool(dissuasions)
    )


def _dissuasions(plan: Plan, graded: Graded, owner: Owner) -> list[str]:
    """What speaks against work on an instrument to which the owner is not attached."""
    kept = _kept_as_it_is(owner)
    if (owner.attachment or 0) >= CONSERVE_FROM or kept:
        return [kept] if kept else []
    against = [f"{_said(f)}: {f.best.advise_against}" for f in _grounds(graded)]
    if owner.worth is not None and plan.cost.total.p50 > WORTH_TIMES * owner.worth:
        against.append(
            f"about {_money(plan.cost.total.p50, plan)} is more than {WORTH_TIMES:g} times the "
            f"stated worth of {_money(owner.worth, plan)}, and no strong attachment is stated"
        )
    return against


def _kept_as_it_is(owner: Owner) -> str:
    """Why a significant instrument is not made to play, or nothing."""
    if (owner.significance or 0) < CONSERVE_FROM or owner.reason_to_play:
        return ""
    return (
        "early, rare or unaltered, and no documented reason to make it play: "
        "what is there is evidence, and is kept"
    )


def _grounds(graded: Graded) -> list[Judgement]:
    return [f for f in graded.findings if f.best.advise_against]


def decide(options: Mapping[Scope, Option], owner: Owner) -> Decision:
    """The verdict on the options as they are weighed."""
    full, playing = options["full"], options["playing"]
    if not full.plan.steps and not full.against:
        return Decision("leave as it is", None, ("no finding calls for work",))
    wish = owner.wish or "full"
    reasons = [
        f"the owner wishes: {SCOPE_TITLES[wish]}"
        if owner.wish
        else "no wish is stated: the fullest scope is tried first"
    ]
    if _kept_as_it_is(owner):
        reasons.append(_kept_as_it_is(owner))
        return Decision("conserve unplayed", "stabilise", tuple(reasons))
    if wish == "stabilise":
        return Decision("conserve unplayed", "stabilise", tuple(reasons))
    for option in (full, playing)[0 if wish == "full" else 1 :]:
        title = SCOPE_TITLES[option.scope]
        if not option.passes:
            reasons += [f"{title}: {line}" for line in option.against]
            continue
        if not option.plan.steps:
            reasons.append("it plays as it is, and nothing in it is decaying")
            return Decision("leave as it is", None, tuple(reasons))
        reasons.append(f"{title}: {_in_favour(option)}")
        whole = option.scope == "full" and set(full.plan.called) != set(playing.plan.called)
        name: VerdictName = "restore in full" if whole else "repair to playing order"
        return Decision(name, option.scope, tuple(reasons))
    if max(owner.significance or 0, owner.attachment or 0) >= CONSERVE_FROM:
        reasons.append("it is significant or dear to its owner, so it is kept as it is")
        return Decision("conserve unplayed", "stabilise", tuple(reasons))
    if playing.possible and not playing.dissuaded:
        reasons.append(
            "only money or time stands against it: nothing is lost by keeping it dry and whole "
            "until they are found"
        )
        return Decision("conserve unplayed", "stabilise", tuple(reasons))
    reasons.append("nothing is stated that would make it worth conserving")
    return Decision("keep for parts", None, tuple(reasons))


def _in_favour(option: Option) -> str:
    within = option.within_ceiling
    money = (
        "no ceiling is stated"
        if within is None
        else f"it stays within the ceiling in {_percent(within)} of cases"
    )
    return f"it can be done; {money}; the hours fit the workshop"


def conclude(
    decision: Decision,
    at_worst: Decision,
    options: Mapping[Scope, Option],
    graded: Graded,
    owner: Owner,
    workshop: Workshop,
) -> Verdict:
    """The verdict with its bounds: the decision on what is seen, and at the worst unseen."""
    coverage = graded.instrument.coverage
    name, scope, reasons = decision.name, decision.scope, list(decision.reasons)
    if decision.name != at_worst.name and coverage < workshop.settled_enough:
        name, scope = "look further first", None
        reasons.append(
            f"on what is seen it would be: {decision.name}; but only {_percent(coverage)} is seen, "
            f"and with the unseen at its worst it would be: {at_worst.name}"
        )
    return Verdict(
        name=name,
        scope=scope,
        reasons=tuple(reasons),
        options=tuple(options[s] for s in FROM_FULLEST),
        grounds=tuple(f"{_said(f)}: {f.best.advise_against}" for f in _grounds(graded)),
        turns=tuple(_turns(decision, at_worst, options, owner, workshop)),
        look_at=tuple(j.id for j in graded.unseen[:8]),
        as_seen=decision.name,
        at_worst=at_worst.name,
    )


def _turns(
    decision: Decision,
    at_worst: Decision,
    options: Mapping[Scope, Option],
    owner: Owner,
    workshop: Workshop,
) -> list[str]:
    lines = []
    for scope in FROM_FULLEST[:2]:
        option = options[scope]
        if not option.plan.steps or not option.possible or option.dissuaded:
            continue
        needed = _money(ceiling_for(option.plan.cost, workshop.sure_enough), option.plan)
        title = SCOPE_TITLES[option.scope]
        if owner.ceiling is None:
            lines.append(f"a ceiling under {needed} rules out: {title}")
        elif (option.within_ceiling or 0) >= workshop.sure_enough:
            stated = _money(owner.ceiling, option.plan)
            lines.append(f"a ceiling under {needed}, instead of {stated}, rules out: {title}")
        else:
            lines.append(f"a ceiling of {needed} or more lets in: {title}")
    if decision.name == "conserve unplayed" and not owner.reason_to_play:
        lines.append("a documented reason to make it play (owner.reason_to_play)")
    if at_worst.name != decision.name:
        lines.append(f"what is still unseen: at its worst the verdict is: {at_worst.name}")
    return lines


def _said(finding: Judgement) -> str:
    return f"{finding.criterion.asks} ({finding.given})"


def _money(amount: float, plan: Plan) -> str:
    return f"{plan.cost.currency} {amount:,.0f}"


def _percent(share: float) -> str:
    if 0.995 < share < 1:
        return "over 99 %"
    if 0 < share < 0.005:
        return "under 1 %"
    return f"{100 * share:.0f} %"
