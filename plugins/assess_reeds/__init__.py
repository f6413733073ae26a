"""The reeds: the pan that holds them, the reeds themselves, their pitch, celeste and sub-bass.

What sounds and what it sits in: how each rank is surveyed, what silences a reed, which pitch
the set was made for, and the work that brings it back, from one reed drawn and brushed to a
donor set. What is known is data in the TOML files of this package; the acoustics and the
arithmetic of tuning stand in the modules beside them.
"""

from assess import Declaration, hookimpl, read_declaration
from assess_reeds.inspecting import figures, measure, sheets

__all__ = ["figures", "measure", "sheets", "subsystem"]


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)
