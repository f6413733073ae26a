"""Work done so far: the ``[[done]]`` records of a job file, in the order of the file.

Several records may be about one step, such as a test that failed and later passed; the last one
counts. Records about steps of subsystems that are not installed are kept and not used.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from assess.base.errors import JobFileError, hints
from assess.job.job_file import DoneRecord, Job
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import Step


@dataclass(frozen=True)
class Progress:
    """What has been done.

    Attributes:
        last: the last record of each step.
        waiting: steps of subsystems that are not installed.
    """

    last: dict[str, DoneRecord] = field(default_factory=dict)
    waiting: tuple[str, ...] = ()


def read_progress(job: Job, knowledge: Knowledge) -> Progress:
    """The records of a job file.

    Raises:
        JobFileError: records of unknown steps, and readings or failures of steps that are no
            tests; each is named with its line.
    """
    hint = hints()
    known = {*knowledge.steps, *(Step.finding(symptom) for symptom in knowledge.symptoms)}
    last: dict[str, DoneRecord] = {}
    waiting, faults = [], []
    heads = _heads(job)
    for number, record in enumerate(job.done):
        step = Step(" ".join(record.step.split()))
        if step in known:
            last[step] = record
            fault = _impossible(step, record, knowledge)
        elif "." in step.target and step.subsystem not in knowledge.subsystems:
            waiting.append(str(step))
            fault = ""
        else:
            fault = f"no such step {record.step!r}; {hint(step, known)}"
        if fault:
            faults.append(f"{heads[number] if number < len(heads) else job.where('done')}: {fault}")
    if faults:
        raise JobFileError("\n".join(faults))
    return Progress(last, tuple(waiting))


def _impossible(step: Step, record: DoneRecord, knowledge: Knowledge) -> str:
    """Why a record of a known step cannot be, or nothing."""
    if record.failed and step not in knowledge.hold_points:
        return f"only a hold point can fail, and {step} is none; take out failed = true"
    return ""


def _heads(job: Job) -> list[str]:
    """File, line and key of each record that stands in a table of its own."""
    return [
        f"{job.path or 'job'}:{line}: done"
        for line, text in enumerate(job.text.splitlines(), 1)
        if re.match(r"\s*\[\[\s*done\s*\]\]", text)
    ]
