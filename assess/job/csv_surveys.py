"""Surveys read from CSV files beside the job file.

The first line holds the column headings of the survey's declaration; separators may be
commas, semicolons or tabs, numbers may have a decimal comma (with another separator) and a
unit of their own. What cannot be read is named with file, row and column.
"""

from __future__ import annotations

import csv
from pathlib import Path

from assess.base.errors import JobFileError, did_you_mean
from assess.base.units import UnitError, parse_measure
from assess.job.job_file import Job, read_text
from assess.knowledge.declaration import Column, Survey
from assess.knowledge.knowledge_base import Knowledge
from assess.plugin.api import Row


def read_surveys(job: Job, knowledge: Knowledge) -> dict[str, tuple[Row, ...]]:
    """Every survey that a job file names, in the units of their declarations.

    Raises:
        JobFileError: an unknown survey, or a file with faults, each named with row and column.
    """
    found: dict[str, tuple[Row, ...]] = {}
    for name, file in job.surveys.items():
        survey = knowledge.surveys.get(name)
        if survey is None:
            hint = did_you_mean(name, knowledge.surveys)
            raise JobFileError(f"{job.where('surveys', name)}: no such survey; {hint}")
        found[name] = read_survey(Path(job.path).parent / file, survey)
    return found


def read_survey(path: Path, survey: Survey) -> tuple[Row, ...]:
    """One survey from its CSV file; see :func:`read_surveys`."""
    lines = [line for line in read_text(path).splitlines() if line.strip()]
    if not lines:
        raise JobFileError(f"{path}: empty; the first line holds the headings: {_headings(survey)}")
    separator = max(";\t,", key=lambda s: (lines[0].count(s), s == ","))
    table = list(csv.reader(lines, delimiter=separator))
    headings = [h.strip().casefold() for h in table[0]]
    faults = _heading_faults(path, headings, survey)
    if faults:
        raise JobFileError("\n".join(faults))
    columns = {c.id: c for c in survey.columns}
    rows = []
    for number, cells in enumerate(table[1:], 2):
        if len(cells) > len(headings):
            faults.append(f"{path}:{number}: {len(cells)} cells, but {len(headings)} headings")
            continue
        row: dict[str, float | str | None] = {c.id: None for c in survey.columns}
        for heading, cell in zip(headings, cells, strict=False):
            try:
                row[heading] = _cell(cell.strip(), columns[heading])
            except ValueError as error:
                faults.append(f"{path}:{number}: column {heading}: {error}")
        empty = [c.id for c in survey.columns if c.required and row[c.id] is None]
        faults += [f"{path}:{number}: column {c}: empty" for c in empty if c in headings]
        rows.append(row)
    if faults:
        raise JobFileError("\n".join(dict.fromkeys(faults)))
    return tuple(rows)


def _headings(survey: Survey) -> str:
    return ", ".join(c.id + ("" if c.required else " (may be left out)") for c in survey.columns)


def _heading_faults(path: Path, headings: list[str], survey: Survey) -> list[str]:
    known = [c.id for c in survey.columns]
    faults = [
        f"{path}:1: unknown column {h!r}; {did_you_mean(h, known)}"
        for h in headings
        if h not in known
    ]
    faults += [
        f"{path}:1: column {c.id!r} is missing"
        for c in survey.columns
        if c.required and c.id not in headings
    ]
    faults += [f"{path}:1: column {h!r} appears twice" for h in known if headings.count(h) > 1]
    return faults


def _cell(text: str, column: Column) -> float | str | None:
    if not text:
        return None
    if column.unit is None:
        return text
    try:
        value = parse_measure(text, column.unit)
    except UnitError as error:
        raise ValueError(str(error)) from None
    low, high = column.possible
    if not low <= value <= high:
        raise ValueError(f"{value:g} {column.unit} is out of range ({low:g} to {high:g})")
    return value
