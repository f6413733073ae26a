"""The exact choice of what gains most for a price.

Steps cost, and pull other steps with them; gains have points, and need steps. Steps that
several gains need are paid once, so gains cannot be weighed one by one: without a budget this
is the selection problem of shared fixed costs (J. M. W. Rhys, "A selection problem of shared
fixed costs and network flows", Management Science 17 (1970)), a closure of most weight
(J.-C. Picard, "Maximal closure of a graph and applications to combinatorial problems",
Management Science 22 (1976)). Alternatives, rivals, whole units and a budget make it an integer
programme, which :mod:`assess.planning.integer_solver` solves.

Aims are taken one after the other: what the first leaves open the second decides. In the end
steps are dropped without which the same gains count, so nothing that costs nothing is done for
nothing, even where steps pull each other in a circle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from assess.planning.integer_solver import IntegerSolver, Row
from assess.planning.problem_reduction import reduced
from assess.planning.selection_problem import (
    RELATIVE_TOLERANCE,
    Problem,
    Selection,
    amount_used,
    price_of,
    refuse_impossible,
    units_bought,
)


class _Aim(NamedTuple):
    """What is to be as much as possible: a weighted sum of points and price."""

    points: float = 0.0
    price: float = 0.0

    def reached(self, found: Selection) -> float:
        return self.points * found.points + self.price * found.price


MOST_POINTS = _Aim(points=1)
LOWEST_PRICE = _Aim(price=-1)


def best(
    problem: Problem, budget: float, without: Sequence[frozenset[str]] = ()
) -> Selection | None:
    """The most points within a budget, proved; among those the lowest price.

    Of several that are equal in both any one is given, without needless steps.

    Args:
        problem: what there is to choose from.
        budget: in the currency of the prices; infinite for no limit. Met to
            :data:`~assess.planning.selection_problem.RELATIVE_TOLERANCE`.
        without: sets of steps that are refused, with all that hold them (cover inequalities; E.
            Balas, "Facets of the knapsack polytope", Mathematical Programming 8 (1975)).

    Returns:
        None when what is demanded costs more than the budget.

    Raises:
        ValueError: the problem names an unknown step or gain, or has a number that cannot be.
        SolverError: the solver gave up, or its answer does not hold.
    """
    choices = Choices(problem)
    for refused in without:
        choices.refuse(refused)
    return choices.best(budget)


class Choices:
    """A problem that is asked again and again, each time with one more set of steps refused.

    Raises:
        ValueError: the problem names an unknown step or gain, or has a number that cannot be.
    """

    def __init__(self, problem: Problem) -> None:
        self._programme = _Programme(problem)

    def best(self, budget: float) -> Selection | None:
        """As :func:`best`, without what was refused.

        Raises:
            ValueError: the budget is no number.
            SolverError: the solver gave up, or its answer does not hold.
        """
        if math.isnan(budget):
            raise ValueError("the budget must be a number")
        return self._programme.choose(MOST_POINTS, LOWEST_PRICE, price_at_most=budget)

    def refuse(self, steps: frozenset[str]) -> None:
        """Refuse a set of steps, and every set that holds it, from now on.

        Raises:
            ValueError: there is no such step.
        """
        refuse_impossible(self._programme.whole, (steps,))
        self._programme.refuse(steps)


def cheapest(problem: Problem) -> Selection | None:
    """The lowest price of what is demanded; at that price the most points, no needless steps.

    When nothing is demanded that is price zero, and holds only what can be gained for nothing.

    Returns:
        None when what is demanded is impossible.

    Raises:
        ValueError, SolverError: as :func:`best`.
    """
    return _Programme(problem).choose(LOWEST_PRICE, MOST_POINTS)


def fullest(problem: Problem) -> Selection | None:
    """The most points at any price; among those the lowest price, without needless steps.

    Returns:
        None when what is demanded is impossible.

    Raises:
        ValueError, SolverError: as :func:`best`.
    """
    return best(problem, math.inf)


def efficient_frontier(problem: Problem, apart: float = 0.0) -> tuple[Selection, ...]:
    """The corners of the upper hull of points over price, cheapest first.

    From one point to the next price and points rise, and each point gained costs more than on the
    point before. They are found by asking between two neighbours for what nets more than both at
    the slope between them (Y. P. Aneja and K. P. K. Nair, "Bicriteria transportation problem",
    Management Science 25 (1979)).

    Args:
        problem: what there is to choose from.
        apart: between two of them whose prices differ by no more, none is looked for.

    Returns:
        From ``cheapest(problem)`` to ``fullest(problem)``; a single point when both cost the same,
        and none when what is demanded is impossible.

    Raises:
        ValueError, SolverError: as :func:`best`.
    """
    programme = _Programme(problem)
    lowest = programme.choose(LOWEST_PRICE, MOST_POINTS)
    highest = programme.choose(MOST_POINTS, LOWEST_PRICE)
    if lowest is None or highest is None:
        return ()
    if not programme.is_above(lowest, highest):
        return (lowest,)
    points, waiting = [lowest], [highest]
    while waiting:
        lower, upper = points[-1], waiting[-1]
        near = upper.price - lower.price <= apart
        between = None if near else programme.between(lower, upper)
        if between is None:
            points.append(waiting.pop())
        else:
            waiting.append(between)
    return tuple(points)


class _Programme:
    """The integer programme of a problem, built once and asked for one aim after another.

    Its columns are the steps and gains, one when chosen or counted, and the whole units bought.
    The first two rows are the points and the price, in parts of the largest gain and price.
    """

    def __init__(self, problem: Problem) -> None:
        refuse_impossible(problem, ())
        self.whole = problem
        self.reduced = reduced(problem)
        self.problem = problem = self.reduced.problem
        self.steps = {step: at for at, step in enumerate(sorted(problem.prices))}
        self.gains = {gain: at for at, gain in enumerate(sorted(problem.gains), len(self.steps))}
        self.first_whole = len(self.steps) + len(self.gains)
        self.points = {at: problem.gains[gain].points for gain, at in self.gains.items()}
        self.price = {at: problem.prices[step] for step, at in self.steps.items()}
        self.price |= {at: whole.price for at, whole in enumerate(problem.wholes, self.first_whole)}
        self.largest_gain = max(self.points.values(), default=0.0) or 1.0
        self.largest_price = max(self.price.values(), default=0.0) or 1.0
        units = [float(units_bought(amount_used(w, self.steps.keys()))) for w in problem.wholes]
        forced = {self.steps[step] for step in self.reduced.forced}
        self.least = [float(at in forced) for at in range(self.first_whole + len(units))]
        self.most = [1.0] * self.first_whole + units
        self.solver = IntegerSolver([*self._sums(), *self._rules()], self.least, self.most)

    def choose(self, *aims: _Aim, price_at_most: float = math.inf) -> Selection | None:
        """What reaches the first aim best, of that the second; None when nothing may be chosen."""
        found = None
        points_at_least = -math.inf
        for aim in aims:
            found = self._nearest(aim, points_at_least, price_at_most, found)
            if found is None:
                return None
            points_at_least = found.points if aim.points else points_at_least
            price_at_most = found.price if aim.price else price_at_most
        return None if found is None else self._without_needless(found)

    def refuse(self, steps: frozenset[str]) -> None:
        """Refuse a set of steps, and every set that holds it."""
        columns = sorted({self.steps[self.reduced.stands_for[step]] for step in steps})
        self.solver.add(Row(-math.inf, dict.fromkeys(columns, 1.0), len(columns) - 1.0))

    def is_above(self, lower: Selection, upper: Selection) -> bool:
        """Whether one selection has both more points and a higher price than another."""
        costlier = upper.price - lower.price > RELATIVE_TOLERANCE * self.largest_price
        return costlier and upper.points - lower.points > RELATIVE_TOLERANCE * self.largest_gain

    def between(self, lower: Selection, upper: Selection) -> Selection | None:
        """A corner of the upper hull between two selections on it, if there is one."""
        slope = (upper.points - lower.points) / (upper.price - lower.price)
        aim = _Aim(1, -slope)
        found = self._nearest(aim, -math.inf, math.inf, lower)
        if found is None or not (self.is_above(lower, found) and self.is_above(found, upper)):
            return None
        if aim.reached(found) - aim.reached(lower) <= RELATIVE_TOLERANCE * self.largest_gain:
            return None
        return self._without_needless(found)

    def _sums(self) -> Iterator[Row]:
        parts = {at: points / self.largest_gain for at, points in self.points.items()}
        yield Row(-math.inf, parts, math.inf)
        parts = {at: price / self.largest_price for at, price in self.price.items()}
        yield Row(-math.inf, parts, math.inf)

    def _rules(self) -> Iterator[Row]:
        for step, sets in self.problem.pulls.items():
            yield from (self._needs(self.steps[step], any_of) for any_of in sets)
        for name, gain in self.problem.gains.items():
            yield from (self._needs(self.gains[name], any_of) for any_of in gain.needs)
        for group in self.problem.rivals:
            yield Row(-math.inf, {self.gains[gain]: 1.0 for gain in group}, 1)
        for group in self.problem.demanded:
            yield Row(1, {self.gains[gain]: 1.0 for gain in group}, math.inf)
        for at, whole in enumerate(self.problem.wholes, self.first_whole):
            used = {self.steps[step]: -amount for step, amount in whole.amounts.items()}
            yield Row(-RELATIVE_TOLERANCE, {at: 1.0, **used}, math.inf)
            # Implied by whole units, and what brings the relaxation close to them.
            for step, amount in whole.amounts.items():
                yield Row(0, {at: 1.0, self.steps[step]: -float(units_bought(amount))}, math.inf)

        for limit in self.problem.limits:
            # In parts of the most, because the solver's tolerances do not grow with the numbers.
            scale = limit.most or 1.0
            parts = {self.steps[step]: amount / scale for step, amount in limit.amounts.items()}
            yield Row(-math.inf, parts, limit.most / scale + RELATIVE_TOLERANCE)

    def _needs(self, column: int, any_of: frozenset[str]) -> Row:
        weights = {self.steps[step]: 1.0 for step in any_of}
        weights[column] = weights.get(column, 0.0) - 1.0
        return Row(0, weights, math.inf)

    def _nearest(
        self, aim: _Aim, points_at_least: float, price_at_most: float, known: Selection | None
    ) -> Selection | None:
        # Rows and aims are passed in parts of the largest weight, because the solver's
        # tolerances do not grow with the numbers.
        least = points_at_least / self.largest_gain - RELATIVE_TOLERANCE
        most = price_at_most / self.largest_price + RELATIVE_TOLERANCE
        self.solver.bound_row(0, least, math.inf)
        self.solver.bound_row(1, -math.inf, most)
        weights = {at: aim.points * points for at, points in self.points.items()}
        weights |= {at: aim.price * price for at, price in self.price.items()}
        largest = max(map(abs, weights.values()), default=0.0) or 1.0
        reached = -math.inf if known is None else aim.reached(known) / largest
        return self._most({at: weight / largest for at, weight in weights.items()}, reached)

    def _without_needless(self, found: Selection) -> Selection:
        """The same gains for no higher price, with as few of the steps as they allow."""
        self.solver.bound_row(0, -math.inf, math.inf)
        self.solver.bound_row(1, -math.inf, math.inf)
        least, most = self.least.copy(), self.most.copy()
        for gain in found.gains:
            least[self.gains[gain]] = 1
        chosen = {self.reduced.stands_for[step] for step in found.steps}
        for step, at in self.steps.items():
            if self.problem.prices[step] > 0 and step not in chosen:
                most[at] = 0
        for at, whole in enumerate(self.problem.wholes, self.first_whole):
            most[at] = units_bought(amount_used(whole, chosen))
        self.solver.bound_columns(least, most)
        counts = {at: -float(len(self.reduced.members[s])) for s, at in self.steps.items()}
        fewer = self._most(counts, -len(found.steps))
        self.solver.bound_columns(self.least, self.most)
        return fewer or found

    def _most(self, weights: Mapping[int, float], reached: float) -> Selection | None:
        """What makes a weighted sum of columns greatest; None when nothing may be chosen.

        Its own sums carry rounding errors, so points and price are added up again.
        """
        whole = self.solver.greatest(weights, reached)
        if whole is None:
            return None
        steps = self.reduced.all_of(step for step, at in self.steps.items() if whole[at])
        gains = frozenset(gain for gain, at in self.gains.items() if whole[at])
        points = math.fsum(self.problem.gains[gain].points for gain in gains)
        return Selection(steps, gains, points, price_of(self.whole, steps))
