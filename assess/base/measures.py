"""Reading measures as people write them: "2 min 30 s", "3 1/4 in", "ca. 9-10 s", "5 spokes".

What could be two readings, or two numbers, is refused rather than guessed.
"""

from __future__ import annotations

import math
import re
from itertools import pairwise

from assess.base.units import UnitError, canonical, convert, known_unit, unit_of

OF_KIND = {
    "pressure": {
        "in": "inH2O", "inch": "inH2O", "inches": "inH2O", '"': "inH2O", "″": "inH2O",
        "zoll": "inH2O", "mm": "mmH2O", "cm": "cmH2O", "oz": "ozf/in2", "ounces": "ozf/in2",
    },
    "temperature": {"c": "degC", "f": "degF"},
}  # fmt: skip
"""Names that mean another unit where a quantity of this kind is asked for."""
FRACTIONS = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4",
    "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
TYPEWRITTEN = str.maketrans({"\u2212": "-", "\u2044": "/", "″": '"', "“": '"', "”": '"', "„": '"'})
"""What telephones and word processors make of a minus, a stroke and an inch mark."""
LADDERS = (("days", "h", "min", "s"), ("m", "cm", "mm"), ("ft", "in"), ("kg", "g"), ("lb", "oz"))
"""Units that one measure is written in together, as 2 min 30 s. Two of other units, or two of the
same, are two readings."""
CLEAR_DENOMINATORS = (2, 4, 8, 16, 32, 64)
"""Of fractions on rules and gauges; 14/15 is rather two readings."""
DECIMAL_DENOMINATORS = (10, 100)
"""Of fractions of a length, such as 3/10 mm."""
ROUGHLY = re.compile(
    r"^\s*(?:ca\.?|circa|about|approx\.?|approximately|~|\u2248|etwa)\s*", re.IGNORECASE
)
LONGEST_NUMBER = 100
"""Letters of the longest text that is read as a number."""
NO_COUNT = ("none", "no", "nil", "zero", "keine")
NOT_THAT_MANY = {
    "dozen", "dozens", "score", "hundred", "hundreds", "thousand", "thousands", "pair", "pairs",
    "couple", "couples", "half", "halves", "per", "or", "not", "no",
    "dutzend", "hundert", "tausend", "paar", "pro", "oder", "nicht",
}  # fmt: skip
"""Words after a number that make it another one, or none that is known."""
_VALUE = r"(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:e[+-]?\d+)?"
_FRACTION = r"(?:\d+(?:\s+|-))?\d+\s*/\s*\d+"
_UNIT = r"(?P<unit>[^\W\d_](?:[^\W\d_]|\s)*(?:(?<=[hH])2[oO]|(?<=\bm)2(?!\d))?|[%\"]|°[CF])"
_AMOUNT = (
    r"(?:(?:(?P<whole>\d+)(?:\s+|-))?(?P<num>\d+)\s*/\s*(?P<den>\d+)"
    rf"|(?P<value>[+-]?{_VALUE}))"
)
_BARE = re.compile(r"[0-9]+(?:\.[0-9]+)?")
"""What most cells of a survey hold, read without looking for more."""
_MEASURE = re.compile(rf"\s*{_AMOUNT}\s*{_UNIT}?\s*", re.IGNORECASE)
_RANGE = re.compile(
    rf"\s*(?P<low>{_FRACTION}|{_VALUE})\s*(?:-|\u2013|to|bis)\s*"
    rf"(?P<high>{_FRACTION}|{_VALUE})\s*{_UNIT}?\s*",
    re.IGNORECASE,
)
_COUNTED = re.compile(r"\s*(\d+)\s+([^\W\d_]+(?:\s+[^\W\d_]+)?)\s*")
_GROUPED = re.compile(r"\s*([1-9]\d{0,2})[.,](\d{3})(?!\d)")


def parse_measure(text: str, to: str) -> float:
    """Read "14 s", "2 min 30 s", "3 1/4 in" or a bare number, as a value in ``to``.

    A bare number is taken to be in ``to`` already; a decimal comma is understood, and so are
    "ca. 9 s", "9-10 s" (the middle), "½ in", "none" and "5 spokes" for a count. What could be two
    readings, such as "14 s 15 s" or "14/15", is refused.

    >>> parse_measure("2 min 30 s", "s")
    150.0
    >>> parse_measure("3 1/4 in", "in"), parse_measure("3-1/4 in", "in")
    (3.25, 3.25)
    >>> parse_measure("2,5", "inH2O")
    2.5
    >>> parse_measure("9-10 s", "s")
    9.5

    Raises:
        UnitError: not a number, unknown unit, or a unit of another kind.
    """
    if len(text) > LONGEST_NUMBER:
        raise UnitError(f'"{text[:20]} ..." is too long for a number')
    value = float(text) if _BARE.fullmatch(text) else _measured(_plain(text), to)
    if not math.isfinite(value):
        raise UnitError(f'"{text}" is too large')
    return value + 0.0  # zero without a sign


def grouped_or_decimal(text: str) -> str:
    """Why a number such as 1.500 is unclear; else nothing.

    >>> grouped_or_decimal("1.500")
    '1.500 could be 1500 or 1.5; write one of these'
    """
    found = _GROUPED.match(text)
    if not found:
        return ""
    decimal = f"{found[1]}.{found[2].rstrip('0') or '0'}"
    return f"{found[0].strip()} could be {found[1]}{found[2]} or {decimal}; write one of these"


def parse_clear(text: str, to: str, possible: tuple[float, float]) -> float:
    """Read a measure as :func:`parse_measure` does, where 1,500 can only mean one number.

    Args:
        text: what a person wrote.
        to: the unit of the value.
        possible: the least and the most that it can be.

    Raises:
        UnitError: it cannot be read, or what looks like a decimal could be a group of thousands.
    """
    value = parse_measure(text, to)
    found = _GROUPED.match(text)
    if found:
        grouped = parse_measure(f"{found[1]}{found[2]}{text[found.end() :]}", to)
        if all(possible[0] <= reading <= possible[1] for reading in (value, grouped)):
            raise UnitError(grouped_or_decimal(text))
    return value


def _measured(text: str, to: str) -> float:
    count = _count(text) if to == "count" else None
    if count is not None:
        return count
    between = None if _is_mixed(text) else _RANGE.fullmatch(text)
    if between:
        unit = between["unit"] or ""
        low, high = (_sum(f"{between[end]} {unit}", to) for end in ("low", "high"))
        if low > high:
            raise UnitError(f'"{text.strip()}" goes down; write the smaller number first, in full')
        return (low + high) / 2
    return _sum(text, to)


def _sum(text: str, to: str) -> float:
    """An amount with its unit, or several that make one measure together."""
    parts: list[tuple[float, str]] = []
    total, position = 0.0, 0
    while position < max(1, len(text)):
        match = _MEASURE.match(text, position)
        several = position > 0 or (match is not None and match.end() < len(text))
        if not match or (several and not match["unit"]):
            raise UnitError(f'"{text.strip()}" is not a number with a unit')
        parts.append((_amount(match, text, to), _meant(match["unit"] or to, to)))
        total += convert(*parts[-1], to)
        position = match.end()
    for (value, unit), (less, smaller) in pairwise(parts):
        if not _go_together(value, canonical(unit), less, canonical(smaller)):
            raise UnitError(f'"{text.strip()}" is more than one reading; give one')
    return total


def _go_together(value: float, unit: str, less: float, smaller: str) -> bool:
    """Whether two amounts are one measure: whole ones of a unit, and less than one more."""
    ladder = next((names for names in LADDERS if unit in names and smaller in names), ())
    if not ladder or ladder.index(unit) >= ladder.index(smaller):
        return False
    return value.is_integer() and 0 <= convert(less, smaller, unit) < 1


def _count(text: str) -> float | None:
    """A number with what is counted, such as "5 spokes", or a word for none; None for others.

    Raises:
        UnitError: what follows is a unit, or makes another number of it.
    """
    if text.strip().casefold() in NO_COUNT:
        return 0.0
    counted = _COUNTED.fullmatch(text)
    if not counted:
        return None
    if not NOT_THAT_MANY.isdisjoint(counted[2].casefold().split()):
        raise UnitError(f'"{text.strip()}" is not a plain number; write it in figures')
    if known_unit(counted[2]):
        convert(0, counted[2], "count")
    return float(counted[1])


def _is_mixed(text: str) -> bool:
    """Whether a hyphen joins a whole number and its fraction, as in 3-1/4."""
    return re.match(r"\s*[1-9]\d*-\d+\s*/", text) is not None


def _plain(text: str) -> str:
    """Text with fractions written out, in plain signs, without a word for "about" in front."""
    text = text.translate(TYPEWRITTEN).replace("''", '"')
    for sign, written in FRACTIONS.items():
        text = re.sub(rf"(?<=\d){sign}", f" {written}", text).replace(sign, written)
    return ROUGHLY.sub("", text)


def _meant(name: str, to: str) -> str:
    """The unit that a name means where a quantity like ``to`` is asked for."""
    name = name.strip()
    return OF_KIND.get(unit_of(to).kind, {}).get(name.casefold(), name)


def _amount(match: re.Match[str], text: str, to: str) -> float:
    if match["value"]:
        return float(match["value"].replace(",", "."))
    whole, num, den = (int(match[part] or 0) for part in ("whole", "num", "den"))
    if den == 0:
        raise UnitError(f'"{text.strip()}" divides by zero')
    if not _is_fraction(whole, num, den, to):
        raise UnitError(f'"{text.strip()}" could be a fraction or two readings; write 0.5 or 9-10')
    if unit_of(to).kind == "share" and not match["unit"]:
        raise UnitError(f'"{text.strip()}" could be of one or of a hundred; write it with %')
    return whole + num / den


def _is_fraction(whole: int, num: int, den: int, to: str) -> bool:
    """Whether two numbers with a stroke between them are one fraction rather than two readings."""
    if num >= den:
        return False
    if whole or num == 1:
        return True
    if unit_of(to).kind == "length" and den in DECIMAL_DENOMINATORS:
        return True
    return to != "count" and den in CLEAR_DENOMINATORS
