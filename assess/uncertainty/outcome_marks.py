"""What each outcome of each criterion calls for, forbids and shows, as numbered marks.

Which marks a scenario has follows from its outcomes by looking them up here; what they cost is in
:mod:`assess.uncertainty.plan_arrays`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from assess.knowledge.criteria import Outcome
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.model_base import SCOPES, Scope
from assess.uncertainty.packed_facts import Bools, Places


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
class DeclaredMarks:
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
def declared_marks(knowledge: Knowledge) -> DeclaredMarks:
    """The marks that are declared, kept for every object."""
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
        for mark in _marks_besides(outcome, as_cause, levels)
    ]
    is_telling = np.zeros((len(criteria), max((len(c.outcomes) for c in criteria), default=0)))
    for row, place in [entry[:2] for entry in calls] + [entry[:2] for entry in others]:
        is_telling[row, place] = criteria[row].outcomes[place].condition > 0
    return DeclaredMarks(
        row_of={c.id: row for row, c in enumerate(criteria)},
        is_telling=is_telling.astype(np.bool_),
        called=called,
        calls=np.array([(*at, number[r]) for *at, r in calls], np.intp).reshape(-1, 5),
        others=np.array(others, np.intp).reshape(-1, 4),
        levels=levels,
    )


def _marks_besides(outcome: Outcome, as_cause: bool, levels: tuple[int, ...]) -> Iterable[int]:
    """The marks of an outcome but calls: impossible and dissuaded by scope, ruin, significance."""
    for at, scope in enumerate(SCOPES):
        if outcome.beyond_repair and (outcome.calls(scope, as_cause) or scope == "full"):
            yield at
    if outcome.advise_against and outcome.condition > 0:
        yield from (len(SCOPES) + SCOPES.index(scope) for scope in outcome.against)
    if outcome.ruins:
        yield 2 * len(SCOPES)
    if outcome.significance:
        yield 2 * len(SCOPES) + 1 + levels.index(outcome.significance)


def outcome_marks(declared: DeclaredMarks, roots: Mapping[str, int]) -> OutcomeMarks:
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
