"""Plugins as separate distributions: found, isolated, and named when they fail."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from importlib.metadata import distributions
from pathlib import Path
from typing import Any

import pytest

from assess.base.errors import UserError
from assess.knowledge.plugin_faults import OWN_DISTRIBUTION
from assess.knowledge.trade import NEUTRAL
from assess.plugin.registry import (
    GROUP,
    TRADE_GROUP,
    FoundPlugin,
    find_plugins,
    gather,
    selected,
)

SOUND = """
from assess import Declaration, hookimpl
@hookimpl
def subsystem():
    return {{
        "subsystem": {{"id": "{id}", "title": "{id}", "weight": 1}},
        "component": [{{"id": "part", "title": "Part"}}],
        "criterion": [{{"id": "state", "component": "part", "asks": "State", "how": "Look.",
            "minutes": 1, "weight": 1, "outcomes": [
                {{"answer": "good", "class": 0}},
                {{"answer": "bad", "class": 2, "calls_for": ["mend"]}}]}}],
        "repair": [{{"id": "mend", "component": "part", "title": "Mend",
            "hours": [1, 2, 3] {extra}}}],
        {also}
    }}
"""


class Shelf:
    """A folder of hand-made distributions, seen as installed."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def install(self, name: str, code: str, distribution: str = "", group: str = "assess") -> None:
        (self.folder / f"plug_{name}.py").write_text(code)
        info = self.folder / f"plug_{name}-1.2.dist-info"
        info.mkdir()
        owner = distribution or f"plug-{name}"
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {owner}\nVersion: 1.2\n")
        (info / "entry_points.txt").write_text(f"[{group}]\n{name} = plug_{name}\n")

    def plugins(self) -> list[FoundPlugin]:
        entries = [
            e
            for d in distributions(path=[str(self.folder)])
            for group in (GROUP, TRADE_GROUP)
            for e in d.entry_points.select(group=group)
        ]
        return find_plugins(entries)


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shelf]:
    monkeypatch.syspath_prepend(str(tmp_path))
    yield Shelf(tmp_path)
    for name in [m for m in sys.modules if m.startswith("plug_")]:
        del sys.modules[name]


def sound(name: str, extra: str = "", also: str = "") -> str:
    """A sound plugin, with more keys of its repair, or of the whole declaration."""
    return SOUND.format(id=name, extra=f", {extra}" if extra else "", also=also)


def test_found_in_a_fixed_order_whatever_the_order_of_installing(shelf: Shelf) -> None:
    for name in ("zinc", "amber", "moss"):
        shelf.install(name, sound(name))
    assert [p.name for p in shelf.plugins()] == ["amber", "moss", "zinc"]
    assert list(gather(shelf.plugins()).subsystems) == ["amber", "moss", "zinc"]


BROKEN = {
    "import": ("import does_not_exist_anywhere", "No module named"),
    "syntax": ("def (:", "SyntaxError"),
    "exits": ("raise SystemExit(1)", "SystemExit"),
    "exits_in_a_hook": (
        "from assess import hookimpl\n@hookimpl\ndef subsystem():\n    raise SystemExit(0)\n",
        "subsystem: SystemExit: 0",
    ),
    "raises": (
        "from assess import hookimpl\n@hookimpl\ndef subsystem():\n    return 1 / 0\n",
        "ZeroDivisionError",
    ),
    "nothing": (
        "from assess import hookimpl\n@hookimpl\ndef subsystem():\n    return None\n",
        "returned nothing",
    ),
    "wrong_type": (
        "from assess import hookimpl\n@hookimpl\ndef subsystem():\n    return 7\n",
        "expected a Declaration or a mapping, got int",
    ),
    "generator": (
        "from assess import hookimpl\n@hookimpl\ndef subsystem():\n    yield {}\n",
        "expected a Declaration or a mapping, got generator",
    ),
    "misspelt": (
        "from assess import hookimpl\n@hookimpl\ndef subsytem():\n    return {}\n",
        "there is no hook 'subsytem'; did you mean \"subsystem\"?",
    ),
    "arguments": (
        "from assess import hookimpl\n@hookimpl\ndef subsystem(knowledge):\n    return {}\n",
        "knowledge",
    ),
    "no_hook": ("x = 1\n", "the hook is not implemented"),
    "nonsense": (
        "from assess import hookimpl\n@hookimpl\ndef subsystem():\n"
        "    return {'subsystem': {'id': 'x', 'title': 'X', 'weight': -1}}\n",
        "subsystem.weight: Input should be greater than or equal to 0.000001",
    ),
    "unknown_key": (
        "from assess import hookimpl\n@hookimpl\ndef subsystem():\n"
        "    return {'subsystem': {'id': 'x', 'title': 'X', 'wheight': 1, 'weight': 1}}\n",
        'subsystem.wheight: unknown key; did you mean "weight"?',
    ),
    "own_reference": (
        sound("own_reference", "'requires': [{'step': 'gone', 'because': 'x'}]"),
        "repair own_reference.mend: requires[0].step names no step 'own_reference.gone'",
    ),
    "circle": (
        sound("circle", "'requires': [{'step': 'mend', 'because': 'it needs itself'}]"),
        "circle.mend comes before circle.mend (it needs itself)",
    ),
}


@pytest.mark.parametrize("kind", BROKEN)
def test_a_broken_plugin_is_named_and_the_others_go_on(shelf: Shelf, kind: str) -> None:
    code, words = BROKEN[kind]
    shelf.install("amber", sound("amber"))
    shelf.install("moss", sound("moss"))
    shelf.install(kind, code)
    knowledge = gather(shelf.plugins())
    assert list(knowledge.subsystems) == ["amber", "moss"]
    (fault,) = knowledge.faults
    assert words in str(fault)
    assert f"plugin {kind} (plug-{kind} 1.2)" in str(fault)


def test_two_claimants_of_one_id_are_both_named(shelf: Shelf) -> None:
    shelf.install("amber", sound("stone"))
    shelf.install("zinc", sound("stone"))
    shelf.install("moss", sound("moss"))
    knowledge = gather(shelf.plugins())
    assert list(knowledge.subsystems) == ["moss"]
    assert len(knowledge.faults) == 2
    for fault in knowledge.faults:
        assert "amber (plug-amber 1.2) and zinc (plug-zinc 1.2)" in str(fault)


def test_the_engines_own_plugin_keeps_an_id_that_another_claims(shelf: Shelf) -> None:
    shelf.install("amber", sound("stone"))
    shelf.install("zinc", sound("stone"), OWN_DISTRIBUTION)
    knowledge = gather(shelf.plugins())
    assert list(knowledge.subsystems) == ["stone"]
    assert str(knowledge.provider_of("stone")) == "zinc (reed-organ-assess 1.2)"
    (fault,) = knowledge.faults
    assert (fault.plugin, fault.subsystem) == ("amber", "stone")
    assert "amber (plug-amber 1.2)" in str(fault)
    assert "zinc (reed-organ-assess 1.2)" in str(fault)


FEATURE = {"id": "lid", "asks": "Has it a lid?"}
FACT = {"id": "legs", "asks": "Legs", "unit": "count", "usual": 4, "possible": [0, 9]}


@pytest.mark.parametrize(
    ("kind", "first", "changes", "words"),
    [
        ("feature", FEATURE, {"options": {"flat": "Flat", "steep": "Steep"}, "usual": "flat"},
         "feature 'lid' is declared by amber already, with another meaning"),
        ("feature", FEATURE, {"usual": True}, "usual False there, True here"),
        ("fact", FACT, {"usual": 3}, "usual 4.0 there, 3.0 here"),
        ("fact", FACT, {"unit": "mm"}, "unit 'count' there, 'mm' here"),
        ("fact", FACT, {"possible": [0, 8]}, "possible (0.0, 9.0) there, (0.0, 8.0) here"),
    ],
)  # fmt: skip
def test_who_redeclares_with_another_meaning_is_left_out(
    shelf: Shelf, kind: str, first: dict[str, Any], changes: dict[str, Any], words: str
) -> None:
    shelf.install("amber", sound("amber", also=f"{kind!r}: [{first}]"))
    shelf.install("moss", sound("moss", also=f"{kind!r}: [{ {**first, 'asks': 'Or so?'} }]"))
    shelf.install("zinc", sound("zinc", also=f"{kind!r}: [{ {**first, **changes} }]"))
    knowledge = gather(shelf.plugins())
    assert list(knowledge.subsystems) == ["amber", "moss"]
    (fault,) = knowledge.faults
    assert (fault.plugin, fault.subsystem) == ("zinc", "zinc")
    assert words in str(fault)


TRADE = """
from assess import hookimpl
@hookimpl
def subsystem():
    return {{"trade": {{"noun": "{noun}"}}}}
"""


def test_of_two_trades_the_second_is_left_out(shelf: Shelf) -> None:
    assert gather(shelf.plugins()).trade == NEUTRAL
    for name in ("clock", "boat"):
        shelf.install(name, TRADE.format(noun=name), group="assess.trade")
    shelf.install("moss", sound("moss"))
    knowledge = gather(shelf.plugins())
    assert knowledge.trade.noun == "boat"
    (fault,) = knowledge.faults
    assert fault.plugin == "clock"
    assert "[trade] is declared by boat (plug-boat 1.2) already" in str(fault)


def test_plugins_are_selected_by_name_and_the_trade_with_them(shelf: Shelf) -> None:
    for name in ("amber", "moss"):
        shelf.install(name, sound(name))
    shelf.install("boat", TRADE.format(noun="boat"), group="assess.trade")
    found = shelf.plugins()

    def names(**chosen: list[str]) -> list[str]:
        return [plugin.name for plugin in selected(found, **chosen)]

    assert names() == ["amber", "boat", "moss"]
    assert names(only=["moss"]) == ["boat", "moss"]
    assert names(without=["moss"]) == ["amber", "boat"]
    assert names(only=["moss"], without=["boat"]) == ["moss"]
    for chosen in ({"only": ["mos"]}, {"without": ["mos"]}):
        with pytest.raises(UserError, match="no installed plugin is called 'mos'; did you mean"):
            names(**chosen)


def test_references_to_what_is_not_installed_are_dropped_and_listed(shelf: Shelf) -> None:
    shelf.install(
        "amber", sound("amber", "'after': [{'step': 'moss.mend', 'because': 'moss first'}]")
    )
    alone = gather(shelf.plugins())
    assert alone.repairs["amber.mend"].after == ()
    (dropped,) = alone.dropped
    assert (dropped.target, dropped.reason) == ("moss.mend", "subsystem moss is not installed")
    shelf.install("moss", sound("moss"))
    both = gather(shelf.plugins())
    assert both.dropped == ()
    assert both.repairs["amber.mend"].after[0].step == "moss.mend"


def test_a_circle_across_plugins_costs_only_the_one_that_closes_it(shelf: Shelf) -> None:
    shelf.install(
        "amber", sound("amber", "'after': [{'step': 'moss.mend', 'because': 'moss first'}]")
    )
    shelf.install(
        "moss", sound("moss", "'after': [{'step': 'amber.mend', 'because': 'amber first'}]")
    )
    knowledge = gather(shelf.plugins())
    assert list(knowledge.subsystems) == ["amber"]
    assert "moss first" in str(knowledge.faults[0])
    assert "amber first" in str(knowledge.faults[0])


def test_a_hook_in_another_module_is_imported_when_it_is_called(shelf: Shelf) -> None:
    also = 'from assess import hook_in\nmeasure = hook_in("plug_arms_computed", "measure")\n'
    shelf.install("arms", also + sound("arms"))
    (shelf.folder / "plug_arms_computed.py").write_text(
        "def measure(inspection):\n    return [1]\n"
    )
    found = gather(shelf.plugins())
    assert not found.faults
    assert "plug_arms_computed" not in sys.modules
    assert found.hooks["arms"].measure(inspection=None) == [[1]]
    assert "plug_arms_computed" in sys.modules


def test_a_hook_in_another_module_must_be_one_there_is(shelf: Shelf) -> None:
    code = 'from assess import hook_in\nmeasures = hook_in("plug_arms_computed", "measures")\n'
    shelf.install("arms", code + sound("arms"))
    [fault] = gather(shelf.plugins()).faults
    assert "there is no hook 'measures'" in fault.cause
