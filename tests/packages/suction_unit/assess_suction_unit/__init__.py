"""An electric suction unit that was fitted beside the treadles, as a subsystem of its own."""

import os

from assess import Declaration, hookimpl, read_declaration


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows; made to fail on request, so that isolation can be tried."""
    if os.environ.get("SUCTION_UNIT_FAILS"):
        raise RuntimeError("the unit has burnt out")
    return read_declaration(__name__)
