"""The words in which a builder of wooden dinghies reads and writes."""

from assess import Declaration, hookimpl, read_declaration


@hookimpl
def subsystem() -> Declaration:
    """The words of the trade alone."""
    return read_declaration(__name__)
