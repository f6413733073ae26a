"""What the shell proposes."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.shell_completion import ShellComplete
from conftest import ROOT, Run

from assess.cli.commands import main

FIXTURE = str(ROOT / "fixtures" / "tight_budget.toml")


def proposed(*arguments: str, incomplete: str = "") -> list[str]:
    shell = ShellComplete(main, {}, "assess", "_ASSESS_COMPLETE")
    return [item.value for item in shell.get_completions(list(arguments), incomplete)]


@pytest.mark.parametrize(
    ("arguments", "incomplete", "first"),
    [
        (("why", "job.toml"), "verd", "verdict"),
        (("why", "job.toml"), "casework.li", "casework.lid_hinges"),
        (("why", "job.toml"), "lid_hin", "casework.lid_hinges"),
        (("plan", "job.toml", "--scope"), "f", "full"),
        (("grade", "job.toml", "--without"), "re", "reed_organ"),
        (("ask", "job.toml", "--only"), "pn", "pneumatics"),
        (("sheet", FIXTURE), "cut", "pneumatics.cutting_list"),
        (("schema",), "verd", "verdict"),
        (("done", FIXTURE), "1", "1"),
    ],
)
def test_ids_scopes_sheets_and_subsystems_are_proposed(
    arguments: tuple[str, ...], incomplete: str, first: str
) -> None:
    assert proposed(*arguments, incomplete=incomplete)[0] == first


def test_what_is_left_out_is_not_proposed() -> None:
    assert proposed("ask", "job.toml", "--only", incomplete="re") == ["reeds"]
    assert proposed("ask", "job.toml", "--without", "reeds", "--only", incomplete="re") == []


@pytest.mark.parametrize("text", [None, "title = 3"])
def test_of_a_job_that_cannot_be_read_nothing_is_proposed(tmp_path: Path, text: str | None) -> None:
    job = tmp_path / "job.toml"
    if text is not None:
        job.write_text(text, encoding="utf-8")
    assert proposed("sheet", str(job)) == []
    assert proposed("ask", str(job), "--without", "nothing", "--only") == []


def test_the_command_itself_answers_a_shell(run: Run) -> None:
    asked = {"COMP_WORDS": "assess ver", "COMP_CWORD": "1", "_ASSESS_COMPLETE": "bash_complete"}
    done = run(**asked)
    assert (done.returncode, done.stderr) == (0, "")
    assert "verdict" in done.stdout
    script = run(_ASSESS_COMPLETE="zsh_source")
    assert script.returncode == 0
    assert "_ASSESS_COMPLETE" in script.stdout
    done = run(**{**asked, "COMP_CWORD": "x"})
    assert (done.returncode, done.stdout, done.stderr) == (1, "", "")
