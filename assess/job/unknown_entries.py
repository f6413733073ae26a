"""Entries of a job file that belong to a plugin which is not installed: kept, but not used."""

from __future__ import annotations

from assess.base.errors import hints
from assess.job.history import Told
from assess.job.job_file import Job
from assess.job.progress import Progress
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of


def unknown_entries(
    job: Job, knowledge: Knowledge, told: Told, progress: Progress
) -> tuple[str, ...]:
    """A line for each subsystem, symptom and step of a job file that no installed plugin knows.

    Args:
        job: what was entered.
        knowledge: what plugins declare.
        told: the complaints that they know.
        progress: the steps that they know, and those that wait for a plugin.
    """
    hint = hints()
    answers = [
        f"{job.where('answers', subsystem)}: no installed plugin knows this subsystem; "
        f"its answers are kept but not used; {hint(subsystem, knowledge.subsystems)}"
        for subsystem in job.answers
        if subsystem not in knowledge.subsystems
    ]
    known = {symptom.id for _, symptom in told.complaints}
    complaints = [
        f"{job.where('history', 'complaint')}: no installed plugin knows the symptom "
        f"{complaint.symptom!r}; it is kept but not used"
        for complaint in job.history.complaint
        if subsystem_of(complaint.symptom) not in knowledge.subsystems
        and complaint.symptom not in known
    ]
    steps = [
        f"{job.where('done')}: no installed plugin knows the step {step!r}; it is kept but not used"
        for step in progress.waiting
    ]
    return (*answers, *complaints, *steps)
