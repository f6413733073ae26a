"""Rows of a survey that a plugin hears in recordings, entered without touching those by hand.

A row that was heard is marked, in a column of its own, with the date, the file and a check of its
cells. A row without a mark, or whose cells no longer agree with the check, was entered or
corrected by a person: its cells stay. Where they differ from what was heard, both are shown; where
they do not, only empty cells are filled in.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from assess.assessment import Assessment
from assess.base.errors import JobFileError, KnowledgeError
from assess.job.survey_edits import Cell, SurveyText, read_survey_text
from assess.knowledge.surveys import HeardSurvey, Survey
from assess.plugin.api import Heard, HeardRow
from assess.plugin.hook_results import UnfitResultsError, checked
from assess.plugin.isolation import HookError, isolated
from assess.visit.survey_cells import fill_cells, survey_path

MARK = re.compile(r"\d{4}-\d\d-\d\d in .* \[([0-9a-f]{4})\](?:; (.*))?")


@dataclass(frozen=True)
class Difference:
    """A row that a person entered, and what was heard instead.

    Attributes:
        key: the words that name it.
        by_hand: its cells.
        heard: the cells that were heard.
    """

    key: str
    by_hand: str
    heard: str


@dataclass(frozen=True)
class Entered:
    """What was entered in a survey's file.

    Attributes:
        path: the file.
        rows: how many rows were written.
        differences: rows by hand that say something else.
    """

    path: Path
    rows: int
    differences: tuple[Difference, ...]


def hear_recording(
    result: Assessment,
    survey: Survey,
    recording: Path,
    options: Mapping[str, str],
    progress: Callable[[float], None] = lambda share: None,
) -> Heard:
    """What the plugin of a survey hears in one recording.

    Args:
        result: the job as it stands.
        survey: a survey that declares ``hears``.
        recording: the file.
        options: what is said of it, by the ids of the declared options.
        progress: gets the share that is done, from 0 to 1.

    Raises:
        UserError: the recording cannot be used.
        KnowledgeError: the plugin failed.
    """
    subsystem, _, own = survey.id.partition(".")
    caller = result.knowledge.hooks[subsystem].hear
    provider = result.knowledge.provider_of(subsystem)
    inspection = replace(result.inspection)
    given = {name: words for name, words in options.items() if words}

    def call() -> Heard:
        answers = caller(
            survey=own,
            recording=recording,
            options=given,
            inspection=inspection,
            progress=progress,
        )
        try:
            heard = checked("hear", Heard, answers[:1])
        except UnfitResultsError as error:
            raise HookError("hear", str(error)) from error
        if not heard:
            raise HookError("hear", "expected a Heard, got nothing")
        _refuse_strange_cells(heard[0], survey)
        return heard[0]

    try:
        heard: Heard = isolated("hear", call, provider)
    except HookError as error:
        raise KnowledgeError(f"plugin {provider}: hear: {error.cause}") from error
    return heard


def _refuse_strange_cells(heard: Heard, survey: Survey) -> None:
    """Refuse rows that the survey cannot hold, whatever is in their cells.

    Raises:
        HookError: a column that is not declared, a key that is none, or a cell of several lines.
    """
    columns = {column.id for column in survey.columns} - set(survey.key)
    for row in heard.rows:
        strange = [*(set(row.key) - set(survey.key)), *(set(row.cells) - columns)]
        if strange:
            raise HookError("hear", f"{survey.id} has no such column for a row: {strange[0]!r}")
        broken = [text for text in (*row.key.values(), *row.cells.values()) if not _is_line(text)]
        if broken:
            raise HookError("hear", f"a cell is one line, not {broken[0]!r}")


def _is_line(text: str) -> bool:
    """Whether a text can stand in one cell of a file."""
    return "\n" not in text and "\r" not in text


def enter_heard(
    result: Assessment,
    survey: Survey,
    heard: Sequence[tuple[Path, Heard]],
    on: dt.date,
) -> Entered:
    """Write what was heard into the file of a survey, and name the file in the job file.

    Args:
        result: the job as it stands.
        survey: a survey that declares ``hears``.
        heard: each recording with what was heard in it; of two rows of one name the later counts.
        on: the date of the mark.

    Raises:
        JobFileError: as :func:`~assess.visit.survey_cells.fill_cells` raises it, or the file was
            changed meanwhile.
    """
    marked: dict[tuple[str, ...], HeardRow] = {}
    for recording, one in heard:
        for row in one.rows:
            name = tuple(row.key.get(column, "").casefold() for column in survey.key)
            marked[name] = _marked(row, survey, recording, on)
    path = survey_path(result, survey.id)
    written = read_survey_text(path, survey)
    cells, same, differences = _to_enter(written, survey, list(marked.values()))
    if fill_cells(result, survey, cells):
        raise JobFileError(f"{path}: was changed meanwhile; hear the recording again")
    return Entered(path, len(marked) - len(differences) - same, tuple(differences))


def _hears(survey: Survey) -> HeardSurvey:
    if survey.hears is None:
        raise ValueError(f"{survey.id} is not taken from recordings")
    return survey.hears


def _check(cells: Mapping[str, str], more: str) -> str:
    """Four figures that change with any cell."""
    words = [f"{column}={text.strip()}" for column, text in sorted(cells.items()) if text.strip()]
    return hashlib.sha256("\n".join([*words, more]).encode()).hexdigest()[:4]


def _marked(row: HeardRow, survey: Survey, recording: Path, on: dt.date) -> HeardRow:
    """A row with its mark."""
    column = _hears(survey).mark
    more = row.cells.get(column, "")
    others = {name: text for name, text in row.cells.items() if name != column}
    named = " ".join(recording.name.split())
    mark = f"{on.isoformat()} in {named} [{_check(others, more)}]"
    return HeardRow(row.key, {**others, column: f"{mark}; {more}" if more else mark})


def _to_enter(
    written: SurveyText, survey: Survey, rows: Sequence[HeardRow]
) -> tuple[list[Cell], int, list[Difference]]:
    """Cells to fill in, how many rows by hand say it already, and which say something else."""
    there = {written.name(record): record for record in written.records()}
    mark = _hears(survey).mark
    cells: list[Cell] = []
    same = 0
    differences = []
    for row in rows:
        record = there.get(written.name(row.key), {})
        now = {c: t for c, t in record.items() if c not in survey.key and t}
        if not now or _is_heard(now, mark):
            columns = dict.fromkeys([*row.cells, *now])
            cells += [Cell(row.key, c, row.cells.get(c, ""), now.get(c, "")) for c in columns]
            continue
        told = {c: t for c, t in row.cells.items() if c != mark}
        if any(not written.is_same(c, now[c], t) for c, t in told.items() if c in now):
            key = " ".join(t for t in row.key.values() if t)
            by_hand = {c: now.get(c, "") for c in told}
            differences.append(Difference(key, _words(by_hand), _words(told)))
            continue
        blank = {c: t for c, t in told.items() if c not in now and t}
        same += not blank
        if blank:
            said = f"{now[mark]}; " if mark in now else ""
            blank[mark] = f"{said}by hand, but {', '.join(blank)}: {row.cells[mark]}"
        cells += [Cell(row.key, c, t, now.get(c, "")) for c, t in blank.items()]
    return cells, same, differences


def _is_heard(now: Mapping[str, str], mark: str) -> bool:
    """Whether a row stands as it was heard, with nothing changed by a person."""
    found = MARK.fullmatch(now.get(mark, ""))
    others = {column: text for column, text in now.items() if column != mark}
    return found is not None and found[1] == _check(others, found[2] or "")


def _words(cells: Mapping[str, str]) -> str:
    return ", ".join(f"{column} {text}" for column, text in cells.items() if text)
