"""TOML texts of the user: read with bounds, and searched for the line of a key."""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import Any

import tomli

from assess.base.errors import UserError

DEEPEST = 30
"""How many tables and lists may stand within each other; a job file needs six."""
LONGEST_KEY = 1000
"""How much of a line is searched for a key."""
LARGEST = 2**63 - 1
"""The largest whole number that TOML promises to every reader."""

Keys = tuple[str, ...]
Table = dict[str, Any]


def toml_data(text: str, name: str, refused: type[UserError]) -> Table:
    """The data of a TOML text whose numbers and depth are bounded.

    Args:
        text: what to read.
        name: the file, for messages.
        refused: the kind of error for a text that cannot be used.

    Raises:
        UserError: of the given kind: it is not TOML, it is nested too deep, or a number in it
            is infinite, no number, or too large.
    """
    try:
        data = tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        raise refused(f"{name}: not valid TOML: {error}") from error
    except RecursionError:
        raise refused(f"{name}: {_too_deep()}") from None
    except ValueError:
        # Python itself refuses to read whole numbers of thousands of digits.
        raise refused(f"{name}: a whole number in it has too many digits") from None
    fault = _fault(data)
    if fault is not None:
        keys, words = fault
        raise refused(f"{at(name, text, keys)}: {words}")
    return data


def _too_deep() -> str:
    return f"tables and lists are nested more than {DEEPEST} deep"


def _fault(data: Table) -> tuple[Keys, str] | None:
    """The first value that is too deep, too large or no number, with its keys."""
    waiting: list[tuple[Keys, int, Any]] = [((), 0, data)]
    while waiting:
        keys, depth, value = waiting.pop()
        if depth > DEEPEST:
            return keys[:3], _too_deep()
        if isinstance(value, dict):
            waiting += [((*keys, key), depth + 1, inner) for key, inner in value.items()]
        elif isinstance(value, list):
            waiting += [(keys, depth + 1, inner) for inner in value]
        elif isinstance(value, float) and not math.isfinite(value):
            return keys, f"expected a number, got {value}"
        elif isinstance(value, int) and abs(value) > LARGEST:
            return keys, "the number is too large"
    return None


def at(name: str, text: str, keys: Keys) -> str:
    """File, line and key of something in a file, for a message; keys as they are in the file."""
    line = line_of(text, keys)
    return f"{name}:{line}: {'.'.join(keys)}" if line else f"{name}: {'.'.join(keys)}"


def line_of(text: str, keys: Keys) -> int | None:
    r"""The line, from 1, on which a key of a TOML text is, where that is known.

    >>> line_of("format = 1\n[owner]\nwish = 'full'", ("owner", "wish"))
    3
    """
    if not keys:
        return None
    keys = tuple(part for key in keys for part in key.split("."))[:DEEPEST]
    exact, values, inner = _lines(text)
    if keys in exact:
        return exact[keys]
    within = [values[keys[:n]] for n in range(1, len(keys)) if keys[:n] in values]
    return max(within) if within else inner.get(keys)


@lru_cache(maxsize=4)
def _lines(text: str) -> tuple[dict[Keys, int], dict[Keys, int], dict[Keys, int]]:
    """Lines by key: where it begins, where it has its last value, where a table within it is."""
    exact: dict[Keys, int] = {}
    values: dict[Keys, int] = {}
    inner: dict[Keys, int] = {}
    table: Keys = ()
    for number, line in enumerate(text.splitlines(), 1):
        start = line[:LONGEST_KEY].strip()
        header, closed, _ = start.lstrip("[").partition("]")
        assignment = re.match(r"([\w.\"'-]+)\s*=", start)
        if start.startswith("[") and closed:
            table = _parts(header)[:DEEPEST]
            exact.setdefault(table, number)
            for n in range(1, len(table)):
                inner.setdefault(table[:n], number)
        elif assignment:
            path = (table + _parts(assignment[1]))[:DEEPEST]
            exact.setdefault(path, number)
            values[path] = number
    return exact, values, inner


def _parts(key: str) -> Keys:
    """A key at every dot, whether it stands within quotation marks or not."""
    return tuple(part.strip().strip("\"'") for part in key.split("."))
