"""The action: keys, stickers, pallets, mutes, swell, couplers, stops, knee levers, tremulant.

What carries the player's finger and hand to the wind: how each part is judged, what work it
may call for, in which order that work is done, and the tests that must pass before it is
closed up again. What is known is data in the TOML files of this package; the
physics of touch and the reckoning of a survey of the keys stand in the modules beside them.
"""

from assess import Declaration, hookimpl, read_declaration
from assess_action.inspecting import measure, sheets

__all__ = ["measure", "sheets", "subsystem"]


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)
