"""What is told of an object before anyone looks: checked against what plugins declare."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass, field

from assess.base.errors import JobFileError, hints
from assess.job.job_file import Complaint, History, Job
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of
from assess.knowledge.symptoms import Symptom


@dataclass(frozen=True)
class Told:
    """What is told, with the symptoms complained of.

    Attributes:
        history: as the job file has it; ``works`` is left out where it contradicts a complaint.
        complaints: what is complained of, with its symptom, in the order of the file.
        year: the year of the visit.
        questions: contradictions, to be asked about.
    """

    history: History = field(default_factory=History)
    complaints: tuple[tuple[Complaint, Symptom], ...] = ()
    year: int = 0
    questions: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether it is told to be usable as it is."""
        return self.history.works in ("well", "with faults")


NOTHING_TOLD = Told()


def read_history(job: Job, knowledge: Knowledge) -> Told:
    """Check what is told of the object.

    Raises:
        JobFileError: a symptom, a subsystem or a place that no plugin declares, or a year to
            come, also of when it was made; each is named with its line.
    """
    history = job.history
    year = (job.date or dt.date.today()).year
    faults = [*_unknown(job, knowledge), *_to_come(job, year)]
    if faults:
        raise JobFileError("\n".join(faults))
    if history == History():
        return NOTHING_TOLD
    symptoms = {name: s for s in knowledge.symptoms.values() for name in _names(s)}
    complaints = tuple((c, symptoms[c.symptom]) for c in history.complaint if c.symptom in symptoms)
    questions = _contradictions(job, complaints, knowledge)
    if questions:
        history = history.model_copy(update={"works": None, "used": None})
    return Told(history, complaints, year, tuple(questions))


def _names(symptom: Symptom) -> tuple[str, ...]:
    subsystem = subsystem_of(symptom.id)
    return (symptom.id, *(f"{subsystem}.{former}" for former in symptom.formerly))


def _unknown(job: Job, knowledge: Knowledge) -> list[str]:
    hint = hints()
    history = job.history
    symptoms = [name for s in knowledge.symptoms.values() for name in _names(s)]
    faults = [
        f"{job.where('history', 'complaint')}: no symptom {c.symptom!r}; "
        f"{hint(c.symptom, symptoms)}"
        for c in history.complaint
        if c.symptom not in symptoms and _is_declarable(c.symptom, knowledge)
    ]
    tables: tuple[tuple[str, list[str], Collection[str]], ...] = (
        ("overhaul", [o.subsystem for o in history.overhaul if o.subsystem], knowledge.subsystems),
        ("opened", [p for p in history.opened if _is_declarable(p, knowledge)], knowledge.places),
    )
    for key, given, known in tables:
        what = "subsystem" if key == "overhaul" else "place"
        faults += [
            f"{job.where('history', key)}: no {what} {name!r}; {hint(name, known)}"
            for name in given
            if name not in known
        ]
    return faults


def _is_declarable(identifier: str, knowledge: Knowledge) -> bool:
    """Whether an installed subsystem should declare it; a missing plugin's ids are kept."""
    return "." not in identifier or subsystem_of(identifier) in knowledge.subsystems


def _to_come(job: Job, year: int) -> list[str]:
    history = job.history
    years = [
        (("instrument", "identity", "year"), job.instrument.identity.year),
        (("history", "unused_since"), history.unused_since),
        *((("history", "overhaul"), o.year) for o in history.overhaul),
        *((("history", "complaint"), c.since) for c in history.complaint),
    ]
    return [
        f"{job.where(*keys)}: {given} is after the year of the visit ({year})"
        for keys, given in years
        if given is not None and given > year
    ]


def _contradictions(
    job: Job, complaints: tuple[tuple[Complaint, Symptom], ...], knowledge: Knowledge
) -> list[str]:
    """What is told both ways; neither is then taken as evidence that it works."""
    history, trade = job.history, knowledge.trade
    key = trade.works_key
    where = job.where("history", "works")
    questions = []
    for _, symptom in complaints:
        if symptom.stops_all and history.works in ("well", "with faults"):
            questions.append(
                f'{where}: {key} = "{history.works}" beside the complaint "{symptom.asks}": '
                "which is right?"
            )
        elif symptom.breaks and history.works == "well":
            questions.append(
                f'{where}: {key} = "well" beside the complaint "{symptom.asks}": '
                f'is it "with faults"?'
            )
    if history.works == "not at all" and history.used in ("weekly", "now and then"):
        questions.append(f'{where}: {key} = "not at all", but used {history.used}: which is right?')
    if history.unused_since and history.used in ("weekly", "now and then"):
        since = job.where("history", "unused_since")
        questions.append(
            f"{since}: not used since {history.unused_since}, but used {history.used}: "
            "which is right?"
        )
    return questions
