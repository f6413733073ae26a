"""Air density and water gauges, against the standard atmosphere and the SI guide."""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from assess_pneumatics.air import (
    INCH_M,
    air_density_kg_m3,
    air_pressure_pa,
    inches_water_pa,
    mm_water_pa,
    water_column_pa,
)
from hypothesis import given
from hypothesis import strategies as st

REFERENCES = Path(__file__).parents[2] / "references"


def load(name: str) -> dict[str, Any]:
    return tomllib.loads((REFERENCES / name).read_text(encoding="utf-8"))


ATMOSPHERE = load("air_standard_atmosphere.toml")["rows"]

# Density of the water behind each published unit (verified lines of the table).
WATER = {
    "inch of water, conventional (1000 kg/m3, g = 9.80665)": (INCH_M, 1000.0, 4),
    "inch of water at 39.2 F (4 C)": (INCH_M, 999.972, 3),
    "inch of water at 60 F": (INCH_M, 999.016, 2),
    "centimetre of water at 4 C": (0.01, 999.972, 4),
}


@pytest.mark.parametrize("row", ATMOSPHERE, ids=lambda row: f"{row['altitude_m']} m")
def test_standard_atmosphere(row: dict[str, float]) -> None:
    celsius = row["temperature_K"] - 273.15
    assert air_pressure_pa(row["altitude_m"]) == pytest.approx(row["pressure_Pa"], abs=0.051)
    # Temperature is printed to a thousandth of a kelvin at best, density to five decimals.
    density = air_density_kg_m3(row["altitude_m"], celsius)
    assert density == pytest.approx(row["density_kg_m3"], abs=1.2e-5)


PUBLISHED_WATER = [row for row in load("leakage_constants.toml")["rows"] if row["unit"] == "Pa"]


def test_every_water_gauge_unit_is_held_against_the_table() -> None:
    assert {row["name"] for row in PUBLISHED_WATER} == set(WATER)


@pytest.mark.parametrize("row", PUBLISHED_WATER, ids=lambda row: row["name"])
def test_water_gauge_units(row: dict[str, Any]) -> None:
    height, density, digits = WATER[row["name"]]
    # The 60 F row is given to two decimals from a density given to three.
    assert water_column_pa(height, density) == pytest.approx(row["value"], abs=10**-digits)


def test_gauges_use_the_conventional_water() -> None:
    assert round(inches_water_pa(1.0), 4) == 249.0889
    assert mm_water_pa(25.4) == pytest.approx(inches_water_pa(1.0), rel=1e-12)


def test_rejected_inches_of_water_are_not_met() -> None:
    rejected = [r for r in load("rejected_values.toml")["rows"] if "inch of water" in r["item"]]
    assert len(rejected) == 2
    at_four_degrees = water_column_pa(INCH_M, 999.972)
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


def test_without_better_knowledge_a_room_is_at_the_sea_and_at_twenty_degrees() -> None:
    # 1.2041 kg/m3 is the density usually quoted for that.
    assert round(air_density_kg_m3(), 4) == 1.2041


@pytest.mark.parametrize(("altitude", "celsius"), [(-500.0, -40.0), (11000.0, 60.0)])
def test_the_ends_of_the_range_belong_to_it(altitude: float, celsius: float) -> None:
    pressure = air_pressure_pa(altitude)
    density = air_density_kg_m3(altitude, celsius)
    assert density * 287.05287 * (celsius + 273.15) == pytest.approx(pressure)


@given(st.floats(0, 100), st.floats(0.1, 10))
def test_gauge_readings_scale(inches: float, factor: float) -> None:
    assert inches_water_pa(factor * inches) == pytest.approx(factor * inches_water_pa(inches))


@pytest.mark.parametrize("altitude", [-501.0, 11001.0, math.nan, math.inf])
def test_no_room_so_high_or_low(altitude: float) -> None:
    with pytest.raises(ValueError, match="altitude"):
        air_density_kg_m3(altitude)


@pytest.mark.parametrize("celsius", [-41.0, 61.0, math.nan])
def test_no_room_so_hot_or_cold(celsius: float) -> None:
    with pytest.raises(ValueError, match=r"room|temperature"):
        air_density_kg_m3(0.0, celsius)


@pytest.mark.parametrize(("height", "density"), [(-0.1, 1000), (math.nan, 1000), (0.1, 0)])
def test_no_such_water(height: float, density: float) -> None:
    with pytest.raises(ValueError, match="water"):
        water_column_pa(height, density)
