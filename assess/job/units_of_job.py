"""The units that a job says its object has, checked against the declared kinds."""

from __future__ import annotations

from assess.base.errors import JobFileError
from assess.job.job_file import Job
from assess.knowledge.further_unit import FurtherUnit
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.unit_rows import unit_faults


def units_of(job: Job, knowledge: Knowledge) -> tuple[FurtherUnit, ...]:
    """The further units of a job's object, in the order of the file.

    Raises:
        JobFileError: a unit of an unknown kind, or two with one id.
    """
    only = next(iter(knowledge.units)) if len(knowledge.units) == 1 else ""
    units = tuple(
        FurtherUnit(
            id=unit.id,
            kind=unit.kind or only,
            title=unit.title or unit.id.replace("_", " "),
            on=unit.stands == "on the one before",
        )
        for unit in job.instrument.unit
    )
    faults = unit_faults(units, knowledge)
    if faults:
        where = job.where("instrument", "unit")
        raise JobFileError("\n".join(f"{where}: {fault}" for fault in faults))
    return units
