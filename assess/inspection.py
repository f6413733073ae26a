"""The order in which criteria are asked, and where each is seen from."""

from __future__ import annotations

from collections.abc import Iterable

from assess.catalogue import Knowledge, subsystem_of
from assess.grading import Graded, Judgement
from assess.instrument import Setting


def seen_at_visit(judgement: Judgement, knowledge: Knowledge, setting: Setting) -> bool:
    """Whether a criterion can be seen at the customer's home."""
    place = judgement.criterion.place
    while place:
        found = knowledge.places[place]
        applies = setting.admits(found.needs, found.excludes)
        if applies and not found.at_visit:
            return False
        place = found.inside
    return True


def round_of(graded: Graded, knowledge: Knowledge, setting: Setting) -> list[Judgement]:
    """Every criterion that applies, part by part, what needs no opening first.

    Dangers to people are asked about before anything is touched.
    """

    def depth(judgement: Judgement) -> int:
        count, place = 0, judgement.criterion.place
        while place:
            found = knowledge.places[place]
            count += setting.admits(found.needs, found.excludes)
            place = found.inside
        return count

    def rank(judgement: Judgement) -> tuple[bool, int, int, str, str]:
        criterion = judgement.criterion
        dangerous = any(o.danger for o in criterion.outcomes)
        position = knowledge.subsystems[subsystem_of(criterion.id)].position
        return (
            not (dangerous and criterion.place is None),
            depth(judgement),
            position,
            criterion.place or "",
            criterion.component,
        )

    applying = [
        j
        for j in graded.judgements.values()
        if j.reason != "not part of this instrument" and not j.criterion.computed_from
    ]
    return sorted(applying, key=rank)


def minutes(judgements: Iterable[Judgement], knowledge: Knowledge) -> float:
    """Minutes to look at these criteria, each place opened once."""
    listed = list(judgements)
    places: set[str] = set()
    for judgement in listed:
        place = judgement.criterion.place
        while place and place not in places:
            places.add(place)
            place = knowledge.places[place].inside
    opening = sum(knowledge.places[p].minutes for p in places)
    return opening + sum(j.criterion.minutes for j in listed)
