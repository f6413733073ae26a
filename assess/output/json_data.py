"""What each command shows, as plain data for ``--json``.

Every answer is wrapped by :func:`envelope`; its keys are part of the public face and only
grow within one format number. Scopes and verdicts are in the words of the trade.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, cast

from assess.assessment import Assessment
from assess.explain import ExplanationNode
from assess.grading.grades import Grade
from assess.grading.judgements import Judgement
from assess.knowledge.knowledge_base import Knowledge, PluginFault
from assess.knowledge.model_base import HoursRange
from assess.knowledge.trade import Trade, VerdictName
from assess.output import json_types as shape
from assess.output.cautions import in_order
from assess.output.knowledge_lists import ignored_references
from assess.planning.calendar import Calendar, LongestChain, meanwhile
from assess.planning.cost_estimate import Spread
from assess.planning.finish_simulation import Finish
from assess.planning.planner import Plan, PlanStep, StepReason
from assess.planning.use_requirements import left_alone, requirements_of
from assess.planning.workload import MaterialNeed
from assess.plugin.api import Sheet

if TYPE_CHECKING:
    from assess.decision.verdict import SensitivityFlip
    from assess.inspection.hidden_defects import Hidden
    from assess.inspection.value_of_information import Look
    from assess.planning.budget import Budget, Offer

FORMAT = 3


def envelope(command: str, data: Any, warnings: tuple[str, ...] = ()) -> str:
    """A command's data as JSON text: ``format``, ``command``, ``warnings``, ``data``."""
    whole = {"format": FORMAT, "command": command, "warnings": list(warnings), "data": data}
    return json.dumps(whole, ensure_ascii=False, indent=2, sort_keys=True) + "\n"


def grades_data(result: Assessment) -> shape.GradesData:
    """Grades, findings and what is unseen."""
    graded = result.graded
    return {
        "title": result.job.title,
        "whole": _grade(graded.instrument),
        "subsystems": [
            {
                "id": s.id,
                "title": s.title,
                "assessed": s.assessed,
                **_grade(s.grade),
                "components": [{"id": c, **_grade(g)} for c, g in s.components.items()],
            }
            for s in graded.subsystems.values()
        ],
        "findings": [_finding(f) for f in graded.findings],
        "expected": _expected(result),
        "unseen": [j.id for j in graded.unseen],
        "assumed": result.configuration.assumed,
        "cautions": _cautions(
            (c for f in graded.findings for c in f.outcome.cautions), result.knowledge
        ),
    }


def _expected(result: Assessment) -> shape.ExpectedData:
    expected = result.expected
    return {
        "whole": None if expected.whole is None else round(expected.whole, 2),
        "subsystems": {name: round(value, 2) for name, value in expected.subsystems.items()},
        "components": {name: round(value, 2) for name, value in expected.components.items()},
    }


def plan_data(result: Assessment, plan: Plan) -> shape.PlanData:
    """A plan with its steps, materials, hours and cost."""
    return {
        "title": result.job.title,
        "scope": result.trade.scope_id(plan.scope),
        "hours": _spread(plan.hours),
        "cost": _cost(plan),
        "variance_shares": {
            step: round(share, 4) for step, share in plan.estimate.variance_shares.items()
        },
        "workshop_job": plan.workshop_job,
        "steps": [_step(s) for s in plan.steps],
        "called": {r: list(c) for r, c in plan.called.items()},
        "replaced": plan.replaced,
        "requirements": [
            {
                "requirement": item.requirement.id,
                "title": item.requirement.title,
                "broken_by": [finding.id for finding in item.broken_by],
                "mended": item.mended,
                "proofs": list(item.proofs),
            }
            for item in requirements_of(result.planner, plan)
        ],
        "left_alone": [
            {"criterion": item.finding.id, "given": item.finding.given, "why": item.why}
            for item in left_alone(result.planner, plan, result.trade.use)
        ],
        "materials": [_material(m) for m in plan.materials],
        "cautions": _cautions(plan.cautions, result.knowledge),
    }


def verdict_data(result: Assessment) -> shape.VerdictData:
    """The verdict with its reasons, options and what would change it."""
    verdict, trade = result.verdict, result.trade
    return {
        "title": result.job.title,
        "verdict": trade.verdict(verdict.name),
        "scope": trade.scope_id(verdict.scope) if verdict.scope else None,
        "likeliest": trade.verdict(verdict.likeliest),
        "probability": round(verdict.probability, 4),
        "chances": _chances(trade, verdict.chances),
        "settled": verdict.settled,
        "reasons": list(verdict.reasons),
        "grounds": list(verdict.grounds),
        "as_seen": trade.verdict(verdict.as_seen),
        "limits": {
            trade.scope_id(wish): [
                {
                    "from": round(point.limit, 2),
                    "verdict": trade.verdict(point.name),
                    "probability": round(point.probability, 4),
                }
                for point in points
            ]
            for wish, points in verdict.limits.items()
        },
        "pivotal_findings": [_flip(trade, flip) for flip in result.pivotal_findings],
        "hidden": [_hidden(h) for h in result.hidden(verdict.plan_scope)],
        "worth_saving": list(verdict.worth_saving),
        "estimate": _estimate_class(result),
        "ways": [
            {
                "way": way.name,
                "cost": _spread(way.cost) if way.cost else None,
                "possible": round(way.possible, 4),
                "advised": round(way.advised, 4),
                "wished": way.wished,
                "within_limit": way.within_limit,
            }
            for way in verdict.ways
        ],
        "complaints": _complaints(result),
        "options": [
            {
                "scope": trade.scope_id(o.scope),
                "possible": o.feasibility.possible,
                "passes": o.feasibility.passes,
                "within_limit": o.within_limit,
                "against": list(o.against),
                "steps": len(o.plan.steps),
                "hours": _spread(o.plan.hours),
                "cost": _cost(o.plan),
                "with_unseen": {
                    "hours": _spread(k.hours),
                    "cost": _spread(k.cost),
                    "within_limit": k.within_limit,
                },
            }
            for o, k in zip(verdict.options, verdict.likely, strict=True)
        ],
    }


def _complaints(result: Assessment) -> list[shape.ComplaintData]:
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


def _chances(trade: Trade, chances: Mapping[VerdictName, float]) -> dict[str, float]:
    return {trade.verdict(name): round(chance, 4) for name, chance in chances.items()}


def _flip(trade: Trade, flip: SensitivityFlip) -> shape.PivotalFindingData:
    return {
        "criterion": flip.criterion,
        "asks": flip.asks,
        "given": flip.given,
        "instead": flip.instead,
        "condition": flip.condition,
        "verdict": trade.verdict(flip.name),
    }


def _estimate_class(result: Assessment) -> shape.EstimateClassData:
    kind = result.workshop.estimate_class(result.graded.instrument.coverage)
    return {
        "number": kind.number,
        "said": kind.said,
        "under": list(kind.under),
        "over": list(kind.over),
        "source": kind.source,
    }


def looks_data(result: Assessment, looks: Sequence[Look]) -> shape.LooksData:
    """What to look at next, how things stand, and which faults may still be hidden."""
    trade = result.trade
    return {
        "title": result.job.title,
        "grade": _grade(result.graded.instrument),
        "expected": _expected(result),
        "chances": _chances(trade, result.chances()),
        "settled": result.settled,
        "looks": [
            {
                "criterion": look.criterion,
                "minutes": look.minutes,
                "opens": [{"place": place, "minutes": m} for place, m in look.opens],
                "information_bits": round(look.information_bits, 5),
                "turns": round(look.turns, 4),
                "possible_answers": [
                    {
                        "answer": c.answer,
                        "chance": round(c.chance, 4),
                        "verdict": trade.verdict(c.verdict),
                        "probability": round(c.probability, 4),
                    }
                    for c in look.possible_answers
                ],
                "symptom": look.symptom,
            }
            for look in looks
        ],
        "complaints": _complaints(result),
        "hidden": [_hidden(h) for h in result.hidden(result.verdict.plan_scope)],
    }


def assumed_data(result: Assessment) -> shape.AssumedData:
    """What is assumed of the unseen, and what the answers make of it."""
    believed = result.beliefs
    return {
        "care": result.workshop.care.model_dump(),
        "whole": dict(zip(believed.states, believed.whole, strict=True)),
        "components": {
            c: dict(zip(believed.states, believed.of_component(c), strict=True))
            for c in result.knowledge.components
        },
        "seldom": {c.id: c.seldom for c in result.knowledge.criteria.values() if c.seldom < 1},
        "often": {c.id: c.often for c in result.knowledge.criteria.values() if c.often > 1},
    }


def _hidden(hidden: Hidden) -> shape.HiddenData:
    data: shape.HiddenData = {
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


def budget_data(result: Assessment, budget: Budget, amount: float) -> shape.BudgetData:
    """What an amount buys, and the best choices for every amount."""
    best, least, trade = budget.best(amount), budget.least, result.trade
    return {
        "title": result.job.title,
        "amount": amount,
        "must_be_usable": budget.usable,
        "impossible": [f.id for f in budget.impossible] if budget.usable else [],
        "best": _offer(best, trade) if best else None,
        "least": _offer(least, trade) if least else None,
        "frontier": [_offer(offer, trade) for offer in budget.frontier],
    }


def _offer(offer: Offer, trade: Trade) -> shape.OfferData:
    return {
        "price": round(offer.price, 2),
        "points": round(offer.points, 3),
        "usable": offer.usable,
        "gained": {c: trade.scope_id(scope) for c, scope in offer.gained.items()},
        "repairs": list(offer.repairs),
        "steps": [s.step for s in offer.plan.steps],
        "hours": _spread(offer.plan.hours),
        "cost": _cost(offer.plan),
    }


def why_data(node: ExplanationNode) -> shape.NodeData:
    """A tree of reasons."""
    return {"text": node.text, "under": [why_data(below) for below in node.under]}


def calendar_data(
    result: Assessment, plan: Plan, calendar: Calendar, finish: Finish, chain: LongestChain
) -> shape.CalendarData:
    """Every step in time at the mean hours, and when it will be done."""
    worked = meanwhile(calendar)
    return {
        "scope": result.trade.scope_id(plan.scope),
        "start": _moment(calendar.start),
        "finish": _moment(calendar.finish),
        "finish_p50": _moment(finish.p50),
        "finish_p90": _moment(finish.p90),
        "bound": _moment(calendar.bound),
        "slack_days": round(calendar.slack_days, 2),
        "longest_chain": {
            "steps": list(chain.steps),
            "waits_for_materials": chain.waits_for_materials,
            "days": round(chain.days, 2),
        },
        "bookings": [
            {
                "step": b.step,
                "start": _moment(b.start),
                "end": _moment(b.end),
                "ready": _moment(b.ready),
                "meanwhile": list(worked.get(b.step, ())),
            }
            for b in calendar.bookings
        ],
    }


def _moment(moment: dt.datetime) -> str:
    return moment.isoformat(timespec="minutes")


def measures_data(result: Assessment) -> shape.MeasuresData:
    """Every computed value or what is missing, computed amounts, and the data of figures."""
    values = {name: {**asdict(m), "id": name} for name, m in result.measured.values.items()}
    figures = {name: {**asdict(f), "id": name} for name, f in result.figures.items()}
    return {
        "values": cast(dict[str, shape.MeasurementData], values),
        "quantities": [
            {"repair": repair, "material": material, "amount": q.amount, "says": q.says}
            for (repair, material), q in result.measured.quantities.items()
        ],
        "figures": cast(dict[str, shape.FigureData], figures),
    }


def sheets_data(sheets: dict[str, Sheet]) -> dict[str, shape.SheetData]:
    """Sheets for the bench, by full id."""
    data = {name: {**asdict(sheet), "id": name} for name, sheet in sheets.items()}
    return cast(dict[str, shape.SheetData], data)


def subsystems_data(knowledge: Knowledge) -> shape.SubsystemsData:
    """Installed subsystems and plugins left out."""
    return {
        "subsystems": [
            {"id": s.id, "title": s.title, "weight": s.weight, "position": s.position}
            for s in knowledge.subsystems.values()
        ],
        "faults": [_fault(f) for f in knowledge.faults],
    }


def check_data(
    knowledge: Knowledge, doubts: Sequence[str], mistakes: Sequence[str]
) -> shape.CheckData:
    """What a check of knowledge, job files and a workshop profile found."""
    return {
        "faults": [line for fault in knowledge.faults for line in fault.lines()],
        "doubts": list(doubts),
        "dropped": ignored_references(knowledge),
        "jobs": list(mistakes),
    }


def _fault(fault: PluginFault) -> shape.FaultData:
    provider = fault.provider
    return {
        "plugin": provider.plugin,
        "distribution": provider.distribution,
        "version": provider.version,
        "hook": fault.hook,
        "cause": fault.cause,
        "subsystem": fault.subsystem,
    }


def _grade(grade: Grade) -> shape.GradeData:
    return {
        "lower": round(grade.lower, 2),
        "upper": round(grade.upper, 2),
        "best_class": grade.best_class,
        "worst_class": grade.worst_class,
        "coverage": round(grade.coverage, 4),
        "weight": grade.weight,
    }


def _finding(finding: Judgement) -> shape.FindingData:
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


def _step(step: PlanStep) -> shape.StepData:
    return {
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
        "materials": [_material(m) for m in step.materials],
        "causes": [{"kind": c.kind, "by": c.by, "text": c.text} for c in step.causes],
        "reasons": [_order_reason(r) for r in step.reasons],
        "rule": step.rule,
        "reversible": step.reversible,
        "lasts_years": step.lasts_years,
    }


def _material(need: MaterialNeed) -> shape.MaterialData:
    return cast(shape.MaterialData, asdict(need))


def _order_reason(given: StepReason) -> shape.OrderReasonData:
    reason = given.reason
    return {
        "after": given.after,
        "text": reason.text,
        "kind": reason.kind,
        "source": reason.source,
    }


def _hours(hours: HoursRange) -> shape.HoursData:
    low, likely, high = hours
    return {"low": low, "likely": likely, "high": high}


def _spread(spread: Spread) -> shape.SpreadData:
    rounded = {key: round(value, 2) for key, value in asdict(spread).items()}
    return cast(shape.SpreadData, rounded)


def _cost(plan: Plan) -> shape.CostData:
    cost = plan.cost
    return {
        "total": _spread(plan.estimate.total),
        "materials": round(cost.materials, 2),
        "transport": cost.transport,
        "currency": cost.currency,
        "rate_per_hour": cost.rate_per_hour,
        "contingency": cost.contingency,
    }


def _cautions(cautions: Iterable[str], knowledge: Knowledge) -> list[shape.CautionData]:
    return [_caution(caution, knowledge) for caution in in_order(cautions, knowledge)]


def _caution(name: str, knowledge: Knowledge) -> shape.CautionData:
    caution = knowledge.cautions[name]
    return {
        "id": name,
        "title": caution.title,
        "text": caution.text,
        "defer_to": caution.defer_to,
        "follow": caution.follow,
        "people": caution.people,
    }
