"""Condition assessment and grading of instruments, by plugins that each know one subsystem.

The library face::

    import assess

    job = assess.load("job.toml")
    result = assess.assess(job)
    print(result.verdict.name, result.plans["full"].hours.p50)

Plugins use :func:`read_declaration`, :class:`Declaration` and :data:`hookimpl`.
"""

from assess.assessment import Assessment, assess
from assess.catalogue import Knowledge
from assess.checks import finite, not_negative, positive, within
from assess.errors import (
    AssessError,
    DeclarationError,
    JobFileError,
    KnowledgeError,
    UserError,
    WorkshopError,
)
from assess.hookspecs import hookimpl
from assess.jobfile import Job, load
from assess.knowledge import Declaration
from assess.measuring import Figure, Inspection, Measurement, Quantity, Row, Series, Sheet
from assess.reading import read_declaration
from assess.registry import knowledge_in_use
from assess.workshop import Workshop, load_workshop

__all__ = [
    "AssessError",
    "Assessment",
    "Declaration",
    "DeclarationError",
    "Figure",
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
