"""Models of surveys: the columns of a CSV file, how a page shows it, and what can be heard."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from assess.knowledge.model_base import Declared, LocalId, Range, Text, check_unit

UNIT_COLUMN = "unit"
"""The column of a survey that says which unit a row is about."""


class Column(Declared):
    """One column of a survey: its heading, and its unit when it holds numbers.

    Attributes:
        choices: words that a page offers for it, in order; a file may hold others.
        usual: what an empty cell of a key column stands for when rows are told apart.
    """

    id: LocalId
    unit: str | None = None
    required: bool = False
    choices: tuple[Text, ...] = ()
    usual: str = ""
    possible: Range = (-1e9, 1e9)

    @model_validator(mode="after")
    def _known_unit(self) -> Self:
        if self.unit is not None:
            check_unit(self.unit)
        return self


class Grid(Declared):
    """How a page shows a survey as a grid to tap: a cell for each piece of one set.

    Attributes:
        row: the column that names the pieces; its choices are the cells, in order.
        by: the columns that together name a set.
        mark: the column that a tap fills with one of its choices; the first is the usual one.
        number: the column of a reading that may be typed for each cell.
        no_number: choices of the mark with which there is no reading.
        remark: the column whose choices are added to what it says already.
        shown: the first and the last cell that are shown as long as nothing is chosen.
        line: cells side by side on a wide screen; half as many on a narrow one.
    """

    row: LocalId
    by: tuple[LocalId, ...]
    mark: LocalId
    number: LocalId | None = None
    no_number: tuple[Text, ...] = ()
    remark: LocalId | None = None
    shown: tuple[Text, Text] | None = None
    line: Annotated[int, Field(ge=2, le=24, multiple_of=2)] = 12

    @property
    def columns(self) -> tuple[LocalId, ...]:
        """Every column that it names."""
        more = (c for c in (self.number, self.remark) if c is not None)
        return (self.row, *self.by, self.mark, *more)


class HeardOption(Declared):
    """What must be said of a recording before it can be heard: an option of the command.

    Attributes:
        id: the option, without dashes, and the key under which the plugin is given it.
        says: what it means, for ``--help``.
        required: whether nothing can be heard without it.
        usual: what it is where it is not given.
        column: the key column that says it too; a page takes it from there.
    """

    id: Annotated[str, Field(pattern=r"^[a-z][a-z_]*$")]
    says: Text
    required: bool = False
    usual: str = ""
    column: LocalId | None = None


class HeardSurvey(Declared):
    """How rows of a survey are taken from recordings, by the plugin's hook ``hear``.

    Attributes:
        mark: the column that says from which recording a row was taken, and when; not one that
            people write in.
        options: what must be said of a recording.
        how: how to record, in the sentences that a page shows before it listens.
    """

    mark: LocalId
    options: tuple[HeardOption, ...] = ()
    how: tuple[Text, ...] = ()


class Survey(Declared):
    """A table that is taken piece by piece and read from a CSV file beside the job file.

    Attributes:
        grid: how a page shows it as a grid to tap; left out, it is only read from a file.
        hears: how its rows are taken from recordings; left out, they are not.
        columns: what may stand in it.
        key: columns that together name a piece; no two rows may name the same one.
        each: the kind of unit whose ids stand in the column ``unit``; empty cells are about the
            first unit.
    """

    id: LocalId
    title: Text
    columns: tuple[Column, ...]
    key: tuple[LocalId, ...] = ()
    each: LocalId | None = None
    grid: Grid | None = None
    hears: HeardSurvey | None = None

    @property
    def cells(self) -> tuple[str, ...]:
        """The names of the pieces of which the grid shows a cell each, in order."""
        return self.column(self.grid.row).choices if self.grid else ()

    def column(self, name: str) -> Column:
        """One of its columns.

        Raises:
            KeyError: it has no such column.
        """
        return {column.id: column for column in self.columns}[name]

    @model_validator(mode="after")
    def _grid_fits(self) -> Self:
        if self.grid is None:
            return self
        known = {column.id for column in self.columns}
        unknown = [c for c in self.grid.columns if c not in known]
        if unknown:
            raise ValueError(f"grid names no column {unknown[0]!r}")
        for name in (self.grid.row, self.grid.mark, *filter(None, [self.grid.remark])):
            if not self.column(name).choices:
                raise ValueError(f"the grid needs choices of column {name!r}")
        for name in self.grid.shown or ():
            if name not in self.cells:
                raise ValueError(f"the grid shows no cell {name!r}")
        return self

    @model_validator(mode="after")
    def _heard_mark_is_there(self) -> Self:
        known = {column.id for column in self.columns} - set(self.key)
        if self.hears and self.hears.mark not in known:
            raise ValueError(f"hears names no column for its mark: {self.hears.mark!r}")
        columns = [o.column for o in self.hears.options if o.column] if self.hears else []
        wrong = [column for column in columns if column not in self.key]
        if wrong:
            raise ValueError(f"hears names no key column: {wrong[0]!r}")
        return self

    @model_validator(mode="after")
    def _unit_is_a_column(self) -> Self:
        if self.each and UNIT_COLUMN not in {column.id for column in self.columns}:
            raise ValueError(f"a survey with 'each' needs a column {UNIT_COLUMN!r}")
        return self

    @model_validator(mode="after")
    def _key_is_there(self) -> Self:
        if len({column.id for column in self.columns}) < len(self.columns):
            raise ValueError("two columns have the same id")
        unknown = set(self.key) - {column.id for column in self.columns}
        if unknown:
            raise ValueError(f"key names no column {sorted(unknown)[0]!r}")
        return self
