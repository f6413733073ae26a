"""Condition assessment and grading, by plugins that each know one subsystem.

The library face::

    import assess

    job = assess.load("job.toml")
    result = assess.assess(job)
    print(result.trade.verdict(result.verdict.name), result.plans["full"].hours.p50)

Plugins use :func:`read_declaration`, :class:`Declaration` and :data:`hookimpl`.

A name is imported when it is first asked for, so that a command loads only what it needs.
"""

import os
import sys
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
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
    from assess.base.wording import sentence
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
    from assess.plugin.hookspecs import hook_in, hookimpl
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
    "hook_in",
    "hookimpl",
    "knowledge_in_use",
    "load",
    "load_workshop",
    "not_negative",
    "positive",
    "read_declaration",
    "sentence",
    "within",
]

_MODULES = {
    "assessment": ("Assessment", "assess"),
    "base.errors": (
        "AssessError",
        "DeclarationError",
        "JobFileError",
        "KnowledgeError",
        "UserError",
        "WorkshopError",
    ),
    "base.guards": ("finite", "not_negative", "positive", "within"),
    "base.wording": ("sentence",),
    "job.job_file": ("Job",),
    "job.job_reading": ("load",),
    "job.workshop_profile": ("Workshop", "load_workshop"),
    "knowledge.declaration": ("Declaration",),
    "knowledge.knowledge_base": ("Knowledge",),
    "knowledge.toml_loader": ("read_declaration",),
    "plugin.api": (
        "Figure",
        "Flag",
        "Heard",
        "HeardRow",
        "Inspection",
        "Measurement",
        "Quantity",
        "Row",
        "Series",
        "Sheet",
    ),
    "plugin.hookspecs": ("hook_in", "hookimpl"),
    "plugin.registry": ("knowledge_in_use",),
}
_MODULE_OF = {name: module for module, names in _MODULES.items() for name in names}

_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def _use_one_thread() -> None:
    """Have numpy's matrix products use one thread, unless the user has said how many.

    They are small, and threads that wait for each other on busy cores take several times as long.
    """
    if "numpy" not in sys.modules and not any(name in os.environ for name in _THREADS):
        os.environ.update(dict.fromkeys(_THREADS, "1"))


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_MODULE_OF[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


_use_one_thread()
