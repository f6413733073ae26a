"""A visit over one job file: the walk as it stands, and answers saved one by one.

The interview in the terminal and the visit page both go through here, so that an answer means
the same and is saved in the same way wherever it was given. The file is read before every step;
what another device or a person's editor put in meanwhile stays.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from assess.assessment import Assessment, assess
from assess.base.text_files import edit_text, read_text
from assess.grading.judgements import Judgement, judge_given
from assess.inspection.question_places import places_to
from assess.inspection.visit_stops import VisitMeans
from assess.inspection.visit_walk import Stop, Walk
from assess.job.answers import GivenAnswer, read_answer
from assess.job.history import NOTHING_TOLD
from assess.job.job_edits import with_answer
from assess.job.job_file import Answer, Job
from assess.job.job_reading import parse
from assess.job.workshop_profile import Workshop
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of
from assess.visit.door_questions import DoorQuestion, beside_the_rest, with_told
from assess.visit.typed_answers import Typed, as_written, read_typed

Stamps = tuple[tuple[int, int, int] | None, ...]


@dataclass(frozen=True)
class Saved:
    """An answer that is in the file now: how it was read, and what it means."""

    given: GivenAnswer
    judgement: Judgement


@dataclass
class VisitSession:
    """One visit.

    Attributes:
        path: the job file.
        knowledge, workshop: what is declared, and the workshop profile.
        agreed_min: minutes agreed with the owner; None for as long as it takes.
        tools: tools in the bag besides the usual ones.
        everything: also what only the workshop shows.
        again: also what has been answered.
        only: one subsystem, or None.
        clock: seconds from any fixed moment.
    """

    path: Path
    knowledge: Knowledge
    workshop: Workshop
    agreed_min: float | None = None
    tools: frozenset[str] = frozenset()
    everything: bool = False
    again: bool = False
    only: str | None = None
    clock: Callable[[], float] = time.monotonic
    began_s: float = field(init=False)
    _last: tuple[str, Stamps, Assessment] | None = field(init=False, default=None)
    _been: tuple[str, ...] = field(init=False, default=())
    """The stops gone to so far; see :class:`assess.inspection.visit_walk.VisitMeans`."""
    _opened: frozenset[str] = field(init=False, default=frozenset())
    """Places opened in this visit."""
    _stop: Stop | None = field(init=False, default=None)
    """The stop that the walk was at when it was last worked out."""

    def __post_init__(self) -> None:
        self.began_s = self.clock()

    @property
    def spent_min(self) -> float:
        """Minutes since the visit began."""
        return (self.clock() - self.began_s) / 60

    @property
    def left_min(self) -> float | None:
        """Minutes left of those agreed; None where none were."""
        return None if self.agreed_min is None else max(0.0, self.agreed_min - self.spent_min)

    def assessed(self) -> Assessment:
        """The assessment of the file as it is now.

        Raises:
            JobFileError: the file cannot be read, or says something impossible.
        """
        text = read_text(self.path)
        if self._last is not None:
            known, stamps, result = self._last
            if known == text and stamps == _stamps(result.job):
                return result
        job = parse(text, str(self.path), self.knowledge.trade)
        stamps = _stamps(job)
        result = assess(job, knowledge=self.knowledge, workshop=self.workshop)
        self._last = (text, stamps, result)
        return result

    def walk(self, result: Assessment) -> Walk:
        """What is still to be asked, in order, and what does not fit."""
        means = VisitMeans(
            minutes=self.left_min,
            tools=self.tools,
            opened=self._opened,
            been=self._been,
            everything=self.everything,
            again=self.again,
        )
        walk = self._chosen(result, means)
        self._stop = walk.stops[0] if walk.stops else None
        return walk

    def whole_walk(self, result: Assessment) -> Walk:
        """Every question of the visit in order, answered or not, however long it takes."""
        means = VisitMeans(tools=self.tools, everything=self.everything, again=True)
        return self._chosen(result, means)

    def _chosen(self, result: Assessment, means: VisitMeans) -> Walk:
        walk = result.walk(means)
        return walk if self.only is None else walk.of(partial(_is_of, self.only))

    def read(self, criterion: Criterion, typed: str) -> Typed:
        """What was typed for a question."""
        return read_typed(typed, criterion)

    def save(self, result: Assessment, criterion: Criterion, words: str, note: str = "") -> Saved:
        """Save one answer.

        Args:
            result: the assessment that the question comes from.
            criterion: what was asked.
            words: the answer in full words, as :meth:`read` gives it.
            note: kept beside it; see :func:`assess.job.job_edits.with_answer`.

        Raises:
            ValueError: no such answer; the message says what would be right.
            JobFileError: it could not be saved.
        """
        given = read_answer(criterion, Answer(answer=words, note=note))
        if given.fault:
            raise ValueError(given.fault)
        judgement = judge_given(criterion, given, result.configuration)
        answer = as_written(criterion, words, given)
        edit_text(self.path, lambda text: with_answer(text, criterion.id, answer, note))
        self._go_to(result, criterion)
        return Saved(given, judgement)

    def tell(self, result: Assessment, question: DoorQuestion, value: Any) -> tuple[str, ...]:
        """Save one answer of the door.

        Args:
            result: the assessment that the question comes from.
            question: what was asked.
            value: as :meth:`DoorQuestion.value` gives it.

        Returns:
            Contradictions in what is told, to be asked about.

        Raises:
            JobFileError: it could not be saved, or the file would say something impossible.
        """
        knowledge = self.knowledge
        whole = beside_the_rest(result.job, question, value, knowledge)
        told = NOTHING_TOLD

        def change(text: str) -> str:
            nonlocal told
            changed = with_told(text, question, whole, knowledge)
            job = parse(changed, str(self.path), knowledge.trade)
            told = assess(job, knowledge=knowledge, workshop=self.workshop).told
            return changed

        edit_text(self.path, change)
        return told.questions

    def _go_to(self, result: Assessment, criterion: Criterion) -> None:
        """Note where the visit stands; an answer that was jumped to moves nobody."""
        if self._stop is None or criterion.id not in self._stop.questions:
            return
        self._opened |= frozenset(places_to(criterion, result.knowledge, result.configuration))
        if self._been[-1:] != (self._stop.id,):
            self._been = (*self._been, self._stop.id)


def _stamps(job: Job) -> Stamps:
    """What tells whether a survey beside a job file was changed: its size and time."""
    return tuple(_stamp(Path(job.path).parent / file) for file in job.surveys.values())


def _stamp(file: Path) -> tuple[int, int, int] | None:
    try:
        found = file.stat()
    except (OSError, ValueError):
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns


def _is_of(subsystem: str, question: str) -> bool:
    return subsystem_of(question) == subsystem
