"""The rig of a dinghy, as a subsystem."""

from assess import Declaration, hookimpl, read_declaration


@hookimpl
def subsystem() -> Declaration:
    """What is known of the rig."""
    return read_declaration(__name__)
