"""What a sum of money buys, as text."""

from __future__ import annotations

from assess.assessment import Assessment
from assess.decision.rules import money, percent
from assess.output.grades import title
from assess.output.layout import amount, bullets, heading, paragraph, sections, span, table
from assess.planning.budget import Budget, Offer

MOST_BOUGHT = 4
MOST_LEFT = 8
LEAST_STEP = 0.06
"""Rungs nearer to each other than this part of the price of everything are told as one."""


def budget_text(result: Assessment, budget: Budget, sum_of_money: float) -> str:
    """What an amount buys, what it leaves, and the ladder of what each next sum would add.

    Args:
        result: the assessment.
        budget: what there is to choose from.
        sum_of_money: the amount, in the currency of the workshop profile.
    """
    stated = money(sum_of_money, result.workshop)
    head = heading(f"What {stated} buys" + (", playing" if budget.playable else ""), "-")
    best = _best(result, budget, sum_of_money)
    return sections(
        [
            title(result),
            f"{head}\n{best}",
            _frontier(result, result.budget(playable=False) if budget.impossible else budget),
            paragraph(
                "A price is the sum that the cost stays under in "
                f"{percent(result.workshop.sure_enough)} of cases, with what is seen and no more: "
                "what may come to light is not in it (assess look). Points are of the 100 that "
                "the whole instrument's grade has. Dangers to people are always dealt with."
            ),
        ]
    )


def _best(result: Assessment, budget: Budget, sum_of_money: float) -> str:
    if budget.playable and budget.impossible:
        listed = "; ".join(f"{f.criterion.asks} ({f.given})" for f in budget.impossible)
        unplayed = _best(result, result.budget(playable=False), sum_of_money)
        told = paragraph(f"No sum makes it play; beyond repair: {listed}.")
        return f"{told}\n\nIf it need not play:\n{unplayed}"
    if not budget.options:
        seen = percent(result.graded.instrument.coverage)
        return f"Nothing that was seen calls for work, so there is nothing to buy ({seen} seen)."
    best = budget.best(sum_of_money)
    if best is None:
        return _too_little(result, budget, sum_of_money)
    if not best.repairs:
        return _nothing(result, budget)
    return sections([paragraph(_said(result, best)), _repairs(best), _left(result, best)]).strip()


def _too_little(result: Assessment, budget: Budget, sum_of_money: float) -> str:
    """What must be done costs more; and what the sum buys if it need not play."""
    least = budget.least
    if least is None:
        return paragraph("What must be done cannot be had at any price.")
    what = "to make it play" if budget.playable else "to deal with its dangers"
    told = paragraph(
        f"Too little {what}: that takes {money(least.price, result.workshop)} at the least."
    )
    if not budget.playable:
        return told
    unplayed = _best(result, result.budget(playable=False), sum_of_money)
    return f"{told}\n\nIf it need not play:\n{unplayed}"


def _nothing(result: Assessment, budget: Budget) -> str:
    """Nothing that gains anything is to be had for so little."""
    dearer = next((offer for offer in budget.frontier if offer.repairs), None)
    if dearer is None:
        return "Nothing that could be done betters the grade."
    return paragraph(
        "Nothing is to be had for so little. The first sum that is well spent is "
        f"{money(dearer.price, result.workshop)}: {_bought(None, dearer)}."
    )


def _said(result: Assessment, offer: Offer) -> str:
    plan = offer.plan
    grade = result.expected.get("instrument")
    raised = (
        f", and the likely grade from {grade:.0f} to {grade + offer.points:.0f}" if grade else ""
    )
    plays = "It plays afterwards." if offer.plays else "It does not play as it should afterwards."
    return (
        f"{len(offer.repairs)} repairs in {len(plan.steps)} steps gain {offer.points:.1f} "
        f"points{raised}. About {amount(plan.hours.p50)} bench hours "
        f"({span(plan.hours.p10, plan.hours.p90)}); cost about "
        f"{money(plan.estimate.total.p50, result.workshop)}, under "
        f"{money(offer.price, result.workshop)} in {percent(result.workshop.sure_enough)} of "
        f"cases. {plays} It is the most that can be had for the sum."
    )


def _repairs(offer: Offer) -> str:
    rows = []
    for step in offer.plan.steps:
        if step.step in offer.repairs:
            low, _, high = step.hours
            rows.append([step.number, f"{step.title}\n  {step.step}", span(low, high)])
    shown = table(rows, ["No.", "Repair", "Hours"], [4, 58, 10], right=(0,))
    cautions = len(offer.plan.cautions)
    note = f"\nIts plan raises {cautions} cautions; they stand in assess plan." if cautions else ""
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
    offers = spaced_offers([offer for offer in budget.frontier if offer.repairs])
    if not offers:
        return ""
    rows = []
    before: Offer | None = None
    for offer in offers:
        rows.append(
            [
                f"{offer.price:,.0f}",
                f"{offer.points:.1f}",
                "yes" if offer.plays else "no",
                _bought(before, offer),
            ]
        )
        before = offer
    shown = table(
        rows,
        [f"From {result.workshop.currency}", "Points", "Plays", "What it adds"],
        [10, 6, 5, 45],
        right=(0, 1),
    )
    return f"{heading('What each next sum buys', '-')}\n{shown}"


def spaced_offers(offers: list[Offer]) -> list[Offer]:
    """The offers far enough apart to list, with the first, the first that plays, and the last."""
    told: list[Offer] = []
    for offer in offers:
        far = not told or offer.price >= told[-1].price + LEAST_STEP * offers[-1].price
        turns = bool(told) and offer.plays and not told[-1].plays
        if far or turns or offer is offers[-1]:
            told.append(offer)
    return told


def _bought(before: Offer | None, offer: Offer) -> str:
    """What an offer has that the one before has not, the longest work first."""
    had = set(before.repairs) if before else set()
    added = [s for s in offer.plan.steps if s.step in offer.repairs and s.step not in had]
    added.sort(key=lambda s: (-s.hours[1], s.number))
    names = [step.title for step in added[:MOST_BOUGHT]]
    if len(added) > MOST_BOUGHT:
        names.append(f"and {len(added) - MOST_BOUGHT} more")
    gone = sorted(had - set(offer.repairs))
    if gone and before:
        titles = {s.step: s.title for s in before.plan.steps}
        names += [f"instead of: {titles[g]}" for g in gone[:MOST_BOUGHT]]
    return "; ".join(names) or "the same more thoroughly"
