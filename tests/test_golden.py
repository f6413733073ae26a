"""Printed output that a person has read and would send: any change of it is looked at.

Refresh with ``UPDATE_GOLDEN=1 pytest tests/test_golden.py``, and read the difference.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from conftest import ROOT, Run, golden

GOLDEN = Path(__file__).parent / "golden"
SHOWN = [
    *(
        (job, command)
        for job in ("one_strap", "heated_house", "barely_inspected", "flooded")
        for command in ("grade", "plan", "verdict", "look")
    ),
    ("one_strap", "plan --how --why"),
    ("one_strap", "calendar --start 2027-01-11"),
    ("one_strap", "why renew_straps"),
    ("flooded", "verdict --all"),
    ("tight_budget", "budget 2500"),
    ("tight_budget", "measure"),
    ("tight_budget", "sheet cutting_list"),
    ("tight_budget", "sheet pitch_choices"),
    ("tight_budget", "sheet tuning_sheet"),
]


@pytest.mark.parametrize(("job", "command"), SHOWN, ids=lambda v: v.replace(" ", "_"))
def test_output_is_as_it_was_read(run: Run, job: str, command: str) -> None:
    name, *options = command.split()
    done = run(name, ROOT / "fixtures" / f"{job}.toml", *options)
    assert done.returncode == 0, done.stderr
    file = "_".join([f"{job}.{name}", *(option.strip("-") for option in options)])
    assert done.stdout == golden(GOLDEN / f"{file}.txt", done.stdout)


def test_what_was_read_is_replaced_only_where_a_person_can_read_it_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "read.txt"
    file.write_text("as read", encoding="utf-8")
    monkeypatch.delenv("CI", raising=False)
    monkeypatch.setenv("UPDATE_GOLDEN", "1")
    assert golden(file, "new") == file.read_text(encoding="utf-8") == "new"
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="is not replaced"):
        golden(file, "newer")
    assert file.read_text(encoding="utf-8") == "new"


def test_nothing_of_the_caller_changes_what_a_test_sees(run: Run) -> None:
    assert not {name for name in ("ASSESS_WORKSHOP", "ASSESS_PLUGINS") if name in os.environ}
    os.environ["ASSESS_WORKSHOP"] = "/nowhere/workshop.toml"
    try:
        assert run("grade", ROOT / "fixtures" / "one_strap.toml").returncode == 0
    finally:
        del os.environ["ASSESS_WORKSHOP"]
