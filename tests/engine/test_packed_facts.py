"""Packed facts and their unions, against the same facts unpacked."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assess.uncertainty.packed_facts import Unions, packed, unpacked


@given(rows=st.integers(0, 5), count=st.integers(1, 200), seed=st.integers(0, 2**32 - 1))
def test_what_is_packed_is_unpacked(rows: int, count: int, seed: int) -> None:
    facts = np.random.default_rng(seed).random((rows, count)) < 0.5
    words = packed(facts)
    assert words.shape == (rows, -(-count // 64))
    assert np.array_equal(unpacked(words, count), facts)


@pytest.mark.parametrize("count", [1, 63, 64, 65, 1000])
def test_what_is_left_over_of_the_last_number_is_no(count: int) -> None:
    words = packed(np.ones((2, count), np.bool_))
    assert unpacked(words, 64 * words.shape[1]).sum() == 2 * count


@given(data=st.data(), sources=st.integers(1, 6), targets=st.integers(1, 6))
def test_a_union_holds_where_any_of_its_sources_does(
    data: st.DataObject, sources: int, targets: int
) -> None:
    pair = st.tuples(st.integers(0, sources - 1), st.integers(0, targets - 1))
    pairs = data.draw(st.lists(pair, max_size=20))
    facts = np.random.default_rng(data.draw(st.integers(0, 1000))).random((sources, 70)) < 0.3
    united = unpacked(Unions.of(targets, pairs)(packed(facts)), 70)
    assert united.shape == (targets, 70)
    for target in range(targets):
        own = [source for source, other in pairs if other == target]
        assert np.array_equal(united[target], facts[own].any(axis=0))
