"""What a page of a visit may send in: the form of each entry, and what it is refused for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from assess.assessment import Assessment
from assess.job.survey_edits import Cell
from assess.knowledge.surveys import Survey

MOST_CELLS = 500
"""Cells that one entry may hold."""


class Refused(Exception):  # noqa: N818 - the person may send something else
    """An entry that cannot be saved as it is; the message says what would be right."""


class Contradicted(Exception):  # noqa: N818 - the person decides
    """An entry for which something else was saved meanwhile.

    Attributes:
        there: what stands in the file, for each thing that was sent.
    """

    def __init__(self, there: Any) -> None:
        super().__init__("something else was saved here meanwhile")
        self.there = there


class Entry(BaseModel):
    """What every entry has: an id of its own, and the device that sends it."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    id: str = Field(min_length=8, max_length=64)
    device: str = Field(min_length=8, max_length=64)


class AnswerEntry(Entry):
    """An answer to a question.

    Attributes:
        question: full id of the criterion.
        words: what was typed or chosen.
        chosen: whether the words are one of the answers offered, and no typed number.
        note: beside it.
        was: what stood in the file when the person answered.
    """

    question: str = Field(max_length=200)
    words: str = Field(max_length=500)
    chosen: bool = False
    note: str = Field(default="", max_length=2000)
    was: str | None = None


class TellEntry(Entry):
    """An answer at the door; ``words`` as :meth:`DoorQuestion.value` reads them."""

    question: str = Field(max_length=200)
    words: str = Field(max_length=2000)
    was: str = ""


class CellEntry(BaseModel):
    """One cell of a grid."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    key: dict[str, str]
    column: str = Field(max_length=100)
    text: str = Field(max_length=500)
    was: str = Field(default="", max_length=500)


class GridEntry(Entry):
    """Cells of a survey's grid."""

    survey: str = Field(max_length=200)
    cells: tuple[CellEntry, ...] = Field(min_length=1, max_length=MOST_CELLS)


class RecordingEntry(Entry):
    """A recording of what a grid shows.

    Attributes:
        survey: full id of the survey that it fills in.
        name: what the file is called.
        options: what is said of it, by the ids of the declared options.
    """

    survey: str = Field(max_length=200)
    name: str = Field(max_length=200)
    options: dict[str, Annotated[str, Field(max_length=200)]] = {}


E = TypeVar("E", bound=Entry)


def what_to_hear(entry: RecordingEntry, result: Assessment) -> tuple[Survey, dict[str, str]]:
    """The survey that a recording fills in, and what is said of it.

    Raises:
        Refused: it cannot be heard, or something is not said.
    """
    survey = result.knowledge.surveys.get(entry.survey)
    if survey is None or survey.hears is None:
        raise Refused(f"no survey that is heard: {entry.survey}")
    declared = {option.id: option for option in survey.hears.options}
    unknown = [name for name in entry.options if name not in declared]
    if unknown:
        raise Refused(f"no such option: {unknown[0]}")
    options = {o.id: entry.options.get(o.id, "").strip() or o.usual for o in declared.values()}
    missing = [o for o in declared.values() if o.required and not options[o.id]]
    if missing:
        raise Refused(f"not said: {missing[0].says}")
    return survey, options


def cell_of(cell: CellEntry, survey: Survey) -> Cell:
    """A cell as it is merged.

    Raises:
        Refused: it is in no column of the survey, or its row has no name.
    """
    known = {c.id for c in survey.columns}
    unknown = [c for c in (*cell.key, cell.column) if c not in known]
    if unknown:
        raise Refused(f"no such column: {unknown[0]}")
    if not set(cell.key) <= set(survey.key):
        raise Refused(f"a row is named by {', '.join(survey.key)}")
    if any("\n" in text or "\r" in text for text in (cell.text, *cell.key.values())):
        raise Refused("a cell is one line")
    return Cell(cell.key, cell.column, cell.text, cell.was)


def entry_of(kind: type[E], sent: Mapping[str, Any]) -> E:
    """An entry of a page.

    Raises:
        Refused: it has not the form of one.
    """
    try:
        return kind.model_validate(sent)
    except ValidationError as error:
        fault = error.errors()[0]
        where = ".".join(map(str, fault["loc"]))
        raise Refused(f"not understood: {where}: {fault['msg']}") from None
