"""Printed output that a person has read and would send: any change of it is looked at.

Refresh with ``UPDATE_GOLDEN=1 pytest tests/test_golden.py``, and read the difference.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from conftest import ROOT, Run

GOLDEN = Path(__file__).parent / "golden"
SHOWN = [
    (job, command)
    for job in ("one_strap", "heated_house", "barely_inspected", "flooded")
    for command in ("grade", "plan", "verdict")
]


@pytest.mark.parametrize(("job", "command"), SHOWN, ids=lambda v: v)
def test_output_is_as_it_was_read(run: Run, job: str, command: str) -> None:
    shown = run(command, ROOT / "fixtures" / f"{job}.toml").stdout
    golden = GOLDEN / f"{job}.{command}.txt"
    if os.environ.get("UPDATE_GOLDEN"):
        GOLDEN.mkdir(exist_ok=True)
        golden.write_text(shown, encoding="utf-8")
    assert shown == golden.read_text(encoding="utf-8")
