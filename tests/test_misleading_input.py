"""Mistakes that would mislead if they went unnoticed: each is named with its file and line."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import ROOT, Run

HEAD = "note,rank,feet,speech,cents\n"
SURVEYS = {
    "unclosed quotation mark": (
        'C4,Front,8,"speaks,0\nD4,Front,8,speaks,1\nE4,Front,8,speaks,2\n',
        "reeds.csv:2: a quotation mark is not closed on this line",
    ),
    "unclosed in the last row": (
        'C4,Front,8,speaks,0\nD4,Front,8,"speaks,1\n',
        "reeds.csv:3: a quotation mark is not closed on this line",
    ),
    "one reed twice": (
        "C4,Front,8,speaks,0\nD4,Front,8,speaks,1\n\nC4,Front,8,slow,1\n",
        "reeds.csv:5: C4 Front 8 appears twice; first in reeds.csv:2",
    ),
    "after empty lines": (
        "C4,Front,8,speaks,0\n\n\nD4,Front,8,mumbles,1\n",
        "reeds.csv:5: 'mumbles' does not say how a reed speaks",
    ),
    "a number after empty lines": (
        "C4,Front,8,speaks,0\n\nD4,Front,8,speaks,flat\n",
        "reeds.csv:4: column cents",
    ),
}


def surveyed(folder: Path, rows: str) -> Path:
    (folder / "reeds.csv").write_text(HEAD + rows, encoding="utf-8")
    job = folder / "job.toml"
    job.write_text('format = 1\n[surveys]\n"reeds.notes" = "reeds.csv"\n', encoding="utf-8")
    return job


@pytest.mark.parametrize("mistake", SURVEYS)
def test_a_mistake_in_a_survey_is_the_users_and_has_its_line(
    run: Run, tmp_path: Path, mistake: str
) -> None:
    rows, message = SURVEYS[mistake]
    job = surveyed(tmp_path, rows)
    graded, checked = run("grade", job), run("check", job)
    assert graded.returncode == checked.returncode == 2
    assert graded.stdout == ""
    for said in (graded.stderr, checked.stdout):
        assert message in " ".join(said.replace(f"{tmp_path}/", "").split())


def test_one_note_of_two_ranks_is_no_mistake(run: Run, tmp_path: Path) -> None:
    rows = "C4,Front,8,speaks,0\nC4,Rear,8,speaks,0\nC4,Front,4,speaks,0\n"
    assert run("grade", surveyed(tmp_path, rows)).returncode == 0


@pytest.mark.parametrize("sure", ["0", "1"])
@pytest.mark.parametrize(
    "command",
    [("verdict",), ("plan",), ("look",), ("budget", "2500"), ("calendar", "--start", "2027-01-11")],
    ids=lambda c: c[0],
)
def test_certainty_may_be_none_or_full(
    run: Run, tmp_path: Path, sure: str, command: tuple[str, ...]
) -> None:
    profile = tmp_path / "profile.toml"
    profile.write_text(f"sure_enough = {sure}\n", encoding="utf-8")
    name, *options = command
    job = ROOT / "fixtures" / "one_strap.toml"
    done = run(name, job, *options, "--workshop", profile)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout


@pytest.mark.parametrize(
    ("table", "wrong", "right"),
    [
        ("hours", "pneumatics.recover_resevoir", "pneumatics.recover_reservoir"),
        ("prices", "pneumatics.belows_cloth", "pneumatics.bellows_cloth"),
    ],
)
def test_an_unknown_id_in_the_profile_is_named(
    run: Run, tmp_path: Path, table: str, wrong: str, right: str
) -> None:
    value = "[1, 2, 3]" if table == "hours" else "3"
    profile = tmp_path / "profile.toml"
    profile.write_text(f'[{table}]\n"{wrong}" = {value}\n', encoding="utf-8")
    warned = run("grade", ROOT / "fixtures" / "one_strap.toml", "--workshop", profile)
    checked = run("check", "--workshop", profile)
    assert (warned.returncode, checked.returncode) == (0, 2)
    for said in (warned.stderr, " ".join(checked.stdout.split())):
        assert f'{table}."{wrong}" has no effect' in said
        assert right in said
