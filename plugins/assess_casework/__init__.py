"""Casework and surroundings: the case, what stands on it, what lives in it, and where it stands.

The case and its finish, its fittings, pests and mould, hazards to people, the climate and
the way in and out; and with them the steps that every job has, from the record of the state
as found to the visit some weeks after delivery. All of it is data in the TOML files of this
package.
"""

from assess import Declaration, Figure, Inspection, Measurement, hookimpl, read_declaration
from assess_casework import inspecting


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """What the numbers of an inspection say, computed."""
    return inspecting.measure(inspection)


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """Data of plots."""
    return inspecting.figures(inspection)
