"""Surveys read from CSV files beside the job file.

The first line holds the column headings of the survey's declaration; separators may be
commas, semicolons or tabs, numbers may have a decimal comma (with another separator) and a
unit of their own. What cannot be read is named with file, line and column.
"""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from assess.base.errors import JobFileError, did_you_mean, hints
from assess.base.measures import parse_clear, parse_measure
from assess.base.text_files import named_beside, read_text
from assess.base.units import UnitError, with_unit
from assess.job.job_file import Job
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.surveys import UNIT_COLUMN, Column, Survey
from assess.plugin.api import Row

Cells = list[str]
WITHOUT_WIDTH = dict.fromkeys(map(ord, "\u00ad\u200b\u200c\u200d\u2060\ufeff"))
"""Characters that nobody sees and that come along when something is copied from a page."""


@dataclass(frozen=True)
class SurveyTable:
    """The rows of a survey, and the file and line of each."""

    rows: tuple[Row, ...]
    places: tuple[str, ...]


def read_surveys(job: Job, knowledge: Knowledge) -> dict[str, SurveyTable]:
    """Every survey that a job file names, in the units of their declarations.

    Raises:
        JobFileError: an unknown survey, or a file with faults, each named with line and column.
    """
    found: dict[str, SurveyTable] = {}
    for name, file in job.surveys.items():
        survey = knowledge.surveys.get(name)
        if survey is None:
            hint = did_you_mean(name, knowledge.surveys)
            raise JobFileError(f"{job.where('surveys', name)}: no such survey; {hint}")
        found[name] = read_survey(survey_file(job, name, file), survey)
        faults = _unknown_units(found[name], survey, knowledge)
        if faults:
            raise JobFileError("\n".join(faults))
    return found


def survey_file(job: Job, name: str, file: str) -> Path:
    """Where the file of a survey lies that a job names.

    Raises:
        JobFileError: not in the folder of the job file.
    """
    try:
        return named_beside(job.path, file)
    except JobFileError as error:
        raise JobFileError(f"{job.where('surveys', name)}: {error}") from None


def _unknown_units(table: SurveyTable, survey: Survey, knowledge: Knowledge) -> list[str]:
    """Rows about a unit that the job does not have; an empty cell is about the first one."""
    hint = hints()
    if survey.each is None:
        return []
    units = [u for u in knowledge.further_units if u.kind == survey.each]
    faults = []
    for row, place in zip(table.rows, table.places, strict=True):
        cell = row.get(UNIT_COLUMN)
        if cell is not None and not any(u.is_called(str(cell)) for u in units):
            near = hint(str(cell), [u.id for u in units])
            near = near if units else "the job file names no further unit (instrument.unit)"
            faults.append(f"{place}: column {UNIT_COLUMN}: no such unit {cell!r}; {near}")
    return faults


def read_survey(path: Path, survey: Survey) -> SurveyTable:
    """One survey from its CSV file; see :func:`read_surveys`."""
    table = list(lines_of(path, read_text(path)))
    if not table:
        raise JobFileError(f"{path}: empty; the first line holds the headings: {_headings(survey)}")
    first, headings = table[0][0], column_names(table[0][1])
    faults = _heading_faults(f"{path}:{first}", headings, survey)
    if faults:
        raise JobFileError("\n".join(faults))
    rows: list[Row] = []
    places: list[str] = []
    for number, cells in table[1:]:
        row, wrong = _row(f"{path}:{number}", cells, headings, survey)
        faults += wrong
        rows.append(row)
        places.append(f"{path}:{number}")
    faults += _repeated(rows, places, survey)
    if faults:
        raise JobFileError("\n".join(dict.fromkeys(faults)))
    return SurveyTable(tuple(_spelled_alike(rows, survey)), tuple(places))


def legible(text: str) -> str:
    r"""What a person reads in a cell: composed letters, no characters without width.

    >>> legible(" not\u00a0tried\u200b ")
    'not tried'
    """
    if text.isascii():
        return text.strip()
    seen = unicodedata.normalize("NFC", text).translate(WITHOUT_WIDTH)
    return seen.replace("\u00a0", " ").replace("\u202f", " ").strip()


def column_names(headings: Iterable[str]) -> Cells:
    """The ids of columns by their headings, which are written in any case."""
    return [legible(heading).casefold() for heading in headings]


def _spelled_alike(rows: list[Row], survey: Survey) -> list[Row]:
    """Rows in which a word of a key column is spelled as where it stands first."""
    first: dict[tuple[str, object], str] = {}
    alike: list[Row] = []
    for row in rows:
        named = {
            column: first.setdefault((column, comparable(cell, survey.column(column))), cell)
            for column in survey.key
            if isinstance(cell := row[column], str)
        }
        alike.append({**row, **named})
    return alike


def lines_of(path: Path, text: str) -> Iterator[tuple[int, Cells]]:
    """The cells of every line of a text that is not blank, with the line's number, from 1.

    Raises:
        JobFileError: a quotation mark is not closed, or a cell runs over several lines, which
            would hide the lines between.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator_of(text), strict=True)
    while True:
        start = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise JobFileError(f"{path}:{start}: {_quoting(str(error))}") from error
        if any("\n" in cell or "\r" in cell for cell in cells):
            raise JobFileError(f"{path}:{start}: {_quoting('')}")
        if any(cell.strip() for cell in cells):
            yield start, cells


def separator_of(text: str) -> str:
    """What stands between the cells of the first line that is not blank."""
    opening = next((line for line in text.splitlines() if line.strip()), "")
    return max(";\t,", key=lambda s: (opening.count(s), s == ","))


def _quoting(error: str) -> str:
    if "field limit" in error:
        return "a cell is longer than any remark"
    if error and "expected after" not in error and "end of data" not in error:
        return error
    return "a quotation mark is not closed on this line; close it, or take it out"


def _headings(survey: Survey) -> str:
    return ", ".join(c.id + ("" if c.required else " (may be left out)") for c in survey.columns)


def _heading_faults(where: str, headings: Cells, survey: Survey) -> list[str]:
    hint = hints()
    known = [c.id for c in survey.columns]
    faults = [
        f"{where}: unknown column {h!r}; {hint(h, known)}" for h in headings if h not in known
    ]
    faults += [
        f"{where}: column {c.id!r} is missing"
        for c in survey.columns
        if c.required and c.id not in headings
    ]
    faults += [f"{where}: column {h!r} appears twice" for h in known if headings.count(h) > 1]
    return faults


def _row(where: str, cells: Cells, headings: Cells, survey: Survey) -> tuple[Row, list[str]]:
    """One row, and what is wrong with it."""
    row: dict[str, float | str | None] = {c.id: None for c in survey.columns}
    if len(cells) > len(headings):
        return row, [f"{where}: {len(cells)} cells, but {len(headings)} headings"]
    columns = {c.id: c for c in survey.columns}
    faults = []
    for heading, cell in zip(headings, cells, strict=False):
        try:
            row[heading] = _cell(legible(cell), columns[heading])
        except ValueError as error:
            faults.append(f"{where}: column {heading}: {error}")
    empty = [c.id for c in survey.columns if c.required and row[c.id] is None]
    faults += [f"{where}: column {c}: empty" for c in empty if c in headings]
    return row, faults


def _shown(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _repeated(rows: list[Row], places: list[str], survey: Survey) -> list[str]:
    """Rows whose key columns repeat those of an earlier row."""
    if not survey.key:
        return []
    first: dict[tuple[object, ...], str] = {}
    faults = []
    for row, place in zip(rows, places, strict=True):
        cells = {column: row[column] for column in survey.key}
        key = tuple(
            cell if isinstance(cell, float) else comparable(cell or "", survey.column(column))
            for column, cell in cells.items()
        )
        if key in first:
            said = " ".join(_shown(cell) for cell in cells.values() if cell is not None)
            faults.append(f"{place}: {said} appears twice; first in {first[key]}")
        else:
            first[key] = place
    return faults


def comparable(text: str, column: Column) -> object:
    """What a cell says, or stands for when empty, so that spelling and unit do not matter."""
    text = legible(text) or column.usual
    if column.unit is None or not text:
        return text.casefold()
    try:
        return parse_measure(text, column.unit)
    except UnitError:
        return text.casefold()


def _cell(text: str, column: Column) -> float | str | None:
    if not text:
        return None
    if column.unit is None:
        return text
    try:
        # A point is a decimal point in any table; a comma may stand between thousands.
        value = (
            parse_clear(text, column.unit, column.possible)
            if "," in text
            else parse_measure(text, column.unit)
        )
    except UnitError as error:
        raise ValueError(str(error)) from None
    low, high = column.possible
    if not low <= value <= high:
        raise ValueError(f"{with_unit(value, column.unit)} is out of range ({low:g} to {high:g})")
    return value
