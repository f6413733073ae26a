"""What pages send in during a visit: saved once each, and nothing overwritten unseen.

A page keeps what is entered until it hears that it was saved, and sends it again when it does
not. So each entry has an id, and one that was saved already is only confirmed. Each entry also
says what stood in the file when the person answered: where something else stands there by now,
from another device or the terminal, nothing is changed and both are shown.
"""

from __future__ import annotations

import datetime as dt
import shutil
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from assess.assessment import Assessment
from assess.base.errors import AssessError, JobFileError
from assess.base.text_files import drop_beside
from assess.job.answers import read_answer, read_answers
from assess.job.job_file import WHOLE, Answer
from assess.job.survey_edits import NotAcceptedError
from assess.knowledge.criteria import Criterion
from assess.knowledge.surveys import Survey
from assess.pages.visit_data import (
    answer_text,
    cautions_text,
    craftsman_data,
    visit_data,
)
from assess.pages.visit_entries import (
    AnswerEntry,
    Contradicted,
    E,
    Entry,
    GridEntry,
    RecordingEntry,
    Refused,
    TellEntry,
    cell_of,
    entry_of,
    what_to_hear,
)
from assess.plugin.api import Heard
from assess.visit.camera_pictures import PictureError
from assess.visit.door_questions import DoorQuestion, door_questions
from assess.visit.heard_surveys import enter_heard, hear_recording
from assess.visit.photographs import add_photograph, thumbnail
from assess.visit.recordings import keep_recording, safe_name
from assess.visit.session import VisitSession
from assess.visit.survey_cells import fill_cells
from assess.visit.typed_answers import read_back

MOST_REMEMBERED = 5000
"""Entries whose ids are remembered; a page repeats only its latest."""
Reply = dict[str, Any]


@dataclass
class Inbox:
    """Takes what pages send, one thing at a time.

    Attributes:
        visit: the visit that it is about.
        saved: how many entries were saved.
    """

    visit: VisitSession
    saved: int = 0
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _done: OrderedDict[str, Reply] = field(default_factory=OrderedDict)
    _last: dict[str, tuple[str, str | None]] = field(default_factory=dict)
    """By question, the device that answered last, and what the file said then."""

    def data(self) -> Reply:
        """What a page shows; see :func:`assess.pages.visit_data.visit_data`."""
        with self._lock:
            return visit_data(self.visit)

    def craftsman(self) -> Mapping[str, Any]:
        """What the craftsman's own screen shows."""
        with self._lock:
            return craftsman_data(self.visit)

    def answer(self, sent: Mapping[str, Any]) -> Reply:
        """Save an answer.

        Raises:
            Refused: it is no answer to the question; the message says what would be.
            Contradicted: something else was answered meanwhile.
            JobFileError: the job file cannot be read or written now.
        """
        return self._once(entry_of(AnswerEntry, sent), self._answered)

    def tell(self, sent: Mapping[str, Any]) -> Reply:
        """Save an answer of the door; raises as :meth:`answer` does."""
        return self._once(entry_of(TellEntry, sent), self._told)

    def fill(self, sent: Mapping[str, Any]) -> Reply:
        """Save cells of a grid; raises as :meth:`answer` does."""
        return self._once(entry_of(GridEntry, sent), self._filled)

    def photograph(self, sent: Mapping[str, Any], about: str, data: bytes) -> Reply:
        """Keep a photograph; raises as :meth:`answer` does."""
        return self._once(entry_of(Entry, sent), lambda _: self._kept(about, data))

    def kept_photograph(self, about: str, number: int) -> bytes:
        """A photograph that was kept, small, as a JPEG.

        Args:
            about: full id of a criterion, or ``whole``.
            number: of the photograph, from 0.

        Raises:
            Refused: there is none, or it cannot be shown.
        """
        kept = self.visit.assessed().job.photographs.get(about, ())
        if not 0 <= number < len(kept):
            raise Refused("there is no such photograph")
        try:
            return thumbnail(self.visit.path, kept[number])
        except PictureError as error:
            raise Refused(str(error)) from None

    def hear(self, sent: Mapping[str, Any], data: IO[bytes]) -> Reply:
        """Listen to a recording, keep it, and enter what was heard.

        Listening takes seconds, in which the hooks of plugins wait; the page keeps what is
        entered meanwhile.

        Raises:
            Refused: nothing can be heard in it; the message says why. It is not kept then.
        """
        entry = entry_of(RecordingEntry, sent)
        with self._lock:
            if entry.id in self._done:
                return self._done[entry.id]
            result = self.visit.assessed()
        survey, options = what_to_hear(entry, result)
        file = keep_recording(self.visit.path, entry.name, data)
        try:
            heard = _heard_in(file, result, survey, options)
            reply = self._once(entry, lambda _: self._entered(survey, file, heard))
            if reply["file"] != file.name:  # sent twice, and the other one was entered
                drop_beside(file)
            return reply
        except BaseException:
            drop_beside(file)
            raise

    def preview(self, sent: Mapping[str, Any], data: IO[bytes]) -> Reply:
        """What is heard in a recording so far; nothing is kept or entered.

        Raises:
            Refused: nothing can be heard in it yet.
        """
        entry = entry_of(RecordingEntry, sent)
        with self._lock:
            result = self.visit.assessed()
        survey, options = what_to_hear(entry, result)
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / safe_name(entry.name)
            with file.open("wb") as written:
                shutil.copyfileobj(data, written)
            heard = _heard_in(file, result, survey, options)
        return {"rows": [{**row.key, **row.cells} for row in heard.rows], "says": heard.says}

    def _entered(self, survey: Survey, file: Path, heard: Heard) -> Reply:
        result = self.visit.assessed()
        try:
            entered = enter_heard(result, survey, [(file, heard)], dt.date.today())
        except JobFileError as error:
            raise Refused(str(error)) from None
        kept = [
            f"Kept {one.key} as entered by hand: {one.by_hand}. Heard: {one.heard}."
            for one in entered.differences
        ]
        return {"rows": entered.rows, "says": [*heard.says, *kept], "file": file.name}

    def _once(self, entry: E, save: Callable[[E], Reply]) -> Reply:
        """Save an entry, unless it was saved already."""
        with self._lock:
            if entry.id not in self._done:
                self._done[entry.id] = save(entry)
                self.saved += 1
                while len(self._done) > MOST_REMEMBERED:
                    self._done.popitem(last=False)
            return self._done[entry.id]

    def _answered(self, entry: AnswerEntry) -> Reply:
        result = self.visit.assessed()
        criterion = result.knowledge.criteria.get(entry.question)
        if criterion is None or criterion.computed_from:
            raise Refused(f"no such question: {entry.question}")
        words, note = self._read(entry, criterion)
        self._check_unchanged(entry, criterion, words, result)
        try:
            saved = self.visit.save(result, criterion, words, note)
        except ValueError as error:
            raise Refused(str(error)) from None
        self._last[criterion.id] = (entry.device, saved.given.text)
        judgement = saved.judgement
        raised = judgement.outcome.cautions if judgement.is_seen else ()
        return {
            "answer": saved.given.text,
            "read": read_back(criterion, saved.given),
            "cautions": cautions_text(raised, result.knowledge),
        }

    def _read(self, entry: AnswerEntry, criterion: Criterion) -> tuple[str, str]:
        """The words and the note of an answer.

        Raises:
            Refused: it could be read in two ways.
        """
        if entry.chosen:
            return entry.words, entry.note
        read = self.visit.read(criterion, entry.words)
        if read.unclear:
            raise Refused(read.unclear)
        return read.words, entry.note or read.note

    def _check_unchanged(
        self, entry: AnswerEntry, criterion: Criterion, words: str, result: Assessment
    ) -> None:
        """Refuse to overwrite what the person who answered has not seen."""
        now = answer_text(read_answers(result.job, result.knowledge).get(criterion.id))
        mine = read_answer(criterion, Answer(answer=words)).text
        own = self._last.get(criterion.id) == (entry.device, now)
        if now not in (None, entry.was, mine) and not own:
            raise Contradicted(now)

    def _told(self, entry: TellEntry) -> Reply:
        result = self.visit.assessed()
        questions = door_questions(result.job, self.visit.knowledge)
        question = next((q for q in questions if q.id == entry.question), None)
        if question is None:
            raise Refused(f"no such question: {entry.question}")
        try:
            value = question.value(entry.words)
        except ValueError as error:
            raise Refused(str(error)) from None
        self._check_untold(entry, question, question.words(value))
        doubts = self._tell(result, question, value)
        after = door_questions(self.visit.assessed().job, self.visit.knowledge)
        given = next((q.given for q in after if q.id == question.id), "")
        self._last[question.id] = (entry.device, given)
        return {"answer": given, "read": "", "cautions": [], "doubts": list(doubts)}

    def _check_untold(self, entry: TellEntry, question: DoorQuestion, mine: str) -> None:
        """Refuse to overwrite what the person who answered has not seen."""
        own = self._last.get(question.id) == (entry.device, question.given)
        if question.given not in ("", entry.was, mine) and not own:
            raise Contradicted(question.given)

    def _tell(self, result: Assessment, question: DoorQuestion, value: Any) -> tuple[str, ...]:
        """Save; what the file would refuse is the person's mistake, not the file's."""
        try:
            return self.visit.tell(result, question, value)
        except JobFileError as error:
            self.visit.assessed()
            raise Refused(str(error)) from None

    def _filled(self, entry: GridEntry) -> Reply:
        result = self.visit.assessed()
        survey = result.knowledge.surveys.get(entry.survey)
        if survey is None or survey.grid is None:
            raise Refused(f"no such grid: {entry.survey}")
        cells = [cell_of(cell, survey) for cell in entry.cells]
        try:
            left = fill_cells(result, survey, cells)
        except NotAcceptedError as error:
            raise Refused(str(error)) from None
        if left:
            raise Contradicted([{**vars(cell), "there": now} for cell, now in left])
        return {"cells": len(cells)}

    def _kept(self, about: str, data: bytes) -> Reply:
        result = self.visit.assessed()
        if about != WHOLE and about not in result.knowledge.criteria:
            raise Refused(f"no such question: {about}")
        try:
            return {"file": add_photograph(self.visit.path, about, data)}
        except PictureError as error:
            raise Refused(str(error)) from None
        except ModuleNotFoundError:
            raise Refused("photographs need Pillow on the laptop: pip install pillow") from None


def _heard_in(file: Path, result: Assessment, survey: Survey, options: Mapping[str, str]) -> Heard:
    """What is heard in a recording.

    Raises:
        Refused: nothing can be, or the plugin failed; the message names the file alone.
    """
    try:
        return hear_recording(result, survey, file, options)
    except AssessError as error:
        raise Refused(str(error).replace(str(file), file.name)) from None
