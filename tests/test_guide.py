"""The contributors' guide, carried out: its example plugin is built, found and tested."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from itertools import chain
from pathlib import Path

import pytest
from conftest import ROOT

import assess
from assess.cli import commands as cli
from assess.knowledge.trade import NEUTRAL
from assess.plugin import hookspecs

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")
FILES = dict(re.findall(r"^`([\w./]+)`:\n\n```\w+\n(.*?)```", GUIDE, re.DOTALL | re.MULTILINE))


@pytest.fixture
def example(tmp_path: Path) -> Path:
    for name, text in FILES.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path


def test_the_example_is_complete() -> None:
    assert set(FILES) == {
        "pyproject.toml",
        "assess_candle_arms/__init__.py",
        "assess_candle_arms/arms.toml",
        "test_candle_arms.py",
    }


def test_the_examples_own_tests_pass(example: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"],
        cwd=example,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert " passed" in done.stdout


def test_the_example_installs_and_is_listed(example: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--no-build-isolation",
         "--no-index", "--disable-pip-version-check", "--target", site, example],
        check=True,
    )  # fmt: skip
    listed = subprocess.run(
        [sys.executable, "-m", "assess", "subsystems"],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(site)},
    )
    assert "Candle arms" in listed.stdout


def test_every_command_is_in_the_readme() -> None:
    assert cli.main.commands
    for name in cli.main.commands:
        assert f"assess {name}" in README, name


def test_every_command_helps_with_an_example() -> None:
    assert cli.main.commands
    for name, command in cli.main.commands.items():
        context = command.make_context(name, [], resilient_parsing=True)
        example = command.get_help(context).split("Example: ")[1]
        program, called, *arguments = shlex.split(example)
        assert (program, called) == ("assess", name)
        assert command.make_context(name, arguments), example


def test_every_command_has_an_example_without_a_trade() -> None:
    assert cli.main.commands
    for name, command in cli.main.commands.items():
        program, called, *arguments = shlex.split(NEUTRAL.example(name))
        assert (program, called) == ("assess", name)
        assert command.make_context(name, arguments), name


def test_every_dependency_has_a_reason() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    requirements = list(chain(project["dependencies"], *project["optional-dependencies"].values()))
    assert requirements
    for requirement in requirements:
        name = re.match(r"[\w-]+", requirement)
        assert name
        assert re.search(rf"^\|.*\b{name[0]}\b.*\|", GUIDE, re.MULTILINE), requirement


def test_public_names_are_listed_once_and_exist() -> None:
    assert len(set(assess.__all__)) == len(assess.__all__)
    assert all(hasattr(assess, name) for name in assess.__all__)


def test_every_hook_is_documented_and_named_in_the_guide() -> None:
    hooks = [n for n, f in vars(hookspecs).items() if hasattr(f, "assess_spec")]
    assert hooks
    for name in hooks:
        assert "Example::" in (getattr(hookspecs, name).__doc__ or "")
        assert f"`{name}`" in GUIDE


def test_every_folder_and_module_is_on_the_map() -> None:
    modules = [p for p in sorted((ROOT / "assess").rglob("*.py")) if not p.stem.startswith("__")]
    assert len(modules) > 40
    for path in modules:
        folder = path.parent.name
        in_folder = next(
            (row for row in GUIDE.splitlines() if row.startswith(f"| `{folder}/` |")), ""
        )
        row = in_folder if folder != "assess" else GUIDE
        name = f"`{path.stem}`" if folder != "assess" else f"`{path.name}`"
        assert name in row, path


def test_few_modules_stand_directly_in_the_package() -> None:
    assert len(list((ROOT / "assess").glob("*.py"))) < 10


ENGINE = sorted(
    path
    for kind in ("*.py", "*.toml", "*.json")
    for path in (ROOT / "assess").rglob(kind)
    if "__pycache__" not in path.parts
)
TRADE_WORDS = re.compile(
    r"\breeds?\b|bellows|reservoir|exhauster|pallet|\borgans?\b|\bkeyboard\b|suction|tuning\b"
    r"|cipher|harmonium|treadle|\bplay(s|ed|ing|able)?\b|unplayed|silences?\b|restoration"
    r"|restorer|\bmusic|\bstops? (knob|face)|\bcasework\b|\bpneumatic",
    re.IGNORECASE,
)


@pytest.mark.parametrize("path", ENGINE, ids=lambda p: str(p.relative_to(ROOT / "assess")))
def test_the_engine_has_no_word_of_the_trade(path: Path) -> None:
    """Only the name of the distribution, which holds both, is an exception."""
    text = path.read_text(encoding="utf-8").replace("reed-organ-assess", "")
    assert [m[0] for m in TRADE_WORDS.finditer(text)] == []


def test_the_search_for_words_of_the_trade_can_fail() -> None:
    assert len(ENGINE) > 60
    assert TRADE_WORDS.search('VERDICT = "repair to playing order"')
    assert TRADE_WORDS.search("silences = true")
