"""Casework and surroundings: the case, what stands on it, what lives in it, and where it stands.

It covers the case and its finish, fittings, pests and mould, hazards to people, the climate, and
the way in and out. It also has the steps of every job, from the record of the state as found to
the visit some weeks after delivery. The knowledge is data in the TOML files of this package; the
physics of wood, moving and lifting is in the modules beside them.
"""

from assess import Declaration, hook_in, hookimpl, read_declaration

__all__ = ["figures", "measure", "sheets", "subsystem"]

measure = hook_in("assess_casework.inspecting", "measure")
sheets = hook_in("assess_casework.carrying", "sheets")
figures = hook_in("assess_casework.panel_figures", "figures")


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)
