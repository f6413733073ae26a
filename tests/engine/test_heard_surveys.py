"""Surveys that are heard: what a plugin's hook gives is entered, and nothing by hand is lost."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pluggy
import pytest
import toy
from click.testing import CliRunner, Result
from pydantic import ValidationError

from assess import Heard, HeardRow, Inspection, JobFileError, hookimpl
from assess.cli.commands import main
from assess.job.csv_surveys import read_survey
from assess.job.survey_edits import Cell, read_survey_text
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.merging import merged
from assess.knowledge.references import qualified
from assess.knowledge.surveys import Survey
from assess.plugin import hookspecs
from assess.plugin.hookspecs import PROJECT

SPOKES: dict[str, Any] = {
    "id": "spokes",
    "title": "Spokes one by one",
    "key": ["spoke"],
    "columns": [
        {"id": "spoke", "required": True},
        {"id": "state"},
        {"id": "length", "unit": "mm", "possible": [100, 900]},
        {"id": "notes"},
    ],
    "hears": {
        "mark": "notes",
        "options": [
            {"id": "wheel", "says": "The wheel that was tapped.", "required": True},
            {"id": "side", "says": "Its side.", "usual": "left"},
        ],
    },
}


class Hears:
    """A plugin that hears one spoke for each line of a recording: name and state."""

    @hookimpl
    def hear(
        self, survey: str, recording: Path, options: Mapping[str, str], inspection: Inspection
    ) -> Heard:
        assert survey == "spokes"
        if not recording.exists():
            raise JobFileError(f"{recording}: there is no such recording")
        lines = [line.split() for line in recording.read_text(encoding="utf-8").splitlines()]
        rows = [
            HeardRow({"spoke": name}, {"state": state, "length": length, "notes": "rings"})
            for name, state, length in lines
        ]
        return Heard(tuple(rows), (f"{options['side']} side of {options['wheel']}",))


class Breaks:
    """A plugin that cannot hear."""

    @hookimpl
    def hear(
        self, survey: str, recording: Path, options: Mapping[str, str], inspection: Inspection
    ) -> Heard:
        raise ZeroDivisionError("no sound at all")


class GivesWrong:
    """A plugin that gives what no survey can hold."""

    def __init__(self, given: Any) -> None:
        self.given = given

    @hookimpl
    def hear(self) -> Any:
        return self.given


def knowledge(plugin: object, **changes: Any) -> Knowledge:
    manager = pluggy.PluginManager(PROJECT)
    manager.add_hookspecs(hookspecs)
    manager.register(plugin)
    wheels = toy.WHEELS | {"survey": [SPOKES | changes]}
    declared = [qualified(toy.declaration(data)) for data in (wheels, toy.BOX, toy.TRADE)]
    return merged(declared, (), {"wheels": manager.hook})


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "cart.toml"
    path.write_text("format = 1\n# mine\n", encoding="utf-8")
    (tmp_path / "take").write_text("one firm 300\ntwo loose 310\n", encoding="utf-8")
    return path


def heard(monkeypatch: pytest.MonkeyPatch, job: Path, *more: str, plugin: object = None) -> Result:
    known = knowledge(plugin or Hears())
    monkeypatch.setattr("assess.plugin.registry._gathered", lambda *_: known)
    take = str(job.parent / "take")
    return CliRunner().invoke(main, ["hear", str(job), take, "--date", "2026-11-28", *more])


def lines(job: Path) -> list[str]:
    return (job.parent / "cart_wheels_spokes.csv").read_text(encoding="utf-8").splitlines()


def test_rows_are_entered_marked_and_named_in_the_job_file(
    monkeypatch: pytest.MonkeyPatch, job: Path
) -> None:
    result = heard(monkeypatch, job, "--wheel", "front")
    assert result.exit_code == 0, result.output
    assert "left side of front" in result.output
    assert "2 rows entered" in result.output
    assert lines(job)[1].startswith("one,firm,300,2026-11-28 in take [")
    assert lines(job)[1].endswith("]; rings")
    text = job.read_text(encoding="utf-8")
    assert '"wheels.spokes" = "cart_wheels_spokes.csv"' in text
    assert "# mine" in text


def test_what_was_heard_before_is_replaced_with_what_is_heard_now(
    monkeypatch: pytest.MonkeyPatch, job: Path
) -> None:
    heard(monkeypatch, job, "--wheel", "front")
    (job.parent / "take").write_text("one loose 299\n", encoding="utf-8")
    heard(monkeypatch, job, "--wheel", "front")
    assert lines(job)[1].startswith("one,loose,299,2026-11-28 ")
    assert lines(job)[2].startswith("two,loose,310,2026-11-28 ")


@pytest.mark.parametrize(
    ("before", "after"), [("one,firm", "one,split"), ("; rings", "; rings clearly"), ("300", "")]
)
def test_a_heard_row_that_a_person_changed_is_theirs(
    monkeypatch: pytest.MonkeyPatch, job: Path, before: str, after: str
) -> None:
    heard(monkeypatch, job, "--wheel", "front")
    file = job.parent / "cart_wheels_spokes.csv"
    changed = file.read_text(encoding="utf-8").replace(before, after, 1)
    file.write_text(changed, encoding="utf-8")
    (job.parent / "take").write_text("one loose 299\n", encoding="utf-8")
    result = heard(monkeypatch, job, "--wheel", "front")
    assert file.read_text(encoding="utf-8") == changed
    assert "Kept one as entered by hand" in result.output
    assert "Heard: state loose, length 299" in result.output


def test_a_row_by_hand_stays_and_the_difference_is_shown(
    monkeypatch: pytest.MonkeyPatch, job: Path
) -> None:
    file = job.parent / "cart_wheels_spokes.csv"
    file.write_text("spoke,state,length,notes\none,split,,by eye\n", encoding="utf-8")
    job.write_text('format = 1\n[surveys]\n"wheels.spokes" = "cart_wheels_spokes.csv"\n')
    result = heard(monkeypatch, job, "--wheel", "front")
    assert lines(job)[1] == "one,split,,by eye"
    assert lines(job)[2].startswith("two,loose,310,2026-11-28 ")
    assert "Kept one as entered by hand: state split." in result.output
    assert "Heard: state firm, length 300." in result.output
    assert "1 row entered" in result.output


@pytest.mark.parametrize(
    ("more", "plugin", "said", "code"),
    [
        ((), None, "give --wheel: The wheel that was tapped.", 2),
        (("none.wav", "--wheel", "front"), None, "there is no such recording", 2),
        (("--wheel", "front", "--survey", "spoke"), None, "no such survey 'spoke'", 2),
        (("--wheel", "front"), Breaks(), "ZeroDivisionError: no sound at all", 3),
    ],
)
def test_nothing_is_written_when_nothing_can_be_heard(
    monkeypatch: pytest.MonkeyPatch,
    job: Path,
    more: tuple[str, ...],
    plugin: object,
    said: str,
    code: int,
) -> None:
    before = job.read_text(encoding="utf-8")
    result = heard(monkeypatch, job, *more, plugin=plugin)
    assert result.exit_code == code, result.output
    assert said in result.output
    assert job.read_text(encoding="utf-8") == before
    assert [p.name for p in job.parent.glob("*.csv")] == []


SIDES = SPOKES | {
    "key": ["spoke", "side"],
    "columns": [*SPOKES["columns"], {"id": "side", "usual": "left"}],
}


def test_an_empty_key_cell_is_the_usual_one(tmp_path: Path) -> None:
    survey = Survey.model_validate(SIDES)
    file = tmp_path / "spokes.csv"
    file.write_text("spoke,state\none,firm\n", encoding="utf-8")
    sheet = read_survey_text(file, survey)
    left = Cell({"spoke": "one", "side": "left"}, "length", "300")
    right = Cell({"spoke": "one", "side": "right"}, "length", "310")
    assert sheet.filled([left, right]) == []
    assert sheet.text().splitlines() == [
        "spoke,state,length,side",
        "one,firm,300,",
        "one,,310,right",
    ]


def test_the_usual_one_written_out_names_the_same_row(tmp_path: Path) -> None:
    file = tmp_path / "spokes.csv"
    file.write_text("spoke,side\none,\none,Left\n", encoding="utf-8")
    with pytest.raises(JobFileError, match=r"spokes.csv:3: one Left appears twice; first in .*:2"):
        read_survey(file, Survey.model_validate(SIDES))


def test_empty_cells_of_a_row_by_hand_are_filled_in_if_nothing_differs(
    monkeypatch: pytest.MonkeyPatch, job: Path
) -> None:
    file = job.parent / "cart_wheels_spokes.csv"
    file.write_text("spoke,state,length,notes\none,FIRM,,by eye\n", encoding="utf-8")
    job.write_text('format = 1\n[surveys]\n"wheels.spokes" = "cart_wheels_spokes.csv"\n')
    result = heard(monkeypatch, job, "--wheel", "front")
    assert "2 rows entered" in result.output
    assert lines(job)[1].startswith('one,FIRM,300,"by eye; by hand, but length: 2026-11-28 in take')
    (job.parent / "take").write_text("one loose 299\n", encoding="utf-8")
    assert "Kept one as entered by hand" in heard(monkeypatch, job, "--wheel", "front").output
    assert lines(job)[1].startswith("one,FIRM,300,")


@pytest.mark.parametrize(
    ("wheels", "said"),
    [
        (("a",), ["left side of a", "left side of a"]),
        (("a", "b"), ["left side of a", "left side of b"]),
    ],
)
def test_what_is_said_once_holds_for_all_recordings_or_for_each_in_order(
    monkeypatch: pytest.MonkeyPatch, job: Path, wheels: tuple[str, ...], said: list[str]
) -> None:
    second = job.parent / "second"
    second.write_text("three firm 320\n", encoding="utf-8")
    given = [word for wheel in wheels for word in ("--wheel", wheel)]
    result = heard(monkeypatch, job, str(second), *given)
    found = [line.strip() for line in result.output.splitlines() if "side of" in line]
    assert found == said
    assert "3 rows entered" in result.output


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"rows": []}, "expected a Heard, got dict"),
        (
            Heard((HeardRow({"spoke": "one"}, {"rust": "much"}),)),
            "no such column for a row: 'rust'",
        ),
        (Heard((HeardRow({"state": "firm"}, {}),)), "no such column for a row: 'state'"),
        (Heard((HeardRow({"spoke": "one"}, {"state": "a\nb"}),)), "a cell is one line"),
        (Heard((HeardRow({"spoke": 1}, {}),)), "expected a valid string"),  # type: ignore[dict-item]
    ],
)
def test_what_no_survey_can_hold_is_the_plugins_fault(
    monkeypatch: pytest.MonkeyPatch, job: Path, given: Any, said: str
) -> None:
    result = heard(monkeypatch, job, "--wheel", "front", plugin=GivesWrong(given))
    assert result.exit_code == 3, result.output
    assert said in result.output
    assert list(job.parent.glob("*.csv")) == []


def test_what_the_survey_cannot_hold_is_refused_and_nothing_is_written(
    monkeypatch: pytest.MonkeyPatch, job: Path
) -> None:
    (job.parent / "take").write_text("one firm 9000\n", encoding="utf-8")
    result = heard(monkeypatch, job, "--wheel", "front")
    assert result.exit_code == 2
    assert "out of range" in result.output
    assert list(job.parent.glob("*.csv")) == []


def test_the_mark_needs_a_column_of_its_own() -> None:
    with pytest.raises(ValidationError, match="hears names no column for its mark: 'spoke'"):
        Survey.model_validate(SPOKES | {"hears": {"mark": "spoke"}})
