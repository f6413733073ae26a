"""What ``--json`` says of grades, findings, and which object it is."""

from __future__ import annotations

from typing_extensions import TypedDict


class SpreadData(TypedDict):
    """A quantity that is not known exactly: mean, standard deviation, and three quantiles."""

    mean: float
    sd: float
    p10: float
    p50: float
    p90: float


class HoursData(TypedDict):
    """Low, most likely and high hours."""

    low: float
    likely: float
    high: float


class GradeData(TypedDict):
    """A grade 0..100 with bounds, the classes read off them, and the share seen."""

    lower: float
    upper: float
    best_class: int
    worst_class: int
    coverage: float
    weight: float


class ComponentData(GradeData):
    """A component's grade."""

    id: str


class SubsystemData(GradeData):
    """A subsystem's grade, and those of its components."""

    id: str
    title: str
    assessed: bool
    components: list[ComponentData]


class ExpectedData(TypedDict):
    """The grades to expect; ``whole`` is null while some subsystem could not be assessed."""

    whole: float | None
    subsystems: dict[str, float]
    components: dict[str, float]


class CautionData(TypedDict):
    """A caution, whom to ask, and which rules to follow."""

    id: str
    title: str
    text: str
    defer_to: str
    follow: str
    people: bool


class FindingData(TypedDict):
    """A criterion that was seen with a condition class above 0."""

    criterion: str
    asks: str
    given: str
    value: float | None
    unit: str | None
    outcome: str
    condition: int
    urgency: int
    danger: bool
    decay: bool
    disables: bool
    beyond_repair: str
    advise_against: str
    calls_for: list[str]
    cautions: list[str]
    note: str


class IdentityData(TypedDict):
    """Which object it is; ``serial`` is text, ``year`` null where it is not known.

    ``photographs`` are files by what they show: a criterion's full id, or ``whole``.
    """

    maker: str
    model: str
    serial: str
    year: int | None
    label: str
    provenance: str
    photographs: dict[str, list[str]]


class GradesData(TypedDict):
    """``grade``: grades, findings worst first, and what is unseen."""

    title: str
    identity: IdentityData
    whole: GradeData
    subsystems: list[SubsystemData]
    findings: list[FindingData]
    expected: ExpectedData
    unseen: list[str]
    assumed: dict[str, str]
    cautions: list[CautionData]
