"""What is printed: nothing steers the terminal, nothing is endless, every stream may fail."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import ROOT, Run, clean_environment

from assess.cli.commands import main
from assess.cli.printing import LONGEST_MESSAGE, MOST_MESSAGES, visible

FIXTURE = ROOT / "fixtures" / "one_strap.toml"
STEERING = '"""\\u001b[2J\\u009b31m\\u202eevil\\u2066"""'


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


@pytest.mark.parametrize("command", ["grade", "plan", "verdict", "grade --json"])
def test_what_a_job_file_says_does_not_steer_the_terminal(tmp_path: Path, command: str) -> None:
    job = tmp_path / "job.toml"
    job.write_text(f"format = 1\ntitle = {STEERING}\n[owner]\nwish = {STEERING}\n")
    wrong = CliRunner().invoke(main, [*command.split(), str(job)])
    job.write_text(f"format = 1\ntitle = {STEERING}\n")
    right = CliRunner().invoke(main, [*command.split(), str(job)])
    assert (wrong.exit_code, right.exit_code) == (2, 0)
    for shown in (wrong.output, right.output):
        assert not set(shown) & set("\x1b\x9b\u202e\u2066")
    assert "evil" in wrong.stderr


@pytest.mark.parametrize(
    "arguments",
    [["--\x1b[2J"], ["grade", "--\x1b[2J"], ["\x1b[2J"], ["grade", "job.toml", "\x1b[2J"]],
)
def test_what_a_command_line_says_does_not_steer_the_terminal(arguments: list[str]) -> None:
    shown = CliRunner().invoke(main, arguments)
    assert shown.exit_code == 2
    assert "\x1b" not in shown.output
    assert "1b[2J" in shown.output


def test_text_that_steers_nothing_stays_as_it_is() -> None:
    plain = "Größe ½ \u00d7 3 mm\t— “fine”\n漢字 é"
    assert visible(plain) == plain
    assert visible("half \ud800") == "half \\ud800"


def test_messages_are_bounded(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    keys = "\n".join(f"k{number} = 1" for number in range(300))
    job.write_text(f'format = 1\ntitle = 3\n{keys}\n[owner]\nwish = "{"x" * 100_000}"\n')
    lines = CliRunner().invoke(main, ["grade", str(job)]).stderr.splitlines()
    assert 3 < len(lines) <= MOST_MESSAGES + 1
    assert max(map(len, lines)) < LONGEST_MESSAGE + 20


def test_an_output_without_a_character_shows_its_number(run: Run) -> None:
    shown = run("why", FIXTURE, "verdict", PYTHONIOENCODING="ascii")
    assert shown.returncode == 0, shown.stderr
    assert shown.stdout.isascii()


def test_a_full_disk_is_said_in_one_line(tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("this system has no full device")
    shown = assess_in_shell(f"assess grade '{FIXTURE}' > /dev/full", tmp_path)
    assert shown.returncode == 2
    assert shown.stderr == b"assess: the output cannot be written: No space left on device\n"


def test_a_name_that_is_no_text_is_said(tmp_path: Path) -> None:
    shown = assess_in_shell("assess grade $'\\xff.toml'", tmp_path)
    assert shown.returncode == 2
    assert b"there is no such file" in shown.stderr
    assert b"Traceback" not in shown.stderr


@pytest.mark.parametrize("closed", ["<&-", "< /dev/null"])
def test_nobody_types(tmp_path: Path, closed: str) -> None:
    (tmp_path / "job.toml").write_text("format = 1\n")
    shown = assess_in_shell(f"assess ask job.toml {closed}", tmp_path)
    assert shown.returncode == 0, shown.stderr
    assert b"Nothing new to save" in shown.stdout


def test_a_reader_that_has_seen_enough_is_no_error(tmp_path: Path) -> None:
    shown = assess_in_shell(f"assess plan '{FIXTURE}' --how --why | head -1", tmp_path)
    assert (shown.returncode, shown.stderr) == (0, b"")


def test_stopped_by_its_user_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("assess.cli.reading_commands.load_job", stop)
    shown = CliRunner().invoke(main, ["grade", str(FIXTURE)])
    assert (shown.exit_code, shown.stderr) == (130, "assess: stopped\n")
