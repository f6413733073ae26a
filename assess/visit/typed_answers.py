"""What a person types for an answer: its words or number, a note, and what is unclear about it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from assess.base.list_positions import position_typed
from assess.base.measures import grouped_or_decimal
from assess.base.units import symbol
from assess.job.answers import AnswerKind, GivenAnswer, read_answer
from assess.job.job_file import NOT_APPLICABLE, NOT_SEEN, Answer
from assess.knowledge.criteria import Criterion

SHORT = {"n": NOT_SEEN, "x": NOT_APPLICABLE}
_BARE_SHARE = re.compile(r"^\s*0?[.,](\d+)\s*$")
_BARE_DEGREES = re.compile(r"^\s*(-?\d+(?:[.,]\d+)?)\s*\u00b0\s*$")


@dataclass(frozen=True)
class Typed:
    """What was typed for one question.

    Attributes:
        words: the answer in full words.
        note: what stood after the slash.
        unclear: why it could be read in two ways, and how to write either; else empty.
    """

    words: str
    note: str = ""
    unclear: str = ""


def read_typed(typed: str, criterion: Criterion) -> Typed:
    """The answer in what was typed, and the note after a slash.

    A number chooses an outcome; ``n`` is not seen, ``x`` doesn't apply, in capitals as well. A
    measured answer may hold a slash itself ("1/8 in/left side"), so the longest part of the
    line that is an answer is taken.
    """
    parts = typed.split("/")
    for length in range(len(parts), 0, -1):
        words = _in_full("/".join(parts[:length]).strip(), criterion)
        if words and not read_answer(criterion, Answer(answer=words)).fault:
            return Typed(words, "/".join(parts[length:]).strip(), two_readings(words, criterion))
    words, _, note = (part.strip() for part in typed.partition("/"))
    return Typed(_in_full(words, criterion), note, two_readings(words, criterion))


def _in_full(words: str, criterion: Criterion) -> str:
    words = SHORT.get(words.casefold(), words)
    outcomes = criterion.outcomes
    number = None if criterion.measured else position_typed(words)
    if number is not None and 1 <= number <= len(outcomes):
        return outcomes[number - 1].label
    return words


def two_readings(words: str, criterion: Criterion) -> str:
    """Why a number could be read in two ways, and how to write either; else nothing."""
    unit = criterion.unit
    if unit is None:
        return ""
    grouped = grouped_or_decimal(words)
    if grouped:
        return grouped
    share = _BARE_SHARE.match(words) if unit == "%" else None
    if share:
        value = float(f"0.{share[1]}")
        return f"{words} could be {value:g} % or {100 * value:g} %; write it with %"
    degrees = _BARE_DEGREES.match(words) if unit in ("degC", "degF") else None
    if degrees:
        return f"{words} could be {degrees[1]} \u00b0C or {degrees[1]} \u00b0F; write which"
    return ""


def as_written(criterion: Criterion, words: str, given: GivenAnswer) -> str | int:
    """An answer as it will stand in the file: counts as numbers, bare numbers with a unit."""
    if given.kind is not AnswerKind.GIVEN:
        return str(given.kind)
    if given.outcome is not None:
        return given.outcome.label
    if criterion.unit == "count" and given.value is not None:
        return int(given.value)
    bare = not any(c.isalpha() or c in '%"\u2033\u00b0' for c in words)
    return f"{words} {criterion.unit}" if bare else words


def read_back(criterion: Criterion, given: GivenAnswer) -> str:
    """How a number was read, where its unit was not typed."""
    unit = symbol(criterion.unit)
    return f"read as {given.value:g} {unit}" if given.value is not None and unit else ""
