"""The first questions of an interview: what is told of the object before anyone looks at it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from assess.base.errors import JobFileError
from assess.job.job_file import Job
from assess.output.layout import paragraph
from assess.visit.door_questions import (
    COURSES,
    DoorQuestion,
    door_questions,
    nothing_told,
)
from assess.visit.session import VisitSession

HELP = "First what is known already. Enter passes over a question, q over all of these."
ON_ONE_LINE = 60
"""Characters of words up to which choices stand on the line of their question."""


class _Enough(Exception):  # noqa: N818 - not an error: the person wants no more of these
    """No more of these questions."""


@dataclass
class HistoryInterview:
    """Asks what is told, and saves it in the job file; once something is there, not again.

    ``ask`` reads a line from the person (EOFError ends it), ``say`` shows text.
    """

    visit: VisitSession
    ask: Callable[[str], str]
    say: Callable[[str], None]
    unsaved: dict[str, str] = field(default_factory=dict)
    """What could not be saved, by question."""

    def run(self) -> None:
        """Ask, and save each answer at once."""
        if not nothing_told(self._job()):
            return
        self.say(HELP)
        asked: set[str] = set()
        try:
            while question := self._next(asked):
                asked.add(question.id)
                self._put(question)
        except (_Enough, EOFError):
            return

    def _next(self, asked: set[str]) -> DoorQuestion | None:
        """The next question that is not answered; an answer may make another one needless."""
        waiting = door_questions(self._job(), self.visit.knowledge)
        return next((q for q in waiting if q.id not in asked and not q.given), None)

    def _job(self) -> Job:
        return self.visit.assessed().job

    def _line(self, question: str) -> str:
        self.say(paragraph(question))
        typed = self.ask("> ").strip()
        if typed.casefold() == "q":
            raise _Enough
        return typed

    def _put(self, question: DoorQuestion) -> None:
        """Ask one question until it is answered or passed over."""
        asks = question.asks
        shown = [(number, words) for number, _, words in question.shown]
        if sum(len(words) for _, words in shown) <= ON_ONE_LINE:
            listed = "  ".join(f"{number} {words}" for number, words in shown)
            asks = f"{asks}  {listed}".rstrip()
        else:
            self.say(asks)
            for number, words in shown:
                self.say(paragraph(words, f"  {number:2}  "))
            several = "The numbers of all that are true, with spaces between them."
            asks = several if question.kind == "several" else "The number of what is true."
        while typed := self._line(asks):
            try:
                value = question.value(typed)
            except ValueError as error:
                self.say(f"  {error}")
                continue
            if question.id == "history.complaint":
                value = [self._with_course(symptom) for symptom in value]
            if self._save(question, value):
                return

    def _with_course(self, symptom: str) -> dict[str, Any]:
        """A complaint, and how it came."""
        title = self.visit.knowledge.symptoms[symptom].asks
        listed = "  ".join(f"{number} {word}" for number, word in enumerate(COURSES, 1))
        came = DoorQuestion("", "", "choice", tuple((c, c) for c in COURSES))
        while typed := self._line(f"{title}: how did it come?  {listed}"):
            try:
                return {"symptom": symptom, "came": came.value(typed)}
            except ValueError as error:
                self.say(f"  {error}")
        return {"symptom": symptom}

    def _save(self, question: DoorQuestion, value: Any) -> bool:
        """Put something into the file, unless it is impossible; contradictions are shown."""
        try:
            doubts = self.visit.tell(self.visit.assessed(), question, value)
        except JobFileError as error:
            self.unsaved[question.id] = f"{question.id}: {value}"
            self.say(paragraph(f"NOT SAVED. {error}", "  "))
            return False
        self.unsaved.pop(question.id, None)
        for doubt in doubts:
            self.say(paragraph(doubt, "  "))
        return True
