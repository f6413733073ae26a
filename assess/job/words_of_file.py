"""The words of a trade in a job file: which keys and scopes have other names there.

Inside, the engine's own words are used; a file is read and written in the words of its trade.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from assess.knowledge.trade import Trade

Table = dict[str, Any]


def key_names(trade: Trade) -> dict[tuple[str, ...], str]:
    """The engine's own keys that have another name in the file, and that name."""
    return {
        ("instrument",): trade.table,
        ("owner", "reason_to_use"): trade.reason_key,
        ("history", "works"): trade.works_key,
    }


def in_trade_words(keys: tuple[str, ...], trade: Trade) -> tuple[str, ...]:
    """A path in the engine's own words, as it is in the file."""
    names = key_names(trade)
    return tuple(names.get(keys[: n + 1], key) for n, key in enumerate(keys))


def in_own_words(data: Table, trade: Trade) -> Table:
    """The data of a file with the engine's own keys and scopes; the argument is not changed."""
    own_name = {(keys[:-1], name): keys[-1] for keys, name in key_names(trade).items()}
    own = {own_name.get(((), key), key): value for key, value in data.items()}
    for table in ("owner", "history"):
        if isinstance(own.get(table), dict):
            own[table] = {own_name.get(((table,), k), k): v for k, v in own[table].items()}
    return _with_scopes(own, trade.scope_of)


def in_file_words(data: Table, trade: Trade) -> Table:
    """The other way round: data of a job as it is written to a file."""
    names = key_names(trade)
    written = {names.get((key,), key): value for key, value in data.items()}
    for table in ("owner", "history"):
        if table in written:
            written[table] = {names.get((table, k), k): v for k, v in written[table].items()}
    return _with_scopes(written, trade.scope_id)


def _with_scopes(data: Table, renamed: Callable[[Any], str | None]) -> Table:
    """The data with every scope in other words."""
    changed = dict(data)
    owner, history = data.get("owner"), data.get("history")
    if isinstance(owner, dict) and "wish" in owner:
        changed["owner"] = {**owner, "wish": renamed(owner["wish"])}
    works = history.get("overhaul") if isinstance(history, dict) else None
    if isinstance(history, dict) and isinstance(works, list | tuple):
        changed["history"] = {
            **history,
            "overhaul": [
                {**w, "how_far": renamed(w["how_far"])}
                if isinstance(w, dict) and "how_far" in w
                else w
                for w in works
            ],
        }
    return changed
