"""Everything that hours and money of a plan depend on, as arrays.

Planning one object takes milliseconds; working out what thousands of scenarios would cost must
not take minutes. What a step brings into a plan depends on that step alone
(:func:`assess.planning.closure.pulled_by`), so everything a repair needs is worked out once, as
a row of bits over all steps, and the steps of a plan are the union of the rows of the repairs
called for. The order of the steps does not change the cost, so it is left out.

This is an approximation in one respect: where a thorough repair replaces a lesser one, steps
that only the lesser one needed stay. Tests compare the result with exact plans.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from assess.job.configuration import Configuration
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.precedence_graph import made_needless
from assess.planning.closure import fits, is_workshop_work, pulled_by, routine
from assess.planning.cost_estimate import pert_mean, pert_variance
from assess.planning.workload import WorkContext, multiplicity, step_hours

Floats = NDArray[np.float32]
Bools = NDArray[np.bool_]
Places = NDArray[np.intp]
Packed = NDArray[np.uint8]
"""Eight yes-or-no facts to a byte, as :func:`numpy.packbits` packs them."""


@dataclass(frozen=True)
class WholeMaterial:
    """A material sold in whole units: price of one, and amounts by step, of shape (steps,).

    Of one that is bought ``once`` a single unit serves all steps.
    """

    price: float
    fixed: Floats
    each: Floats
    once: bool


@dataclass(frozen=True)
class PlanArrays:
    """Hours and money of everything that may be planned for one object.

    Attributes:
        steps: every step that fits the object.
        roots: repairs that some outcome calls for, and that fit.
        reach: for each root, the indices of the steps that it brings in, itself included.
        mean_h, variance_h2: of each step, done once; of shape (steps,).
        price_fixed, price_each: materials of each step with waste, once and per count; of
            shape (steps,).
        whole: materials sold in whole units.
        counted: step -> counted criteria that say how many times it is done.
        lesser: pairs of a thorough step and one that it makes needless.
        always, workshop: steps of every plan, and of every plan with workshop work.
        away: steps that cannot be done at the customer's home.
        root_steps: the step index of each root; of shape (roots,).
        calls: criterion -> for each outcome and scope, the roots called for.
        cause_calls: the same where the outcome causes what keeps the object out of use.
        counts: counted criterion -> for each outcome, the number that it stands for.
    """

    steps: tuple[str, ...]
    roots: tuple[str, ...]
    reach: tuple[Places, ...]
    mean_h: Floats
    variance_h2: Floats
    price_fixed: Floats
    price_each: Floats
    whole: tuple[WholeMaterial, ...]
    counted: dict[int, tuple[str, ...]]
    lesser: tuple[tuple[int, int], ...]
    always: Places
    workshop: Places
    away: Places
    root_steps: Places
    calls: dict[str, tuple[dict[Scope, tuple[int, ...]], ...]]
    cause_calls: dict[str, tuple[dict[Scope, tuple[int, ...]], ...]]
    counts: dict[str, tuple[float, ...]]


@dataclass(frozen=True)
class _Basis:
    """What plan arrays are made from besides the knowledge; equal when they would be equal."""

    tags: frozenset[str]
    facts: tuple[tuple[str, float], ...]
    profile: str
    amounts: tuple[tuple[tuple[str, str], float], ...]
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
        context,
    )
    return _plan_arrays(context.knowledge, basis)


@kept
def _plan_arrays(knowledge: Knowledge, basis: _Basis) -> PlanArrays:
    context, configuration = basis.context, basis.context.configuration
    steps: tuple[str, ...] = tuple(
        s for s in knowledge.steps() if fits(s, knowledge, configuration)
    )
    index = {step: i for i, step in enumerate(steps)}
    called = {
        repair
        for criterion in knowledge.criteria.values()
        for outcome in criterion.outcomes
        for scope in SCOPES
        for repair in outcome.calls(scope, as_cause=True)
    }
    roots = tuple(s for s in steps if s in called)
    rows = _reach(steps, knowledge, configuration)
    hours = [step_hours(s, context) for s in steps]
    prices, whole = _materials(index, basis)
    root_index = {root: i for i, root in enumerate(roots)}
    return PlanArrays(
        steps=steps,
        roots=roots,
        reach=tuple(np.flatnonzero(rows[index[r]]) for r in roots),
        mean_h=np.array([pert_mean(h) for h in hours], np.float32),
        variance_h2=np.array([pert_variance(h) for h in hours], np.float32),
        price_fixed=prices[0],
        price_each=prices[1],
        whole=whole,
        counted={index[r.id]: r.per for r in knowledge.repairs.values() if r.per and r.id in index},
        lesser=tuple(_lesser(index, knowledge)),
        always=_routine_steps("always", rows, index, knowledge),
        workshop=_routine_steps("workshop", rows, index, knowledge),
        away=np.array([i for s, i in index.items() if is_workshop_work(s, knowledge)], np.intp),
        root_steps=np.array([index[r] for r in roots], np.intp),
        calls={c.id: _calls(c, root_index, False) for c in knowledge.criteria.values()},
        cause_calls={c.id: _calls(c, root_index, True) for c in knowledge.criteria.values()},
        counts={
            c.id: _stands_for(c, configuration) for c in knowledge.criteria.values() if c.measured
        },
    )


def _reach(steps: tuple[str, ...], knowledge: Knowledge, configuration: Configuration) -> Bools:
    """For every step, the steps that it brings in, itself included; of shape (steps, steps)."""
    index = {step: i for i, step in enumerate(steps)}
    next_ones = {
        step: {t for t, _ in pulled_by(step, knowledge, configuration) if t in index}
        for step in steps
    }
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
    knowledge: Knowledge,
) -> Places:
    own = [index[s] for s in routine(occasion, knowledge) if s in index]
    return np.flatnonzero(rows[own].any(axis=0))


def _materials(
    index: Mapping[str, int], basis: _Basis
) -> tuple[tuple[Floats, Floats], tuple[WholeMaterial, ...]]:
    """Prices of materials by step, and separately what is sold in whole units."""
    knowledge, amounts = basis.context.knowledge, dict(basis.amounts)
    fixed, each = np.zeros(len(index), np.float32), np.zeros(len(index), np.float32)
    whole: dict[tuple[str, str], WholeMaterial] = {}
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
                amounts_once, amounts_each = np.zeros_like(fixed), np.zeros_like(fixed)
                whole[what] = WholeMaterial(price, amounts_once, amounts_each, material.once)
            (whole[what].fixed if once else whole[what].each)[place] += amount
    return (fixed, each), tuple(whole.values())


def _calls(
    criterion: Criterion, roots: Mapping[str, int], as_cause: bool
) -> tuple[dict[Scope, tuple[int, ...]], ...]:
    return tuple(
        {s: tuple(roots[r] for r in outcome.calls(s, as_cause) if r in roots) for s in SCOPES}
        for outcome in criterion.outcomes
    )


def _stands_for(criterion: Criterion, configuration: Configuration) -> tuple[float, ...]:
    """A number in the middle of each outcome's range: a whole one where things are counted."""
    share = 1.0
    for fact in criterion.share_of:
        share *= configuration.facts.get(fact, 1.0)
    begins = sorted(o.from_ for o in criterion.outcomes if o.from_ is not None)
    numbers = []
    for outcome in criterion.outcomes:
        low = outcome.from_ or 0.0
        above = [b for b in begins if b > low]
        high = above[0] if above else max(2 * low, low + 1)
        middle = (low + high) / 2 * share
        if criterion.unit == "count":
            middle = 0.0 if low == 0 else float(max(1, round((low * share + high * share - 1) / 2)))
        numbers.append(middle)
    return tuple(numbers)
