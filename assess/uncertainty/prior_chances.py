"""What is believed of every criterion before anything is seen, by state of care.

A state gives each condition class a probability. Outcomes of one class are equally likely,
except that one that ends work or advises against it is rarer. Findings of a criterion that is
declared ``seldom`` or ``often`` are rarer or likelier altogether.

The numbers are in the workshop profile (:class:`assess.knowledge.prior_beliefs.Care`).
"""

from __future__ import annotations

import hashlib
from operator import mul

from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.declaration_cache import kept_result
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.prior_beliefs import Care
from assess.uncertainty.association import Table, declared_odds, fit_association

Chances = tuple[float, ...]
"""Probabilities that add up to one: of states, or of the outcomes of a criterion."""


def mixed(weights: Chances, rows: tuple[Chances, ...]) -> Chances:
    """Rows of probabilities, weighted and added up."""
    return tuple(sum(map(mul, weights, column)) for column in zip(*rows, strict=True))


def normalised(values: list[float]) -> Chances:
    """Weights as probabilities that add up to one."""
    total = sum(values)
    return tuple(value / total for value in values)


def transition_matrix(care: Care) -> list[list[float]]:
    """For each state of the whole, the probabilities of a part's state, none of them zero."""
    count = len(care.states)
    if count == 1:
        return [[1.0]]
    least = 1e-6
    same = min(max(care.state_persistence, least), 1 - least)
    other = (1 - same) / (count - 1)
    return [[same if s == t else other for t in range(count)] for s in range(count)]


@kept
def outcome_chances(knowledge: Knowledge, care: Care) -> dict[str, tuple[Chances, ...]]:
    """For every criterion and every state of care, the probabilities of its outcomes."""
    digest = _digest_of(knowledge, care)
    return kept_result("chances", digest, lambda: _outcome_chances(knowledge, care))


def _outcome_chances(knowledge: Knowledge, care: Care) -> dict[str, tuple[Chances, ...]]:
    return {
        criterion.id: tuple(_chances(criterion, state.classes, care) for state in care.states)
        for criterion in knowledge.criteria.values()
    }


def _chances(criterion: Criterion, classes: Chances, care: Care) -> Chances:
    shares = [_share(outcome, care) for outcome in criterion.outcomes]
    within = [0.0] * len(classes)
    for outcome, share in zip(criterion.outcomes, shares, strict=True):
        within[outcome.condition] += share
    return normalised(
        [
            classes[outcome.condition]
            * (criterion.how_often if outcome.condition > 0 else 1.0)
            * (share / max(1.0, within[outcome.condition]))
            for outcome, share in zip(criterion.outcomes, shares, strict=True)
        ]
    )


def _share(outcome: Outcome, care: Care) -> float:
    """How likely an outcome is, beside another of its class."""
    if outcome.beyond_repair or outcome.advise_against:
        return care.rare
    return care.stopping if outcome.stops_use else 1.0


@kept
def prior_chances(knowledge: Knowledge, care: Care) -> dict[str, Chances]:
    """For every criterion, the probability of each outcome while nothing is known."""
    transition = tuple(tuple(row) for row in transition_matrix(care))
    prior = normalised([state.prior for state in care.states])
    of_component = mixed(mixed(prior, transition), transition)
    return {c: mixed(of_component, rows) for c, rows in outcome_chances(knowledge, care).items()}


@kept
def hint_tables(knowledge: Knowledge, care: Care) -> dict[str, dict[str, Table]]:
    """For each criterion with declared associations: by evidence criterion, its factors.

    The margins are the prior: what is believed while nothing is seen.
    """
    digest = _digest_of(knowledge, care)
    return kept_result("hints", digest, lambda: _hint_tables(knowledge, care))


def _digest_of(knowledge: Knowledge, care: Care) -> str:
    """A hash of all that is declared and believed of care; empty where nothing may be kept."""
    believed = hashlib.blake2b(care.model_dump_json().encode(), digest_size=8).hexdigest()
    return f"{knowledge.digest}{believed}" if knowledge.digest else ""


def _hint_tables(knowledge: Knowledge, care: Care) -> dict[str, dict[str, Table]]:
    blank = prior_chances(knowledge, care)
    return {
        criterion: {
            evidence: fit_association(blank[evidence], blank[criterion], odds)
            for evidence, odds in by_evidence.items()
        }
        for criterion, by_evidence in declared_odds(knowledge).items()
    }
