"""The answers of a job file, each read once by the rules of its criterion.

Everything that needs an answer (the configuration, the plugins' computations, the grades)
takes it from here, so that one answer never means two things.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from assess.base.errors import did_you_mean, hints
from assess.base.measures import parse_clear
from assess.base.units import UnitError, symbol, with_unit
from assess.job.job_file import NOT_APPLICABLE, NOT_SEEN, Answer, Job
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of

NO_LIMIT = 1e9
"""A bound of a declared range from which on it counts as no bound."""


class AnswerKind(StrEnum):
    """What kind of answer was given."""

    GIVEN = "given"
    NOT_SEEN = "not seen"
    NOT_APPLICABLE = "doesn't apply"


@dataclass(frozen=True)
class GivenAnswer:
    """One answer.

    Attributes:
        kind: whether something was seen at all.
        text: the answer as evidence: its words, or the number with its unit.
        outcome: the outcome that an answer in words names.
        value: the number of a measured answer, in the criterion's unit.
        note: what was written beside it.
        fault: why it cannot be read, and what would be right; empty when it can.
    """

    kind: AnswerKind
    text: str
    outcome: Outcome | None = None
    value: float | None = None
    note: str = ""
    fault: str = ""


def read_answer(criterion: Criterion, answer: Answer) -> GivenAnswer:
    """One answer by the rules of its criterion; what is wrong with it is in ``fault``."""
    text, note = str(answer.answer).strip(), answer.note
    said = text.casefold().replace("\u2019", "'")
    if said == NOT_SEEN:
        return GivenAnswer(AnswerKind.NOT_SEEN, text, note=note)
    if said in (NOT_APPLICABLE, "does not apply"):
        return GivenAnswer(AnswerKind.NOT_APPLICABLE, text, note=note)
    try:
        if criterion.measured:
            value = _number(criterion, answer.answer)
            shown = with_unit(value, criterion.unit)
            return GivenAnswer(AnswerKind.GIVEN, shown, value=value, note=note)
        outcome = _in_words(criterion, answer.answer)
        return GivenAnswer(AnswerKind.GIVEN, outcome.label, outcome, note=note)
    except ValueError as error:
        return GivenAnswer(AnswerKind.GIVEN, text, note=note, fault=str(error))


def read_answers(job: Job, knowledge: Knowledge) -> dict[str, GivenAnswer]:
    """Every answer that an installed plugin asks for, by full criterion id."""
    answers: dict[str, GivenAnswer] = {}
    for criterion in knowledge.criteria.values():
        subsystem, _, name = criterion.id.partition(".")
        found = _first_of(job.answers.get(subsystem, {}), (name, *criterion.formerly))
        if found is not None:
            answers[criterion.id] = read_answer(criterion, found)
    return answers


def unknown_answers(job: Job, knowledge: Knowledge) -> list[str]:
    """A line for every answer under an installed subsystem that no criterion of it asks for."""
    hint = hints()
    faults = []
    for subsystem, answers in job.answers.items():
        if subsystem not in knowledge.subsystems:
            continue
        known = [c.partition(".")[2] for c in knowledge.criteria if subsystem_of(c) == subsystem]
        former = {
            f for c in knowledge.criteria.values() if subsystem_of(c.id) == subsystem
            for f in c.formerly
        }  # fmt: skip
        for name in answers:
            if name not in known and name not in former:
                where = job.where("answers", subsystem, name)
                faults.append(f"{where}: no such criterion; {hint(name, known)}")
    return faults


def _first_of(answers: Mapping[str, Answer], names: tuple[str, ...]) -> Answer | None:
    return next((answers[name] for name in names if name in answers), None)


def _in_words(criterion: Criterion, given: bool | str | float) -> Outcome:
    outcome = criterion.outcome_in_words(given) if isinstance(given, str) else None
    if outcome is not None:
        return outcome
    answers = [o.label for o in criterion.outcomes]
    listed = ", ".join(f'"{a}"' for a in answers)
    hint = did_you_mean(given, answers) if isinstance(given, str) else ""
    close = f"{hint} " if hint.startswith("did") else ""
    raise ValueError(
        f'no such answer "{given}"; {close}Answers: {listed}, "{NOT_SEEN}", "{NOT_APPLICABLE}"'
    )


def _number(criterion: Criterion, given: bool | str | float) -> float:
    unit = criterion.unit or ""
    wanted = "a whole number" if unit == "count" else f"a number in {symbol(unit)}"
    if isinstance(given, bool):
        raise ValueError(f"expected {wanted}, got {str(given).lower()}")
    try:
        if isinstance(given, str):
            value = parse_clear(given, unit, criterion.possible)
        else:
            value = float(given) + 0.0
    except UnitError as error:
        raise ValueError(f"{error}; expected {wanted}") from None
    low, high = criterion.possible
    if not low <= value <= high:
        raise ValueError(f"{with_unit(value, unit)} is out of range ({range_words(low, high)})")
    if unit == "count" and value != int(value):
        raise ValueError(f"{value:g} is not a whole number")
    return value


def range_words(low: float, high: float) -> str:
    """A range of possible numbers in words.

    >>> range_words(0, 600), range_words(0, 1e9)
    ('0 to 600', '0 or more')
    """
    return f"{low:g} or more" if high >= NO_LIMIT else f"{low:g} to {high:g}"
