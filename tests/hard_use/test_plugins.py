"""A zoo of plugins that go wrong: each is named with package, version and hook; others go on."""

from __future__ import annotations

import copy
import io
import itertools
import json
import locale
import math
import os
import signal
import subprocess
import sys
import threading
import time
import warnings
from collections.abc import Callable, Iterator
from importlib.metadata import EntryPoint
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import toy
from click.testing import CliRunner, Result
from conftest import ROOT, Run
from newcomers import LAMP, NEWCOMER, Hook, beside, own, plugin

from assess import (
    Figure,
    Inspection,
    JobFileError,
    Knowledge,
    Measurement,
    Quantity,
    Series,
    Sheet,
    UserError,
    WorkshopError,
    assess,
    hookimpl,
)
from assess.cli.commands import main
from assess.cli.printing import harmless_streams
from assess.job.workshop_profile import load_workshop
from assess.knowledge.declaration import Declaration
from assess.plugin.isolation import HookError
from assess.plugin.registry import declared_by, find_plugins, gather
from assess.visit.session import VisitSession


@pytest.fixture(scope="module")
def cart() -> list[Any]:
    return own()


@pytest.fixture
def call(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """Run a command with some knowledge on a job that says little."""
    job = tmp_path / "job.toml"
    job.write_text('format = 1\n[answers.lamp]\nstate = "bad"\n[answers.box]\ncrack = "none"\n')

    def run(knowledge: Knowledge, command: str, *options: str) -> Result:
        monkeypatch.setattr("assess.plugin.registry._gathered", lambda *_: knowledge)
        needed = {"report": ["-o", str(tmp_path / "report.html")]}.get(command, [])
        return CliRunner().invoke(main, [command, str(job), *needed, *options])

    return run


def strict_json(text: str) -> Any:
    """What a strict reader of JSON makes of a text."""

    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is not JSON")

    return json.loads(text, parse_constant=refuse)


def glow(**changes: Any) -> Measurement:
    fields = {"id": "glow", "title": "Glow", "unit": "mm", "formula": "none", "source": "none"}
    return Measurement(**{**fields, "value": 1.0, **changes})


def plot(*points: Any, **changes: Any) -> Figure:
    fields = {"id": "plot", "title": "Plot", "x": "x", "y": "y"}
    return Figure(**{**fields, "series": (Series("line", points),), **changes})


def raising(error: BaseException) -> Hook:
    def hook(inspection: Inspection) -> Any:
        raise error

    return hook


def giving(*things: Any) -> Hook:
    return lambda inspection: list(things)


class CannotBeTold(Exception):  # noqa: N818
    """An exception whose text raises as well."""

    def __str__(self) -> str:
        raise RuntimeError("no words")


class CannotBeShown:
    """Something that raises when it is shown."""

    def __repr__(self) -> str:
        raise RuntimeError("no words")


def without_a_title() -> Measurement:
    broken = glow()
    object.__delattr__(broken, "title")
    return broken


FIELDS: dict[str, tuple[str, Hook, str]] = {
    "title that is a number": ("measure", giving(glow(title=7)), "the title of 'glow' is 7"),
    "no unit": ("measure", giving(glow(unit=None)), "the unit of 'glow' is None"),
    "unit of another kind": ("measure", giving(glow(unit="s")), "the unit of 'glow': \"s\""),
    "fact of another kind": (
        "measure", giving(glow(id="bulbs")), "the unit of 'bulbs': \"mm\" is a unit of length"),
    "uncertainty in words": ("measure", giving(glow(sd="x")), "the sd of 'glow' is 'x'"),
    "uncertainty that is none": ("measure", giving(glow(sd=math.nan)), "the sd of 'glow' is nan"),
    "uncertainty below zero": ("measure", giving(glow(sd=-1.0)), "the sd of 'glow' is -1"),
    "true as a number": ("measure", giving(glow(value=True)), "the value of 'glow' is True"),
    "infinite": ("measure", giving(glow(value=-math.inf)), "the value of 'glow' is -inf"),
    "400 digits": ("measure", giving(glow(value=10**400)), "the value of 'glow' is 1000"),
    "6000 digits": ("measure", giving(glow(value=10**6000)), "measure: "),
    "beyond reason": ("measure", giving(glow(value=1e308)), "1e+308, beyond 1e+15"),
    "out of range": ("measure", giving(glow(value=101.0)), "only 0 to 100 is possible"),
    "inputs as one text": ("measure", giving(glow(inputs="ab")), "the inputs of 'glow' is 'ab'"),
    "inputs that are numbers": (
        "measure", giving(glow(inputs=(("a", 3),))), "the inputs[0][1] of 'glow' is 3"),
    "missing as one text": ("measure", giving(glow(wants="x")), "the wants of 'glow' is 'x'"),
    "no sentence": ("measure", giving(glow(says=None)), "the says of 'glow' is None"),
    "half a character": ("measure", giving(glow(says="\ud800")), "half a character"),
    "an id of two parts": ("measure", giving(glow(id="a.b")), "'a.b' is not an id"),
    "an id that is a number": ("measure", giving(glow(id=3)), "the id of a Measurement is 3"),
    "a field taken away": ("measure", giving(without_a_title()), "AttributeError: "),
    "a value that cannot be shown": (
        "measure", giving(glow(value=CannotBeShown())), "the value of 'glow' is <CannotBeShown"),
    "one id twice": ("measure", giving(glow(), glow()), "gives the id 'glow' twice"),
    "no end": (
        "measure",
        lambda inspection: (glow(id=f"g{n}") for n in itertools.count()),
        "measure gives more than 10000 results",
    ),
    "a number": ("measure", lambda inspection: 3, "TypeError: 'int' object is not iterable"),
    "amount in words": (
        "quantities", giving(Quantity("mend", "wire", "3")), "the amount of 'mend' is '3'"),
    "amount that is none": (
        "quantities", giving(Quantity("mend", "wire", math.nan)), "the amount of 'mend' is nan"),
    "amount beyond reason": (
        "quantities", giving(Quantity("mend", "wire", 1e300)), "1e+300, beyond 1e+15"),
    "repair that is a list": (
        "quantities", giving(Quantity([], "wire", 1.0)), "the repair of a Quantity is ()"),
    "cells that are numbers": (
        "sheets", giving(Sheet("cut", "Cut", ("a",), ((1,),))), "the rows[0][0] of 'cut' is 1"),
    "rows of two lengths": (
        "sheets",
        giving(Sheet("cut", "Cut", ("a", "b"), (("1", "2"), ("1",)))),
        "'cut': a row has 1 cells, but there are 2 columns",
    ),
    "notes that are a number": (
        "sheets", giving(Sheet("cut", "Cut", ("a",), (), 3)), "the notes of 'cut' is 3"),
    "a series that is none": (
        "figures", giving(plot(series=(3,))), "the series[0] of 'plot' is 3, expected an instance"),
    "points that are none": (
        "figures", giving(plot((0.0, math.nan))), "the series[0].points[0][1] of 'plot' is nan"),
    "points of three": (
        "figures", giving(plot((0.0, 1.0, 2.0))), "the series[0].points[0] of 'plot': Tuple"),
    "points in words": ("figures", giving(plot(("a", "b"))), "points[0][0] of 'plot' is 'a'"),
    "points beyond reason": ("figures", giving(plot((-1e308, 1e308))), "-1e+308, beyond 1e+15"),
    "no title": ("figures", giving(plot(title=None)), "the title of 'plot' is None"),
}  # fmt: skip
RAISED: dict[str, tuple[str, Hook, str]] = {
    "leaves the program": ("measure", raising(SystemExit(0)), "SystemExit: 0"),
    "leaves a generator": ("quantities", raising(GeneratorExit()), "GeneratorExit"),
    "cannot be told": ("measure", raising(CannotBeTold()), "CannotBeTold: (its message cannot"),
    "speaks to the terminal": ("measure", raising(ValueError("\x1b[2Jx")), r"ValueError: \x1b[2Jx"),
    "speaks without end": ("sheets", raising(ValueError("x" * 9999)), "ValueError: " + "x" * 400),
    "blames the command line": ("measure", raising(UserError("odd")), "measure: odd"),
    "blames the workshop": ("sheets", raising(WorkshopError("odd")), "sheets: odd"),
    "reads what is typed": ("measure", lambda inspection: [input()], "EOFError"),
}
ZOO = FIELDS | RAISED


class LiesOfItsClass(Exception):  # noqa: N818
    """An exception that raises when it is asked what it is."""

    @property
    def __class__(self) -> Any:
        raise RuntimeError("no class")


ZOO |= {
    "lies of its class": ("measure", raising(LiesOfItsClass("odd")), "LiesOfItsClass: odd"),
    "a text without end": (
        "measure", giving(glow(says="x" * 100_000)), "'glow': a text of 100,000 letters"),
    "a message of megabytes": (
        "measure", raising(ValueError("x\n" * 5_000_000)), "ValueError: x"),
}  # fmt: skip


@pytest.mark.parametrize("kind", ZOO)
def test_what_a_hook_gives_is_laid_to_the_plugin(
    cart: list[Any], call: Callable[..., Result], kind: str
) -> None:
    hook, does, words = ZOO[kind]
    knowledge = beside(cart, plugin(**{hook: does}))
    assert knowledge.faults == ()
    command = "sheet" if hook == "sheets" else "measure"
    shown = call(knowledge, command, "--json")
    assert shown.exit_code == 0, shown.output
    (first, *_) = warnings = strict_json(shown.stdout)["warnings"]
    assert first.startswith(f"plugin lamp (assess-lamp 9.9), {hook}: "), first
    assert words in first
    assert all(len(warning) < 600 and warning.isprintable() for warning in warnings)
    assert call(knowledge, command, "--strict").exit_code == 3
    assert call(knowledge, "report").exit_code == 0
    graded = {s["id"]: s for s in strict_json(call(knowledge, "grade", "--json").stdout)["data"][
        "subsystems"]}  # fmt: skip
    assert graded["box"]["coverage"] > 0
    assert graded["lamp"]["assessed"] is (hook in ("sheets", "figures"))


def test_a_user_mistake_that_a_newcomer_finds_says_who_found_it(
    cart: list[Any], call: Callable[..., Result]
) -> None:
    shown = call(beside(cart, plugin(measure=raising(JobFileError("row 3")))), "grade")
    assert shown.exit_code == 2
    assert shown.stderr.splitlines() == [
        "assess: row 3",
        "assess: (says plugin lamp (assess-lamp 9.9), measure)",
    ]


def test_an_interruption_names_the_hook_and_ends_the_program(
    cart: list[Any], call: Callable[..., Result]
) -> None:
    shown = call(beside(cart, plugin(measure=raising(KeyboardInterrupt()))), "grade")
    assert shown.exit_code == 130
    assert shown.stderr == "\nassess: interrupted in plugin lamp (assess-lamp 9.9), measure\n"


def _prints(inspection: Inspection) -> list[Measurement]:
    print("one")
    print("two", file=sys.__stdout__)
    os.write(1, b"three\n")
    subprocess.run([sys.executable, "-c", "print('four')"], check=True)
    sys.stdout.close()
    return [glow()]


def test_nothing_that_a_plugin_prints_reaches_the_output(
    cart: list[Any], call: Callable[..., Result], capfd: pytest.CaptureFixture[str]
) -> None:
    shown = call(beside(cart, plugin(measure=_prints)), "measure", "--json")
    assert shown.exit_code == 0
    data = strict_json(shown.stdout)
    assert data["warnings"] == []
    assert data["data"]["values"]["lamp.glow"]["value"] == 1
    assert capfd.readouterr().out == ""
    print("heard again")
    assert capfd.readouterr().out == "heard again\n"


def umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def other_variables() -> None:
    os.environ.update(COLUMNS="3", ASSESS_PLUGINS="none")


def other_clock() -> None:
    os.environ["TZ"] = "UTC9"
    time.tzset()


SETTINGS: dict[str, tuple[Callable[[], Any], Callable[[], Any]]] = {
    "working folder": (os.getcwd, lambda: os.chdir("/")),
    "permissions of new files": (umask, lambda: os.umask(0)),
    "depth of recursion": (sys.getrecursionlimit, lambda: sys.setrecursionlimit(400)),
    "longest number": (sys.get_int_max_str_digits, lambda: sys.set_int_max_str_digits(640)),
    "warnings": (lambda: list(warnings.filters), lambda: warnings.simplefilter("always", Warning)),
    "errors of numbers": (np.geterr, lambda: np.seterr(all="raise")),
    "interruption": (
        lambda: signal.getsignal(signal.SIGINT),
        lambda: signal.signal(signal.SIGINT, lambda *_: None),
    ),
    "alarm": (
        lambda: signal.getitimer(signal.ITIMER_REAL),
        lambda: signal.setitimer(signal.ITIMER_REAL, 500),
    ),
    "environment": (
        lambda: dict(os.environ),
        other_variables,
    ),
    "clock": (
        lambda: time.localtime(0).tm_hour,
        other_clock,
    ),
    "words of dates": (
        lambda: locale.setlocale(locale.LC_ALL),
        lambda: locale.setlocale(locale.LC_ALL, "C.UTF-8"),
    ),
    "standard error": (lambda: sys.stderr, lambda: setattr(sys, "stderr", None)),
    "its file": (lambda: os.fstat(2).st_ino, lambda: os.close(2)),
}


@pytest.mark.skipif(os.name != "posix", reason="some of these are there on POSIX alone")
@pytest.mark.parametrize("kind", SETTINGS)
def test_what_a_plugin_sets_for_the_whole_process_is_set_back(
    cart: list[Any], kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    look, change = SETTINGS[kind]
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    before, changed = look(), []

    def hook(inspection: Inspection) -> list[Measurement]:
        change()
        changed.append(kind == "its file" or look() != before)
        return [glow()]

    def declares() -> dict[str, Any]:
        change()
        return copy.deepcopy(LAMP)

    knowledge = beside(cart, plugin(declares, measure=hook))
    assert look() == before
    result = assess(toy.job(), knowledge=knowledge)
    assert "lamp.glow" in result.measured.values
    assert changed == [True]
    assert look() == before


def test_an_answer_is_saved_where_the_job_lies_whatever_a_plugin_sets(
    cart: list[Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hook(inspection: Inspection) -> list[Measurement]:
        os.chdir("/")
        os.umask(0)
        return [glow()]

    monkeypatch.chdir(tmp_path)
    Path("job.toml").write_text("format = 1\n", encoding="utf-8")
    knowledge = beside(cart, plugin(measure=hook))
    visit = VisitSession(Path("job.toml"), knowledge, load_workshop(trade=knowledge.trade))
    result = visit.assessed()
    visit.save(result, knowledge.criteria["box.crack"], "one")
    visit.save(visit.assessed(), knowledge.criteria["wheels.play"], "4 mm")
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert 'crack = "one"' in text
    assert 'play = "4 mm"' in text


def test_what_a_thread_of_a_plugin_prints_later_is_no_part_of_the_result(
    cart: list[Any], capsys: pytest.CaptureFixture[str]
) -> None:
    go, said = threading.Event(), threading.Event()

    def talk() -> None:
        go.wait(30)
        print("from a thread")
        said.set()

    def hook(inspection: Inspection) -> list[Measurement]:
        threading.Thread(target=talk, daemon=True).start()
        return [glow()]

    with harmless_streams():
        result = assess(toy.job(), knowledge=beside(cart, plugin(measure=hook)))
        go.set()
        assert said.wait(30)
        print("from here")
    assert "lamp.glow" in result.measured.values
    assert capsys.readouterr().out == "from here\n"


def test_what_a_plugin_does_to_what_it_is_given_is_not_seen_by_others(cart: list[Any]) -> None:
    def spoils(inspection: Inspection) -> list[Measurement]:
        object.__setattr__(inspection, "tags", frozenset({"spoiled"}))
        object.__setattr__(inspection, "facts", {})
        return [glow()]

    result = assess(toy.job(), knowledge=beside(cart, plugin(measure=spoils, quantities=spoils)))
    clean = assess(toy.job(), knowledge=beside(cart, plugin(measure=giving(glow()))))
    assert len(clean.inspection.facts) > 0
    assert result.inspection == clean.inspection


def test_what_a_plugin_gives_cannot_be_changed_afterwards(cart: list[Any]) -> None:
    rows = [["1"]]
    kept = Sheet("cut", "Cut", ["a"], rows)  # type: ignore[arg-type]
    hook = giving(kept)
    result = assess(toy.job(), knowledge=beside(cart, plugin(sheets=hook)))
    assert result.sheets["lamp.cut"].rows == (("1",),)
    rows[0][0] = "2"
    assert result.sheets["lamp.cut"].rows == (("1",),)


# --- declarations


def lamp(**changes: Any) -> dict[str, Any]:
    return {**copy.deepcopy(LAMP), **changes}


def lamp_with(kind: str, number: int, **changes: Any) -> dict[str, Any]:
    declared = lamp()
    declared[kind][number] |= changes
    return declared


def unchecked(**changes: Any) -> Declaration:
    return Declaration.model_validate(lamp()).model_copy(update=changes)


FEATURE = toy.WHEELS["feature"][0]
FACT = toy.WHEELS["fact"][0]
INFO = {"id": "lamp", "title": "Lamp", "weight": 1, "position": -1000}
DECLARED: dict[str, tuple[Callable[[], Any], str]] = {
    "a weight without end": (
        lambda: lamp_with("criterion", 0, weight=math.inf), "weight: Input should be a finite"),
    "a weight beyond reason": (
        lambda: lamp(subsystem={**INFO, "weight": 1e308}),
        "subsystem.weight: Input should be less than or equal to 1000000",
    ),
    "a price beyond reason": (
        lambda: lamp_with("material", 0, price=1e308),
        "price: Input should be less than or equal to 1000000",
    ),
    "hours that are none": (
        lambda: lamp_with("repair", 0, hours=[1, 2, math.nan]), "hours[2]: Input should be a fin"),
    "hours beyond reason": (
        lambda: lamp_with("repair", 0, hours=[1, 2, 1e308]), "at most 100,000"),
    "a range that goes down": (
        lambda: lamp_with("criterion", 1, possible=[100, 0]), "the smaller number comes first"),
    "an answer that is typed for none": (
        lambda: lamp_with("criterion", 0, outcomes=[
            {"answer": "Not seen", "class": 0}, {"answer": "bad", "class": 1}]),
        "'not seen' means something else when it is typed"),
    "an answer that is a number": (
        lambda: lamp_with("criterion", 0, outcomes=[
            {"answer": "2", "class": 0}, {"answer": "1", "class": 1}]),
        "'2' means something else when it is typed"),
    "a former id that is in use": (
        lambda: lamp_with("criterion", 0, formerly=["glow"]),
        "criterion state: cannot be called 'glow' formerly"),
    "a former id of two": (
        lambda: lamp(fact=[
            {"id": "bulbs", "asks": "Bulbs", "formerly": ["lamps"]},
            {"id": "wicks", "asks": "Wicks", "formerly": ["lamps"]}]),
        "fact wicks: cannot be called 'lamps' formerly"),
    "a column twice": (
        lambda: lamp(survey=[
            {"id": "all", "title": "All", "columns": [{"id": "state"}, {"id": "state"}]}]),
        "two columns have the same id"),
    "a copy with wrong fields": (lambda: unchecked(repair=(3,)), "repair 1: Input should"),
    "a copy without a subsystem": (lambda: unchecked(subsystem=None), "declares a [subsystem]"),
    "a position before all, and a fact with another meaning": (
        lambda: lamp(subsystem=INFO, fact=[{**FACT, "usual": (FACT.get("usual") or 1) + 1}]),
        f"fact {FACT['id']!r} is declared by wheels already"),
    "a position before all, and a feature with another meaning": (
        lambda: lamp(subsystem=INFO, feature=[{"id": FEATURE["id"], "asks": "Is it?",
            "options": {"lamp_a": "A", "lamp_b": "B"}, "usual": "lamp_a"}]),
        f"feature {FEATURE['id']!r} is declared by wheels already"),
    "a tag of somebody else": (
        lambda: lamp(feature=[{"id": "wick", "asks": "Wick", "usual": "flat",
            "options": {"flat": "Flat", FEATURE["id"]: "Taken"}}]),
        f"{FEATURE['id']!r} is given by the feature {FEATURE['id']!r} of wheels already"),
    "a former name of somebody else": (
        lambda: lamp(fact=[{"id": "bulbs", "asks": "Bulbs", "formerly": [FACT["id"]]}]),
        f"fact 'bulbs' cannot be called {FACT['id']!r} formerly"),
    "an answer that tells what cannot be": (
        lambda: lamp_with("criterion", 0, outcomes=[
            {"answer": "good", "class": 0, "tells": {FEATURE["id"]: "nonsense"}},
            {"answer": "bad", "class": 1}]),
        f"tells that {FEATURE['id']} is 'nonsense'"),
    "a circle through somebody else's work": (
        lambda: lamp_with("repair", 0,
            after=[{"step": "wheels.new_spokes", "because": "wheels first"}],
            before=[{"step": "wheels.new_spokes", "because": "lamp first"}]),
        "runs in a circle"),
}  # fmt: skip


@pytest.mark.parametrize("kind", DECLARED)
def test_what_a_newcomer_declares_cannot_knock_out_the_others(
    cart: list[Any], call: Callable[..., Result], kind: str
) -> None:
    declares, words = DECLARED[kind]
    knowledge = beside(cart, plugin(declares))
    assert list(knowledge.subsystems) == ["wheels", "box"]
    (fault,) = knowledge.faults
    assert fault.provider == NEWCOMER
    assert words in str(fault)
    shown = call(knowledge, "grade", "--json")
    assert shown.exit_code == 0, shown.output
    assert words in "\n".join(strict_json(shown.stdout)["warnings"])
    assert call(knowledge, "grade", "--strict").exit_code == 3
    assert call(knowledge, "check").exit_code == 3


def test_a_position_before_all_does_not_reword_what_others_declare(cart: list[Any]) -> None:
    alike = {**copy.deepcopy(FEATURE), "asks": "Reworded?"}
    knowledge = beside(cart, plugin(lambda: lamp(subsystem=INFO, feature=[alike])))
    assert knowledge.faults == ()
    assert list(knowledge.subsystems) == ["lamp", "wheels", "box"]
    assert knowledge.features[FEATURE["id"]].asks == FEATURE["asks"]


class Unregistrable:
    """A plugin whose attributes raise when they are looked at."""

    def __getattr__(self, name: str) -> Any:
        raise RuntimeError(f"no {name}")

    def __dir__(self) -> Iterator[str]:
        raise RuntimeError("nothing to see")


class Wraps:
    """A plugin that wraps hooks of others, where it should implement its own."""

    @hookimpl(wrapper=True)
    def subsystem(self) -> Iterator[None]:
        yield


@pytest.mark.parametrize(
    ("newcomer", "hook", "words"),
    [
        (Unregistrable, "register", "RuntimeError: nothing to see"),
        (Wraps, "subsystem", "returned nothing"),
        (lambda: 7, "subsystem", "the hook is not implemented"),
        (lambda: None, "subsystem", "the hook is not implemented"),
    ],
)
def test_what_cannot_be_registered_is_named(
    newcomer: Callable[[], Any], hook: str, words: str
) -> None:
    with pytest.raises(HookError) as failed:
        declared_by(newcomer(), NEWCOMER)
    assert failed.value.hook == hook
    assert words in failed.value.cause


@pytest.mark.parametrize("value", ["not a module", "1", "gone:x:y", "os:path:join", "json:nothing"])
def test_an_entry_point_that_leads_nowhere_is_named(value: str) -> None:
    (fault,) = gather(find_plugins([EntryPoint("lamp", value, "assess")])).faults
    assert (fault.plugin, fault.hook) == ("lamp", "import")


@pytest.mark.parametrize(
    ("files", "words"),
    [
        (
            {"entry_points.txt": b"\xff\xfe[assess]\n"},
            "plugin unknown (unknown), import: ImportError: its entry points cannot be read",
        ),
        (
            {
                "METADATA": b"Metadata-Version: 2.1\nName: assess-lamp\nVersion: 9.9\n",
                "entry_points.txt": b"\xff",
            },
            "plugin assess-lamp (assess-lamp 9.9), import: ImportError: its entry points",
        ),
        (
            {"entry_points.txt": b"[assess]\nlamp = no_such_lamp\n"},
            "plugin lamp (unknown), import: ModuleNotFoundError",
        ),
    ],
)
def test_a_broken_installation_of_another_package_is_named(
    run: Run, tmp_path: Path, files: dict[str, bytes], words: str
) -> None:
    broken = tmp_path / "site" / "broken-1.dist-info"
    broken.mkdir(parents=True)
    for name, content in files.items():
        (broken / name).write_bytes(content)
    path = os.pathsep.join([str(broken.parent), *sys.path])
    warned = run("grade", ROOT / "fixtures" / "one_strap.toml", "--strict", PYTHONPATH=path)
    assert warned.returncode == 3
    assert "1 plugin(s) left out" in warned.stderr
    assert words in warned.stderr
    assert "entry points" not in words or str(broken.parent) in warned.stderr
