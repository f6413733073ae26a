"""The README's examples are run, and what it shows is what they print.

Refresh with ``UPDATE_GOLDEN=1 pytest tests/test_readme.py``, and read the difference.
"""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

from conftest import ROOT, Run, golden

from assess import load_workshop

README = ROOT / "README.md"
BLOCK = re.compile(r"```console\n(\$ assess .*?)```", re.DOTALL)


def carried_out(block: str, run: Run) -> str:
    """The commands of a block, each with what it prints."""
    shown = []
    for line in block.splitlines():
        if line.startswith("$ assess "):
            arguments = shlex.split(line.removeprefix("$ assess "))
            done = run(*(a.replace("fixtures/", f"{ROOT}/fixtures/") for a in arguments))
            assert done.returncode == 0, done.stderr
            shown.append(f"{line}\n{done.stdout}")
    return "".join(shown)


def test_examples_print_what_is_shown(run: Run) -> None:
    text = README.read_text(encoding="utf-8")
    real = BLOCK.sub(lambda m: f"```console\n{carried_out(m[1], run)}```", text)
    assert real == golden(README, real)
    assert len(BLOCK.findall(text)) >= 4


def test_it_is_short() -> None:
    assert len(README.read_text(encoding="utf-8").splitlines()) < 250


def test_the_workshop_example_is_valid(tmp_path: Path) -> None:
    block = re.search(r"```toml\n(currency.*?)```", README.read_text("utf-8"), re.DOTALL)
    assert block
    path = tmp_path / "workshop.toml"
    path.write_text(block[1], encoding="utf-8")
    given = tomllib.loads(block[1])
    assert load_workshop(path).rate_per_hour == given["rate_per_hour"]
