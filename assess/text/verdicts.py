"""The verdict as text."""

from __future__ import annotations

from collections.abc import Sequence

from assess.assessment import Assessment
from assess.scopes import SCOPE_TITLES
from assess.text.cautions import caution_list
from assess.text.grades import title
from assess.text.tables import bullets, heading, numbered, paragraph, sections, span, table
from assess.verdict import Option

ESTIMATE = (
    "This is an estimate, not a quotation: hours are low, likely and high figures of one "
    "experienced worker, and the range holds what is known of misjudgement, not what is "
    "still hidden."
)


def verdict_text(result: Assessment) -> str:
    """The verdict, its reasons, cost range, what would change it, and the cautions."""
    verdict = result.verdict
    raised = [c for f in result.graded.findings for c in f.best.cautions]
    if verdict.scope:
        raised += result.plans[verdict.scope].cautions
    asked = [f"{result.knowledge.criteria[c].asks} [{c}]" for c in verdict.look_at]
    return sections(
        [
            title(result),
            f"Verdict: {verdict.name.upper()}",
            f"{heading('Why', '-')}\n{numbered(verdict.reasons)}",
            _list("Grounds to advise against", verdict.grounds),
            f"{heading('What each scope would be', '-')}\n{_options(result)}",
            _against(result),
            paragraph(ESTIMATE),
            _list("What would change it", verdict.turns),
            _list("Still unseen, weightiest first", asked),
            _worth(result),
            caution_list(raised, result.knowledge),
        ]
    )


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
    return _list("What stands against it", lines)


def _worth(result: Assessment) -> str:
    worth = result.job.owner.worth
    if worth is None:
        return ""
    return paragraph(
        f"The owner states a worth of {result.workshop.currency} {worth:,.0f}. Restoration often "
        "costs more than an instrument would fetch; what it is worth to its owner is not only "
        "money, and the choice is the owner's."
    )


def _options(result: Assessment) -> str:
    rows = [_option_row(o) for o in result.verdict.options]
    money = f"Cost, {result.workshop.currency}"
    return table(
        rows,
        ["Scope", "Steps", "Hours", money, "Ceiling", "Passes"],
        [16, 5, 10, 18, None, 7],
        right=(1, 4),
    )


def _option_row(option: Option) -> list[object]:
    plan = option.plan
    name = SCOPE_TITLES[option.scope]
    if not plan.steps:
        return [name, 0, "-", "-", "-", "no need"]
    cost = plan.cost.total
    money = f"{cost.p50:,.0f}\n({cost.p10:,.0f} to {cost.p90:,.0f})"
    within = "-" if option.within_ceiling is None else f"{100 * option.within_ceiling:.0f} %"
    stands = "yes" if option.passes else "no"
    return [name, len(plan.steps), span(plan.hours.p10, plan.hours.p90), money, within, stands]
