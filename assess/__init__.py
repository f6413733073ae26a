"""Condition assessment and grading, by plugins that each know one subsystem.

The library face::

    import assess

    job = assess.load("job.toml")
    result = assess.assess(job)
    print(result.trade.verdict(result.verdict.name), result.plans["full"].hours.p50)

Plugins use :func:`read_declaration`, :class:`Declaration` and :data:`hookimpl`.
"""

from assess.assessment import Assessment, assess
from assess.base.errors import (
    AssessError,
    DeclarationError,
    JobFileError,
    KnowledgeError,
    UserError,
    WorkshopError,
)
from assess.base.guards import finite, not_negative, positive, within
from assess.job.job_file import Job
from assess.job.job_reading import load
from assess.job.workshop_profile import Workshop, load_workshop
from assess.knowledge.declaration import Declaration
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.toml_loader import read_declaration
from assess.plugin.api import (
    Figure,
    Flag,
    Heard,
    HeardRow,
    Inspection,
    Measurement,
    Quantity,
    Row,
    Series,
    Sheet,
)
from assess.plugin.hookspecs import hookimpl
from assess.plugin.registry import knowledge_in_use

__all__ = [
    "AssessError",
    "Assessment",
    "Declaration",
    "DeclarationError",
    "Figure",
    "Flag",
    "Heard",
    "HeardRow",
    "Inspection",
    "Job",
    "JobFileError",
    "Knowledge",
    "KnowledgeError",
    "Measurement",
    "Quantity",
    "Row",
    "Series",
    "Sheet",
    "UserError",
    "Workshop",
    "WorkshopError",
    "assess",
    "finite",
    "hookimpl",
    "knowledge_in_use",
    "load",
    "load_workshop",
    "not_negative",
    "positive",
    "read_declaration",
    "within",
]
