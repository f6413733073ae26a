"""Numbers that cannot be readings are refused by name."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from assess import finite, not_negative, positive, within


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_refused(value: float) -> None:
    for check in (finite, positive, not_negative):
        with pytest.raises(ValueError, match="the pitch"):
            check("the pitch", value)
    with pytest.raises(ValueError, match="the pitch"):
        within("the pitch", value, 0.0, 1.0)


def test_zero_is_not_positive_but_not_negative() -> None:
    assert not_negative("it", 0.0) == 0.0
    with pytest.raises(ValueError, match="more than zero"):
        positive("it", 0.0)
    with pytest.raises(ValueError, match="zero or more"):
        not_negative("it", -1e-9)


def test_ends_belong_to_the_range() -> None:
    assert within("it", 0.0, 0.0, 1.0) == 0.0
    assert within("it", 1.0, 0.0, 1.0) == 1.0
    with pytest.raises(ValueError, match="from 0 to 1 mm"):
        within("it", 1.001, 0.0, 1.0, " mm")


@pytest.mark.parametrize(
    ("check", "bad"),
    [
        (finite, math.nan),
        (finite, -math.inf),
        (positive, 0.0),
        (positive, -1.0),
        (positive, math.inf),
        (not_negative, -1e-9),
        (not_negative, math.nan),
    ],
)
def test_impossible_numbers_are_refused_by_name(
    check: Callable[[str, float], float], bad: float
) -> None:
    with pytest.raises(ValueError, match=r"^the hold time "):
        check("the hold time", bad)


def test_possible_numbers_pass() -> None:
    assert finite("it", -2.0) == -2.0
    assert positive("it", 1e-9) == 1e-9
    assert not_negative("it", 0.0) == 0.0
