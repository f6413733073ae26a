"""Small harmful changes of data, of the text of a file, and of a table."""

from __future__ import annotations

import copy
import datetime as dt
import json
from collections.abc import Callable
from random import Random
from typing import Any


class Raw(str):
    """A piece of TOML that is written as it stands."""


SCALARS: tuple[Any, ...] = (
    *map(Raw, ("nan", "inf", "-inf", "1e308", "-1e308", "5e-324", "-0.0", "0x7fffffffffffffff")),
    *map(Raw, ("9" * 400, "9" * 5000, "-" + "9" * 40, "1979-05-27", "07:32:00", "[]", "{}")),
    Raw("[" * 400 + "]" * 400),
    Raw('"\\u0000"'),
    Raw('"\\u001b[2J"'),
    Raw('"\\u202e\\u2066"'),
    *(True, False, 0, 1, -1, 2, 3, 10**9, 0.5, 1e-9),
    *("", " ", "0", "-1", "nan", "inf", "1e400", "9" * 400, "x" * 3000, "x" * 200_000),
    *("14 s", "3 in", "1/8 in", "1/0 in", "1/" + "9" * 400, "1,5", "-1 mm", "1e400 mm", "2 m 3 cm"),
    *("n", "x", "?", "not seen", "does not apply", "2/left side", "/", "-", "working", "full"),
    *("١٢", "½", "é" * 30, "漢字", "\u00ad", "\ufeff", "'''", '"""', "\\", "%s%n", "{0}", "{{"),
    *("../x.csv", "/etc/passwd", "/dev/null", ".", "a\nb", "<script>", "$(true)", "2027-01-11"),
)
CHARACTERS = "\"'[]{}=.,#\\\n\r\t\0\x1b -_0aéß漢\u202e\ufeff٣½/;:"
BYTES = (b"\xff", b"\xc3", b"\xed\xa0\x80", b"\x00", b"\xef\xbb\xbf", b"\r\n", b"\x1a")
Where = tuple[Any, Any]
"""A container, and a key or position in it."""


def scalar(rng: Random) -> Any:
    """Some hostile value."""
    return rng.choice(SCALARS)


def _changes(rng: Random, most: int) -> int:
    """How many changes: mostly one, so that what stands behind the first check is met, too."""
    return 1 if rng.random() < 0.7 else rng.randint(1, most)


def _places(data: Any) -> list[Where]:
    found: list[Where] = []
    todo = [data]
    while todo:
        at = todo.pop()
        keys = list(at) if isinstance(at, dict) else range(len(at))
        for key in keys:
            found.append((at, key))
            if isinstance(at[key], dict | list):
                todo.append(at[key])
    return found


def _replace(rng: Random, at: Any, key: Any) -> None:
    at[key] = scalar(rng)


def _nudge(rng: Random, at: Any, key: Any) -> None:
    value = at[key]
    if isinstance(value, bool):
        at[key] = not value
    elif isinstance(value, int | float):
        at[key] = value * rng.choice((-1, 0, 0.5, 2, 10, 1e6, 1e12))
    elif isinstance(value, str) and not isinstance(value, Raw):
        at[key] = text(rng, value)
    else:
        _replace(rng, at, key)


def _remove(rng: Random, at: Any, key: Any) -> None:
    del at[key]


def _rename(rng: Random, at: Any, key: Any) -> None:
    if isinstance(at, dict):
        at[rng.choice((f"{key}s", key[1:], key.upper(), f"{key}.x", "", "x" * 300, "\x1b"))] = (
            at.pop(key)
        )
    else:
        at.append(copy.deepcopy(at[key]))


def _wrap(rng: Random, at: Any, key: Any) -> None:
    at[key] = rng.choice(([at[key]], {"x": at[key]}, [at[key], at[key]], [[[at[key]]]]))


def _swap(rng: Random, at: Any, key: Any) -> None:
    other = rng.choice(list(at) if isinstance(at, dict) else range(len(at)))
    at[key], at[other] = at[other], at[key]


def _borrow(rng: Random, at: Any, key: Any, data: Any) -> None:
    """Put what stands somewhere else."""
    source, name = rng.choice(_places(data))
    at[key] = copy.deepcopy(source[name])


def data(rng: Random, given: Any, most: int = 3) -> Any:
    """Nested data with up to ``most`` changes."""
    changed = copy.deepcopy(given)
    for _ in range(_changes(rng, most)):
        places = _places(changed)
        if not places:
            return changed
        at, key = rng.choice(places)
        if rng.random() < 0.15:
            _borrow(rng, at, key, changed)
            continue
        change: Callable[[Random, Any, Any], None] = rng.choice(
            (_replace, _replace, _nudge, _nudge, _remove, _rename, _wrap, _swap)
        )
        change(rng, at, key)
    return changed


def text(rng: Random, given: str, most: int = 3) -> str:
    """Text with up to ``most`` changes of characters or lines."""
    for _ in range(_changes(rng, most)):
        at, end = rng.randint(0, len(given)), rng.randint(0, len(given))
        kind = rng.randrange(7)
        if kind == 0:
            given = given[:at] + given[at + 1 :]
        elif kind == 1:
            given = given[:at] + rng.choice(CHARACTERS) + given[at:]
        elif kind == 2:
            given = given[:at]
        elif kind == 3:
            given = given[:at] + given[min(at, end) : max(at, end)] + given[at:]
        elif kind == 4:
            lines = given.splitlines(keepends=True) or [""]
            lines.insert(rng.randrange(len(lines)), rng.choice(lines))
            given = "".join(lines)
        elif kind == 5:
            lines = given.splitlines(keepends=True) or [""]
            rng.shuffle(lines)
            given = "".join(lines)
        else:
            given = given.replace("\n", rng.choice(("\r\n", "\r", "\n\n", "\v")))
    return given


def raw(rng: Random, given: str) -> bytes:
    """The bytes of a text, now and then with some that are no text."""
    encoded = given.encode("utf-8", "replace")
    if rng.random() < 0.06:
        at = rng.randint(0, len(encoded))
        return encoded[:at] + rng.choice(BYTES) + encoded[at:]
    return encoded


def table(rng: Random, given: str) -> str:
    """A CSV file with some cells, rows or characters changed."""
    if rng.random() < 0.4:
        return text(rng, given)
    rows = [line.split(",") for line in given.splitlines()] or [[""]]
    for _ in range(_changes(rng, 3)):
        row = rng.choice(rows)
        at = rng.randrange(len(row)) if row else 0
        kind = rng.randrange(6)
        if kind == 0 and row:
            row[at] = str(scalar(rng))
        elif kind == 1 and row:
            row[at] = f'"{row[at]}'
        elif kind == 2:
            row.append(str(scalar(rng)))
        elif kind == 3 and row:
            del row[at]
        elif kind == 4:
            rows.insert(rng.randrange(len(rows)), list(rng.choice(rows)))
        elif kind == 5:
            rows.insert(rng.randrange(len(rows)), [])
    return "\n".join(",".join(row) for row in rows) + rng.choice(("\n", "", "\n\n"))


def toml(data: dict[str, Any]) -> str:
    """Data as the text of a TOML file, sound or not."""
    plain = [f"{_key(k)} = {_value(v)}" for k, v in data.items() if not isinstance(v, dict)]
    tables = [
        "\n".join([f"[{_key(k)}]", *(f"{_key(n)} = {_value(v)}" for n, v in table.items())])
        for k, table in data.items()
        if isinstance(table, dict)
    ]
    return "\n".join([*plain, *tables, ""])


def _key(key: Any) -> str:
    name = str(key)
    is_bare = bool(name) and all(c.isalnum() or c in "_-" for c in name) and name.isascii()
    return name if is_bare else _quoted(name)


def _value(value: Any) -> str:
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return repr(value)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def plain(value: Any) -> Any:
    """Data without pieces of TOML, as a plugin would give it."""
    if isinstance(value, Raw):
        words = {"nan": float("nan"), "inf": float("inf"), "-inf": float("-inf")}
        return words.get(str(value), None if value.startswith(("[", "{", '"')) else _number(value))
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    return value


def _number(text: str) -> Any:
    try:
        return float(text) if len(text) < 500 else text
    except ValueError:
        return text
