"""Associations between criteria: declared odds ratios, made consistent with the prior.

A hint states the odds ratio between an outcome of one criterion (the evidence) and findings of
another. It must not change how often either is found while nothing is known, so each pair of
criteria gets the joint table that has the declared odds ratios and the margins of the prior, by
iterative proportional fitting (W. E. Deming and F. F. Stephan, "On a least squares adjustment of
a sampled frequency table when the expected marginal totals are known", Annals of Mathematical
Statistics 11 (1940)). Such a table works both ways: the evidence changes the finding, and the
finding changes the evidence.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from assess.knowledge.knowledge_base import Knowledge, kept

MOST_ODDS = 20.0
"""All hints together change the odds of an outcome by no more than this factor."""
CLOSE = 1e-4
"""Tolerance of the fit: how far the mean factor of an outcome may be from 1."""
MOST_ROUNDS = 200

Table = tuple[tuple[float, ...], ...]
"""Numbers of shape (outcomes of the evidence, outcomes of what it hints at)."""


def declared_odds(knowledge: Knowledge) -> dict[str, dict[str, Table]]:
    """For each criterion with hints: by evidence criterion, the declared odds ratios."""
    odds: dict[str, dict[str, Table]] = {}
    for evidence in knowledge.criteria.values():
        for target in dict.fromkeys(h.criterion for o in evidence.outcomes for h in o.hints):
            outcomes = knowledge.criteria[target].outcomes
            rows = []
            for outcome in evidence.outcomes:
                row = [1.0] * len(outcomes)
                for hint in outcome.hints:
                    for place, other in enumerate(outcomes):
                        if hint.criterion == target and other.condition >= hint.from_class:
                            row[place] *= hint.odds
                rows.append(tuple(row))
            odds.setdefault(target, {})[evidence.id] = tuple(rows)
    return odds


@kept
def hint_order(knowledge: Knowledge) -> tuple[str, ...]:
    """Criteria with hints, each after its evidence criteria, as far as hints form no cycle."""
    odds = declared_odds(knowledge)
    order: dict[str, None] = {}

    def visit(criterion: str, above: tuple[str, ...]) -> None:
        for evidence in odds.get(criterion, ()):
            if evidence not in order and evidence not in above:
                visit(evidence, (*above, criterion))
        order[criterion] = None

    for criterion in odds:
        visit(criterion, (criterion,))
    return tuple(criterion for criterion in order if criterion in odds)


@lru_cache(maxsize=1024)
def fit_association(rows: tuple[float, ...], columns: tuple[float, ...], odds: Table) -> Table:
    """The factor by which each pair of outcomes is likelier than if they were independent.

    Args:
        rows: prior of the evidence's outcomes, all above 0; of shape (rows,).
        columns: prior of the outcomes hinted at, all above 0; of shape (columns,).
        odds: declared odds ratios; of shape (rows, columns).

    Returns:
        Factors of shape (rows, columns) with the odds ratios of ``odds``, whose prior mean is
        1 in every row and every column.
    """
    across = [1.0] * len(columns)
    down = [1.0] * len(rows)
    for _ in range(MOST_ROUNDS):
        down = [
            1 / sum(p * f * a for p, f, a in zip(columns, line, across, strict=True))
            for line in odds
        ]
        sums = [
            sum(q * d * line[place] for q, d, line in zip(rows, down, odds, strict=True))
            for place in range(len(columns))
        ]
        off = max(abs(a * s - 1) for a, s in zip(across, sums, strict=True))
        across = [1 / s for s in sums]
        if off < CLOSE:
            break
    return tuple(
        tuple(d * f * a for f, a in zip(line, across, strict=True))
        for d, line in zip(down, odds, strict=True)
    )


def within_bounds(factors: Iterable[float]) -> list[float]:
    """Factors of odds, each kept within :data:`MOST_ODDS` and its inverse."""
    return [min(max(factor, 1 / MOST_ODDS), MOST_ODDS) for factor in factors]
