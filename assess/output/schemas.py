"""JSON Schemas of what a plugin declares, of the user's files, and of every answer of ``--json``.

Those that depend on nothing installed are kept as files in ``json_schemas/``, made by
:func:`generated`; that of the job file lists what the installed plugins ask for.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from importlib.resources import files
from typing import Any

from pydantic import TypeAdapter

from assess.job.job_file import NOT_APPLICABLE, NOT_SEEN, Job
from assess.job.workshop_profile import Workshop
from assess.knowledge.criteria import Criterion
from assess.knowledge.declaration import Declaration, Fact, Feature
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of
from assess.output.json_data import FORMAT
from assess.output.json_types.bench import MeasuresData, SheetData
from assess.output.json_types.condition import GradesData
from assess.output.json_types.installed import CheckData, NodeData, SubsystemsData
from assess.output.json_types.verdict import AssumedData, LooksData, VerdictData
from assess.output.json_types.work import BudgetData, CalendarData, PlanData

OUTPUTS: dict[str, Any] = {
    "grade": GradesData,
    "plan": PlanData,
    "verdict": VerdictData,
    "look": LooksData,
    "look-assumed": AssumedData,
    "budget": BudgetData,
    "calendar": CalendarData,
    "measure": MeasuresData,
    "sheet": dict[str, SheetData],
    "why": NodeData,
    "subsystems": SubsystemsData,
    "check": CheckData,
}
DRAFT = "https://json-schema.org/draft/2020-12/schema"


def schema_names() -> list[str]:
    """What there is a schema of."""
    return ["declaration", "job", "workshop", *OUTPUTS]


def schema_text(name: str, knowledge: Knowledge | None = None) -> str:
    """One schema as JSON text.

    Args:
        name: one of :func:`schema_names`.
        knowledge: for the job file, the plugins whose questions it lists; none when left out.
    """
    if name == "job" and knowledge is not None:
        return _as_text(job_schema(knowledge))
    return (files("assess.output") / "json_schemas" / f"{name}.json").read_text(encoding="utf-8")


def generated(name: str) -> str:
    """One schema, made from its models; ``json_schemas/`` holds a copy."""
    makers: dict[str, Callable[[], dict[str, Any]]] = {
        "declaration": lambda: _closed(Declaration.model_json_schema()),
        "job": lambda: job_schema(Knowledge()),
        "workshop": _workshop_schema,
    }
    made = makers[name]() if name in makers else _output_schema(name)
    return _as_text({"$schema": DRAFT, **made})


def _as_text(schema: dict[str, Any]) -> str:
    return json.dumps(schema, ensure_ascii=False, indent=2, sort_keys=True) + "\n"


def _output_schema(name: str) -> dict[str, Any]:
    """The envelope of a command, with the schema of its data inside."""
    data = _closed(TypeAdapter(OUTPUTS[name]).json_schema())
    definitions = data.pop("$defs", {})
    whole: dict[str, Any] = {
        "title": f"assess {name.replace('-', ' --')} --json",
        "type": "object",
        "properties": {
            "format": {"const": FORMAT},
            "command": {"const": name.partition("-")[0]},
            "warnings": {"type": "array", "items": {"type": "string"}},
            "data": data,
        },
        "required": ["format", "command", "warnings", "data"],
        "additionalProperties": False,
        "$defs": definitions,
    }
    return whole


OF_THE_TRADE = (
    "Trade",
    "ScopeWords",
    "ScopesWords",
    "VerdictsWords",
    "WaysWords",
    "Care",
    "CareState",
    "Freshness",
)
"""Models of the trade's words, which are no part of a job file."""


def _workshop_schema() -> dict[str, Any]:
    """A profile may leave everything out, since defaults stand in."""
    schema: dict[str, Any] = _closed(Workshop.model_json_schema())
    schema.pop("required", None)
    return schema


def job_schema(knowledge: Knowledge) -> dict[str, Any]:
    """The job file in the words of the trade; with plugins, what each of them asks for."""
    trade = knowledge.trade
    schema = Job.model_json_schema()
    definitions = schema["$defs"]
    definitions["Answer"] = _answer_schema(definitions["Answer"])
    owner = definitions["Owner"]["properties"]
    owner["wish"] = {"enum": trade.scope_ids()}
    owner[trade.reason_key] = owner.pop("reason_to_use")
    history = definitions["History"]["properties"]
    history[trade.works_key] = history.pop("works")
    definitions["Overhaul"]["properties"]["how_far"] = {"enum": trade.scope_ids()}
    properties = schema["properties"]
    for key in ("path", "text", "trade"):
        properties.pop(key, None)
    table = properties.pop("instrument")
    properties[trade.table] = table
    for unused in OF_THE_TRADE:
        definitions.pop(unused, None)
    if knowledge.subsystems:
        definitions["Instrument"]["properties"] |= _object_properties(knowledge)
        properties["answers"] = _answers_schema(knowledge)
    closed: dict[str, Any] = _closed(schema)
    return closed


OF_FURTHER_UNITS: dict[str, Any] = {"^[a-z][a-z0-9_]*-[a-z][a-z0-9_]*$": {}}
"""Ids that end with a unit of the object, which only the job file names."""


def _answer_schema(full: dict[str, Any]) -> dict[str, Any]:
    """An answer is text or a number alone, or a table with a note."""
    return {"anyOf": [{"type": ["string", "number"]}, full]}


def _object_properties(knowledge: Knowledge) -> dict[str, Any]:
    features = _with_earlier_names(
        (
            f,
            {"description": f.asks}
            | ({"enum": list(f.options)} if f.options else {"type": "boolean"}),
        )
        for f in knowledge.features.values()
    )
    facts = _with_earlier_names(
        (f, {"description": f"{f.asks} ({f.unit})", "type": ["number", "string"]})
        for f in knowledge.facts.values()
    )
    return {
        name: {
            "type": "object",
            "properties": properties,
            "patternProperties": OF_FURTHER_UNITS,
            "additionalProperties": False,
        }
        for name, properties in (("features", features), ("facts", facts))
    }


def _with_earlier_names(
    described: Iterable[tuple[Feature | Fact, dict[str, Any]]],
) -> dict[str, Any]:
    """Properties by id; what they were called before is valid, and marked as deprecated."""
    properties = {}
    for thing, schema in described:
        properties[thing.id] = schema
        properties |= {earlier: schema | {"deprecated": True} for earlier in thing.formerly}
    return properties


def _answers_schema(knowledge: Knowledge) -> dict[str, Any]:
    tables = {
        subsystem: {
            "type": "object",
            "properties": {
                c.id.partition(".")[2]: _criterion_schema(c)
                for c in knowledge.criteria.values()
                if subsystem_of(c.id) == subsystem
            },
            "patternProperties": OF_FURTHER_UNITS,
            "additionalProperties": False,
        }
        for subsystem in knowledge.subsystems
    }
    return {"type": "object", "properties": tables, "additionalProperties": {"type": "object"}}


def _criterion_schema(criterion: Criterion) -> dict[str, Any]:
    """What may be answered to one criterion, alone or with a note."""
    special = [NOT_SEEN, NOT_APPLICABLE]
    if criterion.measured:
        value: dict[str, Any] = {"type": ["number", "string"]}
    else:
        words = [w for o in criterion.outcomes for w in (o.label, *o.formerly)]
        value = {"enum": [*words, *special]}
    table = {
        "type": "object",
        "properties": {
            "answer": value,
            "note": {"type": "string"},
            "date": {"type": "string", "format": "date"},
        },
        "required": ["answer"],
        "additionalProperties": False,
    }
    return {"description": criterion.asks, "anyOf": [value, table]}


def _closed(schema: Any) -> Any:
    """A schema in which no object has keys besides those that are named."""
    if isinstance(schema, list):
        return [_closed(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    closed = {key: _closed(value) for key, value in schema.items()}
    if closed.get("type") == "object" and isinstance(closed.get("properties"), dict):
        closed.setdefault("additionalProperties", False)
    return closed
