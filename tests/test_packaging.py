"""What is declared of the package itself."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

from conftest import ROOT, clean_environment

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def pinned(name: str) -> dict[str, str]:
    """The versions of a file of constraints, those for the oldest Python where they differ."""
    lines = (ROOT / "tests" / name).read_text(encoding="utf-8").splitlines()
    versions = (line.partition(";")[0] for line in lines if line and not line.startswith("#"))
    pairs = (version.split("==") for version in versions)
    return dict(pairs)  # type: ignore[arg-type]


def lowest() -> dict[str, str]:
    """The lowest version that is declared of each dependency."""
    bounds = (line.partition(",")[0].split(">=") for line in PROJECT["dependencies"])
    return dict(bounds)  # type: ignore[arg-type]


def numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))


def test_the_oldest_versions_tried_are_the_lowest_declared() -> None:
    tried = pinned("constraints_oldest.txt")
    assert set(tried) == set(lowest())
    for name, least in lowest().items():
        length = len(numbers(least))
        assert numbers(tried[name])[:length] == numbers(least), name
        assert not any(numbers(tried[name])[length:]), name


def test_the_newest_versions_tried_are_of_every_dependency() -> None:
    tried = pinned("constraints_newest.txt")
    assert set(tried) == set(lowest())
    assert all(numbers(tried[name]) >= numbers(least) for name, least in lowest().items())


def test_the_package_is_typed_and_says_for_which_python() -> None:
    assert (ROOT / "assess" / "py.typed").exists()
    assert "Typing :: Typed" in PROJECT["classifiers"]
    least = PROJECT["requires-python"].removeprefix(">=")
    assert f"Programming Language :: Python :: {least}" in PROJECT["classifiers"]


def test_it_runs_as_a_module(tmp_path: Path) -> None:
    environment = clean_environment() | {"PYTHONPATH": str(ROOT)}
    shown = subprocess.run(
        [sys.executable, "-m", "assess", "--help"],
        capture_output=True, text=True, cwd=tmp_path, env=environment, check=True,
    )  # fmt: skip
    assert shown.stdout.startswith("Usage: assess [OPTIONS] COMMAND")
