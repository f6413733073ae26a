"""The wind supply: treadles, exhausters, reservoir, valves, the joint with the chest, the chest.

What makes the wind and keeps it: how each part is judged, what the hold tests and the gauge
say, what work follows, in which order it is done, and the tests that must pass before the next
part hides it. Pressure instruments, with feeders and a reservoir that rises, have their own
questions, repairs and tests. What is known is data in the TOML files of this
package; the physics stands in the modules beside them.
"""

from assess import Declaration, hookimpl, read_declaration
from assess_pneumatics.inspecting import figures, measure, quantities, sheets

__all__ = ["figures", "measure", "quantities", "sheets", "subsystem"]


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)
