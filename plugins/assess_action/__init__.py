"""The action: keys, stickers, pallets, mutes, swell, couplers, stops, knee levers, tremulant.

The action carries the player's movements to the wind. The TOML files of this package hold how
each part is judged, the repairs, their order, and the tests that must pass before a part is
closed. The physics of touch and the statistics of a key survey are in the modules beside them.
"""

from assess import Declaration, hook_in, hookimpl, read_declaration

__all__ = ["figures", "measure", "quantities", "sheets", "subsystem"]

measure = hook_in("assess_action.inspecting", "measure")
quantities = hook_in("assess_action.inspecting", "quantities")
sheets = hook_in("assess_action.inspecting", "sheets")
figures = hook_in("assess_action.key_figures", "figures")


@hookimpl
def subsystem() -> Declaration:
    """The declared knowledge, read from the TOML files of this package."""
    return read_declaration(__name__)
