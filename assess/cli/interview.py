"""The interview in the terminal: one question at a time, each answer saved at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from assess.assessment import Assessment, assess
from assess.base.errors import JobFileError
from assess.decision.rules import percent
from assess.grading.judgements import Judgement, State, judge_one
from assess.inspection.question_order import (
    dangers_first,
    inspection_sequence,
    is_danger,
    minutes,
    seen_at_visit,
)
from assess.job.job_file import (
    NOT_APPLICABLE,
    NOT_SEEN,
    Answer,
    parse,
    read_text,
    save_text,
    with_answer,
)
from assess.job.workshop_profile import Workshop
from assess.knowledge.knowledge_base import Knowledge, subsystem_of
from assess.output.cautions import in_order, whom_to_ask
from assess.output.layout import amount, paragraph
from assess.output.looks import expected_span, worth_while

HELP = """\
Type the number or the words of an answer; a measured value may carry its unit
("14 s", "3 in"). Add a note after a slash: 2 / left side only
  n  not seen          x  doesn't apply       ?  how to tell
  s  skip for now      b  one back            q  stop (all is saved)
"""


@dataclass
class Interview:
    """An interview over one job file.

    ``ask`` reads a line from the person (EOFError ends it), ``say`` shows text. Questions come
    in the order in which they tell most of the verdict, or part by part with ``in_order``.
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
    """Criteria that were asked, in order; the last is what "one back" goes to."""
    told: str = ""
    """What was last said of whether more looking is worth while."""

    def run(self) -> Assessment:
        """Ask until nothing is left or the person stops; the assessment as it then is."""
        self.say(HELP)
        result = self._assessed()
        question = self._next(result)
        if question is None:
            self.say("Nothing is left to ask.")
        while question is not None:
            move = self._question(result, question)
            if move is None:
                break
            result = self._assessed()
            if move < 0:
                question = self._one_back(result, question)
                continue
            self.asked.append(question.id)
            question = self._next(result)
        return self._assessed()

    def _assessed(self) -> Assessment:
        job = parse(read_text(self.path), str(self.path))
        return assess(job, knowledge=self.knowledge, workshop=self.workshop)

    def _one_back(self, result: Assessment, question: Judgement) -> Judgement:
        if not self.asked:
            return question
        return result.graded.judgements[self.asked.pop()]

    def _questions(self, result: Assessment) -> list[Judgement]:
        """What may be asked, part by part, dangers first."""
        every = inspection_sequence(result.graded, self.knowledge, result.configuration)
        return [
            j
            for j in every
            if (self.again or j.state is State.NO_ANSWER)
            and (self.everything or seen_at_visit(j, self.knowledge, result.configuration))
            and (self.only is None or subsystem_of(j.id) == self.only)
            and j.id not in self.asked
        ]

    def _next(self, result: Assessment) -> Judgement | None:
        """The next question: dangers, then what tells most of the verdict a minute."""
        waiting = self._questions(result)
        first = dangers_first(waiting) or waiting
        if not waiting:
            return None
        if self.in_order or is_danger(first[0]):
            return first[0]
        among = {j.id for j in waiting}
        looks = result.information_value.looks(1, everything=self.everything, among=among)
        return result.graded.judgements[looks[0].criterion] if looks else waiting[0]

    def _question(self, result: Assessment, question: Judgement) -> int | None:
        """Ask one question until it is answered; where to go on, or None to stop."""
        self._say_state(result, question)
        criterion = question.criterion
        where = self.knowledge.places[criterion.place].title if criterion.place else ""
        self.say(paragraph(criterion.asks + (f" (seen from: {where})" if where else "")))
        if criterion.measured:
            counted = criterion.unit == "count"
            self.say("  how many, or 0" if counted else f"  a number in {criterion.unit}")
        else:
            for number, outcome in enumerate(criterion.outcomes, 1):
                self.say(f"  {number}  {outcome.label}")
        while True:
            try:
                typed = self.ask("> ").strip()
            except EOFError:
                return None
            move = self._command(typed, criterion.id)
            if move == "stop":
                return None
            if isinstance(move, int):
                return move

    def _say_state(self, result: Assessment, question: Judgement) -> None:
        """Grade and verdict as they stand, how much is left, and whether it is worth while."""
        left = [j for j in self._questions(result) if j.id != question.id]
        time = amount(minutes([question, *left], self.knowledge))
        grade = expected_span(result)
        self.say(f"\n[{len(left) + 1} left, about {time} min; grade {grade}]")
        chances = list(result.chances().items())[:3]
        listed = ", ".join(f"{name} {percent(chance)}" for name, chance in chances)
        self.say(paragraph(f"[so far: {listed}]"))
        worth = worth_while(result, everything=self.everything)
        if worth and worth != self.told:
            self.say(paragraph(worth))
        self.told = worth

    def _command(self, typed: str, criterion_id: str) -> int | str | None:
        """Carry out what was typed: a move, ``stop``, or None to be asked again."""
        moves = {"s": 1, "": 1, "b": -1}
        if typed in moves:
            return moves[typed]
        if typed == "q":
            return "stop"
        if typed == "?":
            self.say(paragraph(self.knowledge.criteria[criterion_id].how, "  "))
            return None
        words, _, note = typed.partition(" / ")
        words = {"n": NOT_SEEN, "x": NOT_APPLICABLE}.get(words.strip(), words.strip())
        try:
            self._save(criterion_id, words, note.strip())
        except (ValueError, JobFileError) as error:
            self.say(paragraph(str(error), "  "))
            return None
        return 1

    def _save(self, criterion_id: str, words: str, note: str) -> None:
        criterion = self.knowledge.criteria[criterion_id]
        if (
            not criterion.measured
            and words.isdigit()
            and 1 <= int(words) <= len(criterion.outcomes)
        ):
            words = criterion.outcomes[int(words) - 1].label
        judgement = judge_one(criterion, Answer(answer=words), self._assessed().configuration)
        answer: str | int = words
        if criterion.unit == "count" and judgement.value is not None:
            answer = int(judgement.value)
        elif criterion.measured and judgement.value is not None:
            answer = words if not _bare(words) else f"{words} {criterion.unit}"
        save_text(self.path, with_answer(read_text(self.path), criterion_id, answer, note))
        if judgement.is_seen:
            label = judgement.outcome.label
            self.say(f"  {label}: class {judgement.outcome.condition}")
            for caution in in_order(judgement.outcome.cautions, self.knowledge):
                found = self.knowledge.cautions[caution]
                text = f"TAKE CARE: {found.title}. {found.text} {whom_to_ask(found)}"
                self.say(paragraph(text, "  "))


def _bare(words: str) -> bool:
    return not any(c.isalpha() or c in '%"\u2033\u00b0' for c in words)
