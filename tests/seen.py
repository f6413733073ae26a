"""Job files assessed once for all tests, and instruments of which everything is known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

from conftest import ROOT

import assess
from assess.grading.grades import Graded, grade
from assess.grading.judgements import Judgement, State
from assess.knowledge.model_base import Scope
from assess.planning.planner import Plan, Planner

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
