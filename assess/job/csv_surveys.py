"""Surveys read from CSV files beside the job file.

The first line holds the column headings of the survey's declaration; separators may be
commas, semicolons or tabs, numbers may have a decimal comma (with another separator) and a
unit of their own. What cannot be read is named with file, line and column. Cells that are
filled in elsewhere are merged into the file; everything else in it stays.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from assess.base.errors import JobFileError, did_you_mean, hints
from assess.base.text_files import edit_text, named_beside, read_text
from assess.base.units import UnitError, parse_measure, with_unit
from assess.base.whole_files import begin_beside
from assess.job.job_file import Job
from assess.knowledge.declaration import UNIT_COLUMN, Column, Survey
from assess.knowledge.knowledge_base import Knowledge
from assess.plugin.api import Row

Cells = list[str]


class NotAcceptedError(JobFileError):
    """Cells that a survey, or its job, could not be read with."""


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
    table = list(_lines(path, read_text(path)))
    if not table:
        raise JobFileError(f"{path}: empty; the first line holds the headings: {_headings(survey)}")
    first, headings = table[0][0], [h.strip().casefold() for h in table[0][1]]
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
    return SurveyTable(tuple(rows), tuple(places))


def _lines(path: Path, text: str) -> Iterator[tuple[int, Cells]]:
    """The cells of every line of a text that is not blank, with the line's number, from 1.

    Raises:
        JobFileError: a quotation mark is not closed, or a cell runs over several lines, which
            would hide the lines between.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_separator(text), strict=True)
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


def _separator(text: str) -> str:
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
            row[heading] = _cell(cell.strip(), columns[heading])
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
        key = tuple(
            _comparable(_or_usual(row[column], survey.column(column))) for column in survey.key
        )
        if key in first:
            said = " ".join(_shown(row[column]) for column in survey.key if row[column] is not None)
            faults.append(f"{place}: {said} appears twice; first in {first[key]}")
        else:
            first[key] = place
    return faults


def _or_usual(cell: float | str | None, column: Column) -> float | str | None:
    """A cell, or what an empty one stands for."""
    return _cell(column.usual, column) if cell is None else cell


def _comparable(cell: float | str | None) -> object:
    return cell.casefold() if isinstance(cell, str) else cell


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
        raise ValueError(f"{with_unit(value, column.unit)} is out of range ({low:g} to {high:g})")
    return value


@dataclass(frozen=True)
class Cell:
    """One cell to fill in.

    Attributes:
        key: the key columns of its row, with their words.
        column: the heading.
        text: what will stand in it; empty clears it.
        was: what stood in it when the person who fills it in saw it last.
    """

    key: Mapping[str, str]
    column: str
    text: str
    was: str = ""


@dataclass
class Sheet:
    """A survey's file as text: headings and rows as they are written.

    Attributes:
        survey: what is declared of it.
        headings: as written; unknown ones are kept.
        rows: the cells of each line, without the headings.
        separator: what stands between cells.
    """

    survey: Survey
    headings: Cells
    rows: list[Cells] = field(default_factory=list)
    separator: str = ","

    def records(self) -> list[dict[str, str]]:
        """Each row as heading and cell, headings in small letters."""
        names = [h.strip().casefold() for h in self.headings]
        return [dict(zip(names, map(str.strip, row), strict=False)) for row in self.rows]

    def filled(self, cells: Sequence[Cell]) -> list[tuple[Cell, str]]:
        """Fill in cells; those in which something else stands by now are left as they are.

        Returns:
            The cells that were left, each with what stands in it.
        """
        left = []
        positions = {self.name(record): n for n, record in enumerate(self.records())}
        for cell in cells:
            row = positions.setdefault(self.name(cell.key), len(self.rows))
            if row == len(self.rows):
                self.rows.append([])
                for column, text in cell.key.items():
                    self._put(row, column, text)
            now = self._at(row, cell.column)
            if now in (cell.was.strip(), cell.text.strip()):
                self._put(row, cell.column, cell.text)
            else:
                left.append((cell, now))
        return left

    def text(self) -> str:
        """The file as it will be written."""
        written = io.StringIO(newline="")
        writer = csv.writer(written, delimiter=self.separator, lineterminator="\n")
        writer.writerow(self.headings)
        width = len(self.headings)
        writer.writerows([*row, *[""] * (width - len(row))] for row in self.rows)
        return written.getvalue()

    def name(self, record: Mapping[str, str]) -> tuple[object, ...]:
        """What names a row: the cells of its key columns, so that spelling does not matter."""
        return tuple(self._comparable(c, record.get(c, "")) for c in self.survey.key)

    def is_same(self, column: str, one: str, other: str) -> bool:
        """Whether two cells of a column say the same, however they are written."""
        return self._comparable(column, one) == self._comparable(column, other)

    def _comparable(self, column: str, text: str) -> object:
        declared = self.survey.column(column)
        unit, text = declared.unit, text.strip() or declared.usual
        if unit is None or not text:
            return text.strip().casefold()
        try:
            return parse_measure(text, unit)
        except UnitError:
            return text.strip().casefold()

    def _at(self, row: int, column: str) -> str:
        return self.records()[row].get(column, "")

    def _put(self, row: int, column: str, text: str) -> None:
        names = [h.strip().casefold() for h in self.headings]
        if column not in names:
            if not text:
                return
            self.headings.append(column)
            names.append(column)
        position = names.index(column)
        cells = self.rows[row]
        cells += [""] * (position + 1 - len(cells))
        cells[position] = text.strip()


def read_sheet(path: Path, survey: Survey) -> Sheet:
    """A survey's file as it is written; with its headings alone where there is no such file.

    Raises:
        JobFileError: it cannot be read.
    """
    return _sheet(path, read_text(path) if os.path.exists(path) else "", survey)


def _sheet(path: Path, text: str, survey: Survey) -> Sheet:
    rows = [cells for _, cells in _lines(path, text)]
    if not rows:
        return Sheet(survey, [c.id for c in survey.columns])
    return Sheet(survey, rows[0], rows[1:], _separator(text))


def merge_cells(
    path: Path, survey: Survey, cells: Sequence[Cell], accepted: Callable[[Path], None]
) -> list[tuple[Cell, str]]:
    """Fill in cells of a survey's file, with nobody else between; all else in it stays.

    Args:
        path: the file; it is made where there is none.
        survey: what is declared of it.
        cells: what to fill in.
        accepted: called with a file that holds the new text, before it takes the place of the
            old one; raises JobFileError where the job could not be read with it.

    Returns:
        Cells that were not filled in, since something else stands in them by now, with that.

    Raises:
        NotAcceptedError: the file could not be read with them; the old one is untouched.
        JobFileError: the file cannot be read or written; it is untouched.
    """
    left: list[tuple[Cell, str]] = []

    def filled(text: str) -> str:
        sheet = _sheet(path, text, survey)
        left[:] = sheet.filled(cells)
        if len(left) == len(cells):
            return text
        _try_out(path, sheet.text(), survey, accepted)
        return sheet.text()

    edit_text(path, filled, may_be_new=True)
    return left


def _try_out(path: Path, text: str, survey: Survey, accepted: Callable[[Path], None]) -> None:
    """Read a text as the survey, and as part of its job, before it is saved."""
    try:
        handle, trial = begin_beside(path, suffix=".csv")
    except OSError as error:
        raise JobFileError(f"{path}: cannot be written: {error.strerror}") from error
    try:
        with open(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
        read_survey(trial, survey)
        accepted(trial)
    except JobFileError as error:
        raise NotAcceptedError(str(error).replace(str(trial), str(path))) from None
    finally:
        trial.unlink(missing_ok=True)
