"""Air density and the inch of water, against the standard atmosphere and the SI guide."""

from __future__ import annotations

import math
import re

import pytest
from assess_pneumatics.air import INCH_WATER_PA, air_density_kg_m3, air_pressure_pa
from hypothesis import given
from hypothesis import strategies as st
from references import reference


@pytest.mark.parametrize(
    "row", reference("air_standard_atmosphere")["rows"], ids=lambda row: f"{row['altitude_m']} m"
)
def test_standard_atmosphere(row: dict[str, float]) -> None:
    celsius = row["temperature_K"] - 273.15
    assert air_pressure_pa(row["altitude_m"]) == pytest.approx(row["pressure_Pa"], abs=0.051)
    # The table gives temperatures to a thousandth of a kelvin, densities to five decimals.
    density = air_density_kg_m3(row["altitude_m"], celsius)
    assert density == pytest.approx(row["density_kg_m3"], abs=1.2e-5)


def test_the_inch_of_water_is_the_conventional_one() -> None:
    rows = [r for r in reference("leakage_constants")["rows"] if r["unit"] == "Pa"]
    assert [row["value"] for row in rows] == [INCH_WATER_PA]
    assert pytest.approx(0.0254 * 1000 * 9.80665, abs=5e-5) == INCH_WATER_PA


def test_rejected_inches_of_water_are_wrong() -> None:
    rejected = [r for r in reference("rejected_values")["rows"] if "inch of water" in r["item"]]
    assert len(rejected) == 2
    at_four_degrees = 0.0254 * 999.972 * 9.80665
    for row in rejected:
        wrong = re.search(r"= (\d+\.\d+) Pa", row["item"])
        right = re.match(r"(\d+\.\d+) Pa", row["correct"])
        assert wrong
        assert right
        assert round(at_four_degrees, 3) == float(right[1])
        assert round(at_four_degrees, 3) != float(wrong[1])


@given(st.floats(0, 8000), st.floats(1, 1000), st.floats(-20, 40))
def test_higher_or_warmer_air_is_thinner(low: float, more: float, celsius: float) -> None:
    assert air_density_kg_m3(low + more, celsius) < air_density_kg_m3(low, celsius)
    assert air_density_kg_m3(low, celsius + 5) < air_density_kg_m3(low, celsius)


def test_the_usual_density_of_room_air() -> None:
    # 1.2041 kg/m3 is the density usually quoted for sea level and 20 degrees C.
    assert round(air_density_kg_m3(0.0, 20.0), 4) == 1.2041


@pytest.mark.parametrize(("altitude", "celsius"), [(-500.0, -40.0), (11000.0, 60.0)])
def test_the_limits_are_included(altitude: float, celsius: float) -> None:
    pressure = air_pressure_pa(altitude)
    density = air_density_kg_m3(altitude, celsius)
    assert density * 287.05287 * (celsius + 273.15) == pytest.approx(pressure)


@pytest.mark.parametrize("altitude", [-501.0, 11001.0, math.nan, math.inf])
def test_impossible_altitudes(altitude: float) -> None:
    with pytest.raises(ValueError, match="altitude"):
        air_density_kg_m3(altitude, 20.0)


@pytest.mark.parametrize("celsius", [-41.0, 61.0, math.nan])
def test_impossible_temperatures(celsius: float) -> None:
    with pytest.raises(ValueError, match="temperature"):
        air_density_kg_m3(0.0, celsius)
