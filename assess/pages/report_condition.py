"""The first half of the report: what it is, what was looked at and what was found."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from assess.assessment import Assessment
from assess.base.units import with_symbols, with_unit
from assess.decision.rules import found_significance
from assess.grading.grades import CLASS_WORDS
from assess.grading.judgements import Judgement, State
from assess.job.job_file import WHOLE
from assess.knowledge.steps import subsystem_of
from assess.output.grades import URGENCY_WORDS
from assess.output.layout import capital
from assess.output.measures import missing_lines, value_text
from assess.pages.pictures import beside_each_other
from assess.pages.report_photographs import Photograph

LEVELS = ("none", "little", "some", "high")
BLANKS = (
    "Owner, and where it stands",
    "Maker, model and number",
    "Date or range of dates, and what it rests on",
    "Inscriptions, marks and labels",
    "Where it came from, earlier owners",
    "Length, width and height",
    "Temperature and humidity where it stands",
    "Reason for this record",
    "Examined by",
)
"""What a condition record asks for and no job file holds."""


@dataclass(frozen=True)
class Table:
    """A table of text.

    Attributes:
        caption: what it is.
        columns: headings; the first is that of the rows' names.
        rows: cells; the first names its row.
        right: columns of numbers, aligned to the right.
        notes: lines below it.
        dense: its cells are short, so that parts of it may stand beside each other.
    """

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int] = frozenset()
    notes: tuple[str, ...] = ()
    dense: bool = False

    @property
    def beside(self) -> int:
        """How many parts of it stand beside each other."""
        return beside_each_other(len(self.rows), len(self.columns)) if self.dense else 1


@dataclass(frozen=True)
class Finding:
    """Something that is not in order, with its evidence.

    Attributes:
        condition, word: its class by number and word.
        urgency: how soon.
        part: the component.
        asks, given: what was looked at and what was seen.
        means, note: its likely cause, and what was noted.
        danger: whether it is a danger to people.
        photographs: numbers of photographs of it.
    """

    condition: int
    word: str
    urgency: str
    part: str
    asks: str
    given: str
    means: str
    note: str
    danger: bool
    photographs: tuple[int, ...]


@dataclass(frozen=True)
class Plate:
    """A photograph with what it shows in words."""

    number: int
    caption: str
    uri: str
    left_out: str


@dataclass(frozen=True)
class Value:
    """A computed value, with where it comes from."""

    title: str
    value: str
    says: str
    inputs: str
    formula: str
    source: str


@dataclass(frozen=True)
class Group:
    """Things of one subsystem under its title."""

    title: str
    lines: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    values: tuple[Value, ...] = ()


def identity(result: Assessment) -> tuple[tuple[str, str], ...]:
    """What the job file says of the object, its owner's wish and its past, by name."""
    job, trade = result.job, result.trade
    history = result.told.history
    found = [
        ("What it is", capital(trade.noun)),
        ("Title of the job", job.title),
        ("Description", job.instrument.description.strip()),
        ("Inspected on", f"{job.date.day} {job.date:%B %Y}" if job.date else ""),
        ("Where it is now", history.now_at or ""),
        (capital(trade.uses), history.works or ""),
        ("Used", history.used or ""),
        ("Not used since", str(history.unused_since or "")),
        *(("Complaint", _complaint(result, number)) for number in range(len(result.complaints))),
        *(("Earlier work", line) for line in _earlier_work(result)),
        ("Significance", _significance(result)),
        ("The owner wants", _wish(result)),
    ]
    return tuple((name, text) for name, text in found if text)


def _complaint(result: Assessment, number: int) -> str:
    explained = result.complaints[number]
    words = explained.complaint.words
    return f"{explained.symptom.asks}: \u201c{words}\u201d" if words else explained.symptom.asks


def _earlier_work(result: Assessment) -> list[str]:
    subsystems = result.knowledge.subsystems
    return [
        f"{work.year}: {result.trade.scope_title(work.how_far)}"
        + (f", {subsystems[work.subsystem].title}" if work.subsystem in subsystems else "")
        for work in result.told.history.overhaul
    ]


def _significance(result: Assessment) -> str:
    stated, found = result.job.owner.significance, found_significance(result.graded)
    words = "not stated" if stated is None else f"{stated} ({LEVELS[stated]})"
    return f"{words} by the owner; {found} ({LEVELS[found]}) by what was found; 3 is the most"


def _wish(result: Assessment) -> str:
    owner = result.job.owner
    wish = result.trade.scope_title(owner.wish) if owner.wish else ""
    return "; ".join(filter(None, (wish, owner.reason_to_use)))


def build(result: Assessment) -> tuple[tuple[str, str], ...]:
    """Features and numbers that the job file states, by the question that asks for them."""
    settings, knowledge = result.configuration, result.knowledge
    found = []
    for feature in knowledge.features.values():
        if feature.id in settings.assumed:
            continue
        if feature.options:
            chosen = next((o for o in feature.options if o in settings.tags), None)
            said = feature.options[chosen].partition(":")[0] if chosen else ""
        else:
            said = "yes" if feature.id in settings.tags else "no"
        found.append((feature.asks, said))
    found += [
        (fact.asks, with_unit(_rounded(settings.facts[fact.id]), fact.unit))
        for fact in knowledge.facts.values()
        if fact.id in settings.facts and fact.id not in settings.assumed
    ]
    return tuple((name, said) for name, said in found if said)


def _rounded(value: float) -> float:
    """A number as it was stated; one that was computed, without digits that mean nothing.

    >>> _rounded(102.995), _rounded(203.2), _rounded(0.65)
    (103.0, 203.2, 0.65)
    """
    return round(value, 1) if abs(value) >= 10 else value


def plates(result: Assessment, photographs: Sequence[Photograph]) -> tuple[Plate, ...]:
    """Photographs with what they show: the whole, or a question and its answer."""
    return tuple(
        Plate(p.number, _shown(result, p), p.uri, p.left_out and f"{p.file}: {p.left_out}")
        for p in photographs
    )


def _shown(result: Assessment, photograph: Photograph) -> str:
    if photograph.about == WHOLE:
        return f"The {result.trade.noun} as a whole"
    judgement = result.graded.judgements.get(photograph.about)
    if judgement is None:
        return photograph.about
    given = f": {judgement.given}" if judgement.given else ""
    return f"{judgement.criterion.asks}{given}"


def findings(result: Assessment, photographs: Sequence[Photograph]) -> tuple[Group, ...]:
    """What is not in order, by subsystem, worst first."""
    shown: dict[str, list[int]] = {}
    for photograph in photographs:
        shown.setdefault(photograph.about, []).append(photograph.number)
    lines = {f.id: _finding(result, f, tuple(shown.get(f.id, ()))) for f in result.graded.findings}
    return tuple(
        Group(title, findings=tuple(lines[name] for name in names))
        for title, names in _by_subsystem(result, lines).items()
    )


def _finding(result: Assessment, judgement: Judgement, photographs: tuple[int, ...]) -> Finding:
    criterion, outcome = judgement.criterion, judgement.outcome
    part = result.knowledge.components.get(criterion.component)
    measured = f" ({outcome.says})" if criterion.measured and outcome.says else ""
    return Finding(
        outcome.condition,
        CLASS_WORDS[outcome.condition],
        URGENCY_WORDS[outcome.how_soon],
        part.title if part else "",
        criterion.asks,
        f"{judgement.given}{measured}",
        outcome.means,
        with_symbols(judgement.note),
        outcome.danger,
        photographs,
    )


def in_order(result: Assessment) -> tuple[Group, ...]:
    """What was looked at and is in order, by subsystem: question and answer."""
    fine = [j for j in result.graded.judgements.values() if j.is_seen and not j.outcome.condition]
    return _groups(result, {j.id: _fine_said(j) for j in fine})


def _fine_said(judgement: Judgement) -> str:
    note = f" ({with_symbols(judgement.note)})" if judgement.note else ""
    return f"{judgement.criterion.asks}: {judgement.given}{note}"


def not_seen(result: Assessment) -> tuple[Group, ...]:
    """What was not seen, by subsystem: the questions."""
    unseen = {j.id: _unseen_said(j) for j in result.graded.unseen}
    return _groups(result, unseen)


def _unseen_said(judgement: Judgement) -> str:
    note = with_symbols(judgement.note) if judgement.state is State.NOT_SEEN else ""
    return f"{judgement.criterion.asks} ({note})" if note else judgement.criterion.asks


def measurements(result: Assessment) -> tuple[Group, ...]:
    """Computed values by subsystem, with formula and uncertainty; and what is missing for more."""
    values = result.measured.values
    groups = []
    for title, names in _by_subsystem(result, values).items():
        known = [values[name] for name in names if values[name].value is not None]
        unknown = [values[name] for name in names if values[name].value is None]
        lines = missing_lines([(m.title, m.wants) for m in unknown], result.knowledge)
        found = tuple(
            Value(
                m.title,
                value_text(m),
                with_symbols(m.says),
                with_symbols(", ".join(f"{what} {text}" for what, text in m.inputs)),
                m.formula,
                m.source,
            )
            for m in known
        )
        groups.append(Group(title, lines=lines, values=found))
    return tuple(groups)


def _by_subsystem(result: Assessment, names: Iterable[str]) -> dict[str, list[str]]:
    """Full ids by the title of their subsystem, in the order of subsystems."""
    found: dict[str, list[str]] = {}
    listed = list(names)
    for subsystem in result.knowledge.subsystems.values():
        own = [name for name in listed if subsystem_of(name) == subsystem.id]
        if own:
            found[subsystem.title] = own
    return found


def _groups(result: Assessment, lines: Mapping[str, str]) -> tuple[Group, ...]:
    return tuple(
        Group(title, lines=tuple(lines[name] for name in names))
        for title, names in _by_subsystem(result, lines).items()
    )
