"""The interview in the terminal: a visit walked question by question, each answer saved at once."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum, auto
from pathlib import Path

from assess.assessment import Assessment
from assess.base.errors import JobFileError
from assess.base.list_positions import position_typed
from assess.base.units import symbol
from assess.cli.shared import to_install
from assess.grading.judgements import Judgement, State
from assess.inspection.question_places import is_danger
from assess.inspection.visit_walk import Stop, Walk
from assess.knowledge.criteria import Criterion
from assess.output.cautions import in_full, in_order
from assess.output.layout import amount, paragraph
from assess.output.visits import (
    found_by_words,
    nothing_decides_yet,
    overview,
    stop_title,
    summary,
    waiting_for_tools,
)
from assess.visit.camera_pictures import PictureError
from assess.visit.photographs import add_photograph, read_picture
from assess.visit.session import VisitSession
from assess.visit.typed_answers import read_back

HELP = """\
Type the number or the words of an answer; a measured value may carry its unit
("14 s", "3 in"). Add a note after a slash: 2/left side only. A note - takes the
old one away. Enter keeps the present answer, or passes on.
  n  not seen         x  doesn't apply      ?  how to look
  s  skip for now     b  back               o  overview by place
  v  verdict so far   h  this help          q  stop (all is saved)
  /word  go to a question    p FILE  keep a photograph of it
"""


class Move(Enum):
    """Where to go after what was typed."""

    AGAIN = auto()
    SHOWN = auto()
    ON = auto()
    SKIP = auto()
    BACK = auto()
    STOP = auto()


@dataclass
class Interview:
    """An interview over one job file, in the order of a visit.

    ``ask`` reads a line from the person (EOFError ends it), ``say`` shows text.
    """

    visit: VisitSession
    ask: Callable[[str], str]
    say: Callable[[str], None]
    passed: list[str] = field(default_factory=list)
    """Questions that were passed over; dangers among them are asked once more at the end."""
    asked_twice: set[str] = field(default_factory=set)
    saved: int = 0
    """How many answers and photographs were saved."""
    unsaved: dict[str, str] = field(default_factory=dict)
    """Answers that could not be saved, by criterion."""
    at: str = ""
    """The stop of the walk where the last question was."""
    goto: str = ""
    """A question to jump to."""

    def run(self) -> Assessment:
        """Ask until nothing is left or the person stops; the assessment as it then is."""
        self.say(HELP)
        result = self.visit.assessed()
        walk = self.visit.walk(result)
        if walk.no_tool:
            self.say(paragraph(waiting_for_tools(walk, result)))
        question = self._next(result, walk)
        if question is None:
            self.say("Nothing is left to ask.")
        while question is not None:
            move = self._question(result, walk, question)
            if move is Move.STOP:
                break
            if move is Move.SKIP or move is Move.ON:
                self.passed.append(question.id)
            result = self.visit.assessed()
            walk = self.visit.walk(result)
            question = self._after(move, result, walk, question)
        self.say(summary(result, walk))
        return result

    def _after(
        self, move: Move, result: Assessment, walk: Walk, question: Judgement
    ) -> Judgement | None:
        if self.goto:
            target, self.goto = self.goto, ""
            return result.graded.judgements[target]
        return self._before(result, question) if move is Move.BACK else self._next(result, walk)

    def _next(self, result: Assessment, walk: Walk) -> Judgement | None:
        """The next question of the walk; after the last, dangers that were passed over."""
        judgements = result.graded.judgements
        for question in walk.questions:
            if question not in self.passed:
                return judgements[question]
        for question in self.passed:
            judgement = judgements[question]
            again = question not in self.asked_twice and judgement.state is State.NO_ANSWER
            if again and is_danger(judgement):
                self.asked_twice.add(question)
                return judgement
        return None

    def _before(self, result: Assessment, question: Judgement) -> Judgement:
        """The question before this one in the walk that was answered or passed over."""
        judgements = result.graded.judgements
        sequence = self.visit.whole_walk(result).questions
        here = sequence.index(question.id) if question.id in sequence else len(sequence)
        for earlier in reversed(sequence[:here]):
            if judgements[earlier].state is not State.NO_ANSWER or earlier in self.passed:
                self.passed = [p for p in self.passed if p != earlier]
                return judgements[earlier]
        return question

    def _question(self, result: Assessment, walk: Walk, question: Judgement) -> Move:
        """Ask one question until it is answered; where to go on."""
        self._say_stop(result, walk, question)
        self._say_question(question)
        move = Move.AGAIN
        while move in (Move.AGAIN, Move.SHOWN):
            if move is Move.SHOWN:
                self._say_question(question)
            try:
                typed = self.ask("> ").strip()
            except EOFError:
                return Move.STOP
            move = self._typed(typed, question, result, walk)
        return move

    def _say_stop(self, result: Assessment, walk: Walk, question: Judgement) -> None:
        """Where to go and what to open when that changes, and how much is left."""
        stop = walk.stop_of(question.id)
        if stop is not None and stop.id != self.at:
            self.at = stop.id
            self._say_opening(result, stop)
        left = [q for q in walk.questions if q != question.id]
        clock = ""
        if self.visit.left_min is not None:
            clock = f"; {amount(self.visit.left_min)} of {amount(self.visit.agreed_min or 0)} min"
        self.say(f"\n[{len(left) + 1} left, about {amount(walk.minutes)} min{clock}]")

    def _say_opening(self, result: Assessment, stop: Stop) -> None:
        self.say(f"\n== {stop_title(stop.id, result)}")
        for place in stop.opens:
            self.say(paragraph(result.knowledge.places[place].open + ".", "  "))
            for caution in in_order(result.knowledge.places[place].open_cautions, result.knowledge):
                warning = in_full(result.knowledge.cautions[caution])
                self.say(paragraph(f"TAKE CARE: {warning}", "  "))

    def _say_question(self, question: Judgement) -> None:
        criterion = question.criterion
        self.say(paragraph(criterion.asks))
        if criterion.measured:
            unit = criterion.unit or "count"
            self.say("  how many, or 0" if unit == "count" else f"  a number in {symbol(unit)}")
        else:
            for number, outcome in enumerate(criterion.outcomes, 1):
                self.say(f"  {number}  {outcome.label}")
        if question.given:
            note = f" / {question.note}" if question.note else ""
            self.say(paragraph(f"now: {question.given}{note} (Enter keeps it)", "  "))

    def _typed(self, typed: str, question: Judgement, result: Assessment, walk: Walk) -> Move:
        """Carry out what was typed."""
        moves = {"": Move.ON, "s": Move.SKIP, "b": Move.BACK, "q": Move.STOP}
        word = typed.casefold()
        if word in moves:
            return moves[word]
        shown = {
            "h": lambda: HELP,
            "o": lambda: overview(result, self.visit.whole_walk(result), walk),
            "v": lambda: nothing_decides_yet(result) or summary(result, walk),
        }
        if word == "?":
            self.say(paragraph(question.criterion.how, "  "))
            return Move.AGAIN
        if word in shown:
            self.say(shown[word]())
            return Move.SHOWN
        if typed.startswith("/"):
            return self._jump(typed[1:].strip(), result)
        if word == "p" or word.startswith("p "):
            self._photograph(typed[1:].strip(), question.id)
            return Move.AGAIN
        return self._answer(typed, question.criterion, result)

    def _jump(self, words: str, result: Assessment) -> Move:
        """Go to a question by a word of it; several are listed to choose from."""
        found = found_by_words(words, result, self.visit.whole_walk(result))
        if not found:
            self.say(f"  no question has {words!r} in it")
            return Move.AGAIN
        if len(found) > 1:
            for number, judgement in enumerate(found, 1):
                self.say(paragraph(judgement.criterion.asks, f"  {number}  "))
            try:
                typed = self.ask("which? ").strip()
            except EOFError:
                return Move.STOP
            chosen = position_typed(typed)
            if chosen is None or not 1 <= chosen <= len(found):
                return Move.SHOWN
            found = [found[chosen - 1]]
        self.goto = found[0].id
        return Move.SKIP

    def _photograph(self, typed: str, about: str) -> None:
        """Keep a photograph of what a question asks about, or say why not."""
        if not typed:
            self.say("  p and the name of a file, such as p left_side.jpg")
            return
        file = Path(os.path.expanduser(typed.strip("\"'")))
        try:
            kept = add_photograph(self.visit.path, about, read_picture(file))
        except ModuleNotFoundError as error:
            self.say(paragraph(to_install(error, "photographs"), "  "))
        except (PictureError, JobFileError) as error:
            self.say(paragraph(f"NOT SAVED. {error}", "  "))
        else:
            self.saved += 1
            self.say(paragraph(f"kept as {kept}", "  "))

    def _answer(self, typed: str, criterion: Criterion, result: Assessment) -> Move:
        """Save an answer, unless it cannot be or could mean two things."""
        read = self.visit.read(criterion, typed)
        if read.unclear:
            self.say(paragraph(read.unclear, "  "))
            return Move.AGAIN
        try:
            saved = self.visit.save(result, criterion, read.words, read.note)
        except ValueError as error:
            self.say(paragraph(str(error), "  "))
            return Move.AGAIN
        except JobFileError as error:
            said = f"{read.words} / {read.note}" if read.note else read.words
            self.unsaved[criterion.id] = f"{criterion.id}: {said}"
            self.say(paragraph(f"NOT SAVED. {error}", "  "))
            return Move.AGAIN
        self.unsaved.pop(criterion.id, None)
        self.saved += 1
        judgement = saved.judgement
        if judgement.is_seen:
            back = read_back(criterion, saved.given)
            label = f"{back}: {judgement.outcome.label}" if back else judgement.outcome.label
            self.say(paragraph(f"{label}: class {judgement.outcome.condition}", "  "))
            for caution in in_order(judgement.outcome.cautions, result.knowledge):
                warning = in_full(result.knowledge.cautions[caution])
                self.say(paragraph(f"TAKE CARE: {warning}", "  "))
        return Move.ON
