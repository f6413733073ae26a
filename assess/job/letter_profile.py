"""How a workshop writes to owners: sender, sentences, terms, and forms of dates and amounts."""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from assess.base.plain_numbers import WrittenAsNumber

NO_BREAK = "\u00a0"
DATE_PART = re.compile(r"MONTH|YYYY|DD|MM|D|M")


class LetterProfile(BaseModel):
    """What the letter takes from the workshop profile.

    Attributes:
        sender: the lines of the letterhead.
        opening, closing: first and last sentences instead of the usual ones.
        sign_off: the line above the signature.
        valid_days: how many days the offer stands.
        price_change_percent: from which rise of the price on the owner is asked first.
        paper: the size of the page.
        date_format: ``D``, ``DD``, ``M``, ``MM``, ``MONTH`` and ``YYYY`` stand for the date.
        months: the names of the months, January first.
        decimal, thousands: the marks in numbers.
        money_format: ``CURRENCY`` and ``AMOUNT`` stand for the two.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    sender: tuple[str, ...] = ()
    opening: str = ""
    closing: str = ""
    sign_off: str
    valid_days: Annotated[int, Field(ge=1, le=3650), WrittenAsNumber]
    price_change_percent: Annotated[float, Field(ge=0, le=100), WrittenAsNumber]
    paper: Literal["A4", "Letter"]
    date_format: str
    months: Annotated[tuple[str, ...], Field(min_length=12, max_length=12)]
    decimal: Annotated[str, Field(min_length=1, max_length=1)]
    thousands: Annotated[str, Field(max_length=1)]
    money_format: str

    @model_validator(mode="after")
    def _formats_are_whole(self) -> Self:
        named = set(DATE_PART.findall(self.date_format))
        if "YYYY" not in named or not named & {"D", "DD"} or not named & {"M", "MM", "MONTH"}:
            raise ValueError('date_format needs a day, a month and YYYY, as in "D MONTH YYYY"')
        if "AMOUNT" not in self.money_format or "CURRENCY" not in self.money_format:
            raise ValueError('money_format needs both words, as in "CURRENCY AMOUNT"')
        if self.decimal == self.thousands:
            raise ValueError("decimal and thousands must differ")
        return self

    def date(self, day: dt.date) -> str:
        """A date in the workshop's form."""
        parts = {
            "D": f"{day.day}",
            "DD": f"{day.day:02}",
            "M": f"{day.month}",
            "MM": f"{day.month:02}",
            "MONTH": self.months[day.month - 1],
            "YYYY": f"{day.year}",
        }
        return DATE_PART.sub(lambda found: parts[found.group()], self.date_format)

    def number(self, text: str) -> str:
        """Numbers in English form within a text, in the workshop's form."""
        thousands = NO_BREAK if self.thousands.isspace() else self.thousands
        marks = {",": thousands, ".": self.decimal}
        return re.sub(r"(?<=\d)[.,](?=\d)", lambda found: marks[found.group()], text)

    def money(self, text: str, currency: str) -> str:
        """An amount or a range of amounts in English form, with its currency."""
        whole = self.money_format.replace("AMOUNT", self.number(text), 1)
        return whole.replace("CURRENCY", currency, 1).replace(f"{currency} ", currency + NO_BREAK)
