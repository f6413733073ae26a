from __future__ import annotations

import math

import pytest
from assess_reeds.values import Band
from hypothesis import given
from hypothesis import strategies as st

NUMBERS = st.floats(-1e6, 1e6)
BANDS = st.tuples(NUMBERS, NUMBERS, NUMBERS).map(lambda three: Band(*sorted(three)))


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_value_that_is_not_a_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="must be a number"):
        Band(value, value, value)


@pytest.mark.parametrize("three", [(2, 1, 3), (1, 3, 2), (3, 2, 1)])
def test_a_band_out_of_order_is_refused(three: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="low, likely and high in rising order"):
        Band(*three)


@given(BANDS, st.floats(-100, 100))
def test_a_scaled_band_is_a_band_again(band: Band, factor: float) -> None:
    scaled = band.scaled(factor)
    assert scaled.low <= scaled.likely <= scaled.high
    assert band.low * factor in scaled
    assert band.high * factor in scaled


@given(BANDS, BANDS)
def test_bands_add_end_by_end(one: Band, other: Band) -> None:
    assert one.plus(other) == other.plus(one)
    assert one.likely + other.likely in one.plus(other)
