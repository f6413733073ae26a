"""Teams, dollies, stairs and movers. The allowances are from memory."""

from __future__ import annotations

import math
import re
import tomllib
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from assess_casework.handling import (
    CASE_LIFT,
    GUIDELINE_MEN_KG,
    GUIDELINE_WOMEN_KG,
    HANDLING_CAUTION,
    TEAM_SHARES,
    Means,
    lower_bearer_share,
    person_limit_kg,
    plan_moving,
    team_limit_kg,
    ways_on_stairs,
    ways_on_the_level,
)
from assess_casework.lifting import recommended_weight_limit_kg
from hypothesis import given
from hypothesis import strategies as st

REFERENCES = Path(__file__).parents[2] / "references"
HAZARDS: dict[str, Any] = tomllib.loads(
    (REFERENCES / "hazards_limits.toml").read_text(encoding="utf-8")
)

loads = st.one_of(st.floats(1.0, 80.0), st.floats(1.0, 600.0))
limits = st.floats(5.0, 25.0)
steps = st.integers(0, 40)


def test_guideline_weights() -> None:
    """HSE INDG143, from memory: 25 and 16 kg."""
    (row,) = (row for row in HAZARDS["rows"] if row["hazard"] == "manual handling")
    assert row["status"] == "from memory"
    found = [float(number) for number in re.findall(r"(\d+) kg", row["value"])]
    assert found == [GUIDELINE_MEN_KG, GUIDELINE_WOMEN_KG]


def test_a_person_lifts_the_lower_of_two_limits() -> None:
    """The equation for the usual case, by hand: 23 x 25/30 x 0.985."""
    assert person_limit_kg() == pytest.approx(23 * 25 / 30 * 0.985)
    assert person_limit_kg(GUIDELINE_WOMEN_KG) == GUIDELINE_WOMEN_KG


def test_the_usual_case_is_lifted_well() -> None:
    """It is a good lift, but not an ideal one."""
    assert 15 < recommended_weight_limit_kg(CASE_LIFT) < 23


@pytest.mark.parametrize(
    ("people", "share", "limit_kg"),
    [(1, 1, 18.0), (2, 2 / 3, 24.0), (3, 0.5, 27.0), (4, 0.5, 36.0)],
)
def test_team_allowance(people: int, share: float, limit_kg: float) -> None:
    """From memory, HSE L23: two thirds of the sum for two, half for three; for four also half."""
    assert TEAM_SHARES[people] == share
    assert team_limit_kg(people, 18.0) == pytest.approx(limit_kg)


@given(limits)
def test_one_more_helps_but_never_by_a_whole_person(each_kg: float) -> None:
    """A team lifts less than the sum of its people."""
    teams = [team_limit_kg(people, each_kg) for people in (1, 2, 3, 4)]
    gains = [later - earlier for earlier, later in pairwise(teams)]
    assert all(0 < gain < each_kg for gain in gains)


@given(st.floats(0.5, 2.5), st.floats(0.0, 1.0), st.floats(0.0, 60.0))
def test_bearers_hold_the_balance(length_m: float, height_m: float, slope: float) -> None:
    """Statics of the case, solved as two equations: forces add up and moments cancel."""
    angle = math.radians(slope)
    along = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-math.sin(angle), math.cos(angle)])
    lower, upper = np.zeros(2), length_m * along
    centre = length_m / 2 * along + height_m * across
    forces = np.linalg.solve(np.array([[1.0, 1.0], [lower[0], upper[0]]]), [1.0, centre[0]])
    share = lower_bearer_share(length_m, height_m, slope)
    assert share == pytest.approx(forces[0])
    assert share >= 0.5


def test_on_the_level_both_bear_half() -> None:
    """However high the centre is."""
    assert lower_bearer_share(1.1, 0.5, 0.0) == 0.5


@pytest.mark.parametrize(
    ("load_kg", "stairs", "means", "people"),
    [
        (18.0, 0, Means.BY_HAND, 1),
        (24.0, 0, Means.BY_HAND, 2),
        (24.1, 0, Means.DOLLY, 2),
        (36.0, 0, Means.DOLLY, 2),
        (36.1, 0, Means.DOLLY, 3),
        (48.0, 0, Means.DOLLY, 3),
        (48.1, 0, Means.MOVERS, None),
        (16.8, 1, Means.BY_HAND, 2),
        (16.9, 1, Means.BY_HAND, 4),
        (25.2, 12, Means.BY_HAND, 4),
        (25.3, 12, Means.MOVERS, None),
        (160.0, 0, Means.MOVERS, None),
    ],
)
def test_plans_by_hand(load_kg: float, stairs: int, means: Means, people: int | None) -> None:
    """At 18 kg a person: teams of 1, 2 and 4 lift 18, 24 and 36 kg.

    On stairs half a team below carries 0.713 of it: 12/0.713 = 16.8 and 18/0.713 = 25.2 kg.
    """
    plan = plan_moving(load_kg, 18.0, stairs=stairs)
    assert (plan.means, plan.people) == (means, people)


@given(loads, limits, steps)
def test_no_plan_lifts_more_than_is_recommended(load_kg: float, each_kg: float, n: int) -> None:
    """Only with movers is the index above 1."""
    plan = plan_moving(load_kg, each_kg, stairs=n)
    assert plan.lifting_index == pytest.approx(plan.lifted_kg / plan.limit_kg)
    assert (plan.means is Means.MOVERS) == (plan.lifting_index > 1) == (plan.people is None)


@given(loads, limits, steps)
def test_every_plan_carries_its_caution(load_kg: float, each_kg: float, n: int) -> None:
    """Always, whatever the weight."""
    plan = plan_moving(load_kg, each_kg, stairs=n)
    assert plan.caution == HANDLING_CAUTION
    assert plan.reason


@pytest.mark.parametrize(
    ("load_kg", "stairs", "said"),
    [
        (18.0, 0, "one person may lift"),
        (24.0, 0, "two people may lift"),
        (30.0, 0, "one person may lift; one more slides the dolly in"),
        (48.0, 0, "two people may lift; one more slides the dolly in"),
        (20.0, 5, "those below carry 71 % of it, within what half a team of 4 may lift"),
        (90.0, 0, "Take off the top, take out the action"),
    ],
)
def test_plans_say_why(load_kg: float, stairs: int, said: str) -> None:
    """The words fit the numbers."""
    assert said in plan_moving(load_kg, 18.0, stairs=stairs).reason


def test_movers_come_with_the_best_way_without_them() -> None:
    """90 kg at 18 kg a person: two people lift half of it, and may lift 24."""
    plan = plan_moving(90.0, 18.0)
    assert (plan.lifted_kg, plan.limit_kg) == pytest.approx((45.0, 24.0))


def test_the_caution_defers() -> None:
    """To local rules, and to a mover."""
    assert "Local rules come first" in HANDLING_CAUTION
    assert "ask a mover" in HANDLING_CAUTION


@given(loads, limits, st.integers(1, 40))
def test_stairs_never_make_it_easier(load_kg: float, each_kg: float, n: int) -> None:
    """No dolly on stairs, nobody alone, and what can go by stairs can go on the level."""
    level, stairs = plan_moving(load_kg, each_kg), plan_moving(load_kg, each_kg, stairs=n)
    assert stairs.means is not Means.DOLLY
    assert stairs.people in (None, 2, 4)
    assert stairs.means is Means.MOVERS or level.means is not Means.MOVERS


@given(loads, loads, limits, steps)
def test_heavier_never_takes_fewer(one: float, other: float, each_kg: float, n: int) -> None:
    """Means that come later count as more."""
    light, heavy = sorted((one, other))
    first, second = (
        (list(Means).index(plan.means), plan.people or 0)
        for plan in (plan_moving(load, each_kg, stairs=n) for load in (light, heavy))
    )
    assert first <= second


@pytest.mark.parametrize("wrong", [0.0, -1.0, math.nan, math.inf])
def test_impossible_weights_are_refused(wrong: float) -> None:
    """Load, limit, guideline and length."""
    for call in (plan_moving, ways_on_the_level, ways_on_stairs):
        with pytest.raises(ValueError, match="load"):
            call(wrong, 18.0)
        with pytest.raises(ValueError, match="limit"):
            call(40.0, wrong)
    with pytest.raises(ValueError, match="guideline"):
        person_limit_kg(guideline_kg=wrong)
    with pytest.raises(ValueError, match="grips"):
        lower_bearer_share(wrong)


@pytest.mark.parametrize("people", [0, 5, -1])
def test_a_team_is_of_one_to_four(people: int) -> None:
    """There is no room for more round a case."""
    with pytest.raises(ValueError, match="1 to 4"):
        team_limit_kg(people, 18.0)


def test_other_impossible_numbers_are_refused() -> None:
    """Stairs, slope, height."""
    with pytest.raises(ValueError, match="stairs"):
        plan_moving(40.0, 18.0, stairs=-1)
    with pytest.raises(ValueError, match="slope"):
        lower_bearer_share(slope_degrees=61.0)
    with pytest.raises(ValueError, match="centre"):
        lower_bearer_share(centre_above_grips_m=-0.1)
