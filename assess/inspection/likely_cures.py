"""What may cure what is complained of, as long as nothing found explains it.

In each scenario of the sample the causes of a symptom are known, and so is the probability that
each of them produced it (a noisy-OR: see :mod:`assess.uncertainty.noisy_or`). A cure is the set
of repairs that a cause calls for; its chance is the mean of that probability.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.inspection.complaints import LEAST_RESPONSIBLE
from assess.job.configuration import Configuration
from assess.job.workshop_profile import Workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.steps import Step
from assess.planning.closure import fits
from assess.uncertainty.monte_carlo import Sample
from assess.uncertainty.noisy_or import SymptomEvidence
from assess.uncertainty.plan_arrays import PlanArrays
from assess.uncertainty.scenario_costs import simulate_scenarios

Finding = tuple[str, int]
"""A criterion, and the position of one of its outcomes."""
Strengths = dict[Finding, NDArray[np.float64]]
"""How strongly each finding produces a symptom in each scenario; of shape (scenarios,)."""
Added = Mapping[Finding, tuple[float, float]]
"""The hours and the cost that each finding would add to a plan."""


@dataclass(frozen=True)
class LikelyCure:
    """Repairs that may cure what is complained of.

    Attributes:
        repairs: what is done; nothing where a plan leaves the cause alone.
        causes: the criteria that call for it.
        chance: probability that what it cures produced the symptom.
        hours, cost: what it would add to the plan, on average.
    """

    repairs: tuple[str, ...]
    causes: tuple[str, ...]
    chance: float
    hours: float
    cost: float


@dataclass(frozen=True)
class LikelyCures:
    """Everything that may cure one symptom.

    Attributes:
        listed: likely cures, likeliest first.
        otherwise: probability that none of them is the cure.
    """

    listed: tuple[LikelyCure, ...]
    otherwise: float


@dataclass(frozen=True)
class CureContext:
    """What likely cures follow from.

    Attributes:
        knowledge, configuration, workshop: as everywhere.
        graded: what is seen.
        sample: everything unseen filled in, many times.
        arrays: hours and money of all that may be planned.
    """

    knowledge: Knowledge
    configuration: Configuration
    workshop: Workshop
    graded: Graded
    sample: Sample
    arrays: PlanArrays


def likely_cures(
    evidence: Iterable[SymptomEvidence], context: CureContext
) -> dict[Scope, dict[Step, LikelyCures]]:
    """For each scope and each symptom, by the step that finds its cause, what may cure it.

    Args:
        evidence: symptoms that are complained of and not explained.
        context: what is known of the object.
    """
    symptoms = [(item.symptom, _strengths(item, context)) for item in evidence]
    unseen = {judgement.id for judgement in context.sample.unseen}
    findings = {f for _, strengths in symptoms for f in strengths if f[0] in unseen}
    added = _added(sorted(findings), context)
    return {
        scope: {
            Step.finding(symptom.id): _cures_of(
                symptom.leak, strengths, scope, added[scope], context
            )
            for symptom, strengths in symptoms
        }
        for scope in SCOPES
    }


def _added(findings: Sequence[Finding], context: CureContext) -> dict[Scope, Added]:
    """What each unseen finding, alone, would add to what is planned."""
    causes = {criterion for criterion, _ in findings}
    unseen = tuple(j for j in context.sample.unseen if j.id in causes)
    row_of = {judgement.id: row for row, judgement in enumerate(unseen)}
    best = np.array([j.position for j in unseen], np.int8)
    outcomes = np.repeat(best[:, None], len(findings) + 1, axis=1)
    for column, (criterion, place) in enumerate(findings, 1):
        outcomes[row_of[criterion], column] = place
    alone = simulate_scenarios(context.arrays, context.graded, context.workshop, unseen, outcomes)
    found: dict[Scope, Added] = {}
    for scope, costs in alone.costs.items():
        hours, money = costs.mean_h, costs.mean_cost(context.workshop)
        found[scope] = {
            finding: (float(hours[column] - hours[0]), float(money[column] - money[0]))
            for column, finding in enumerate(findings, 1)
        }
    return found


def _cures_of(
    leak: float, strengths: Strengths, scope: Scope, added: Added, context: CureContext
) -> LikelyCures:
    absent = np.prod([1 - strength for strength in strengths.values()], axis=0)
    there = 1 - (1 - leak) * absent
    cures: dict[tuple[str, ...], list[Finding]] = {}
    for finding in strengths:
        cures.setdefault(_repairs(finding, scope, context), []).append(finding)
    found = []
    listed = np.ones(context.sample.outcomes.shape[1])
    for repairs, findings in cures.items():
        unharmed = np.prod([1 - strengths[f] for f in findings], axis=0)
        chance = float(np.mean((1 - unharmed) / there))
        if chance >= LEAST_RESPONSIBLE:
            listed = listed * unharmed
            shares = np.array([float(np.mean(strengths[f] / there)) for f in findings])
            more = np.array([added.get(f, (0.0, 0.0)) for f in findings])
            hours, cost = shares @ more / shares.sum()
            causes = tuple(dict.fromkeys(criterion for criterion, _ in findings))
            found.append(LikelyCure(repairs, causes, chance, float(hours), float(cost)))
    found.sort(key=lambda cure: (-cure.chance, cure.repairs))
    return LikelyCures(tuple(found), float(np.mean(1 - (1 - listed) / there)))


def _strengths(item: SymptomEvidence, context: CureContext) -> Strengths:
    """How strongly each finding produces the symptom in each scenario: not at all if absent."""
    sample = context.sample
    row_of = {judgement.id: row for row, judgement in enumerate(sample.unseen)}
    found: Strengths = {}
    for criterion, strengths in item.strengths.items():
        judgement = context.graded.judgements[criterion]
        for place, strength in enumerate(strengths):
            if strength <= 0:
                continue
            if criterion in row_of:
                there = sample.outcomes[row_of[criterion]] == place
            else:
                there = np.full(sample.outcomes.shape[1], judgement.position == place)
            if there.any():
                found[criterion, place] = strength * there
    return found


def _repairs(finding: Finding, scope: Scope, context: CureContext) -> tuple[str, ...]:
    """What a finding calls for within a scope, of what fits the object."""
    criterion, place = finding
    judgement: Judgement = context.graded.judgements[criterion]
    called = judgement.criterion.outcomes[place].calls(scope, place in judgement.causing)
    return tuple(r for r in called if fits(r, context.knowledge, context.configuration))
