"""A number for every question of a visit, the same on paper and when it is typed in.

The numbers depend on the declared knowledge and the units of the object only, not on what is
answered, so that a sheet printed before the visit can be typed in after it.
"""

from __future__ import annotations

from assess.inspection.visit_stops import stop_of_criterion, walk_order
from assess.inspection.visit_walk import in_turn
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge, kept


@kept
def question_numbers(knowledge: Knowledge) -> dict[str, int]:
    """Full criterion id to its number, in the order of a visit."""
    by_stop: dict[str, list[Criterion]] = {}
    for criterion in knowledge.criteria.values():
        places = criterion.places or (None,)
        if not criterion.computed_from and any(_at_visit(p, knowledge) for p in places):
            by_stop.setdefault(stop_of_criterion(criterion, knowledge), []).append(criterion)
    stops = sorted(by_stop, key=lambda stop: walk_order(stop, knowledge))
    asked = [c.id for stop in stops for c in in_turn(by_stop[stop], knowledge)]
    return {criterion: n for n, criterion in enumerate(asked, 1)}


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
