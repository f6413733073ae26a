"""Pieces that several answers of ``--json`` share: grades, findings, steps, costs, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, cast

from assess.assessment import Assessment
from assess.grading.grades import Grade
from assess.grading.judgements import Judgement
from assess.job.job_file import DoneRecord, Job
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import HoursRange
from assess.knowledge.plugin_faults import PluginFault
from assess.knowledge.trade import Trade, VerdictName
from assess.output.cautions import in_order
from assess.output.json_types.condition import (
    CautionData,
    ExpectedData,
    FindingData,
    GradeData,
    HoursData,
    IdentityData,
    SpreadData,
)
from assess.output.json_types.installed import FaultData
from assess.output.json_types.verdict import (
    ComplaintData,
    EstimateClassData,
    HiddenData,
    PivotalFindingData,
)
from assess.output.json_types.work import (
    CostData,
    MaterialData,
    OfferData,
    OrderReasonData,
    RecordData,
    SearchData,
    StepData,
)
from assess.planning.cost_estimate import Spread
from assess.planning.plan import Plan, PlanStep, StepReason
from assess.planning.workload import MaterialNeed

if TYPE_CHECKING:
    from assess.decision.verdict import SensitivityFlip
    from assess.inspection.hidden_defects import Hidden
    from assess.planning.budget import Offer


def expected_part(result: Assessment) -> ExpectedData:
    """The grades to expect."""
    expected = result.expected
    return {
        "whole": None if expected.whole is None else round(expected.whole, 2),
        "subsystems": {name: round(value, 2) for name, value in expected.subsystems.items()},
        "components": {name: round(value, 2) for name, value in expected.components.items()},
    }


def complaints_part(result: Assessment) -> list[ComplaintData]:
    """What is complained of, with its causes and the tests that are left."""
    return [
        {
            "symptom": explained.symptom.id,
            "asks": explained.symptom.asks,
            "words": explained.complaint.words,
            "explained": explained.is_explained,
            "causes": [
                {
                    "criterion": cause.criterion,
                    "seen": cause.seen,
                    "chance": round(cause.chance, 4),
                    "responsible": round(cause.responsible, 4),
                }
                for cause in explained.causes
            ],
            "tests": list(explained.tests),
        }
        for explained in result.complaints
    ]


def chances_part(trade: Trade, chances: Mapping[VerdictName, float]) -> dict[str, float]:
    """Verdicts in the words of the trade, with their chances."""
    return {trade.verdict(name): round(chance, 4) for name, chance in chances.items()}


def flip_part(trade: Trade, flip: SensitivityFlip) -> PivotalFindingData:
    """A finding that would change the verdict."""
    return {
        "criterion": flip.criterion,
        "asks": flip.asks,
        "given": flip.given,
        "instead": flip.instead,
        "condition": flip.condition,
        "verdict": trade.verdict(flip.name),
    }


def estimate_class_part(result: Assessment) -> EstimateClassData:
    """How wide estimates at this share seen turn out."""
    kind = result.workshop.estimate_class(result.graded.instrument.coverage)
    return {
        "number": kind.number,
        "said": kind.said,
        "under": list(kind.under),
        "over": list(kind.over),
        "source": kind.source,
    }


def hidden_part(hidden: Hidden) -> HiddenData:
    """A fault, or a kind of build, that may still be hidden."""
    data: HiddenData = {
        "criterion": hidden.criterion,
        "chance": round(hidden.chance, 4),
        "hours": round(hidden.hours, 2),
        "cost": round(hidden.cost, 2),
        "at_visit": hidden.at_visit,
        "opens": list(hidden.opens),
        "minutes": hidden.minutes,
        "opening_hours": hidden.opening_hours,
    }
    if hidden.feature:
        data["feature"], data["otherwise"] = hidden.feature, hidden.otherwise
    return data


def offer_part(offer: Offer, trade: Trade) -> OfferData:
    """What one sum buys."""
    return {
        "price": round(offer.price, 2),
        "points": round(offer.points, 3),
        "usable": offer.usable,
        "gained": {c: trade.scope_id(scope) for c, scope in offer.gained.items()},
        "repairs": list(offer.repairs),
        "searches": list(offer.searches),
        "steps": [s.step for s in offer.plan.steps],
        "hours": spread_part(offer.plan.hours),
        "cost": cost_part(offer.plan),
    }


def fault_part(fault: PluginFault) -> FaultData:
    """A plugin that could not be used."""
    provider = fault.provider
    return {
        "plugin": provider.plugin,
        "distribution": provider.distribution,
        "version": provider.version,
        "hook": fault.hook,
        "cause": fault.cause,
        "subsystem": fault.subsystem,
    }


def grade_part(grade: Grade) -> GradeData:
    """A grade with its bounds."""
    return {
        "lower": round(grade.lower, 2),
        "upper": round(grade.upper, 2),
        "best_class": grade.best_class,
        "worst_class": grade.worst_class,
        "coverage": round(grade.coverage, 4),
        "weight": grade.weight,
    }


def finding_part(finding: Judgement) -> FindingData:
    """A finding with its evidence and what it calls for."""
    outcome = finding.outcome
    return {
        "criterion": finding.id,
        "asks": finding.criterion.asks,
        "given": finding.given,
        "value": finding.value,
        "unit": finding.criterion.unit,
        "outcome": outcome.label,
        "condition": outcome.condition,
        "urgency": outcome.how_soon,
        "danger": outcome.danger,
        "decay": outcome.decay,
        "disables": outcome.stops_use,
        "beyond_repair": outcome.beyond_repair,
        "advise_against": outcome.advise_against,
        "calls_for": list(outcome.calls_for),
        "cautions": list(outcome.cautions),
        "note": finding.note,
    }


def searches_part(result: Assessment, plan: Plan) -> dict[str, SearchData]:
    """How the cause of each complaint is found, by step, and what may cure it."""
    cures = result.likely_cures(plan.scope) if plan.steps else {}
    return {
        search.step: {
            "symptom": search.symptom,
            "signs": list(search.signs),
            "tests": list(search.tests),
            "repeated": search.repeated,
            "looks": list(search.looks),
            "cures": [
                {
                    "repairs": list(cure.repairs),
                    "causes": list(cure.causes),
                    "chance": round(cure.chance, 4),
                    "hours": round(cure.hours, 2),
                    "cost": round(cure.cost, 2),
                }
                for cure in cures[search.step].listed
            ],
            "otherwise": round(cures[search.step].otherwise, 4),
        }
        for search in result.searches
        if plan.step(search.step)
    }


def step_part(step: PlanStep, search: SearchData | None = None) -> StepData:
    """A step of a plan.

    Args:
        step: the step.
        search: what it looks for, where it finds the cause of a complaint.
    """
    data: StepData = {
        "number": step.number,
        "step": step.step,
        "kind": step.kind,
        "title": step.title,
        "stage": step.stage,
        "hours": _hours(step.hours),
        "waits_hours": step.waits_hours,
        "times": step.times.count,
        "times_counted": step.times.counted,
        "how": step.how,
        "avoid": step.avoid,
        "test": step.test,
        "passes": step.passes,
        "if_fails": step.if_fails,
        "cautions": list(step.cautions),
        "materials": [material_part(m) for m in step.materials],
        "causes": [{"kind": c.kind, "by": c.by, "text": c.text} for c in step.causes],
        "reasons": [_order_reason(r) for r in step.reasons],
        "rule": step.rule,
        "reversible": step.reversible,
        "lasts_years": step.lasts_years,
        "to_reach": step.to_reach,
        "state": step.state.value,
        "record": _record(step.record),
        "before_done": step.before_done,
    }
    if search is not None:
        data["search"] = search
    return data


def _record(record: DoneRecord | None) -> RecordData | None:
    if record is None:
        return None
    return {
        "date": record.date.isoformat() if record.date else None,
        "reading": str(record.reading),
        "failed": record.failed,
        "note": record.note,
    }


def identity_part(job: Job) -> IdentityData:
    """Which object a job is about, and the photographs of it."""
    known = job.instrument.identity
    return {
        "maker": known.maker,
        "model": known.model,
        "serial": str(known.serial),
        "year": known.year,
        "label": known.label,
        "provenance": known.provenance,
        "photographs": {about: list(files) for about, files in job.photographs.items()},
    }


def material_part(need: MaterialNeed) -> MaterialData:
    """A material to buy."""
    return cast(MaterialData, asdict(need))


def _order_reason(given: StepReason) -> OrderReasonData:
    reason = given.reason
    return {
        "after": given.after,
        "text": reason.text,
        "kind": reason.kind,
        "source": reason.source,
    }


def _hours(hours: HoursRange) -> HoursData:
    low, likely, high = hours
    return {"low": low, "likely": likely, "high": high}


def spread_part(spread: Spread) -> SpreadData:
    """A quantity that is not known exactly."""
    rounded = {key: round(value, 2) for key, value in asdict(spread).items()}
    return cast(SpreadData, rounded)


def cost_part(plan: Plan) -> CostData:
    """The cost of a plan, and what it is made of."""
    cost = plan.cost
    return {
        "total": spread_part(plan.estimate.total),
        "materials": round(cost.materials, 2),
        "transport": cost.transport,
        "currency": cost.currency,
        "rate_per_hour": cost.rate_per_hour,
        "contingency": cost.contingency,
    }


def cautions_part(cautions: Iterable[str], knowledge: Knowledge) -> list[CautionData]:
    """Cautions in full, dangers to people first."""
    return [_caution(caution, knowledge) for caution in in_order(cautions, knowledge)]


def _caution(name: str, knowledge: Knowledge) -> CautionData:
    caution = knowledge.cautions[name]
    return {
        "id": name,
        "title": caution.title,
        "text": caution.text,
        "defer_to": caution.defer_to,
        "follow": caution.follow,
        "people": caution.people,
    }
