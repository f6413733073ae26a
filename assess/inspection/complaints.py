"""What is complained of: what explains it, what may cause it, and which looks tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import chain, zip_longest

from assess.grading.grades import Graded
from assess.grading.judgements import State
from assess.grading.openings import first_to_ask
from assess.job.history import Told
from assess.job.job_file import Complaint
from assess.knowledge.symptoms import Symptom
from assess.uncertainty.bayes_network import Beliefs

EXPLAINS = 0.5
"""Probability of contributing from which a found cause is said to explain a symptom."""
LEAST_LISTED = 0.02
"""A cause less likely to contribute than this is not listed."""

LEAST_RESPONSIBLE = 0.03
"""A cause less likely than this to contribute does not head the list of hidden faults."""


@dataclass(frozen=True)
class PossibleCause:
    """One cause of a symptom that is complained of.

    Attributes:
        criterion: what is, or may be, found.
        seen: whether it was looked at.
        chance: probability that it is there at all.
        responsible: probability that it contributes to the symptom.
    """

    criterion: str
    seen: bool
    chance: float
    responsible: float


@dataclass(frozen=True)
class Explained:
    """A symptom that is complained of.

    Attributes:
        complaint, symptom: what was told, and what it is.
        causes: what causes it or may cause it, likeliest to contribute first.
        tests: what is left of the looks that tell its causes apart, in order.
    """

    complaint: Complaint
    symptom: Symptom
    causes: tuple[PossibleCause, ...]
    tests: tuple[str, ...]

    @property
    def found(self) -> tuple[PossibleCause, ...]:
        """Findings that explain it."""
        return tuple(c for c in self.causes if c.seen and c.responsible >= EXPLAINS)

    @property
    def likely_unseen(self) -> tuple[str, ...]:
        """Causes that nobody has seen and that are likely enough, likeliest first."""
        likely = (c for c in self.causes if not c.seen and c.responsible >= LEAST_RESPONSIBLE)
        return tuple(c.criterion for c in likely)

    @property
    def is_explained(self) -> bool:
        """Whether something found explains it."""
        return bool(self.found)


def explain_complaints(
    told: Told,
    graded: Graded,
    believed: Beliefs,
    responsible: Mapping[str, Mapping[str, float]],
) -> tuple[Explained, ...]:
    """Every complaint with its causes and the looks that tell them apart.

    Args:
        told: what is complained of.
        graded: what was found.
        believed: what is believed of the unseen.
        responsible: symptom -> criterion -> probability that it contributes.
    """
    strengths = {item.symptom.id: item.strengths for item in believed.complaints}
    found = []
    for complaint, symptom in told.complaints:
        causes = []
        for criterion, share in responsible[symptom.id].items():
            judgement = graded.judgements[criterion]
            produces = [s > 0 for s in strengths[symptom.id][criterion]]
            if judgement.is_seen:
                chance = float(produces[judgement.position])
            else:
                outcomes = zip(believed.of_criterion(criterion), produces, strict=True)
                chance = sum(p for p, there in outcomes if there)
            if share >= LEAST_LISTED:
                causes.append(PossibleCause(criterion, judgement.is_seen, chance, share))
        causes.sort(key=lambda c: (-c.responsible, c.criterion))
        found.append(Explained(complaint, symptom, tuple(causes), _tests_left(symptom, graded)))
    return tuple(found)


def _tests_left(symptom: Symptom, graded: Graded) -> tuple[str, ...]:
    """The tests of a symptom that are still to be made, in declared order.

    A test that another question opens waits for that question, which takes its turn.
    """
    known = graded.judgements
    left = [t for t in symptom.tests if t in known and known[t].state is State.NO_ANSWER]
    return tuple(dict.fromkeys(first_to_ask(known[test], known).id for test in left))


def unexplained_causes(explained: tuple[Explained, ...]) -> dict[str, float]:
    """For each unseen cause of an unexplained complaint, how likely it contributes.

    Causes less likely than :data:`LEAST_RESPONSIBLE` are left out.
    """
    found: dict[str, float] = {}
    for cause in chain.from_iterable(e.causes for e in explained if not e.is_explained):
        if not cause.seen and cause.responsible >= LEAST_RESPONSIBLE:
            found[cause.criterion] = max(cause.responsible, found.get(cause.criterion, 0.0))
    return found


def tests_first(explained: tuple[Explained, ...]) -> dict[str, str]:
    """The looks that come first, each with the symptom that it is about.

    The tests of several complaints take turns; one that is explained already waits.
    """
    waiting = [e for e in explained if not e.is_explained]
    turns = zip_longest(*([(test, e.symptom.id) for test in e.tests] for e in waiting))
    found: dict[str, str] = {}
    for item in chain.from_iterable(turns):
        if item is not None:
            found.setdefault(*item)
    return found
