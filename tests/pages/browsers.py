"""A browser without a window, for tests of pages.

``ASSESS_CHROMIUM`` names another Chromium than the first in the path. The checks with axe run
where ``ASSESS_AXE`` names its script, or ``node_modules`` holds it.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT

CHROMIUM = os.environ.get("ASSESS_CHROMIUM") or shutil.which("chromium") or ""
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@contextmanager
def launched() -> Iterator[Any]:
    """The browser, or a skip that says what is missing."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not CHROMIUM:
        pytest.skip("there is no Chromium here")
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


def axe_script() -> str:
    """The script of axe, or a skip that says what is missing."""
    named = os.environ.get("ASSESS_AXE") or str(ROOT / "node_modules" / "axe-core" / "axe.min.js")
    if not Path(named).is_file():
        pytest.skip("axe is not here; ASSESS_AXE names its script")
    return Path(named).read_text(encoding="utf-8")


def assert_axe_finds_nothing(page: Any, about: str) -> None:
    """Run axe, whose script the page has, and fail with what it finds.

    Args:
        page: the page of a browser.
        about: which page it is, for the message.
    """
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    said = [(v["id"], [n["html"] for n in v["nodes"]]) for v in found["violations"]]
    assert said == [], f"{about}: {json.dumps(said, indent=1)}"
