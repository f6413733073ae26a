"""Plans, costs and the owner's wish to a decision, with its reasons.

The scopes are tried from the fullest wish down. The first that is technically possible,
stays within the owner's limit with the probability asked for, and fits the workshop's
hours, is taken. If none passes, an object that is significant, or to which the owner is
attached, or against which only money or time stands, is conserved; any other is kept for parts.

What is decided turns on a few yes-or-no facts, a :class:`Feasibility` of each scope, so that it
can be decided alike for one object as it is seen and for thousands as they may be.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assess.base.wording import money, percent
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.job.job_file import Owner
from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import NEUTRAL, Trade, VerdictName
from assess.planning.cost_estimate import probability_within
from assess.planning.planner import Plan

FROM_FULLEST: tuple[Scope, ...] = ("full", "working", "stabilise")

DecisionReason = Literal[
    "nothing to do",
    "kept as evidence",
    "owner's wish",
    "in order as it is",
    "passes",
    "worth conserving",
    "only money or time",
    "nothing in its favour",
]


@dataclass(frozen=True)
class Stance:
    """What a decision turns on besides the object itself.

    Attributes:
        wish: how far the owner wants to go.
        kept_as_evidence: it is significant, and no documented reason is to use it again.
        worth_conserving: it is significant, or the owner is attached to it.
    """

    wish: Scope
    kept_as_evidence: bool
    worth_conserving: bool


@dataclass(frozen=True)
class Setting:
    """What a decision depends on besides the object: owner, workshop, and the trade's words."""

    owner: Owner
    workshop: Workshop
    trade: Trade = NEUTRAL

    @property
    def kept_as_evidence(self) -> bool:
        """Whether it is significant, and no documented reason is to bring it back into use."""
        significance = self.owner.significance or 0
        return significance >= self.workshop.conserve_from and not self.owner.reason_to_use

    @property
    def heeds_advice(self) -> bool:
        """Whether reasons against the work count: not where the owner is attached to it."""
        return (self.owner.attachment or 0) < self.workshop.conserve_from

    @property
    def stance(self) -> Stance:
        """What of this a decision turns on."""
        most = max(self.owner.significance or 0, self.owner.attachment or 0)
        return Stance(
            self.owner.wish or "full", self.kept_as_evidence, most >= self.workshop.conserve_from
        )

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
    """One scope weighed: whether it can be done, at what cost, and what stands against it."""

    scope: Scope
    plan: Plan
    feasibility: Feasibility
    within_limit: float | None
    against: tuple[str, ...]


def decide(full: Feasibility, working: Feasibility, differs: bool, stance: Stance) -> Decision:
    """The decision on an object of which everything counted is known.

    Args:
        full: what is known of a full repair.
        working: what is known of working order.
        differs: whether a full repair calls for more than working order does.
        stance: what the owner wants, and what it means.
    """
    if full.needless and full.passes:
        return Decision("leave", None, "nothing to do")
    if stance.kept_as_evidence:
        return Decision("conserve", "stabilise", "kept as evidence")
    if stance.wish == "stabilise":
        return Decision("conserve", "stabilise", "owner's wish")
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
    if stance.worth_conserving:
        return Decision("conserve", "stabilise", "worth conserving", tuple(failed))
    if working.possible and not working.dissuaded:
        return Decision("conserve", "stabilise", "only money or time", tuple(failed))
    return Decision("salvage", None, "nothing in its favour", tuple(failed))


def weigh(plans: Mapping[Scope, Plan], graded: Graded, setting: Setting) -> dict[Scope, Option]:
    """Each scope with what stands against it, from what was seen."""
    return {s: _option(s, plans[s], graded, setting) for s in FROM_FULLEST}


def _option(scope: Scope, plan: Plan, graded: Graded, setting: Setting) -> Option:
    workshop, limit = setting.workshop, setting.owner.ceiling
    against = [
        f"{said(f)}: {f.outcome.beyond_repair}"
        for f in graded.findings
        if f.outcome.beyond_repair and (f.calls(scope) or scope == "full")
    ]
    possible = not against
    within = None
    if limit is not None:
        within = probability_within(plan.cost, limit)
        if within < workshop.sure_enough:
            against.append(
                f"only a {percent(within)} chance of staying under {setting.money(limit)}; "
                f"you ask for {percent(workshop.sure_enough)}"
            )
    if plan.cost.hours.p50 > workshop.most_hours:
        against.append(
            f"about {plan.cost.hours.p50:.0f} hours; the workshop takes on "
            f"{workshop.most_hours:.0f} at most"
        )
    dissuasions = [] if scope == "stabilise" else _dissuasions(plan, graded, setting)
    against += dissuasions
    feasibility = Feasibility(not plan.steps, not against, possible, bool(dissuasions))
    return Option(scope, plan, feasibility, within, tuple(against))


def _dissuasions(plan: Plan, graded: Graded, setting: Setting) -> list[str]:
    """What speaks against work on an object to which the owner is not attached."""
    if setting.kept_as_evidence:
        return [kept_as_evidence_said(setting)]
    if not setting.heeds_advice:
        return []
    against = [f"{said(f)}: {f.outcome.advise_against}" for f in advising_against(graded)]
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
    """Findings that advise against the work."""
    return [f for f in graded.findings if f.outcome.advise_against]


def decide_on(options: Mapping[Scope, Option], setting: Setting) -> Decision:
    """The decision on options as they are weighed."""
    full, working = options["full"], options["working"]
    differs = set(full.plan.called) != set(working.plan.called)
    return decide(full.feasibility, working.feasibility, differs, setting.stance)


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
    return tuple(reasons)


def _last_reason(reason: DecisionReason, setting: Setting) -> list[str]:
    trade = setting.trade
    sentences: dict[DecisionReason, str] = {
        "kept as evidence": kept_as_evidence_said(setting),
        "in order as it is": f"it {trade.uses} as it is, and nothing seen in it is decaying",
        "worth conserving": "it is significant, or the owner is attached to it, so it is kept",
        "only money or time": (
            "only money or time stands against it: keep it dry and complete until there is money "
            "or time"
        ),
        "nothing in its favour": "nothing in the job file makes it worth keeping",
    }
    return [sentences[reason]] if reason in sentences else []


def wish_said(setting: Setting) -> str:
    """What the owner wants, or what is tried without a wish."""
    trade, wish = setting.trade, setting.owner.wish
    if wish:
        return f"the owner wants: {trade.scope_title(wish)}"
    return f"owner's wish not given: {trade.scope_title('full')} is tried first"


def _in_favour(option: Option) -> str:
    if option.within_limit is None:
        return "it can be done, and the hours fit the workshop; no limit on the cost is given"
    return "it can be done, the hours fit the workshop, and the cost fits the owner's limit"


def said(finding: Judgement) -> str:
    """A finding in words, with its answer."""
    return f"{finding.criterion.asks} ({finding.given})"
