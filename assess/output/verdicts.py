"""The verdict as text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import islice, pairwise

from assess.assessment import Assessment
from assess.decision.rules import CONSERVE_FROM, Option, kept_as_evidence, money, percent
from assess.decision.verdict import Breakpoint, Likely
from assess.output.cautions import caution_list
from assess.output.grades import title
from assess.output.layout import bullets, heading, numbered, paragraph, sections, span, table
from assess.output.looks import hidden_text, what_may_come, worth_while
from assess.planning.cost_estimate import estimate_class
from assess.planning.planner import SCOPE_TITLES, Plan

MOST_HIDDEN = 6
MOST_DRIVERS = 10
MOST_TOLD = 3
NOT_SETTLED = "Not settled: more looking may change it (assess look)."
MOST_TURNS = 8


def verdict_text(result: Assessment) -> str:
    """The verdict, how sure it is, its reasons, costs, what would change it, and the cautions."""
    verdict = result.verdict
    raised = [c for f in result.graded.findings for c in f.outcome.cautions]
    if verdict.scope:
        raised += result.plans[verdict.scope].cautions
    return sections(
        [
            title(result),
            f"Verdict: {verdict.name.upper()}\n{paragraph(how_sure(result))}",
            f"{heading('Why', '-')}\n{numbered(verdict.reasons)}",
            _list("Grounds to advise against", verdict.grounds),
            f"{heading('What each scope would be', '-')}\n{_options(result)}",
            _against(result),
            paragraph(estimate_said(result)),
            _cost_drivers(result),
            hidden_text(result, MOST_HIDDEN),
            _list("What would change it", _turns(result)),
            _list("Worth saving from it", verdict.worth_saving),
            _worth(result),
            caution_list(raised, result.knowledge),
        ]
    )


def how_sure(result: Assessment) -> str:
    """How likely the verdict is, what else may come out, and whether it is settled."""
    verdict = result.verdict
    likely = list(verdict.chances.items())
    if len(likely) == 1 and verdict.settled:
        return f"Settled: nothing that is unseen would make it anything but: {likely[0][0]}."
    told = f"{verdict.likeliest[:1].upper()}{verdict.likeliest[1:]} in {percent(likely[0][1])}"
    told += " of the ways in which what is unseen may turn out; else "
    told += ", ".join(f"{name} {percent(chance)}" for name, chance in likely[1:]) + ". "
    if verdict.settled:
        return told + "Settled: what is unseen is unlikely to change it."
    worth = worth_while(result)
    return told + (f"Not settled. {worth}" if worth else NOT_SETTLED)


def _list(title: str, lines: Sequence[str]) -> str:
    return f"{heading(title, '-')}\n{bullets(lines)}" if lines else ""


def _against(result: Assessment) -> str:
    """What stands against scopes, where the chain of reasons has not said it already."""
    said = " ".join(result.verdict.reasons)
    lines = [
        f"{SCOPE_TITLES[option.scope]}: {line}"
        for option in result.verdict.options
        for line in option.against
        if line not in said
    ]
    return _list("What stands against it, on what is seen", lines)


def estimate_said(result: Assessment) -> str:
    """What kind of estimate it is, and how wide comparable early ones are."""
    seen = result.graded.instrument.coverage
    kind = estimate_class(seen)
    low, high = kind.low, kind.high
    return (
        "This is an estimate, not a quotation: hours are low, likely and high figures of one "
        f"experienced worker. With {percent(seen)} seen it is {kind.said}; in other trades the "
        f"actual cost of work estimated at such a stage comes out as far as {low[0]} to {low[1]} % "
        f"under and {high[0]} to {high[1]} % over the figure ({kind.source}; the comparison is "
        "ours). Quote a fixed price only for what has been opened."
    )


def _options(result: Assessment) -> str:
    verdict = result.verdict
    rows = [_option_row(o, k) for o, k in zip(verdict.options, verdict.likely, strict=True)]
    currency = result.workshop.currency
    note = (
        "Hours and the second cost hold what is unseen as it may turn out. Costs are the middle "
        "and, in brackets, the range of four cases in five; under the ceiling stands how likely "
        f"the work stays within it. The workshop takes on up to {result.workshop.most_hours:.0f} "
        "hours."
    )
    shown = table(
        rows,
        [
            "Scope",
            "Hours",
            f"As seen, {currency}",
            f"With unseen, {currency}",
            "Ceiling",
        ],
        [16, 10, 18, 18, 8],
        right=(4,),
    )
    return f"{shown}\n{paragraph(note)}"


def _option_row(option: Option, likely: Likely) -> list[object]:
    within = "-" if likely.within_ceiling is None else percent(likely.within_ceiling)
    hours = span(likely.hours.p10, likely.hours.p90)
    return [SCOPE_TITLES[option.scope], hours, _seen_cost(option.plan), _range(likely), within]


def _seen_cost(plan: Plan) -> str:
    if not plan.steps:
        return "no need"
    total = plan.estimate.total
    return f"{total.p50:,.0f}\n({total.p10:,.0f} to {total.p90:,.0f})"


def _range(likely: Likely) -> str:
    cost = likely.cost
    if cost.p90 <= 0:
        return "no need"
    return f"{cost.p50:,.0f}\n({cost.p10:,.0f} to {cost.p90:,.0f})"


def _cost_drivers(result: Assessment) -> str:
    """The steps that make most of the spread of the work as it is planned."""
    plan = result.plans[result.verdict.scope or "full"]
    variance_shares = islice(plan.estimate.variance_shares.items(), MOST_DRIVERS)
    lines = [
        f"{percent(share)}: {result.knowledge.title(step)}"
        for step, share in variance_shares
        if share
    ]
    name = SCOPE_TITLES[plan.scope]
    return _list(f"The {len(lines)} steps that make most of the spread ({name})", lines)


def _turns(result: Assessment) -> list[str]:
    verdict, owner = result.verdict, result.job.owner
    lines = [ceilings_said(result, wish, rungs) for wish, rungs in verdict.ceilings.items()]
    lines += [
        f"were this otherwise: {turn.said}; if it were: {turn.instead}, the verdict would be: "
        f"{turn.name}"
        for turn in result.pivotal_findings[:MOST_TURNS]
    ]
    if verdict.likeliest == "conserve unplayed" and kept_as_evidence(owner):
        lines.append("a documented reason to make it play (owner.reason_to_use)")
    if verdict.settled:
        return lines
    if worth_while(result):
        hidden = [h for h in result.hidden(verdict.scope or "full") if not h.at_visit]
        told = [what_may_come(result, line) for line in hidden[:MOST_TOLD]]
        unseen = "what only opening shows; above all"
    else:
        looks = result.information_value.looks(MOST_TOLD)
        told = [result.knowledge.criteria[look.criterion].asks for look in looks]
        unseen = "what is still unseen; look first at"
    if told:
        lines.append(f"{unseen}: {'; '.join(told)}")
    return lines


def ceilings_said(result: Assessment, wish: str, rungs: Sequence[Breakpoint]) -> str:
    """From which ceiling on the verdict is what, for one wish."""
    owner = result.job.owner
    wished = f"if {SCOPE_TITLES[wish]} is wished for, " if owner.wish is None else ""  # type: ignore[index]
    if len(rungs) == 1:
        return f"{wished}no ceiling changes it: {rungs[0].name}"
    told = [f"under {_rounded(result, rungs[1].ceiling)}: {rungs[0].name}"]
    for rung, above in pairwise(rungs[1:]):
        ends = f"{_rounded(result, rung.ceiling)} to {_rounded(result, above.ceiling)}"
        told.append(f"from {ends}: {rung.name}")
    told.append(f"from {_rounded(result, rungs[-1].ceiling)}: {rungs[-1].name}")
    stated = (
        "none is stated"
        if owner.ceiling is None
        else f"{money(owner.ceiling, result.workshop)} is stated"
    )
    return f"{wished}the ceiling ({stated}): {'; '.join(told)}"


def _rounded(result: Assessment, amount: float) -> str:
    """An amount rounded up to two or three figures, since more would be no better."""
    if amount <= 0:
        return money(0, result.workshop)
    grain = 10 ** max(0, math.floor(math.log10(amount)) - 1) / 2
    return money(math.ceil(amount / max(grain, 1)) * max(grain, 1), result.workshop)


def _worth(result: Assessment) -> str:
    owner, workshop = result.job.owner, result.workshop
    plain = (
        "Restoration usually costs more than an instrument would fetch; what it is worth to its "
        "owner is not only money, and the choice is the owner's."
    )
    if owner.worth is None:
        return paragraph(f"No worth is stated. {plain}")
    told = f"The owner states a worth of {money(owner.worth, workshop)}. "
    scope = result.verdict.scope
    cost = next((k.cost.p50 for k in result.verdict.likely if k.scope == scope), 0.0)
    if owner.worth > 0 and cost > 0:
        told += f"The work would cost about {cost / owner.worth:.1f} times that. "
    if cost > owner.worth and (owner.attachment or 0) >= CONSERVE_FROM:
        told += "Ask the owner to agree in writing that it costs more than it would fetch. "
    return paragraph(told + plain)
