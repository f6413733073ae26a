"""The reeds: the pan that holds them, the reeds themselves, their pitch, celeste and sub-bass.

The TOML files of this package hold the knowledge: how to survey each rank, what silences a reed,
and the repairs, from one reed drawn and brushed to a donor set. The modules beside them hold the
acoustics and the arithmetic of tuning.

Each hook imports what it computes with when it is called: most commands compute nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from assess import (
    Declaration,
    Figure,
    Heard,
    Inspection,
    Measurement,
    Sheet,
    hookimpl,
    read_declaration,
)

__all__ = ["figures", "hear", "measure", "sheets", "subsystem"]


@hookimpl
def subsystem() -> Declaration:
    """What this plugin knows, read from the TOML files beside it."""
    return read_declaration(__name__)


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """What the reed survey says of each criterion."""
    from assess_reeds import inspecting

    return inspecting.measure(inspection)


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """Which pitch to tune to, and the targets of every reed."""
    from assess_reeds import inspecting

    return inspecting.sheets(inspection)


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """Each reed along the compass."""
    from assess_reeds import inspecting

    return inspecting.figures(inspection)


@hookimpl
def hear(
    survey: str,
    recording: Path,
    options: Mapping[str, str],
    inspection: Inspection,
    progress: Callable[[float], None],
) -> Heard:
    """Rows of the reed survey from a recording of one stop."""
    from assess_reeds import hearing_rows

    return hearing_rows.hear(survey, recording, options, inspection, progress)
