"""The words of the trade of foot-pumped reed organs, and what is believed of unseen parts."""

from assess import Declaration, hookimpl, read_declaration


@hookimpl
def subsystem() -> Declaration:
    """The trade's words; this plugin declares no subsystem of its own."""
    return read_declaration(__name__)
