"""The prior and posterior of what nobody has seen: a Bayes network of latent states of care.

The whole object is in a latent state of care (kept well, ordinarily or badly). Each subsystem
is in the same state as the whole with probability ``state_persistence``, otherwise in one of
the other states with equal probability; each component follows its subsystem in the same way.
A state gives each condition class a probability. Outcomes of one class are equally likely,
except that one that ends work or advises against it is rarer. Findings of a criterion that is
declared ``seldom`` or ``often`` are rarer or likelier altogether.

Given the state of its component, criteria are independent, apart from declared associations
(:mod:`assess.uncertainty.association`). Every answer updates the states by Bayes' rule (T. Bayes,
"An essay towards solving a problem in the doctrine of chances", Philosophical Transactions 53
(1763)), and so the probabilities of everything unseen. The tree makes this exact: messages go
up from components to the whole.

The numbers are in the workshop profile (:class:`assess.knowledge.prior_beliefs.Care`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from assess.grading.grades import DEFICITS, Graded
from assess.grading.judgements import Judgement
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.prior_beliefs import Care
from assess.knowledge.steps import subsystem_of
from assess.uncertainty.association import Table, declared_odds, fit_association, within_bounds

Chances = tuple[float, ...]
"""Probabilities that add up to one: of states, or of the outcomes of a criterion."""


@dataclass(frozen=True)
class Beliefs:
    """The posterior of the states of care.

    Attributes:
        states: names of the states, as the profile has them.
        whole: probability of each state of the whole.
        given_whole: subsystem -> for each state of the whole, the probabilities of its own.
        given_subsystem: component -> for each state of its subsystem, those of its own.
        outcomes: criterion -> for each state of its component, those of its outcomes.
        component_of: criterion -> the component that it belongs to.
        hint_tables: criterion -> evidence criterion -> the table of :func:`hint_tables`.
    """

    states: tuple[str, ...]
    whole: Chances
    given_whole: dict[str, tuple[Chances, ...]]
    given_subsystem: dict[str, tuple[Chances, ...]]
    outcomes: dict[str, tuple[Chances, ...]]
    component_of: dict[str, str]
    hint_tables: dict[str, dict[str, Table]]

    def of_component(self, component: str) -> Chances:
        """Probability of each state of care of one component."""
        subsystem = mixed(self.whole, self.given_whole[subsystem_of(component)])
        return mixed(subsystem, self.given_subsystem[component])

    def of_criterion(self, criterion: str) -> Chances:
        """Probability of each outcome of a criterion that is not seen, in declared order."""
        return mixed(self.of_component(self.component_of[criterion]), self.outcomes[criterion])


def mixed(weights: Chances, rows: tuple[Chances, ...]) -> Chances:
    """Rows of probabilities, weighted and added up."""
    return tuple(
        sum(w * p for w, p in zip(weights, column, strict=True))
        for column in zip(*rows, strict=True)
    )


@kept
def outcome_chances(knowledge: Knowledge, care: Care) -> dict[str, tuple[Chances, ...]]:
    """For every criterion and every state of care, the probabilities of its outcomes."""
    return {
        criterion.id: tuple(_chances(criterion, state.classes, care.rare) for state in care.states)
        for criterion in knowledge.criteria.values()
    }


def _chances(criterion: Criterion, classes: Chances, rare: float) -> Chances:
    shares = [rare if o.beyond_repair or o.advise_against else 1.0 for o in criterion.outcomes]
    within = [0.0] * len(classes)
    for outcome, share in zip(criterion.outcomes, shares, strict=True):
        within[outcome.condition] += share
    return _normal(
        [
            classes[outcome.condition]
            * (criterion.how_often if outcome.condition > 0 else 1.0)
            * (share / max(1.0, within[outcome.condition]))
            for outcome, share in zip(criterion.outcomes, shares, strict=True)
        ]
    )


@kept
def hint_tables(knowledge: Knowledge, care: Care) -> dict[str, dict[str, Table]]:
    """For each criterion with declared associations: by evidence criterion, its factors.

    The margins are the prior: what is believed while nothing is seen.
    """
    transition = tuple(tuple(row) for row in _transition_matrix(care))
    prior = _normal([state.prior for state in care.states])
    of_component = mixed(mixed(prior, transition), transition)
    chances = outcome_chances(knowledge, care)
    blank = {criterion: mixed(of_component, rows) for criterion, rows in chances.items()}
    return {
        criterion: {
            evidence: fit_association(blank[evidence], blank[criterion], odds)
            for evidence, odds in by_evidence.items()
        }
        for criterion, by_evidence in declared_odds(knowledge).items()
    }


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
    places = {j.id: position(j) for j in graded.judgements.values() if j.is_seen}
    found: dict[str, list[float]] = {}
    for criterion, by_evidence in tables.items():
        for evidence, table in by_evidence.items():
            if evidence in places:
                _multiply(found, criterion, table[places[evidence]])
            elif criterion in places:
                _multiply(found, evidence, [row[places[criterion]] for row in table])
    changed = {
        criterion: tuple(
            _normal([p * f for p, f in zip(row, within_bounds(factors), strict=True)])
            for row in chances[criterion]
        )
        for criterion, factors in found.items()
    }
    return {**chances, **changed}


def _multiply(found: dict[str, list[float]], criterion: str, factors: Sequence[float]) -> None:
    before = found.setdefault(criterion, [1.0] * len(factors))
    found[criterion] = [b * f for b, f in zip(before, factors, strict=True)]


def beliefs(graded: Graded, knowledge: Knowledge, care: Care) -> Beliefs:
    """The posterior of the states of care, given the answers."""
    tables = hint_tables(knowledge, care)
    chances = apply_evidence(outcome_chances(knowledge, care), graded, tables)
    transition = _transition_matrix(care)
    found = {component: [0.0] * len(care.states) for component in knowledge.components}
    for judgement in graded.judgements.values():
        if judgement.is_seen:
            own = found[judgement.criterion.component]
            place = position(judgement)
            for state, rows in enumerate(chances[judgement.id]):
                own[state] += math.log(rows[place])
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
        states=tuple(state.name for state in care.states),
        whole=_normal(_exponentials(whole)),
        given_whole=given_whole,
        given_subsystem=given_subsystem,
        outcomes=chances,
        component_of={c.id: c.component for c in knowledge.criteria.values()},
        hint_tables=tables,
    )


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
    return tuple(_normal(row) for row in joint), [math.log(sum(row)) for row in joint]


def _exponentials(logs: list[float]) -> list[float]:
    top = max(logs)
    return [math.exp(log - top) for log in logs]


def _add(total: list[float], more: list[float]) -> None:
    for place, value in enumerate(more):
        total[place] += value


def position(judgement: Judgement) -> int:
    """The index of a judgement's outcome, or of its best possible one, among its criterion's."""
    outcomes = judgement.criterion.outcomes
    return next(i for i, outcome in enumerate(outcomes) if outcome is judgement.best)


def _transition_matrix(care: Care) -> list[list[float]]:
    """For each state of the whole, the probabilities of a part's state, none of them zero."""
    count = len(care.states)
    if count == 1:
        return [[1.0]]
    least = 1e-6
    same = min(max(care.state_persistence, least), 1 - least)
    other = (1 - same) / (count - 1)
    return [[same if s == t else other for t in range(count)] for s in range(count)]


def _normal(values: list[float]) -> Chances:
    total = sum(values)
    return tuple(value / total for value in values)


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
