"""Casework and surroundings: the case, what stands on it, what lives in it, and where it stands.

The case and its finish, its fittings, pests and mould, hazards to people, the climate and
the way in and out; and with them the steps that every job has, from the record of the state
as found to the visit some weeks after delivery. What is known is data in the TOML files of this
package; the physics of wood, of moving it and of lifting stands in the modules beside them.
"""

from assess import Declaration, hookimpl, read_declaration
from assess_casework.inspecting import figures, measure

__all__ = ["figures", "measure", "subsystem"]


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)
