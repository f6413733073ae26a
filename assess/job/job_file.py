"""The job file: one TOML file with everything the user ever enters.

Reading checks form and types and names file, line and key of what is wrong. Writing
keeps comments and whatever else the file holds, and never leaves half a file: the new
text goes to a temporary file beside it, is flushed to the disk, and takes the old name.
"""

from __future__ import annotations

import datetime as dt
import os
import re
import tempfile
from pathlib import Path
from typing import Annotated, Any, Literal

import tomli
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from assess.base.errors import JobFileError, did_you_mean
from assess.knowledge.model_base import Scope

MOST_BYTES = 5_000_000
NOT_SEEN = "not seen"
NOT_APPLICABLE = "doesn't apply"

Weight = Annotated[int, Field(ge=0, le=3)]
AnswerText = str | float | int


class Strict(BaseModel):
    """Base of the job file's models: frozen, and strict about keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Owner(Strict):
    """What the owner wants.

    Attributes:
        wish: the fullest scope wished for.
        ceiling: the most the owner will pay.
        worth: what the owner says it is worth, in money.
        attachment: 0 none .. 3 would not part with it.
        significance: 0 none .. 3 early, rare or unaltered.
        reason_to_use: the documented reason to make a significant instrument play.
    """

    wish: Scope | None = None
    ceiling: Annotated[float, Field(ge=0)] | None = None
    worth: Annotated[float, Field(ge=0)] | None = None
    attachment: Weight | None = None
    significance: Weight | None = None
    reason_to_use: str = ""
    notes: str = ""


class Instrument(Strict):
    """The facts of one instrument: features it has or lacks, and numbers."""

    description: str = ""
    features: dict[str, bool | str] = Field(default_factory=dict)
    facts: dict[str, float | int | str] = Field(default_factory=dict)


class Answer(Strict):
    """One answer with what goes with it."""

    answer: bool | AnswerText
    note: str = ""
    date: dt.date | None = None


class Job(Strict):
    """One job file.

    ``answers`` maps subsystem to criterion to answer; answers for subsystems that are not
    installed are kept as they are. ``surveys`` maps a survey's full id, quoted since it holds
    a dot, to a CSV file beside the job file.
    """

    format: Literal[1]
    title: str = ""
    date: dt.date | None = None
    owner: Owner = Owner()
    instrument: Instrument = Instrument()
    answers: dict[str, dict[str, Answer]] = Field(default_factory=dict)
    surveys: dict[str, str] = Field(default_factory=dict)
    path: str = Field(default="", exclude=True)
    """Where it was read from, for messages; not part of the file."""
    text: str = Field(default="", exclude=True, repr=False)

    def where(self, *keys: str) -> str:
        """File, line and key of something in the file, for a message."""
        line = line_of(self.text, keys)
        place = f"{self.path or 'job'}:{line}" if line else (self.path or "job")
        return f"{place}: {'.'.join(keys)}"


def load(path: str | Path) -> Job:
    """Read a job file.

    Raises:
        JobFileError: it cannot be read, is no TOML, or holds unknown keys or wrong types;
            every fault is named with its line and key.
    """
    text = read_text(Path(path))
    return parse(text, str(path))


def read_text(path: Path) -> str:
    """The text of a job file, refusing what cannot be one."""
    try:
        if path.is_dir():
            raise JobFileError(f"{path}: is a folder, not a job file")
        if path.stat().st_size > MOST_BYTES:
            raise JobFileError(f"{path}: larger than any job file ({MOST_BYTES:,} bytes at most)")
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError as error:
        beside = path.parent.iterdir() if path.parent.is_dir() else ()
        near = [p.name for p in beside if p.suffix == (path.suffix or ".toml")]
        hint = f"; {did_you_mean(path.name, near)}" if near else ""
        raise JobFileError(f"{path}: there is no such file{hint}") from error
    except UnicodeDecodeError as error:
        raise JobFileError(f"{path}: not a text file in UTF-8 (byte {error.start})") from error
    except OSError as error:
        raise JobFileError(f"{path}: cannot be read: {error.strerror}") from error


def parse(text: str, path: str = "") -> Job:
    """Check the text of a job file; see :func:`load`."""
    name = path or "job"
    try:
        data = tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        raise JobFileError(f"{name}: not valid TOML: {error}") from error
    if "format" not in data:
        raise JobFileError(f'{name}: no "format = 1" in it, so it is not a job file')
    faults = [*_unknown_keys(data, text, name), *_shorthand(data, text, name)]
    if faults:
        raise JobFileError("\n".join(faults))
    try:
        return Job.model_validate({**data, "path": path, "text": text})
    except ValidationError as error:
        raise JobFileError("\n".join(_located(error, text, name))) from None


def _unknown_keys(data: dict[str, Any], text: str, name: str) -> list[str]:
    faults = []
    tables: list[tuple[tuple[str, ...], Any, type[Strict]]] = [
        ((), data, Job),
        (("owner",), data.get("owner"), Owner),
        (("instrument",), data.get("instrument"), Instrument),
    ]
    for prefix, table, model in tables:
        if not isinstance(table, dict):
            continue
        known = [key for key in model.model_fields if key not in ("path", "text")]
        for key in table:
            if key not in known:
                keys = (*prefix, key)
                faults.append(f"{_at(name, text, keys)}: unknown key; {did_you_mean(key, known)}")
    return faults


def _shorthand(data: dict[str, Any], text: str, name: str) -> list[str]:
    """Turn ``hold = "14 s"`` into ``hold = {answer = "14 s"}``, naming what is no answer."""
    answers = data.get("answers")
    if not isinstance(answers, dict):
        return []
    faults = []
    for subsystem, table in answers.items():
        if not isinstance(table, dict):
            faults.append(f"{_at(name, text, ('answers', subsystem))}: expected a table of answers")
            continue
        for criterion, value in table.items():
            if isinstance(value, str | int | float):
                table[criterion] = {"answer": value}
            elif not isinstance(value, dict) or "answer" not in value:
                faults.append(
                    f"{_at(name, text, ('answers', subsystem, criterion))}: an answer is text, "
                    'a number, or a table such as { answer = "...", note = "..." }'
                )
    return faults


def _located(error: ValidationError, text: str, name: str) -> list[str]:
    lines = []
    for item in error.errors(include_url=False):
        keys = tuple(str(k) for k in item["loc"] if not _is_type_name(k))
        given = item.get("input")
        shown = f" (given: {given!r})" if isinstance(given, str | int | float | bool) else ""
        message = item["msg"].removeprefix("Value error, ")
        lines.append(f"{_at(name, text, keys)}: {message}{shown}")
    return list(dict.fromkeys(lines))


def _is_type_name(key: int | str) -> bool:
    return key in ("bool", "str", "float", "int")


def _at(name: str, text: str, keys: tuple[str, ...]) -> str:
    line = line_of(text, keys)
    return f"{name}:{line}: {'.'.join(keys)}" if line else f"{name}: {'.'.join(keys)}"


def line_of(text: str, keys: tuple[str, ...]) -> int | None:
    r"""The line, from 1, on which a key of a TOML text stands, where it can be told.

    >>> line_of("format = 1\n[owner]\nwish = 'full'", ("owner", "wish"))
    3
    """
    if not keys:
        return None
    table: tuple[str, ...] = ()
    found = None
    for number, line in enumerate(text.splitlines(), 1):
        header = re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line)
        if header:
            table = tuple(part.strip().strip("\"'") for part in header[1].split("."))
            if table == keys:
                return number
            continue
        assignment = re.match(r"\s*([\w.\"'-]+)\s*=", line)
        if assignment:
            path = table + tuple(part.strip("\"'") for part in assignment[1].split("."))
            if path == keys:
                return number
            if path == keys[: len(path)]:
                found = number
    return found


def save_text(path: Path, text: str) -> None:
    """Write a file whole or not at all.

    Raises:
        JobFileError: it cannot be written; the old file is untouched.
    """
    path = path.resolve()
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise JobFileError(f"{path}: cannot be written: {error.strerror}") from error
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, path.stat().st_mode & 0o777 if path.exists() else 0o644)
        os.replace(temporary, path)
    except OSError as error:
        raise JobFileError(f"{path}: cannot be written: {error.strerror}") from error
    finally:
        if os.path.exists(temporary):
            os.unlink(temporary)


def with_answer(text: str, criterion: str, answer: AnswerText, note: str = "") -> str:
    """The text of a job file with one answer put in or replaced, all else kept.

    Args:
        text: the file as it is.
        criterion: full id, such as ``wheels.play``.
        answer: the answer as it will stand in the file.
        note: kept beside the answer when not empty; an older note stays otherwise.
    """
    import tomlkit

    document = tomlkit.parse(text)
    subsystem, name = criterion.split(".")
    if "answers" not in document:
        document["answers"] = tomlkit.table(is_super_table=True)
    answers = document["answers"]
    if subsystem not in answers:
        answers[subsystem] = tomlkit.table()
    table = answers[subsystem]
    old = table.get(name)
    if isinstance(old, dict):
        old["answer"] = answer
        if note:
            old["note"] = note
    elif note:
        entry = tomlkit.inline_table()
        entry.update({"answer": answer, "note": note})
        table[name] = entry
    else:
        table[name] = answer
    return tomlkit.dumps(document)


def dumps(job: Job) -> str:
    """A job as the text of a job file; reading it back gives an equal job."""
    import tomlkit

    data = job.model_dump(mode="python", exclude_none=True, exclude={"path", "text"})
    for table in data["answers"].values():
        for name, answer in table.items():
            extra = {k: v for k, v in answer.items() if v not in ("", None)}
            table[name] = extra["answer"] if set(extra) == {"answer"} else extra
    return tomlkit.dumps(data)
