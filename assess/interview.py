"""The interview in the terminal: one question at a time, each answer saved at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from assess.assessment import Assessment, assess
from assess.catalogue import Knowledge, subsystem_of
from assess.errors import JobFileError
from assess.grading import Judgement, judge_one
from assess.inspection import minutes, round_of, seen_at_visit
from assess.jobfile import (
    NOT_APPLICABLE,
    NOT_SEEN,
    Answer,
    parse,
    read_text,
    save_text,
    with_answer,
)
from assess.text.cautions import in_order
from assess.text.grades import grade_span
from assess.text.tables import amount, paragraph
from assess.workshop import Workshop

HELP = """\
Type the number or the words of an answer; a measured value may carry its unit
("14 s", "3 in"). Add a note after a slash: 2 / left side only
  n  not seen          x  doesn't apply       ?  how to tell
  s  skip for now      b  one back            q  stop (all is saved)
"""


@dataclass
class Interview:
    """An interview over one job file.

    ``ask`` reads a line from the person (EOFError ends it), ``say`` shows text.
    """

    path: Path
    knowledge: Knowledge
    workshop: Workshop
    ask: Callable[[str], str]
    say: Callable[[str], None]
    everything: bool = False
    again: bool = False
    only: str | None = None

    def run(self) -> Assessment:
        """Ask until nothing is left or the person stops; the assessment as it then is."""
        self.say(HELP)
        result = self._assessed()
        waiting = [j.id for j in self._questions(result)]
        if not waiting:
            self.say("Nothing is left to ask.")
        place = 0
        while 0 <= place < len(waiting):
            move = self._question(waiting[place], place, waiting)
            if move is None:
                break
            place = max(0, place + move)
        return self._assessed()

    def _assessed(self) -> Assessment:
        job = parse(read_text(self.path), str(self.path))
        return assess(job, knowledge=self.knowledge, workshop=self.workshop)

    def _questions(self, result: Assessment) -> list[Judgement]:
        asked = round_of(result.graded, self.knowledge, result.setting)
        return [
            j
            for j in asked
            if (self.again or j.reason == "no answer yet")
            and (self.everything or seen_at_visit(j, self.knowledge, result.setting))
            and (self.only is None or subsystem_of(j.id) == self.only)
        ]

    def _question(self, criterion_id: str, place: int, waiting: list[str]) -> int | None:
        """Ask one question until it is answered; how far to move on, or None to stop."""
        result = self._assessed()
        criterion = self.knowledge.criteria[criterion_id]
        left = [result.graded.judgements[c] for c in waiting[place:]]
        time = amount(minutes(left, self.knowledge))
        grade = grade_span(result.graded.instrument)
        self.say(f"\n[{place + 1} of {len(waiting)}; about {time} min left; grade {grade}]")
        where = self.knowledge.places[criterion.place].title if criterion.place else ""
        self.say(paragraph(criterion.asks + (f" (seen from: {where})" if where else "")))
        if criterion.measured:
            self.say(
                f"  a number in {criterion.unit}" + (", or 0" if criterion.unit == "count" else "")
            )
        else:
            for number, outcome in enumerate(criterion.outcomes, 1):
                self.say(f"  {number}  {outcome.label}")
        while True:
            try:
                typed = self.ask("> ").strip()
            except EOFError:
                return None
            move = self._command(typed, criterion_id)
            if move == "stop":
                return None
            if isinstance(move, int):
                return move

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
        judgement = judge_one(criterion, Answer(answer=words), self._assessed().setting)
        answer: str | int = words
        if criterion.unit == "count" and judgement.value is not None:
            answer = int(judgement.value)
        elif criterion.measured and judgement.value is not None:
            answer = words if not _bare(words) else f"{words} {criterion.unit}"
        save_text(self.path, with_answer(read_text(self.path), criterion_id, answer, note))
        if judgement.outcome:
            label = judgement.outcome.label
            self.say(f"  {label}: class {judgement.outcome.condition}")
            for caution in in_order(judgement.outcome.cautions, self.knowledge):
                found = self.knowledge.cautions[caution]
                text = f"TAKE CARE: {found.title}. {found.text} Defer to: {found.defer_to}."
                self.say(paragraph(text, "  "))


def _bare(words: str) -> bool:
    return not any(c.isalpha() or c in '%"\u2033\u00b0' for c in words)
