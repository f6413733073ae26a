"""What the letter recommends, why, what each way gives and costs, and what happens then."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from assess.assessment import Assessment
from assess.base.errors import UserError
from assess.base.wording import counted
from assess.decision.ways import Way, WayName
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import VerdictName
from assess.output.layout import capital, span
from assess.pages.letter_sentences import (
    MOST_GROUNDS,
    MOST_HIDDEN,
    MOSTLY,
    NO_WORK,
    Phrases,
    chance,
    listed,
)

DAYS_A_WEEK = 7
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
KNOWN = "Your signature below says that you know this."


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
    recommended, needless = WAY_OF.get(verdict.name), _needless(phrases)
    at_home = any(w.name == "service" and w.cost is not None for w in verdict.ways)
    if recommended == "working" and at_home:
        recommended = "service"
    hidden: set[WayName] = {"working"} if at_home else {"service"}
    if recommended == "salvage":
        hidden.add("pass_on")  # nobody could use it
    shown = [
        way
        for way in verdict.ways
        if way.name not in hidden | needless
        if way.possible >= POSSIBLE or way.name == recommended
        if way.name == recommended or way.advised >= POSSIBLE or way.wanted
    ]
    return tuple(_option_line(way, recommended, phrases, day) for way in shown)


def _needless(phrases: Phrases) -> set[WayName]:
    """Ways that nobody would choose: to stop using, or give away, what can be used and repaired.

    They are left out where it may be used meanwhile and what the owner asked for is what we
    recommend; not where the owner is ready to let it go.
    """
    result = phrases.result
    wish, verdict = result.job.owner.wish, result.verdict
    as_asked = wish in ("working", "full") and verdict.name == wish
    if not as_asked or not result.interim_use.allowed or result.job.owner.keeps is False:
        return set()
    return {"conserve", "pass_on"}


def left_out_said(phrases: Phrases) -> str:
    """Which ways are left out as needless, and why; empty where none is."""
    return phrases.words.left_out if _needless(phrases) else ""


def _option_line(
    way: Way, recommended: WayName | None, phrases: Phrases, day: dt.date
) -> OptionLine:
    words = getattr(phrases.words.ways, way.name)
    scope, number = SCOPE_OF.get(way.name), phrases.result.workshop.letter.number
    likely = next((k for k in phrases.result.verdict.likely if k.scope == scope), None)
    hours = span(likely.hours.p10, likely.hours.p90) if likely else "0"
    return OptionLine(
        words.title,
        words.gives,
        phrases.price(way.cost.p10, way.cost.p90) if way.cost else "no work by us",
        number(_hours_said(hours)),
        _ready(phrases.result, scope, day) if scope else "",
        _advice_on(way, recommended),
        way.name == recommended,
    )


def _hours_said(hours: str) -> str:
    """Hours, or a range of them, with the word; empty where there are none."""
    if hours == "0":
        return ""
    most = hours.removeprefix("0 to ")
    said = f"up to {most}" if most != hours else hours
    return f"{said} {'hour' if most == '1' else 'hours'}"


def _advice_on(way: Way, recommended: WayName | None) -> str:
    if way.name == recommended:
        return "We recommend this."
    if way.advised <= POSSIBLE:
        return "We advise against this."
    return ""


def _ready(result: Assessment, scope: Scope, day: dt.date) -> str:
    """Weeks from the first day until its owner has it back, drying and deliveries included.

    The first figure is as likely as not for what was seen. The second holds in nine of ten cases,
    with the bench hours of what was not seen. Empty where too little was seen for the plan to be
    more than a beginning, or where the workshop's profile leaves no hours for a calendar.
    """
    plan, shop = result.plans[scope], result.workshop
    if not plan.steps:
        return ""
    if result.graded.instrument.coverage < MOSTLY:
        return ""
    try:
        finish = result.planner.finish(plan, result.planner.calendar(plan, day))
    except UserError:
        return ""
    likely = next(k for k in result.verdict.likely if k.scope == scope)
    hours = max(0.0, likely.hours.p90 - plan.hours.p90)
    more = hours / (shop.bench_hours_a_day * len(shop.bench_days))
    low = max(1, math.ceil(_weeks(day, finish.back_p50 or finish.p50)))
    high = max(low, math.ceil(_weeks(day, finish.back_p90 or finish.p90) + more))
    return f"about {low} to {high} weeks" if high > low else f"about {counted(low, 'week')}"


def _weeks(day: dt.date, moment: dt.datetime) -> float:
    return (moment.date() - day).days / DAYS_A_WEEK


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
    return f"The likeliest answer so far is \u201c{way}\u201d ({chance(verdict.probability)})."


def _reasons(phrases: Phrases) -> list[str]:
    """Why, in the owner's words, by what was recommended."""
    result, verdict, reasons = phrases.result, phrases.result.verdict, phrases.words.reasons
    name = verdict.name
    if name in ("conserve", "hand_over") and verdict.is_evidence:
        return [*_asked_said(phrases), reasons.evidence]
    if name == "salvage":
        grounds = _grounds(phrases)
        return [*_asked_said(phrases), reasons.beyond_repair, *grounds, *_saving_said(phrases)]
    if name == "leave":
        needless = not any(option.plan.steps for option in verdict.options)
        return [reasons.usable if result.told.usable and not needless else reasons.nothing_to_do]
    lines = _wish_said(phrases)
    compared = len(lines) > 1
    if name == "wait":
        return [*lines, reasons.money_or_time]
    if name == "conserve":
        return [*lines, *_grounds(phrases)]
    return [*lines, *_limit_said(phrases, compared), *_attached_said(phrases)]


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
    if verdict.scope == wish:
        return ["It is what you asked for."]
    likely = next(k for k in verdict.likely if k.scope == wish)
    asked, within = _asked_said(phrases), likely.within_limit
    if limit is None or within is None or within >= result.workshop.sure_enough:
        return asked
    return [
        *asked,
        f"The chance that this stays under your limit of {phrases.money(limit)} is "
        f"{chance(within)}.",
    ]


def _asked_said(phrases: Phrases) -> list[str]:
    wish = phrases.result.job.owner.wish
    return [f"You asked for {phrases.result.trade.scope_title(wish)}."] if wish else []


def _saving_said(phrases: Phrases) -> list[str]:
    """What is worth keeping, where it is kept for parts."""
    saved = phrases.result.verdict.worth_saving
    names = [phrases.part(c.id) for c in phrases.knowledge.components.values() if c.title in saved]
    return [f"Worth keeping: {listed(names)}."] if names else []


def _limit_said(phrases: Phrases, compared: bool) -> list[str]:
    """How likely what is recommended stays within the owner's limit.

    Args:
        phrases: the words of the letter.
        compared: whether the same was just said of what the owner asked for.
    """
    result = phrases.result
    scope, limit = result.verdict.scope, result.job.owner.ceiling
    likely = next((k for k in result.verdict.likely if k.scope == scope), None)
    if limit is None or likely is None or likely.within_limit is None:
        return []
    within = chance(likely.within_limit)
    if compared:
        return [f"For what we recommend it is {within}."]
    return [
        f"The chance that the price stays under your limit of {phrases.money(limit)} is {within}."
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
            lines.append(KNOWN)
    return lines


def afterwards(phrases: Phrases) -> tuple[str, ...]:
    """What happens once the owner has decided, and when the owner is asked again."""
    result = phrases.result
    profile, verdict = result.workshop.letter, result.verdict
    if verdict.name == "look_further":
        return (*_looks_next(phrases), "Please tell us whether we may. Nothing else is done.")
    likely = next((k for k in verdict.likely if k.scope == verdict.scope), None)
    lines = ["Please mark the way that you choose, sign, and send one copy back."]
    if likely is None or phrases.price(likely.cost.p10, likely.cost.p90) == NO_WORK:
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
        phrases.about(look.criterion) or uncapital(phrases.knowledge.criteria[look.criterion].asks)
        for look in looks
    ]
    return [f"Next we would look at this: {listed(names, MOST_HIDDEN)}."] if names else []


def uncapital(text: str) -> str:
    """Text with a small first letter, unless it begins with capitals.

    >>> uncapital("Keys missing"), uncapital("LED lamps")
    ('keys missing', 'LED lamps')
    """
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def stands_said(phrases: Phrases, day: dt.date) -> str:
    """How long the offer stands.

    Args:
        phrases: the words of the letter.
        day: the date of the letter.
    """
    profile = phrases.result.workshop.letter
    if phrases.result.verdict.name == "look_further" or phrases.result.guessed:
        return "These prices are a first guess and no offer. The offer follows a closer look."
    last = day + dt.timedelta(days=profile.valid_days)
    return f"This offer stands until {profile.date(last)}."
