"""What is asked at the door: what the owner tells and wants, and how the object is built.

One list for the terminal and the page. Nothing here needs looking; every answer goes into the
job file in the words of its trade, and all of it may be left out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

from assess.base.errors import shortened
from assess.base.measures import ROUGHLY, grouped_or_decimal
from assess.base.units import symbol
from assess.job.configuration import stated_tags
from assess.job.job_edits import with_history, with_value
from assess.job.job_file import History, Job, Overhaul
from assess.knowledge.declaration import Fact, Feature
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import SCOPES
from assess.knowledge.symptoms import Course

Kind = Literal["choice", "several", "year", "number", "text"]
WORKS = ("well", "with faults", "partly", "not at all")
USED = ("weekly", "now and then", "not used")
COURSES: tuple[Course, ...] = get_args(Course)
GROUPS_APART = re.compile(r"(?<=\d)[ \u00a0\u2009\u202f](?=\d{3}(?!\d))")
"""What stands between groups of thousands, as in 1 500."""
LONGEST_FIGURES = 30
"""Letters of the longest number that is read as a sum or a count; far above any that can be."""
ATTACHED = ("not at all", "a little", "much", "would not part with it")


@dataclass(frozen=True)
class DoorQuestion:
    """One question at the door.

    Attributes:
        id: table and key, such as ``history.works``.
        asks: the question.
        kind: one of some words, several of them, a year, a number or free text.
        options: what may be chosen: the value that is saved, and its words.
        left_out: values that are understood but not shown, since the object as it is stated
            cannot have them. The others keep their numbers.
        given: what the job file says already, in words; empty when nothing.
    """

    id: str
    asks: str
    kind: Kind
    options: tuple[tuple[Any, str], ...] = ()
    given: str = ""
    left_out: frozenset[Any] = frozenset()

    @property
    def shown(self) -> tuple[tuple[int, Any, str], ...]:
        """The options that are shown: number, value and words."""
        numbered = enumerate(self.options, 1)
        return tuple((n, v, words) for n, (v, words) in numbered if v not in self.left_out)

    def value(self, typed: str) -> Any:
        """The value that a person types or picks: an option by its number, words or value.

        Raises:
            ValueError: it is none; the message says what would be right.
        """
        if self.kind == "choice":
            return self._picked(typed)
        if self.kind == "several":
            return [self._picked(part) for part in typed.replace(",", " ").split()]
        if self.kind == "text":
            return typed
        return _year(typed) if self.kind == "year" else _amount(typed)

    def words(self, value: Any) -> str:
        """A value in words, as ``given`` has them."""
        titles = dict(self.options)
        if self.kind == "several":
            return ", ".join(titles[v] for v in value)
        return titles[value] if self.kind == "choice" else _said(value)

    def _picked(self, typed: str) -> Any:
        said = typed.strip().casefold()
        for number, (value, words) in enumerate(self.options, 1):
            if said in (str(number), words.casefold(), str(value).casefold()):
                return value
        kind = "number" if said.isdecimal() else "answer"
        raise ValueError(f"no such {kind}: {shortened(typed.strip())}")


def _year(typed: str) -> int:
    if len(typed) == 4 and typed.isdecimal():
        return int(typed)
    raise ValueError("a year in four figures")


def _amount(typed: str) -> float:
    """The one number in figures that a person types; "none" could be nothing, or no limit.

    Raises:
        ValueError: it is none, or could be read in two ways.
    """
    figures = GROUPS_APART.sub("", ROUGHLY.sub("", typed).strip())
    unclear = grouped_or_decimal(figures)
    if unclear:
        raise ValueError(unclear)
    if len(figures) > LONGEST_FIGURES or not re.fullmatch(r"[+-]?\d+(?:[.,]\d+)?", figures):
        raise ValueError(f'"{typed}" is not a plain number; write one number, such as 1500')
    return float(figures.replace(",", "."))


def door_questions(job: Job, knowledge: Knowledge) -> tuple[DoorQuestion, ...]:
    """Every question at the door, in order, with what the job file says already."""
    return (*_told(job, knowledge), *_wanted(job, knowledge), *_built(job, knowledge))


def _told(job: Job, knowledge: Knowledge) -> list[DoorQuestion]:
    history, trade = job.history, knowledge.trade
    symptoms = tuple((s.id, s.asks) for s in knowledge.symptoms.values())
    titles = dict(symptoms)
    complaints = ", ".join(titles.get(c.symptom, c.symptom) for c in history.complaint)
    works, used = history.works or "", history.used or ""
    questions = [
        DoorQuestion("history.works", f"Does it {trade.use}?", "choice", _same(WORKS), works),
        DoorQuestion("history.used", "How often is it used?", "choice", _same(USED), used),
    ]
    if symptoms:
        asks = "What is wrong with it?"
        questions.append(
            DoorQuestion(
                "history.complaint",
                asks,
                "several",
                symptoms,
                complaints,
                _impossible_symptoms(job, knowledge),
            )
        )
    if history.used not in ("weekly", "now and then"):
        since = _said(history.unused_since)
        asks = "Since which year has it not been used?"
        questions.append(DoorQuestion("history.unused_since", asks, "year", (), since))
    last = max((o.year for o in history.overhaul), default=None)
    asks = "In which year was it last overhauled?"
    return [*questions, DoorQuestion("history.overhaul", asks, "year", (), _said(last))]


def _impossible_symptoms(job: Job, knowledge: Knowledge) -> frozenset[str]:
    """Symptoms that the object as the job file states it cannot have; told ones are kept."""
    has, lacks = stated_tags(job, knowledge)
    told = {c.symptom for c in job.history.complaint}
    return frozenset(
        s.id
        for s in knowledge.symptoms.values()
        if s.id not in told and not (lacks.isdisjoint(s.needs) and has.isdisjoint(s.excludes))
    )


def _wanted(job: Job, knowledge: Knowledge) -> list[DoorQuestion]:
    owner, trade = job.owner, knowledge.trade
    scopes = tuple((trade.scope_id(s), trade.scope_title(s)) for s in reversed(SCOPES))
    wish = trade.scope_title(owner.wish) if owner.wish else ""
    attached = tuple(enumerate(ATTACHED))
    fond = ATTACHED[owner.attachment] if owner.attachment is not None else ""
    return [
        DoorQuestion("owner.wish", "How far does the owner want to go?", "choice", scopes, wish),
        DoorQuestion(
            "owner.ceiling", "The most the owner will pay", "number", (), _said(owner.ceiling)
        ),
        DoorQuestion("owner.attachment", "How attached is the owner?", "choice", attached, fond),
    ]


def _built(job: Job, knowledge: Knowledge) -> list[DoorQuestion]:
    """The features and numbers that are asked first, since much depends on them."""
    given_features, given_facts = job.instrument.features, job.instrument.facts
    questions = []
    for feature in knowledge.features.values():
        if feature.at_door:
            questions.append(_feature(feature, given_features.get(feature.id)))
    for fact in knowledge.facts.values():
        if fact.at_door:
            questions.append(_fact(fact, given_facts.get(fact.id)))
    return questions


def _feature(feature: Feature, given: bool | str | None) -> DoorQuestion:
    yes_or_no = ((True, "yes"), (False, "no"))
    options: tuple[tuple[Any, str], ...] = tuple(feature.options.items()) or yes_or_no
    said = dict(options).get(given, "") if given is not None else ""
    return DoorQuestion(f"features.{feature.id}", feature.asks, "choice", options, said)


def _fact(fact: Fact, given: float | str | None) -> DoorQuestion:
    unit = "" if fact.unit == "count" else f", in {symbol(fact.unit)}"
    return DoorQuestion(f"facts.{fact.id}", f"{fact.asks}{unit}", "number", (), _said(given))


def _same(words: Sequence[str]) -> tuple[tuple[Any, str], ...]:
    return tuple((word, word) for word in words)


def _said(value: object) -> str:
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def with_told(text: str, question: DoorQuestion, value: Any, knowledge: Knowledge) -> str:
    """The text of a job file with one answer of the door put in, all else kept.

    Args:
        text: the file as it is.
        question: what was asked.
        value: as :meth:`DoorQuestion.value` gives it; of complaints and overhauls also whole
            entries.
        knowledge: gives the words of the file.
    """
    table, _, key = question.id.partition(".")
    trade = knowledge.trade
    if question.id == "history.overhaul":
        works = value if isinstance(value, list) else [{"year": value}]
        return with_history(text, {"overhaul": works}, trade)
    if question.id == "history.complaint":
        entries = [v if isinstance(v, dict) else {"symptom": v} for v in value]
        return with_history(text, {"complaint": entries}, trade)
    if table == "history":
        return with_history(text, {key: value}, trade)
    tables = (trade.table, table) if table in ("features", "facts") else (table,)
    return with_value(text, (*tables, key), value)


def beside_the_rest(job: Job, question: DoorQuestion, value: Any, knowledge: Knowledge) -> Any:
    """A value for :func:`with_told` that keeps what the file says besides.

    A complaint that stands there already keeps its words and how it came; earlier overhauls
    stay, and the last one is only given another year.
    """
    if question.id == "history.complaint":
        known = {c.symptom: c.model_dump(exclude_none=True) for c in job.history.complaint}
        named = [v["symptom"] if isinstance(v, dict) else v for v in value]
        entries = [v if isinstance(v, dict) else {"symptom": v} for v in value]
        return [{**known.get(n, {}), **e} for n, e in zip(named, entries, strict=True)]
    if question.id == "history.overhaul":
        works = [_overhaul_in_words(o, knowledge) for o in job.history.overhaul]
        last = max(works, key=lambda o: o["year"], default={})
        return [*(o for o in works if o is not last), {**last, "year": value}]
    return value


def _overhaul_in_words(overhaul: Overhaul, knowledge: Knowledge) -> dict[str, Any]:
    """An overhaul as it stands in the file."""
    written = overhaul.model_dump(exclude_defaults=True)
    if "how_far" in written:
        written["how_far"] = knowledge.trade.scope_id(overhaul.how_far)
    return written


def nothing_told(job: Job) -> bool:
    """Whether nothing was told yet, so that the questions at the door come first."""
    return job.history == History()
