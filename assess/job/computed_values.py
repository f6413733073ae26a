"""Asking each plugin to compute, one at a time: a plugin that raises costs only itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import Any

from assess.base.errors import did_you_mean
from assess.base.units import UnitError, convert
from assess.job.answers import GivenAnswer
from assess.job.configuration import Configuration
from assess.job.csv_surveys import SurveyTable
from assess.knowledge.criteria import Criterion
from assess.knowledge.further_unit import FurtherUnit
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.plugin_faults import PluginFault
from assess.knowledge.steps import subsystem_of
from assess.plugin.api import Figure, Inspection, Measurement, Quantity, Sheet
from assess.plugin.hook_results import UnfitResultsError, checked
from assess.plugin.isolation import HookError, isolated


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
    surveys: Mapping[str, SurveyTable],
) -> Inspection:
    """What plugins are given to compute from.

    Answers that cannot be read are left out here; grading names them.
    """
    values = {c: a.value for c, a in answers.items() if a.value is not None}
    words = {c: a.outcome.label.casefold() for c, a in answers.items() if a.outcome}
    units = {fact.id: fact.unit for fact in knowledge.facts.values()}
    units |= {c.id: c.unit for c in knowledge.criteria.values() if c.unit is not None}
    rows = {name: table.rows for name, table in surveys.items()}
    places = {name: table.places for name, table in surveys.items()}
    tags, facts = configuration.tags, configuration.facts
    return Inspection(tags, facts, values, words, rows, units, places)


def measure_all(knowledge: Knowledge, inspection: Inspection) -> Measured:
    """Every plugin's measurements and amounts under full ids, each plugin asked alone.

    Raises:
        UserError: a plugin found a mistake of the user's, such as a survey row it cannot read.
    """
    values: dict[str, Measurement] = {}
    amounts: dict[tuple[str, str], Quantity] = {}
    faults: list[PluginFault] = []
    for subsystem in knowledge.subsystems:
        for unit, about in _views(knowledge, inspection):
            found, fault = _asked(knowledge, subsystem, "measure", about, Measurement)
            values |= _by_full_id(found, subsystem, unit, values, knowledge)
            faults += [fault] if fault else []
            found, fault = _asked(knowledge, subsystem, "quantities", about, Quantity)
            amounts |= _amounts(found, subsystem, unit, knowledge)
            faults += [fault] if fault else []
    return Measured(values, amounts, tuple(dict.fromkeys(faults)))


def with_computed_facts(
    configuration: Configuration, measured: Measured, knowledge: Knowledge
) -> Configuration:
    """The configuration with facts that plugins computed in the place of what was assumed.

    A measurement whose id is that of a fact gives the fact where the job file does not.
    """
    computed: dict[str, float] = {}
    for name, found in measured.values.items():
        fact = knowledge.facts.get(name.partition(".")[2])
        if fact is None or found.value is None or fact.id not in configuration.assumed:
            continue
        value = convert(found.value, found.unit, fact.unit)
        if fact.possible[0] <= value <= fact.possible[1]:
            computed[fact.id] = value
    if not computed:
        return configuration
    assumed = {name: said for name, said in configuration.assumed.items() if name not in computed}
    return replace(configuration, facts=configuration.facts | computed, assumed=assumed)


def _views(
    knowledge: Knowledge, inspection: Inspection
) -> list[tuple[FurtherUnit | None, Inspection]]:
    """What plugins are given for the first unit, and for each further one as if it were first."""
    by_kind: dict[str, list[str]] = {}
    for survey in knowledge.surveys.values():
        by_kind.setdefault(survey.each or "", []).append(survey.id)
    told = [name for kind, names in by_kind.items() if kind for name in names]
    units = knowledge.further_units
    return [
        (None, inspection.of_first_unit(told if units else ())),
        *((unit, inspection.of_unit(unit, by_kind.get(unit.kind, ()))) for unit in units),
    ]


def _by_full_id(
    found: Iterable[Any],
    subsystem: str,
    unit: FurtherUnit | None,
    first: Mapping[str, Any],
    knowledge: Knowledge,
) -> dict[str, Any]:
    """What a plugin gave, by full id.

    Of a further unit only what differs from the first's, or answers a criterion of its own.
    """
    things = {f"{subsystem}.{thing.id}": thing for thing in found}
    if unit is None:
        return things
    return {
        unit.own(name): replace(thing, id=unit.own(thing.id), title=f"{thing.title} ({unit.title})")
        for name, thing in things.items()
        if thing != first.get(name) or unit.own(name) in knowledge.criteria
    }


def _amounts(
    found: Iterable[Quantity], subsystem: str, unit: FurtherUnit | None, knowledge: Knowledge
) -> dict[tuple[str, str], Quantity]:
    """Amounts by repair and material; of a further unit only those of its own repairs."""
    amounts = {}
    for q in found:
        repair = f"{subsystem}.{q.repair}"
        repair = unit.own(repair) if unit else repair
        if repair in knowledge.repairs:
            amounts[repair, f"{subsystem}.{q.material}"] = q
    return amounts


def figures_of(
    knowledge: Knowledge, inspection: Inspection
) -> tuple[dict[str, Figure], tuple[PluginFault, ...]]:
    """Every plugin's figures under full ids, and the plugins that failed to give theirs."""
    return _of_each_plugin(knowledge, inspection, "figures", Figure)


def sheets_of(
    knowledge: Knowledge, inspection: Inspection
) -> tuple[dict[str, Sheet], tuple[PluginFault, ...]]:
    """Every plugin's sheets under full ids, and the plugins that failed to give theirs."""
    return _of_each_plugin(knowledge, inspection, "sheets", Sheet)


def _of_each_plugin(
    knowledge: Knowledge, inspection: Inspection, hook: str, kind: type[Any]
) -> tuple[dict[str, Any], tuple[PluginFault, ...]]:
    things: dict[str, Any] = {}
    faults: list[PluginFault] = []
    for subsystem in knowledge.subsystems:
        for unit, about in _views(knowledge, inspection):
            found, fault = _asked(knowledge, subsystem, hook, about, kind)
            things |= _by_full_id(found, subsystem, unit, things, knowledge)
            faults += [fault] if fault else []
    return things, tuple(dict.fromkeys(faults))


def _asked(
    knowledge: Knowledge, subsystem: str, hook: str, inspection: Inspection, kind: type[Any]
) -> tuple[list[Any], PluginFault | None]:
    """What one plugin's hook yields, checked; nothing, with the fault, when it cannot be used."""
    caller = getattr(knowledge.hooks.get(subsystem), hook, None)
    if caller is None or not caller.get_hookimpls():
        return [], None
    provider = knowledge.provider_of(subsystem)
    # Frozen is no lock: what one plugin does to it, the next must not see.
    own = replace(inspection)

    def call() -> list[Any]:
        given = (item for answer in caller(inspection=own) for item in answer)
        try:
            answers = checked(hook, kind, given)
            _refuse(answers, kind, subsystem, knowledge)
        except UnfitResultsError as error:
            raise HookError(hook, str(error)) from error
        return answers

    try:
        return isolated(hook, call, provider), None
    except HookError as error:
        return [], PluginFault(provider, hook, error.cause, subsystem)


def _refuse(answers: Sequence[Any], kind: type[Any], subsystem: str, knowledge: Knowledge) -> None:
    """Refuse what does not fit the plugin's own declaration."""
    faults: list[str] = []
    if kind is Quantity:
        faults = [_quantity_fault(q, subsystem, knowledge) for q in answers]
    if kind is Measurement:
        given = {m.id for m in answers}
        faults = [_measurement_fault(m, given, subsystem, knowledge) for m in answers]
    found = [fault for fault in faults if fault]
    if found:
        raise UnfitResultsError("\n".join(found))


def _measurement_fault(
    measured: Measurement, given: AbstractSet[str], subsystem: str, knowledge: Knowledge
) -> str:
    criterion = knowledge.criteria.get(f"{subsystem}.{measured.id}")
    if criterion is not None:
        # Where a plugin of the engine is out of range, so is a reading; grading names it.
        is_own = knowledge.provider_of(subsystem).is_own
        fault = _unit_fault(measured, criterion.unit)
        return fault or ("" if is_own else _range_fault(measured, criterion))
    fact = knowledge.facts.get(measured.id)
    if fact is not None:
        return _unit_fault(measured, fact.unit)
    waiting = [
        c.id.partition(".")[2]
        for c in knowledge.criteria.values()
        if c.computed_from and subsystem_of(c.id) == subsystem
    ]
    near = get_close_matches(measured.id, [w for w in waiting if w not in given], 1, 0.75)
    return f'{measured.id!r} answers no criterion; did you mean "{near[0]}"?' if near else ""


def _unit_fault(measured: Measurement, unit: str | None) -> str:
    if unit is None:
        return f"{measured.id!r} is a criterion asked in words; it takes no measurement"
    try:
        convert(1.0, measured.unit, unit)
    except UnitError as error:
        return f"the unit of {measured.id!r}: {error}"
    return ""


def _range_fault(measured: Measurement, criterion: Criterion) -> str:
    if measured.value is None:
        return ""
    value = convert(measured.value, measured.unit, criterion.unit or measured.unit)
    low, high = criterion.possible
    if low <= value <= high:
        return ""
    inputs = ", ".join(f"{name} {text}" for name, text in measured.inputs)
    return (
        f"the value of {measured.id!r} is {value:g} {criterion.unit}, but only {low:g} to {high:g} "
        f"is possible{f' (from {inputs})' if inputs else ''}"
    )


def _quantity_fault(quantity: Quantity, subsystem: str, knowledge: Knowledge) -> str:
    repair_id = f"{subsystem}.{quantity.repair}"
    own = [r.partition(".")[2] for r in knowledge.repairs if subsystem_of(r) == subsystem]
    if repair_id not in knowledge.repairs:
        return f"no repair {quantity.repair!r}; {did_you_mean(quantity.repair, own)}"
    uses = [u.id.partition(".")[2] for u in knowledge.repairs[repair_id].materials]
    if quantity.material not in uses:
        hint = did_you_mean(quantity.material, uses)
        return f"repair {quantity.repair!r} uses no material {quantity.material!r}; {hint}"
    return ""
