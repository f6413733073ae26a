"""Answers and computed values to outcomes: what is known of each criterion.

A criterion that is not seen keeps its best and its worst possible outcome; it is never taken
as fine.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from assess.base.errors import JobFileError
from assess.base.units import convert, with_unit
from assess.job.answers import AnswerKind, GivenAnswer, unknown_answers
from assess.job.configuration import Configuration
from assess.job.job_file import Job
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import Scope
from assess.plugin.api import Measurement


class State(StrEnum):
    """What is known of a criterion."""

    SEEN = "seen"
    NO_ANSWER = "no answer yet"
    NOT_SEEN = "not seen"
    NOT_COMPUTED = "not computed"
    DOES_NOT_APPLY = "doesn't apply"
    NOT_PRESENT = "not present"
    SAID_ALREADY = "said by another reading"


UNSEEN = frozenset({State.NO_ANSWER, State.NOT_SEEN, State.NOT_COMPUTED})
ABSENT = frozenset({State.DOES_NOT_APPLY, State.NOT_PRESENT, State.SAID_ALREADY})


@dataclass(frozen=True)
class Judgement:
    """What is known of one criterion.

    Attributes:
        best, worst: the outcomes that remain possible; equal when seen.
        given: the answer as evidence.
        value: the measured value in the criterion's unit, when it was measured.
        missing: what is missing to compute it.
        causing: positions of those outcomes that cause what keeps the object out of use
            (:mod:`assess.grading.causes`).
    """

    criterion: Criterion
    state: State
    best: Outcome
    worst: Outcome
    given: str = ""
    value: float | None = None
    note: str = ""
    missing: tuple[str, ...] = ()
    causing: frozenset[int] = frozenset()

    @property
    def id(self) -> str:
        """The criterion's full id."""
        return self.criterion.id

    @property
    def is_seen(self) -> bool:
        """Whether its outcome is known."""
        return self.state is State.SEEN

    @property
    def is_unseen(self) -> bool:
        """Whether it applies and its outcome is not known."""
        return self.state in UNSEEN

    @property
    def counts(self) -> bool:
        """Whether it has weight: it applies."""
        return self.state not in ABSENT

    @property
    def outcome(self) -> Outcome:
        """The outcome.

        Raises:
            ValueError: it is not seen; ``best`` and ``worst`` are what remains possible.
        """
        if not self.is_seen:
            raise ValueError(f"{self.id} is not seen, so it has no outcome yet")
        return self.best

    @property
    def position(self) -> int:
        """The index of its outcome, or of its best possible one, among its criterion's."""
        return next(i for i, o in enumerate(self.criterion.outcomes) if o is self.best)

    @property
    def stops_use(self) -> bool:
        """Whether what was found keeps the object out of use, or causes what does."""
        return self.outcome.stops_use or self.position in self.causing

    def calls(self, scope: Scope) -> tuple[str, ...]:
        """Repairs that what was found calls for within a scope."""
        return self.outcome.calls(scope, self.position in self.causing)


def judge(
    job: Job,
    knowledge: Knowledge,
    configuration: Configuration,
    answers: Mapping[str, GivenAnswer],
    measured: Mapping[str, Measurement] | None = None,
) -> dict[str, Judgement]:
    """Match every answer with an outcome; what has no answer is unseen.

    A criterion that plugins compute takes its measurement where the file has no answer.

    Raises:
        JobFileError: answers that cannot be, each named with line, key and what would be right.
    """
    faults = unknown_answers(job, knowledge)
    judgements: dict[str, Judgement] = {}
    for criterion in knowledge.criteria.values():
        answer, computed = answers.get(criterion.id), (measured or {}).get(criterion.id)
        has_value = computed is not None and computed.value is not None
        try:
            if answer is None and (criterion.computed_from or has_value):
                judgements[criterion.id] = judge_computed(criterion, computed, configuration)
            else:
                judgements[criterion.id] = judge_given(criterion, answer, configuration)
        except ValueError as error:
            faults.append(f"{job.where('answers', *criterion.id.split('.'))}: {error}")
    if faults:
        raise JobFileError("\n".join(faults))
    return {c: _beside(j, judgements) for c, j in judgements.items()}


def _beside(judgement: Judgement, judgements: Mapping[str, Judgement]) -> Judgement:
    """A judgement, unless the reading that it is compared with has said as much already."""
    other = judgements.get(judgement.criterion.beside or "")
    if other is None or not (judgement.is_seen and other.is_seen) or other.best.condition == 0:
        return judgement
    if judgement.best.condition > other.best.condition:
        return judgement
    return replace(judgement, state=State.SAID_ALREADY)


def judge_given(
    criterion: Criterion, answer: GivenAnswer | None, configuration: Configuration
) -> Judgement:
    """Match one answer with an outcome.

    Raises:
        ValueError: the answer cannot be; the message says what would be right.
    """
    text, note = (answer.text, answer.note) if answer else ("", "")
    if not configuration.admits(criterion.needs, criterion.excludes):
        return _open(criterion, State.NOT_PRESENT, text, note)
    if answer is None:
        return _open(criterion, State.NO_ANSWER)
    if answer.kind is AnswerKind.NOT_SEEN:
        return _open(criterion, State.NOT_SEEN, text, note)
    if answer.kind is AnswerKind.NOT_APPLICABLE:
        return _open(criterion, State.DOES_NOT_APPLY, text, note)
    if answer.fault:
        raise ValueError(answer.fault)
    outcome = answer.outcome
    if answer.value is not None:
        outcome = criterion.outcome_for(_share(criterion, answer.value, configuration))
    if outcome is None:
        raise ValueError(f"{text} fits no outcome")
    return Judgement(criterion, State.SEEN, outcome, outcome, text, answer.value, note)


def judge_computed(
    criterion: Criterion, computed: Measurement | None, configuration: Configuration
) -> Judgement:
    """Match a computed value with an outcome; unseen, with what is missing, if there is none.

    Raises:
        ValueError: the value is in a unit of another kind, or cannot be.
    """
    if not configuration.admits(criterion.needs, criterion.excludes):
        return _open(criterion, State.NOT_PRESENT)
    if computed is None or computed.value is None:
        missing = computed.wants if computed else criterion.computed_from
        return _open(criterion, State.NOT_COMPUTED, missing=missing)
    value = convert(computed.value, computed.unit, criterion.unit or computed.unit)
    low, high = criterion.possible
    outcome = criterion.outcome_for(_share(criterion, value, configuration))
    if outcome is None or not low <= value <= high:
        raise ValueError(f"computed {value:g} {criterion.unit} fits no outcome")
    inputs = ", ".join(f"{name} {text}" for name, text in computed.inputs)
    given = with_unit(float(f"{value:.3g}"), criterion.unit)
    note = f"computed from {inputs}"
    return Judgement(criterion, State.SEEN, outcome, outcome, given, value, note)


def _open(
    criterion: Criterion,
    state: State,
    given: str = "",
    note: str = "",
    missing: tuple[str, ...] = (),
) -> Judgement:
    ranked = sorted(criterion.outcomes, key=lambda o: (o.condition, o.label))
    return Judgement(criterion, state, ranked[0], ranked[-1], given, None, note, missing)


def _share(criterion: Criterion, value: float, configuration: Configuration) -> float:
    """The value over the product of the facts it is a share of, where they are known."""
    whole = 1.0
    for fact in criterion.share_of:
        whole *= configuration.facts.get(fact, 1.0)
    return value / whole if whole > 0 else value


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
