"""Casework and surroundings: the case, what stands on it, what lives in it, and where it stands.

It covers the case and its finish, fittings, pests and mould, hazards to people, the climate, and
the way in and out. It also has the steps of every job, from the record of the state as found to
the visit some weeks after delivery. The knowledge is data in the TOML files of this package; the
physics of wood, moving and lifting is in the modules beside them.

Each hook imports what it computes with when it is called: most commands compute nothing.
"""

from __future__ import annotations

from assess import Declaration, Figure, Inspection, Measurement, Sheet, hookimpl, read_declaration

__all__ = ["figures", "measure", "sheets", "subsystem"]


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """What moisture, climate and weight say of each criterion."""
    from assess_casework import inspecting

    return inspecting.measure(inspection)


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """Who carries how much."""
    from assess_casework import inspecting

    return inspecting.sheets(inspection)


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """How the widest panel moves."""
    from assess_casework import inspecting

    return inspecting.figures(inspection)
