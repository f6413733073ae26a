"""What a sum of money buys, as text."""

from __future__ import annotations

from collections.abc import Iterator

from assess.assessment import Assessment
from assess.base.wording import counted, percent
from assess.decision.rules import kept_as_evidence_said
from assess.knowledge.model_base import SCOPES
from assess.output.grades import title
from assess.output.layout import (
    amount,
    bullets,
    heading,
    paragraph,
    section,
    sections,
    span,
    table,
)
from assess.planning.budget import Budget, Offer

MOST_BOUGHT = 4
MOST_LEFT = 8
LEAST_STEP = 0.06
"""Offers nearer to each other than this part of the price of everything are shown as one, and
none is looked for between them."""


def budget_parts(
    result: Assessment, budget: Budget, sum_of_money: float, ids: bool = False
) -> Iterator[str]:
    """What an amount buys and what it leaves; then what each next sum would add.

    Args:
        result: the assessment.
        budget: what there is to choose from.
        sum_of_money: the amount, in the currency of the workshop profile.
        ids: show the ids of repairs.
    """
    if budget.scopes != SCOPES:
        budget = result.budget(usable=False)
    stated, trade = result.setting.money(sum_of_money), result.trade
    head = f"What {stated} buys" + (f" if it must {trade.use}" if budget.usable else "")
    yield heading(title(result))
    yield section(head, _only_kept(result, budget), _best(result, budget, sum_of_money, ids))
    yield _frontier(result, result.budget(usable=False) if budget.impossible else budget)
    yield paragraph(
        f"Prices hold in {percent(result.workshop.sure_enough)} of cases and cover only "
        "what was seen; hidden faults cost extra (assess look). Points are of the 100 of "
        f"the whole {trade.noun}'s grade. Danger and decay are always dealt with."
    )


def _only_kept(result: Assessment, budget: Budget) -> str:
    """Why nothing is bought that would bring it back into use, where that is so."""
    if budget.scopes == SCOPES:
        return ""
    return paragraph(f"Only what keeps it safe: {kept_as_evidence_said(result.setting)}.") + "\n"


def _best(result: Assessment, budget: Budget, sum_of_money: float, ids: bool) -> str:
    use = result.trade.use
    if result.verdict.likeliest == "salvage":
        return paragraph(
            f"Nothing is bought: {result.trade.verdict('salvage')}. What it cannot do without is "
            "beyond repair (assess verdict)."
        )
    if budget.usable and budget.impossible:
        listed = "; ".join(f"{f.criterion.asks} ({f.given})" for f in budget.impossible)
        without = _best(result, result.budget(usable=False), sum_of_money, ids)
        said = paragraph(f"No sum makes it {use}. Beyond repair: {listed}.")
        return f"{said}\n\nIf it need not {use}:\n{without}"
    if not (budget.repair_options.gains or budget.repair_options.searches):
        return _nothing_to_buy(result)
    best = budget.best(sum_of_money)
    if best is None:
        return _too_little(result, budget, sum_of_money, ids)
    if not (best.repairs or best.searches):
        return _no_repair(result, budget)
    return sections(
        [paragraph(_said(result, best)), _repairs(best, ids), _left(result, best)]
    ).strip()


def _nothing_to_buy(result: Assessment) -> str:
    seen = result.graded.instrument.coverage
    if seen == 0:
        return "Nothing has been looked at yet, so there is nothing to buy."
    return f"Nothing found so far calls for work: nothing to buy ({percent(seen)} seen)."


def _too_little(result: Assessment, budget: Budget, sum_of_money: float, ids: bool) -> str:
    """What must be done costs more; and what the sum buys if it need not be usable."""
    least, use = budget.least, result.trade.use
    if least is None:
        return "What must be done is beyond repair."
    what = f"to make it {use}" if budget.usable else "to deal with danger and decay"
    said = paragraph(f"Too little {what}: that takes at least {result.setting.money(least.price)}.")
    if not budget.usable:
        return said
    without = _best(result, result.budget(usable=False), sum_of_money, ids)
    return f"{said}\n\nIf it need not {use}:\n{without}"


def _no_repair(result: Assessment, budget: Budget) -> str:
    """The sum buys no repair."""
    first = next(
        (offer for offer in budget.ladder(LEAST_STEP) if offer.repairs or offer.searches), None
    )
    if first is None:
        return "No repair improves the grade."
    return paragraph(
        "Too little for any repair. The first useful amount is "
        f"{result.setting.money(first.price)}: {_bought(None, first)}."
    )


def _said(result: Assessment, offer: Offer) -> str:
    plan, grade, trade = offer.plan, result.expected.whole, result.trade
    raised = (
        f", and raise the likely grade from {grade:.0f} to {grade + offer.points:.0f}"
        if grade
        else ""
    )
    use = (
        f"It {trade.uses} afterwards{', once that is cured' if offer.searches else ''}."
        if offer.usable
        else (f"It does not {trade.use} as it should afterwards.")
    )
    if offer.searches:
        use += " What cures a cause that is found costs extra (assess plan)."
    steps = counted(len(plan.steps), "step")
    gain = f"No repair yet, but the cause is found, in {steps}."
    if offer.repairs:
        repairs = counted(len(offer.repairs), "repair")
        gain = f"{repairs} in {steps} gain {offer.points:.1f} points{raised}."
    return (
        f"{gain} About {amount(plan.hours.p50)} bench hours "
        f"({span(plan.hours.p10, plan.hours.p90)}), about "
        f"{result.setting.money(plan.estimate.total.p50)}; under "
        f"{result.setting.money(offer.price)} in {percent(result.workshop.sure_enough)} of "
        f"cases. {use} No other choice gains more for this money."
    )


def _repairs(offer: Offer, ids: bool) -> str:
    rows = []
    for step in offer.plan.steps:
        if step.step in (*offer.repairs, *offer.searches):
            low, _, high = step.hours
            name = f"{step.title}\n  {step.step}" if ids else step.title
            rows.append([step.number, name, span(low, high)])
    shown = table(
        rows, ["No.", "Work" if offer.searches else "Repair", "Hours"], [4, 58, 10], right=(0,)
    )
    cautions = len(offer.plan.cautions)
    note = f"\nIts plan has {counted(cautions, 'caution')}: see assess plan." if cautions else ""
    return shown + note


def _left(result: Assessment, offer: Offer) -> str:
    """The worst findings that this leaves."""
    left = [f for f in result.graded.findings if f.id not in offer.gained]
    if not left:
        return "Nothing that was found is left."
    lines = [f"{f.criterion.asks}: {f.given}" for f in left[:MOST_LEFT]]
    more = [f"and {len(left) - MOST_LEFT} more"] if len(left) > MOST_LEFT else []
    return f"What it leaves, worst first:\n{bullets([*lines, *more])}"


def _frontier(result: Assessment, budget: Budget) -> str:
    offers = spaced_offers([offer for offer in budget.ladder(LEAST_STEP) if offer.repairs])
    if not offers:
        return ""
    rows = []
    before: Offer | None = None
    for offer in offers:
        rows.append(
            [
                f"{offer.price:,.0f}",
                f"{offer.points:.1f}",
                "yes" if offer.usable else "no",
                _bought(before, offer),
            ]
        )
        before = offer
    uses = f"It {result.trade.uses}"
    headers = [f"From {result.workshop.currency}", "Points", uses, "What it adds"]
    return section("What each next sum buys", table(rows, headers, [10, 6, 9, 43], right=(0, 1)))


def spaced_offers(offers: list[Offer]) -> list[Offer]:
    """The offers far enough apart to list, with the first, the first usable one, and the last."""
    shown: list[Offer] = []
    for offer in offers:
        far = not shown or offer.price >= shown[-1].price + LEAST_STEP * offers[-1].price
        turns = bool(shown) and offer.usable and not shown[-1].usable
        if far or turns or offer is offers[-1]:
            shown.append(offer)
    return shown


def _bought(before: Offer | None, offer: Offer) -> str:
    """What an offer has that the one before has not, the longest work first."""
    had = {*before.repairs, *before.searches} if before else set()
    bought = {*offer.repairs, *offer.searches}
    added = [s for s in offer.plan.steps if s.step in bought - had]
    added.sort(key=lambda s: (-s.hours[1], s.number))
    names = [step.title for step in added[:MOST_BOUGHT]]
    if len(added) > MOST_BOUGHT:
        names.append(f"and {len(added) - MOST_BOUGHT} more")
    gone = sorted(had - bought)
    if gone and before:
        titles = {s.step: s.title for s in before.plan.steps}
        names += [f"instead of: {titles[g]}" for g in gone[:MOST_BOUGHT]]
    return "; ".join(names) or "the same more thoroughly"
