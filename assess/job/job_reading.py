"""Reading a job file: form and types are checked, and every fault named with its line and key."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from assess.base.errors import JobFileError, hints
from assess.base.text_files import read_text
from assess.base.toml_text import at, toml_data
from assess.base.validation import problems
from assess.job.job_file import NOT_IN_THE_FILE, History, Identity, Instrument, Job, Owner, Strict
from assess.job.words_of_file import Table, in_own_words, in_trade_words
from assess.knowledge.trade import NEUTRAL, Trade
from assess.plugin.registry import knowledge_in_use


def load(path: str | Path, trade: Trade | None = None) -> Job:
    """Read a job file.

    Args:
        path: the file.
        trade: the words that it is written in; those of the installed plugins when left out.

    Raises:
        JobFileError: it cannot be read, is not TOML, or holds unknown keys or wrong types;
            every fault is named with its line and key.
    """
    text = read_text(Path(path))
    return parse(text, str(path), knowledge_in_use().trade if trade is None else trade)


def parse(text: str, path: str = "", trade: Trade = NEUTRAL) -> Job:
    """Check the text of a job file; see :func:`load`."""
    name = path or "job"
    data = toml_data(text, name, JobFileError)
    if "format" not in data:
        raise JobFileError(f'{name}: no "format = 1" in it, so it is not a job file')
    faults = _unknown_keys(data, text, name, trade)
    faults += _unknown_scopes(data, text, name, trade)
    answers, more = _full_answers(data.get("answers"), text, name)
    faults += more
    if faults:
        raise JobFileError("\n".join(faults))
    own = in_own_words({**data, **({"answers": answers} if "answers" in data else {})}, trade)
    try:
        return Job.model_validate({**own, "path": path, "text": text, "trade": trade})
    except ValidationError as error:
        raise JobFileError("\n".join(_located(error, text, name, trade))) from None


def _unknown_keys(data: Table, text: str, name: str, trade: Trade) -> list[str]:
    hint = hints()
    faults = []
    tables: list[tuple[tuple[str, ...], Any, type[Strict]]] = [
        ((), data, Job),
        (("owner",), data.get("owner"), Owner),
        (("instrument",), data.get(trade.table), Instrument),
        (("instrument", "identity"), _inner(data.get(trade.table), "identity"), Identity),
        (("history",), data.get("history"), History),
    ]
    for prefix, table, model in tables:
        if not isinstance(table, dict):
            continue
        fields = [key for key in model.model_fields if key not in NOT_IN_THE_FILE]
        known = [in_trade_words((*prefix, key), trade)[-1] for key in fields]
        for key in table:
            if key not in known:
                where = at(name, text, (*in_trade_words(prefix, trade), key))
                faults.append(f"{where}: unknown key; {hint(key, known)}")
    return faults


def _inner(table: Any, key: str) -> Any:
    return table.get(key) if isinstance(table, dict) else None


def _unknown_scopes(data: Table, text: str, name: str, trade: Trade) -> list[str]:
    """Wishes and earlier work that name no scope."""
    hint = hints()
    owner, history = data.get("owner"), data.get("history")
    given: list[tuple[tuple[str, ...], Any]] = []
    if isinstance(owner, dict) and "wish" in owner:
        given.append((("owner", "wish"), owner["wish"]))
    works = history.get("overhaul") if isinstance(history, dict) else None
    for work in works if isinstance(works, list) else ():
        if isinstance(work, dict) and "how_far" in work:
            given.append((("history", "overhaul", "how_far"), work["how_far"]))
    return [
        f"{at(name, text, keys)}: no such {keys[-1].replace('_', ' ')} {scope!r}; "
        f"{hint(str(scope), trade.scope_ids())}"
        for keys, scope in given
        if not (isinstance(scope, str) and trade.scope_of(scope))
    ]


def _full_answers(answers: Any, text: str, name: str) -> tuple[Any, list[str]]:
    """Answers with ``hold = "14 s"`` written out as ``hold = {answer = "14 s"}``, and faults."""
    if not isinstance(answers, Mapping):
        return answers, []
    full: dict[str, Any] = {}
    faults = []
    for subsystem, table in answers.items():
        if not isinstance(table, Mapping):
            where = at(name, text, ("answers", subsystem))
            faults.append(f"{where}: expected a table of answers")
            continue
        full[subsystem] = {}
        for criterion, value in table.items():
            if isinstance(value, str | int | float):
                full[subsystem][criterion] = {"answer": value}
            elif isinstance(value, Mapping) and "answer" in value:
                full[subsystem][criterion] = value
            else:
                faults.append(
                    f"{at(name, text, ('answers', subsystem, criterion))}: an answer is text, "
                    'a number, or a table such as { answer = "...", note = "..." }'
                )
    return full, faults


def _located(error: ValidationError, text: str, name: str, trade: Trade) -> list[str]:
    lines = []
    for location, words in problems(error, Job):
        keys = tuple(str(k) for k in location if not _is_type_name(k))
        lines.append(f"{at(name, text, in_trade_words(keys, trade))}: {words}")
    return list(dict.fromkeys(lines))


def _is_type_name(key: int | str) -> bool:
    return key in ("bool", "str", "float", "int")
