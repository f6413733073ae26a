"""A fifth subsystem, installed as a package of its own beside the four."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import ROOT, Run, install

PACKAGE = ROOT / "tests" / "packages" / "suction_unit"
JOB = """\
format = 1
title = "Organ with a suction unit"
[instrument.features]
suction_unit = true
[answers.suction_unit]
flex = "cloth covered or cracked"
run_down = "1 s"
[answers.pneumatics]
reservoir_cloth = "perished, rubber flaking all over"
"""


@pytest.fixture(scope="session")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package built and installed into a folder of its own."""
    return install(PACKAGE, tmp_path_factory.mktemp("site"))


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    return path


def test_it_is_discovered_and_graded(run: Run, installed: Path, job: Path) -> None:
    listed = run("subsystems", "--json", PYTHONPATH=str(installed))
    data = json.loads(listed.stdout)["data"]
    assert [s["id"] for s in data["subsystems"]] == [
        "pneumatics", "action", "reeds", "casework", "suction_unit"]  # fmt: skip
    assert data["faults"] == []
    graded = json.loads(run("grade", job, "--json", PYTHONPATH=str(installed)).stdout)["data"]
    unit = next(s for s in graded["subsystems"] if s["id"] == "suction_unit")
    assert (unit["lower"], unit["upper"]) == (20, 20)
    assert graded["cautions"][0]["id"] == "suction_unit.mains"


def test_order_runs_both_ways_between_it_and_the_four(run: Run, installed: Path, job: Path) -> None:
    shown = run("plan", job, "--scope", "full", "--json", PYTHONPATH=str(installed))
    order = [s["step"] for s in json.loads(shown.stdout)["data"]["steps"]]
    assert order.index("suction_unit.renew_flex") < order.index("pneumatics.isolate_suction_unit")
    assert order.index("pneumatics.lower_action_complete") < order.index(
        "suction_unit.renew_bearings"
    )
    assert order.index("suction_unit.renew_bearings") < order.index("close pneumatics.lower_action")


def test_when_it_raises_the_four_go_on_and_it_is_named(
    run: Run, installed: Path, job: Path
) -> None:
    environment = {"PYTHONPATH": str(installed), "SUCTION_UNIT_FAILS": "1"}
    done = run("grade", job, **environment)
    assert done.returncode == 0
    assert (
        "plugin suction_unit (assess-suction-unit 0.3.0), subsystem: "
        "RuntimeError: the unit has burnt out" in done.stderr
    )
    assert "not assessed" in done.stdout
    assert "Wind supply" in done.stdout
    assert run("grade", job, "--strict", **environment).returncode == 3
    assert "NOT ASSESSED" in run("subsystems", **environment).stdout
    assert run("check", **environment).returncode == 3


def test_without_it_its_answers_are_kept_and_warned_to_be_unused(run: Run, job: Path) -> None:
    done = run("grade", job)
    assert done.returncode == 0
    assert "answers.suction_unit: no installed plugin knows this subsystem" in done.stderr
    assert job.read_text() == JOB
