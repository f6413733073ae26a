"""What there is to choose from within a price, and what was chosen.

Steps cost, and pull other steps with them; gains have points, and need steps. Steps that several
gains need are paid once, and materials sold in whole units are shared.
:mod:`assess.planning.integer_program` makes the choice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

RELATIVE_TOLERANCE = 1e-6
"""Sums that differ by less than this part of the largest price, or of the largest gain, are taken
to be equal; and so are amounts of a material that differ by this part of a whole unit."""


@dataclass(frozen=True)
class Gain:
    """Something that is gained when all of its needs are met.

    Attributes:
        points: what it is worth, more than zero.
        needs: of each set at least one step must be chosen.
    """

    points: float
    needs: tuple[frozenset[str], ...]


@dataclass(frozen=True)
class Whole:
    """A material that is bought in whole units only.

    Attributes:
        price: of one unit.
        amounts: units, or parts of one, that each step uses.
    """

    price: float
    amounts: Mapping[str, float]


@dataclass(frozen=True)
class Limit:
    """A bound on a sum over the steps that are chosen.

    Attributes:
        amounts: what each step adds.
        most: the sum may be no more.
    """

    amounts: Mapping[str, float]
    most: float


@dataclass(frozen=True)
class Problem:
    """What there is to choose from.

    Prices are all in one currency. Steps may pull each other in circles.

    Attributes:
        prices: of every step, without the materials in ``wholes``.
        pulls: a step that is chosen needs, of each of its sets, at least one step chosen.
        gains: by name.
        rivals: groups of gains of which at most one counts.
        demanded: groups of gains of which at least one must count.
        wholes: materials whose cost the steps share.
        limits: bounds on other sums than the price.
    """

    prices: Mapping[str, float]
    pulls: Mapping[str, tuple[frozenset[str], ...]]
    gains: Mapping[str, Gain]
    rivals: tuple[frozenset[str], ...] = ()
    demanded: tuple[frozenset[str], ...] = ()
    wholes: tuple[Whole, ...] = ()
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True)
class Selection:
    """The steps that were chosen, the gains that count with them, and their sums."""

    steps: frozenset[str]
    gains: frozenset[str]
    points: float
    price: float


def units_bought(amount: float) -> int:
    """The whole units that an amount takes."""
    return math.ceil(amount - RELATIVE_TOLERANCE)


def amount_used(whole: Whole, steps: AbstractSet[str]) -> float:
    """What some steps use of a material, in units."""
    return math.fsum(amount for step, amount in whole.amounts.items() if step in steps)


def price_of(problem: Problem, steps: AbstractSet[str]) -> float:
    """What some steps cost, with the whole units that they share."""
    wholes = (whole.price * units_bought(amount_used(whole, steps)) for whole in problem.wholes)
    return math.fsum([*(problem.prices[step] for step in steps), *wholes])


def refuse_impossible(problem: Problem, without: Sequence[frozenset[str]]) -> None:
    """Refuse a problem with names or numbers that cannot be.

    Args:
        problem: what there is to choose from.
        without: sets of steps that are refused.

    Raises:
        ValueError: it names an unknown step or gain, or has a number that cannot be.
    """
    for what, steps in _named_steps(problem, without):
        _refuse_unknown(what, "step", steps - problem.prices.keys())
    for what, groups in (("rivals", problem.rivals), ("what is demanded", problem.demanded)):
        named = frozenset[str]().union(*groups)
        _refuse_unknown(what, "gain", named - problem.gains.keys())
    for what, number in _numbers(problem):
        if not 0 <= number < math.inf:
            raise ValueError(f"{what} must be zero or more and finite, not {number:g}")
    for name, gain in problem.gains.items():
        if not 0 < gain.points < math.inf:
            raise ValueError(f"the points of {name} must be more than zero, not {gain.points:g}")


def _named_steps(
    problem: Problem, without: Sequence[frozenset[str]]
) -> Iterator[tuple[str, frozenset[str]]]:
    for step, sets in problem.pulls.items():
        yield "pulls", frozenset({step})
        yield f"what {step} pulls", frozenset[str]().union(*sets)
    for name, gain in problem.gains.items():
        yield f"what {name} needs", frozenset[str]().union(*gain.needs)
    for whole in problem.wholes:
        yield "a material in whole units", frozenset(whole.amounts)
    for limit in problem.limits:
        yield "a limit", frozenset(limit.amounts)
    for refused in without:
        yield "a refused set", refused


def _refuse_unknown(what: str, kind: str, unknown: frozenset[str]) -> None:
    if unknown:
        raise ValueError(f"{what}: no such {kind}: {', '.join(sorted(unknown))}")


def _numbers(problem: Problem) -> Iterator[tuple[str, float]]:
    for step, price in problem.prices.items():
        yield f"the price of {step}", price
    for whole in problem.wholes:
        yield "the price of a whole unit", whole.price
        for step, amount in whole.amounts.items():
            yield f"the amount that {step} uses", amount
    for limit in problem.limits:
        yield "a limit", limit.most
        for step, amount in limit.amounts.items():
            yield f"what {step} adds to a limit", amount
