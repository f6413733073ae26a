"""Writing a job file: one thing put in or taken out, comments and all else kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from assess.base.errors import JobFileError
from assess.base.toml_text import toml_data
from assess.job.job_file import NO_NOTE, NOT_IN_THE_FILE, AnswerText, DoneRecord, Job
from assess.job.words_of_file import in_file_words, key_names
from assess.knowledge.trade import Trade


def with_answer(text: str, criterion: str, answer: AnswerText, note: str = "") -> str:
    """The text of a job file with one answer put in or replaced, all else kept.

    Args:
        text: the file as it is.
        criterion: full id, such as ``wheels.broken_spokes``.
        answer: the answer as it will stand in the file.
        note: kept beside the answer when not empty; an older note stays otherwise. A note of
            :data:`NO_NOTE` takes the older one away.
    """
    import tomlkit

    document = tomlkit.parse(text)
    subsystem, name = criterion.split(".")
    table = _table(document, "answers", subsystem)
    old = table.get(name)
    if isinstance(old, dict) and note == NO_NOTE:
        old.pop("note", None)
        old["answer"] = answer
    elif isinstance(old, dict):
        old["answer"] = answer
        if note:
            old["note"] = note
    elif note and note != NO_NOTE:
        entry = tomlkit.inline_table()
        entry.update({"answer": answer, "note": note})
        table[name] = entry
    else:
        table[name] = answer
    return _written(document)


def with_value(text: str, keys: tuple[str, ...], value: Any) -> str:
    """The text of a job file with one value put in or replaced, all else kept.

    Args:
        text: the file as it is.
        keys: tables and key, in the words of the file.
        value: text, a number or true or false.
    """
    import tomlkit

    document = tomlkit.parse(text)
    whole = isinstance(value, float) and value.is_integer()
    _table(document, *keys[:-1])[keys[-1]] = int(value) if whole else value
    return _written(document)


def with_photograph(text: str, about: str, file: str) -> str:
    """The text of a job file with one more photograph named, all else kept.

    Args:
        text: the file as it is.
        about: full id of the criterion that it shows, or ``whole``.
        file: where it lies, seen from the job file.
    """
    import tomlkit

    document = tomlkit.parse(text)
    files = _table(document, "photographs").setdefault(about, tomlkit.array())
    if file not in files:
        files.append(file)
    return _written(document)


def with_history(text: str, changed: Mapping[str, Any], trade: Trade) -> str:
    """The text of a job file with something put in that is told, all else kept.

    Args:
        text: the file as it is.
        changed: fields of :class:`History`, in the engine's own words.
        trade: the words that the file is written in.
    """
    import tomlkit

    document = tomlkit.parse(text)
    history = _table(document, "history")
    for key, value in changed.items():
        name = key_names(trade).get(("history", key), key)
        if not isinstance(value, list):
            history[name] = value
        elif not _filled_in(history.get(name), value, document):
            history[name] = _list_of_tables(value, inline=_is_inline(history))
    return _written(document)


def with_done(text: str, records: Iterable[DoneRecord]) -> str:
    """The text of a job file with records put in after those that it has, all else kept."""
    import tomlkit

    document = tomlkit.parse(text if text.endswith("\n\n") else text.rstrip("\n") + "\n\n")
    inline = isinstance(document.get("done"), tomlkit.items.Array)
    if "done" not in document:
        document.append("done", tomlkit.aot())
    for record in records:
        table = tomlkit.inline_table() if inline else tomlkit.table()
        table.update(record.model_dump(exclude_defaults=True))
        if not inline:
            table.add(tomlkit.nl())
        document["done"].append(table)
    return _written(document)


def without_done(text: str, steps: Iterable[str]) -> str:
    """The text of a job file with the last record of each of some steps taken out."""
    import tomlkit

    document = tomlkit.parse(text)
    records = document.get("done", [])
    for step in steps:
        found = [n for n, r in enumerate(records) if " ".join(str(r["step"]).split()) == step]
        if found:
            _take_out(records, found[-1], document)
    if "done" in document and not records:
        del document["done"]
    return _written(document)


def _written(document: Any) -> str:
    """The text of an edited document.

    Raises:
        JobFileError: it would not be read again as it was meant, so it must not be saved. A table
            put in after dotted keys (``answers.wheels.state = 1``) would swallow what follows.
    """
    import tomlkit

    text = tomlkit.dumps(document)
    if toml_data(text, "as it would be saved", JobFileError) != document.unwrap():
        raise JobFileError(
            "cannot be put in without moving something else; in the file, write dotted keys such "
            "as answers.a.b = 1 as a table: [answers.a], and b = 1 below it"
        )
    return text


def _table(document: Any, *keys: str) -> Any:
    """A table of a document, made where it is not there."""
    import tomlkit

    table = document
    for key in keys:
        if key not in table:
            table[key] = tomlkit.inline_table() if _is_inline(table) else tomlkit.table()
        table = table[key]
    return table


def _is_inline(table: Any) -> bool:
    """Whether a table stands in braces on one line; nothing else may stand within it."""
    import tomlkit

    return isinstance(table, tomlkit.items.InlineTable)


def _filled_in(listed: Any, entries: list[Mapping[str, Any]], document: Any) -> bool:
    """Change a list of tables as it stands, with its comments; whether that could be done."""
    import tomlkit

    if not listed or not entries:
        return False
    for number in _surplus(listed, entries):
        _take_out(listed, number, document)
    for table, entry in zip(listed, entries, strict=False):
        for key in [key for key in table if key not in entry]:
            del table[key]
        for key, value in entry.items():
            if table.get(key) != value:
                table[key] = value
    inline = isinstance(listed, tomlkit.items.Array)
    for table in _list_of_tables(entries[len(listed) :], inline=inline):
        listed.append(table)
    return True


def _surplus(listed: Sequence[Any], entries: Sequence[Mapping[str, Any]]) -> list[int]:
    """The numbers of the tables that are too many, the highest first: first those like no entry."""
    backwards = sorted(range(len(listed)), reverse=True)
    backwards.sort(key=lambda number: listed[number] in entries)
    return sorted(backwards[: max(0, len(listed) - len(entries))], reverse=True)


def _take_out(listed: Any, number: int, document: Any) -> None:
    """Take a table out of a list of a document; comments below it are about what follows."""
    import tomlkit

    if isinstance(listed, tomlkit.items.AoT):
        below: list[Any] = []
        for key, item in reversed(listed[number].value.body):
            if key is not None:
                break
            below.insert(0, item)
        kept_in = listed[number - 1] if number else document
        for item in below if any(isinstance(i, tomlkit.items.Comment) for i in below) else []:
            kept_in.add(item)
    del listed[number]


def _list_of_tables(entries: Iterable[Mapping[str, Any]], *, inline: bool) -> Any:
    import tomlkit

    listed = tomlkit.array() if inline else tomlkit.aot()
    for entry in entries:
        table = tomlkit.inline_table() if inline else tomlkit.table()
        table.update(entry)
        listed.append(table)
    return listed


def dumps(job: Job, trade: Trade | None = None) -> str:
    """A job as the text of a job file; reading it back in the same words gives an equal job."""
    import tomlkit

    data = job.model_dump(mode="python", exclude_none=True, exclude=set(NOT_IN_THE_FILE))
    for table in data["answers"].values():
        for name, answer in table.items():
            extra = {k: v for k, v in answer.items() if v not in ("", None)}
            table[name] = extra["answer"] if set(extra) == {"answer"} else extra
    done = [record.model_dump(exclude_defaults=True) for record in job.done]
    data = {**data, "done": done} if done else {k: v for k, v in data.items() if k != "done"}
    return tomlkit.dumps(in_file_words(data, job.trade if trade is None else trade))
