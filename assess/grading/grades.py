"""Findings and grades.

Each criterion has a class 0..3 and a weight. The deficit of a class is 0, 1/6, 1/2, 1:
triangular numbers over six, so that each class hurts more than the one before. A grade is
100 (1 - sum of weight x deficit / sum of weight). Deficits add up, so what a repair is
worth in grade points is exactly what it removes.

A criterion that is not seen counts as its best outcome in the upper bound of a grade and
as its worst in the lower: an unseen thing is never taken as fine. One that does not apply
has no weight at all.
"""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from assess.grading.judgements import Judgement
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of

DEFICITS = (0.0, 1 / 6, 1 / 2, 1.0)
CLASS_WORDS = ("no symptoms", "minor", "moderately strong", "major")
_CLASS_BOUNDS = tuple((a + b) / 2 for a, b in pairwise(DEFICITS))


@dataclass(frozen=True)
class Grade:
    """A grade with its bounds, the class read off them, and how much was seen.

    ``best_class`` and ``worst_class`` belong to ``upper`` and ``lower``; ``coverage`` is the
    share of the weight that is seen. An empty grade (nothing applies) has weight 0.
    """

    lower: float
    upper: float
    best_class: int
    worst_class: int
    coverage: float
    weight: float

    @property
    def settled(self) -> bool:
        """Whether nothing unseen could change it."""
        return self.coverage >= 1.0


@dataclass(frozen=True)
class SubsystemGrade:
    """A subsystem's grade, its components', and whether it could be assessed at all."""

    id: str
    title: str
    grade: Grade
    components: dict[str, Grade]
    assessed: bool = True


@dataclass(frozen=True)
class Graded:
    """Everything graded: criteria, subsystems and the whole."""

    judgements: dict[str, Judgement]
    subsystems: dict[str, SubsystemGrade]
    instrument: Grade

    @cached_property
    def findings(self) -> tuple[Judgement, ...]:
        """What is seen with a class above 0, worst and most urgent first."""
        found = [j for j in self.judgements.values() if j.is_seen and j.outcome.condition > 0]
        return tuple(sorted(found, key=_severity))

    @cached_property
    def unseen(self) -> tuple[Judgement, ...]:
        """What applies and is not seen, heaviest first."""
        waiting = [j for j in self.judgements.values() if j.is_unseen]
        return tuple(sorted(waiting, key=lambda j: (-j.criterion.vital, -j.criterion.weight, j.id)))


def _severity(judgement: Judgement) -> tuple[bool, int, int, float, str]:
    outcome = judgement.outcome
    return (
        not outcome.danger,
        -outcome.how_soon,
        -outcome.condition,
        -judgement.criterion.weight,
        judgement.id,
    )


def grade_of(judgements: Iterable[Judgement]) -> Grade:
    """The grade of a set of criteria, with bounds.

    The class is read off the grade at the midpoints between the deficits of the classes,
    and is never better than that of a criterion marked vital.
    """
    counted = [j for j in judgements if j.counts]
    weight = sum(j.criterion.weight for j in counted)
    if weight == 0:
        return Grade(100.0, 100.0, 0, 0, 1.0, 0.0)
    least = sum(j.criterion.weight * DEFICITS[j.best.condition] for j in counted) / weight
    most = sum(j.criterion.weight * DEFICITS[j.worst.condition] for j in counted) / weight
    seen = sum(j.criterion.weight for j in counted if j.is_seen) / weight
    vital = [j for j in counted if j.criterion.vital]
    return Grade(
        lower=100 * (1 - most),
        upper=100 * (1 - least),
        best_class=max([class_of(least), *(j.best.condition for j in vital)]),
        worst_class=max([class_of(most), *(j.worst.condition for j in vital)]),
        coverage=1.0 if all(j.is_seen for j in counted) else seen,
        weight=weight,
    )


def class_of(deficit: float) -> int:
    """The condition class whose deficit is nearest.

    >>> [class_of(d) for d in (0.0, 0.2, 0.5, 0.9)]
    [0, 1, 2, 3]
    """
    return sum(deficit > bound for bound in _CLASS_BOUNDS)


def combine_grades(grades: Iterable[tuple[float, Grade]]) -> Grade:
    """The weighted grade of several grades.

    The class is at most one better than that of the worst part, since one failed subsystem
    is not made good by three sound ones.
    """
    parts = [(w, g) for w, g in grades if g.weight > 0]
    total = sum(w for w, _ in parts)
    if total == 0:
        return Grade(100.0, 100.0, 0, 0, 1.0, 0.0)
    lower = sum(w * g.lower for w, g in parts) / total
    upper = sum(w * g.upper for w, g in parts) / total
    coverage = sum(w * g.coverage for w, g in parts) / total
    settled = all(g.settled for _, g in parts)
    return Grade(
        lower=lower,
        upper=upper,
        best_class=max(class_of(1 - upper / 100), *(g.best_class - 1 for _, g in parts)),
        worst_class=max(class_of(1 - lower / 100), *(g.worst_class - 1 for _, g in parts)),
        coverage=1.0 if settled else min(coverage, 1 - 1e-9),
        weight=total,
    )


def grade(
    judgements: dict[str, Judgement],
    knowledge: Knowledge,
    failed: AbstractSet[str] = frozenset(),
) -> Graded:
    """Grade components, subsystems and the whole.

    A subsystem whose plugin failed, or is named in ``failed``, is shown as not assessed: its
    grade may be anything. One that declares nothing weighs as much as the others on average.
    """
    by_component: dict[str, list[Judgement]] = {c: [] for c in knowledge.components}
    by_subsystem: dict[str, list[Judgement]] = {s: [] for s in knowledge.subsystems}
    for judgement in judgements.values():
        by_component.setdefault(judgement.criterion.component, []).append(judgement)
        by_subsystem[subsystem_of(judgement.id)].append(judgement)
    subsystems = {
        s: SubsystemGrade(
            s,
            info.title,
            grade_of(by_subsystem[s]),
            {c: grade_of(js) for c, js in by_component.items() if subsystem_of(c) == s and js},
        )
        for s, info in knowledge.subsystems.items()
    }
    weights = {s: info.weight for s, info in knowledge.subsystems.items()}
    for name in failed & subsystems.keys():
        unknown = Grade(0.0, 100.0, 0, 3, 0.0, weights[name])
        subsystems[name] = SubsystemGrade(name, subsystems[name].title, unknown, {}, assessed=False)
    average = sum(weights.values()) / len(weights)
    for fault in knowledge.faults:
        name = fault.subsystem or fault.plugin
        if name not in subsystems:
            unknown = Grade(0.0, 100.0, 0, 3, 0.0, average)
            subsystems[name] = SubsystemGrade(name, name, unknown, {}, assessed=False)
            weights[name] = average
    whole = combine_grades((weights[s], g.grade) for s, g in subsystems.items())
    return Graded(judgements, subsystems, whole)
