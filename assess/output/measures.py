"""Computed values and sheets for the bench as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from assess.assessment import Assessment
from assess.base.units import symbol, with_symbols
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of
from assess.output.grades import title
from assess.output.layout import bullets, heading, paragraph, section, sections, table
from assess.plugin.api import Measurement, Sheet


def measures_text(result: Assessment, ids: bool = False) -> str:
    """Every computed value with inputs, formula, source, uncertainty and what it means."""
    parts = []
    for subsystem in result.knowledge.subsystems.values():
        own = [
            _measure(name, m, result.knowledge, ids)
            for name, m in result.measured.values.items()
            if subsystem_of(name) == subsystem.id
        ]
        if own:
            parts.append(section(subsystem.title, "\n\n".join(own)))
    nothing = "Nothing is computed: no installed plugin measures anything here."
    return sections([heading(title(result)), *(parts or [nothing])])


def value_text(measurement: Measurement) -> str:
    """A value with its unit and its uncertainty, where that is known."""
    if measurement.value is None:
        return "not known"
    sd = f" ± {measurement.sd:.2g}" if measurement.sd else ""
    return f"{measurement.value:.3g}{sd} {symbol(measurement.unit)}".rstrip()


def missing(wants: Sequence[str], knowledge: Knowledge, ids: bool = False) -> str:
    """What is missing, as it is asked for."""
    asked = {c.id: c.asks for c in knowledge.criteria.values()}
    asked |= {f.id: f.asks for f in knowledge.facts.values()}
    asked |= {f.id: f.asks for f in knowledge.features.values()}
    named = [
        asked.get(want, want) + (f" [{want}]" if ids and want in asked else "") for want in wants
    ]
    return f"Missing: {'; '.join(named)}."


def missing_lines(
    wanting: Iterable[tuple[str, Sequence[str]]], knowledge: Knowledge
) -> tuple[str, ...]:
    """What cannot be made, by what it lacks: things that lack the same stand in one line.

    Args:
        wanting: title of each thing, and ids of what it lacks.
        knowledge: what the plugins declare.
    """
    titles: dict[tuple[str, ...], list[str]] = {}
    for name, wants in wanting:
        titles.setdefault(tuple(wants), []).append(name)
    return tuple(
        f"{'; '.join(dict.fromkeys(named))}. {missing(wants, knowledge)}"
        for wants, named in titles.items()
    )


def _measure(name: str, measurement: Measurement, knowledge: Knowledge, ids: bool) -> str:
    shown = f" [{name}]" if ids else ""
    lines = [paragraph(f"{measurement.title}: {value_text(measurement)}{shown}")]
    if measurement.value is None:
        lines.append(paragraph(missing(measurement.wants, knowledge, ids), "  "))
        return "\n".join(lines)
    if measurement.says:
        lines.append(paragraph(with_symbols(measurement.says), "  "))
    inputs = ", ".join(f"{what} {text}" for what, text in measurement.inputs)
    lines.append(paragraph(f"From: {with_symbols(inputs) or 'constants only'}.", "  "))
    lines.append(paragraph(f"How: {measurement.formula}. Source: {measurement.source}.", "  "))
    return "\n".join(lines)


def sheet_text(result: Assessment, sheet: Sheet) -> str:
    """One sheet, or what is missing to make it."""
    head = heading(f"{title(result)}: {sheet.title}")
    if sheet.wants:
        return sections([head, paragraph(missing(sheet.wants, result.knowledge))])
    widths = [28] + [None] * (len(sheet.columns) - 1)
    shown = table(sheet.rows, sheet.columns, widths, right=range(1, len(sheet.columns)))
    return sections([head, shown, bullets(sheet.notes)])


def sheet_list(result: Assessment) -> str:
    """The sheets that can be printed."""
    rows = [
        [
            name,
            f"{sheet.title}. {missing(sheet.wants, result.knowledge)}"
            if sheet.wants
            else sheet.title,
        ]
        for name, sheet in result.sheets.items()
    ]
    if not rows:
        return "No installed plugin makes a sheet.\n"
    return table(rows, ["Sheet", "What it is"], [28, 48]) + "\n"
