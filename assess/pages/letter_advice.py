"""What the letter recommends, why, what each way gives and costs, and what happens then."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from assess.assessment import Assessment
from assess.base.wording import counted, percent
from assess.decision.ways import Way, WayName
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import VerdictName
from assess.output.layout import capital, span
from assess.pages.letter_sentences import MOST_GROUNDS, MOST_HIDDEN, Phrases, listed

POSSIBLE = 0.05
"""A way less likely to be possible than this is left out."""
WAY_OF: dict[VerdictName, WayName] = {
    "full": "full",
    "working": "working",
    "conserve": "conserve",
    "wait": "conserve",
    "hand_over": "hand_over",
    "pass_on": "pass_on",
    "salvage": "salvage",
    "leave": "leave",
}
SCOPE_OF: dict[WayName, Scope] = {
    "service": "working",
    "working": "working",
    "full": "full",
    "conserve": "stabilise",
}
WORTH_WORDS = "You named a value of {worth}. The work would cost more than that."
AGREED = "Your signature below says that you know this."


@dataclass(frozen=True)
class OptionLine:
    """One way to go: its name, what it gives, price, time, and what we say of it."""

    name: str
    gives: str
    price: str
    work: str
    ready: str
    advice: str
    recommended: bool = False


def option_lines(phrases: Phrases, day: dt.date) -> tuple[OptionLine, ...]:
    """The ways to go that are possible, the recommended one marked.

    Args:
        phrases: the words of the letter.
        day: the day from which calendars are worked out.
    """
    verdict = phrases.result.verdict
    recommended = WAY_OF.get(verdict.name)
    at_home = any(w.name == "service" and w.cost is not None for w in verdict.ways)
    if recommended == "working" and at_home:
        recommended = "service"
    hidden = {"working"} if at_home else {"service"}
    shown = [
        way
        for way in verdict.ways
        if way.name not in hidden and (way.possible >= POSSIBLE or way.name == recommended)
        if way.name == recommended or way.advised >= POSSIBLE or way.wanted
    ]
    return tuple(_option_line(way, recommended, phrases, day) for way in shown)


def _option_line(
    way: Way, recommended: WayName | None, phrases: Phrases, day: dt.date
) -> OptionLine:
    words = getattr(phrases.words.ways, way.name)
    scope, number = SCOPE_OF.get(way.name), phrases.result.workshop.letter.number
    likely = next((k for k in phrases.result.verdict.likely if k.scope == scope), None)
    hours = span(likely.hours.p10, likely.hours.p90) if likely else "0"
    if hours.startswith("0 to "):
        hours = f"up to {hours.removeprefix('0 to ')}"
    return OptionLine(
        words.title,
        words.gives,
        phrases.price(way.cost.p10, way.cost.p90) if way.cost else "nothing to pay",
        "none" if hours == "0" else f"{number(hours)} hours",
        _ready(phrases.result, scope, day) if scope else "",
        _advice_on(way, recommended),
        way.name == recommended,
    )


def _advice_on(way: Way, recommended: WayName | None) -> str:
    if way.name == recommended:
        return "We recommend this."
    if way.advised <= POSSIBLE:
        return "We advise against this."
    return ""


def _ready(result: Assessment, scope: Scope, day: dt.date) -> str:
    """Weeks from the first day to the last, drying and deliveries included; as seen."""
    plan = result.plans[scope]
    if not plan.steps:
        return ""
    finish = result.planner.calendar(plan, day).finish.date()
    weeks = max(1, math.ceil((finish - day).days / 7))
    return f"about {counted(weeks, 'week')}"


def advice_said(phrases: Phrases) -> tuple[str, ...]:
    """What is recommended, why, how sure that is, and that no value is given."""
    result, verdict = phrases.result, phrases.result.verdict
    advice: str = getattr(phrases.words.advice, verdict.name)
    lines = [advice]
    if verdict.name == "look_further":
        lines.append(_likeliest_said(phrases))
    lines += _reasons(phrases)
    if result.graded.instrument.coverage > 0 and verdict.name != "look_further":
        turns = "is unlikely to change" if verdict.settled else "may still change"
        lines.append(f"What we have not seen {turns} this advice.")
    return (*lines, *_worth_said(phrases))


def _likeliest_said(phrases: Phrases) -> str:
    verdict = phrases.result.verdict
    way = getattr(phrases.words.ways, WAY_OF[verdict.likeliest]).title
    return f"The likeliest answer so far is \u201c{way}\u201d ({percent(verdict.probability)})."


def _reasons(phrases: Phrases) -> list[str]:
    """Why, in the owner's words, by what was recommended."""
    result, verdict, reasons = phrases.result, phrases.result.verdict, phrases.words.reasons
    name = verdict.name
    if name in ("conserve", "hand_over") and verdict.is_evidence:
        return [reasons.evidence]
    if name == "salvage":
        return [reasons.beyond_repair, *_grounds(phrases)]
    if name == "leave":
        needless = not any(option.plan.steps for option in verdict.options)
        return [reasons.usable if result.told.usable and not needless else reasons.nothing_to_do]
    lines = _wish_said(phrases)
    if name == "wait":
        return [*lines, reasons.money_or_time]
    if name == "conserve":
        return [*lines, *_grounds(phrases)]
    return [*lines, *_limit_said(phrases), *_attached_said(phrases)]


def _attached_said(phrases: Phrases) -> list[str]:
    result = phrases.result
    weighs = bool(result.verdict.grounds) or result.job.owner.worth is not None
    return [phrases.words.reasons.attached] if result.setting.stance.attached and weighs else []


def _grounds(phrases: Phrases) -> list[str]:
    """What speaks against the work, from what was found."""
    grounds = [
        f.outcome.advise_against for f in phrases.result.graded.findings if f.outcome.advise_against
    ]
    return [f"{capital(ground)}." for ground in dict.fromkeys(grounds)][:MOST_GROUNDS]


def _wish_said(phrases: Phrases) -> list[str]:
    """What the owner asked for, and what stands against it where something less is recommended."""
    result = phrases.result
    wish, verdict, limit = result.job.owner.wish, result.verdict, result.job.owner.ceiling
    if wish is None:
        return [f"You have not told us how far you want to go. This makes it {result.trade.use}."]
    title = result.trade.scope_title(wish)
    if verdict.scope == wish:
        return [f"You asked for {title}."]
    likely = next(k for k in verdict.likely if k.scope == wish)
    if limit is None or likely.within_limit is None:
        return [f"You asked for {title}."]
    if likely.within_limit >= result.workshop.sure_enough:
        return [f"You asked for {title}."]
    return [
        f"You asked for {title}. The chance that it stays under your limit of "
        f"{phrases.money(limit)} is {percent(likely.within_limit)}."
    ]


def _limit_said(phrases: Phrases) -> list[str]:
    """How likely what is recommended stays within the owner's limit."""
    result = phrases.result
    scope, limit = result.verdict.scope, result.job.owner.ceiling
    likely = next((k for k in result.verdict.likely if k.scope == scope), None)
    if limit is None or likely is None or likely.within_limit is None:
        return []
    name = phrases.words.ways.full if scope == "full" else phrases.words.ways.working
    return [
        f"For \u201c{name.title}\u201d the chance of staying under {phrases.money(limit)} is "
        f"{percent(likely.within_limit)}."
    ]


def _worth_said(phrases: Phrases) -> list[str]:
    """That no value is given; and what the work costs beside the owner's own figure."""
    result = phrases.result
    worth, scope = result.job.owner.worth, result.verdict.scope
    cost = next((k.cost.p50 for k in result.verdict.likely if k.scope == scope), 0.0)
    lines = [phrases.words.worth]
    if worth is not None and cost > worth:
        lines.append(WORTH_WORDS.format(worth=phrases.money(worth)))
        if not result.setting.heeds_advice:
            lines.append(AGREED)
    return lines


def afterwards(phrases: Phrases) -> tuple[str, ...]:
    """What happens once the owner has decided, and when the owner is asked again."""
    result = phrases.result
    profile, verdict = result.workshop.letter, result.verdict
    if verdict.name == "look_further":
        return (*_looks_next(phrases), "Nothing is done to it until you have decided.")
    likely = next((k for k in verdict.likely if k.scope == verdict.scope), None)
    lines = ["Please mark the way that you choose, sign, and send one copy back."]
    if likely is None or phrases.price(likely.cost.p10, likely.cost.p90) == "nothing to pay":
        return (*lines, "Nothing is done to it until we have heard from you.")
    most = f"{profile.price_change_percent:g}"
    return (
        *lines,
        "Then we agree on a date. The prices are an estimate, not a quotation: a price can only "
        "be fixed for what has been opened.",
        "If the work would cost more than the top of its range by over "
        f"{profile.number(most)} %, we stop and ask you before we go on.",
    )


def _looks_next(phrases: Phrases) -> list[str]:
    looks = phrases.result.information_value.looks(MOST_HIDDEN)
    names = [
        phrases.of_finding(look.criterion).about or phrases.knowledge.criteria[look.criterion].asks
        for look in looks
    ]
    return [f"Next we would look for {listed(names, MOST_HIDDEN)}."] if names else []
