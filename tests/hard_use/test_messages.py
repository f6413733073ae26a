"""Messages are bounded; closed, ended and interrupted streams are taken as such."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import ROOT, clean_environment

from assess.cli.commands import main
from assess.cli.printing import LONGEST_MESSAGE, MOST_MESSAGES

FIXTURE = ROOT / "fixtures" / "one_strap.toml"


def assess_in_shell(line: str, folder: Path) -> subprocess.CompletedProcess[bytes]:
    """The command as a shell runs it; ``assess`` stands for it."""
    command = line.replace("assess", f"'{sys.executable}' -m assess", 1)
    return subprocess.run(
        ["bash", "-c", command],
        cwd=folder,
        env=clean_environment() | {"PYTHONPATH": ":".join(sys.path)},
        capture_output=True,
        timeout=60,
        check=False,
    )


def test_messages_are_bounded(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    keys = "\n".join(f"k{number} = 1" for number in range(300))
    job.write_text(f'format = 1\ntitle = 3\n{keys}\n[owner]\nwish = "{"x" * 100_000}"\n')
    lines = CliRunner().invoke(main, ["grade", str(job)]).stderr.splitlines()
    assert 3 < len(lines) <= MOST_MESSAGES + 1
    assert max(map(len, lines)) < LONGEST_MESSAGE + 20


def test_what_is_said_of_a_command_line_is_bounded() -> None:
    shown = CliRunner().invoke(main, ["grade", "job.toml", "x" * 10_000])
    assert shown.exit_code == 2
    assert max(map(len, shown.stderr.splitlines())) < LONGEST_MESSAGE + 20


def test_a_reader_that_has_seen_enough_is_no_error(tmp_path: Path) -> None:
    shown = assess_in_shell(f"assess plan '{FIXTURE}' --how --why | head -1", tmp_path)
    assert (shown.returncode, shown.stderr) == (0, b"")


def test_stopped_by_its_user_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("assess.cli.reading_commands.load_job", stop)
    shown = CliRunner().invoke(main, ["grade", str(FIXTURE)])
    assert (shown.exit_code, shown.stderr) == (130, "\nassess: interrupted\n")


def test_a_name_that_is_no_text_is_said(tmp_path: Path) -> None:
    shown = assess_in_shell("assess grade $'\\xff.toml'", tmp_path)
    assert shown.returncode == 2
    assert b"there is no such file" in shown.stderr
    assert b"Traceback" not in shown.stderr
