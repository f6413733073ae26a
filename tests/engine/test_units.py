"""Units, compared with the library pint."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assess.base.measures import parse_measure
from assess.base.units import ALIASES, UNITS, UnitError, convert

PINT_NAMES = {
    "s": "second",
    "min": "minute",
    "h": "hour",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "in": "inch",
    "ft": "foot",
    "m2": "meter**2",
    "L": "liter",
    "Pa": "pascal",
    "kPa": "kilopascal",
    "hPa": "hectopascal",
    "mbar": "millibar",
    "g": "gram",
    "kg": "kilogram",
    "lb": "pound",
    "N": "newton",
    "lbf": "force_pound",
    "Hz": "hertz",
    "degC": "degC",
    "degF": "degF",
}
REGISTRY = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize("name", PINT_NAMES)
def test_every_unit_converts_as_pint_converts_it(name: str) -> None:
    same_kind = [n for n in PINT_NAMES if UNITS[n].kind == UNITS[name].kind]
    assert name in same_kind
    for other in same_kind:
        theirs = REGISTRY.Quantity(7.25, PINT_NAMES[name]).to(PINT_NAMES[other]).magnitude
        assert convert(7.25, name, other) == pytest.approx(theirs, rel=1e-9)


def test_water_columns_as_published() -> None:
    """NIST SP 811 (2008), table B.8: conventional inch of water 2.490889 E+02 Pa,
    conventional millimetre of water 9.80665 Pa."""
    assert convert(1, "inH2O", "Pa") == pytest.approx(249.0889)
    assert convert(1, "mmH2O", "Pa") == pytest.approx(9.80665)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("14", "s", 14),
        ("14 s", "s", 14),
        ("2 min", "s", 120),
        ("2 min 30 s", "s", 150),
        ("1 min 25 s", "s", 85),
        ("2 ft 2 in", "in", 26),
        ("3 m 2 cm", "cm", 302),
        ("2.5 m2", "m2", 2.5),
        ("2 mmH2O", "mmH2O", 2),
        ("1,5 min", "s", 90),
        ("3 1/4 in", "in", 3.25),
        ("3/8 in", "mm", 9.525),
        ('3"', "in", 3),
        ("76.2 mm", "in", 3),
        ("2.5 in wc", "inH2O", 2.5),
        ("12 %", "%", 12),
        ("-3 cents", "cents", -3),
        ("68 °F", "degC", 20),
        ("1e2 Pa", "Pa", 100),
    ],
)
def test_what_a_person_writes(text: str, unit: str, value: float) -> None:
    assert parse_measure(text, unit) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("", "s", "not a number"),
        ("fast", "s", "not a number"),
        ("14 mm", "s", "is a unit of length"),
        ("14 furlongs", "mm", "unknown unit"),
        ("1/0 in", "in", "divides by zero"),
        ("1.2.3 s", "s", "not a number"),
        ("--4 s", "s", "not a number"),
    ],
)
def test_what_cannot_be_read_says_so(text: str, unit: str, words: str) -> None:
    with pytest.raises(UnitError, match=words):
        parse_measure(text, unit)


@given(st.floats(-1e6, 1e6), st.sampled_from(sorted(UNITS)))
def test_there_and_back(value: float, name: str) -> None:
    same_kind = [n for n in UNITS if UNITS[n].kind == UNITS[name].kind]
    assert name in same_kind
    for other in same_kind:
        back = convert(convert(value, name, other), other, name)
        assert back == pytest.approx(value, rel=1e-9, abs=1e-6)


def test_aliases_name_known_units() -> None:
    assert ALIASES
    assert set(ALIASES.values()) <= set(UNITS)
