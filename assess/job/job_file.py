"""The job file: one TOML file with everything the user ever enters.

It is written in the words of its trade (:mod:`assess.knowledge.trade`): the table about the
object and the ids of the scopes have the trade's names, which are turned into the engine's own
when the file is read. Reading checks form and types and names file, line and key of what is
wrong. Writing keeps comments and whatever else the file holds.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

import tomli
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from assess.base.errors import JobFileError, did_you_mean
from assess.base.text_files import line_of, read_text
from assess.base.validation import problems
from assess.knowledge.model_base import LocalId, Scope
from assess.knowledge.symptoms import Course
from assess.knowledge.trade import NEUTRAL, Trade
from assess.plugin.registry import knowledge_in_use

NOT_SEEN = "not seen"
NOT_APPLICABLE = "doesn't apply"
WHOLE = "whole"
"""What a photograph shows that is of no part alone."""
NO_NOTE = "-"
"""A note that takes the older note away."""

Year = Annotated[int, Field(ge=1500, le=9999)]
Weight = Annotated[int, Field(ge=0, le=3)]
AnswerText = str | float | int
Table = dict[str, Any]


class Strict(BaseModel):
    """Base of the job file's models: frozen, and strict about keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Owner(Strict):
    """What the owner wants.

    Attributes:
        wish: how far the owner wants to go at most.
        keeps: whether the owner wants to keep it.
        ceiling: the most the owner will pay.
        worth: what the owner says it is worth, in money.
        attachment: 0 none .. 3 would not part with it.
        significance: 0 none .. 3 early, rare or unaltered.
        reason_to_use: the documented reason to bring a significant object back into use.
        name, address: to whom the letter goes, and the lines of the address.
        salutation: the first line of the letter; left out, it is made from the name.
    """

    wish: Scope | None = None
    keeps: bool | None = None
    ceiling: Annotated[float, Field(ge=0)] | None = None
    worth: Annotated[float, Field(ge=0)] | None = None
    attachment: Weight | None = None
    significance: Weight | None = None
    reason_to_use: str = ""
    notes: str = ""
    name: str = ""
    address: tuple[str, ...] = ()
    salutation: str = ""


class Unit(Strict):
    """One more unit of a part of which the object has several, besides the first.

    Attributes:
        id: what rows about it end with: ``hub-rear`` is the hub of the unit ``rear``.
        kind: the declared kind; may be left out where only one is declared.
        title: what it is called.
        stands: on the unit before it, or apart from the others.
    """

    id: LocalId
    kind: str = ""
    title: str = ""
    stands: Literal["on the one before", "apart"] = "on the one before"


class Identity(Strict):
    """Which object it is.

    Attributes:
        maker, model, serial: as it says itself, or as somebody has found out.
        year: when it was made.
        label: the words on its label, plate or stamp, as they stand there.
        provenance: who had it before, and how that is known.
    """

    maker: str = ""
    model: str = ""
    serial: str | int = ""
    year: Year | None = None
    label: str = ""
    provenance: str = ""


class Instrument(Strict):
    """The object of a job: further units of its parts, features it has or lacks, and numbers."""

    description: str = ""
    identity: Identity = Identity()
    unit: tuple[Unit, ...] = ()
    features: dict[str, bool | str] = Field(default_factory=dict)
    facts: dict[str, float | int | str] = Field(default_factory=dict)


class Complaint(Strict):
    """Something that is wrong with the object, as it was told.

    Attributes:
        symptom: full id of a declared symptom.
        words: how it was put.
        came: suddenly or slowly.
        since: the year.
    """

    symptom: str
    words: str = ""
    came: Course | None = None
    since: Year | None = None


class Overhaul(Strict):
    """Earlier work: in which year, how far, and on which subsystem; left out, on all of it."""

    year: Year
    how_far: Scope = "full"
    subsystem: str = ""


class History(Strict):
    """What is told of the object before anyone looks at it; all of it is evidence.

    Attributes:
        works: whether it works; in the file the key is the trade's word for that.
        used: how often it is used.
        unused_since: the year since which it has not been used.
        now_at: where it is now; from the workshop it is not fetched again.
        opened: places that are open already: they are closed, but not opened.
        complaint: what is wrong with it.
        overhaul: earlier work.
    """

    works: Literal["well", "with faults", "partly", "not at all"] | None = None
    used: Literal["weekly", "now and then", "not used"] | None = None
    unused_since: Year | None = None
    now_at: Literal["the owner's", "the workshop", "elsewhere"] | None = None
    opened: tuple[str, ...] = ()
    complaint: tuple[Complaint, ...] = ()
    overhaul: tuple[Overhaul, ...] = ()


class Answer(Strict):
    """One answer with what goes with it."""

    answer: bool | AnswerText
    note: str = ""
    date: dt.date | None = None


class DoneRecord(Strict):
    """One step of the plan that was done, or a test that was tried.

    Attributes:
        step: as it stands in a plan: ``wheels.grease_hub`` or ``open wheels.axle``.
        date: the day.
        reading: what a test read.
        failed: a test that did not pass; it stays open.
        note: anything else.
    """

    step: str
    date: dt.date | None = None
    reading: AnswerText = ""
    failed: bool = False
    note: str = ""


class Job(Strict):
    """One job file, in the engine's own words.

    ``answers`` maps subsystem to criterion to answer; answers for subsystems that are not
    installed are kept as they are. ``surveys`` maps a survey's full id, quoted since it holds
    a dot, to a CSV file beside the job file; ``photographs`` maps a criterion's full id, or
    ``whole``, to files beside the job file; ``done`` are the records of work done.
    """

    format: Literal[1]
    title: str = ""
    date: dt.date | None = None
    owner: Owner = Owner()
    instrument: Instrument = Instrument()
    history: History = History()
    answers: dict[str, dict[str, Answer]] = Field(default_factory=dict)
    surveys: dict[str, str] = Field(default_factory=dict)
    photographs: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    done: tuple[DoneRecord, ...] = ()
    path: str = Field(default="", exclude=True)
    """Where it was read from, for messages; not part of the file."""
    text: str = Field(default="", exclude=True, repr=False)
    trade: Trade = Field(default=NEUTRAL, exclude=True, repr=False)
    """The words that the file is written in."""

    def where(self, *keys: str) -> str:
        """File, line and key of something in the file, for a message.

        Args:
            keys: the path to it, in the engine's own words.
        """
        return _at(self.path or "job", self.text, _in_trade_words(keys, self.trade))


NOT_IN_THE_FILE = ("path", "text", "trade")


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
    try:
        data: Table = tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        raise JobFileError(f"{name}: not valid TOML: {error}") from error
    if "format" not in data:
        raise JobFileError(f'{name}: no "format = 1" in it, so it is not a job file')
    faults = _unknown_keys(data, text, name, trade)
    faults += _unknown_scopes(data, text, name, trade)
    answers, more = _full_answers(data.get("answers"), text, name)
    faults += more
    if faults:
        raise JobFileError("\n".join(faults))
    own = _in_own_words({**data, **({"answers": answers} if "answers" in data else {})}, trade)
    try:
        return Job.model_validate({**own, "path": path, "text": text, "trade": trade})
    except ValidationError as error:
        raise JobFileError("\n".join(_located(error, text, name, trade))) from None


def _key_names(trade: Trade) -> dict[tuple[str, ...], str]:
    """The engine's own keys that have another name in the file, and that name."""
    return {
        ("instrument",): trade.table,
        ("owner", "reason_to_use"): trade.reason_key,
        ("history", "works"): trade.works_key,
    }


def _in_trade_words(keys: tuple[str, ...], trade: Trade) -> tuple[str, ...]:
    names = _key_names(trade)
    return tuple(names.get(keys[: n + 1], key) for n, key in enumerate(keys))


def _in_own_words(data: Table, trade: Trade) -> Table:
    """The data of a file with the engine's own keys and scopes; the argument is not changed."""
    own_name = {(keys[:-1], name): keys[-1] for keys, name in _key_names(trade).items()}
    own = {own_name.get(((), key), key): value for key, value in data.items()}
    for table in ("owner", "history"):
        if isinstance(own.get(table), dict):
            own[table] = {own_name.get(((table,), k), k): v for k, v in own[table].items()}
    return _with_scopes(own, trade.scope_of)


def _in_file_words(data: Table, trade: Trade) -> Table:
    """The other way round: data of a job as it is written to a file."""
    names = _key_names(trade)
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


def _unknown_keys(data: Table, text: str, name: str, trade: Trade) -> list[str]:
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
        known = [_in_trade_words((*prefix, key), trade)[-1] for key in fields]
        for key in table:
            if key not in known:
                where = _at(name, text, (*_in_trade_words(prefix, trade), key))
                faults.append(f"{where}: unknown key; {did_you_mean(key, known)}")
    return faults


def _inner(table: Any, key: str) -> Any:
    return table.get(key) if isinstance(table, dict) else None


def _unknown_scopes(data: Table, text: str, name: str, trade: Trade) -> list[str]:
    """Wishes and earlier work that name no scope."""
    owner, history = data.get("owner"), data.get("history")
    given: list[tuple[tuple[str, ...], Any]] = []
    if isinstance(owner, dict) and "wish" in owner:
        given.append((("owner", "wish"), owner["wish"]))
    works = history.get("overhaul") if isinstance(history, dict) else None
    for work in works if isinstance(works, list) else ():
        if isinstance(work, dict) and "how_far" in work:
            given.append((("history", "overhaul", "how_far"), work["how_far"]))
    return [
        f"{_at(name, text, keys)}: no such {keys[-1].replace('_', ' ')} {scope!r}; "
        f"{did_you_mean(str(scope), trade.scope_ids())}"
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
            where = _at(name, text, ("answers", subsystem))
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
                    f"{_at(name, text, ('answers', subsystem, criterion))}: an answer is text, "
                    'a number, or a table such as { answer = "...", note = "..." }'
                )
    return full, faults


def _located(error: ValidationError, text: str, name: str, trade: Trade) -> list[str]:
    lines = []
    for location, words in problems(error, Job):
        keys = tuple(str(k) for k in location if not _is_type_name(k))
        lines.append(f"{_at(name, text, _in_trade_words(keys, trade))}: {words}")
    return list(dict.fromkeys(lines))


def _is_type_name(key: int | str) -> bool:
    return key in ("bool", "str", "float", "int")


def _at(name: str, text: str, keys: tuple[str, ...]) -> str:
    line = line_of(text, keys)
    return f"{name}:{line}: {'.'.join(keys)}" if line else f"{name}: {'.'.join(keys)}"


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
    if "answers" not in document:
        document["answers"] = tomlkit.table(is_super_table=True)
    answers = document["answers"]
    if subsystem not in answers:
        answers[subsystem] = tomlkit.table()
    table = answers[subsystem]
    old = table.get(name)
    if isinstance(old, dict) and note == NO_NOTE:
        old.pop("note", None)
        old["answer"] = answer
    elif isinstance(old, dict):
        old["answer"] = answer
        if note:
            old["note"] = note
    elif note == NO_NOTE:
        table[name] = answer
    elif note:
        entry = tomlkit.inline_table()
        entry.update({"answer": answer, "note": note})
        table[name] = entry
    else:
        table[name] = answer
    return tomlkit.dumps(document)


def with_value(text: str, keys: tuple[str, ...], value: Any) -> str:
    """The text of a job file with one value put in or replaced, all else kept.

    Args:
        text: the file as it is.
        keys: tables and key, in the words of the file.
        value: text, a number or true or false.
    """
    import tomlkit

    document = tomlkit.parse(text)
    table: Any = document
    for key in keys[:-1]:
        if key not in table:
            table[key] = tomlkit.table()
        table = table[key]
    table[keys[-1]] = int(value) if isinstance(value, float) and value.is_integer() else value
    return tomlkit.dumps(document)


def with_photograph(text: str, about: str, file: str) -> str:
    """The text of a job file with one more photograph named, all else kept.

    Args:
        text: the file as it is.
        about: full id of the criterion that it shows, or ``whole``.
        file: where it lies, seen from the job file.
    """
    import tomlkit

    document = tomlkit.parse(text)
    if "photographs" not in document:
        document["photographs"] = tomlkit.table()
    files = document["photographs"].setdefault(about, tomlkit.array())
    if file not in files:
        files.append(file)
    return tomlkit.dumps(document)


def with_history(text: str, changed: Mapping[str, Any], trade: Trade) -> str:
    """The text of a job file with something put in that is told, all else kept.

    Args:
        text: the file as it is.
        changed: fields of :class:`History`, in the engine's own words.
        trade: the words that the file is written in.
    """
    import tomlkit

    document = tomlkit.parse(text)
    if "history" not in document:
        document["history"] = tomlkit.table()
    for key, value in changed.items():
        name = _key_names(trade).get(("history", key), key)
        if isinstance(value, list):
            entries = tomlkit.aot()
            for entry in value:
                table = tomlkit.table()
                table.update(entry)
                entries.append(table)
            document["history"][name] = entries
        else:
            document["history"][name] = value
    return tomlkit.dumps(document)


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
    return tomlkit.dumps(_in_file_words(data, job.trade if trade is None else trade))
