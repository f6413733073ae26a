"""The letter to the owner: what was found, what can be done, what it costs, what we suggest."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assess.assessment import Assessment
from assess.output.grades import title
from assess.output.layout import bullets, heading, paragraph, section, sections
from assess.pages.letter_advice import (
    OptionLine,
    advice_said,
    afterwards,
    left_out_said,
    option_lines,
    stands_said,
)
from assess.pages.letter_sentences import (
    NOTHING_HIDDEN,
    Phrases,
    StateLine,
    complaints_said,
    hidden_said,
    household_said,
    in_order_said,
    looked_at,
    meanwhile_said,
    state_lines,
)
from assess.pages.rendering import rendered

RULE = 34
PRICES = (
    "Prices and hours allow for what we have not seen. We expect 8 of 10 such jobs to end within "
    "them."
)
WEEKS = (
    "Weeks count from the day on which we begin, with drying and deliveries. The longer time "
    "allows for what we have not seen."
)
HIDDEN = "The prices above allow for this already."


@dataclass(frozen=True)
class Letter:
    """Everything that stands in the letter, in its order.

    Attributes:
        paper: the size of the page.
        sender, date, addressee: the head.
        subject, title: the line above the letter, and the job's title.
        salutation, opening: how it begins.
        looked: what was looked at, and what was not.
        told: what was complained of, with its cause.
        state, in_order: each subsystem, and what works.
        asks_meanwhile, meanwhile: may it be used until something is done.
        options, prices: the ways to go, and how their figures are meant.
        left_out: which ways are left out, and why; empty where none is.
        advice: what is recommended, and why.
        hidden, allowed: what may still turn up, and a sentence about it; empty where nothing is
            to be repaired.
        afterwards: what happens then.
        household: cautions for the household.
        keeping: how to keep it.
        stands: how long the offer stands.
        closing, sign_off, signed: how it ends.
    """

    paper: str
    sender: tuple[str, ...]
    date: str
    addressee: tuple[str, ...]
    subject: str
    title: str
    salutation: str
    opening: str
    looked: tuple[str, ...]
    told: tuple[str, ...]
    state: tuple[StateLine, ...]
    in_order: str
    asks_meanwhile: str
    meanwhile: str
    options: tuple[OptionLine, ...]
    prices: str
    left_out: str
    advice: tuple[str, ...]
    hidden: tuple[str, ...]
    allowed: str
    afterwards: tuple[str, ...]
    household: tuple[str, ...]
    keeping: str
    stands: str
    closing: str
    sign_off: str
    signed: str


def letter_of(result: Assessment, day: dt.date) -> Letter:
    """The letter as plain data.

    Args:
        result: the assessment.
        day: the date of the letter.
    """
    phrases, owner, profile = Phrases(result), result.job.owner, result.workshop.letter
    salvage, options = result.verdict.name == "salvage", option_lines(phrases, day)
    hidden = () if salvage else hidden_said(phrases)
    return Letter(
        paper=profile.paper,
        sender=profile.sender,
        date=profile.date(day),
        addressee=tuple(filter(None, (owner.name, *owner.address))),
        subject=phrases.words.subject,
        title=title(result),
        salutation=owner.salutation or (f"Dear {owner.name}," if owner.name else "Dear owner,"),
        opening=profile.opening or phrases.words.opening,
        looked=looked_at(phrases),
        told=complaints_said(phrases),
        state=state_lines(phrases),
        in_order=in_order_said(phrases),
        asks_meanwhile=phrases.words.asks_meanwhile,
        meanwhile=meanwhile_said(phrases),
        options=options,
        prices=f"{PRICES} {WEEKS}" if any(o.ready for o in options) else PRICES,
        left_out=left_out_said(phrases),
        advice=advice_said(phrases),
        hidden=hidden,
        allowed="" if salvage else HIDDEN if hidden else NOTHING_HIDDEN,
        afterwards=afterwards(phrases),
        household=household_said(phrases),
        keeping="" if salvage else phrases.words.keeping,
        stands=stands_said(phrases, day),
        closing=profile.closing or phrases.words.closing,
        sign_off=profile.sign_off,
        signed=profile.sender[0] if profile.sender else "",
    )


def letter_page(result: Assessment, day: dt.date) -> str:
    """The letter as a page to print.

    Args:
        result: the assessment.
        day: the date of the letter.
    """
    return page_of(letter_of(result, day))


def page_of(letter: Letter) -> str:
    """A letter as a page to print."""
    return rendered("letter.html", letter=letter)


def letter_text(result: Assessment, day: dt.date) -> str:
    """The letter as text for a mail.

    Args:
        result: the assessment.
        day: the date of the letter.
    """
    letter = letter_of(result, day)
    blank = "_" * RULE
    return sections(
        [
            "\n".join(letter.sender),
            letter.date,
            "\n".join(letter.addressee),
            heading(letter.subject),
            paragraph(letter.title),
            paragraph(letter.salutation),
            paragraph(letter.opening),
            section("What we looked at", paragraph(" ".join(letter.looked))),
            section("Its state", *map(paragraph, letter.told), bullets(_state_texts(letter))),
            section(letter.asks_meanwhile, paragraph(letter.meanwhile)),
            section("What can be done", bullets([_option_text(o) for o in letter.options])),
            paragraph(" ".join(filter(None, (letter.prices, letter.left_out)))),
            section("What we recommend, and why", paragraph(" ".join(letter.advice))),
            section("What may still turn up", paragraph(letter.allowed), bullets(letter.hidden))
            if letter.allowed
            else "",
            section("What happens then", paragraph(" ".join((*letter.afterwards, letter.stands)))),
            section("For your household", bullets(letter.household)) if letter.household else "",
            section("Keeping it", paragraph(letter.keeping)) if letter.keeping else "",
            paragraph(letter.closing),
            "\n".join(filter(None, (letter.sign_off, letter.signed))),
            f"Owner: date, signature    {blank}\nWorkshop: date, signature {blank}",
        ]
    )


def _state_texts(letter: Letter) -> list[str]:
    lines = [f"{s.name}: {s.condition} ({s.seen} seen). {s.found}".strip() for s in letter.state]
    return [*lines, *filter(None, [letter.in_order])]


def _option_text(option: OptionLine) -> str:
    ready = f"ready in {option.ready}" if option.ready else ""
    costs = ", ".join(filter(None, (option.price, option.work, ready)))
    return " ".join(filter(None, (f"{option.name}: {costs}.", option.gives, option.advice)))
