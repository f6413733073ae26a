"""Writing a survey's CSV file: cells filled in, everything else in it kept."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from assess.base.errors import JobFileError
from assess.base.text_files import edit_text, read_text
from assess.base.whole_files import begin_beside
from assess.job.csv_surveys import (
    Cells,
    column_names,
    comparable,
    lines_of,
    read_survey,
    separator_of,
)
from assess.knowledge.surveys import Survey


class NotAcceptedError(JobFileError):
    """Cells that a survey, or its job, could not be read with."""


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
class SurveyText:
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
        names = column_names(self.headings)
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
        return comparable(text, self.survey.column(column))

    def _at(self, row: int, column: str) -> str:
        return self.records()[row].get(column, "")

    def _put(self, row: int, column: str, text: str) -> None:
        names = column_names(self.headings)
        if column not in names:
            if not text:
                return
            self.headings.append(column)
            names.append(column)
        position = names.index(column)
        cells = self.rows[row]
        cells += [""] * (position + 1 - len(cells))
        cells[position] = text.strip()


def read_survey_text(path: Path, survey: Survey) -> SurveyText:
    """A survey's file as it is written; with its headings alone where there is no such file.

    Raises:
        JobFileError: it cannot be read.
    """
    return _text_of(path, read_text(path) if os.path.exists(path) else "", survey)


def _text_of(path: Path, text: str, survey: Survey) -> SurveyText:
    rows = [cells for _, cells in lines_of(path, text)]
    if not rows:
        return SurveyText(survey, [c.id for c in survey.columns])
    return SurveyText(survey, rows[0], rows[1:], separator_of(text))


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
        written = _text_of(path, text, survey)
        left[:] = written.filled(cells)
        if len(left) == len(cells):
            return text
        _try_out(path, written.text(), survey, accepted)
        return written.text()

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
