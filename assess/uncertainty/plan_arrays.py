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

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from assess.grading.judgements import Judgement
from assess.job.configuration import Configuration
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.model_base import SCOPES, Scope
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
class OutcomeMarks:
    """What each outcome of each criterion calls for, forbids and shows: one entry for each.

    Attributes:
        row_of: criterion -> its row in tables by criterion.
        is_telling: whether an outcome is a finding that sets a mark; of shape (criteria, outcomes).
        criteria, places: the criterion and the outcome of each entry; of shape (entries,).
        as_cause: whether an entry holds where the outcome causes what keeps the object out of
            use, or where it does not; of shape (entries,).
        targets: the mark that each entry sets, ascending; of shape (entries,).
        calls: scope -> the marks of the roots that are called for.
        impossible, dissuaded: scope -> the mark of what is impossible or advised against.
        ruined: the mark of ruin.
        significant: level of significance -> its mark.
        count: how many marks there are.
    """

    row_of: dict[str, int]
    is_telling: Bools
    criteria: Places
    places: Places
    as_cause: Bools
    targets: Places
    calls: dict[Scope, slice]
    impossible: dict[Scope, int]
    dissuaded: dict[Scope, int]
    ruined: int
    significant: dict[int, int]
    count: int

    @cached_property
    def sets(self) -> dict[tuple[int, int, bool], frozenset[int]]:
        """The marks that each outcome sets: by its criterion's row, its place, and as a cause."""
        found: dict[tuple[int, int, bool], set[int]] = {}
        entries = (self.criteria, self.places, self.as_cause, self.targets)
        for row, place, as_cause, target in zip(*(e.tolist() for e in entries), strict=True):
            found.setdefault((row, place, as_cause), set()).add(target)
        return {of: frozenset(targets) for of, targets in found.items()}


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
    declared = _declared_marks(knowledge)
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
        marks=_outcome_marks(declared, root_index),
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


@dataclass(frozen=True)
class _DeclaredMarks:
    """What each outcome of each criterion calls for, forbids and shows, whatever the object is.

    Attributes:
        row_of, is_telling: as in :class:`OutcomeMarks`.
        called: repairs that some outcome calls for.
        calls: criterion, outcome, whether as a cause, scope and called repair of each entry; of
            shape (entries, 5).
        others: criterion, outcome, whether as a cause, and mark of each other entry, counted from
            the first mark that is no call; of shape (entries, 4).
        levels: levels of significance.
    """

    row_of: dict[str, int]
    is_telling: Bools
    called: tuple[str, ...]
    calls: Places
    others: Places
    levels: tuple[int, ...]


@kept
def _declared_marks(knowledge: Knowledge) -> _DeclaredMarks:
    criteria = tuple(knowledge.criteria.values())
    every = [
        (row, place, as_cause, outcome)
        for row, criterion in enumerate(criteria)
        for place, outcome in enumerate(criterion.outcomes)
        for as_cause in (False, True)
    ]
    levels = tuple(sorted({o.significance for *_, o in every if o.significance}))
    calls = [
        (row, place, as_cause, at, repair)
        for row, place, as_cause, outcome in every
        for at, scope in enumerate(SCOPES)
        for repair in outcome.calls(scope, as_cause)
    ]
    called = tuple(dict.fromkeys(repair for *_, repair in calls))
    number = {repair: at for at, repair in enumerate(called)}
    others = [
        (row, place, as_cause, mark)
        for row, place, as_cause, outcome in every
        for mark in _marks_besides(outcome, levels)
    ]
    is_telling = np.zeros((len(criteria), max((len(c.outcomes) for c in criteria), default=0)))
    for row, place in [entry[:2] for entry in calls] + [entry[:2] for entry in others]:
        is_telling[row, place] = criteria[row].outcomes[place].condition > 0
    return _DeclaredMarks(
        row_of={c.id: row for row, c in enumerate(criteria)},
        is_telling=is_telling.astype(np.bool_),
        called=called,
        calls=np.array([(*at, number[r]) for *at, r in calls], np.intp).reshape(-1, 5),
        others=np.array(others, np.intp).reshape(-1, 4),
        levels=levels,
    )


def _marks_besides(outcome: Outcome, levels: tuple[int, ...]) -> Iterable[int]:
    """The marks of an outcome but calls: impossible and dissuaded by scope, ruin, significance."""
    for at, scope in enumerate(SCOPES):
        if outcome.beyond_repair and (outcome.calls(scope) or scope == "full"):
            yield at
    if outcome.advise_against and outcome.condition > 0:
        yield from (len(SCOPES) + SCOPES.index(scope) for scope in outcome.against)
    if outcome.ruins:
        yield 2 * len(SCOPES)
    if outcome.significance:
        yield 2 * len(SCOPES) + 1 + levels.index(outcome.significance)


def _outcome_marks(declared: _DeclaredMarks, roots: Mapping[str, int]) -> OutcomeMarks:
    """The marks of every outcome: roots of each scope first, then what forbids and shows."""
    first = len(SCOPES) * len(roots)
    root = np.array([roots.get(repair, -1) for repair in declared.called], np.intp)
    calls = declared.calls[root[declared.calls[:, 4]] >= 0]
    entries = np.vstack([calls[:, :3], declared.others[:, :3]])
    of_calls = calls[:, 3] * len(roots) + root[calls[:, 4]]
    targets = np.concatenate([of_calls, declared.others[:, 3] + first])
    order = targets.argsort(kind="stable")
    scopes, besides = range(len(SCOPES)), first + 2 * len(SCOPES)
    return OutcomeMarks(
        row_of=declared.row_of,
        is_telling=declared.is_telling,
        criteria=entries[order, 0],
        places=entries[order, 1],
        as_cause=entries[order, 2].astype(np.bool_),
        targets=targets[order],
        calls={SCOPES[i]: slice(i * len(roots), (i + 1) * len(roots)) for i in scopes},
        impossible={SCOPES[i]: first + i for i in scopes},
        dissuaded={SCOPES[i]: first + len(SCOPES) + i for i in scopes},
        ruined=besides,
        significant={level: besides + 1 + i for i, level in enumerate(declared.levels)},
        count=besides + 1 + len(declared.levels),
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
