"""The reeds: the pan that holds them, the reeds themselves, their pitch, celeste and sub-bass.

The TOML files of this package hold the knowledge: how to survey each rank, what silences a reed,
and the repairs, from one reed drawn and brushed to a donor set. The modules beside them hold the
acoustics and the arithmetic of tuning.
"""

from assess import Declaration, hook_in, hookimpl, read_declaration

__all__ = ["figures", "hear", "measure", "sheets", "subsystem"]

measure = hook_in("assess_reeds.inspecting", "measure")
sheets = hook_in("assess_reeds.inspecting", "sheets")
figures = hook_in("assess_reeds.inspecting", "figures")
hear = hook_in("assess_reeds.hearing_rows", "hear")


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)
