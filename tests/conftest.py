"""What all tests share."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).parents[1]

settings.register_profile("ci", derandomize=True, deadline=None, max_examples=60)
settings.register_profile("dev", deadline=None, max_examples=60)
settings.load_profile("ci" if os.environ.get("CI") else "dev")

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Run the installed command in an empty folder, as a user would."""
    command = Path(sys.executable).with_name("assess")

    def call(
        *arguments: str | Path, stdin: str = "", **environment: str
    ) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [command, *map(str, arguments)],
            input=stdin,
            capture_output=True,
            text=True,
            cwd=tmp_path,
            env={**os.environ, **environment},
            check=False,
        )

    return call
