"""The shape of every answer of ``--json``: what the JSON Schemas are made from.

Money is in the currency of the workshop profile, hours are bench hours, ``minutes`` are minutes
of looking, chances and shares run from 0 to 1. Ids are full ids. Scopes and verdicts are in the
words of the trade.
"""

from __future__ import annotations

from typing import Any, NotRequired

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


class CostData(TypedDict):
    """The cost of a plan and what it is made of."""

    total: SpreadData
    materials: float
    transport: float
    currency: str
    rate_per_hour: float
    contingency: float


class MaterialData(TypedDict):
    """An amount of one material, with waste."""

    material: str
    title: str
    unit: str
    quantity: float
    price: float
    lead_days: int
    kind: str
    price_low: float
    price_high: float


class CauseData(TypedDict):
    """Why a step is in the plan: the kind of reason, what brought it in, and the words."""

    kind: str
    by: str
    text: str


class OrderReasonData(TypedDict):
    """Why a step comes after another of the plan."""

    after: str
    text: str
    kind: str
    source: str


class RecordData(TypedDict):
    """What the job file says was done of a step, or how a test went."""

    date: str | None
    reading: str
    failed: bool
    note: str


class StepData(TypedDict):
    """One numbered step of a plan."""

    number: int
    step: str
    kind: str
    title: str
    stage: str
    hours: HoursData
    waits_hours: float
    times: float
    times_counted: bool
    how: str
    avoid: str
    test: str
    passes: str
    if_fails: str
    cautions: list[str]
    materials: list[MaterialData]
    causes: list[CauseData]
    reasons: list[OrderReasonData]
    rule: str
    reversible: bool
    lasts_years: float | None
    to_reach: str
    state: str
    record: RecordData | None
    before_done: int
    search: NotRequired[SearchData]


class LikelyCureData(TypedDict):
    """Repairs that may cure a complaint, with their chance and what they add to the plan."""

    repairs: list[str]
    causes: list[str]
    chance: float
    hours: float
    cost: float


class SearchData(TypedDict):
    """How the cause of a complaint is found, and what may cure it."""

    symptom: str
    signs: list[str]
    tests: list[str]
    repeated: bool
    looks: list[str]
    cures: list[LikelyCureData]
    otherwise: float


class RequirementData(TypedDict):
    """What it must do to be used: what breaks it, whether that is mended, which steps prove it."""

    requirement: str
    title: str
    broken_by: list[str]
    mended: bool
    proofs: list[int]
    searches: list[int]


class LeftAloneData(TypedDict):
    """A finding that the plan does nothing about, and why not."""

    criterion: str
    given: str
    why: str


class PlanData(TypedDict):
    """``plan``: steps in working order, materials, hours and cost."""

    title: str
    scope: str
    hours: SpreadData
    hours_left: SpreadData
    next: str | None
    done_besides: list[str]
    cost: CostData
    variance_shares: dict[str, float]
    workshop_job: bool
    steps: list[StepData]
    called: dict[str, list[str]]
    replaced: dict[str, str]
    requirements: list[RequirementData]
    left_alone: list[LeftAloneData]
    materials: list[MaterialData]
    cautions: list[CautionData]


LimitData = TypedDict("LimitData", {"from": float, "verdict": str, "probability": float})
"""From this limit of the owner on, the likeliest verdict, and its probability there."""


class PivotalFindingData(TypedDict):
    """A finding which, with another answer, would change the likeliest verdict."""

    criterion: str
    asks: str
    given: str
    instead: str
    condition: int
    verdict: str


class HiddenData(TypedDict):
    """A fault, or a kind of build, that may still be hidden."""

    criterion: str
    feature: NotRequired[str]
    otherwise: NotRequired[bool | str]
    chance: float
    hours: float
    cost: float
    at_visit: bool
    opens: list[str]
    minutes: float
    opening_hours: float


class EstimateClassData(TypedDict):
    """How wide comparable estimates come out, in percent under and over."""

    number: int
    said: str
    under: list[int]
    over: list[int]
    source: str


class WithUnseenData(TypedDict):
    """Hours and cost of a scope, allowing for the unseen."""

    hours: SpreadData
    cost: SpreadData
    within_limit: float | None


class OptionData(TypedDict):
    """One scope weighed, from what was seen and allowing for the rest."""

    scope: str
    possible: bool
    passes: bool
    within_limit: float | None
    against: list[str]
    steps: int
    hours: SpreadData
    cost: CostData
    with_unseen: WithUnseenData


class WayData(TypedDict):
    """One way to go: its cost, how likely it is possible and advised, and what the owner wants."""

    way: str
    cost: SpreadData | None
    possible: float
    advised: float
    wanted: bool | None
    within_limit: float | None


class ComplaintCauseData(TypedDict):
    """One cause of a complaint: whether it was seen, how likely it is there and contributes."""

    criterion: str
    seen: bool
    chance: float
    responsible: float


class ComplaintData(TypedDict):
    """A complaint: its symptom, whether something found explains it, causes, tests left."""

    symptom: str
    asks: str
    words: str
    explained: bool
    causes: list[ComplaintCauseData]
    tests: list[str]


class VerdictData(TypedDict):
    """``verdict``: the recommendation, how sure it is, and what would change it."""

    title: str
    identity: IdentityData
    verdict: str
    scope: str | None
    likeliest: str
    probability: float
    chances: dict[str, float]
    settled: bool
    reasons: list[str]
    grounds: list[str]
    as_seen: str
    limits: dict[str, list[LimitData]]
    pivotal_findings: list[PivotalFindingData]
    hidden: list[HiddenData]
    worth_saving: list[str]
    estimate: EstimateClassData
    ways: list[WayData]
    complaints: list[ComplaintData]
    options: list[OptionData]


class OpenedData(TypedDict):
    """A place to open for a look, and the minutes that takes."""

    place: str
    minutes: float


class PossibleAnswerData(TypedDict):
    """An answer, its chance, and the verdict that would then be likeliest."""

    answer: str
    chance: float
    verdict: str
    probability: float


class LookData(TypedDict):
    """One thing to look at."""

    criterion: str
    minutes: float
    opens: list[OpenedData]
    information_bits: float
    turns: float
    possible_answers: list[PossibleAnswerData]
    symptom: str


class LooksData(TypedDict):
    """``look``: what to look at next, and which faults may still be hidden."""

    title: str
    grade: GradeData
    expected: ExpectedData
    chances: dict[str, float]
    settled: bool
    looks: list[LookData]
    complaints: list[ComplaintData]
    hidden: list[HiddenData]


class AssumedData(TypedDict):
    """``look --assumed``: what is assumed of the unseen, and what the answers make of it."""

    care: dict[str, Any]
    whole: dict[str, float]
    components: dict[str, dict[str, float]]
    seldom: dict[str, float]
    often: dict[str, float]


class OfferData(TypedDict):
    """What one sum buys."""

    price: float
    points: float
    usable: bool
    gained: dict[str, str]
    repairs: list[str]
    searches: list[str]
    steps: list[str]
    hours: SpreadData
    cost: CostData


class BudgetData(TypedDict):
    """``budget``: what an amount buys, and the best choices for every amount."""

    title: str
    amount: float
    must_be_usable: bool
    impossible: list[str]
    best: OfferData | None
    least: OfferData | None
    frontier: list[OfferData]


class ChainData(TypedDict):
    """The steps that decide how long a job takes at least."""

    steps: list[str]
    deliveries: list[str]
    seasons: list[str]
    waits_for_materials: bool
    days: float


class BookingData(TypedDict):
    """When one step is worked on, and when what waits for it may begin."""

    step: str
    again: bool
    where: str
    start: str
    end: str
    ready: str
    meanwhile: list[str]


class CalendarData(TypedDict):
    """``calendar``: every step in time at the mean hours, and when all will be done."""

    scope: str
    start: str
    finish: str
    finish_p50: str
    finish_p90: str
    back_p50: str | None
    back_p90: str | None
    visits: list[str]
    bound: str
    slack_days: float
    done: list[str]
    longest_chain: ChainData
    bookings: list[BookingData]


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
    places: list[tuple[float, str]]


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


class NodeData(TypedDict):
    """``why``: a statement, and what it rests on."""

    text: str
    under: list[NodeData]


class InstalledSubsystemData(TypedDict):
    """An installed subsystem."""

    id: str
    title: str
    weight: float
    position: int


class FaultData(TypedDict):
    """A plugin that could not be used."""

    plugin: str
    distribution: str
    version: str
    hook: str
    cause: str
    subsystem: str | None


class SubsystemsData(TypedDict):
    """``subsystems``: what is installed, and what had to be left out."""

    subsystems: list[InstalledSubsystemData]
    faults: list[FaultData]


class CheckData(TypedDict):
    """``check``: what is wrong in plugins, job files and a profile."""

    faults: list[str]
    doubts: list[str]
    dropped: list[str]
    jobs: list[str]
