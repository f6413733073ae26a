"""The wind supply: treadles, exhausters, reservoir, valves, the joint with the chest, the chest.

What makes the wind and keeps it: how each part is judged, what the hold tests and the gauge
say, what work follows, in which order it is done, and the tests that must pass before the next
part hides it. Pressure instruments, with feeders and a reservoir that rises, have their own
questions, repairs and tests. All of it is data in the TOML files of this package.
"""

from assess import (
    Declaration,
    Figure,
    Inspection,
    Measurement,
    Quantity,
    Sheet,
    hookimpl,
    read_declaration,
)
from assess_pneumatics import inspecting


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """What the numbers of an inspection say, computed."""
    return inspecting.measure(inspection)


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """Lists for the bench."""
    return inspecting.sheets(inspection)


@hookimpl
def quantities(inspection: Inspection) -> list[Quantity]:
    """Amounts of material from the sizes of the boards."""
    return inspecting.quantities(inspection)


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """Data of plots."""
    return inspecting.figures(inspection)
