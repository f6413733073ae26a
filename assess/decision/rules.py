"""Plans, costs and the owner's wish to a recommendation, with its reasons.

Something significant, for whose use no reason is documented, is kept as evidence. Otherwise the
scopes are tried from the owner's wish down; without a wish the least that answers the complaint is
tried. The first that is possible, not advised against, within the owner's limit with the
probability asked for, and not too long for the workshop, is taken. Where only money or time stands
against it, what works goes on being used, and anything else waits. Only what cannot be made good
at any sensible effort, is not significant, and is not kept by an attached owner, is kept for parts:
no wish, no room and no price ever leads there.

What is decided turns on a few yes-or-no facts, a :class:`Feasibility` of each scope, so that it
is decided in the same way for the object as seen and for thousands of possible ones.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Literal

from assess.base.wording import money, percent
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.job.history import NOTHING_TOLD, Told
from assess.job.job_file import Owner
from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import NEUTRAL, Trade, VerdictName
from assess.planning.cost_estimate import probability_within
from assess.planning.plan import Plan

FROM_FULLEST: tuple[Scope, ...] = ("full", "working", "stabilise")
UNIQUE = 3
"""Significance, of 0..3, found in something that belongs to a conservator or a museum."""

DecisionReason = Literal[
    "nothing to do",
    "unique evidence",
    "kept as evidence",
    "owner's wish",
    "owner lets it go",
    "in order as it is",
    "passes",
    "used as it is",
    "only money or time",
    "advised against",
    "worth conserving",
    "cannot be made good",
]


class Rarity(IntEnum):
    """How significant an object is for the decision."""

    COMMON = 0
    SIGNIFICANT = 1
    """Significant, with a documented reason to use it again."""
    EVIDENCE = 2
    UNIQUE = 3


@dataclass(frozen=True)
class Stance:
    """What a decision turns on besides the object itself.

    Attributes:
        wish: how far the owner wants to go; the least that answers the complaint when None.
        attached: the owner is attached to it.
        lets_go: the owner does not want to keep it.
        usable: it is told to be usable as it is.
    """

    wish: Scope | None
    attached: bool
    lets_go: bool = False
    usable: bool = False


@dataclass(frozen=True)
class Setting:
    """What a decision depends on besides the object: owner, workshop, words, what is told."""

    owner: Owner
    workshop: Workshop
    trade: Trade = NEUTRAL
    told: Told = NOTHING_TOLD

    def rarity(self, found: int) -> Rarity:
        """How significant it is: as the owner says, and no less than what was found."""
        significance = max(self.owner.significance or 0, found)
        if significance < self.workshop.conserve_from:
            return Rarity.COMMON
        if self.owner.reason_to_use:
            return Rarity.SIGNIFICANT
        return Rarity.UNIQUE if found >= UNIQUE else Rarity.EVIDENCE

    @property
    def heeds_advice(self) -> bool:
        """Whether reasons against the work count: not where the owner is attached to it."""
        return not self.stance.attached

    @property
    def stance(self) -> Stance:
        """What of this a decision turns on."""
        attached = (self.owner.attachment or 0) >= self.workshop.conserve_from
        lets_go = self.owner.keeps is False
        return Stance(self.owner.wish, attached, lets_go, self.told.usable)

    def money(self, amount: float) -> str:
        """An amount in the workshop's currency."""
        return money(amount, self.workshop.currency)


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
    """What is decided, why, and the scopes that were tried before and failed."""

    name: VerdictName
    scope: Scope | None
    reason: DecisionReason
    failed: tuple[Scope, ...] = ()


@dataclass(frozen=True)
class Option:
    """One scope weighed: whether it can be done, at what cost, and what stands against it.

    Attributes:
        scope, plan: how far it goes, and its plan.
        feasibility: what the decision turns on.
        within_limit: probability of staying under the owner's limit, where there is one.
        fits: the hours fit the workshop.
        against: everything that stands against it, in words.
    """

    scope: Scope
    plan: Plan
    feasibility: Feasibility
    within_limit: float | None
    fits: bool
    against: tuple[str, ...]


def decide(
    full: Feasibility, working: Feasibility, differs: bool, rarity: Rarity, stance: Stance
) -> Decision:
    """The decision on an object of which everything counted is known.

    Args:
        full: what is known of a full repair.
        working: what is known of working order.
        differs: whether a full repair calls for more than working order does.
        rarity: how significant it is.
        stance: what the owner wants, and what it means.
    """
    if full.needless and full.passes:
        return Decision("leave", None, "nothing to do")
    if rarity is Rarity.UNIQUE:
        return Decision("hand_over", "stabilise", "unique evidence")
    if rarity is Rarity.EVIDENCE:
        return Decision("conserve", "stabilise", "kept as evidence")
    if stance.wish == "stabilise":
        return Decision("conserve", "stabilise", "owner's wish")
    if stance.lets_go and working.possible:
        return Decision("pass_on", "stabilise", "owner lets it go")
    failed: list[Scope] = []
    tried: tuple[tuple[Scope, Feasibility], ...] = (("full", full), ("working", working))
    for scope, feasibility in tried[0 if stance.wish == "full" else 1 :]:
        if not feasibility.passes:
            failed.append(scope)
            continue
        if feasibility.needless:
            return Decision("leave", None, "in order as it is", tuple(failed))
        whole = scope == "full" and differs
        return Decision("full" if whole else "working", scope, "passes", tuple(failed))
    return replace(_what_is_left(working, rarity, stance), failed=tuple(failed))


def _what_is_left(working: Feasibility, rarity: Rarity, stance: Stance) -> Decision:
    """The decision where every scope that is wanted has something against it."""
    if not working.possible:
        if rarity is Rarity.SIGNIFICANT or stance.attached:
            return Decision("conserve", "stabilise", "worth conserving")
        return Decision("salvage", None, "cannot be made good")
    if stance.usable:
        return Decision("leave", None, "used as it is")
    if working.dissuaded:
        return Decision("conserve", "stabilise", "advised against")
    return Decision("wait", "stabilise", "only money or time")


def weigh(plans: Mapping[Scope, Plan], graded: Graded, setting: Setting) -> dict[Scope, Option]:
    """Each scope with what stands against it, from what was seen."""
    return {s: _option(s, plans[s], graded, setting) for s in FROM_FULLEST}


def found_significance(graded: Graded) -> int:
    """How significant it is, 0..3, by what was found."""
    return max((f.outcome.significance for f in graded.findings), default=0)


def is_evidence(graded: Graded, setting: Setting) -> bool:
    """Whether it is kept as evidence, so that it is only made safe and conserved."""
    return setting.rarity(found_significance(graded)) >= Rarity.EVIDENCE


def _option(scope: Scope, plan: Plan, graded: Graded, setting: Setting) -> Option:
    workshop, limit = setting.workshop, setting.owner.ceiling
    against = [
        f"{said(f)}: {f.outcome.beyond_repair}"
        for f in graded.findings
        if f.outcome.beyond_repair and (f.calls(scope) or scope == "full")
    ]
    if scope != "stabilise" and setting.heeds_advice:
        against += [f"{said(f)}: {f.outcome.advise_against}" for f in ruined(graded)]
    possible = not against
    within = None
    if limit is not None:
        within = probability_within(plan.cost, limit)
        if within < workshop.sure_enough:
            against.append(
                f"only a {percent(within)} chance of staying under {setting.money(limit)}, on "
                f"what was seen; you ask for {percent(workshop.sure_enough)}"
            )
    fits = plan.cost.hours.p50 <= workshop.most_hours
    if not fits:
        hours, most = plan.cost.hours.p50, workshop.most_hours
        shown = round(hours) if round(hours) > most else math.ceil(hours)
        against.append(f"about {shown} hours; the workshop takes on {most:g} at most")
    dissuasions = [] if scope == "stabilise" else _dissuasions(scope, plan, graded, setting)
    against += dissuasions
    feasibility = Feasibility(not plan.steps, not against, possible, bool(dissuasions))
    return Option(scope, plan, feasibility, within, fits, tuple(against))


def _dissuasions(scope: Scope, plan: Plan, graded: Graded, setting: Setting) -> list[str]:
    """What speaks against a scope, where the owner is not attached to the object."""
    if is_evidence(graded, setting):
        return [kept_as_evidence_said(setting)]
    if not setting.heeds_advice:
        return []
    against = [
        f"{said(f)}: {f.outcome.advise_against}"
        for f in advising_against(graded)
        if scope in f.outcome.against and not f.outcome.ruins
    ]
    likely, worth = plan.cost.total.p50, setting.owner.worth
    if worth is not None and likely > setting.workshop.worth_times * worth:
        against.append(
            f"about {setting.money(likely)} is more than {setting.workshop.worth_times:g} times "
            f"the stated value of {setting.money(worth)}, and the owner is not strongly attached "
            "to it"
        )
    return against


def kept_as_evidence_said(setting: Setting) -> str:
    """Why something significant is not brought back into use."""
    return (
        f"early, rare or unaltered, and no documented reason to make it {setting.trade.use}: "
        "what is there is evidence and is kept"
    )


def advising_against(graded: Graded) -> list[Judgement]:
    """Findings that advise against work, as far as they say."""
    return [f for f in graded.findings if f.outcome.advise_against]


def ruined(graded: Graded) -> list[Judgement]:
    """Findings after which little of the whole can be saved."""
    return [f for f in graded.findings if f.outcome.ruins]


def decide_on(options: Mapping[Scope, Option], graded: Graded, setting: Setting) -> Decision:
    """The decision on options as they are weighed."""
    full, working = options["full"], options["working"]
    differs = set(full.plan.called) != set(working.plan.called)
    rarity = setting.rarity(found_significance(graded))
    return decide(full.feasibility, working.feasibility, differs, rarity, setting.stance)


def reasons_of(
    decision: Decision, options: Mapping[Scope, Option], graded: Graded, setting: Setting
) -> tuple[str, ...]:
    """The chain of reasons that led to a decision on what was seen, in order."""
    seen = graded.instrument.coverage
    if decision.reason == "nothing to do":
        if seen == 0:
            return ("nothing has been looked at yet",)
        return (f"no fault that calls for work in what was seen ({percent(seen)})",)
    reasons = [wish_said(setting)]
    for scope in decision.failed:
        title = setting.trade.scope_title(scope)
        reasons += [f"{title}: {line}" for line in options[scope].against]
    if decision.reason == "passes" and decision.scope:
        title = setting.trade.scope_title(decision.scope)
        reasons.append(f"{title}: {_in_favour(options[decision.scope])}")
    else:
        reasons += _last_reason(decision.reason, setting)
    return tuple(dict.fromkeys(reasons))


def _last_reason(reason: DecisionReason, setting: Setting) -> list[str]:
    trade = setting.trade
    sentences: dict[DecisionReason, str] = {
        "unique evidence": (
            "only one is known, and no documented reason to use it is given: a conservator or a "
            "museum decides what is done to it"
        ),
        "kept as evidence": kept_as_evidence_said(setting),
        "owner lets it go": (
            "the owner does not want to keep it: find it a home, as it is or after the least that "
            "is needed"
        ),
        "in order as it is": f"it {trade.uses} as it is, and nothing seen in it is decaying",
        "used as it is": (
            f"it {trade.uses}, so it can be used until there is money or time for more"
        ),
        "worth conserving": "it is significant, or the owner is attached to it, so it is kept",
        "only money or time": (
            "only money or time stands against it: keep it dry and complete until there is money "
            "or time"
        ),
        "advised against": "it can be made good, but work on it is advised against: keep it safe",
        "cannot be made good": (
            "what it cannot do without is beyond repair, nothing is known that makes it rare, and "
            "the owner is not attached to it"
        ),
    }
    return [sentences[reason]] if reason in sentences else []


def wish_said(setting: Setting) -> str:
    """What the owner wants, or what is tried without a wish."""
    trade, wish = setting.trade, setting.owner.wish
    if wish:
        return f"the owner wants: {trade.scope_title(wish)}"
    return f"owner's wish not given: the least that makes it {trade.use} is tried"


def _in_favour(option: Option) -> str:
    if option.within_limit is None:
        return "it can be done, and the hours fit the workshop; no limit on the cost is given"
    return "it can be done, the hours fit the workshop, and the cost fits the owner's limit"


def said(finding: Judgement) -> str:
    """A finding in words, with its answer."""
    return f"{finding.criterion.asks} ({finding.given})"
