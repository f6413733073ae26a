"""A number for every question of a visit, the same on paper and when it is typed in.

The numbers depend on the declared knowledge and the units of the object only, not on what is
answered, so that a sheet printed before the visit can be typed in after it.
"""

from __future__ import annotations

from assess.inspection.visit_walk import BEFORE_OPENING, reach_of, stop_of_criterion
from assess.knowledge.knowledge_base import Knowledge, kept


@kept
def question_numbers(knowledge: Knowledge) -> dict[str, int]:
    """Full criterion id to its number, in the order of a visit."""
    position = {criterion: n for n, criterion in enumerate(knowledge.criteria)}

    def turn(criterion: str) -> tuple[int, int, float, str, int]:
        stop = stop_of_criterion(knowledge.criteria[criterion], knowledge)
        if stop in BEFORE_OPENING:
            return BEFORE_OPENING.index(stop), 0, 0.0, stop, position[criterion]
        return len(BEFORE_OPENING), *reach_of(stop, knowledge), stop, position[criterion]

    asked = [
        c.id
        for c in knowledge.criteria.values()
        if not c.computed_from and any(_at_visit(p, knowledge) for p in c.places or (None,))
    ]
    return {criterion: n for n, criterion in enumerate(sorted(asked, key=turn), 1)}


def _chain(place: str | None, knowledge: Knowledge) -> list[str]:
    chain = []
    while place:
        chain.append(place)
        place = knowledge.places[place].inside
    return chain


def _at_visit(place: str | None, knowledge: Knowledge) -> bool:
    """Whether a place may be opened in the home; one that an object may lack counts as open."""
    return all(
        knowledge.places[p].at_visit or knowledge.places[p].needs for p in _chain(place, knowledge)
    )
