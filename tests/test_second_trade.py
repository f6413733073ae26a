"""A second trade, installed as a package of its own: every command speaks its words alone."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from conftest import ROOT, Run, install, run_among

PACKAGE = ROOT / "tests" / "packages" / "dinghy"
JOB = """\
format = 1
title = "The blue dinghy"
date = 2026-05-02

[owner]
wish = "sailing"
ceiling = 2500

[boat]
description = "Clinker dinghy, two sails."

[boat.facts]
length = "4.2 m"
beam = "1.6 m"

[answers.hull]
leak = "35 L"
paint = "flaking"

[answers.rig]
torn_seams = 3
"""
READING = {
    "grade": ["grade", "--all", "--ids"],
    "look": ["look", "--all"],
    "look_assumed": ["look", "--assumed"],
    "verdict": ["verdict", "--all"],
    "plan": ["plan", "--scope", "refit", "--how", "--why"],
    "plan_sailing": ["plan", "--scope", "sailing"],
    "plan_lay_up": ["plan", "--scope", "lay_up"],
    "letter": ["letter", "--text", "--date", "2026-05-03"],
    "measure": ["measure", "--ids"],
    "sheet": ["sheet"],
}
ORGAN = re.compile(
    r"\b(instruments?|organs?|reeds?|play(s|ed|ing|able)?|unplayed|silen\w+|restor\w+|keys?\b(?! )"
    r"|bellows|music\w*)\b",
    re.IGNORECASE,
)


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package built and installed into a folder of its own."""
    return install(PACKAGE, tmp_path_factory.mktemp("dinghy"))


@pytest.fixture
def sail(site: Path, tmp_path: Path) -> Run:
    """The command with the second trade alone, in a folder with a job file."""
    (tmp_path / "boat.toml").write_text(JOB, encoding="utf-8")
    return run_among(site, "hull,rig,dinghy", tmp_path)


def reads_naturally(text: str) -> None:
    """Nothing of another trade, nothing left unfilled, nothing over 80 columns."""
    assert ORGAN.findall(text) == []
    assert "{" not in text
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("name", READING)
def test_every_reading_command_speaks_its_words(sail: Run, name: str) -> None:
    command, *options = READING[name]
    done = sail(command, "boat.toml", *options)
    assert (done.returncode, done.stderr) == (0, "")
    assert len(done.stdout.splitlines()) > 2
    reads_naturally(done.stdout)


def test_a_verdict_in_its_words(sail: Run) -> None:
    shown = " ".join(sail("verdict", "boat.toml", "--all").stdout.split())
    assert "the owner wants: sailing order" in shown.casefold()
    assert "A refit usually costs more than the boat would sell for. The owner decides." in shown
    for scope in ("safe laying-up", "sailing order", "full refit"):
        assert scope in shown
    data = json.loads(sail("verdict", "boat.toml", "--json").stdout)["data"]
    assert {o["scope"] for o in data["options"]} == {"lay_up", "sailing", "refit"}
    assert set(data["chances"]) <= {
        "refit in full",
        "repair to sailing order",
        "lay up under cover",
        "break up for parts",
        "leave as it is",
        "lay up until there is money",
    }


def test_a_budget_has_the_options_of_the_trade(sail: Run) -> None:
    done = sail("budget", "boat.toml", "1500", "--sailable", "--ids")
    assert done.returncode == 0, done.stderr
    reads_naturally(done.stdout)
    assert "if it must sail" in done.stdout
    assert "It sails afterwards." in " ".join(done.stdout.split())
    assert sail("budget", "boat.toml", "1500", "--laid-up").returncode == 0
    assert "--sailable / --laid-up" in sail("budget", "--help").stdout
    assert sail("budget", "boat.toml", "1500", "--playable").returncode == 2


def test_calendar_why_sheet_check_and_lists(sail: Run) -> None:
    for arguments in (
        ["calendar", "boat.toml", "--start", "2027-03-01"],
        ["why", "boat.toml", "hull.caulk"],
        ["why", "boat.toml", "verdict"],
        ["why", "boat.toml", "hull.rot"],
        ["sheet", "boat.toml", "paint_list"],
        ["subsystems"],
        ["check", "boat.toml"],
    ):
        done = sail(*arguments)
        assert (done.returncode, done.stderr) == (0, ""), arguments
        reads_naturally(done.stdout)


def test_a_new_file_and_an_interview(sail: Run, tmp_path: Path) -> None:
    assert sail("new", "mine.toml", "--title", "Mine").returncode == 0
    text = (tmp_path / "mine.toml").read_text(encoding="utf-8")
    assert "[boat.features]" in text
    assert 'wish = "refit"' in text
    assert "reason_to_sail" in text
    reads_naturally(re.sub(r"\[\{.*\}\]", "", text))
    done = sail("ask", "mine.toml", stdin="q\n?\n1\n2 L / bailed twice\nq\n")
    assert done.returncode == 0
    # What is typed is not echoed here, so the answer follows the prompt on its line.
    reads_naturally(done.stdout.replace("> ", ""))
    assert "Saved in mine.toml" in done.stdout


def test_help_speaks_its_words(sail: Run) -> None:
    listed = sail("--help").stdout
    reads_naturally(listed)
    for command in ("grade", "plan", "budget", "verdict"):
        shown = sail(command, "--help").stdout
        reads_naturally(shown)
        assert "Example: assess" in shown
    assert "[lay_up|sailing|refit]" in sail("plan", "--help").stdout


def test_words_of_another_trade_are_slips_with_a_hint(sail: Run, tmp_path: Path) -> None:
    (tmp_path / "wrong.toml").write_text(
        'format = 1\n[owner]\nwish = "playing"\n[instrument]\ndescription = "?"\n'
    )
    done = sail("grade", "wrong.toml")
    assert done.returncode == 2
    assert "wrong.toml:3: owner.wish: no such wish 'playing'" in done.stderr
    assert "wrong.toml:4: instrument: unknown key" in done.stderr
    assert '"boat"' in done.stderr
    assert (
        "is not one of: lay_up, sailing, refit"
        in sail("plan", "boat.toml", "--scope", "full").stderr
    )


def test_without_words_of_a_trade_the_neutral_ones_stand_in(
    run: Run, site: Path, tmp_path: Path
) -> None:
    job = JOB.replace("[boat", "[object").replace('"sailing"', '"working"')
    (tmp_path / "boat.toml").write_text(job, encoding="utf-8")
    chosen = {"PYTHONPATH": str(site), "ASSESS_PLUGINS": "hull,rig"}
    without = ("--without", "dinghy", "--without", "reed_organ")
    for command in ("grade", "look", "verdict", "plan"):
        done = run(command, "boat.toml", *without, **chosen)
        assert (done.returncode, done.stderr) == (0, ""), command
        assert ORGAN.findall(done.stdout) == []
        assert "boat" not in done.stdout.replace("Water in the boat", "").replace("boat.toml", "")


def test_both_trades_at_once_leave_the_second_out_and_name_it(
    run: Run, site: Path, tmp_path: Path
) -> None:
    (tmp_path / "job.toml").write_text("format = 1\n")
    done = run("grade", "job.toml", PYTHONPATH=str(site))
    assert done.returncode == 0
    assert "plugin dinghy (assess-dinghy 1.0.0), subsystem: [trade] is declared by" in done.stderr
