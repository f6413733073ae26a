"""The action: keys, stickers, pallets, mutes, swell, couplers, stops, knee levers, tremulant.

What carries the player's finger and hand to the wind: how each part is judged, what work it
may call for, in which order that work is done, and the tests that must pass before it is
closed up again. All of it is data in the TOML files of this package.
"""

from assess import Declaration, Inspection, Measurement, Sheet, hookimpl, read_declaration
from assess_action import inspecting


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """What a survey says, computed."""
    return inspecting.measure(inspection)


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """Sheets for the bench."""
    return inspecting.sheets(inspection)
