"""The action: keys, stickers, pallets, mutes, swell, couplers, stops, knee levers, tremulant.

What carries the player's finger and hand to the wind: how each part is judged, what work it
may call for, in which order that work is done, and the tests that must pass before it is
closed up again. All of it is data in the TOML files of this package.
"""

from assess import Declaration, hookimpl, read_declaration
from assess_action.inspecting import measure, sheets

__all__ = ["measure", "sheets", "subsystem"]


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)
