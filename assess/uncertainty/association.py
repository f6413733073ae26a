"""What the outcome of one criterion tells of another: declared odds, made to agree with beliefs.

A hint says by how much the odds of a finding differ between instruments that show the outcome
and those that do not. It must not change how often either is found when nothing is known, so
each pair of criteria gets the joint table that has the declared odds ratios and the believed
margins, by iterative proportional fitting (W. E. Deming and F. F. Stephan, "On a least squares
adjustment of a sampled frequency table when the expected marginal totals are known", Annals of
Mathematical Statistics 11 (1940)). Such a table tells as much one way as the other: of eaten
boards when live worm is seen, and of live worm when eaten boards are.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from assess.knowledge.knowledge_base import Knowledge

MOST_ODDS = 20.0
"""Several hints together never make anything more times likelier, nor rarer, than this."""
CLOSE = 1e-4
"""By how much the mean factor of an outcome may differ from 1."""
MOST_ROUNDS = 200

Table = tuple[tuple[float, ...], ...]
"""Numbers by outcome of the evidence, then by outcome of what it hints at."""


def declared_odds(knowledge: Knowledge) -> dict[str, dict[str, Table]]:
    """For each criterion that others hint at: by evidence, the declared factors of odds."""
    odds: dict[str, dict[str, Table]] = {}
    for evidence in knowledge.criteria.values():
        for told in dict.fromkeys(h.criterion for o in evidence.outcomes for h in o.hints):
            outcomes = knowledge.criteria[told].outcomes
            rows = []
            for outcome in evidence.outcomes:
                row = [1.0] * len(outcomes)
                for hint in outcome.hints:
                    for place, other in enumerate(outcomes):
                        if hint.criterion == told and other.condition >= hint.from_class:
                            row[place] *= hint.odds
                rows.append(tuple(row))
            odds.setdefault(told, {})[evidence.id] = tuple(rows)
    return odds


@lru_cache(maxsize=4)
def hint_order(knowledge: Knowledge) -> tuple[str, ...]:
    """Criteria that others hint at, each after its evidences, as far as hints run in no circle."""
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
    """How many times likelier each pair of outcomes is than if neither told of the other.

    Args:
        rows: probabilities of the evidence's outcomes, all above 0.
        columns: probabilities of the outcomes hinted at, all above 0.
        odds: factors of odds, rows x columns.

    Returns:
        Factors with the odds ratios of ``odds``, whose mean over the rows is 1 in every column
        and over the columns in every row.
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
    """Factors of odds, each held within :data:`MOST_ODDS` and its inverse."""
    return [min(max(factor, 1 / MOST_ODDS), MOST_ODDS) for factor in factors]
