"""What ``--json`` says of measurements, figures and tables for the bench."""

from __future__ import annotations

from typing_extensions import TypedDict


class MeasurementData(TypedDict):
    """A computed value, or what is missing to compute it."""

    id: str
    title: str
    unit: str
    formula: str
    source: str
    value: float | None
    sd: float | None
    inputs: list[tuple[str, str]]
    says: str
    wants: list[str]
    which: list[str]


class QuantityData(TypedDict):
    """An amount of material that was computed for one repair."""

    repair: str
    material: str
    amount: float
    says: str


class SeriesData(TypedDict):
    """One line of a figure, with the uncertainty of its points where it is known."""

    name: str
    points: list[tuple[float, float]]
    spreads: list[float]
    behind: bool


class FlagData(TypedDict):
    """What is marked at places along a figure."""

    series: str
    says: str
    at: list[float]


class FigureData(TypedDict):
    """The data of a plot."""

    id: str
    title: str
    x: str
    y: str
    series: list[SeriesData]
    notes: list[str]
    says: str
    joined: bool
    flags: list[FlagData]
    x_names: dict[float, str]
    x_ticks: list[float]


class MeasuresData(TypedDict):
    """``measure``: computed values, amounts and figures."""

    values: dict[str, MeasurementData]
    quantities: list[QuantityData]
    figures: dict[str, FigureData]


class SheetData(TypedDict):
    """A table for the bench."""

    id: str
    title: str
    columns: list[str]
    rows: list[list[str]]
    notes: list[str]
    wants: list[str]
