"""Plugins of somebody else beside the hand cart, for tests of what they can and cannot break."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable
from typing import Any

import toy

from assess import Inspection, Knowledge, hookimpl
from assess.knowledge.plugin_faults import OWN_DISTRIBUTION, Provider
from assess.plugin.isolation import HookError
from assess.plugin.registry import SoundDeclaration, declared_by, joined

NEWCOMER = Provider("lamp", "assess-lamp", "9.9")
LAMP: dict[str, Any] = {
    "subsystem": {"id": "lamp", "title": "Lamp", "weight": 1},
    "component": [{"id": "part", "title": "Part"}],
    "fact": [{"id": "bulbs", "asks": "Bulbs", "unit": "count", "usual": 2}],
    "feature": [{"id": "lamp_lit", "asks": "Is it lit?"}],
    "material": [{"id": "wire", "title": "Wire", "unit": "m", "price": 2}],
    "criterion": [
        {
            "id": "state",
            "component": "part",
            "asks": "State of the lamp",
            "how": "Look.",
            "minutes": 1,
            "weight": 1,
            "outcomes": [
                {"answer": "good", "class": 0},
                {"answer": "bad", "class": 2, "calls_for": ["mend"]},
            ],
        },
        {
            "id": "glow",
            "component": "part",
            "asks": "Height of the glow",
            "how": "Measure.",
            "minutes": 1,
            "weight": 1,
            "unit": "mm",
            "possible": [0, 100],
            "computed_from": ["a reading"],
            "outcomes": [
                {"from": 0, "says": "steady", "class": 0},
                {"from": 5, "says": "flares", "class": 2, "calls_for": ["mend"]},
            ],
        },
    ],
    "repair": [
        {
            "id": "mend",
            "component": "part",
            "title": "Mend the lamp",
            "hours": [1, 2, 3],
            "materials": [{"id": "wire", "quantity": 1}],
        }
    ],
}
Hook = Callable[[Inspection], Any]


def plugin(declares: Callable[[], Any] | None = None, **hooks: Hook) -> object:
    """A plugin that declares the lamp, or something else, and has some hooks."""

    class Plugin:
        """Taken apart by pluggy, which looks for marked functions."""

        @hookimpl
        def subsystem(self) -> Any:
            return copy.deepcopy(LAMP) if declares is None else declares()

    def mark(name: str, hook: Hook) -> None:
        def called(self: object, inspection: Inspection) -> Any:
            return hook(inspection)

        setattr(Plugin, name, hookimpl(called))

    for name, hook in hooks.items():
        mark(name, hook)
    return Plugin()


def own(*declared: dict[str, Any]) -> list[SoundDeclaration]:
    """Declarations that come with the engine: the whole cart when none is given."""
    return [
        declared_by(
            plugin(lambda data=data: copy.deepcopy(data)),
            Provider(data.get("subsystem", {}).get("id", "trade"), OWN_DISTRIBUTION, "1"),
        )
        for data in declared or (toy.WHEELS, toy.BOX, toy.TRADE)
    ]


def beside(known: Iterable[SoundDeclaration], newcomer: object) -> Knowledge:
    """The joint knowledge once a newcomer has come."""
    sound, faults = list(known), []
    try:
        sound.append(declared_by(newcomer, NEWCOMER))
    except HookError as failure:
        faults.append(failure.fault(NEWCOMER))
    return joined(sound, faults)
