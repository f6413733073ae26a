"""Monte Carlo samples of the unseen: many scenarios of one object.

Every scenario fills in everything unseen, sampled from the posterior of
:mod:`assess.uncertainty.bayes_network`. The samples are seeded, so that the same answers always
give the same numbers, and each criterion has uniforms of its own, so that one more answer
changes only what depends on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.prior_beliefs import Care
from assess.knowledge.steps import subsystem_of
from assess.uncertainty.association import MOST_ODDS, Table, hint_order
from assess.uncertainty.bayes_network import Beliefs
from assess.uncertainty.plan_arrays import Floats
from assess.uncertainty.prior_chances import hint_tables

COUNT = 1000
OVERSAMPLING = 2
"""How many times as many scenarios are drawn where they are drawn again to fit a complaint."""
MOST_COMBINATIONS = 512
"""As many combinations of evidence are multiplied out before sampling."""
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
        draw = _Draw(knowledge, believed, _uniforms(rows, count))
        draw.add(unseen)
        return Sample(unseen, draw.table(unseen), float(count))
    # What the complaints depend on is drawn first, many times; all else for what is kept.
    uniforms = _uniforms(rows, count * OVERSAMPLING)
    some = _depended_on(unseen, believed)
    many = _Draw(knowledge, believed, uniforms)
    many.add(some)
    weights = _weights(graded, believed, many)
    effective = float(weights.sum() ** 2 / (weights**2).sum())
    steps = (np.arange(count) + 0.5) * weights.sum() / count
    again = np.minimum(np.searchsorted(np.cumsum(weights), steps), len(weights) - 1)
    draw = many.kept(again)
    draw.add(tuple(j for j in unseen if j.id not in draw.outcomes))
    return Sample(unseen, draw.table(unseen), min(effective, float(count)))


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


def _weights(graded: Graded, believed: Beliefs, draw: _Draw) -> NDArray[np.float64]:
    """Importance weights: what each scenario says of the complaints, over what drew it.

    Returns:
        Of shape (scenarios,).
    """
    weights = np.ones(draw.count)
    for item in believed.complaints:
        absent = np.full(draw.count, 1 - item.symptom.leak)
        for criterion, strengths in item.strengths.items():
            if criterion in draw.outcomes:
                absent *= 1 - np.array(strengths).take(draw.outcomes[criterion])
            else:
                absent *= 1 - strengths[graded.judgements[criterion].position]
        weights *= 1 - absent
    for criterion, before in believed.before_complaints.items():
        ratio = np.array(before) / np.array(believed.outcomes[criterion])
        state = draw.states[believed.component_of[criterion]]
        weights *= ratio[state, draw.outcomes[criterion]]
    return weights


@dataclass(frozen=True)
class _HintGroup:
    """Some of the evidence of a criterion, and the product of its factors.

    Attributes:
        evidence: criteria that hint, each with the step of its outcomes in ``factors``.
        unknown: where in ``factors`` nothing of the evidence is drawn.
        factors: of shape (outcomes, combinations of evidence); 1 for what is not drawn.
    """

    evidence: tuple[tuple[str, int], ...]
    unknown: int
    factors: NDArray[np.float64]


@kept
def _hint_groups(knowledge: Knowledge, care: Care) -> dict[str, tuple[_HintGroup, ...]]:
    """The evidence of every criterion with hints, multiplied out in groups."""
    groups = {}
    for criterion, tables in hint_tables(knowledge, care).items():
        waiting: list[list[str]] = [[]]
        size = 1
        for evidence, table in tables.items():
            size *= len(table) + 1
            if waiting[-1] and size > MOST_COMBINATIONS:
                waiting.append([])
                size = len(table) + 1
            waiting[-1].append(evidence)
        groups[criterion] = tuple(_hint_group({e: tables[e] for e in names}) for names in waiting)
    return groups


def _hint_group(tables: Mapping[str, Table]) -> _HintGroup:
    factors = np.ones((len(next(iter(tables.values()))[0]), 1))
    evidence, unknown = [], 0
    for name, table in tables.items():
        step = factors.shape[1]
        evidence.append((name, step))
        unknown += step * len(table)
        own = np.array([*table, [1.0] * len(factors)]).T
        factors = (factors[:, None, :] * own[:, :, None]).reshape(len(factors), -1)
    return _HintGroup(tuple(evidence), unknown, factors)


class _Draw:
    """Outcomes sampled from what is believed, criterion by criterion.

    Associations hold between sampled outcomes as they do for seen ones.

    Attributes:
        states: component -> its state of care in each scenario, of shape (scenarios,).
        outcomes: criterion -> its outcome in each scenario, of shape (scenarios,).
    """

    def __init__(self, knowledge: Knowledge, believed: Beliefs, uniforms: Floats) -> None:
        """Sample the states of care.

        Args:
            knowledge: what plugins declare.
            believed: what is believed.
            uniforms: of shape (rows of :func:`_rows`, scenarios).
        """
        self.knowledge, self.believed, self.uniforms = knowledge, believed, uniforms
        self.rows = _rows(knowledge)
        self.count = uniforms.shape[1]
        self.outcomes: dict[str, NDArray[np.intp]] = {}
        start = np.zeros(self.count, np.intp)
        whole = _picked(np.array([believed.whole]), start, uniforms[0])
        subsystems = {
            s: _picked(np.array(chances), whole, uniforms[self.rows[s]])
            for s, chances in believed.given_whole.items()
        }
        self.states = {
            c: _picked(np.array(chances), subsystems[subsystem_of(c)], uniforms[self.rows[c]])
            for c, chances in believed.given_subsystem.items()
        }

    def kept(self, scenarios: NDArray[np.intp]) -> _Draw:
        """The same draw of some scenarios only, in this order."""
        draw = copy(self)
        draw.uniforms = self.uniforms.take(scenarios, axis=1)
        draw.count = len(scenarios)
        draw.outcomes = {c: row.take(scenarios) for c, row in self.outcomes.items()}
        draw.states = {c: row.take(scenarios) for c, row in self.states.items()}
        return draw

    def table(self, unseen: tuple[Judgement, ...]) -> OutcomeIndices:
        """The outcomes of these, which are all drawn; of shape (criteria, scenarios)."""
        table = np.zeros((len(unseen), self.count), np.int8)
        for row, judgement in zip(table, unseen, strict=True):
            row[:] = self.outcomes[judgement.id]
        return table

    def add(self, unseen: tuple[Judgement, ...]) -> None:
        """Sample more outcomes; what hints at one of them must be drawn before or among them."""
        names = {judgement.id for judgement in unseen}
        drawn = self.outcomes.keys() | names
        hints = self.believed.hint_tables
        hinted = {
            c: None
            for c in hint_order(self.knowledge)
            if c in names and not drawn.isdisjoint(hints[c])
        }
        # Where hints form a cycle, one is evidence before what hints at it is taken into account.
        early, done = set[str](), set[str]()
        for criterion in hinted:
            early |= (hints[criterion].keys() & hinted.keys()) - done
            done.add(criterion)
        self._add_unhinted([j for j in unseen if j.id not in hinted or j.id in early])
        groups = _hint_groups(self.knowledge, self.believed.care)
        for criterion in hinted:
            self.outcomes[criterion] = self._hinted(criterion, groups[criterion])

    def _add_unhinted(self, unseen: list[Judgement]) -> None:
        """Sample from the states of care alone; those with as many outcomes at once."""
        by_outcomes: dict[int, list[Judgement]] = {}
        for judgement in unseen:
            by_outcomes.setdefault(len(judgement.criterion.outcomes), []).append(judgement)
        for number, alike in by_outcomes.items():
            chances = np.array([self.believed.outcomes[j.id] for j in alike])
            bounds = np.cumsum(chances, axis=2)[:, :, : number - 1].astype(np.float32)
            at = np.vstack([self.states[j.criterion.component] for j in alike])
            at += bounds.shape[1] * np.arange(len(alike))[:, None]
            uniforms = self.uniforms.take([self.rows[j.id] for j in alike], axis=0)
            picked = np.zeros(at.shape, np.intp)
            for bound in np.moveaxis(bounds, 2, 0):
                picked += uniforms > bound.ravel().take(at)
            self.outcomes.update(zip((j.id for j in alike), picked, strict=True))

    def _hinted(self, criterion: str, groups: tuple[_HintGroup, ...]) -> NDArray[np.intp]:
        """Sample one criterion from its state of care and the drawn outcomes that hint at it."""
        factors = []
        for group in groups:
            known = [(e, step) for e, step in group.evidence if e in self.outcomes]
            if not known:
                continue
            tables = self.believed.hint_tables[criterion]
            at = np.full(self.count, group.unknown - sum(s * len(tables[e]) for e, s in known))
            for evidence, step in known:
                at += step * self.outcomes[evidence]
            factors.append(group.factors.take(at, axis=1))
        together = factors[0]
        for more in factors[1:]:
            together *= more
        np.clip(together, 1 / MOST_ODDS, MOST_ODDS, out=together)
        state = self.states[self.believed.component_of[criterion]]
        together *= np.array(self.believed.outcomes[criterion]).T.take(state, axis=1)
        for last, bound in pairwise(together):
            bound += last
        uniforms = self.uniforms[self.rows[criterion]] * together[-1]
        picked = np.zeros(self.count, np.intp)
        for bound in together[:-1]:
            picked += uniforms > bound
        return picked


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
        picked += uniforms > bound.take(row)
    return picked
