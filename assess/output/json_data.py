"""What each command shows, as plain data for ``--json``.

Every answer is wrapped by :func:`envelope`; its keys are part of the public face and only
grow within one format number. Scopes and verdicts are in the words of the trade.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, cast

from assess.assessment import Assessment
from assess.explain import ExplanationNode
from assess.knowledge.knowledge_base import Knowledge
from assess.output.budgets import LEAST_STEP
from assess.output.json_parts import (
    cautions_part,
    chances_part,
    complaints_part,
    cost_part,
    estimate_class_part,
    expected_part,
    fault_part,
    finding_part,
    flip_part,
    grade_part,
    hidden_part,
    identity_part,
    material_part,
    offer_part,
    searches_part,
    spread_part,
    step_part,
)
from assess.output.json_types.bench import FigureData, MeasurementData, MeasuresData, SheetData
from assess.output.json_types.condition import GradesData
from assess.output.json_types.installed import CheckData, NodeData, SubsystemsData
from assess.output.json_types.verdict import AssumedData, LooksData, VerdictData
from assess.output.json_types.work import BudgetData, CalendarData, PlanData
from assess.output.knowledge_lists import ignored_references
from assess.planning.calendar import Calendar, meanwhile
from assess.planning.critical_path import LongestChain
from assess.planning.finish_simulation import Finish
from assess.planning.plan import Plan
from assess.planning.timing import step_of
from assess.planning.use_requirements import left_alone, requirements_of
from assess.plugin.api import Sheet

if TYPE_CHECKING:
    from assess.inspection.value_of_information import Look
    from assess.planning.budget import Budget

FORMAT = 3


def envelope(command: str, data: Any, warnings: tuple[str, ...] = ()) -> str:
    """A command's data as JSON text: ``format``, ``command``, ``warnings``, ``data``."""
    whole = {"format": FORMAT, "command": command, "warnings": list(warnings), "data": data}
    return json.dumps(whole, ensure_ascii=False, indent=2, sort_keys=True) + "\n"


def grades_data(result: Assessment) -> GradesData:
    """Grades, findings and what is unseen."""
    graded = result.graded
    return {
        "title": result.job.title,
        "identity": identity_part(result.job),
        "whole": grade_part(graded.instrument),
        "subsystems": [
            {
                "id": s.id,
                "title": s.title,
                "assessed": s.assessed,
                **grade_part(s.grade),
                "components": [{"id": c, **grade_part(g)} for c, g in s.components.items()],
            }
            for s in graded.subsystems.values()
        ],
        "findings": [finding_part(f) for f in graded.findings],
        "expected": expected_part(result),
        "unseen": [j.id for j in graded.unseen],
        "assumed": result.configuration.assumed,
        "cautions": cautions_part(
            (c for f in graded.findings for c in f.outcome.cautions), result.knowledge
        ),
    }


def plan_data(result: Assessment, plan: Plan) -> PlanData:
    """A plan with its steps, materials, hours and cost."""
    searches = searches_part(result, plan)
    return {
        "title": result.job.title,
        "scope": result.trade.scope_id(plan.scope),
        "hours": spread_part(plan.hours),
        "hours_left": spread_part(plan.hours_left),
        "next": plan.next_step.step if plan.next_step else None,
        "done_besides": list(plan.done_besides),
        "cost": cost_part(plan),
        "variance_shares": {
            step: round(share, 4) for step, share in plan.estimate.variance_shares.items()
        },
        "workshop_job": plan.workshop_job,
        "steps": [step_part(s, searches.get(s.step)) for s in plan.steps],
        "called": {r: list(c) for r, c in plan.called.items()},
        "replaced": plan.replaced,
        "requirements": [
            {
                "requirement": item.requirement.id,
                "title": item.requirement.title,
                "broken_by": [finding.id for finding in item.broken_by],
                "mended": item.mended,
                "proofs": list(item.proofs),
                "searches": list(item.searches),
            }
            for item in requirements_of(result.planner, plan)
        ],
        "left_alone": [
            {"criterion": item.finding.id, "given": item.finding.given, "why": item.why}
            for item in left_alone(result.planner, plan, result.trade.use)
        ],
        "materials": [material_part(m) for m in plan.materials],
        "cautions": cautions_part(plan.cautions, result.knowledge),
    }


def verdict_data(result: Assessment) -> VerdictData:
    """The verdict with its reasons, options and what would change it."""
    verdict, trade = result.verdict, result.trade
    return {
        "title": result.job.title,
        "identity": identity_part(result.job),
        "verdict": trade.verdict(verdict.name),
        "scope": trade.scope_id(verdict.scope) if verdict.scope else None,
        "likeliest": trade.verdict(verdict.likeliest),
        "probability": round(verdict.probability, 4),
        "chances": chances_part(trade, verdict.chances),
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
        "pivotal_findings": [flip_part(trade, flip) for flip in result.pivotal_findings],
        "hidden": [hidden_part(h) for h in result.hidden(verdict.plan_scope)],
        "worth_saving": list(verdict.worth_saving),
        "estimate": estimate_class_part(result),
        "ways": [
            {
                "way": way.name,
                "cost": spread_part(way.cost) if way.cost else None,
                "possible": round(way.possible, 4),
                "advised": round(way.advised, 4),
                "wanted": way.wanted,
                "within_limit": way.within_limit,
            }
            for way in verdict.ways
        ],
        "complaints": complaints_part(result),
        "options": [
            {
                "scope": trade.scope_id(o.scope),
                "possible": o.feasibility.possible,
                "passes": o.feasibility.passes,
                "within_limit": o.within_limit,
                "against": list(o.against),
                "steps": len(o.plan.steps),
                "hours": spread_part(o.plan.hours),
                "cost": cost_part(o.plan),
                "with_unseen": {
                    "hours": spread_part(k.hours),
                    "cost": spread_part(k.cost),
                    "within_limit": k.within_limit,
                },
            }
            for o, k in zip(verdict.options, verdict.likely, strict=True)
        ],
    }


def looks_data(result: Assessment, looks: Sequence[Look]) -> LooksData:
    """What to look at next, how things stand, and which faults may still be hidden."""
    trade = result.trade
    return {
        "title": result.job.title,
        "grade": grade_part(result.graded.instrument),
        "expected": expected_part(result),
        "chances": chances_part(trade, result.chances()),
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
        "complaints": complaints_part(result),
        "hidden": [hidden_part(h) for h in result.hidden(result.verdict.plan_scope)],
    }


def assumed_data(result: Assessment) -> AssumedData:
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


def budget_data(result: Assessment, budget: Budget, amount: float) -> BudgetData:
    """What an amount buys, and the best choices for every amount."""
    best, least, trade = budget.best(amount), budget.least, result.trade
    return {
        "title": result.job.title,
        "amount": amount,
        "must_be_usable": budget.usable,
        "impossible": [f.id for f in budget.impossible] if budget.usable else [],
        "best": offer_part(best, trade) if best else None,
        "least": offer_part(least, trade) if least else None,
        "frontier": [offer_part(offer, trade) for offer in budget.ladder(LEAST_STEP)],
    }


def why_data(node: ExplanationNode) -> NodeData:
    """A tree of reasons."""
    return {"text": node.text, "under": [why_data(below) for below in node.under]}


def calendar_data(
    result: Assessment, plan: Plan, calendar: Calendar, finish: Finish, chain: LongestChain
) -> CalendarData:
    """Every step in time at the mean hours, and when it will be done."""
    worked = meanwhile(calendar)
    tasks = result.planner.timing(plan).tasks
    return {
        "scope": result.trade.scope_id(plan.scope),
        "start": _moment(calendar.start),
        "finish": _moment(calendar.finish),
        "finish_p50": _moment(finish.p50),
        "finish_p90": _moment(finish.p90),
        "back_p50": _moment(finish.back_p50) if finish.back_p50 else None,
        "back_p90": _moment(finish.back_p90) if finish.back_p90 else None,
        "visits": [visit.isoformat() for visit in calendar.visits(tasks)],
        "bound": _moment(calendar.bound),
        "slack_days": round(calendar.slack_days, 2),
        "done": [s.step for s in plan.steps if s.is_done],
        "longest_chain": {
            "steps": _steps_of(chain.steps),
            "deliveries": _steps_of(chain.deliveries),
            "seasons": _steps_of(chain.seasons),
            "waits_for_materials": chain.waits_for_materials,
            "days": round(chain.days, 2),
        },
        "bookings": [
            {
                "step": step_of(b.step),
                "again": b.step != step_of(b.step),
                "where": tasks[b.step].site,
                "start": _moment(b.start),
                "end": _moment(b.end),
                "ready": _moment(b.ready),
                "meanwhile": _steps_of(worked.get(b.step, ()), apart_from=step_of(b.step)),
            }
            for b in calendar.bookings
        ],
    }


def _steps_of(tasks: Iterable[str], apart_from: str = "") -> list[str]:
    """The steps of some tasks, each once, though it may be done in two halves."""
    return [s for s in dict.fromkeys(map(step_of, tasks)) if s != apart_from]


def _moment(moment: dt.datetime) -> str:
    return moment.isoformat(timespec="minutes")


def measures_data(result: Assessment) -> MeasuresData:
    """Every computed value or what is missing, computed amounts, and the data of figures."""
    values = {name: {**asdict(m), "id": name} for name, m in result.measured.values.items()}
    figures = {name: {**asdict(f), "id": name} for name, f in result.figures.items()}
    return {
        "values": cast(dict[str, MeasurementData], values),
        "quantities": [
            {"repair": repair, "material": material, "amount": q.amount, "says": q.says}
            for (repair, material), q in result.measured.quantities.items()
        ],
        "figures": cast(dict[str, FigureData], figures),
    }


def sheets_data(sheets: dict[str, Sheet]) -> dict[str, SheetData]:
    """Sheets for the bench, by full id."""
    data = {name: {**asdict(sheet), "id": name} for name, sheet in sheets.items()}
    return cast(dict[str, SheetData], data)


def subsystems_data(knowledge: Knowledge) -> SubsystemsData:
    """Installed subsystems and plugins left out."""
    return {
        "subsystems": [
            {"id": s.id, "title": s.title, "weight": s.weight, "position": s.position}
            for s in knowledge.subsystems.values()
        ],
        "faults": [fault_part(f) for f in knowledge.faults],
    }


def check_data(knowledge: Knowledge, doubts: Sequence[str], mistakes: Sequence[str]) -> CheckData:
    """What a check of knowledge, job files and a workshop profile found."""
    return {
        "faults": [line for fault in knowledge.faults for line in fault.lines()],
        "doubts": list(doubts),
        "dropped": ignored_references(knowledge),
        "jobs": list(mistakes),
    }
