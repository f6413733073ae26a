"""What is believed of what nobody has seen: a latent state of care, and Bayes' rule.

An instrument as a whole has been kept well, ordinarily or badly; each subsystem has fared
like the whole with a certain chance, else like one of the other states, all alike; and so
has each component like its subsystem. A state makes each condition class more or less
likely, and within a class all outcomes are alike, except that one which ends or dissuades
work is rarer; findings of a criterion that is declared ``seldom`` are rarer altogether, and
of one that is declared ``often`` likelier.
Given the state of its component, one criterion says nothing of another, but for what its
outcomes are declared to hint at (:mod:`assess.uncertainty.association`): live worm at boards
that are eaten, a
test that is passed at parts that are sound. Every answer then shifts the belief in the states
by Bayes' rule (T. Bayes, "An essay towards solving a problem in the doctrine of chances",
Philosophical Transactions 53 (1763)), and so the chances of all that is still unseen.

The numbers stand in the workshop profile (:class:`assess.job.workshop_profile.Care`). They are
estimates from memory, and meant to be replaced by a workshop's own experience.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from assess.grading.grades import DEFICITS, Graded
from assess.grading.judgements import Judgement
from assess.job.workshop_profile import Care
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge, subsystem_of
from assess.uncertainty.association import Table, declared_odds, fit_association, within_bounds

Chances = tuple[float, ...]
"""Probabilities that add up to one: of states, or of the outcomes of a criterion."""


@dataclass(frozen=True)
class Beliefs:
    """What the answers make of the states of care.

    Attributes:
        states: names of the states, as the profile has them.
        whole: probability of each state of the instrument as a whole.
        given_whole: subsystem -> for each state of the whole, the probabilities of its own.
        given_subsystem: component -> for each state of its subsystem, those of its own.
        outcomes: criterion -> for each state of its component, those of its outcomes.
        component_of: criterion -> the component that it belongs to.
        hint_tables: criterion -> those that hint at it -> what :func:`hint_tables` gives.
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


@lru_cache(maxsize=4)
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


@lru_cache(maxsize=4)
def hint_tables(knowledge: Knowledge, care: Care) -> dict[str, dict[str, Table]]:
    """For each criterion that others hint at: by evidence, how much likelier each makes each.

    The margins are what is believed of an instrument of which nothing is seen.
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


def hinted(
    chances: dict[str, tuple[Chances, ...]],
    graded: Graded,
    tables: dict[str, dict[str, Table]],
) -> dict[str, tuple[Chances, ...]]:
    """Outcome chances with what seen outcomes tell of other criteria.

    An outcome that is seen tells of what it hints at, and of what is unseen and would have
    hinted at it. What several tell is multiplied, within
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
    """What the answers make of the states of care."""
    tables = hint_tables(knowledge, care)
    chances = hinted(outcome_chances(knowledge, care), graded, tables)
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
    """What a part makes of its own state given that of the whole, and tells of the whole's.

    Args:
        logs: logarithms of how well each state of the part fits what was found.
        transition: for each state of the whole, the chances of the part's.
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
    """Which of its criterion's outcomes a judgement has, or has at best."""
    outcomes = judgement.criterion.outcomes
    return next(i for i, outcome in enumerate(outcomes) if outcome is judgement.best)


def _transition_matrix(care: Care) -> list[list[float]]:
    """For each state of the whole, the chances of a subsystem's; none is ever ruled out."""
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


def expected_grades(graded: Graded, knowledge: Knowledge, believed: Beliefs) -> dict[str, float]:
    """The grade 0 to 100 to expect of each component and subsystem, and of ``instrument``.

    What is unseen counts with the expectation of its deficit. A subsystem that could not be
    assessed is left out, and so is the instrument then.
    """
    weights: dict[str, float] = {}
    deficits: dict[str, float] = {}
    for judgement in graded.judgements.values():
        if not judgement.counts:
            continue
        weight = judgement.criterion.weight
        lost = weight * _deficit(judgement, believed)
        for name in (judgement.criterion.component, subsystem_of(judgement.id)):
            weights[name] = weights.get(name, 0.0) + weight
            deficits[name] = deficits.get(name, 0.0) + lost
    grades = {name: 100 * (1 - deficits[name] / weights[name]) for name in weights}
    shares = {s: info.weight for s, info in knowledge.subsystems.items() if s in grades}
    if shares and all(part.assessed for part in graded.subsystems.values()):
        grades["instrument"] = sum(w * grades[s] for s, w in shares.items()) / sum(shares.values())
    return {
        name: value
        for name, value in grades.items()
        if name == "instrument" or graded.subsystems[subsystem_of(name)].assessed
    }


def _deficit(judgement: Judgement, believed: Beliefs) -> float:
    if judgement.is_seen:
        return DEFICITS[judgement.best.condition]
    chances = believed.of_criterion(judgement.id)
    outcomes = judgement.criterion.outcomes
    return sum(p * DEFICITS[o.condition] for p, o in zip(chances, outcomes, strict=True))
