"""The wind supply: treadles, exhausters, reservoir, valves, foundation joint, wind chest.

How each part is judged, what hold tests and gauge say, what work follows and in which order,
and the tests that must pass before the next part hides the one before. Pressure instruments,
with feeders and a reservoir that rises, have their own questions, repairs and tests. The
knowledge is data in the TOML files of this package; the physics is in the modules beside them.
"""

from assess import Declaration, hook_in, hookimpl, read_declaration

__all__ = ["figures", "measure", "quantities", "sheets", "subsystem"]

measure = hook_in("assess_pneumatics.inspecting", "measure")
quantities = hook_in("assess_pneumatics.cutting", "quantities")
sheets = hook_in("assess_pneumatics.cutting", "sheets")
figures = hook_in("assess_pneumatics.inspecting", "figures")


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)
