"""Monte Carlo samples of the unseen: many scenarios of one object.

Every scenario fills in everything unseen, sampled from the posterior of
:mod:`assess.uncertainty.bayes_network`. The samples are seeded, so that the same answers always
give the same numbers, and each criterion has uniforms of its own, so that one more answer
changes only what depends on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.steps import subsystem_of
from assess.uncertainty.association import MOST_ODDS, Table, hint_order
from assess.uncertainty.bayes_network import Beliefs, Chances
from assess.uncertainty.plan_arrays import Floats

COUNT = 1000
OVERSAMPLING = 2
"""How many times as many scenarios are drawn where they are drawn again to fit a complaint."""
SEED = 1890
OutcomeIndices = NDArray[np.int8]
"""Index of the outcome of each unseen criterion in each scenario: (criteria, scenarios)."""


@lru_cache(maxsize=4)
def _uniforms(rows: int, count: int) -> Floats:
    # This generator's numbers are promised never to change between versions of numpy.
    return np.random.RandomState(SEED).random_sample((rows, count)).astype(np.float32)


@dataclass(frozen=True)
class Sample:
    """What is unseen, filled in many times.

    Attributes:
        unseen: the unseen judgements.
        outcomes: the outcome of each in each scenario; of shape (unseen criteria, scenarios).
        effective: to how many independent samples the scenarios amount: fewer than there are
            where they were drawn again to fit a complaint (L. Kish, Survey Sampling, 1965;
            from memory).
    """

    unseen: tuple[Judgement, ...]
    outcomes: OutcomeIndices
    effective: float


def sample(graded: Graded, knowledge: Knowledge, believed: Beliefs, count: int = COUNT) -> Sample:
    """Sample outcomes for everything unseen, so that they explain what is complained of."""
    unseen = tuple(j for j in graded.judgements.values() if j.is_unseen)
    # A part and a criterion may have the same id; they share the later row.
    rows = 1 + max(_rows(knowledge).values())
    if not believed.before_complaints:
        uniforms = _uniforms(rows, count)
        return Sample(unseen, _drawn(unseen, knowledge, believed, uniforms)[0], float(count))
    # What the complaints depend on is drawn first, many times; all else for what is kept.
    uniforms = _uniforms(rows, count * OVERSAMPLING)
    some = _depended_on(unseen, believed)
    weights = _weights(graded, believed, some, *_drawn(some, knowledge, believed, uniforms))
    effective = float(weights.sum() ** 2 / (weights**2).sum())
    steps = (np.arange(count) + 0.5) * weights.sum() / count
    again = np.minimum(np.searchsorted(np.cumsum(weights), steps), len(weights) - 1)
    outcomes, _ = _drawn(unseen, knowledge, believed, uniforms[:, again])
    return Sample(unseen, outcomes, min(effective, float(count)))


@kept
def _rows(knowledge: Knowledge) -> dict[str, int]:
    """The row of uniforms of the whole (an empty name) and of each part and criterion."""
    names = ["", *knowledge.subsystems, *knowledge.components, *knowledge.criteria]
    return {name: row for row, name in enumerate(names)}


def _depended_on(unseen: tuple[Judgement, ...], believed: Beliefs) -> tuple[Judgement, ...]:
    """The unseen causes of the complaints, and what hints at them."""
    todo, found = list(believed.before_complaints), set[str]()
    while todo:
        criterion = todo.pop()
        if criterion not in found:
            found.add(criterion)
            todo += believed.hint_tables.get(criterion, ())
    return tuple(j for j in unseen if j.id in found)


def _weights(
    graded: Graded,
    believed: Beliefs,
    unseen: tuple[Judgement, ...],
    outcomes: OutcomeIndices,
    states: NDArray[np.intp],
) -> NDArray[np.float64]:
    """Importance weights: what each scenario says of the complaints, over what drew it.

    Returns:
        Of shape (scenarios,).
    """
    row_of = {judgement.id: row for row, judgement in enumerate(unseen)}
    weights = np.ones(outcomes.shape[1])
    for item in believed.complaints:
        absent = np.full(outcomes.shape[1], 1 - item.symptom.leak)
        for criterion, strengths in item.strengths.items():
            if criterion in row_of:
                absent *= 1 - np.array(strengths)[outcomes[row_of[criterion]]]
            else:
                absent *= 1 - strengths[graded.judgements[criterion].position]
        weights *= 1 - absent
    for criterion, before in believed.before_complaints.items():
        row = row_of[criterion]
        ratio = np.array(before) / np.array(believed.outcomes[criterion])
        weights *= ratio[states[row], outcomes[row]]
    return weights


def _drawn(
    unseen: tuple[Judgement, ...], knowledge: Knowledge, believed: Beliefs, uniforms: Floats
) -> tuple[OutcomeIndices, NDArray[np.intp]]:
    """Sample outcomes of unseen criteria from what is believed of each.

    Associations hold between sampled outcomes as they do for seen ones.

    Args:
        unseen: what to sample; what hints at one of them must be among them.
        knowledge: what plugins declare.
        believed: what is believed.
        uniforms: of shape (rows of :func:`_rows`, scenarios).

    Returns:
        The outcome of each in each scenario, and the state of care of its component; both of
        shape (criteria, scenarios).
    """
    rows, count = _rows(knowledge), uniforms.shape[1]
    if not unseen:
        return np.zeros((0, count), np.int8), np.zeros((0, count), np.intp)
    components = list(dict.fromkeys(j.criterion.component for j in unseen))
    whole = _picked(np.array([believed.whole]), np.zeros(count, np.intp), uniforms[0])
    states = np.zeros((len(components), count), np.intp)
    subsystem_states = {
        s: _picked(np.array(believed.given_whole[s]), whole, uniforms[rows[s]])
        for s in {subsystem_of(c) for c in components}
    }
    for at, component in enumerate(components):
        chances = np.array(believed.given_subsystem[component])
        states[at] = _picked(
            chances, subsystem_states[subsystem_of(component)], uniforms[rows[component]]
        )
    own_states = states[[components.index(j.criterion.component) for j in unseen]]
    tables = [believed.outcomes[j.id] for j in unseen]
    own_uniforms = uniforms[[rows[j.id] for j in unseen]]
    outcomes = _picked_all(tables, own_states, own_uniforms)
    _apply_associations(
        unseen, outcomes, tables, own_states, own_uniforms, believed.hint_tables, knowledge
    )
    return outcomes, own_states


def _apply_associations(
    unseen: tuple[Judgement, ...],
    outcomes: OutcomeIndices,
    tables: Sequence[tuple[Chances, ...]],
    states: NDArray[np.intp],
    uniforms: Floats,
    hint_tables: dict[str, dict[str, Table]],
    knowledge: Knowledge,
) -> None:
    """Sample again, with the same uniforms, each outcome that associated criteria change."""
    place_of = {judgement.id: place for place, judgement in enumerate(unseen)}
    for criterion in hint_order(knowledge):
        evidences = {h: table for h, table in hint_tables[criterion].items() if h in place_of}
        if criterion not in place_of or not evidences:
            continue
        place = place_of[criterion]
        weights = np.array(tables[place]).T[:, states[place]]
        factors = np.ones_like(weights)
        for evidence, table in evidences.items():
            factors *= np.array(table).T[:, outcomes[place_of[evidence]]]
        weights *= np.clip(factors, 1 / MOST_ODDS, MOST_ODDS, out=factors)
        bounds = np.cumsum(weights, axis=0)
        outcomes[place] = (uniforms[place] * bounds[-1] > bounds[:-1]).sum(axis=0)


def _picked(
    chances: NDArray[np.float64], row: NDArray[np.intp], uniforms: Floats
) -> NDArray[np.intp]:
    """For each scenario a column index sampled from its row of a table of probabilities.

    Args:
        chances: of shape (rows, columns).
        row: of shape (scenarios,).
        uniforms: of shape (scenarios,).
    """
    picked = np.zeros(len(uniforms), np.intp)
    for bound in np.cumsum(chances, axis=1).T[:-1]:
        picked += uniforms > bound[row]
    return picked


def _picked_all(
    chances: Sequence[Sequence[Sequence[float]]], state: NDArray[np.intp], uniforms: Floats
) -> OutcomeIndices:
    """For each criterion and scenario an outcome, from the row of its component's state.

    Args:
        chances: for each criterion, rows of probabilities by state.
        state: of shape (criteria, scenarios).
        uniforms: of shape (criteria, scenarios).
    """
    most = max(len(rows[0]) for rows in chances)
    bounds = np.full((len(chances), len(chances[0]), most - 1), 2.0, np.float32)
    for place, rows in enumerate(chances):
        for number, row in enumerate(rows):
            bounds[place, number, : len(row) - 1] = list(accumulate(row))[:-1]
    picked = np.zeros(uniforms.shape, np.int8)
    for outcome in range(most - 1):
        picked += uniforms > np.take_along_axis(bounds[:, :, outcome], state, axis=1)
    return picked
