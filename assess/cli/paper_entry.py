"""Typing in a visit form: the number of a question and its answer on each line."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from assess.assessment import Assessment
from assess.base.errors import UserError, did_you_mean
from assess.base.list_positions import MOST_FIGURES
from assess.output.layout import paragraph
from assess.visit.door_questions import door_questions
from assess.visit.question_numbers import question_numbers
from assess.visit.session import VisitSession

HELP = """\
Type the number of a question and its answer: 12 3, 40 14 s, 41 n, 12 3/left side.
D1, D2 ... are the questions at the door. An empty line ends it.
"""
_LINE = re.compile(rf"^\s*([dD]?)(\d{{1,{MOST_FIGURES}}})[.:)]?\s+(.+?)\s*$")


@dataclass
class PaperEntry:
    """Reads lines and saves each at once; ``ask`` and ``say`` are as in the interview."""

    visit: VisitSession
    ask: Callable[[str], str]
    say: Callable[[str], None]
    saved: int = 0
    unsaved: dict[str, str] = field(default_factory=dict)
    """Lines that could not be saved, by the number of the question."""

    def run(self) -> Assessment:
        """Read until an empty line or the end."""
        self.say(HELP)
        while True:
            try:
                typed = self.ask("> ").strip()
            except EOFError:
                break
            if not typed or typed.casefold() == "q":
                break
            number = typed.split()[0].rstrip(".:)").upper()
            try:
                self.say(paragraph(self._line(typed), "  "))
                self.unsaved.pop(number, None)
            except (ValueError, UserError) as error:
                self.unsaved[number] = typed
                self.say(paragraph(f"NOT SAVED. {error}", "  "))
        return self.visit.assessed()

    def _line(self, typed: str) -> str:
        """Save one line; what was saved."""
        match = _LINE.match(typed)
        if match is None:
            raise ValueError("a line is a number and an answer, such as 12 3")
        door, number, answer = match.groups()
        return self._at_door(int(number), answer) if door else self._answer(int(number), answer)

    def _answer(self, number: int, answer: str) -> str:
        result = self.visit.assessed()
        by_number = {n: c for c, n in question_numbers(result.knowledge).items()}
        if number not in by_number:
            hint = did_you_mean(str(number), map(str, by_number))
            raise ValueError(f"no question has the number {number}; {hint}")
        criterion = result.knowledge.criteria[by_number[number]]
        read = self.visit.read(criterion, answer)
        if read.unclear:
            raise ValueError(read.unclear)
        saved = self.visit.save(result, criterion, read.words, read.note)
        self.saved += 1
        return f"{criterion.asks}: {saved.given.text}"

    def _at_door(self, number: int, answer: str) -> str:
        result = self.visit.assessed()
        questions = door_questions(result.job, self.visit.knowledge)
        if not 1 <= number <= len(questions):
            raise ValueError(f"the questions at the door are D1 to D{len(questions)}")
        question = questions[number - 1]
        self.visit.tell(result, question, question.value(answer))
        self.saved += 1
        return f"{question.asks} {answer}"
