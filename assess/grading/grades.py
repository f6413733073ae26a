"""Answers to outcomes, findings and grades.

Each criterion has a class 0..3 and a weight. The deficit of a class is 0, 1/6, 1/2, 1:
triangular numbers over six, so that each class hurts more than the one before. A grade is
100 (1 - sum of weight x deficit / sum of weight). Deficits add up, so what a repair is
worth in grade points is exactly what it removes.

A criterion that is not seen counts as its best outcome in the upper bound of a grade and
as its worst in the lower: an unseen thing is never taken as fine. One that does not apply
has no weight at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from assess.base.errors import JobFileError, did_you_mean
from assess.base.units import UnitError, convert, parse_measure
from assess.job.configuration import Configuration
from assess.job.job_file import NOT_APPLICABLE, NOT_SEEN, Answer, Job
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.knowledge_base import Knowledge, subsystem_of
from assess.plugin.api import Measurement

DEFICITS = (0.0, 1 / 6, 1 / 2, 1.0)
CLASS_WORDS = ("no symptoms", "minor", "moderately strong", "major")
_CLASS_BOUNDS = tuple((a + b) / 2 for a, b in pairwise(DEFICITS))

Status = Literal["seen", "unseen", "not applicable"]


@dataclass(frozen=True)
class Judgement:
    """What is known of one criterion of one instrument.

    Attributes:
        given: the answer as it stands in the file, for evidence.
        value: the measured value in the criterion's unit, when it was measured.
        best, worst: the outcomes that remain possible; equal when seen.
        reason: why it does not apply or is not seen.
    """

    criterion: Criterion
    status: Status
    best: Outcome
    worst: Outcome
    given: str = ""
    value: float | None = None
    note: str = ""
    reason: str = ""

    @property
    def id(self) -> str:
        """The criterion's full id."""
        return self.criterion.id

    @property
    def outcome(self) -> Outcome | None:
        """The outcome, when it is seen."""
        return self.best if self.status == "seen" else None

    @property
    def counts(self) -> bool:
        """Whether it has weight: it applies to this instrument."""
        return self.status != "not applicable"


@dataclass(frozen=True)
class Grade:
    """A grade with its bounds, the class read off them, and how much was seen.

    ``best_class`` and ``worst_class`` belong to ``upper`` and ``lower``; ``coverage`` is the
    share of the weight that is seen. An empty grade (nothing applies) has weight 0.
    """

    lower: float
    upper: float
    best_class: int
    worst_class: int
    coverage: float
    weight: float

    @property
    def settled(self) -> bool:
        """Whether nothing unseen could change it."""
        return self.coverage >= 1.0


@dataclass(frozen=True)
class SubsystemGrade:
    """A subsystem's grade, its components', and whether it could be assessed at all."""

    id: str
    title: str
    grade: Grade
    components: dict[str, Grade]
    assessed: bool = True


@dataclass(frozen=True)
class Graded:
    """The whole instrument graded."""

    judgements: dict[str, Judgement]
    subsystems: dict[str, SubsystemGrade]
    instrument: Grade

    @property
    def findings(self) -> list[Judgement]:
        """What is seen with a class above 0, worst and most urgent first."""
        found = [j for j in self.judgements.values() if j.outcome and j.outcome.condition > 0]
        return sorted(found, key=_severity)

    @property
    def unseen(self) -> list[Judgement]:
        """What applies and is not seen, heaviest first."""
        waiting = [j for j in self.judgements.values() if j.status == "unseen"]
        return sorted(waiting, key=lambda j: (-j.criterion.vital, -j.criterion.weight, j.id))


def _severity(judgement: Judgement) -> tuple[bool, int, int, float, str]:
    outcome = judgement.best
    return (
        not outcome.danger,
        -outcome.how_soon,
        -outcome.condition,
        -judgement.criterion.weight,
        judgement.id,
    )


def judge(
    job: Job,
    knowledge: Knowledge,
    configuration: Configuration,
    measured: Mapping[str, Measurement] | None = None,
) -> dict[str, Judgement]:
    """Match every answer of a job with an outcome; what has no answer is unseen.

    A criterion that plugins compute takes its measurement where the file has no answer.

    Raises:
        JobFileError: answers that cannot be, each named with line, key and what would be right.
    """
    faults = _strangers(job, knowledge)
    judgements: dict[str, Judgement] = {}
    for criterion in knowledge.criteria.values():
        subsystem, name = criterion.id.split(".")
        answer = job.answers.get(subsystem, {}).get(name)
        computed = (measured or {}).get(criterion.id)
        try:
            if answer is None and (
                criterion.computed_from or (computed and computed.value is not None)
            ):
                judgements[criterion.id] = judge_computed(criterion, computed, configuration)
                continue
            judgements[criterion.id] = judge_one(criterion, answer, configuration)
        except ValueError as error:
            faults.append(f"{job.where('answers', subsystem, name)}: {error}")
    if faults:
        raise JobFileError("\n".join(faults))
    return judgements


def _strangers(job: Job, knowledge: Knowledge) -> list[str]:
    faults = []
    for subsystem, answers in job.answers.items():
        if subsystem not in knowledge.subsystems:
            continue
        known = [c.split(".")[1] for c in knowledge.criteria if subsystem_of(c) == subsystem]
        for name in answers:
            if name not in known:
                where = job.where("answers", subsystem, name)
                faults.append(f"{where}: no such criterion; {did_you_mean(name, known)}")
    return faults


def judge_one(
    criterion: Criterion, answer: Answer | None, configuration: Configuration
) -> Judgement:
    """Match one answer with an outcome.

    Raises:
        ValueError: the answer cannot be; the message says what would be right.
    """
    note = answer.note if answer else ""
    given = "" if answer is None else _shown(answer)
    if not configuration.admits(criterion.needs, criterion.excludes):
        reason = "not part of this instrument"
        return _open(criterion, "not applicable", given, note, reason)
    if answer is None:
        return _open(criterion, "unseen", given, note, "no answer yet")
    if given.casefold() == NOT_SEEN:
        return _open(criterion, "unseen", given, note, "not seen")
    if given.casefold().replace("\u2019", "'") in (NOT_APPLICABLE, "does not apply"):
        return _open(criterion, "not applicable", given, note, "doesn't apply")
    if criterion.measured:
        value = _number(criterion, answer.answer)
        outcome = criterion.outcome_for(_share(criterion, value, configuration))
        if outcome is None:
            raise ValueError(f"{value:g} {criterion.unit} fits no outcome")
        return Judgement(
            criterion, "seen", outcome, outcome, _with_unit(criterion, value), value, note
        )
    outcome = _in_words(criterion, answer.answer)
    return Judgement(criterion, "seen", outcome, outcome, outcome.label, None, note)


def judge_computed(
    criterion: Criterion, computed: Measurement | None, configuration: Configuration
) -> Judgement:
    """Match a computed value with an outcome; unseen, with what is wanted, if there is none.

    Raises:
        ValueError: the value is in a unit of another kind, or cannot be.
    """
    if not configuration.admits(criterion.needs, criterion.excludes):
        return _open(criterion, "not applicable", "", "", "not part of this instrument")
    if computed is None or computed.value is None:
        wants = computed.wants if computed else criterion.computed_from
        return _open(criterion, "unseen", "", "", f"computed; wants: {', '.join(wants)}")
    value = convert(computed.value, computed.unit, criterion.unit or computed.unit)
    low, high = criterion.possible
    outcome = criterion.outcome_for(_share(criterion, value, configuration))
    if outcome is None or not low <= value <= high:
        raise ValueError(f"computed {value:g} {criterion.unit} fits no outcome")
    inputs = ", ".join(f"{name} {text}" for name, text in computed.inputs)
    given = f"{value:.3g}" if criterion.unit == "count" else f"{value:.3g} {criterion.unit}"
    return Judgement(criterion, "seen", outcome, outcome, given, value, f"computed from {inputs}")


def _shown(answer: Answer) -> str:
    return str(answer.answer).strip()


def _open(criterion: Criterion, status: Status, given: str, note: str, reason: str) -> Judgement:
    ranked = sorted(criterion.outcomes, key=lambda o: (o.condition, o.label))
    return Judgement(criterion, status, ranked[0], ranked[-1], given, None, note, reason)


def _in_words(criterion: Criterion, given: bool | str | float) -> Outcome:
    answers = [o.label for o in criterion.outcomes]
    for outcome in criterion.outcomes:
        if isinstance(given, str) and outcome.label.casefold() == given.strip().casefold():
            return outcome
    listed = ", ".join(f'"{a}"' for a in answers)
    hint = did_you_mean(given, answers) if isinstance(given, str) else ""
    close = f"{hint} " if hint.startswith("did") else ""
    raise ValueError(
        f'no such answer "{given}"; {close}Answers: {listed}, "{NOT_SEEN}", "{NOT_APPLICABLE}"'
    )


def _number(criterion: Criterion, given: bool | str | float) -> float:
    unit = criterion.unit or ""
    if isinstance(given, bool):
        raise ValueError(f"a number in {unit} is wanted, not {str(given).lower()}")
    try:
        value = parse_measure(given, unit) if isinstance(given, str) else float(given)
    except UnitError as error:
        raise ValueError(f"{error}; a value in {unit} is wanted") from None
    low, high = criterion.possible
    if not low <= value <= high:
        most = "" if high >= 1e9 else f" and at most {high:g}"
        raise ValueError(f"{value:g} {unit} cannot be; at least {low:g}{most} is wanted")
    if unit == "count" and value != int(value):
        raise ValueError(f"{value:g} is no count; a whole number is wanted")
    return value


def _share(criterion: Criterion, value: float, configuration: Configuration) -> float:
    """The value over the product of the facts it is a share of, where they are known."""
    whole = 1.0
    for fact in criterion.share_of:
        whole *= configuration.facts.get(fact, 1.0)
    return value / whole if whole > 0 else value


def _with_unit(criterion: Criterion, value: float) -> str:
    return f"{value:g}" if criterion.unit == "count" else f"{value:g} {criterion.unit}"


def improbable(judgements: Iterable[Judgement], job: Job) -> list[str]:
    """Measured answers that are possible but improbable, as questions to the user."""
    questions = []
    for judgement in judgements:
        plausible, value = judgement.criterion.plausible, judgement.value
        if plausible and value is not None and not plausible[0] <= value <= plausible[1]:
            where = job.where("answers", *judgement.id.split("."))
            questions.append(
                f"{where}: {judgement.given} is improbable "
                f"(usually {plausible[0]:g} to {plausible[1]:g}); is it right?"
            )
    return questions


def grade_of(judgements: Iterable[Judgement]) -> Grade:
    """The grade of a set of criteria, with bounds.

    The class is read off the grade at the midpoints between the deficits of the classes,
    and is never better than that of a criterion marked vital.
    """
    counted = [j for j in judgements if j.counts]
    weight = sum(j.criterion.weight for j in counted)
    if weight == 0:
        return Grade(100.0, 100.0, 0, 0, 1.0, 0.0)
    least = sum(j.criterion.weight * DEFICITS[j.best.condition] for j in counted) / weight
    most = sum(j.criterion.weight * DEFICITS[j.worst.condition] for j in counted) / weight
    seen = sum(j.criterion.weight for j in counted if j.status == "seen") / weight
    vital = [j for j in counted if j.criterion.vital]
    return Grade(
        lower=100 * (1 - most),
        upper=100 * (1 - least),
        best_class=max([class_of(least), *(j.best.condition for j in vital)]),
        worst_class=max([class_of(most), *(j.worst.condition for j in vital)]),
        coverage=1.0 if all(j.status == "seen" for j in counted) else seen,
        weight=weight,
    )


def class_of(deficit: float) -> int:
    """The condition class whose deficit is nearest.

    >>> [class_of(d) for d in (0.0, 0.2, 0.5, 0.9)]
    [0, 1, 2, 3]
    """
    return sum(deficit > bound for bound in _CLASS_BOUNDS)


def combine_grades(grades: Iterable[tuple[float, Grade]]) -> Grade:
    """The weighted grade of several grades.

    The class is at most one better than that of the worst part, since one failed subsystem
    is not made good by three sound ones.
    """
    parts = [(w, g) for w, g in grades if g.weight > 0]
    total = sum(w for w, _ in parts)
    if total == 0:
        return Grade(100.0, 100.0, 0, 0, 1.0, 0.0)
    lower = sum(w * g.lower for w, g in parts) / total
    upper = sum(w * g.upper for w, g in parts) / total
    coverage = sum(w * g.coverage for w, g in parts) / total
    settled = all(g.settled for _, g in parts)
    return Grade(
        lower=lower,
        upper=upper,
        best_class=max(class_of(1 - upper / 100), *(g.best_class - 1 for _, g in parts)),
        worst_class=max(class_of(1 - lower / 100), *(g.worst_class - 1 for _, g in parts)),
        coverage=1.0 if settled else min(coverage, 1 - 1e-9),
        weight=total,
    )


def grade(
    judgements: dict[str, Judgement],
    knowledge: Knowledge,
    failed: AbstractSet[str] = frozenset(),
) -> Graded:
    """Grade components, subsystems and the instrument.

    A subsystem whose plugin failed, or is named in ``failed``, is shown as not assessed: its
    grade may be anything. One that declares nothing weighs as much as the others on average.
    """
    by_component: dict[str, list[Judgement]] = {c: [] for c in knowledge.components}
    by_subsystem: dict[str, list[Judgement]] = {s: [] for s in knowledge.subsystems}
    for judgement in judgements.values():
        by_component.setdefault(judgement.criterion.component, []).append(judgement)
        by_subsystem[subsystem_of(judgement.id)].append(judgement)
    subsystems = {
        s: SubsystemGrade(
            s,
            info.title,
            grade_of(by_subsystem[s]),
            {c: grade_of(js) for c, js in by_component.items() if subsystem_of(c) == s and js},
        )
        for s, info in knowledge.subsystems.items()
    }
    weights = {s: info.weight for s, info in knowledge.subsystems.items()}
    for name in failed & subsystems.keys():
        unknown = Grade(0.0, 100.0, 0, 3, 0.0, weights[name])
        subsystems[name] = SubsystemGrade(name, subsystems[name].title, unknown, {}, assessed=False)
    average = sum(weights.values()) / len(weights) if weights else 1.0
    for fault in knowledge.faults:
        name = fault.subsystem or fault.plugin
        if name not in subsystems:
            unknown = Grade(0.0, 100.0, 0, 3, 0.0, average)
            subsystems[name] = SubsystemGrade(name, name, unknown, {}, assessed=False)
            weights[name] = average
    whole = combine_grades((weights[s], g.grade) for s, g in subsystems.items())
    return Graded(judgements, subsystems, whole)
