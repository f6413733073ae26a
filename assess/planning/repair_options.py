"""The repairs that a sum of money may buy, as a choice among steps with prices.

A finding is put right in full, or to working order, or only made safe, never two of these; a more
thorough repair replaces a lesser one that something else needs. A danger to people, and whatever
goes on decaying, is always dealt with. What must be proved before a step is mended before it too:
a hold point that proves a requirement brings the work on everything found that breaks the
requirement.

Every hour is priced as if only the factor shared by the whole job made the spread, which accounts
for nearly all of it. The first hours of a job are spent in full, and of those beyond only a share.
The lesser of two linear prices says so: every hour in full, or a share of every hour and a sum for
the first ones. Neither is ever too low, and one of them is right: the first for jobs that are no
longer than the first hours, which it is kept to. So there are two problems, and the better choice
of the two is taken (:mod:`assess.planning.budget`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from statistics import NormalDist

from assess.grading.grades import DEFICITS, Graded
from assess.grading.judgements import Judgement
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.precedence_graph import made_needless
from assess.knowledge.steps import subsystem_of
from assess.planning.closure import fits, pulled_by, pulled_by_search, routine
from assess.planning.cost_estimate import pert_mean, pert_variance
from assess.planning.planner import Planner
from assess.planning.selection_problem import Gain, Limit, Problem, Whole
from assess.planning.workload import MaterialNeed, step_hours, step_materials

TRANSPORT = "~transport"
FIRST_HOURS = "~first hours"
"""Stands for what the first hours of a long job cost beyond the share of later ones."""
LEAST_POINTS = 1e-3
"""Points of a repair that restores use without improving the class, so that it can be chosen."""
USABLE: tuple[Scope, ...] = ("working", "full")
HALF_A_CENT = 0.005
"""Sums that differ by less are the same money."""


@dataclass(frozen=True)
class RepairOptions:
    """What there is to choose from, for one assessed object.

    Attributes:
        planner: gives hours and materials of steps.
        usable: whether it must be usable afterwards, if any repair can achieve that.
        scopes: how far a finding may be put right: no further than the ethics of evidence allow.
    """

    planner: Planner
    usable: bool
    scopes: tuple[Scope, ...] = SCOPES

    @property
    def graded(self) -> Graded:
        """What was found."""
        return self.planner.graded

    @cached_property
    def impossible(self) -> tuple[Judgement, ...]:
        """Findings that keep it out of use and are beyond repair."""
        return tuple(f for f in self.graded.findings if f.stops_use and f.outcome.beyond_repair)

    @cached_property
    def gains(self) -> dict[tuple[str, Scope], Gain]:
        """For every finding and scope that puts it right, what that gains and needs."""
        points = _points_of(self.graded, self.planner)
        found = {}
        for finding in self.graded.findings:
            if finding.outcome.beyond_repair:
                continue
            for scope in self.scopes:
                gain = self._gain_of(finding, scope, points[finding.id])
                if gain:
                    found[finding.id, scope] = gain
        return found

    def _gain_of(self, finding: Judgement, scope: Scope, whole: float) -> Gain | None:
        repairs = [r for r in finding.calls(scope) if self._fits(r)]
        if not repairs:
            return None
        left = max(self.planner.knowledge.repairs[r].restores_to for r in repairs)
        points = whole * (DEFICITS[finding.outcome.condition] - DEFICITS[left])
        heals = finding.stops_use or finding.outcome.danger or finding.outcome.decay
        if points <= 0 and not heals:
            return None
        needs = tuple(self._or_better(repair) for repair in repairs)
        return Gain(max(points, LEAST_POINTS), needs)

    def _fits(self, step: str) -> bool:
        return fits(step, self.planner.knowledge, self.planner.configuration)

    def _or_better(self, step: str) -> frozenset[str]:
        return frozenset({step, *self._better.get(step, ())})

    @cached_property
    def _better(self) -> dict[str, set[str]]:
        """For each repair what makes it needless: repairs called for that are better, or bring one.

        A better repair that nothing calls for is not offered, since no plan would contain it.
        """
        knowledge = self.planner.knowledge
        better: dict[str, set[str]] = {}
        for root in self.called_for:
            for step in self._brought(root):
                if step in knowledge.repairs:
                    for lesser in made_needless(step, knowledge):
                        better.setdefault(lesser, set()).add(root)
        return better

    def _brought(self, root: str) -> set[str]:
        """Everything that a repair brings into a plan with it, itself included."""
        found, todo = set[str](), [root]
        while todo:
            step = todo.pop()
            if step not in found and self._fits(step):
                found.add(step)
                pulled = pulled_by(step, self.planner.knowledge, self.planner.configuration)
                todo += [other for other, _ in pulled]
        return found

    @cached_property
    def problems(self) -> tuple[Problem, ...]:
        """The choice as steps with prices, what they pull with them, and gains.

        Once with every hour in full, and once with the share of a long job's hours.
        """
        workshop = self.planner.workshop
        if workshop.overlap == 1:
            return (self._problem(1.0, 0.0),)
        saved = (1 - workshop.overlap) * workshop.overlap_from
        shared = self._problem(workshop.overlap, saved)
        if not saved:
            return (shared,)
        hours = {s: pert_mean(step_hours(s, self.planner.context)) for s in self._steps(shared)}
        short = replace(
            shared,
            prices=self._prices(shared.pulls, 1.0, 0.0),
            limits=(Limit(hours, workshop.overlap_from),),
        )
        return short, shared

    def _steps(self, problem: Problem) -> list[str]:
        """The steps that are worked, without what stands for other costs."""
        return [step for step in problem.prices if step not in (TRANSPORT, FIRST_HOURS)]

    def _problem(self, share: float, first_hours: float) -> Problem:
        options = (*self.gains.values(), *self.searches.values())
        needed = {step for gain in options for need in gain.needs for step in need}
        pulls: dict[str, tuple[frozenset[str], ...]] = {TRANSPORT: (), FIRST_HOURS: ()}
        todo = sorted(needed)
        while todo:
            step = todo.pop()
            if step not in pulls:
                pulls[step] = tuple(self._pulls(step))
                todo += sorted({other for group in pulls[step] for other in group} - pulls.keys())
        findings = [f for f in self.graded.findings if self.ways(f)]
        return Problem(
            prices=self._prices(pulls, share, first_hours),
            pulls=pulls,
            gains={_name(*o): gain for o, gain in self.gains.items()} | self.searches,
            rivals=tuple(self.ways(f) for f in findings),
            demanded=tuple(self._demanded(findings)),
            wholes=tuple(self._wholes(pulls)),
        )

    @cached_property
    def searches(self) -> dict[str, Gain]:
        """For every search that may be chosen, by its step, what it gains and needs.

        It gains no points by itself, but belongs to whatever makes the object usable.
        """
        if not set(USABLE) & set(self.scopes):
            return {}
        steps = (search.step for search in self.planner.context.searches)
        return {step: Gain(LEAST_POINTS, (frozenset({step}),)) for step in steps}

    @cached_property
    def option_named(self) -> dict[str, tuple[str, Scope]]:
        """The finding and the scope of each gain, by the name of the gain."""
        return {_name(*option): option for option in self.gains}

    def ways(self, finding: Judgement, scopes: Iterable[Scope] = SCOPES) -> frozenset[str]:
        """The names of the gains of a finding, in some scopes."""
        return frozenset(_name(finding.id, s) for s in scopes if (finding.id, s) in self.gains)

    def _demanded(self, findings: Iterable[Judgement]) -> Iterator[frozenset[str]]:
        """For each finding that must be put right, the options of which one is taken.

        A usable object is one whose complaints are explained.
        """
        if self.usable and not self.impossible:
            yield from (frozenset({step}) for step in self.searches)
        for finding in findings:
            if finding.outcome.danger or finding.outcome.decay:
                yield self.ways(finding)
            working = self.ways(finding, USABLE)
            must_work = self.usable and not self.impossible
            if must_work and finding.stops_use and working:
                yield working

    def _pulls(self, step: str) -> Iterator[frozenset[str]]:
        knowledge, configuration = self.planner.knowledge, self.planner.configuration
        search, away = self.planner.search_of(step), self.planner.goes_to_workshop(step)
        pulled = pulled_by(step, knowledge, configuration)
        for other, _ in pulled_by_search(search, configuration) if search else pulled:
            if self._fits(other):
                yield self._or_better(other)
        proofs = [h.id for h in knowledge.hold_points.values() if step in h.proves]
        always = routine("always", knowledge, configuration)
        workshop = routine("workshop", knowledge, configuration) if away else []
        for other in (*proofs, *always, *workshop):
            if self._fits(other) and other != step:
                yield self._or_better(other)
        for repair in self._mended_before(step):
            yield self._or_better(repair)
        if away:
            yield frozenset({TRANSPORT})
        yield frozenset({FIRST_HOURS})

    def _mended_before(self, step: str) -> Iterator[str]:
        """Repairs without which a hold point that proves a requirement cannot pass.

        A hold point of every job, such as the acceptance, asks for no more than the plan holds.
        """
        hold = self.planner.knowledge.hold_points.get(step)
        if hold is None or hold.when != "called":
            return
        for requirement in self.planner.knowledge.requirements.values():
            if step in requirement.proved_by:
                for finding in self.graded.findings:
                    if requirement.id in finding.outcome.breaks:
                        yield from (r for r in finding.calls("working") if self._fits(r))

    def _prices(self, steps: Iterable[str], share: float, first_hours: float) -> dict[str, float]:
        """Prices of steps.

        Args:
            steps: those to choose from.
            share: share of each summed hour that is paid.
            first_hours: hours that are paid beyond that share, once a job.
        """
        planner, workshop = self.planner, self.planner.workshop
        factor = 1 + workshop.contingency
        hour = workshop.pace * workshop.rate_per_hour * factor * self.sure_factor()
        prices = {TRANSPORT: planner.context.transport * factor, FIRST_HOURS: first_hours * hour}
        for step in steps:
            if step in prices:
                continue
            hours = step_hours(step, planner.context)
            materials = sum(
                need.price
                for need in self._materials(step)
                if not planner.knowledge.materials[need.material].whole
            )
            prices[step] = pert_mean(hours) * share * hour + materials * factor
        return prices

    def _materials(self, step: str) -> list[MaterialNeed]:
        return step_materials(step, self.planner.context)

    def _wholes(self, steps: Iterable[str]) -> Iterator[Whole]:
        materials, workshop = self.planner.knowledge.materials, self.planner.workshop
        amounts: dict[tuple[str, str], dict[str, float]] = {}
        first: dict[tuple[str, str], str] = {}
        for step in steps:
            for need in self._materials(step):
                if materials[need.material].whole:
                    what = (need.title.casefold(), need.unit)
                    used = amounts.setdefault(what, {})
                    used[step] = used.get(step, 0.0) + need.quantity
                    first[what] = min(first.get(what, need.material), need.material)
        for what, used in sorted(amounts.items()):
            price = workshop.prices.get(first[what], materials[first[what]].price)
            if materials[first[what]].once:
                # Parts of the one unit that serves all these steps.
                used = dict.fromkeys(used, 1 / len(used))
            yield Whole(price * (1 + workshop.contingency), used)

    def with_own_spread(self, number: int, amount: float) -> Problem:
        """A problem with each step priced for its own spread as well, never above the exact price.

        At the quantile asked for, hours of mean m and own variance v come to m g(v / m²), where g
        grows by ever less. Where m is at most M, and v at most r m, that is at least
        m g(0) + k v, k being the slope of the chord of g from 0 to r / M, divided by M: a fixed
        price for each hour of mean, and one for each squared hour of variance. Where g bends
        otherwise, at probabilities near one, the least of several chords is taken.
        """
        problem, workshop = self.problems[number], self.planner.workshop
        share = (1.0 if number < len(self.problems) - 1 else workshop.overlap) * workshop.pace
        hours = {s: step_hours(s, self.planner.context) for s in self._steps(problem)}
        own = {s: share**2 * pert_variance(h) for s, h in hours.items()}
        means = {s: share * pert_mean(h) for s, h in hours.items()}
        ratio = max((own[s] / means[s] for s in hours if means[s] > 0), default=0.0)
        hour = workshop.rate_per_hour * (1 + workshop.contingency)
        most_h = (amount + HALF_A_CENT) / (hour * self.sure_factor()) if hour > 0 else 0.0
        if ratio <= 0 or most_h <= 0:
            return problem
        spreads = [ratio / most_h / 2**n for n in range(8)]
        slope = min((self.sure_factor(spread) - self.sure_factor()) / spread for spread in spreads)
        more = max(0.0, slope / most_h) * hour
        return replace(
            problem, prices={s: p + more * own.get(s, 0.0) for s, p in problem.prices.items()}
        )

    def sure_factor(self, own: float = 0.0) -> float:
        """By how much hours are priced above their mean, for the probability asked for.

        Args:
            own: variance of the hours, in parts of the square of their mean, besides the factor
                shared by the whole job.
        """
        workshop = self.planner.workshop
        variance = workshop.whole_job_spread**2 + math.log1p(own)
        quantile = NormalDist().inv_cdf(workshop.sure_quantile)
        return math.exp(math.sqrt(variance) * quantile - variance / 2)

    @cached_property
    def called_for(self) -> frozenset[str]:
        """Every repair that some finding calls for."""
        return frozenset(
            repair
            for finding in self.graded.findings
            for scope in SCOPES
            for repair in finding.calls(scope)
        )


def _points_of(graded: Graded, planner: Planner) -> dict[str, float]:
    """For each finding the grade points of the whole that its weight accounts for."""
    weights: Mapping[str, float] = {
        s: info.weight for s, info in planner.knowledge.subsystems.items()
    }
    parts = {s: g.grade.weight for s, g in graded.subsystems.items() if g.grade.weight > 0}
    total = sum(weights.get(s, 0.0) for s in parts)
    points = {}
    for finding in graded.findings:
        subsystem = subsystem_of(finding.id)
        share = weights[subsystem] / total * finding.criterion.weight / parts[subsystem]
        points[finding.id] = 100 * share
    return points


def _name(criterion: str, scope: Scope) -> str:
    return f"{criterion} {scope}"
