"""What a sum of money buys: the repairs that gain the most grade points within a price.

Repairs share prerequisites, openings, routine and materials sold whole, so they cannot be
weighed one by one. :mod:`assess.planning.repair_options` says what there is to choose from, and
:mod:`assess.planning.integer_program` chooses exactly.

The price of a choice is the sum that its cost stays under with the probability that the
workshop profile asks for, as the owner's limit is judged in the verdict. A choice that is too
expensive at its exact price is excluded, together with every choice that contains it, and the
choice is made again. More steps never cost less: where the logarithm of the cost has the standard
deviation sigma, one more step raises the quantile z while (z - sigma) sigma < 1, and so up to
z = 2.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from assess.base.errors import UserError
from assess.grading.judgements import Judgement
from assess.knowledge.model_base import SCOPES, Scope
from assess.planning.cost_estimate import price_at
from assess.planning.integer_program import Choices, cheapest, efficient_frontier, fullest
from assess.planning.plan import Plan
from assess.planning.planner import Planner
from assess.planning.repair_options import HALF_A_CENT, LEAST_POINTS, USABLE, RepairOptions
from assess.planning.selection_problem import Selection


@dataclass(frozen=True)
class Offer:
    """What one sum buys.

    Attributes:
        price: the sum that its cost stays under with the probability asked for.
        model_price: the price that it was chosen at, with the shared factor alone.
        points: grade points of the whole that it gains.
        gained: finding -> the scope that it is put right for.
        repairs: the repairs chosen, without what they need.
        searches: the steps that find the cause of a complaint; its cure is not in the price.
        plan: their plan, with everything they need.
        usable: whether everything found that keeps it out of use is put right, and the causes
            of all complaints are known or looked for.
    """

    price: float
    model_price: float
    points: float
    gained: dict[str, Scope]
    repairs: tuple[str, ...]
    searches: tuple[str, ...]
    plan: Plan
    usable: bool


@dataclass(frozen=True)
class Budget:
    """What sums of money buy, for one assessed object.

    Attributes:
        planner: gives prices and plans; its plans must have been made.
        usable: whether it must be usable afterwards, if any repair can achieve that.
        scopes: how far a finding may be put right: no further than the ethics of evidence allow.
    """

    planner: Planner
    usable: bool
    scopes: tuple[Scope, ...] = SCOPES

    @cached_property
    def repair_options(self) -> RepairOptions:
        """What there is to choose from."""
        return RepairOptions(self.planner, self.usable, self.scopes)

    @property
    def impossible(self) -> tuple[Judgement, ...]:
        """Findings that keep it out of use and are beyond repair."""
        return self.repair_options.impossible

    def best(self, amount: float) -> Offer | None:
        """The most grade points within an amount, or None when what must be done costs more.

        Raises:
            UserError: the amount is negative or not finite.
        """
        if not (math.isfinite(amount) and amount >= 0):
            raise UserError(f"the amount must be 0 or more, not {amount:g}")
        offers = filter(
            None, (self._best(n, amount) for n in range(len(self.repair_options.problems)))
        )
        return max(offers, key=lambda o: (round(o.points, 6), -o.price), default=None)

    def _best(self, number: int, amount: float) -> Offer | None:
        """The best within an amount at one of the two linear prices, checked at the exact one."""
        choices = Choices(self.repair_options.with_own_spread(number, amount))
        while True:
            found = choices.best(amount)
            if found is None:
                return None
            offer = self._offer(found)
            if offer.price <= amount + HALF_A_CENT:
                return offer
            choices.refuse(found.steps)

    @cached_property
    def least(self) -> Offer | None:
        """The cheapest that does what must be done, or the cheapest step where nothing must."""
        found = filter(None, map(cheapest, self.repair_options.problems))
        offers = map(self._offer, found)
        return min(offers, key=lambda o: (round(o.model_price, 2), -o.points), default=None)

    @cached_property
    def frontier(self) -> tuple[Offer, ...]:
        """The best sets from the least that must be done up to everything, costlier and better."""
        return self.ladder(0.0)

    def ladder(self, apart: float) -> tuple[Offer, ...]:
        """Offers of the frontier, its first and its last among them.

        Args:
            apart: between two whose prices differ by no more than this part of the price of
                everything, none is looked for.
        """
        found: dict[frozenset[str], Selection] = {}
        everything = fullest(self.repair_options.problems[-1]) if apart else None
        step = apart * everything.price if everything else 0.0
        for problem in self.repair_options.problems:
            for selection in efficient_frontier(problem, step):
                # Of equal choices the first counts, as it does for the cheapest.
                found.setdefault(selection.steps, selection)
        return _upper_hull(map(self._offer, found.values()))

    def _offer(self, found: Selection) -> Offer:
        options, findings = self.repair_options, self.repair_options.graded.findings
        gained: dict[str, Scope] = {}
        for name in sorted(found.gains - options.searches.keys()):
            criterion, scope = options.option_named[name]
            gained[criterion] = scope
        calls = {
            repair
            for criterion, scope in gained.items()
            for repair in options.graded.judgements[criterion].calls(scope)
        }
        chosen = calls | (found.steps & (options.called_for | options.searches.keys()))
        plan = self.planner.plan_for(chosen)
        price = price_at(plan.cost, self.planner.workshop.sure_enough) if plan.steps else 0.0
        # A symptom that calls for no work of its own disappears with its cause.
        disabling = {f.id for f in self.impossible} | {
            f.id for f in findings if f.stops_use and options.ways(f, USABLE)
        }
        healed = {c for c, scope in gained.items() if scope in USABLE}
        return Offer(
            price=price,
            model_price=self._model_price(plan),
            points=found.points,
            gained=gained,
            repairs=tuple(s.step for s in plan.steps if s.step in plan.called),
            searches=tuple(s.step for s in plan.steps if s.step in options.searches),
            plan=plan,
            usable=disabling <= healed and options.searches.keys() <= found.steps,
        )

    def _model_price(self, plan: Plan) -> float:
        cost = plan.cost
        hours = cost.hours.mean * cost.rate_per_hour * self.repair_options.sure_factor()
        return (hours + cost.materials + cost.transport) * (1 + cost.contingency)


def _upper_hull(offers: Iterable[Offer]) -> tuple[Offer, ...]:
    """The offers of which none costs more for each point than a mixture of its neighbours."""
    hull: list[Offer] = []
    for offer in sorted(offers, key=lambda o: (o.model_price, -o.points)):
        if hull and offer.points <= hull[-1].points + LEAST_POINTS / 2:
            continue
        if hull and offer.model_price <= hull[-1].model_price + HALF_A_CENT:
            hull.pop()
        while len(hull) > 1 and _slope(hull[-2], hull[-1]) <= _slope(hull[-1], offer):
            hull.pop()
        hull.append(offer)
    return tuple(hull)


def _slope(lower: Offer, upper: Offer) -> float:
    return (upper.points - lower.points) / (upper.model_price - lower.model_price)
