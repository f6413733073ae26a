"""What each command shows, as plain data for ``--json``.

Every answer is wrapped by :func:`envelope`; its keys are part of the public face and only
grow within one format number.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from assess.assessment import Assessment
from assess.explain import ExplanationNode
from assess.grading.grades import Grade
from assess.grading.judgements import Judgement
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import HoursRange
from assess.output.cautions import in_order
from assess.planning.calendar import Calendar, LongestChain, meanwhile
from assess.planning.cost_estimate import Spread, estimate_class
from assess.planning.finish_simulation import Finish
from assess.planning.planner import Plan, PlanStep
from assess.plugin.api import Sheet

if TYPE_CHECKING:
    from assess.inspection.hidden_defects import Hidden
    from assess.inspection.value_of_information import Look
    from assess.planning.budget import Budget, Offer

FORMAT = 2


def envelope(command: str, data: Any, warnings: tuple[str, ...] = ()) -> str:
    """A command's data as JSON text: ``format``, ``command``, ``warnings``, ``data``."""
    whole = {"format": FORMAT, "command": command, "warnings": list(warnings), "data": data}
    return json.dumps(whole, ensure_ascii=False, indent=2, sort_keys=True) + "\n"


def grades_data(result: Assessment) -> dict[str, Any]:
    """Grades, findings and what is unseen."""
    graded = result.graded
    return {
        "title": result.job.title,
        "instrument": _grade(graded.instrument),
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
        "expected": {name: round(value, 2) for name, value in result.expected.items()},
        "unseen": [j.id for j in graded.unseen],
        "assumed": result.configuration.assumed,
        "cautions": _cautions(
            (c for f in graded.findings for c in f.outcome.cautions), result.knowledge
        ),
    }


def plan_data(result: Assessment, plan: Plan) -> dict[str, Any]:
    """A plan with its steps, materials, hours and cost."""
    return {
        "title": result.job.title,
        "scope": plan.scope,
        "hours": _spread(plan.hours),
        "cost": _cost(plan),
        "spread_makers": {
            step: round(share, 4) for step, share in plan.estimate.variance_shares.items()
        },
        "workshop_job": plan.workshop_job,
        "steps": [_step(s) for s in plan.steps],
        "called": {r: list(c) for r, c in plan.called.items()},
        "replaced": plan.replaced,
        "materials": [asdict(m) for m in plan.materials],
        "cautions": _cautions(plan.cautions, result.knowledge),
    }


def verdict_data(result: Assessment) -> dict[str, Any]:
    """The verdict with its reasons, options and what would change it."""
    verdict = result.verdict
    return {
        "title": result.job.title,
        "verdict": verdict.name,
        "scope": verdict.scope,
        "likeliest": verdict.likeliest,
        "probability": round(verdict.probability, 4),
        "chances": {name: round(chance, 4) for name, chance in verdict.chances.items()},
        "settled": verdict.settled,
        "reasons": list(verdict.reasons),
        "grounds": list(verdict.grounds),
        "as_seen": verdict.as_seen,
        "ceilings": {
            wish: [
                {
                    "from": round(r.ceiling, 2),
                    "verdict": r.name,
                    "probability": round(r.probability, 4),
                }
                for r in rungs
            ]
            for wish, rungs in verdict.ceilings.items()
        },
        "pivotal_findings": [asdict(turn) for turn in result.pivotal_findings],
        "hidden": [_hidden(h) for h in result.hidden(verdict.scope or "full")],
        "worth_saving": list(verdict.worth_saving),
        "estimate": asdict(estimate_class(result.graded.instrument.coverage)),
        "options": [
            {
                "scope": o.scope,
                "possible": o.feasibility.possible,
                "passes": o.feasibility.passes,
                "within_ceiling": o.within_ceiling,
                "against": list(o.against),
                "steps": len(o.plan.steps),
                "hours": _spread(o.plan.hours),
                "cost": _cost(o.plan),
                "with_unseen": {
                    "hours": _spread(k.hours),
                    "cost": _spread(k.cost),
                    "within_ceiling": k.within_ceiling,
                },
            }
            for o, k in zip(verdict.options, verdict.likely, strict=True)
        ],
    }


def looks_data(result: Assessment, looks: Sequence[Look]) -> dict[str, Any]:
    """What to look at next, how things stand, and what may come to light."""
    chances = result.chances()
    return {
        "title": result.job.title,
        "grade": _grade(result.graded.instrument),
        "expected": {name: round(value, 2) for name, value in result.expected.items()},
        "chances": {name: round(chance, 4) for name, chance in chances.items()},
        "settled": result.settled,
        "looks": [
            {
                "criterion": look.criterion,
                "minutes": look.minutes,
                "opens": [{"place": place, "minutes": m} for place, m in look.opens],
                "information_bits": round(look.information_bits, 5),
                "turns": round(look.turns, 4),
                "could": [
                    {
                        "answer": c.answer,
                        "chance": round(c.chance, 4),
                        "verdict": c.verdict,
                        "probability": round(c.probability, 4),
                    }
                    for c in look.possible_answers
                ],
            }
            for look in looks
        ],
        "hidden": [_hidden(h) for h in result.hidden(result.verdict.scope or "full")],
    }


def assumed_data(result: Assessment) -> dict[str, Any]:
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


def _hidden(hidden: Hidden) -> dict[str, Any]:
    names: dict[str, Any] = {"criterion": hidden.criterion}
    if hidden.feature:
        names |= {"feature": hidden.feature, "otherwise": hidden.otherwise}
    return names | {
        "chance": round(hidden.chance, 4),
        "hours": round(hidden.hours, 2),
        "cost": round(hidden.cost, 2),
        "at_visit": hidden.at_visit,
        "opens": list(hidden.opens),
        "minutes": hidden.minutes,
        "opening_hours": hidden.opening_hours,
    }


def budget_data(result: Assessment, budget: Budget, amount: float) -> dict[str, Any]:
    """What an amount buys, and the ladder of best sets."""
    best, least = budget.best(amount), budget.least
    return {
        "title": result.job.title,
        "amount": amount,
        "playable": budget.playable,
        "impossible": [f.id for f in budget.impossible] if budget.playable else [],
        "best": _offer(best) if best else None,
        "least": _offer(least) if least else None,
        "ladder": [_offer(rung) for rung in budget.frontier],
    }


def _offer(offer: Offer) -> dict[str, Any]:
    return {
        "price": round(offer.price, 2),
        "points": round(offer.points, 3),
        "plays": offer.plays,
        "gained": offer.gained,
        "repairs": list(offer.repairs),
        "steps": [s.step for s in offer.plan.steps],
        "hours": _spread(offer.plan.hours),
        "cost": _cost(offer.plan),
    }


def why_data(branch: ExplanationNode) -> dict[str, Any]:
    """A tree of reasons."""
    return {"text": branch.text, "under": [why_data(b) for b in branch.under]}


def calendar_data(
    plan: Plan, calendar: Calendar, finish: Finish, chain: LongestChain
) -> dict[str, Any]:
    """Every step in time at the mean hours, and when it will be done."""
    worked = meanwhile(calendar)
    return {
        "scope": plan.scope,
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


def measures_data(result: Assessment) -> dict[str, Any]:
    """Every computed value or what it wants, computed amounts, and the data of figures."""
    return {
        "values": {name: {**asdict(m), "id": name} for name, m in result.measured.values.items()},
        "quantities": [
            {"repair": repair, "material": material, "amount": q.amount, "says": q.says}
            for (repair, material), q in result.measured.quantities.items()
        ],
        "figures": {name: {**asdict(f), "id": name} for name, f in result.figures.items()},
    }


def sheets_data(sheets: dict[str, Sheet]) -> dict[str, Any]:
    """Sheets for the bench."""
    return {name: {**asdict(s), "id": name} for name, s in sheets.items()}


def subsystems_data(knowledge: Knowledge) -> dict[str, Any]:
    """Installed subsystems and plugins left out."""
    return {
        "subsystems": [info.model_dump() for info in knowledge.subsystems.values()],
        "faults": [asdict(f) for f in knowledge.faults],
    }


def _grade(grade: Grade) -> dict[str, Any]:
    return {
        "lower": round(grade.lower, 2),
        "upper": round(grade.upper, 2),
        "best_class": grade.best_class,
        "worst_class": grade.worst_class,
        "coverage": round(grade.coverage, 4),
        "weight": grade.weight,
    }


def _finding(finding: Judgement) -> dict[str, Any]:
    outcome = finding.outcome
    return {
        "criterion": finding.id,
        "asks": finding.criterion.asks,
        "given": finding.given,
        "value": finding.value,
        "unit": finding.criterion.unit,
        "outcome": outcome.label,
        "class": outcome.condition,
        "urgency": outcome.how_soon,
        "danger": outcome.danger,
        "decay": outcome.decay,
        "silences": outcome.disables,
        "beyond_repair": outcome.beyond_repair,
        "advise_against": outcome.advise_against,
        "calls_for": list(outcome.calls_for),
        "cautions": list(outcome.cautions),
        "note": finding.note,
    }


def _step(step: PlanStep) -> dict[str, Any]:
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
        "materials": [asdict(m) for m in step.materials],
        "causes": [asdict(c) for c in step.causes],
        "reasons": [{"after": r.after, **asdict(r.reason)} for r in step.reasons],
        "rule": step.rule,
        "reversible": step.reversible,
        "lasts_years": step.lasts_years,
    }


def _hours(hours: HoursRange) -> dict[str, float]:
    low, likely, high = hours
    return {"low": low, "likely": likely, "high": high}


def _spread(spread: Spread) -> dict[str, float]:
    return {key: round(value, 2) for key, value in asdict(spread).items()}


def _cost(plan: Plan) -> dict[str, Any]:
    cost = plan.cost
    return {
        "total": _spread(plan.estimate.total),
        "materials": round(cost.materials, 2),
        "transport": cost.transport,
        "currency": cost.currency,
        "rate_per_hour": cost.rate_per_hour,
        "contingency": cost.contingency,
    }


def _cautions(cautions: Any, knowledge: Knowledge) -> list[dict[str, Any]]:
    return [
        {
            "id": c,
            **knowledge.cautions[c].model_dump(
                include={"title", "text", "defer_to", "follow", "people"}
            ),
        }
        for c in in_order(cautions, knowledge)
    ]
