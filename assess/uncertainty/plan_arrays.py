"""Everything that hours and money of a plan depend on, as arrays.

Planning one object takes milliseconds; working out what thousands of scenarios would cost must
not take minutes. What a step brings into a plan depends on that step alone
(:func:`assess.planning.closure.pulled_by`), so everything a repair needs is worked out once, as
a row of bits over all steps, and the steps of a plan are the union of the rows of the repairs
called for. The order of the steps does not change the cost, so it is left out.

This is an approximation in one respect: where a thorough repair replaces a lesser one that nothing
calls for, but that another step brings in, steps that only the lesser one needed stay. Tests
compare the result with exact plans.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from assess.grading.judgements import Judgement
from assess.job.configuration import Configuration
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.precedence_graph import made_needless
from assess.planning.closure import (
    Links,
    is_workshop_work,
    links_of,
    pulled_by_search,
    routine,
)
from assess.planning.cost_estimate import pert_mean, pert_variance
from assess.planning.workload import WorkContext, multiplicity, step_hours
from assess.uncertainty.outcome_marks import OutcomeMarks, declared_marks, outcome_marks
from assess.uncertainty.packed_facts import Bools, Places, Unions

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class WholeMaterial:
    """A material sold in whole units.

    Attributes:
        price: of one.
        fixed, each: steps that take it, and how much: once, and per count.
        once: a single unit serves all steps.
    """

    price: float
    fixed: tuple[tuple[int, np.float64], ...]
    each: tuple[tuple[int, np.float64], ...]
    once: bool


@dataclass(frozen=True)
class PlanArrays:
    """Hours and money of everything that may be planned for one object.

    Attributes:
        steps: every step that fits the object.
        roots: repairs that some outcome calls for, and that fit.
        reach: unites what calls for each root to what brings in each step.
        mean_h, variance_h2: of each step, done once; of shape (steps,).
        price_fixed, price_each: materials of each step with waste, once and per count; of
            shape (steps,).
        whole: materials sold in whole units.
        counted: step -> counted criteria that say how many times it is done.
        lesser: unites what has each thorough step to what makes each step needless.
        always, workshop: steps of every plan, and of every plan with workshop work.
        away: steps that cannot be done at the customer's home.
        root_steps: the step index of each root; of shape (roots,).
        searched: roots that are searches, which are done in any case but to stabilise.
        transport: what it costs to bring it to the workshop and back, or only back from there.
        rows: for each declared step, the steps that it brings in, itself included; of shape
            (declared steps, declared steps).
        marks: what each outcome calls for, forbids and shows.
        counts: counted criterion -> for each outcome, the number that it stands for.
    """

    steps: tuple[str, ...]
    roots: tuple[str, ...]
    reach: Unions
    mean_h: Floats
    variance_h2: Floats
    price_fixed: Floats
    price_each: Floats
    whole: tuple[WholeMaterial, ...]
    counted: dict[int, tuple[str, ...]]
    lesser: Unions
    always: Places
    workshop: Places
    away: Places
    root_steps: Places
    searched: tuple[int, ...]
    transport: float
    rows: Bools
    marks: OutcomeMarks
    counts: dict[str, tuple[float, ...]]

    def sets_the_same(self, judgement: Judgement, place: int) -> bool:
        """Whether hours and money would be the same with another outcome of what was judged."""
        if any(judgement.id in criteria for criteria in self.counted.values()):
            return False
        row, own = self.marks.row_of[judgement.id], judgement.position
        was, would_be = (
            self.marks.sets.get((row, at, at in judgement.causing)) for at in (own, place)
        )
        return was == would_be


@dataclass(frozen=True)
class _Basis:
    """What plan arrays are made from besides the knowledge; equal when they would be equal."""

    tags: frozenset[str]
    facts: tuple[tuple[str, float], ...]
    profile: str
    amounts: tuple[tuple[tuple[str, str], float], ...]
    opened: frozenset[str]
    context: WorkContext = field(compare=False)


def plan_arrays(context: WorkContext) -> PlanArrays:
    """The plan arrays of an object, kept for the next call with the same configuration.

    Args:
        context: without judgements: how often each step is done is left open.
    """
    configuration = context.configuration
    basis = _Basis(
        configuration.tags,
        tuple(sorted(configuration.facts.items())),
        context.workshop.model_dump_json(),
        tuple(sorted((use, quantity.amount) for use, quantity in context.quantities.items())),
        configuration.opened,
        context,
    )
    return _with_searches(_plan_arrays(context.knowledge, basis), context)


@kept
def _plan_arrays(knowledge: Knowledge, basis: _Basis) -> PlanArrays:
    context, configuration = basis.context, basis.context.configuration
    links = links_of(knowledge, configuration)
    steps: tuple[str, ...] = tuple(filter(links.fits, knowledge.steps))
    index = {step: i for i, step in enumerate(steps)}
    declared = declared_marks(knowledge)
    called = set(declared.called)
    roots = tuple(s for s in steps if s in called)
    rows = _reach(steps, knowledge, links)
    hours = [step_hours(s, context) for s in steps]
    prices, whole = _materials(index, basis)
    root_index = {root: i for i, root in enumerate(roots)}
    root_steps = np.array([index[root] for root in roots], np.intp)
    return PlanArrays(
        steps=steps,
        roots=roots,
        reach=Unions.between(len(steps), *np.nonzero(rows[root_steps])),
        mean_h=np.array([pert_mean(h) for h in hours], np.float64),
        variance_h2=np.array([pert_variance(h) for h in hours], np.float64),
        price_fixed=prices[0],
        price_each=prices[1],
        whole=whole,
        counted={index[r.id]: r.per for r in knowledge.repairs.values() if r.per and r.id in index},
        lesser=Unions.of(len(steps), _lesser(index, knowledge)),
        always=_routine_steps("always", rows, index, context),
        workshop=_routine_steps("workshop", rows, index, context),
        away=np.array(
            [i for s, i in index.items() if is_workshop_work(s, knowledge, configuration)], np.intp
        ),
        root_steps=root_steps,
        searched=(),
        transport=context.transport,
        rows=rows,
        marks=outcome_marks(declared, root_index),
        counts={
            c.id: _stands_for(c, configuration) for c in knowledge.criteria.values() if c.measured
        },
    )


def _with_searches(plan: PlanArrays, context: WorkContext) -> PlanArrays:
    """The plan arrays with the searches of one job added as the last steps and roots."""
    index = {step: i for i, step in enumerate(plan.steps)}
    for search in context.searches:
        place = len(plan.steps)
        pulled = pulled_by_search(search, context.configuration)
        rows = plan.rows[[index[step] for step, _ in pulled if step in index]]
        hours = step_hours(search.step, context)
        away = search.workshop or context.configuration.in_workshop
        plan = replace(
            plan,
            steps=(*plan.steps, search.step),
            roots=(*plan.roots, search.step),
            reach=plan.reach.with_pairs(
                place + 1,
                [(len(plan.roots), s) for s in (*np.flatnonzero(rows.any(axis=0)), place)],
            ),
            lesser=plan.lesser.with_pairs(place + 1),
            mean_h=np.append(plan.mean_h, pert_mean(hours)),
            variance_h2=np.append(plan.variance_h2, pert_variance(hours)),
            # A search takes no materials.
            price_fixed=np.append(plan.price_fixed, 0.0),
            price_each=np.append(plan.price_each, 0.0),
            away=np.append(plan.away, place) if away else plan.away,
            root_steps=np.append(plan.root_steps, place),
            searched=(*plan.searched, len(plan.roots)),
        )
    return plan


def _reach(steps: tuple[str, ...], knowledge: Knowledge, links: Links) -> Bools:
    """For every step, the steps that it brings in, itself included; of shape (steps, steps)."""
    index = {step: i for i, step in enumerate(steps)}
    next_ones = {step: {t for t, _ in links.pulled(step) if t in index} for step in steps}
    for hold in knowledge.hold_points.values():
        if hold.id in index:
            for step in hold.proves:
                if step in index:
                    next_ones[step].add(hold.id)
    sets = {step: 1 << i for step, i in index.items()}
    changed = True
    while changed:
        changed = False
        for step in reversed(steps):
            reached = sets[step]
            for other in next_ones[step]:
                reached |= sets[other]
            if reached != sets[step]:
                sets[step], changed = reached, True
    width = (len(steps) + 7) // 8
    packed = b"".join(sets[step].to_bytes(width, "little") for step in steps)
    bits = np.frombuffer(packed, np.uint8).reshape(len(steps), width)
    return np.unpackbits(bits, axis=1, count=len(steps), bitorder="little").astype(np.bool_)


def _lesser(index: Mapping[str, int], knowledge: Knowledge) -> Iterable[tuple[int, int]]:
    for repair in knowledge.repairs:
        if repair in index:
            for lesser in sorted(made_needless(repair, knowledge)):
                if lesser in index:
                    yield index[repair], index[lesser]


def _routine_steps(
    occasion: Literal["always", "workshop"],
    rows: Bools,
    index: Mapping[str, int],
    context: WorkContext,
) -> Places:
    named = routine(occasion, context.knowledge, context.configuration)
    own = [index[s] for s in named if s in index]
    return np.flatnonzero(rows[own].any(axis=0))


def _materials(
    index: Mapping[str, int], basis: _Basis
) -> tuple[tuple[Floats, Floats], tuple[WholeMaterial, ...]]:
    """Prices of materials by step, and separately what is sold in whole units."""
    knowledge, amounts = basis.context.knowledge, dict(basis.amounts)
    fixed, each = np.zeros(len(index), np.float64), np.zeros(len(index), np.float64)
    whole: dict[tuple[str, str], tuple[float, Floats, Floats, bool]] = {}
    for step, place in index.items():
        repair = knowledge.repairs.get(step)
        for use in repair.materials if repair else ():
            material = knowledge.materials[use.id]
            price = basis.context.workshop.prices.get(use.id, material.price)
            once = use.fixed or (step, use.id) in amounts
            count = 1.0 if once or repair is None else multiplicity(repair, basis.context).count
            amount = amounts.get((step, use.id), use.quantity * count) * (1 + material.waste)
            if not material.whole:
                (fixed if once else each)[place] += amount * price
                continue
            what = (material.title.casefold(), material.unit)
            if what not in whole:
                whole[what] = (price, np.zeros_like(fixed), np.zeros_like(fixed), material.once)
            _, once_each, per_count, _ = whole[what]
            (once_each if once else per_count)[place] += amount
    materials = tuple(
        WholeMaterial(p, _amounts(f), _amounts(e), once) for p, f, e, once in whole.values()
    )
    return (fixed, each), materials


def _amounts(by_step: Floats) -> tuple[tuple[int, np.float64], ...]:
    return tuple((int(step), by_step[step]) for step in np.flatnonzero(by_step))


def _stands_for(criterion: Criterion, configuration: Configuration) -> tuple[float, ...]:
    """A number in the middle of each outcome's range: a whole one where things are counted.

    The last range ends with all there are, where a share of them is judged; else it is as wide as
    what lies below it, and at least one wide.
    """
    whole = math.prod(configuration.facts.get(fact, 1.0) for fact in criterion.share_of)
    counted = criterion.unit == "count"
    begins = sorted(o.from_ or 0.0 for o in criterion.outcomes)
    numbers = []
    for low in (o.from_ or 0.0 for o in criterion.outcomes):
        above = [b for b in begins if b > low]
        if above:
            high = above[0] * whole
        elif counted and criterion.share_of:
            high = max(1.0, low) * whole + 1
        else:
            high = max(2 * low, low + 1) * whole
        middle = (low * whole + high) / 2
        if counted:
            # The count at the upper bound belongs to the next range.
            middle = float(max(1, round(middle - 0.5))) if low > 0 else 0.0
        numbers.append(middle)
    return tuple(numbers)
