"""The grades to expect, where what is unseen counts with the expectation of its deficit."""

from __future__ import annotations

from dataclasses import dataclass

from assess.grading.grades import DEFICITS, Graded
from assess.grading.judgements import Judgement
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of
from assess.uncertainty.bayes_network import Beliefs


@dataclass(frozen=True)
class ExpectedGrades:
    """The grade 0 to 100 to expect of each component, each subsystem, and the whole.

    ``whole`` is None while some subsystem could not be assessed.
    """

    components: dict[str, float]
    subsystems: dict[str, float]
    whole: float | None


def expected_grades(graded: Graded, knowledge: Knowledge, believed: Beliefs) -> ExpectedGrades:
    """The grades to expect: what is unseen counts with the expectation of its deficit.

    A subsystem that could not be assessed is left out, and so is the whole then.
    """
    components, subsystems = _Deficits(), _Deficits()
    for judgement in graded.judgements.values():
        subsystem = subsystem_of(judgement.id)
        if judgement.counts and graded.subsystems[subsystem].assessed:
            weight, lost = judgement.criterion.weight, _deficit(judgement, believed)
            components.add(judgement.criterion.component, weight, lost)
            subsystems.add(subsystem, weight, lost)
    grades = subsystems.grades()
    whole = None
    shares = {s: info.weight for s, info in knowledge.subsystems.items() if s in grades}
    if shares and all(part.assessed for part in graded.subsystems.values()):
        whole = sum(w * grades[s] for s, w in shares.items()) / sum(shares.values())
    return ExpectedGrades(components.grades(), grades, whole)


class _Deficits:
    """Weights and expected deficits added up by name."""

    def __init__(self) -> None:
        self.weights: dict[str, float] = {}
        self.lost: dict[str, float] = {}

    def add(self, name: str, weight: float, deficit: float) -> None:
        self.weights[name] = self.weights.get(name, 0.0) + weight
        self.lost[name] = self.lost.get(name, 0.0) + weight * deficit

    def grades(self) -> dict[str, float]:
        return {n: 100 * (1 - self.lost[n] / weight) for n, weight in self.weights.items()}


def _deficit(judgement: Judgement, believed: Beliefs) -> float:
    if judgement.is_seen:
        return DEFICITS[judgement.outcome.condition]
    chances = believed.of_criterion(judgement.id)
    outcomes = judgement.criterion.outcomes
    return sum(p * DEFICITS[o.condition] for p, o in zip(chances, outcomes, strict=True))
