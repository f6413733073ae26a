"""Asking each plugin to compute, one at a time: a plugin that raises costs only itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assess.base.errors import AssessError
from assess.job.answers import GivenAnswer
from assess.job.configuration import Configuration
from assess.knowledge.knowledge_base import Knowledge, PluginFault
from assess.plugin.api import Figure, Inspection, Measurement, Quantity, Row, Sheet


@dataclass(frozen=True)
class Measured:
    """What plugins computed: values by full id, amounts by repair and material, and failures."""

    values: dict[str, Measurement]
    quantities: dict[tuple[str, str], Quantity]
    faults: tuple[PluginFault, ...] = ()


def inspection_of(
    answers: Mapping[str, GivenAnswer],
    knowledge: Knowledge,
    configuration: Configuration,
    surveys: Mapping[str, tuple[Row, ...]],
) -> Inspection:
    """What plugins are given to compute from.

    Answers that cannot be read are left out here; grading names them.
    """
    values = {c: a.value for c, a in answers.items() if a.value is not None}
    words = {c: a.outcome.label.casefold() for c, a in answers.items() if a.outcome}
    units = {fact.id: fact.unit for fact in knowledge.facts.values()}
    units |= {c.id: c.unit for c in knowledge.criteria.values() if c.unit is not None}
    return Inspection(configuration.tags, configuration.facts, values, words, surveys, units)


def measure_all(knowledge: Knowledge, inspection: Inspection) -> Measured:
    """Every plugin's measurements and amounts under full ids, each plugin asked alone.

    Raises:
        AssessError: a plugin found a mistake of the user's, such as a survey row it cannot read.
    """
    values: dict[str, Measurement] = {}
    amounts: dict[tuple[str, str], Quantity] = {}
    faults: list[PluginFault] = []
    for subsystem in knowledge.subsystems:
        found, fault = _asked(knowledge, subsystem, "measure", inspection, Measurement)
        values |= {f"{subsystem}.{m.id}": m for m in found}
        faults += [fault] if fault else []
        found, fault = _asked(knowledge, subsystem, "quantities", inspection, Quantity)
        amounts |= {(f"{subsystem}.{q.repair}", f"{subsystem}.{q.material}"): q for q in found}
        faults += [fault] if fault else []
    return Measured(values, amounts, tuple(faults))


def figures_of(
    knowledge: Knowledge, inspection: Inspection
) -> tuple[dict[str, Figure], tuple[PluginFault, ...]]:
    """Every plugin's figures under full ids, and the plugins that failed to give theirs."""
    return _by_id(knowledge, inspection, "figures", Figure)


def sheets_of(
    knowledge: Knowledge, inspection: Inspection
) -> tuple[dict[str, Sheet], tuple[PluginFault, ...]]:
    """Every plugin's sheets under full ids, and the plugins that failed to give theirs."""
    return _by_id(knowledge, inspection, "sheets", Sheet)


def _by_id(
    knowledge: Knowledge, inspection: Inspection, hook: str, kind: type[Any]
) -> tuple[dict[str, Any], tuple[PluginFault, ...]]:
    things: dict[str, Any] = {}
    faults: list[PluginFault] = []
    for subsystem in knowledge.subsystems:
        found, fault = _asked(knowledge, subsystem, hook, inspection, kind)
        things |= {f"{subsystem}.{thing.id}": thing for thing in found}
        faults += [fault] if fault else []
    return things, tuple(faults)


def _asked(
    knowledge: Knowledge, subsystem: str, hook: str, inspection: Inspection, kind: type[Any]
) -> tuple[list[Any], PluginFault | None]:
    caller = getattr(knowledge.hooks.get(subsystem), hook, None)
    if caller is None or not caller.get_hookimpls():
        return [], None
    try:
        answers = [item for answer in caller(inspection=inspection) for item in answer]
    except AssessError:
        raise
    except Exception as error:
        cause = f"{type(error).__name__}: {error}"
        return [], PluginFault(subsystem, "", "", hook, cause, subsystem)
    strangers = [type(a).__name__ for a in answers if not isinstance(a, kind)]
    if strangers:
        cause = f"expected a {kind.__name__}, got {strangers[0]}"
        return [], PluginFault(subsystem, "", "", hook, cause, subsystem)
    return answers, None
