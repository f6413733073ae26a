"""The verdict as text: the answer first, then why, then the rest."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import islice, pairwise

from assess.assessment import Assessment
from assess.base.wording import percent
from assess.decision.confidence import came_true
from assess.decision.rules import Option
from assess.decision.verdict import Breakpoint, Likely, SensitivityFlip
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import VerdictName
from assess.output.cautions import caution_titles
from assess.output.grades import description, title
from assess.output.layout import (
    bullets,
    capital,
    heading,
    money_span,
    numbered,
    paragraph,
    section,
    span,
    table,
)
from assess.output.looks import complaints_text, hidden_name, hidden_text, looking_helps
from assess.planning.plan import Plan

MOST_HIDDEN = 6
MOST_DRIVERS = 10
MOST_NAMED = 3
MOST_FLIPS = 8
SURE = 0.95
"""From this probability on a way to go is said to be possible or advised without a number."""
WORTH_ALLOWING = 0.05
"""How much surer a verdict must sound than it came true, faults first, for that to be told."""
MORE = "Hours and prices of each scope, what makes them uncertain, and more: --all"
MAY_CHANGE = "Not settled: more looking may change it (assess look)."


def verdict_parts(result: Assessment, every: bool = False) -> Iterator[str]:
    """The recommendation, how sure it is, its price; why; the options; what would change it.

    Args:
        result: the assessment.
        every: also what each scope would cost as seen and with the unseen, what makes the price
            uncertain, and where estimates come from.
    """
    verdict = result.verdict
    yield heading(title(result))
    yield "\n".join([paragraph(headline(result)), paragraph(how_sure(result))])
    yield section("Why", numbered([capital(reason) for reason in verdict.reasons]))
    yield _list(result.trade.against, verdict.grounds)
    yield complaints_text(result)
    yield section("Ways to go", _ways(result))
    if every:
        yield section("What each scope would cost", _options(result))
    yield _list("Against it, from what was seen", against(result))
    yield paragraph(estimate_said(result, every))
    if every:
        yield _drivers(result)
    yield hidden_text(result, MOST_HIDDEN)
    yield _list("What would change it", what_would_change_it(result))
    yield _list("Worth saving from it", verdict.worth_saving)
    yield paragraph(worth_said(result))
    yield _cautions(result)
    yield section(capital(result.trade.noun), description(result))
    if not every:
        yield MORE


def _cautions(result: Assessment) -> str:
    """Cautions of the recommended scope, and of the dangers that were found, by their titles."""
    scope = result.verdict.scope
    planned = result.plans[scope].cautions if scope else ()
    found = [c for f in result.graded.findings if f.outcome.danger for c in f.outcome.cautions]
    commands = ["assess plan"] if planned else []
    if not set(found) <= set(planned):
        commands.append("assess grade")
    where = " and ".join(commands) + "."
    return caution_titles([*found, *planned], result.knowledge, where)


def headline(result: Assessment) -> str:
    """The recommendation, how sure it is, the price range and the hours, in one line."""
    verdict, words = result.verdict, result.trade.verdict
    name = words(verdict.name).upper()
    if verdict.name == "look_further":
        return f"{name}: most likely {words(verdict.likeliest)} ({percent(verdict.probability)})"
    line = f"{name}: {percent(verdict.probability)} sure"
    if verdict.scope is None:
        return line
    likely = next(k for k in verdict.likely if k.scope == verdict.scope)
    price = money_span(likely.cost.p10, likely.cost.p90)
    if price == "0":
        return f"{line}, no work needed now"
    hours = span(likely.hours.p10, likely.hours.p90)
    return f"{line}, {result.workshop.currency} {price}, {hours} hours"


def how_sure(result: Assessment) -> str:
    """What else may be the right answer, and whether the verdict is settled."""
    verdict, words = result.verdict, result.trade.verdict
    if result.graded.instrument.coverage == 0:
        return f"Nothing has been looked at yet. {_unsettled(result)}".strip()
    likely = list(verdict.chances.items())
    others = ", ".join(f"{words(name)} {percent(chance)}" for name, chance in likely[1:])
    allowing = f"Allowing for what has not been seen; otherwise: {others}." if others else ""
    if verdict.probability - came_true(verdict.probability) >= WORTH_ALLOWING:
        allowing += f" {percent(came_true(verdict.probability))} if mostly faults were looked at."
    if not verdict.settled:
        return f"{allowing} {_unsettled(result)}".strip()
    if not others:
        return "Settled: nothing still unseen can change this."
    return f"{allowing} Settled: what is unseen is unlikely to change it."


def _unsettled(result: Assessment) -> str:
    if result.guessed:
        return f"Not settled: {result.guessed[0]}."
    helps = looking_helps(result)
    return f"Not settled. {helps}" if helps else MAY_CHANGE


def _list(name: str, lines: Sequence[str]) -> str:
    return section(name, bullets([capital(line) for line in lines])) if lines else ""


def against(result: Assessment) -> list[str]:
    """What stands against scopes, where the chain of reasons has not said it already."""
    said = " ".join(result.verdict.reasons)
    lines = [
        f"{result.trade.scope_title(option.scope)}: {line}"
        for option in result.verdict.options
        for line in option.against
        if line not in said
    ]
    return lines


def estimate_said(result: Assessment, every: bool = False) -> str:
    """What kind of estimate it is, and how wide comparable ones are."""
    seen = result.graded.instrument.coverage
    kind = result.workshop.estimate_class(seen)
    (low, lowest), (high, highest) = kind.under, kind.over
    source = f" ({kind.source}; the comparison is ours)" if every else ""
    return (
        f"An estimate, not a quotation. With {percent(seen)} seen, comparable estimates in other "
        f"trades end {low} to {lowest} % lower to {high} to {highest} % higher{source}. Fix a "
        "price only for what has been opened."
    )


def ways_columns(result: Assessment) -> list[str]:
    """Headings of the table of ways to go."""
    return ["Way", result.workshop.currency, "Can be", "Advised", "Wish", "In limit"]


def ways_rows(result: Assessment) -> list[list[str]]:
    """Every way to go, with its price and what speaks for and against it."""
    return [
        [
            getattr(result.trade.ways, way.name),
            money_span(way.cost.p10, way.cost.p90) if way.cost else "-",
            _likeliness(way.possible),
            _likeliness(way.advised),
            {True: "yes", False: "no", None: "-"}[way.wanted],
            "-" if way.within_limit is None else percent(way.within_limit),
        ]
        for way in result.verdict.ways
    ]


def _ways(result: Assessment) -> str:
    return table(ways_rows(result), ways_columns(result), [20, 16, 9, 7, 6, 8], right=(5,))


def _likeliness(chance: float) -> str:
    """Yes, no, or how likely, where it is not sure either way."""
    if chance >= SURE:
        return "yes"
    return "no" if chance <= 1 - SURE else percent(chance)


def scope_columns(result: Assessment) -> list[str]:
    """Headings of the table of scopes."""
    currency = result.workshop.currency
    return ["Scope", "Hours", f"As seen, {currency}", f"With unseen, {currency}", "In limit"]


def scope_rows(result: Assessment) -> list[list[str]]:
    """Each scope with its hours, its cost as seen and with the unseen."""
    verdict = result.verdict
    return [
        _option_row(result, option, likely)
        for option, likely in zip(verdict.options, verdict.likely, strict=True)
    ]


def scopes_said(result: Assessment) -> str:
    """How the table of scopes is read."""
    return (
        'Hours and "With unseen" allow for what was not seen. In brackets: 4 jobs in 5. "In '
        "limit\": chance of staying under the owner's limit. The workshop takes on up to "
        f"{result.workshop.most_hours:.0f} hours."
    )


def _options(result: Assessment) -> str:
    columns = scope_columns(result)
    shown = table(scope_rows(result), columns, [16, 10, 18, 18, 8], right=(4,))
    return f"{shown}\n{paragraph(scopes_said(result))}"


def _option_row(result: Assessment, option: Option, likely: Likely) -> list[str]:
    within = "-" if likely.within_limit is None else percent(likely.within_limit)
    total = option.plan.estimate.total
    as_seen = _range(total.p10, total.p50, total.p90) if option.plan.steps else "nothing to do"
    cost = likely.cost
    return [
        result.trade.scope_title(option.scope),
        span(likely.hours.p10, likely.hours.p90),
        as_seen,
        _range(cost.p10, cost.p50, cost.p90),
        within,
    ]


def _range(low: float, middle: float, high: float) -> str:
    return f"{middle:,.0f}\n({money_span(low, high)})" if high >= 1 else "nothing to do"


def drivers(result: Assessment, plan: Plan) -> list[str]:
    """The steps that make most of the spread of the planned work, each with its share."""
    shares = islice(plan.estimate.variance_shares.items(), MOST_DRIVERS)
    return [f"{percent(share)}: {result.knowledge.title(step)}" for step, share in shares if share]


def _drivers(result: Assessment) -> str:
    plan = result.plans[result.verdict.plan_scope]
    name = result.trade.scope_title(plan.scope)
    return _list(f"What makes the price uncertain ({name})", drivers(result, plan))


def what_would_change_it(result: Assessment) -> list[str]:
    """Limits, findings and unseen parts that would make it another verdict."""
    verdict, trade = result.verdict, result.trade
    lines = [limit_said(result, wish, points) for wish, points in verdict.limits.items()]
    lines += [_flip_said(result, flip) for flip in result.pivotal_findings[:MOST_FLIPS]]
    if verdict.likeliest in ("conserve", "hand_over") and verdict.is_evidence:
        lines.append(f"a documented reason to make it {trade.use} (owner.{trade.reason_key})")
    if verdict.settled:
        return lines
    if looking_helps(result):
        hidden = [h for h in result.hidden(result.verdict.plan_scope) if not h.at_visit]
        named = [hidden_name(result, line) for line in hidden[:MOST_NAMED]]
        unseen = "what only opening shows, above all"
    else:
        looks = result.information_value.looks(MOST_NAMED)
        named = [result.knowledge.criteria[look.criterion].asks for look in looks]
        unseen = "what is still unseen; look first at"
    if named:
        lines.append(f"{unseen}: {'; '.join(named)}")
    return lines


def _flip_said(result: Assessment, flip: SensitivityFlip) -> str:
    verdict = result.trade.verdict(flip.name)
    return f'if "{flip.asks}" were "{flip.instead}" instead of "{flip.given}": {verdict}'


def limit_said(result: Assessment, wish: Scope, points: Sequence[Breakpoint]) -> str:
    """The verdict by the owner's limit, for one wish."""
    trade, limit = result.trade, result.job.owner.ceiling
    for_wish = (
        f"if the owner wants {trade.scope_title(wish)}, " if result.job.owner.wish is None else ""
    )
    if len(points) == 1:
        return f"{for_wish}the same whatever the owner can spend: {trade.verdict(points[0].name)}"
    parts = [_step_said(result, None, points[1], points[0].name)]
    parts += [_step_said(result, a, b, a.name) for a, b in pairwise(points[1:])]
    parts.append(_step_said(result, points[-1], None, points[-1].name))
    stated = "none is given" if limit is None else f"now {result.setting.money(limit)}"
    return f"{for_wish}the owner's limit ({stated}): {'; '.join(parts)}"


def _step_said(
    result: Assessment, low: Breakpoint | None, high: Breakpoint | None, name: VerdictName
) -> str:
    verdict = result.trade.verdict(name)
    if low is None and high is not None:
        return f"under {_rounded(result, high.limit)}: {verdict}"
    if low is not None and high is not None:
        return f"{_rounded(result, low.limit)} to {_rounded(result, high.limit)}: {verdict}"
    return f"from {_rounded(result, low.limit if low else 0.0)}: {verdict}"


def _rounded(result: Assessment, amount: float) -> str:
    """An amount rounded up to two or three figures, since more would be no better."""
    if amount <= 0:
        return result.setting.money(0)
    grain = 10 ** max(0, math.floor(math.log10(amount)) - 1) / 2
    return result.setting.money(math.ceil(amount / max(grain, 1)) * max(grain, 1))


def worth_said(result: Assessment) -> str:
    """What the owner says it is worth, against what the work costs."""
    owner, setting = result.job.owner, result.setting
    if owner.worth is None:
        return f"No value given. {result.trade.closing}"
    said = f"The owner states a value of {setting.money(owner.worth)}. "
    scope = result.verdict.scope
    cost = next((k.cost.p50 for k in result.verdict.likely if k.scope == scope), 0.0)
    if owner.worth > 0 and cost > 0:
        said += f"The work would cost about {cost / owner.worth:.1f} times that. "
    if cost > owner.worth and not setting.heeds_advice:
        said += "Ask the owner to agree in writing that it costs more than it would sell for. "
    return said + result.trade.closing
