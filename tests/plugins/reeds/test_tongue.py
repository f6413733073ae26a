from __future__ import annotations

import math
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from assess_reeds.tongue import (
    CENTS_PER_RELATIVE_HZ,
    FIRST_MODE_ROOT,
    FIRST_ORDER_THINNING,
    ROOT,
    TIP,
    Zone,
    curvature,
    deflection,
    filing_effect,
    neutral_place,
    thinning_cents,
)
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.linalg import eigh
from scipy.optimize import brentq

REFERENCES = Path(__file__).parents[2] / "references"


def reference(name: str) -> dict[str, Any]:
    return tomllib.loads((REFERENCES / f"{name}.toml").read_text(encoding="utf-8"))


TABLE = reference("reed_cantilever")
ELEMENTS = 40  # more would only lose digits


def test_the_root_of_the_first_mode() -> None:
    assert pytest.approx(TABLE["first_root"], abs=1e-12) == FIRST_MODE_ROOT
    solved = brentq(lambda x: math.cos(x) + 1 / math.cosh(x), 1.0, 2.5, xtol=1e-14)
    assert pytest.approx(solved, abs=1e-11) == FIRST_MODE_ROOT


@pytest.mark.parametrize(
    ("thinning", "words"),
    [(0.11, "more than a tongue should lose"), (-0.01, "the layer"), (math.nan, "the layer")],
)
def test_impossible_layers_are_refused(thinning: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        thinning_cents(thinning, TIP)


def test_the_shape_is_that_of_a_clamped_bar() -> None:
    """Level at the clamp, straight at the tip, with a mean square of one."""
    step = 1e-5
    assert deflection(0.0) == 0.0
    assert deflection(step) / step == pytest.approx(0.0, abs=1e-3)
    assert curvature(1.0) == pytest.approx(0.0, abs=1e-9)
    assert (curvature(1.0) - curvature(1 - step)) / step == pytest.approx(0.0, abs=1e-3)
    for shape in (deflection, curvature):
        assert quad(lambda x, shape=shape: shape(x) ** 2, 0, 1)[0] == pytest.approx(1.0, abs=1e-9)


@given(st.floats(0.01, 0.99))
def test_the_curvature_is_the_second_derivative(place: float) -> None:
    step = 1e-3
    second = (deflection(place + step) - 2 * deflection(place) + deflection(place - step)) / step**2
    assert second == pytest.approx(FIRST_MODE_ROOT**2 * curvature(place), abs=1e-4)


@pytest.mark.parametrize("place", [-0.01, 1.01, math.nan])
def test_places_off_the_tongue_are_refused(place: float) -> None:
    for shape in (deflection, curvature, filing_effect):
        with pytest.raises(ValueError, match="a place on the tongue"):
            shape(place)


@given(st.floats(0.0, 0.98), st.floats(0.01, 1.0))
def test_the_effect_of_a_stretch_agrees_with_scipy(start: float, length: float) -> None:
    zone = Zone(start, min(1.0, start + length))
    assert zone.effect() == pytest.approx(quad(filing_effect, zone.start, zone.end)[0], abs=1e-8)


@given(st.floats(0.05, 0.95))
def test_the_effects_of_two_stretches_add_up(cut: float) -> None:
    parts = Zone(0.0, cut).effect() + Zone(cut, 1.0).effect()
    assert parts == pytest.approx(Zone(0.0, 1.0).effect(), abs=1e-8)
    assert parts == pytest.approx(-2.0, abs=1e-8)


def test_there_is_one_neutral_place() -> None:
    assert neutral_place() == pytest.approx(brentq(filing_effect, 0.3, 0.9), abs=1e-9)
    places = np.linspace(0.0, 1.0, 201)
    effects = [filing_effect(float(place)) for place in places]
    assert effects == sorted(effects)


@cache
def exact_root_squared(thinning: float = 0.0, start: float = 0.0, end: float = 0.0) -> float:
    """First angular frequency of a stepped bar, by finite elements.

    Hermite beam elements (common practice). Free length, mass and stiffness of the whole bar
    are 1, so that a uniform bar has the square of the first root.
    """
    length = 1 / ELEMENTS
    stiff = (
        np.array(
            [
                [12, 6 * length, -12, 6 * length],
                [6 * length, 4 * length**2, -6 * length, 2 * length**2],
                [-12, -6 * length, 12, -6 * length],
                [6 * length, 2 * length**2, -6 * length, 4 * length**2],
            ]
        )
        / length**3
    )
    heavy = (
        np.array(
            [
                [156, 22 * length, 54, -13 * length],
                [22 * length, 4 * length**2, 13 * length, -3 * length**2],
                [54, 13 * length, 156, -22 * length],
                [-13 * length, -3 * length**2, -22 * length, 4 * length**2],
            ]
        )
        * length
        / 420
    )
    stiffness = np.zeros((2 * ELEMENTS + 2, 2 * ELEMENTS + 2))
    mass = np.zeros_like(stiffness)
    for element in range(ELEMENTS):
        middle = (element + 0.5) / ELEMENTS
        thickness = 1 - thinning if start < middle < end else 1.0
        own = slice(2 * element, 2 * element + 4)
        stiffness[own, own] += thickness**3 * stiff
        mass[own, own] += thickness * heavy
    lowest = eigh(stiffness[2:, 2:], mass[2:, 2:], eigvals_only=True, subset_by_index=[0, 0])
    return math.sqrt(float(lowest[0]))


def exact_cents(thinning: float, zone: Zone) -> float:
    moved = exact_root_squared(thinning, zone.start, zone.end)
    return 1200 * math.log2(moved / exact_root_squared())


@pytest.mark.parametrize("zone", [TIP, ROOT, Zone(0.0, 0.5), Zone(0.6, 1.0), Zone(0.0, 1.0)])
def test_a_thin_layer_agrees_with_the_exact_bar(zone: Zone) -> None:
    assert thinning_cents(0.001, zone) == pytest.approx(exact_cents(0.001, zone), rel=0.01)


@pytest.mark.parametrize("zone", [TIP, ROOT])
@pytest.mark.parametrize("thinning", [0.01, 0.03, 0.05, FIRST_ORDER_THINNING])
def test_a_thick_layer_agrees_with_the_exact_bar_within_an_eighth(
    zone: Zone, thinning: float
) -> None:
    estimate, exact = thinning_cents(thinning, zone), exact_cents(thinning, zone)
    assert estimate == pytest.approx(exact, rel=1 / 8)
    # At the root the exact pitch falls further than the estimate.
    assert (zone is TIP) or exact < estimate


def test_a_tongue_thinned_all_over_falls_as_in_the_table() -> None:
    (cents,) = [row["cents"] for row in TABLE["rows"]]
    assert thinning_cents(0.01, Zone(0.0, 1.0)) == pytest.approx(-cents, rel=0.01)
    assert thinning_cents(0.01, Zone(0.0, 1.0)) == pytest.approx(-0.01 * CENTS_PER_RELATIVE_HZ)


@pytest.mark.parametrize("ends", [(0.5, 0.5), (0.6, 0.4), (-0.1, 0.5), (0.5, 1.1)])
def test_impossible_stretches_are_refused(ends: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="the stretch"):
        Zone(*ends)
