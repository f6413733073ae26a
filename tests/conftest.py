"""What all tests share."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
import toy
from hypothesis import settings

from assess import Job, knowledge_in_use
from assess.job.job_file import parse

ROOT = Path(__file__).parents[1]

settings.register_profile("ci", derandomize=True, deadline=None, max_examples=60)
settings.register_profile("dev", deadline=None, max_examples=60)
settings.load_profile("ci" if os.environ.get("CI") else "dev")

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


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Run the installed command in an empty folder, as a user would."""
    command = Path(sys.executable).with_name("assess")

    def call(
        *arguments: str | Path, stdin: str = "", **environment: str
    ) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [command, *map(str, arguments)],
            input=stdin,
            capture_output=True,
            text=True,
            cwd=tmp_path,
            env={**clean_environment(), **environment},
            check=False,
        )

    return call
