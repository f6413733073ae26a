"""A new job file, with every feature and number there is as a comment."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator

from assess.base.units import symbol
from assess.knowledge.declaration import Fact, Feature
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.surveys import Column

WIDTH = 80


def blank_job(knowledge: Knowledge, title: str) -> str:
    """The text of a new job file, in the words of the trade."""
    trade = knowledge.trade
    parts = [
        _head(knowledge, title),
        _history(knowledge),
        f"[{trade.table}.features]\n" + "".join(map(_feature, knowledge.features.values())),
        f"[{trade.table}.facts]\n" + "".join(map(_fact, knowledge.facts.values())),
        _surveys(knowledge),
        _comment("`assess ask` puts the answers in. By hand: one table for each subsystem.")
        + "".join(f"# [answers.{s}]\n" for s in knowledge.subsystems),
    ]
    return "\n".join(part for part in parts if part)


def _head(knowledge: Knowledge, title: str) -> str:
    trade = knowledge.trade
    scopes = trade.scope_ids()
    smaller = " or ".join(json.dumps(scope) for scope in reversed(scopes[:-1]))
    entries = [
        _entry("wish", json.dumps(scopes[-1]), f"How far the owner wants to go; or {smaller}."),
        _entry("keeps", "true", "Whether the owner wants to keep it."),
        _entry("ceiling", "3000", "The owner's limit: the most the owner will pay."),
        _entry("worth", "400", "What the owner says it is worth."),
        _entry("attachment", "0", "0 none .. 3 would not part with it."),
        _entry(
            "significance",
            "0",
            "0 none .. 3 early, rare or unaltered; a question may ask it too, the higher counts.",
        ),
        _entry(
            trade.reason_key,
            '""',
            f"The documented reason to make a significant one {trade.use} again.",
        ),
        _entry(
            "notes",
            '""',
            "For what, with whom and in which room the owner uses it; what else was said.",
        ),
        _entry("name", '""', "To whom the letter goes."),
        _entry("address", '["", ""]', "The lines of the owner's address."),
        _entry("salutation", '""', "The first line of the letter, if not made from the name."),
    ]
    return (
        _comment(f"One {trade.noun}. Take the # away from a line with a key to fill it in.")
        + f"format = 1\ntitle = {json.dumps(title, ensure_ascii=False)}\n"
        + _entry("date", "2026-01-31", "The day of the inspection.")
        + _done(knowledge)
        + "\n[owner]\n"
        + "".join(entries)
        + f'\n[{trade.table}]\ndescription = ""\n'
        + f"\n[{trade.table}.identity]\n"
        + "".join(_identity())
        + "\n[photographs]\n"
        + _entry("whole", '["front.jpg"]', "Files beside this one; also by a criterion's id.")
    )


def _identity() -> Iterator[str]:
    """Which object it is."""
    yield _entry("maker", '""', "As it says itself, or as somebody has found out.")
    yield '# model = ""\n# serial = ""\n'
    yield _entry("year", "1890", "When it was made.")
    yield _entry("label", '""', "The words on its label, plate or stamp, as they stand there.")
    yield _entry("provenance", '""', "Who had it before, and how that is known.")


def _history(knowledge: Knowledge) -> str:
    """What may be told before anyone looks, with every symptom there is."""
    trade = knowledge.trade
    scopes = " or ".join(json.dumps(scope) for scope in reversed(trade.scope_ids()))
    entries = [
        _entry(trade.works_key, '"well"', 'Or "with faults", "partly", "not at all".'),
        _entry("used", '"weekly"', 'Or "now and then", "not used".'),
        _entry("unused_since", "2011", "The year since which it has not been used."),
        _entry("now_at", '"the owner\'s"', 'Or "the workshop", "elsewhere".'),
        _entry("opened", "[]", "Places that are open already, by id."),
        _entry(
            "overhaul",
            "[{ year = 2015 }]",
            f'Earlier work, each with its year; how_far = {scopes}; subsystem = "..." if not all.',
        ),
    ]
    symptoms = "".join(f"#   {s.id}: {s.asks}\n" for s in knowledge.symptoms.values())
    if not symptoms:
        return "[history]\n" + "".join(entries)
    first = next(iter(knowledge.symptoms))
    complaint = _comment(
        'What is wrong, as it was told, and whether it came "suddenly" or "slowly". Symptoms:'
    )
    example = f'[{{ symptom = "{first}", came = "slowly" }}]'
    return "[history]\n" + "".join(entries) + complaint + symptoms + f"# complaint = {example}\n"


def _done(knowledge: Knowledge) -> str:
    """A record of work done, which `assess done` writes."""
    first = next(iter(knowledge.repairs), None)
    if first is None:
        return ""
    example = f"[{{ step = {json.dumps(first)}, date = 2026-01-31 }}]"
    return _entry("done", example, "Steps of the plan that are done; `assess done` writes them.")


def _entry(key: str, value: str, explanation: str) -> str:
    """A key as a comment, with its explanation on the lines above."""
    return f"{_comment(explanation)}# {key} = {value}\n"


def _comment(text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent="# ", subsequent_indent="# ") + "\n"


def _feature(feature: Feature) -> str:
    kinds = "".join(_comment(f"  {_kind(*option)}") for option in feature.options.items())
    return f"{_comment(feature.asks)}{kinds}# {feature.id} = {json.dumps(feature.usual)}\n"


def _kind(name: str, text: str) -> str:
    return text if text.startswith(f"{name}:") else f"{name}: {text}"


def _fact(fact: Fact) -> str:
    usual = "" if fact.usual is None else f"{fact.usual:g}"
    unit = "" if fact.unit == "count" else f", in {symbol(fact.unit)}"
    return _entry(fact.id, usual, f"{fact.asks}{unit}.")


def _surveys(knowledge: Knowledge) -> str:
    """The CSV files that may be named, with their columns."""
    if not knowledge.surveys:
        return ""
    entries = [
        _entry(
            json.dumps(survey.id),
            json.dumps(f"{survey.id.partition('.')[2]}.csv"),
            f"{survey.title}. Columns: {', '.join(map(_column, survey.columns))}.",
        )
        for survey in knowledge.surveys.values()
    ]
    return "[surveys]\n" + _comment("CSV files beside this file.") + "".join(entries)


def _column(column: Column) -> str:
    unit = symbol(column.unit)
    needed = "" if column.required else "optional"
    said = ", ".join(part for part in (unit and f"in {unit}", needed) if part)
    return f"{column.id} ({said})" if said else column.id
