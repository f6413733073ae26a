"""Computed values and sheets for the bench as text."""

from __future__ import annotations

from assess.assessment import Assessment
from assess.knowledge.knowledge_base import subsystem_of
from assess.output.grades import title
from assess.output.layout import bullets, heading, paragraph, sections, table
from assess.plugin.api import Measurement, Sheet


def measures_text(result: Assessment) -> str:
    """Every computed value with inputs, formula, source, uncertainty and what it means."""
    parts = [title(result)]
    for subsystem in result.knowledge.subsystems.values():
        own = [
            (name, m)
            for name, m in result.measured.values.items()
            if subsystem_of(name) == subsystem.id
        ]
        if own:
            shown = "\n\n".join(_measure(name, m) for name, m in own)
            parts.append(f"{heading(subsystem.title, '-')}\n{shown}")
    if len(parts) == 1:
        parts.append("Nothing is computed: no installed plugin measures anything here.")
    return sections(parts)


def value_text(measurement: Measurement) -> str:
    """A value with its unit and its uncertainty, where that is known."""
    if measurement.value is None:
        return "not known"
    unit = "" if measurement.unit == "count" else f" {measurement.unit}"
    sd = f" ± {measurement.sd:.2g}" if measurement.sd else ""
    return f"{measurement.value:.3g}{sd}{unit}"


def _measure(name: str, measurement: Measurement) -> str:
    lines = [paragraph(f"{measurement.title}: {value_text(measurement)} [{name}]")]
    if measurement.value is None:
        lines.append(paragraph(f"Wants: {', '.join(measurement.wants)}.", "  "))
        return "\n".join(lines)
    if measurement.says:
        lines.append(paragraph(measurement.says, "  "))
    inputs = ", ".join(f"{what} {text}" for what, text in measurement.inputs)
    lines.append(paragraph(f"From: {inputs}." if inputs else "From: nothing but constants.", "  "))
    lines.append(paragraph(f"By: {measurement.formula}. Source: {measurement.source}.", "  "))
    return "\n".join(lines)


def sheet_text(result: Assessment, sheet: Sheet) -> str:
    """One sheet, or what it wants."""
    if sheet.wants:
        wanted = f"It cannot be made yet; it wants: {', '.join(sheet.wants)}."
        return sections([title(result), f"{heading(sheet.title, '-')}\n{paragraph(wanted)}"])
    widths = [28] + [None] * (len(sheet.columns) - 1)
    shown = table(sheet.rows, sheet.columns, widths, right=range(1, len(sheet.columns)))
    return sections([title(result), f"{heading(sheet.title, '-')}\n{shown}", bullets(sheet.notes)])


def sheet_list(result: Assessment) -> str:
    """The sheets that can be asked for."""
    rows = [
        [name, sheet.title + (" (wants: " + ", ".join(sheet.wants) + ")" if sheet.wants else "")]
        for name, sheet in result.sheets.items()
    ]
    if not rows:
        return "No installed plugin makes a sheet.\n"
    return table(rows, ["Sheet", "What it is"], [28, 48]) + "\n"
