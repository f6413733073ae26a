"""Yes-or-no facts of many scenarios, packed 64 to a number, and quick unions of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bools = NDArray[np.bool_]
Places = NDArray[np.intp]
Packed = NDArray[np.uint64]
"""Yes-or-no facts, 64 to a number; see :func:`packed` and :func:`unpacked`."""


def packed(facts: Bools) -> Packed:
    """Pack the last axis, 64 facts to a number; what is left over of the last one is no."""
    words = -(-facts.shape[-1] // 64)
    found = np.zeros((*facts.shape[:-1], 8 * words), np.uint8)
    found[..., : -(-facts.shape[-1] // 8)] = np.packbits(facts, axis=-1)
    return found.view(np.uint64)


def unpacked(facts: Packed, count: int) -> Bools:
    """The facts that were packed, ``count`` of them in the last axis."""
    return np.unpackbits(facts.view(np.uint8), axis=-1, count=count).view(np.bool_)


@dataclass(frozen=True)
class Unions:
    """Which rows of one table of packed facts are united to which row of another.

    Attributes:
        count: rows of the result; those without sources are no throughout.
        sources: rows to unite, of shape (entries,).
        targets: the row of the result that each goes into, ascending; of shape (entries,).
    """

    count: int
    sources: Places
    targets: Places

    @staticmethod
    def of(count: int, pairs: Iterable[tuple[int, int]]) -> Unions:
        """The unions of pairs of a source and a target."""
        entries = np.array(list(pairs), np.intp).reshape(-1, 2)
        return Unions.between(count, entries[:, 0], entries[:, 1])

    @staticmethod
    def between(count: int, sources: Places, targets: Places) -> Unions:
        """The unions of sources and targets in any order; both of shape (entries,)."""
        order = targets.argsort(kind="stable")
        return Unions(count, sources[order], targets[order])

    def with_pairs(self, count: int, pairs: Iterable[tuple[int, int]] = ()) -> Unions:
        """The same for more rows of the result, with further pairs of a source and a target."""
        known = zip(self.sources.tolist(), self.targets.tolist(), strict=True)
        return Unions.of(count, [*known, *((int(s), int(t)) for s, t in pairs)])

    def __call__(self, rows: Packed) -> Packed:
        """Unite rows of a table; the result has the shape (count, words)."""
        result = np.zeros((self.count, rows.shape[1]), np.uint64)
        if len(self.sources):
            first = np.flatnonzero(np.diff(self.targets, prepend=-1))
            gathered = rows.take(self.sources, axis=0)
            result[self.targets[first]] = np.bitwise_or.reduceat(gathered, first, axis=0)
        return result
