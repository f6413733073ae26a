"""Published tables, each with its source, that the tests hold the project against."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any


def reference(name: str) -> dict[str, Any]:
    """One table by its name, with its title, source and status."""
    return tomllib.loads((Path(__file__).parent / f"{name}.toml").read_text(encoding="utf-8"))
