"""Every hook a plugin may implement, in the order the engine calls them.

A plugin is an importable module or package named by an entry point of the group
``assess``. It implements hooks as functions marked with :data:`hookimpl`. The
engine calls each plugin alone, checks what it returns, and goes on without the
plugin if it raises: its subsystem is then shown as *not assessed*.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import update_wrapper
from importlib import import_module
from pathlib import Path
from typing import Any

import pluggy

from assess.knowledge.declaration import Declaration
from assess.plugin.api import Figure, Heard, Inspection, Measurement, Quantity, Sheet

PROJECT = "assess"
hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


def hook_in(module: str, name: str) -> Callable[..., Any]:
    """A hook that stands in another module, which is imported only when the hook is called.

    Most commands compute nothing; so they start without what plugins compute with.

    Example::

        from assess import hook_in

        measure = hook_in("assess_candle_arms.arithmetic", "measure")

    Args:
        module: full name of the module.
        name: of the hook, and of the function in the module, which needs no mark.

    Raises:
        ValueError: there is no such hook.
    """
    spec: Any = globals().get(name)
    if not hasattr(spec, f"{PROJECT}_spec"):
        raise ValueError(f"there is no hook {name!r}")

    def call(*given: Any) -> Any:
        return getattr(import_module(module), name)(*given)

    # The arguments are those of the specification, which is how pluggy knows what to hand over.
    hook: Callable[..., Any] = hookimpl(update_wrapper(call, spec, updated=()))
    return hook


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


@hookspec
def measure(inspection: Inspection) -> Iterable[Measurement]:  # type: ignore[empty-body]
    """Compute what follows from several numbers of one inspection.

    Called once for each assessment. A measurement whose id is that of a criterion with
    ``computed_from`` becomes its answer; all are shown by ``assess measure``.

    Example::

        from assess import Inspection, Measurement, hookimpl

        @hookimpl
        def measure(inspection: Inspection) -> list[Measurement]:
            arms = inspection.number("candle_arms.missing_arms", "count")
            if arms is None:
                return []
            return [Measurement("pairs", "Pairs missing", "count", "half", "arithmetic", arms / 2)]

    Returns:
        Measurements, in the order in which they are shown.
    """


@hookspec
def sheets(inspection: Inspection) -> Iterable[Sheet]:  # type: ignore[empty-body]
    """Make tables for the bench, such as a list of what to cut.

    Called when one is asked for by ``assess sheet``.

    Example::

        from assess import Inspection, Sheet, hookimpl

        @hookimpl
        def sheets(inspection: Inspection) -> list[Sheet]:
            return [Sheet("screws", "Screws to buy", ("Size", "Number"), (("3 x 20 mm", "4"),))]

    Returns:
        Sheets, in the order in which they are listed.
    """


@hookspec
def quantities(inspection: Inspection) -> Iterable[Quantity]:  # type: ignore[empty-body]
    """Compute amounts of material from the sizes of this object.

    Called once for each assessment. An amount replaces the one that is declared for the same
    repair and material, in plans and in their cost.

    Example::

        from assess import Inspection, Quantity, hookimpl

        @hookimpl
        def quantities(inspection: Inspection) -> list[Quantity]:
            return [Quantity("make_arms", "brass_rod", 0.6, "two arms of 300 mm")]

    Returns:
        Amounts; repairs and materials are the plugin's own.
    """


@hookspec
def figures(inspection: Inspection) -> Iterable[Figure]:  # type: ignore[empty-body]
    """Give the data of plots, for pages and for whoever reads the JSON.

    Example::

        from assess import Figure, Inspection, Series, hookimpl

        @hookimpl
        def figures(inspection: Inspection) -> list[Figure]:
            line = Series("sag", ((0.0, 0.0), (1.0, 2.5)))
            return [Figure("sag", "How the arm sags", "load, kg", "sag, mm", (line,))]

    Returns:
        Figures, in the order in which they are shown.
    """


@hookspec
def hear(  # type: ignore[empty-body]
    survey: str,
    recording: Path,
    options: Mapping[str, str],
    inspection: Inspection,
    progress: Callable[[float], None],
) -> Heard:
    """Turn a recording of sound into rows of a survey that declares ``hears``.

    Called by ``assess hear`` and at a visit, for each recording; nothing is written if it raises.
    What the user can put right, such as a recording that is too short, is raised as
    ``JobFileError``.

    Example::

        from collections.abc import Mapping
        from pathlib import Path

        from assess import Heard, HeardRow, Inspection, hookimpl

        @hookimpl
        def hear(
            survey: str, recording: Path, options: Mapping[str, str], inspection: Inspection
        ) -> Heard:
            row = HeardRow({"arm": options["arm"]}, {"state": "rattles"})
            return Heard((row,), ("one arm heard",))

    Args:
        survey: the survey's own id, without that of the subsystem.
        recording: the file.
        options: the declared options by id; those without words are left out.
        inspection: what is known of the object.
        progress: may be called with the share of the work that is done, from 0 to 1.

    Returns:
        The rows, and what is to be said about them.
    """
