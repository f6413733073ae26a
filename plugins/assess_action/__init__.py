"""The action: keys, stickers, pallets, mutes, swell, couplers, stops, knee levers, tremulant.

The action carries the player's movements to the wind. The TOML files of this package hold how
each part is judged, the repairs, their order, and the tests that must pass before a part is
closed. The physics of touch and the statistics of a key survey are in the modules beside them.

Each hook imports what it computes with when it is called: most commands compute nothing.
"""

from __future__ import annotations

from assess import (
    Declaration,
    Figure,
    Inspection,
    Measurement,
    Quantity,
    Sheet,
    hookimpl,
    read_declaration,
)

__all__ = ["figures", "measure", "quantities", "sheets", "subsystem"]


@hookimpl
def subsystem() -> Declaration:
    """The declared knowledge, read from the TOML files of this package."""
    return read_declaration(__name__)


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """What touch and the surveys of keys and stops say of each criterion."""
    from assess_action import inspecting

    return inspecting.measure(inspection)


@hookimpl
def quantities(inspection: Inspection) -> list[Quantity]:
    """Felt and cloth for the keys of this instrument."""
    from assess_action import inspecting

    return inspecting.quantities(inspection)


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """Keys to level and dips to set."""
    from assess_action import inspecting

    return inspecting.sheets(inspection)


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """The keys along the compass."""
    from assess_action import key_figures

    return key_figures.figures(inspection)
