"""What a plugin is given to compute from, and what it gives back.

A plugin's hook ``measure`` is given an :class:`Inspection` and yields
:class:`Measurement` objects: a value with its unit, uncertainty, formula and source, the
inputs it came from, and what it means in one plain sentence. Where inputs are missing it
yields a measurement without a value that says what is missing.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, TypeVar

from assess.base.errors import JobFileError, did_you_mean
from assess.base.units import convert
from assess.knowledge.further_unit import FurtherUnit
from assess.knowledge.surveys import UNIT_COLUMN

T = TypeVar("T")
Row = Mapping[str, "float | str | None"]
"""One row of a survey: column id to a number in the column's unit, text, or None if empty."""


@dataclass(frozen=True)
class Inspection:
    """What is known of one object: frozen, so that no plugin can change it for another.

    Attributes:
        tags: ids of the features it has, and of the options chosen.
        facts: numbers by fact id, in the fact's unit.
        values: measured and counted answers by full criterion id, in the criterion's unit.
        answers: answers in words by full criterion id.
        surveys: rows by full survey id.
        units: the declared unit of every fact and every measured criterion, by id.
        row_places: file and line of each row, by full survey id.
    """

    tags: frozenset[str] = frozenset()
    facts: Mapping[str, float] = field(default_factory=dict)
    values: Mapping[str, float] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
    surveys: Mapping[str, tuple[Row, ...]] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    row_places: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        surveys = {
            name: tuple(MappingProxyType(dict(row)) for row in rows)
            for name, rows in self.surveys.items()
        }
        object.__setattr__(self, "surveys", MappingProxyType(surveys))
        for name in ("facts", "values", "answers", "units", "row_places"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    def number(self, name: str, unit: str) -> float | None:
        """A fact (``spokes``) or a measured answer (``wheels.broken_spokes``), in a unit.

        Args:
            name: a fact id, or a full criterion id.
            unit: the unit in which the number is returned, whatever unit it is declared in.

        Returns:
            None when the job does not say, or when the plugin that declares it is not installed.

        Raises:
            LookupError: no such fact or measured criterion; the closest names are given.
            UnitError: it is declared in a unit of another kind.
        """
        declared = self.units.get(name)
        if declared is None:
            if "." in name and not self._is_installed(name.partition(".")[0]):
                return None
            kind = "measured criterion" if "." in name else "fact"
            raise LookupError(f"no {kind} {name!r}; {did_you_mean(name, self.units)}")
        value = self.values.get(name) if "." in name else self.facts.get(name)
        return None if value is None else convert(value, declared, unit)

    def of_unit(self, unit: FurtherUnit, surveys: Collection[str]) -> Inspection:
        """The same, as if a further unit were the only one.

        What is about that unit alone stands under the ids of the first one, so that what is
        computed for the first is computed for every other by the same code.

        Args:
            unit: the unit.
            surveys: full ids of the surveys whose rows say which unit they are about.
        """
        return self._narrowed(unit, surveys)

    def of_first_unit(self, surveys: Collection[str]) -> Inspection:
        """The same, with the rows of the first unit only; see :meth:`of_unit`."""
        return self._narrowed(None, surveys) if surveys else self

    def _narrowed(self, unit: FurtherUnit | None, surveys: Collection[str]) -> Inspection:
        rows, places = dict(self.surveys), dict(self.row_places)
        for name in set(surveys) & set(rows):
            chosen = [i for i, row in enumerate(rows[name]) if _is_about(row, unit)]
            rows[name] = tuple(self.surveys[name][i] for i in chosen)
            if places.get(name):
                places[name] = tuple(places[name][i] for i in chosen)
        return replace(
            self,
            facts=_own(self.facts, unit),
            values=_own(self.values, unit),
            answers=_own(self.answers, unit),
            surveys=rows,
            row_places=places,
        )

    def _is_installed(self, subsystem: str) -> bool:
        return any(name.startswith(f"{subsystem}.") for name in self.units)

    def survey_rows(
        self, survey: str, read: Callable[[Row], T], about: Callable[[T], Hashable] | None = None
    ) -> list[T]:
        """Every row of a survey, read by the plugin.

        Args:
            survey: full survey id.
            read: makes of a row what the plugin works with; ValueError if that is impossible.
            about: what a row is about, of which there is one, so that two rows about the same
                are a mistake even where they are spelled differently; None for anything.

        Raises:
            JobFileError: rows that are impossible, all of them, each with its file and line.
        """
        rows, faults = [], []
        seen: dict[Hashable, str] = {}
        places = self.row_places.get(survey, ())
        for number, row in enumerate(self.surveys.get(survey, ())):
            known = number < len(places)
            where = places[number] if known else f"survey {survey}, row {number + 1}"
            try:
                rows.append(read(row))
            except ValueError as error:
                faults.append(f"{where}: {error}")
                continue
            key = about(rows[-1]) if about else None
            if key is not None and seen.setdefault(key, where) != where:
                faults.append(
                    f"{where}: about the same as {seen[key]}, spelled differently; leave one out"
                )
        if faults:
            raise JobFileError("\n".join(faults))
        return rows


def _is_about(row: Row, unit: FurtherUnit | None) -> bool:
    """Whether a row of a survey is about a unit; an empty cell is about the first one."""
    cell = row.get(UNIT_COLUMN)
    return cell is None if unit is None else unit.is_called(str(cell or ""))


def _own(values: Mapping[str, T], unit: FurtherUnit | None) -> dict[str, T]:
    """Values with those of a further unit in the place of the first one's."""
    if unit is None:
        return dict(values)
    return dict(values) | {unit.base(k): v for k, v in values.items() if unit.is_own(k)}


@dataclass(frozen=True)
class Measurement:
    """One computed value, or what is missing to compute it.

    Attributes:
        id: local id; a criterion of the same id is judged by it.
        title: what it is.
        value: in ``unit``; None when inputs are missing.
        sd: its standard uncertainty, in the same unit, where it is known.
        formula: the name of the formula.
        source: where the formula comes from.
        inputs: name and value of each input, in words.
        says: what it means, in one plain sentence.
        wants: inputs that are missing.
        which: the rows of a survey that it counts, by name and remark, all of them.
    """

    id: str
    title: str
    unit: str
    formula: str
    source: str
    value: float | None = None
    sd: float | None = None
    inputs: tuple[tuple[str, str], ...] = ()
    says: str = ""
    wants: tuple[str, ...] = ()
    which: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """A table for the bench, such as a list of what to cut.

    Attributes:
        id: local id, by which it is asked for.
        title: what stands above it.
        columns: headings.
        rows: cells as text.
        notes: lines below it: sources, cautions, what was assumed.
        wants: inputs that are missing, when it cannot be made.
    """

    id: str
    title: str
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    notes: tuple[str, ...] = ()
    wants: tuple[str, ...] = ()


@dataclass(frozen=True)
class Quantity:
    """An amount of material computed for one repair, instead of the declared one.

    Attributes:
        repair, material: local ids of the plugin.
        amount: in the material's unit, before waste.
        says: how it was worked out.
    """

    repair: str
    material: str
    amount: float
    says: str = ""


@dataclass(frozen=True)
class Series:
    """One line of a figure.

    Attributes:
        name: what it is called in the legend and the table.
        points: where it goes.
        spreads: the standard uncertainty of each point, 0 where it is not known; or none at all.
        behind: whether it is a line that the others are compared with, drawn behind them.
    """

    name: str
    points: tuple[tuple[float, float], ...]
    spreads: tuple[float, ...] = ()
    behind: bool = False


@dataclass(frozen=True)
class Flag:
    """Something that is to be seen at places along a figure, whether there is a value or not.

    Attributes:
        series: the name of the series that it is about.
        says: what it is, in a word or two.
        at: the places.
    """

    series: str
    says: str
    at: tuple[float, ...]


@dataclass(frozen=True)
class Figure:
    """Data of a plot.

    Attributes:
        id: local id.
        title: what stands above it.
        x, y: titles of the axes, with their units.
        series: its lines.
        notes: what it rests on.
        says: what it shows, in one plain sentence.
        joined: whether the points of a series are joined by a line.
        flags: what is marked below the plot.
        x_names: what a value along x is called, in the plot and in the table of its numbers.
        x_ticks: values along x that are labelled; else round ones.
    """

    id: str
    title: str
    x: str
    y: str
    series: tuple[Series, ...]
    notes: tuple[str, ...] = ()
    says: str = ""
    joined: bool = True
    flags: tuple[Flag, ...] = ()
    x_names: Mapping[float, str] = field(default_factory=dict)
    x_ticks: tuple[float, ...] = ()


@dataclass(frozen=True)
class HeardRow:
    """One row of a survey as it was heard.

    Attributes:
        key: words of the survey's key columns.
        cells: words of other columns; those of the marked column follow the mark.
    """

    key: Mapping[str, str]
    cells: Mapping[str, str]


@dataclass(frozen=True)
class Heard:
    """What was heard in a recording.

    Attributes:
        rows: rows of the survey.
        says: what was heard in all, and what cannot be told, one sentence each.
    """

    rows: tuple[HeardRow, ...]
    says: tuple[str, ...] = ()


def missing(named: Mapping[str, Any]) -> tuple[str, ...]:
    """The names whose value is None.

    >>> missing({"length": 3.0, "width": None})
    ('width',)
    """
    return tuple(name for name, value in named.items() if value is None)
