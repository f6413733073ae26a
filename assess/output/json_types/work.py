"""What ``--json`` says of plans, costs, budgets and calendars."""

from __future__ import annotations

from typing import NotRequired

from typing_extensions import TypedDict

from assess.output.json_types.condition import CautionData, HoursData, SpreadData


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
