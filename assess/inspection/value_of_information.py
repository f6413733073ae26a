"""The value of looking: what to look at next, and what may still be hidden.

The value of a look is the mutual information, in bits, between its answer and the verdict
(C. E. Shannon, "A mathematical theory of communication", Bell System Technical Journal 27
(1948), section 12), counted on the scenarios, less the bias of counting (G. A. Miller, "Note on
the bias of information estimates", in H. Quastler (ed.), Information Theory in Psychology
(1955)) and less what chance alone would show. Since a verdict mostly depends on what the work
will cost, an answer also counts with its share of the variance of the cost, times the entropy
of the verdict. Looks are ranked by bits a minute (:mod:`assess.inspection.look_route`).
"""

from __future__ import annotations

import math
from collections.abc import Container, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from assess.decision.scenario_verdicts import VERDICT_NAMES, VerdictIndices
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement, State
from assess.grading.openings import is_opened
from assess.inspection.hidden_defects import LEAST_CHANCE, Hidden, by_expected_cost, hidden_answer
from assess.inspection.look_route import Route
from assess.inspection.marginal_effects import MarginalEffects, marginal_effects
from assess.inspection.question_places import places_to, seen_at_visit
from assess.knowledge.model_base import Scope
from assess.knowledge.trade import VerdictName
from assess.planning.workload import WorkContext
from assess.uncertainty.bayes_network import Beliefs
from assess.uncertainty.plan_arrays import PlanArrays
from assess.uncertainty.scenario_costs import Scenarios

MIN_Z_SCORE = 3.5
"""Standard deviations of chance that counted information must exceed: so many that of some two
hundred criteria hardly one does so by chance."""
LEAD_Z_SCORE = 2.0
"""Standard errors by which another verdict must lead before an answer is said to change it."""
CELLS_PER_SIDE = 4
"""Scenarios are sorted into this many groups squared by what the open answers would add."""


@dataclass(frozen=True)
class PossibleAnswer:
    """An answer, its probability, and the verdict that would then be likeliest, and how likely."""

    answer: str
    chance: float
    verdict: VerdictName
    probability: float


@dataclass(frozen=True)
class Look:
    """One thing to look at.

    Attributes:
        criterion: its full id.
        minutes: what looking takes.
        opens: places to open first, outermost first, with the minutes of each.
        information_bits: mutual information between its answer and the verdict.
        turns: probability that its answer makes another verdict the likeliest.
        possible_answers: the answers that would do so, or else the one that shifts it most.
        symptom: the complaint that it tests, if it comes first for that.
    """

    criterion: str
    minutes: float
    opens: tuple[tuple[str, float], ...]
    information_bits: float
    turns: float
    possible_answers: tuple[PossibleAnswer, ...]
    symptom: str = ""


@dataclass(frozen=True)
class InformationValue:
    """Everything unseen: what it may be, and what each answer would do.

    Attributes:
        context: knowledge, configuration and workshop.
        graded: what is seen; places from which something was seen are open.
        scenarios: the possible states of the object.
        verdicts: what is decided in each scenario.
        effects: scope -> what the outcomes of each unseen criterion add.
        opened: places that are told to be open already.
        tests: looks that come before all others, in order, each with the symptom that it tests.
    """

    context: WorkContext
    graded: Graded
    scenarios: Scenarios
    verdicts: VerdictIndices
    effects: dict[Scope, MarginalEffects]
    opened: frozenset[str] = frozenset()
    tests: Mapping[str, str] = field(default_factory=dict)

    def candidates(self, everything: bool = False) -> dict[int, Judgement]:
        """What is to be asked, by row of the scenarios.

        Args:
            everything: also what only the workshop shows.
        """
        return {
            row: j
            for row, j in enumerate(self.scenarios.unseen)
            if is_question(j)
            and is_opened(j, self.graded.judgements)
            and (everything or seen_at_visit(j, self.context.knowledge, self.context.configuration))
        }

    def looks(
        self,
        most: int | None = None,
        *,
        everything: bool = False,
        among: Container[str] | None = None,
    ) -> tuple[Look, ...]:
        """What to look at next, in order.

        Args:
            most: how many looks to list; all when left out.
            everything: also what only the workshop shows.
            among: criteria to choose from; any when left out.
        """
        candidates = {
            row: j
            for row, j in self.candidates(everything).items()
            if among is None or j.id in among
        }
        if not candidates:
            return ()
        tables = _tables(self.scenarios, self.verdicts)
        bits = self._bits(tables)
        opened = _opened(self.graded, self.context) | self.opened
        route = Route(candidates, bits, self.context, opened)
        rows = {j.id: row for row, j in candidates.items()}
        first = [rows[test] for test in self.tests if test in rows]
        walked = route.walk(len(candidates) if most is None else most, first)
        looks = [_look(candidates[r], tables[r], float(bits[r]), opens) for r, opens in walked]
        return tuple(replace(k, symptom=self.tests.get(k.criterion, "")) for k in looks)

    def telling(self) -> dict[str, float]:
        """What each unseen question tells of the verdict, in bits, by full criterion id."""
        if not self.scenarios.unseen:
            return {}
        bits = self._bits(_tables(self.scenarios, self.verdicts))
        return {j.id: float(b) for j, b in zip(self.scenarios.unseen, bits, strict=True)}

    def _bits(self, tables: NDArray[np.int64]) -> NDArray[np.float64]:
        """Bits that each answer gives of the verdict: as counted, and through its share of cost."""
        shares = np.zeros(len(tables))
        for effects in self.effects.values():
            variances = effects.variances
            if variances.sum() > 0:
                shares = np.maximum(shares, variances / variances.sum())
        open_bits = float(_entropy(tables[:1].sum(axis=1), int(tables[0].sum()))[0])
        return information_bits(tables, MIN_Z_SCORE) + open_bits * shares

    def expected_accuracy_gain(self, *, everything: bool = False) -> float:
        """By how much seeing everything that is left would raise the probability of being right.

        The scenarios are ranked by what the open answers would add to the cost of each scope,
        and sorted into cells, by one scope, the other, or both. In a cell the verdict of most
        scenarios is what would then be said; it is read off one half of the scenarios and
        tried on the other, so that chance alone gains nothing (hold-out validation).

        Args:
            everything: also what only the workshop shows.
        """
        candidates = list(self.candidates(everything))
        count = self.scenarios.count
        if not candidates:
            return 0.0
        ranks = []
        for effects in (self.effects["full"], self.effects["working"]):
            added = np.zeros(count)
            for row in candidates:
                added += effects[row].cost[self.scenarios.outcomes[row]]
            ranks.append(added.argsort(kind="stable").argsort(kind="stable") / count)
        full, working = ((rank * CELLS_PER_SIDE**2).astype(np.intp) for rank in ranks)
        both = (ranks[0] * CELLS_PER_SIDE).astype(np.intp) * CELLS_PER_SIDE + (
            ranks[1] * CELLS_PER_SIDE
        ).astype(np.intp)
        now = float(np.bincount(self.verdicts).max() / count)
        return max(
            0.0, *(_holdout_accuracy(cells, self.verdicts) - now for cells in (full, working, both))
        )

    def hidden_answers(self, scope: Scope) -> tuple[Hidden, ...]:
        """Faults that may still be hidden in a scope, costliest on average first."""
        lines = []
        for judgement, effect in zip(self.scenarios.unseen, self.effects[scope], strict=True):
            chance, added = effect.added_work
            if chance >= LEAST_CHANCE:
                lines.append(hidden_answer(judgement.criterion, chance, added, self.context))
        return by_expected_cost(lines)


def value_unseen(
    context: WorkContext,
    graded: Graded,
    believed: Beliefs,
    arrays: PlanArrays,
    scenarios: Scenarios,
    verdicts: VerdictIndices,
    opened: frozenset[str] = frozenset(),
    tests: Mapping[str, str] | None = None,
) -> InformationValue:
    """Work out what every outcome of everything unseen would do.

    Args:
        context: knowledge, configuration and workshop.
        graded: what is seen.
        believed: what the answers say of the states of care.
        arrays: the plan arrays of the object.
        scenarios: the possible states of the object.
        verdicts: what is decided in each scenario.
        opened: places that are told to be open already.
        tests: looks that come before all others, each with the symptom that it tests.
    """
    effects = marginal_effects(arrays, graded, believed, context.workshop, scenarios)
    return InformationValue(context, graded, scenarios, verdicts, effects, opened, tests or {})


def is_question(judgement: Judgement) -> bool:
    """Whether something unseen is to be asked: it is not computed, and was not tried already."""
    return judgement.state is State.NO_ANSWER and not judgement.criterion.computed_from


def _tables(scenarios: Scenarios, verdicts: VerdictIndices) -> NDArray[np.int64]:
    """Scenarios counted by outcome and verdict; of shape (unseen criteria, outcomes, verdicts)."""
    most = max((len(j.criterion.outcomes) for j in scenarios.unseen), default=1)
    kinds = len(VERDICT_NAMES)
    rows = len(scenarios.unseen)
    joint = scenarios.outcomes.astype(np.int64) * kinds + verdicts
    joint += (np.arange(rows) * most * kinds)[:, None]
    counted = np.bincount(joint.ravel(), minlength=rows * most * kinds)
    return counted.reshape(rows, most, kinds)


def information_bits(tables: NDArray[np.int64], sure: float = 0.0) -> NDArray[np.float64]:
    """Mutual information of the two sides of each table of counts, bias removed, never negative.

    Args:
        tables: counts, of shape (tables, outcomes, verdicts); each table has the same total.
        sure: how many standard deviations of pure chance are subtracted besides the bias.
    """
    total = tables[0].sum()
    outcomes, verdicts = tables.sum(axis=2), tables.sum(axis=1)
    entropy = _entropy(outcomes, total) + _entropy(verdicts, total)
    entropy -= _entropy(tables.reshape(len(tables), -1), total)
    degrees = ((outcomes > 0).sum(axis=1) - 1) * ((verdicts > 0).sum(axis=1) - 1)
    chance = (degrees + sure * np.sqrt(2 * degrees)) / (2 * total * math.log(2))
    bits: NDArray[np.float64] = np.maximum(0.0, entropy - chance)
    return bits


def _entropy(counts: NDArray[np.int64], total: int) -> NDArray[np.float64]:
    shares = counts / total
    logs = np.log2(shares, out=np.zeros_like(shares), where=shares > 0)
    result: NDArray[np.float64] = -(shares * logs).sum(axis=1)
    return result


def _holdout_accuracy(cells: NDArray[np.intp], verdicts: VerdictIndices) -> float:
    """How often the verdict of most in one half of a cell is right for the other half."""
    count = len(verdicts)
    halves = np.zeros((2, CELLS_PER_SIDE**2, len(VERDICT_NAMES)))
    np.add.at(halves, (np.arange(count) % 2, cells, verdicts), 1)
    said = halves.argmax(axis=2)
    every = np.arange(CELLS_PER_SIDE**2)
    right = halves[1, every, said[0]] + halves[0, every, said[1]]
    return float(right.sum() / count)


def _opened(graded: Graded, context: WorkContext) -> set[str]:
    """The places from which something was seen."""
    return {
        place
        for judgement in graded.judgements.values()
        if judgement.is_seen
        for place in places_to(judgement.criterion, context.knowledge, context.configuration)
    }


def _look(
    judgement: Judgement,
    table: NDArray[np.int64],
    bits: float,
    opens: tuple[tuple[str, float], ...],
) -> Look:
    total = table.sum()
    now = int(table.sum(axis=0).argmax())
    shares = table.sum(axis=0) / total
    changing, shifts = [], []
    turns = 0.0
    for outcome, row in zip(judgement.criterion.outcomes, table, strict=False):
        if row.sum() == 0:
            continue
        then = int(row.argmax())
        chance, probability = float(row.sum() / total), float(row[then] / row.sum())
        answer = PossibleAnswer(outcome.label, chance, VERDICT_NAMES[then], probability)
        if row[then] - row[now] > LEAD_Z_SCORE * math.sqrt(row[then] + row[now]):
            turns += chance
            changing.append(answer)
        shifts.append((chance * abs(row[now] / row.sum() - shares[now]), answer))
    if not changing:
        changing = [max(shifts, key=lambda s: s[0])[1]] if shifts else []
    changing.sort(key=lambda c: -c.chance)
    return Look(judgement.id, judgement.criterion.minutes, opens, bits, turns, tuple(changing))
