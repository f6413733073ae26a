"""The wind supply: treadles, exhausters, reservoir, valves, foundation joint, wind chest.

How each part is judged, what hold tests and gauge say, what work follows and in which order,
and the tests that must pass before the next part hides the one before. Pressure instruments,
with feeders and a reservoir that rises, have their own questions, repairs and tests. The
knowledge is data in the TOML files of this package; the physics is in the modules beside them.

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
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """What hold tests, gauge and hands say of each criterion."""
    from assess_pneumatics import inspecting

    return inspecting.measure(inspection)


@hookimpl
def quantities(inspection: Inspection) -> list[Quantity]:
    """Cloth, leather and straps for the sizes of this instrument."""
    from assess_pneumatics import cutting

    return cutting.quantities(inspection)


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """The pieces to cut."""
    from assess_pneumatics import cutting

    return cutting.sheets(inspection)


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """Curves of the tests of the wind."""
    from assess_pneumatics import inspecting

    return inspecting.figures(inspection)
