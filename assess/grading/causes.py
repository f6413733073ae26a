"""Which findings cause something that keeps the object out of use, though they alone do not.

A symptom that is complained of, or that a test shows, and that breaks a requirement, brings its
causes into the work for working order: to mend only what shows would leave the cause.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from assess.grading.judgements import Judgement
from assess.job.history import Told
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.symptoms import Symptom, SymptomCause


def active_symptoms(
    judgements: Mapping[str, Judgement], told: Told, knowledge: Knowledge
) -> tuple[Symptom, ...]:
    """Symptoms that are complained of or shown by an answer, in declared order."""
    complained = {symptom.id for _, symptom in told.complaints}
    return tuple(
        symptom
        for symptom in knowledge.symptoms.values()
        if symptom.id in complained or _is_shown(symptom, judgements)
    )


def _is_shown(symptom: Symptom, judgements: Mapping[str, Judgement]) -> bool:
    for sign in symptom.shown_by:
        judgement = judgements.get(sign.criterion)
        if judgement and judgement.is_seen and judgement.outcome.condition >= sign.from_class:
            return True
    return False


def with_causes(
    judgements: Mapping[str, Judgement], told: Told, knowledge: Knowledge
) -> dict[str, Judgement]:
    """The judgements, each with those of its outcomes that cause what keeps it out of use."""
    causing: dict[str, set[int]] = {}
    for symptom in active_symptoms(judgements, told, knowledge):
        for cause in symptom.causes if symptom.breaks or symptom.stops_all else ():
            if cause.criterion in judgements:
                places = causing_outcomes(cause, judgements[cause.criterion])
                causing.setdefault(cause.criterion, set()).update(places)
    return {
        criterion: replace(judgement, causing=frozenset(causing[criterion]))
        if criterion in causing
        else judgement
        for criterion, judgement in judgements.items()
    }


def causing_outcomes(cause: SymptomCause, judgement: Judgement) -> list[int]:
    """The positions of the outcomes of a criterion that a cause is about."""
    return [
        place
        for place, outcome in enumerate(judgement.criterion.outcomes)
        if (
            outcome.label in cause.answers
            if cause.answers
            else outcome.condition >= cause.from_class
        )
    ]
