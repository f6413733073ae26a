"""The first questions of an interview: what is told of the object before anyone looks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from assess.base.errors import JobFileError, did_you_mean
from assess.base.text_files import read_text, save_text
from assess.job.history import read_history
from assess.job.job_file import History, Job, parse, with_history
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.symptoms import Course, Symptom
from assess.output.layout import paragraph

HELP = "First what is known already. Enter passes over a question, q over all of these."
WORKS = ("well", "with faults", "partly", "not at all")
USED = ("weekly", "now and then", "not used")
COURSES: tuple[Course, ...] = get_args(Course)


class _Enough(Exception):  # noqa: N818 - not an error: the person wants no more of these
    """No more of these questions."""


@dataclass
class HistoryInterview:
    """Asks what is told, and saves it in the job file; nothing is asked again that is there.

    ``ask`` reads a line from the person (EOFError ends it), ``say`` shows text.
    """

    path: Path
    knowledge: Knowledge
    ask: Callable[[str], str]
    say: Callable[[str], None]

    def run(self) -> None:
        """Ask, and save each answer at once."""
        if self._job().history != History():
            return
        self.say(HELP)
        trade = self.knowledge.trade
        try:
            self._choice("works", f"Does it {trade.use}?", WORKS)
            self._choice("used", "How often is it used?", USED)
            self._complaints()
            self._year("unused_since", "Since which year has it not been used?")
            self._overhaul()
        except (_Enough, EOFError):
            return

    def _job(self) -> Job:
        return parse(read_text(self.path), str(self.path), self.knowledge.trade)

    def _line(self, question: str) -> str:
        self.say(paragraph(question))
        typed = self.ask("> ").strip()
        if typed.casefold() == "q":
            raise _Enough
        return typed

    def _picked(self, question: str, words: Sequence[str]) -> str:
        """One of some words, by its number or itself; empty where it is passed over."""
        listed = "  ".join(f"{number} {word}" for number, word in enumerate(words, 1))
        while True:
            typed = self._line(f"{question}  {listed}")
            if not typed:
                return ""
            if typed.isdigit() and 1 <= int(typed) <= len(words):
                return words[int(typed) - 1]
            if typed.casefold() in words:
                return typed.casefold()
            self.say(f"  {did_you_mean(typed, words)}")

    def _choice(self, key: str, question: str, words: Sequence[str]) -> None:
        picked = self._picked(question, words)
        if picked:
            self._save({key: picked})

    def _year(self, key: str, question: str) -> None:
        if self._job().history.used in ("weekly", "now and then"):
            return
        year = self._number(question)
        if year:
            self._save({key: year})

    def _number(self, question: str) -> int | None:
        while True:
            typed = self._line(question)
            if not typed:
                return None
            if typed.isdigit() and len(typed) == 4:
                return int(typed)
            self.say("  a year in four figures")

    def _complaints(self) -> None:
        symptoms = list(self.knowledge.symptoms.values())
        if not symptoms:
            return
        self.say("What is wrong with it?")
        for number, symptom in enumerate(symptoms, 1):
            self.say(f"  {number:2}  {symptom.asks}")
        chosen: list[Symptom] = []
        while True:
            typed = self._line("The numbers of all that are true, with spaces between them.")
            known, unknown = _by_number(typed, symptoms)
            if not unknown:
                chosen = known
                break
            self.say(f"  no such number: {', '.join(unknown)}")
        complaints = []
        for symptom in chosen:
            came = self._picked(f"{symptom.asks}: how did it come?", COURSES)
            complaint = {"symptom": symptom.id}
            complaints.append(complaint | ({"came": came} if came else {}))
        if complaints:
            self._save({"complaint": complaints})

    def _overhaul(self) -> None:
        year = self._number("In which year was it last overhauled?")
        if year:
            self._save({"overhaul": [{"year": year}]})

    def _save(self, changed: dict[str, Any]) -> None:
        """Put something into the file, unless it is impossible; contradictions are shown."""
        try:
            text = with_history(read_text(self.path), changed, self.knowledge.trade)
            told = read_history(parse(text, str(self.path), self.knowledge.trade), self.knowledge)
            save_text(self.path, text)
        except JobFileError as error:
            self.say(paragraph(f"NOT SAVED. {error}", "  "))
            return
        for question in told.questions:
            self.say(paragraph(question, "  "))


def _by_number(typed: str, symptoms: Sequence[Symptom]) -> tuple[list[Symptom], list[str]]:
    known, unknown = [], []
    for word in typed.replace(",", " ").split():
        if word.isdigit() and 1 <= int(word) <= len(symptoms):
            known.append(symptoms[int(word) - 1])
        else:
            unknown.append(word)
    return list(dict.fromkeys(known)), unknown
