"""The interview in the terminal: one question at a time, each answer saved at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum, auto
from pathlib import Path

from assess.assessment import Assessment, assess
from assess.base.errors import JobFileError
from assess.base.text_files import read_text, save_text
from assess.base.units import symbol
from assess.base.wording import percent
from assess.grading.judgements import Judgement, State, judge_given
from assess.inspection.question_order import (
    dangers_first,
    inspection_sequence,
    is_danger,
    is_opened,
    minutes,
    seen_at_visit,
    seen_from,
)
from assess.job.answers import AnswerKind, GivenAnswer, read_answer
from assess.job.job_file import NOT_APPLICABLE, NOT_SEEN, Answer, parse, with_answer
from assess.job.workshop_profile import Workshop
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of
from assess.output.cautions import in_full, in_order
from assess.output.grades import expected_span
from assess.output.layout import amount, paragraph
from assess.output.looks import looking_helps

HELP = """\
Type the number or the words of an answer; a measured value may carry its unit
("14 s", "3 in"). Add a note after a slash: 2 / left side only
  n  not seen          x  doesn't apply       ?  how to look
  s  skip for now      b  back                q  stop (all is saved)
"""


class Move(Enum):
    """Where to go after what was typed."""

    AGAIN = auto()
    ON = auto()
    BACK = auto()
    STOP = auto()


MOVES = {"s": Move.ON, "": Move.ON, "b": Move.BACK, "q": Move.STOP}
SHORT = {"n": NOT_SEEN, "x": NOT_APPLICABLE}


@dataclass
class Interview:
    """An interview over one job file.

    ``ask`` reads a line from the person (EOFError ends it), ``say`` shows text. Questions come
    in the order in which they say most about the verdict, or part by part with ``in_order``.
    """

    path: Path
    knowledge: Knowledge
    workshop: Workshop
    ask: Callable[[str], str]
    say: Callable[[str], None]
    everything: bool = False
    again: bool = False
    only: str | None = None
    in_order: bool = False
    asked: list[str] = field(default_factory=list)
    """Criteria that were asked, in order; the last is where "back" goes."""
    saved: int = 0
    """How many answers were saved."""
    unsaved: dict[str, str] = field(default_factory=dict)
    """Answers that could not be saved, by criterion."""
    said: str = ""
    """What was last said of whether more looking helps."""

    def run(self) -> Assessment:
        """Ask until nothing is left or the person stops; the assessment as it then is."""
        self.say(HELP)
        result = self._assessed()
        question = self._next(result)
        if question is None:
            self.say("Nothing is left to ask.")
        while question is not None:
            move = self._question(result, question)
            if move is Move.STOP:
                break
            result = self._assessed()
            if move is Move.BACK:
                question = self._one_back(result, question)
                continue
            self.asked.append(question.id)
            question = self._next(result)
        return self._assessed()

    def _assessed(self) -> Assessment:
        job = parse(read_text(self.path), str(self.path), self.knowledge.trade)
        return assess(job, knowledge=self.knowledge, workshop=self.workshop)

    def _one_back(self, result: Assessment, question: Judgement) -> Judgement:
        if not self.asked:
            return question
        return result.graded.judgements[self.asked.pop()]

    def _questions(self, result: Assessment) -> list[Judgement]:
        """What may be asked, part by part, dangers first."""
        every = inspection_sequence(result.graded, result.knowledge, result.configuration)
        return [
            j
            for j in every
            if (self.again or j.state is State.NO_ANSWER)
            and is_opened(j, result.graded.judgements)
            and (self.everything or seen_at_visit(j, result.knowledge, result.configuration))
            and (self.only is None or subsystem_of(j.id) == self.only)
            and j.id not in self.asked
        ]

    def _next(self, result: Assessment) -> Judgement | None:
        """The next question: dangers, then what says most about the verdict per minute."""
        waiting = self._questions(result)
        first = dangers_first(waiting) or waiting
        if not waiting:
            return None
        if self.in_order or is_danger(first[0]):
            return first[0]
        among = {j.id for j in waiting}
        looks = result.information_value.looks(1, everything=self.everything, among=among)
        return result.graded.judgements[looks[0].criterion] if looks else waiting[0]

    def _question(self, result: Assessment, question: Judgement) -> Move:
        """Ask one question until it is answered; where to go on."""
        self._say_state(result, question)
        criterion = question.criterion
        where = seen_from(criterion, result.knowledge, result.configuration)
        self.say(paragraph(criterion.asks + (f" (seen from: {where})" if where else "")))
        if criterion.measured:
            unit = criterion.unit or "count"
            self.say("  how many, or 0" if unit == "count" else f"  a number in {symbol(unit)}")
        else:
            for number, outcome in enumerate(criterion.outcomes, 1):
                self.say(f"  {number}  {outcome.label}")
        move = Move.AGAIN
        while move is Move.AGAIN:
            try:
                typed = self.ask("> ").strip()
            except EOFError:
                return Move.STOP
            move = self._typed(typed, criterion, result)
        return move

    def _say_state(self, result: Assessment, question: Judgement) -> None:
        """Grade and verdict as they stand, how much is left, and whether looking helps."""
        left = [j for j in self._questions(result) if j.id != question.id]
        time = amount(minutes([question, *left], result.knowledge))
        self.say(f"\n[{len(left) + 1} left, about {time} min; grade {expected_span(result)}]")
        chances = list(result.chances().items())[:3]
        words = result.trade.verdict
        listed = ", ".join(f"{words(name)} {percent(chance)}" for name, chance in chances)
        self.say(paragraph(f"[so far: {listed}]"))
        if result.settled:
            said = "Settled: what is left is unlikely to change the verdict."
        else:
            said = looking_helps(result, everything=self.everything)
        if said and said != self.said:
            self.say(paragraph(said))
        self.said = said

    def _typed(self, typed: str, criterion: Criterion, result: Assessment) -> Move:
        """Carry out what was typed."""
        if typed in MOVES:
            return MOVES[typed]
        if typed == "?":
            self.say(paragraph(criterion.how, "  "))
            return Move.AGAIN
        words, note = _answer_and_note(typed, criterion)
        given = read_answer(criterion, Answer(answer=words, note=note))
        try:
            judgement = judge_given(criterion, given, result.configuration)
        except ValueError as error:
            self.say(paragraph(str(error), "  "))
            return Move.AGAIN
        if not self._save(criterion, words, given):
            return Move.AGAIN
        if judgement.is_seen:
            self.say(f"  {judgement.outcome.label}: class {judgement.outcome.condition}")
            for caution in in_order(judgement.outcome.cautions, result.knowledge):
                warning = in_full(result.knowledge.cautions[caution])
                self.say(paragraph(f"TAKE CARE: {warning}", "  "))
        return Move.ON

    def _save(self, criterion: Criterion, words: str, given: GivenAnswer) -> bool:
        """Save one answer; whether that worked."""
        answer = _as_written(criterion, words, given)
        try:
            text = with_answer(read_text(self.path), criterion.id, answer, given.note)
            save_text(self.path, text)
        except JobFileError as error:
            self.unsaved[criterion.id] = f"{criterion.id} = {words}"
            self.say(paragraph(f"NOT SAVED. {error}", "  "))
            return False
        self.unsaved.pop(criterion.id, None)
        self.saved += 1
        return True


def _answer_and_note(typed: str, criterion: Criterion) -> tuple[str, str]:
    """The answer in full words, and the note after a slash.

    A measured answer may hold a slash itself ("1 / 8 in / left side"), so the longest part of
    the line that is an answer is taken.
    """
    parts = typed.split(" / ")
    for length in range(len(parts), 1, -1) if criterion.measured else ():
        words = " / ".join(parts[:length]).strip()
        if not read_answer(criterion, Answer(answer=words)).fault:
            return words, " / ".join(parts[length:]).strip()
    words, _, note = (part.strip() for part in typed.partition(" / "))
    words = SHORT.get(words, words)
    outcomes = criterion.outcomes
    if not criterion.measured and words.isdigit() and 1 <= int(words) <= len(outcomes):
        words = outcomes[int(words) - 1].label
    return words, note


def _as_written(criterion: Criterion, words: str, given: GivenAnswer) -> str | int:
    """An answer as it will stand in the file: counts as numbers, bare numbers with a unit."""
    if given.kind is not AnswerKind.GIVEN:
        return str(given.kind)
    if given.outcome is not None:
        return given.outcome.label
    if criterion.unit == "count" and given.value is not None:
        return int(given.value)
    bare = not any(c.isalpha() or c in '%"\u2033\u00b0' for c in words)
    return f"{words} {criterion.unit}" if bare else words
