"""Computed criteria: judged, overridden, unseen with what is missing, and isolated."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path

import pluggy
import pytest
import toy
from click.testing import CliRunner

from assess import Inspection, JobFileError, Measurement, Quantity, Sheet, hookimpl
from assess.assessment import Assessment, assess
from assess.base.errors import PluginInterrupted
from assess.cli.commands import main
from assess.grading.judgements import State
from assess.job.computed_values import measure_all
from assess.job.job_reading import parse
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.merging import merged
from assess.knowledge.references import qualified
from assess.output.measures import measures_text, sheet_text
from assess.plugin import hookspecs
from assess.plugin.hookspecs import PROJECT

COMPUTING = toy.altered(
    toy.WHEELS,
    "criterion",
    "play",
    computed_from=["wheels.slack"],
)
COMPUTING["survey"] = [
    {
        "id": "spokes",
        "title": "Spokes one by one",
        "columns": [
            {"id": "spoke", "required": True},
            {"id": "length", "unit": "mm", "possible": [100, 900]},
            {"id": "state"},
        ],
    }
]


class Computes:
    """A plugin that takes the play from the spread of a survey."""

    @hookimpl
    def measure(self, inspection: Inspection) -> Iterator[Measurement]:
        lengths = [r["length"] for r in inspection.surveys.get("wheels.spokes", ())]
        if not lengths:
            yield Measurement("play", "Play", "mm", "spread", "arithmetic", wants=("a survey",))
            return
        spread = max(lengths) - min(lengths)
        yield Measurement("play", "Play", "cm", "spread", "arithmetic", spread / 10, 0.01,
                          (("spokes", str(len(lengths))),), "It wobbles.")  # fmt: skip

    @hookimpl
    def sheets(self, inspection: Inspection) -> list[Sheet]:
        return [Sheet("list", "Spokes", ("Spoke", "mm"), (("a", "300"),), ("Handle with care.",))]


class Raises:
    @hookimpl
    def measure(self, inspection: Inspection) -> list[Measurement]:
        raise ZeroDivisionError("no wheel")


class Exits:
    @hookimpl
    def measure(self, inspection: Inspection) -> list[Measurement]:
        raise SystemExit(4)


class RaisesLate:
    @hookimpl
    def measure(self, inspection: Inspection) -> Iterator[Measurement]:
        yield Measurement("play", "Play", "mm", "spread", "arithmetic", 1.0)
        raise LookupError("the second value")


class Lies:
    @hookimpl
    def measure(self, inspection: Inspection) -> list[str]:
        return ["7 mm"]


class Meddles:
    @hookimpl
    def measure(self, inspection: Inspection) -> list[Measurement]:
        inspection.facts["spokes"] = 99  # type: ignore[index]
        return []


class Gives:
    """A plugin that gives back prepared measurements and amounts."""

    def __init__(self, *given: Measurement | Quantity) -> None:
        self.given = given

    @hookimpl
    def measure(self, inspection: Inspection) -> list[Measurement]:
        return [g for g in self.given if isinstance(g, Measurement)]

    @hookimpl
    def quantities(self, inspection: Inspection) -> list[Quantity]:
        return [g for g in self.given if isinstance(g, Quantity)]


def measured(identifier: str, value: float | None = 1.0, unit: str = "mm") -> Measurement:
    return Measurement(identifier, "Play", unit, "spread", "arithmetic", value)


def knowledge(plugin: object) -> Knowledge:
    manager = pluggy.PluginManager(PROJECT)
    manager.add_hookspecs(hookspecs)
    manager.register(plugin)
    declared = [qualified(toy.declaration(d)) for d in (COMPUTING, toy.BOX)]
    return merged(declared, hooks={"wheels": manager.hook})


def assessed(
    tmp_path: Path, csv: str | None, answers: str = "", plugin: object = None
) -> Assessment:
    text = "format = 1\n"
    if csv is not None:
        (tmp_path / "spokes.csv").write_text(csv, encoding="utf-8")
        text += '[surveys]\n"wheels.spokes" = "spokes.csv"\n'
    job = parse(text + answers, str(tmp_path / "job.toml"))
    return assess(job, knowledge=knowledge(plugin or Computes()))


def test_a_computed_value_is_judged_with_its_inputs(tmp_path: Path) -> None:
    result = assessed(tmp_path, "spoke,length\na,300\nb,307\n")
    play = result.graded.judgements["wheels.play"]
    assert play.is_seen
    assert (play.value, play.best.says) == (pytest.approx(7), "wobbles")
    assert "computed from spokes 2" in play.note
    assert "wheels.new_bearing" in result.plans["full"].called
    shown = measures_text(result)
    assert "Play: 0.7 ± 0.01 cm\n" in shown
    assert "It wobbles." in shown
    assert "From: spokes 2." in shown
    assert "How: spread. Source: arithmetic." in shown
    assert "Play: 0.7 ± 0.01 cm [wheels.play]\n" in measures_text(result, ids=True)


def test_without_inputs_it_is_unseen_and_says_what_is_missing(tmp_path: Path) -> None:
    result = assessed(tmp_path, None)
    play = result.graded.judgements["wheels.play"]
    assert (play.state, play.missing) == (State.NOT_COMPUTED, ("a survey",))
    assert "Missing: a survey." in measures_text(result)


def test_an_answer_in_the_file_overrides_the_computed_value(tmp_path: Path) -> None:
    result = assessed(tmp_path, "spoke,length\na,300\nb,307\n", '[answers.wheels]\nplay = "0 mm"\n')
    assert result.graded.judgements["wheels.play"].best.condition == 0


def test_sheets_are_made_and_shown(tmp_path: Path) -> None:
    result = assessed(tmp_path, None)
    assert list(result.sheets) == ["wheels.list"]
    assert "Handle with care." in sheet_text(result, result.sheets["wheels.list"])


@pytest.mark.parametrize(
    ("plugin", "words"),
    [
        (Raises(), "measure: ZeroDivisionError: no wheel"),
        (RaisesLate(), "measure: LookupError: the second value"),
        (Exits(), "measure: SystemExit: 4"),
        (Lies(), "measure: expected a Measurement, got str"),
        (Meddles(), "measure: TypeError: 'mappingproxy' object does not support item assignment"),
        (Gives(measured("play", math.nan)), "measure: the value of 'play' is nan, expected"),
        (Gives(measured("play", unit="s")), "measure: the unit of 'play': \"s\" is a unit of time"),
        (Gives(measured("paly")), "measure: 'paly' answers no criterion; did you mean \"play\"?"),
        (Gives(measured("Play")), "measure: 'Play' is not an id"),
        (Gives(measured("play"), measured("play")), "measure: measure gives the id 'play' twice"),
        (Gives(measured("noise")), "measure: 'noise' is a criterion asked in words"),
        (
            Gives(Quantity("new_spoke", "spoke", 1)),
            "quantities: no repair 'new_spoke'; did you mean \"new_spokes\"",
        ),
        (
            Gives(Quantity("new_spokes", "grease", 1)),
            "quantities: repair 'new_spokes' uses no material 'grease'; known: \"spoke\"",
        ),
        (
            Gives(Quantity("new_spokes", "spoke", -1)),
            "quantities: the amount of 'spoke' is -1, expected 0 or more",
        ),
    ],
)
def test_a_plugin_that_cannot_compute_is_named_and_not_assessed(
    tmp_path: Path, plugin: object, words: str
) -> None:
    result = assessed(tmp_path, None, '[answers.box]\ncrack = "none"\n', plugin)
    (fault,) = result.faults
    assert words in str(fault)
    assert str(fault).startswith("plugin wheels, ")
    assert fault.subsystem == "wheels"
    assert not result.graded.subsystems["wheels"].assessed
    assert result.graded.subsystems["wheels"].grade.coverage == 0
    assert result.graded.subsystems["box"].grade.lower == 100
    assert any(words in w for w in result.warnings)


class FailsAtTheBench:
    @hookimpl
    def sheets(self, inspection: Inspection) -> list[Sheet]:
        raise ZeroDivisionError("no spokes to list")

    @hookimpl
    def figures(self, inspection: Inspection) -> list[str]:
        return ["a plot"]


def test_a_plugin_that_fails_at_sheets_or_figures_is_named_and_still_assessed(
    tmp_path: Path,
) -> None:
    result = assessed(tmp_path, None, plugin=FailsAtTheBench())
    assert (result.sheets, result.figures) == ({}, {})
    (sheet_fault,), (figure_fault,) = result.sheet_faults, result.figure_faults
    assert "wheels" in str(sheet_fault)
    assert "sheets: ZeroDivisionError: no spokes to list" in str(sheet_fault)
    assert "figures: expected a Figure, got str" in str(figure_fault)
    assert result.faults == ()
    assert result.graded.subsystems["wheels"].assessed


@pytest.mark.parametrize(
    ("command", "words"), [("sheet", "no spokes to list"), ("measure", "expected a Figure")]
)
def test_the_command_that_shows_them_warns(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str, words: str
) -> None:
    job = tmp_path / "job.toml"
    job.write_text("format = 1\n", encoding="utf-8")
    broken = knowledge(FailsAtTheBench())
    monkeypatch.setattr("assess.plugin.registry.knowledge_in_use", lambda without=(): broken)
    shown = CliRunner().invoke(main, [command, str(job)])
    assert shown.exit_code == 0
    (warning,) = shown.stderr.splitlines()
    assert warning.startswith("warning: plugin wheels, ")
    assert words in warning
    data = json.loads(CliRunner().invoke(main, [command, str(job), "--json"]).stdout)
    assert [w for w in data["warnings"] if words in w]
    assert CliRunner().invoke(main, [command, str(job), "--strict"]).exit_code == 3


def test_nothing_is_computed_without_hooks() -> None:
    assert measure_all(toy.knowledge(), Inspection()).values == {}


class Prints:
    @hookimpl
    def measure(self, inspection: Inspection) -> list[Measurement]:
        print("so far so good")
        return [measured("play", 7.0)]


def test_what_a_plugin_prints_does_not_reach_the_output(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    result = assessed(tmp_path, None, plugin=Prints())
    assert result.graded.judgements["wheels.play"].value == 7
    assert result.faults == ()
    assert capsys.readouterr() == ("", "")


class Interrupted:
    @hookimpl
    def measure(self, inspection: Inspection) -> list[Measurement]:
        raise KeyboardInterrupt


def test_an_interruption_is_no_fault_of_the_plugin_but_names_it(tmp_path: Path) -> None:
    with pytest.raises(PluginInterrupted, match="interrupted in plugin wheels, measure"):
        assessed(tmp_path, None, plugin=Interrupted())


@pytest.mark.parametrize(
    "csv",
    [
        "spoke;length\na;300,5\nb;307,5\n",
        "spoke\tlength\na\t300.5\nb\t307.5\n",
        "Spoke, Length \na, 30.05 cm\nb,307.5 mm\n\n",
        "\ufeffspoke,length\na,300.5\nb,307.5\n",
    ],
)
def test_separators_decimal_commas_and_units(tmp_path: Path, csv: str) -> None:
    result = assessed(tmp_path, csv)
    assert result.graded.judgements["wheels.play"].value == pytest.approx(7)


@pytest.mark.parametrize(
    ("csv", "words"),
    [
        ("", "empty; the first line holds the headings: spoke, length (may be left out)"),
        ("spok,length\na,300\n", "spokes.csv:1: unknown column 'spok'; did you mean \"spoke\"?"),
        ("length\n300\n", "spokes.csv:1: column 'spoke' is missing"),
        ("spoke,spoke\na,b\n", "column 'spoke' appears twice"),
        ("spoke,length\na,long\n", 'spokes.csv:2: column length: "long" is not a number'),
        ("spoke,length\na,300\nb,3 s\n", 'spokes.csv:3: column length: "s" is a unit of time'),
        ("spoke,length\na,3.0\n", "spokes.csv:2: column length: 3 mm is out of range (100 to 900)"),
        ("spoke,length\n,300\n", "spokes.csv:2: column spoke: empty"),
        ("spoke,length\na,300,9\n", "spokes.csv:2: 3 cells, but 2 headings"),
    ],
)
def test_faults_of_a_survey_are_named_with_row_and_column(
    tmp_path: Path, csv: str, words: str
) -> None:
    with pytest.raises(JobFileError) as error:
        assessed(tmp_path, csv)
    assert words in str(error.value)


def test_a_survey_that_is_not_there_or_not_known(tmp_path: Path) -> None:
    job = parse('format = 1\n[surveys]\n"wheels.spokes" = "gone.csv"\n', str(tmp_path / "j.toml"))
    with pytest.raises(JobFileError, match=r"gone\.csv: there is no such file"):
        assess(job, knowledge=knowledge(Computes()))
    job = parse('format = 1\n[surveys]\n"wheels.spoke" = "x.csv"\n', str(tmp_path / "j.toml"))
    with pytest.raises(JobFileError, match=r'did you mean "wheels\.spokes"'):
        assess(job, knowledge=knowledge(Computes()))
