"""What symptoms say of their causes: a noisy-OR for each, beside what is believed of the causes.

Each cause that is there produces the symptom with its own strength, independently of the others,
and the symptom may also come from something undeclared (the leak): the probability that the
symptom is absent is the product of (1 - leak) and (1 - strength) over the causes that are there
(J. Pearl, Probabilistic Reasoning in Intelligent Systems, 1988, section 4.3.2; from memory).

A symptom that is absent tells of each cause alone, since the product falls apart into factors.
A symptom that is present ties its causes together: with independent causes the probability of
each given the symptom is exact in closed form (:func:`factors_of`). For scenarios, where causes
depend on each other through care and associations, samples from those probabilities are weighted
by what they leave out (importance sampling: H. Kahn and A. W. Marshall, "Methods of reducing
sample size in Monte Carlo computations", Journal of the Operations Research Society of America 1
(1953); from memory) and drawn again in proportion (:func:`log_likelihood`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assess.grading.causes import causing_outcomes
from assess.grading.grades import Graded
from assess.job.history import Told
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.prior_beliefs import Care
from assess.knowledge.symptoms import Course, Symptom

OTHER_COURSE = 0.2
"""By how much a cause is weaker that comes slowly where the symptom came suddenly, and the other
way round; an estimate from memory."""

Factors = tuple[float, ...]
"""One factor for each outcome of a criterion, in declared order."""


@dataclass(frozen=True)
class SymptomEvidence:
    """A symptom that is present or absent.

    Attributes:
        symptom: the symptom.
        present: it is complained of; otherwise nobody noticed it.
        strengths: criterion -> how strongly each of its outcomes produces the symptom.
        noticed: probability that it would have been noticed.
    """

    symptom: Symptom
    present: bool
    strengths: dict[str, Factors]
    noticed: float = 1.0


def evidence_of(told: Told, graded: Graded, knowledge: Knowledge, care: Care) -> tuple[
    SymptomEvidence, ...
]:  # fmt: skip
    """Every symptom that is complained of, or absent as the object is told to work."""
    complained = {symptom.id for _, symptom in told.complaints}
    present = [
        SymptomEvidence(symptom, True, strengths_of(symptom, graded, complaint.came))
        for complaint, symptom in told.complaints
    ]
    noticed = care.noticed_in_use if told.history.used == "weekly" else care.noticed
    absent = [
        SymptomEvidence(symptom, False, strengths_of(symptom, graded), noticed)
        for symptom in knowledge.symptoms.values()
        if symptom.id not in complained and _is_absent(symptom, told, graded)
    ]
    return (*present, *absent)


def _is_absent(symptom: Symptom, told: Told, graded: Graded) -> bool:
    works = told.history.works
    if works == "well":
        return bool(symptom.breaks) or symptom.stops_all
    return symptom.stops_all and works in ("with faults", "partly")


def strengths_of(
    symptom: Symptom, graded: Graded, came: Course | None = None
) -> dict[str, Factors]:
    """For each criterion that applies and may cause a symptom, how strongly each outcome does."""
    found: dict[str, list[float]] = {}
    for cause in symptom.causes:
        judgement = graded.judgements.get(cause.criterion)
        if judgement is None or not judgement.counts:
            continue
        other = came is not None and cause.comes is not None and came != cause.comes
        strength = cause.strength * (OTHER_COURSE if other else 1.0)
        row = found.setdefault(cause.criterion, [0.0] * len(judgement.criterion.outcomes))
        for place in causing_outcomes(cause, judgement):
            row[place] = max(row[place], strength)
    return {criterion: tuple(row) for criterion, row in found.items()}


def factors_of(
    evidence: SymptomEvidence, chances: Mapping[str, Sequence[float]]
) -> dict[str, Factors]:
    """By how much a symptom makes each outcome of each of its causes likelier.

    Args:
        evidence: the symptom.
        chances: criterion -> probability of each outcome, without this symptom; exactly one
            where the outcome is seen.

    Returns:
        The likelihood of the evidence given each outcome, the other causes as believed.
    """
    if not evidence.present:
        return {
            criterion: tuple(1 - evidence.noticed * s for s in strengths)
            for criterion, strengths in evidence.strengths.items()
        }
    absent = {
        criterion: 1 - sum(p * s for p, s in zip(chances[criterion], strengths, strict=True))
        for criterion, strengths in evidence.strengths.items()
    }
    no_cause = (1 - evidence.symptom.leak) * math.prod(absent.values())
    return {
        criterion: tuple(1 - no_cause / absent[criterion] * (1 - s) for s in strengths)
        for criterion, strengths in evidence.strengths.items()
    }


def responsibilities(
    evidence: SymptomEvidence, chances: Mapping[str, Sequence[float]]
) -> dict[str, float]:
    """The probability that each cause contributes to a symptom, given that it is present.

    Args:
        evidence: the symptom, present.
        chances: criterion -> probability of each outcome, without this symptom.
    """
    produces = {
        criterion: sum(p * s for p, s in zip(chances[criterion], strengths, strict=True))
        for criterion, strengths in evidence.strengths.items()
    }
    no_cause = (1 - evidence.symptom.leak) * math.prod(1 - p for p in produces.values())
    return {criterion: p / (1 - no_cause) for criterion, p in produces.items()}


def combined(evidence: Sequence[SymptomEvidence], chances: Mapping[str, Sequence[float]]) -> dict[
    str, Factors
]:  # fmt: skip
    """The factors of all symptoms together, each applied to what the ones before it leave."""
    believed = {criterion: tuple(row) for criterion, row in chances.items()}
    together: dict[str, Factors] = {}
    for item in sorted(evidence, key=lambda e: e.present):
        for criterion, factors in factors_of(item, believed).items():
            weighed = [p * f for p, f in zip(believed[criterion], factors, strict=True)]
            total = sum(weighed)
            if total <= 0:
                continue
            believed[criterion] = tuple(w / total for w in weighed)
            before = together.get(criterion, (1.0,) * len(factors))
            together[criterion] = tuple(b * f for b, f in zip(before, factors, strict=True))
    return together
