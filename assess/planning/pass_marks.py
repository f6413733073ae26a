"""What a hold point must read, in words, and whether a reading reaches it."""

from __future__ import annotations

import math

from assess.base.units import symbol
from assess.grading.judgements import judge_given
from assess.job.answers import AnswerKind, read_answer
from assess.job.configuration import Configuration
from assess.job.job_file import Answer, AnswerText
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import Scope
from assess.knowledge.work import HoldPoint

ROUNDING = 1e-9
"""A share times a whole that is nearer than this to a whole number is that number."""


def criterion_read(hold: HoldPoint | None, knowledge: Knowledge) -> Criterion | None:
    """The criterion that a hold point reads again, where it has a pass mark."""
    if hold is None or hold.passes is None:
        return None
    return knowledge.criteria.get(hold.passes.criterion)


def pass_mark(
    hold: HoldPoint | None, scope: Scope, knowledge: Knowledge, configuration: Configuration
) -> str:
    """Every outcome with which a hold point passes, each with its range; empty without a mark."""
    criterion = criterion_read(hold, knowledge)
    if hold is None or criterion is None:
        return ""
    passing = _passing(hold, criterion, scope)
    return "; or ".join(_in_range(outcome, criterion, configuration) for outcome in passing)


def value_to_reach(
    hold: HoldPoint | None, scope: Scope, knowledge: Knowledge, configuration: Configuration
) -> str:
    """What a hold point must read, in short: ranges that touch are joined, words are listed.

    Of what is counted and judged by its share it is the count, where the whole is known.
    """
    criterion = criterion_read(hold, knowledge)
    if hold is None or criterion is None:
        return ""
    fine = _passing(hold, criterion, scope)
    if not criterion.measured:
        return "; or ".join(outcome.label for outcome in fine)
    ranges: list[tuple[float, float | None]] = []
    for low, high in sorted(_range_of(o, criterion.outcomes) for o in fine):
        if ranges and ranges[-1][1] == low:
            ranges[-1] = (ranges[-1][0], high)
        else:
            ranges.append((low, high))
    whole = _whole(criterion, configuration)
    if whole is not None and criterion.unit == "count":
        return "; or ".join(_count_words(low, high, whole) for low, high in ranges)
    return "; or ".join(_range_words(low, high, criterion, whole) for low, high in ranges)


def reading_passes(
    hold: HoldPoint,
    reading: AnswerText,
    scope: Scope,
    knowledge: Knowledge,
    configuration: Configuration,
) -> bool | None:
    """Whether a reading reaches the pass mark; None without a mark, or if it cannot be read."""
    criterion = criterion_read(hold, knowledge)
    if criterion is None or reading == "" or reading_fault(hold, reading, knowledge):
        return None
    given = read_answer(criterion, Answer(answer=reading))
    judged = judge_given(criterion, given, configuration)
    return judged.best in _passing(hold, criterion, scope) if judged.is_seen else None


def reading_fault(hold: HoldPoint, reading: AnswerText, knowledge: Knowledge) -> str:
    """Why a reading of a hold point cannot be read, and what would be right; or nothing."""
    criterion = criterion_read(hold, knowledge)
    if criterion is None:
        return ""
    given = read_answer(criterion, Answer(answer=reading))
    return given.fault if given.kind is AnswerKind.GIVEN else "a reading is what was found"


def _passing(hold: HoldPoint, criterion: Criterion, scope: Scope) -> tuple[Outcome, ...]:
    """The outcomes that are good enough within a scope."""
    if hold.passes is None:
        return ()
    most = hold.passes.at_most_class
    if scope != "full" and hold.passes.at_most_class_to_work is not None:
        most = hold.passes.at_most_class_to_work
    return tuple(o for o in criterion.outcomes if o.condition <= most)


def _range_of(outcome: Outcome, outcomes: tuple[Outcome, ...]) -> tuple[float, float | None]:
    """The values of a measured outcome: from, and up to but without; None for no end."""
    low = outcome.from_ or 0.0
    above = [o.from_ for o in outcomes if o.from_ is not None and o.from_ > low]
    return low, min(above, default=None)


def _in_range(outcome: Outcome, criterion: Criterion, configuration: Configuration) -> str:
    """An outcome in words, with its range of values where it is measured."""
    if outcome.from_ is None:
        return outcome.label
    whole = None if criterion.unit == "count" else _whole(criterion, configuration)
    values = _range_words(*_range_of(outcome, criterion.outcomes), criterion, whole)
    return f"{outcome.label} ({values})"


def _whole(criterion: Criterion, configuration: Configuration) -> float | None:
    """What a value is divided by that is judged by its share; None if it is not known."""
    if not criterion.share_of:
        return None
    facts = [configuration.facts.get(fact) for fact in criterion.share_of]
    known = [fact for fact in facts if fact]
    return math.prod(known) if len(known) == len(facts) else None


def _count_words(low: float, high: float | None, whole: float) -> str:
    """A range of shares as counts of a whole."""
    least = math.ceil(low * whole - ROUNDING)
    if high is None:
        return f"{least} or more of {whole:.0f}"
    last = math.ceil(high * whole - ROUNDING) - 1
    return f"{least} to {last} of {whole:.0f}" if last > least else f"{least} of {whole:.0f}"


def _range_words(
    low: float, high: float | None, criterion: Criterion, whole: float | None = None
) -> str:
    """A range of values in words; shares of a whole that is known are said in the unit itself."""
    share = bool(criterion.share_of) and whole is None
    factor, name = (100.0, "%") if share else (1.0, symbol(criterion.unit))
    if whole is not None:
        low = math.ceil(low * whole - ROUNDING)
        high = None if high is None else math.ceil(high * whole - ROUNDING)
    unit = f" {name}" if name else ""
    least = f"{low * factor:g}"
    if high is None:
        return f"{least}{unit} or more"
    if criterion.unit == "count" and not share:
        last = int(high) - 1
        return least if last <= low else f"{least} to {last}"
    if low <= 0:
        return f"under {high * factor:g}{unit}"
    return f"{least} to {high * factor:g}{unit}"
