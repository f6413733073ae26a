"""Every kind of input that a person, a plugin's author or a page gives, and how it is tried."""

from __future__ import annotations

import copy
import json
import os
import shlex
import shutil
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

import newcomers
import toy
from click.testing import CliRunner
from visits import ORIGIN, SPOKES, Page, cart

from assess import (
    Figure,
    Inspection,
    Knowledge,
    Measurement,
    Quantity,
    Series,
    Sheet,
    knowledge_in_use,
)
from assess.cli.commands import main

from . import TESTS
from .mutations import Raw, data, plain, raw, scalar, table, text, toml

ORGAN_SHARE = 0.12
"""How many inputs meet the whole trade; the others meet the small cart, which is quicker."""
CHEAP = ("grade", "grade --json", "measure --json", "grade --all --ids", "check")
DEEP = (
    *(
        "plan",
        "plan --json",
        "plan --how --why",
        "verdict",
        "verdict --json",
        "look",
        "look --json",
    ),
    *("calendar --start 2027-01-11", "sheet", "why verdict", "done 1", "budget 500"),
    *("letter -o page.html", "report -o page.html", "card -o page.html", "form -o page.html"),
)
LINES = (
    *("", "1", "2", "9", "0", "n", "x", "?", "s", "b", "o", "v", "h", "q", "-", "/", "1/note"),
    *("/play", "/zzz", "p photo.jpg", "p /dev/null", "p", "4 mm", "1/8 in", "1e400", "14 s", "1,5"),
)


@dataclass
class Attempt:
    """What came of one input.

    Attributes:
        exit_code: of the command; of a request to the page 0, or 2 where it was refused.
        out, err: what was printed.
        error: what was raised and not caught.
        is_json: whether the output has to be JSON.
        said: a promise that was broken although the command ended well.
        command: what can be repeated with the real command, if anything.
    """

    exit_code: int
    out: str = ""
    err: str = ""
    error: BaseException | None = None
    is_json: bool = False
    said: str = ""
    command: tuple[str, ...] = ()


@dataclass(frozen=True)
class Bench:
    """Where one input is tried: an empty folder, and chance."""

    folder: Path
    rng: Random
    kept: dict[str, str] = field(default_factory=dict)
    """What the input consists of besides files, for whoever looks at it later."""

    def write(self, name: str, content: bytes | str) -> Path:
        """A file of the input."""
        path = self.folder / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return path


@contextmanager
def using(knowledge: Knowledge | None, folder: Path) -> Iterator[None]:
    """Commands use this knowledge, the installed plugins' when None, and start in this folder."""
    before = Path.cwd()
    os.chdir(folder)
    try:
        if knowledge is None:
            yield
        else:
            with patch("assess.plugin.registry._gathered", lambda *_: knowledge):
                yield
    finally:
        os.chdir(before)


def called(
    bench: Bench, knowledge: Knowledge | None, arguments: list[str], typed: str | None = None
) -> Attempt:
    """The command, in this process."""
    bench.kept["command"] = shlex.join(["assess", *arguments])
    if typed is not None:
        bench.kept["typed"] = typed
    with using(knowledge, bench.folder):
        done = CliRunner().invoke(main, arguments, input=typed)
    raised = None if isinstance(done.exception, SystemExit) else done.exception
    repeatable = tuple(arguments) if knowledge is None and typed is None else ()
    is_json = "--json" in arguments
    return Attempt(done.exit_code, done.stdout, done.stderr, raised, is_json, command=repeatable)


@cache
def organ() -> Knowledge:
    """The knowledge of the installed plugins."""
    return knowledge_in_use()


@cache
def small_cart() -> Knowledge:
    """The cart, with a survey."""
    return cart()


def _knowledge(rng: Random) -> Knowledge | None:
    """The cart, or None for the installed plugins."""
    return None if rng.random() < ORGAN_SHARE else small_cart()


@cache
def _fixtures() -> tuple[tuple[str, dict[str, Any]], ...]:
    files = sorted((TESTS.parent / "fixtures").glob("*.toml"))
    return tuple((f.read_text("utf-8"), tomllib.loads(f.read_text("utf-8"))) for f in files)


def _answers(rng: Random, knowledge: Knowledge) -> dict[str, dict[str, Any]]:
    answers: dict[str, dict[str, Any]] = {}
    for criterion in knowledge.criteria.values():
        if rng.random() < 0.5:
            subsystem, _, name = criterion.id.partition(".")
            word: Any = rng.choice(criterion.outcomes).label
            if criterion.unit is not None:
                word = f"{rng.choice((0, 1, 3, 8, 20))} {criterion.unit}"
            if rng.random() < 0.2:
                word = {"answer": word, "note": "as seen", "date": Raw("2026-10-14")}
            answers.setdefault(subsystem, {})[name] = word
    return answers


def sound_job(rng: Random) -> dict[str, Any]:
    """A sound job about the cart."""
    return {
        "format": 1,
        "title": "Cart of the bakery",
        "instrument": {"features": {"brake": True, "tyre": "rubber"}, "facts": {"spokes": 12}},
        "owner": {"wish": rng.choice(("working", "full", "stabilise")), "ceiling": 400},
        "history": {
            "rolls": "with faults",
            "used": "weekly",
            "overhaul": [{"year": 2010, "how_far": "working", "subsystem": "wheels"}],
            "complaint": [{"symptom": "wheels.wobbles", "words": "in the yard"}],
        },
        "answers": _answers(rng, small_cart()),
        "done": [{"step": "wheels.new_spokes", "note": "ash"}],
    }


def _command(rng: Random, knowledge: Knowledge | None) -> list[str]:
    deep = rng.random() < (0.1 if knowledge is None else 0.3)
    name, *options = rng.choice(DEEP if deep else CHEAP).split()
    return [name, "job.toml", *options]


def job_file(bench: Bench) -> Attempt:
    """A job file with something wrong in it."""
    rng = bench.rng
    knowledge = _knowledge(rng)
    if knowledge is None:
        written, given = rng.choice(_fixtures())
        changed = text(rng, written) if rng.random() < 0.4 else toml(data(rng, given))
    else:
        changed = toml(data(rng, sound_job(rng)))
        changed = text(rng, changed) if rng.random() < 0.25 else changed
    bench.write("job.toml", raw(rng, changed))
    return called(bench, knowledge, _command(rng, knowledge))


@cache
def _surveys() -> tuple[tuple[str, str], ...]:
    fixtures = TESTS.parent / "fixtures"
    return (
        ("reeds.reeds", (fixtures / "tight_budget_reeds.csv").read_text("utf-8")),
        ("action.keys", (fixtures / "tight_budget_keys.csv").read_text("utf-8")),
    )


def _spokes(rng: Random) -> str:
    rows = [
        f"{spoke},{wheel},{rng.choice(('firm', 'loose', ''))},{rng.choice((300, 301.5, ''))},"
        for wheel in ("left", "right")
        for spoke in rng.sample("1234", rng.randint(1, 4))
    ]
    return "\n".join([",".join(str(c["id"]) for c in SPOKES["columns"]), *rows, ""])  # type: ignore[attr-defined]


def survey(bench: Bench) -> Attempt:
    """A survey with something wrong in it, or a path that leads elsewhere."""
    rng = bench.rng
    knowledge = _knowledge(rng)
    name, written = ("wheels.spokes", _spokes(rng))
    if knowledge is None:
        name, written = rng.choice(_surveys())
    bench.write("survey.csv", raw(rng, table(rng, written)))
    path = "survey.csv"
    if rng.random() < 0.1:
        path = rng.choice(
            ("..", ".", "", "gone.csv", "/dev/null", "/etc/passwd", "a\0b", "x" * 300)
        )
    if rng.random() < 0.005:
        os.mkfifo(bench.folder / "fifo.csv")
        path = "fifo.csv"
    bench.write("job.toml", toml({"format": 1, "surveys": {name: path}}))
    command = rng.choice(("measure --json", "measure", "grade", "check", "sheet")).split()
    return called(bench, knowledge, [command[0], "job.toml", *command[1:]])


@cache
def _profile() -> dict[str, Any]:
    written = (TESTS.parent / "assess" / "job" / "workshop.toml").read_text("utf-8")
    own = {
        "hours": {
            "wheels.new_spokes": [1, 2, 3],
            "find wobbles": [1, 1, 2],
            "box.patch": [0, 1, 1],
        },
        "prices": {"wheels.spoke": 3.5},
        "lead_days": {"wheels.axle": 10},
        "days_off": ["2027-01-01", "12-24"],
        "tools": [],
        "care": {"state_persistence": 0.8, "rare": 0.1},
    }
    return {**tomllib.loads(written), **own}


def profile(bench: Bench) -> Attempt:
    """A workshop profile with something wrong in it."""
    rng = bench.rng
    given = _profile()
    if rng.random() < 0.5:
        given = {k: v for k, v in given.items() if rng.random() < 0.4}
    changed = toml(data(rng, given))
    if rng.random() < 0.15:
        changed = text(rng, changed)
    bench.write("workshop.toml", raw(rng, changed))
    bench.write("job.toml", toml(sound_job(rng)))
    command = rng.choice(("grade", "plan --json", "plan", "verdict", "verdict --json", *DEEP))
    name, *options = command.split()
    if rng.random() < 0.3:
        return called(bench, small_cart(), ["check", "--workshop", "workshop.toml"])
    return called(bench, small_cart(), [name, "job.toml", *options])


GIVEN: dict[str, tuple[type[Any], dict[str, Any]]] = {
    "measure": (
        Measurement,
        {
            **{"id": "glow", "title": "Glow", "unit": "mm", "formula": "sum", "source": "none"},
            **{"value": 3.0, "sd": 0.1, "inputs": [["height", "3 mm"]], "says": "It glows."},
            **{"wants": [], "which": ["1"]},
        },
    ),
    "quantities": (Quantity, {"repair": "mend", "material": "wire", "amount": 2.0, "says": "2 m"}),
    "sheets": (
        Sheet,
        {"id": "cut", "title": "Cut", "columns": ["a", "b"], "rows": [["1", "2"]], "notes": ["x"]},
    ),
    "figures": (
        Figure,
        {
            **{"id": "plot", "title": "Plot", "x": "x", "y": "y", "says": "It rises."},
            "series": [{"name": "line", "points": [[0.0, 1.0], [1.0, 2.0]]}],
        },
    ),
}
"""For each hook what it gives, and sound fields of that."""


def _hooks(rng: Random) -> dict[str, newcomers.Hook]:
    """Hooks that give something wrong."""
    hooks: dict[str, newcomers.Hook] = {}
    for name in rng.sample(sorted(GIVEN), rng.randint(1, 3)):
        kind, sound = GIVEN[name]
        fields = plain(data(rng, sound, 2))
        fields = {k: v for k, v in fields.items() if k in sound}
        if isinstance(fields.get("series"), list):
            fields["series"] = [_series(line) for line in fields["series"]]
        try:
            given = [kind(**fields)]
        except TypeError:  # A field that has no default is gone: the hook would raise so.
            given = [fields]
        hooks[name] = lambda inspection, given=given: given
    return hooks


def _series(line: Any) -> Any:
    return Series(**line) if isinstance(line, dict) and set(line) == {"name", "points"} else line


def plugin(bench: Bench) -> Attempt:
    """A newcomer's declaration with something wrong in it, beside the sound cart.

    Whatever it declares, the cart stays, and nothing is blamed on the user.
    """
    rng = bench.rng
    base = copy.deepcopy(rng.choice(_newcomers()))
    base["subsystem"]["position"] = rng.choice((-1000, 0, 100))
    changed = plain(data(rng, base, 4))
    hooks = _hooks(rng) if rng.random() < 0.4 else {}
    if hooks:
        changed = newcomers.LAMP
    bench.kept["declares"] = repr(changed)
    bench.kept["gives"] = repr({name: hook(Inspection()) for name, hook in hooks.items()})
    knowledge = newcomers.beside(_own(), newcomers.plugin(lambda: changed, **hooks))
    bench.write("job.toml", 'format = 1\n[answers.wheels]\nnoise = "silent"\n')
    command = [name for name in _command(rng, knowledge) if name != "1"]
    done = called(bench, knowledge, ["plan" if name == "done" else name for name in command])
    if "wheels" not in knowledge.subsystems:
        done.said = "the cart was knocked out"
    elif done.exit_code == 2:
        done.said = "blamed on the user"
    elif any("assess-lamp 9.9" not in str(fault) for fault in knowledge.faults):
        done.said = "not blamed on the newcomer"
    return done


@cache
def _newcomers() -> tuple[dict[str, Any], ...]:
    """Sound declarations, from a short one to those that use most of what there is."""
    carriage = {**toy.WHEELS, "survey": [SPOKES], "subsystem": {**toy.WHEELS["subsystem"]}}
    carriage["subsystem"]["id"] = "carriage"
    unit = TESTS / "packages" / "suction_unit" / "assess_suction_unit" / "unit.toml"
    return (newcomers.LAMP, toy.BOX, carriage, tomllib.loads(unit.read_text("utf-8")))


@cache
def _own() -> tuple[Any, ...]:
    return tuple(newcomers.own(toy.WHEELS, toy.TRADE))


def command_line(bench: Bench) -> Attempt:
    """Arguments that make little sense."""
    rng = bench.rng
    knowledge = _knowledge(rng)
    bench.write("job.toml", toml(sound_job(rng)) if knowledge else "format = 1\n")
    name = rng.choice([n for n in main.commands if n != "visit"])
    options = [o for p in main.commands[name].params for o in (*p.opts, *p.secondary_opts)]
    words = [*options, "job.toml", "job.toml", "gone.toml", "wheels", "verdict", "1", "2027-01-11"]
    given = ["job.toml"] if rng.random() < 0.7 else []
    for _ in range(rng.choice((0, 0, 1, 1, 2, 4))):
        word = rng.choice(words) if rng.random() < 0.7 else str(scalar(rng))[:300]
        given.insert(rng.randint(0, len(given)), word)
    given = [g for g in given if not g.startswith("/") and "\0" not in g]
    done = called(bench, knowledge, [name, *given], typed="")
    # Another option may have taken --json as its value.
    done.is_json = done.out.startswith("{")
    return done


def typed(bench: Bench) -> Attempt:
    """Lines typed to `assess ask`."""
    rng = bench.rng
    bench.write("job.toml", toml(sound_job(rng)) if rng.random() < 0.5 else "format = 1\n")
    lines = [
        rng.choice(LINES) if rng.random() < 0.6 else str(scalar(rng))[:2000]
        for _ in range(rng.randint(1, 8))
    ]
    options = rng.choice(([], [], ["--all"], ["--again"], ["--only", "wheels"], ["--from-paper"]))
    command = ["ask", "job.toml", *options, *rng.choice(([], ["--minutes", "20"]))]
    said = "\n".join(lines).encode("utf-8", "replace").decode()
    return called(bench, small_cart(), command, said)


SOUND_WORDS = {
    "wheels.play": "4 mm",
    "wheels.noise": "squeaks",
    "wheels.broken_spokes": "3/left wheel",
    "box.crack": "one",
    "works": "partly",
    "brake": "yes",
}


def _entry(rng: Random) -> tuple[str, dict[str, Any]]:
    kind = rng.choice(("answer", "answer", "tell", "fill"))
    sent: dict[str, Any] = {"id": f"{rng.getrandbits(64):016x}", "device": "device-of-this-one"}
    if kind == "fill":
        cell = {"key": {"spoke": "1", "wheel": "left"}, "column": "state", "text": "loose"}
        cells = [copy.deepcopy(cell) for _ in range(rng.randint(1, 3))]
        for each in cells:
            each["column"] = rng.choice(("state", "length", "remarks", "spoke"))
            each["text"] = rng.choice(("loose", "300", "1/8 in", "", "9" * 400, "a,b", '"'))
        return kind, sent | {"survey": "wheels.spokes", "cells": cells}
    question = rng.choice(sorted(SOUND_WORDS))
    words = rng.choice((SOUND_WORDS[question], rng.choice(LINES), str(scalar(rng))[:600]))
    more = {"question": question, "words": words}
    if kind == "answer":
        more |= rng.choice(({}, {"chosen": True}, {"was": None}, {"note": str(scalar(rng))[:100]}))
    return kind, sent | more


def visit(bench: Bench) -> Attempt:
    """Entries that a page sends, in order or not."""
    rng = bench.rng
    path = bench.write("job.toml", toml(sound_job(rng)) if rng.random() < 0.2 else "format = 1\n")
    page = Page(path)
    page.client.application.config["PROPAGATE_EXCEPTIONS"] = True
    done = Attempt(0)
    for _ in range(rng.randint(1, 3)):
        kind, sent = _entry(rng)
        if rng.random() < 0.3:
            sent = plain(data(rng, sent, 2))
        body = json.dumps(sent).encode()
        if rng.random() < 0.1:
            body = raw(rng, text(rng, body.decode()))
        bench.kept[f"entry {len(bench.kept)}"] = f"POST /{kind} {body!r}"
        try:
            answered = page.client.post(
                f"/{kind}",
                base_url=ORIGIN,
                data=body,
                headers={"Origin": ORIGIN, "Content-Type": "application/json"},
            )
        except Exception as error:
            return Attempt(1, error=error)
        refused = 400 <= answered.status_code < 500 or answered.status_code == 503
        code = 2 if refused else 0 if answered.status_code == 200 else 1
        said = answered.get_json(silent=True) or {}
        done = Attempt(code, err=ascii(said.get("message", "")) if refused else "")
    if page.get("/visit").status_code != 200:
        done.said = "the page cannot be shown afterwards"
    return done


Target = Callable[[Bench], Attempt]
TARGETS: dict[str, tuple[Target, int]] = {
    "job": (job_file, 6),
    "survey": (survey, 3),
    "profile": (profile, 3),
    "plugin": (plugin, 3),
    "command": (command_line, 3),
    "ask": (typed, 2),
    "visit": (visit, 2),
}
"""Each kind, and how many of all inputs are of it."""


def empty(folder: Path) -> None:
    """Take away what an input left."""
    for path in folder.iterdir():
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink()
