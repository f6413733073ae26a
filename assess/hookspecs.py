"""Every hook a plugin may implement, in the order the engine calls them.

A plugin is an importable module or package named by an entry point of the group
``assess``. It implements hooks as functions marked with :data:`hookimpl`. The
engine calls each plugin alone, checks what it returns, and goes on without the
plugin if it raises: its subsystem is then shown as *not assessed*.
"""

from __future__ import annotations

import pluggy

from assess.knowledge import Declaration

PROJECT = "assess"
hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def subsystem() -> Declaration:  # type: ignore[empty-body]
    """Return what the plugin knows.

    Called once, when knowledge is gathered. Each plugin gives one declaration;
    two plugins that claim the same subsystem id are both named and both left out.

    Example::

        from assess import Declaration, hookimpl, read_declaration

        @hookimpl
        def subsystem() -> Declaration:
            return read_declaration(__name__)

    Returns:
        The declaration, usually read from the TOML files beside the code.
    """
