"""The prior and posterior of what nobody has seen: a Bayes network of latent states of care.

The whole object is in a latent state of care (kept well, ordinarily or badly). Each subsystem
is in the same state as the whole with probability ``state_persistence``, otherwise in one of
the other states with equal probability; each component follows its subsystem in the same way.
What a state makes of each outcome is in :mod:`assess.uncertainty.prior_chances`.

Given the state of its component, criteria are independent, apart from declared associations
(:mod:`assess.uncertainty.association`). Every answer updates the states by Bayes' rule (T. Bayes,
"An essay towards solving a problem in the doctrine of chances", Philosophical Transactions 53
(1763)), and so the probabilities of everything unseen. The tree makes this exact: messages go
up from components to the whole.

The numbers are in the workshop profile (:class:`assess.knowledge.prior_beliefs.Care`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from assess.grading.grades import Graded
from assess.job.history import NOTHING_TOLD, Told
from assess.job.job_file import Overhaul
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.prior_beliefs import Care
from assess.knowledge.steps import subsystem_of
from assess.uncertainty.association import Table, within_bounds
from assess.uncertainty.noisy_or import (
    SymptomEvidence,
    combined,
    evidence_of,
    responsibilities,
)
from assess.uncertainty.prior_chances import (
    Chances,
    hint_tables,
    mixed,
    normalised,
    outcome_chances,
    transition_matrix,
)


@dataclass(frozen=True)
class Beliefs:
    """The posterior of the states of care.

    Attributes:
        care: what was believed before anything was seen.
        whole: probability of each state of the whole.
        given_whole: subsystem -> for each state of the whole, the probabilities of its own.
        given_subsystem: component -> for each state of its subsystem, those of its own.
        outcomes: criterion -> for each state of its component, those of its outcomes.
        component_of: criterion -> the component that it belongs to.
        symptoms: symptoms that are present or known to be absent.
        before_complaints: for criteria that a present symptom makes likelier, the rows of
            ``outcomes`` without it.
        hint_tables: criterion -> evidence criterion -> the table of :func:`hint_tables`.
    """

    care: Care
    whole: Chances
    given_whole: dict[str, tuple[Chances, ...]]
    given_subsystem: dict[str, tuple[Chances, ...]]
    outcomes: dict[str, tuple[Chances, ...]]
    component_of: dict[str, str]
    hint_tables: dict[str, dict[str, Table]]
    symptoms: tuple[SymptomEvidence, ...] = ()
    before_complaints: dict[str, tuple[Chances, ...]] = field(default_factory=dict)

    @property
    def states(self) -> tuple[str, ...]:
        """Names of the states, as the profile has them."""
        return tuple(state.name for state in self.care.states)

    @property
    def complaints(self) -> tuple[SymptomEvidence, ...]:
        """The symptoms that are present."""
        return tuple(s for s in self.symptoms if s.present)

    def without_complaints(self, criterion: str) -> Chances:
        """Probability of each outcome of an unseen criterion if nothing were complained of."""
        rows = self.before_complaints.get(criterion, self.outcomes[criterion])
        return mixed(self.of_component(self.component_of[criterion]), rows)

    @cached_property
    def _by_component(self) -> dict[str, Chances]:
        subsystems = {s: mixed(self.whole, rows) for s, rows in self.given_whole.items()}
        return {c: mixed(subsystems[subsystem_of(c)], r) for c, r in self.given_subsystem.items()}

    @cached_property
    def _by_criterion(self) -> dict[str, Chances]:
        return {}

    def of_component(self, component: str) -> Chances:
        """Probability of each state of care of one component."""
        return self._by_component[component]

    def of_criterion(self, criterion: str) -> Chances:
        """Probability of each outcome of a criterion that is not seen, in declared order."""
        found = self._by_criterion.get(criterion)
        if found is None:
            states = self.of_component(self.component_of[criterion])
            found = self._by_criterion[criterion] = mixed(states, self.outcomes[criterion])
        return found


def likelier_than_usual(criterion: Criterion, believed: Beliefs, usual: Chances) -> float:
    """How many times likelier a finding of an unseen criterion is than while nothing is known."""
    sound = [o.condition == 0 for o in criterion.outcomes]
    now, before = (
        sum(p for p, fine in zip(chances, sound, strict=True) if not fine)
        for chances in (believed.of_criterion(criterion.id), usual)
    )
    return now / before if before > 0 else 1.0


def apply_evidence(
    chances: dict[str, tuple[Chances, ...]],
    graded: Graded,
    tables: dict[str, dict[str, Table]],
) -> dict[str, tuple[Chances, ...]]:
    """Outcome probabilities, given the seen outcomes of associated criteria.

    A seen outcome changes the criteria that it hints at, and the unseen ones that would have
    hinted at it. Several factors are multiplied, within
    :data:`assess.uncertainty.association.MOST_ODDS`.
    """
    places = {j.id: j.position for j in graded.judgements.values() if j.is_seen}
    found: dict[str, list[float]] = {}
    for criterion, by_evidence in tables.items():
        for evidence, table in by_evidence.items():
            if evidence in places:
                _multiply(found, criterion, table[places[evidence]])
            elif criterion in places:
                _multiply(found, evidence, [row[places[criterion]] for row in table])
    changed = {
        criterion: tuple(
            normalised([p * f for p, f in zip(row, within_bounds(factors), strict=True)])
            for row in chances[criterion]
        )
        for criterion, factors in found.items()
    }
    return {**chances, **changed}


def _multiply(found: dict[str, list[float]], criterion: str, factors: Sequence[float]) -> None:
    before = found.setdefault(criterion, [1.0] * len(factors))
    found[criterion] = [b * f for b, f in zip(before, factors, strict=True)]


def beliefs(graded: Graded, knowledge: Knowledge, care: Care, told: Told = NOTHING_TOLD) -> Beliefs:
    """The posterior of the states of care and of everything unseen.

    Args:
        graded: the answers.
        knowledge: what plugins declare.
        care: what is believed before anything is seen.
        told: what is told of the object: symptoms that are present or absent, earlier work.
    """
    tables = hint_tables(knowledge, care)
    chances = outcome_chances(knowledge, care)
    if told.history.overhaul:
        chances = _after_earlier_work(chances, knowledge, care, told)
    believed = _posterior(apply_evidence(chances, graded, tables), {}, graded, knowledge, care)
    evidence = evidence_of(told, graded, knowledge, care)
    if not evidence:
        return replace(believed, hint_tables=tables)
    absent, present = ([e for e in evidence if e.present is there] for there in (False, True))
    if absent:
        rarer = combined(absent, _marginals(absent, believed, graded))
        believed = _posterior(believed.outcomes, rarer, graded, knowledge, care)
    likelier = combined(present, _marginals(present, believed, graded))
    before = {c: believed.outcomes[c] for c in likelier if graded.judgements[c].is_unseen}
    after = {c: _weighed(rows, likelier[c]) for c, rows in before.items()}
    return replace(
        believed,
        outcomes={**believed.outcomes, **after},
        hint_tables=tables,
        symptoms=evidence,
        before_complaints=before,
    )


def _posterior(
    chances: dict[str, tuple[Chances, ...]],
    factors: Mapping[str, Sequence[float]],
    graded: Graded,
    knowledge: Knowledge,
    care: Care,
) -> Beliefs:
    """The states of care, given the answers and factors on the outcomes of unseen criteria."""
    transition = transition_matrix(care)
    found = {component: [0.0] * len(care.states) for component in knowledge.components}
    changed = dict(chances)
    for judgement in graded.judgements.values():
        own, rows = found[judgement.criterion.component], chances[judgement.id]
        if judgement.is_seen:
            place = judgement.position
            for state, row in enumerate(rows):
                own[state] += math.log(row[place])
        elif judgement.is_unseen and judgement.id in factors:
            for state, row in enumerate(rows):
                fits = zip(row, factors[judgement.id], strict=True)
                own[state] += math.log(sum(p * f for p, f in fits))
            changed[judgement.id] = _weighed(rows, factors[judgement.id])
    subsystems = {subsystem: [0.0] * len(care.states) for subsystem in knowledge.subsystems}
    given_subsystem = {}
    for component, logs in found.items():
        given_subsystem[component], passed = _upward_message(logs, transition)
        _add(subsystems[subsystem_of(component)], passed)
    whole = [math.log(state.prior) for state in care.states]
    given_whole = {}
    for subsystem, logs in subsystems.items():
        given_whole[subsystem], passed = _upward_message(logs, transition)
        _add(whole, passed)
    return Beliefs(
        care=care,
        whole=normalised(_exponentials(whole)),
        given_whole=given_whole,
        given_subsystem=given_subsystem,
        outcomes=changed,
        component_of={c.id: c.component for c in knowledge.criteria.values()},
        hint_tables={},
    )


def _weighed(rows: tuple[Chances, ...], factors: Sequence[float]) -> tuple[Chances, ...]:
    return tuple(normalised([p * f for p, f in zip(row, factors, strict=True)]) for row in rows)


def _marginals(
    evidence: Iterable[SymptomEvidence], believed: Beliefs, graded: Graded
) -> dict[str, Chances]:
    """For every cause, the probability of each outcome; one where it is seen."""
    causes = dict.fromkeys(criterion for item in evidence for criterion in item.strengths)
    found: dict[str, Chances] = {}
    for criterion in causes:
        judgement = graded.judgements[criterion]
        if judgement.is_seen:
            place, count = judgement.position, len(judgement.criterion.outcomes)
            found[criterion] = tuple(float(i == place) for i in range(count))
        else:
            found[criterion] = believed.of_criterion(criterion)
    return found


def responsible(believed: Beliefs, graded: Graded) -> dict[str, dict[str, float]]:
    """For each symptom complained of, the probability that each cause contributes to it."""
    found = {}
    for item in believed.complaints:
        chances = _marginals([item], believed, graded)
        for criterion in item.strengths:
            if graded.judgements[criterion].is_unseen:
                chances[criterion] = believed.without_complaints(criterion)
        found[item.symptom.id] = responsibilities(item, chances)
    return found


def _after_earlier_work(
    chances: dict[str, tuple[Chances, ...]], knowledge: Knowledge, care: Care, told: Told
) -> dict[str, tuple[Chances, ...]]:
    """Findings are rarer where earlier work was done, the more so the newer it is.

    What has little to do with care (criteria that are ``seldom``) stays as it is.
    """
    changed = dict(chances)
    for criterion in knowledge.criteria.values():
        odds = min(
            (
                _freshness(work, told.year, care)
                for work in told.history.overhaul
                if work.subsystem in ("", subsystem_of(criterion.id))
            ),
            default=1.0,
        )
        if odds < 1 and criterion.seldom == 1:
            factors = [odds if o.condition > 0 else 1.0 for o in criterion.outcomes]
            changed[criterion.id] = _weighed(chances[criterion.id], factors)
    return changed


def _freshness(work: Overhaul, year: int, care: Care) -> float:
    """The odds of a finding after earlier work; less than full work counts half, as a root."""
    age = year - work.year
    odds = next((f.odds for f in care.overhauled if age <= f.years), 1.0)
    return odds if work.how_far == "full" else math.sqrt(odds)


def _upward_message(
    logs: list[float], transition: list[list[float]]
) -> tuple[tuple[Chances, ...], list[float]]:
    """The state of a part given that of the whole, and the message that it passes up.

    Args:
        logs: log-likelihood of each state of the part; of shape (states,).
        transition: for each state of the whole, the probabilities of the part's;
            of shape (states, states).
    """
    fits = _exponentials(logs)
    joint = [[k * f for k, f in zip(row, fits, strict=True)] for row in transition]
    return tuple(normalised(row) for row in joint), [math.log(sum(row)) for row in joint]


def _exponentials(logs: list[float]) -> list[float]:
    top = max(logs)
    return [math.exp(log - top) for log in logs]


def _add(total: list[float], more: list[float]) -> None:
    for place, value in enumerate(more):
        total[place] += value
