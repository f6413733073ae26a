"""Job files assessed once for all tests, instruments with a few answers, and all-known ones."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

from conftest import ROOT

import assess
from assess.grading.grades import Graded, grade
from assess.grading.judgements import Judgement, State
from assess.knowledge.criteria import Outcome
from assess.knowledge.model_base import Scope
from assess.knowledge.symptoms import Symptom
from assess.planning.plan import Plan
from assess.planning.planner import Planner
from assess.testing import job_with
from assess.uncertainty.monte_carlo import COUNT, OutcomeIndices, sample

Answers = Mapping[str, str | float | int]
Features = Mapping[str, bool | str]

FILES: dict[str, Path] = {
    file.stem: file
    for folder in (ROOT / "fixtures", ROOT / "tests" / "cases")
    for file in sorted(folder.glob("*.toml"))
}
FIXTURES = [stem for stem, file in FILES.items() if file.parent.name == "fixtures"]


@cache
def assessed(stem: str) -> assess.Assessment:
    """The assessment of a fixture or case."""
    return assess.assess(assess.load(FILES[stem]))


def judged(answers: Answers, features: Features | None = None) -> assess.Assessment:
    """An instrument with these answers, assessed by all installed plugins."""
    return assess.assess(job_with(answers, features))


def plan_of(answers: Answers, scope: Scope = "working", features: Features | None = None) -> Plan:
    """The plan of one scope for an instrument with these answers."""
    return judged(answers, features).plans[scope]


def numbers(plan: Plan) -> dict[str, int]:
    """Step -> its number in a plan."""
    return {step.step: step.number for step in plan.steps}


def in_order(plan: Plan, *steps: str) -> bool:
    """Whether a plan has these steps, in this order."""
    at = numbers(plan)
    return at.keys() >= set(steps) and all(at[a] < at[b] for a, b in pairwise(steps))


def outcome(criterion: str, label: str) -> Outcome:
    """The outcome of a criterion by its words."""
    outcomes = assess.knowledge_in_use().criteria[criterion].outcomes
    return next(o for o in outcomes if o.label == label)


def chance_of_class(result: assess.Assessment, criterion: str, from_class: int) -> float:
    """Probability that an unseen criterion is found to be of a class or worse."""
    outcomes = assess.knowledge_in_use().criteria[criterion].outcomes
    chances = result.beliefs.of_criterion(criterion)
    return sum(p for p, o in zip(chances, outcomes, strict=True) if o.condition >= from_class)


def is_seen_in_the_home(criterion: str) -> bool:
    """Whether all that must be opened for a look may be opened at the visit.

    A place that only some instruments have counts as absent.
    """
    places = assess.knowledge_in_use().places
    place = assess.knowledge_in_use().criteria[criterion].place
    while place is not None and not places[place].needs:
        if not places[place].at_visit:
            return False
        place = places[place].inside
    return True


def strengths(symptom: Symptom) -> dict[str, float]:
    """Criterion -> how strongly it causes a symptom at most."""
    found: dict[str, float] = {}
    for cause in symptom.causes:
        found[cause.criterion] = max(cause.strength, found.get(cause.criterion, 0.0))
    return found


def drawn(
    result: assess.Assessment, count: int = COUNT
) -> tuple[tuple[Judgement, ...], OutcomeIndices]:
    """What is unseen of an instrument, and its outcome in each scenario."""
    found = sample(result.graded, result.knowledge, result.beliefs, count)
    return found.unseen, found.outcomes


def known(
    judgement: Judgement, place: int, numbers: Mapping[str, tuple[float, ...]] | None = None
) -> Judgement:
    """A judgement as if its criterion had been seen with one of its outcomes."""
    found = judgement.criterion.outcomes[place]
    value = numbers[judgement.id][place] if numbers and judgement.criterion.measured else None
    return replace(
        judgement, state=State.SEEN, best=found, worst=found, given=found.label, value=value
    )


def with_known(result: assess.Assessment, judgements: Iterable[Judgement]) -> Graded:
    """What is graded, with some judgements in place of what was there."""
    changed = {j.id: j for j in judgements}
    return grade({**result.graded.judgements, **changed}, result.knowledge)


def plans_of(result: assess.Assessment, graded: Graded) -> dict[Scope, Plan]:
    """The exact plans of an instrument that is graded otherwise."""
    amounts = result.measured.quantities
    return Planner(result.knowledge, result.configuration, graded, result.workshop, amounts).plans()
