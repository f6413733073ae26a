"""Slips of a plugin's author: each gives one line that names the culprit and the correction."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import ROOT

from assess import DeclarationError, testing
from assess.knowledge.plugin_faults import Provider
from assess.plugin.isolation import HookError
from assess.plugin.registry import declared_by

CODE = '''\
"""A gate, as a subsystem."""

from assess import Declaration, Inspection, Measurement, Quantity, hookimpl, read_declaration


@hookimpl
def subsystem() -> Declaration:
    return read_declaration(__name__)


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    width = inspection.number("width", "m")
    if width is None:
        return []
    return [Measurement("sag", "Sag", "mm", "width / 100", "from memory", 10 * width)]


@hookimpl
def quantities(inspection: Inspection) -> list[Quantity]:
    return [Quantity("hang", "screw", 4.0)]
'''
DATA = """\
[subsystem]
id = "gate"
title = "Gate"
weight = 1

[[component]]
id = "hinge"
title = "Hinge"

[[feature]]
id = "latch"
asks = "Latch"

[[fact]]
id = "width"
asks = "Width"
unit = "mm"

[[material]]
id = "screw"
title = "Screw"
unit = "each"
price = 1

[[place]]
id = "post"
title = "Post"
open = "Lift the gate off"
close = "Hang the gate"
open_hours = [0.1, 0.2, 0.3]
close_hours = [0.1, 0.2, 0.3]

[[criterion]]
id = "sag"
component = "hinge"
asks = "Sag"
how = "Look."
minutes = 1
weight = 1
unit = "mm"
computed_from = ["width"]
outcomes = [
  { from = 0, says = "level", class = 0 },
  { from = 20, says = "sags", class = 2, calls_for = ["hang"] },
]

[[criterion]]
id = "noise"
component = "hinge"
asks = "Noise"
how = "Listen."
minutes = 1
weight = 1
needs = ["latch"]
outcomes = [
  { answer = "silent", class = 0 },
  { answer = "squeaks", class = 1, calls_for = ["oil"] },
]

[[repair]]
id = "hang"
component = "hinge"
title = "Hang it again"
places = ["post"]
hours = [1, 2, 3]
materials = [{ id = "screw", quantity = 2 }]

[[repair]]
id = "oil"
component = "hinge"
title = "Oil it"
hours = [0.1, 0.2, 0.3]

[[hold_point]]
id = "swings"
title = "It swings freely"
hours = [0.1, 0.1, 0.1]
proves = ["hang"]
"""

NAME = "assess_gate_under_test"


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A sound plugin package, to be spoilt."""
    folder = tmp_path / NAME
    folder.mkdir()
    (folder / "__init__.py").write_text(CODE, encoding="utf-8")
    (folder / "gate.toml").write_text(DATA, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    sys.modules.pop(NAME, None)
    yield folder
    sys.modules.pop(NAME, None)


def spoil(package: Path, file: str, right: str, wrong: str) -> None:
    path = package / file
    text = path.read_text(encoding="utf-8")
    assert right in text
    path.write_text(text.replace(right, wrong, 1), encoding="utf-8")


def refusal(package: Path) -> str:
    """What the kit says of the package, loading it, judging it, and running its hooks."""
    try:
        testing.assert_sound(NAME)
        testing.assessed(NAME, facts={"width": 3000})
    except (DeclarationError, AssertionError) as error:
        return str(error)
    return ""


def test_the_package_is_sound_before_it_is_spoilt(package: Path) -> None:
    assert refusal(package) == ""
    result = testing.assessed(NAME, {"gate.noise": "squeaks"}, {"latch": True}, {"width": 3000})
    sag = result.graded.judgements["gate.sag"]
    assert (sag.value, sag.outcome.says) == (30, "sags")
    hang = result.plans["full"].step("gate.hang")
    assert hang is not None
    assert [need.quantity for need in hang.materials] == pytest.approx([4.4])


SLIPS = {
    "unknown key": (
        "gate.toml", 'says = "sags", class = 2', 'says = "sags", clas = 2',
        ['gate.toml criterion sag: outcomes[1].clas: unknown key; did you mean "class"?',
         "gate.toml criterion sag: outcomes[1].class: is missing"]),
    "key left out": (
        "gate.toml", 'how = "Listen."\n', "", ["gate.toml criterion noise: how: is missing"]),
    "repair misspelt": (
        "gate.toml", 'calls_for = ["oil"]', 'calls_for = ["oile"]',
        ["criterion gate.noise: outcomes[1].calls_for names no repair 'gate.oile'; "
         'did you mean "gate.oil"?']),
    "feature misspelt": (
        "gate.toml", 'needs = ["latch"]', 'needs = ["lach"]',
        ["gate.noise: no feature is called 'lach'; did you mean \"latch\"?"]),
    "unknown unit": (
        "gate.toml", 'unit = "mm"\ncomputed', 'unit = "mms"\ncomputed',
        ["gate.toml criterion sag: unknown unit \"mms\"; known units: "]),
    "no outcome of class 0": (
        "gate.toml", 'answer = "silent", class = 0', 'answer = "silent", class = 1',
        ["gate.toml criterion noise: one outcome must have class 0"]),
    "hours the wrong way round": (
        "gate.toml", "hours = [1, 2, 3]", "hours = [3, 2, 1]",
        ["gate.toml repair hang: hours: hours must be low <= likely <= high"]),
    "one id twice": (
        "gate.toml", 'id = "oil"', 'id = "hang"', ["two repair entries have the id 'hang'"]),
    "hook misspelt": (
        "__init__.py", "def measure(", "def mesure(",
        [f"plugin {NAME}, register: there is no hook 'mesure'; did you mean \"measure\"?"]),
    "hook not marked": (
        "__init__.py", "@hookimpl\ndef subsystem", "def subsystem",
        [f"plugin {NAME}, subsystem: the hook is not implemented; mark it with @hookimpl"]),
    "fact misspelt in a hook": (
        "__init__.py", 'number("width", "m")', 'number("widht", "m")',
        [f"plugin {NAME}, measure: LookupError: no fact 'widht'; did you mean"]),
    "unit of another kind in a hook": (
        "__init__.py", 'number("width", "m")', 'number("width", "kg")',
        [f'plugin {NAME}, measure: UnitError: "mm" is a unit of length; expected mass']),
    "measurement misspelt": (
        "__init__.py", 'Measurement("sag"', 'Measurement("sags"',
        [f"plugin {NAME}, measure: 'sags' answers no criterion; did you mean \"sag\"?"]),
    "measurement in another kind of unit": (
        "__init__.py", '"Sag", "mm"', '"Sag", "s"',
        [f'plugin {NAME}, measure: the unit of \'sag\': "s" is a unit of time; expected length']),
    "repair misspelt in a hook": (
        "__init__.py", 'Quantity("hang"', 'Quantity("hangs"',
        [f"plugin {NAME}, quantities: no repair 'hangs'; did you mean \"hang\"?"]),
    "material misspelt in a hook": (
        "__init__.py", '"hang", "screw"', '"hang", "screws"',
        [f"plugin {NAME}, quantities: repair 'hang' uses no material 'screws'; did you mean"]),
    "a hook that leaves the program": (
        "__init__.py", 'width = inspection.number("width", "m")', "raise SystemExit(0)",
        [f"plugin {NAME}, measure: SystemExit: 0"]),
    "a number that is none": (
        "__init__.py", "10 * width", 'float("nan")',
        [f"plugin {NAME}, measure: the value of 'sag' is nan, expected a finite number or None"]),
    "a circle in the order": (
        "gate.toml", 'title = "Oil it"\n',
        'title = "Oil it"\nafter = [{ step = "swings", because = "x" }]\n'
        'before = [{ step = "hang", because = "y" }]\n',
        ["the order of work runs in a circle: "]),
    "a subsystem left out": (
        "gate.toml", '[subsystem]\nid = "gate"\ntitle = "Gate"\nweight = 1\n', "",
        ["a plugin declares a [subsystem], a [trade], or both"]),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_named_in_a_line_of_its_own(package: Path, slip: str) -> None:
    file, right, wrong, expected = SLIPS[slip]
    spoil(package, file, right, wrong)
    lines = refusal(package).splitlines()
    assert len(lines) == len(expected), lines
    for line, words in zip(sorted(lines), sorted(expected), strict=True):
        assert words in line


def test_several_slips_are_several_lines(package: Path) -> None:
    spoil(package, "gate.toml", "weight = 1\n\n[[component]]", "weigth = 1\n\n[[component]]")
    spoil(package, "gate.toml", 'how = "Listen."\n', "")
    spoil(package, "gate.toml", "price = 1", 'price = "one"')
    lines = refusal(package).splitlines()
    assert len(lines) == 4
    assert all(line.startswith(f"plugin {NAME}, subsystem: {NAME}") for line in lines)


def test_a_hold_point_that_nothing_waits_for_is_doubted(package: Path) -> None:
    spoil(package, "gate.toml", 'places = ["post"]\n', "")
    assert refusal(package) == (
        "gate.swings: nothing waits for this hold point; say what, with 'before'"
    )


def test_a_hold_point_holds_the_closing_of_its_place_by_itself(package: Path) -> None:
    assert package.exists()
    result = testing.assessed(NAME, {"gate.sag": 30})
    testing.assert_in_order(result, "gate.hang", "gate.swings", "close gate.post")


def test_a_reference_to_an_installed_plugin_is_doubted_when_it_is_misspelt(package: Path) -> None:
    spoil(
        package, "gate.toml", 'title = "Oil it"\n',
        'title = "Oil it"\nbefore = [{ step = "casework.acceptanse", because = "x" }]\n',
    )  # fmt: skip
    with pytest.raises(AssertionError) as caught:
        testing.assert_sound(NAME, beside_installed=True)
    assert "'casework.acceptanse', but casework declares no such id; did you mean" in str(
        caught.value
    )
    # Alone it waits for the plugin that is not there.
    testing.assert_sound(NAME)


def test_a_fact_with_another_meaning_than_an_installed_one_is_a_fault(package: Path) -> None:
    spoil(package, "gate.toml", '[[fact]]\nid = "width"', '[[fact]]\nid = "reservoir_width"')
    spoil(package, "gate.toml", 'unit = "mm"\n\n[[material', 'unit = "m"\n\n[[material')
    with pytest.raises(DeclarationError) as caught:
        testing.knowledge_of(NAME, beside_installed=True)
    assert "fact 'reservoir_width' is declared by pneumatics already, with another meaning" in str(
        caught.value
    )
    assert "unit 'mm' there, 'm' here" in str(caught.value)


def test_the_same_fact_declared_alike_is_shared(package: Path) -> None:
    spoil(
        package, "gate.toml", '[[fact]]\nid = "width"\nasks = "Width"\nunit = "mm"\n',
        '[[fact]]\nid = "reservoir_width"\nasks = "Width"\nunit = "mm"\npossible = [100, 1500]\n',
    )  # fmt: skip
    knowledge = testing.knowledge_of(NAME, beside_installed=True)
    assert "gate" in knowledge.subsystems
    assert knowledge.facts["reservoir_width"].asks.startswith("Reservoir board")


def test_what_a_hook_prints_stays_out_of_the_result(
    package: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil(
        package, "__init__.py", "    return [Quantity", '    print("hello")\n    return [Quantity'
    )
    testing.assessed(NAME)
    assert capsys.readouterr().out == ""


def test_a_hook_can_be_called_with_what_a_job_would_give_it(package: Path) -> None:
    assert package.exists()
    inspection = testing.inspection_with(NAME, facts={"width": "2 m"})
    assert inspection.number("width", "cm") == 200
    with pytest.raises(LookupError, match='did you mean "width"'):
        inspection.number("wdth", "cm")
    assert inspection.number("other.thing", "mm") is None


def test_a_plugin_that_is_no_module_of_hooks_is_refused() -> None:
    with pytest.raises(HookError, match="the hook is not implemented"):
        declared_by(object(), Provider("nothing"))


def test_a_strict_type_checker_accepts_a_plugin(package: Path, tmp_path: Path) -> None:
    from mypy import api

    config = tmp_path / "mypy.ini"
    config.write_text("[mypy]\nstrict = true\n", encoding="utf-8")
    out, errors, status = api.run(
        ["--config-file", str(config), "--cache-dir", str(ROOT / ".mypy_cache" / "plugins"),
         str(package)]
    )  # fmt: skip
    assert (status, errors) == (0, ""), out
    spoil(package, "__init__.py", "10 * width)]", '"wide")]')
    out, _, status = api.run(["--config-file", str(config), str(package)])
    assert status == 1
    assert "incompatible type" in out
