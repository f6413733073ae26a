"""How long a good reservoir of any size holds, compared with the flow through its leak."""

from __future__ import annotations

import math

import pytest
from assess_pneumatics.leakage import (
    GOOD_HOLD_S,
    ORDINARY_DENSITY_KG_M3,
    ORDINARY_SUCTION_PA,
    ORDINARY_VOLUME_M3,
    good_hold_s,
)
from hypothesis import given
from hypothesis import strategies as st

from assess import testing

volumes = st.floats(0.002, 0.2)
suctions = st.floats(150.0, 1500.0)
densities = st.floats(0.9, 1.3)


def seconds_through(area_m2: float, volume_m3: float, suction_pa: float, density: float) -> float:
    """Seconds in which a hole fills a volume, from Bernoulli's speed (discharge 0.61)."""
    speed_m_s = math.sqrt(2 * suction_pa / density)
    return volume_m3 / (0.61 * area_m2 * speed_m_s)


@given(volumes, suctions, densities)
def test_the_hole_of_a_good_ordinary_reservoir_fills_every_other_in_its_good_hold(
    volume: float, suction: float, density: float
) -> None:
    hole_m2 = ORDINARY_VOLUME_M3 / (
        GOOD_HOLD_S * 0.61 * math.sqrt(2 * ORDINARY_SUCTION_PA / ORDINARY_DENSITY_KG_M3)
    )
    expected = seconds_through(hole_m2, volume, suction, density)
    assert good_hold_s(volume, suction, density) == pytest.approx(expected)


@given(volumes, suctions, densities)
def test_it_grows_with_the_volume_and_falls_with_the_root_of_the_suction(
    volume: float, suction: float, density: float
) -> None:
    good = good_hold_s(volume, suction, density)
    assert good_hold_s(2 * volume, suction, density) == pytest.approx(2 * good)
    assert good_hold_s(volume, 4 * suction, density) == pytest.approx(good / 2)


@pytest.mark.parametrize("arguments", [(0.0, 700.0, 1.2), (0.03, 0.0, 1.2), (0.03, 700.0, -1.0)])
def test_impossible_readings_are_refused(arguments: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="must be more than zero"):
        good_hold_s(*arguments)


SMALL = {"reservoir_length": "420 mm", "reservoir_width": "240 mm", "reservoir_opening": "110 mm"}


def judged(facts: dict[str, str | float]) -> str:
    answers = {"pneumatics.whole_hold": "22 s"}
    result = testing.assessed("assess_pneumatics", answers, facts=facts)
    return result.graded.judgements["pneumatics.whole_hold"].outcome.label


def test_a_hold_is_judged_by_the_size_of_the_reservoir_where_its_boards_are_measured() -> None:
    """The seconds of a small reservoir that holds well are those of a leaking ordinary one."""
    assert judged(SMALL) != judged({})
    assert judged(SMALL | {"good_hold": "90 s"}) == judged({})  # what the job file states counts
