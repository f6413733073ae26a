"""What ``--json`` says of the verdict, what would change it, and what to look at next."""

from __future__ import annotations

from typing import Any, NotRequired

from typing_extensions import TypedDict

from assess.output.json_types.condition import ExpectedData, GradeData, IdentityData, SpreadData
from assess.output.json_types.work import CostData

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
