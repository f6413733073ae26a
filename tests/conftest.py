"""What all tests share."""

from __future__ import annotations

import gc
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from functools import cache, partial
from pathlib import Path

import pytest
import toy
from hypothesis import settings

from assess import Job, knowledge_in_use
from assess.job.job_reading import parse

ROOT = Path(__file__).parents[1]

collect_ignore = ["benchmarks", "mutation.py", "small_changes.py"]
"""Run by hand; names of theirs are names of helpers of the tests as well."""

settings.register_profile("ci", derandomize=True, deadline=None, max_examples=60)
settings.register_profile("dev", deadline=None, max_examples=60)
settings.load_profile("ci" if os.environ.get("CI") else "dev")


def pytest_collection_finish() -> None:
    """What has been imported and collected stays to the end: it need not be gone through again."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One worker more than there are cores, since tests in a browser mostly wait."""
    return (os.cpu_count() or 1) + 1


NO_INHERITED = {"ASSESS_WORKSHOP", "ASSESS_PLUGINS", "COLUMNS", "UPDATE_GOLDEN"}
"""Variables of the caller that must not change what a test sees."""

Run = Callable[..., "subprocess.CompletedProcess[str]"]


def clean_environment() -> dict[str, str]:
    """The caller's environment without what would change a result."""
    return {name: value for name, value in os.environ.items() if name not in NO_INHERITED}


@pytest.fixture(autouse=True)
def _own_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in NO_INHERITED - {"UPDATE_GOLDEN"}:
        monkeypatch.delenv(name, raising=False)


@pytest.fixture(autouse=True)
def _toy_world_in_use(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tests of the engine use the toy world; the organ's plugins are out of their reach."""
    if request.path.parent.name == "engine":
        toy_world = toy.knowledge()
        monkeypatch.setattr("assess.plugin.registry._gathered", lambda *_: toy_world)


def job_of(text: str, path: str | Path = "job.toml") -> Job:
    """A job file from its text, in the words of the installed trade."""
    return parse(text, str(path), knowledge_in_use().trade)


def golden(path: Path, text: str) -> str:
    """What a person has read; with ``UPDATE_GOLDEN`` the text takes its place first."""
    if os.environ.get("UPDATE_GOLDEN"):
        if os.environ.get("CI"):
            pytest.fail("with CI set, what a person has read is not replaced")
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return path.read_text(encoding="utf-8")


def install(package: Path, target: Path) -> Path:
    """Build a package and install it into a folder of its own."""
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-build-isolation",
         "--no-index", "--disable-pip-version-check", "--target", target, package],
        check=True,
    )  # fmt: skip
    return target


def _spawned(
    arguments: list[str], stdin: str, folder: Path, environment: dict[str, str]
) -> subprocess.CompletedProcess[str]:
    """The installed command in a fresh interpreter."""
    return subprocess.run(
        [Path(sys.executable).with_name("assess"), *arguments],
        input=stdin,
        capture_output=True,
        text=True,
        cwd=folder,
        env=environment,
        check=False,
    )


@cache
def _warm_command(**environment: str) -> subprocess.Popen[str]:
    """The process that answers calls of the command; it ends when its input does."""
    return subprocess.Popen(
        [sys.executable, Path(__file__).with_name("warm_command.py")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**clean_environment(), **environment},
    )


def _called(
    arguments: list[str],
    stdin: str,
    folder: Path,
    environment: dict[str, str],
    warmed: subprocess.Popen[str] | None = None,
) -> subprocess.CompletedProcess[str]:
    """The command in a fork of a process that has imported it."""
    server = warmed or _warm_command()
    assert server.stdin is not None
    assert server.stdout is not None
    with tempfile.TemporaryDirectory() as streams:
        given, out, err = (Path(streams, name) for name in ("in", "out", "err"))
        given.write_bytes(stdin.encode())
        call = {
            "arguments": arguments,
            "folder": str(folder),
            "environment": environment,
            "streams": [str(given), str(out), str(err)],
        }
        print(json.dumps(call), file=server.stdin, flush=True)
        code = int(server.stdout.readline())
        return subprocess.CompletedProcess(
            arguments, code, out.read_bytes().decode(), err.read_bytes().decode()
        )


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Run the command in an empty folder, as a user would.

    With variables that only a fresh interpreter reads (``PYTHONPATH``), or without ``fork`` on
    this system, the installed command is spawned; otherwise `warm_command.py` answers.
    """

    def call(
        *arguments: str | Path, stdin: str = "", **environment: str
    ) -> subprocess.CompletedProcess[str]:
        fresh = not hasattr(os, "fork") or any(name.startswith("PYTHON") for name in environment)
        start = _spawned if fresh else _called
        everything = {**clean_environment(), **environment}
        return start([str(a) for a in arguments], stdin, tmp_path, everything)

    return call


def run_among(plugins: Path, chosen: str, folder: Path) -> Run:
    """Run the command many times with other plugins, found in a folder and chosen by name."""
    environment = {"PYTHONPATH": str(plugins), "ASSESS_PLUGINS": chosen}
    start = (
        partial(_called, warmed=_warm_command(**environment)) if hasattr(os, "fork") else _spawned
    )

    def call(*arguments: str | Path, stdin: str = "") -> subprocess.CompletedProcess[str]:
        everything = {**clean_environment(), **environment}
        return start([str(a) for a in arguments], stdin, folder, everything)

    return call
