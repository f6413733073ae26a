"""Units of measurement: names, conversion, and how they are printed.

Factors are exact by definition unless noted: the international inch and pound
(1959), and the conventional inch and centimetre of water, 249.0889 Pa and 98.0665 Pa (NIST
SP 811, table B.8). An ounce of pressure is an ounce-force on a square inch.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


class UnitError(ValueError):
    """A unit is unknown, or of the wrong kind."""


@dataclass(frozen=True)
class Unit:
    """A unit: what kind of quantity, and how much of the kind's base unit it is."""

    kind: str
    factor: float
    offset: float = 0.0


UNITS: dict[str, Unit] = {
    "count": Unit("count", 1.0),
    "%": Unit("share", 0.01),
    "s": Unit("time", 1.0),
    "min": Unit("time", 60.0),
    "h": Unit("time", 3600.0),
    "mm": Unit("length", 0.001),
    "cm": Unit("length", 0.01),
    "m": Unit("length", 1.0),
    "in": Unit("length", 0.0254),
    "ft": Unit("length", 0.3048),
    "m2": Unit("area", 1.0),
    "L": Unit("volume", 0.001),
    "Pa": Unit("pressure", 1.0),
    "kPa": Unit("pressure", 1000.0),
    "hPa": Unit("pressure", 100.0),
    "mbar": Unit("pressure", 100.0),
    "inH2O": Unit("pressure", 249.0889),
    "mmH2O": Unit("pressure", 9.80665),
    "cmH2O": Unit("pressure", 98.0665),
    "ozf/in2": Unit("pressure", 4.4482216152605 / 16 / 0.0254**2),
    "g": Unit("mass", 0.001),
    "kg": Unit("mass", 1.0),
    "lb": Unit("mass", 0.45359237),
    "oz": Unit("mass", 0.45359237 / 16),
    "N": Unit("force", 1.0),
    "lbf": Unit("force", 4.4482216152605),
    "Hz": Unit("frequency", 1.0),
    "cents": Unit("interval", 1.0),
    "degC": Unit("temperature", 1.0, 273.15),
    "degF": Unit("temperature", 5 / 9, 273.15 - 32 * 5 / 9),
    "days": Unit("time", 86400.0),
    "years": Unit("age", 1.0),
}

SYMBOLS = {
    "degC": "\u00b0C",
    "degF": "\u00b0F",
    "m2": "m\u00b2",
    "inH2O": "in H2O",
    "mmH2O": "mm H2O",
    "cmH2O": "cm H2O",
}
TYPED_UNIT = re.compile(rf"(?<=\d )(?:{'|'.join(SYMBOLS)})\b")
"""How a unit is printed where that differs from its name."""

ALIASES = {
    "sec": "s",
    "secs": "s",
    "second": "s",
    "seconds": "s",
    "minute": "min",
    "minutes": "min",
    "mins": "min",
    "sek": "s",
    "sekunden": "s",
    "std": "h",
    "zoll": "in",
    "ounce": "oz",
    "ounces": "oz",
    "cmh2o": "cmH2O",
    "cm h2o": "cmH2O",
    "cm wc": "cmH2O",
    "cm ws": "cmH2O",
    "cm water": "cmH2O",
    "mm ws": "mmH2O",
    "mmws": "mmH2O",
    "tage": "days",
    "tag": "days",
    "jahre": "years",
    "hour": "h",
    "hours": "h",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "″": "in",
    "feet": "ft",
    "foot": "ft",
    "inwc": "inH2O",
    "in wc": "inH2O",
    "inh2o": "inH2O",
    "in h2o": "inH2O",
    "in water": "inH2O",
    "inches of water": "inH2O",
    "mmh2o": "mmH2O",
    "mm h2o": "mmH2O",
    "mm wc": "mmH2O",
    "mmwc": "mmH2O",
    "mm water": "mmH2O",
    "pa": "Pa",
    "kpa": "kPa",
    "hpa": "hPa",
    "hz": "Hz",
    "cent": "cents",
    "ct": "cents",
    "c": "cents",
    "percent": "%",
    "gram": "g",
    "grams": "g",
    "pounds": "lb",
    "lbs": "lb",
    "l": "L",
    "litre": "L",
    "litres": "L",
    "°c": "degC",
    "°f": "degF",
    "degc": "degC",
    "degf": "degF",
    "day": "days",
    "year": "years",
    "pcs": "count",
    "pieces": "count",
}

IN_ANY_CASE = {name.lower(): name for name in UNITS}
"""Telephones begin lines with a capital."""


def unit_of(name: str) -> Unit:
    """The unit of that name.

    Raises:
        UnitError: no such unit.
    """
    return UNITS[canonical(name)]


def canonical(name: str) -> str:
    """Our spelling of a unit's name.

    >>> canonical("inches of water")
    'inH2O'
    """
    found = known_unit(name)
    if found is None:
        raise UnitError(f'unknown unit "{name.strip()}"')
    return found


def known_unit(name: str) -> str | None:
    """Our spelling of a unit's name; None where it is no unit."""
    name = name.strip()
    if name in UNITS:
        return name
    return ALIASES.get(name) or ALIASES.get(name.lower()) or IN_ANY_CASE.get(name.lower())


def convert(value: float, unit: str, to: str) -> float:
    """Convert a value between units of the same kind.

    >>> round(convert(3, "inH2O", "Pa"), 1)
    747.3

    Raises:
        UnitError: unknown unit, or units of different kinds.
    """
    source, target = unit_of(unit), unit_of(to)
    if source.kind != target.kind:
        raise UnitError(
            f'"{unit}" is a unit of {source.kind}; expected {target.kind}, such as "{to}"'
        )
    if canonical(unit) == canonical(to):
        return value
    return (value * source.factor + source.offset - target.offset) / target.factor


def symbol(unit: str | None) -> str:
    """A unit as it is printed; nothing for counts."""
    return "" if unit in ("count", None) else SYMBOLS.get(unit, unit)


def with_unit(value: float, unit: str | None) -> str:
    """A value with its unit, as it is printed; a count stands alone.

    >>> with_unit(14, "s"), with_unit(3, "count"), with_unit(20, "degC")
    ('14 s', '3', '20 \u00b0C')
    """
    return f"{value:g}" if unit in ("count", None) else f"{value:g} {symbol(unit)}"


def with_symbols(text: str) -> str:
    """Text in which units stand as they are printed, not as they are typed.

    >>> with_symbols("2.3 inH2O at 16 degC")
    '2.3 in H2O at 16 \u00b0C'
    """
    return TYPED_UNIT.sub(lambda match: SYMBOLS[match[0]], text)
