"""A recording at a visit, in a real browser: chosen, heard, shown on the grid, corrected."""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsers import ARGUMENTS, CHROMIUM
from serving import Command, serving
from sound_model import Played, Room, recording, tempered, write_wav
from test_visit_browser import Device, rows_of

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = pytest.mark.skipif(not CHROMIUM, reason="there is no Chromium here")
MICROPHONE = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]

KEEP_WHAT_IS_SENT = """
const send = window.fetch;
window.fetch = (path, options) => {
  if (options?.body instanceof Blob) window.sent = options.body;
  return send(path, options);
};
"""
WHAT_WAS_SENT = "async () => Array.from(new Uint8Array(await window.sent.arrayBuffer()))"


@pytest.fixture
def here() -> Iterator[Device]:
    """A browser that gives a microphone which beeps."""
    with playwright.sync_playwright() as started:
        arguments = [*ARGUMENTS, *MICROPHONE]
        browser = started.chromium.launch(executable_path=CHROMIUM, args=arguments)
        yield Device(browser.new_context(viewport={"width": 360, "height": 740}))
        browser.close()


def cell(here: Device, name: str) -> Any:
    return here.page.locator(f"[data-cell='{name}']")


def to_hear_viola(here: Device, command: Command) -> None:
    """To the grid of a new rank, where a recording of it is heard."""
    here.open(command)
    here.page.click("nav >> text=Reed survey")
    here.page.fill("#by-rank", "Viola")
    here.tap("Add it")
    here.page.click("summary:has-text('Hear a recording')")


def test_a_recording_is_heard_shown_and_corrected(here: Device, tmp_path: Path) -> None:
    job = tmp_path / "organ.toml"
    job.write_text("format = 1\n", encoding="utf-8")
    played = [Played(k, None if k == 62 else tempered(k), -6.0) for k in range(60, 66)]
    sound = recording(played, Room(period_s=1.3, clicks=0), seed=3)
    take = write_wav(tmp_path / "take.wav", sound)
    with serving(job) as command:
        to_hear_viola(here, command)
        here.sees("Play every key once, upwards, two seconds each.")
        here.page.select_option("#first-cell", "C4")
        here.page.set_input_files("#recording", take)
        here.page.get_by_text("Heard: 6 rows entered. Tap a cell to correct it.").wait_for()
        here.sees("Silent, and there was time for them: D4.")
        playwright.expect(cell(here, "D4")).to_have_attribute("aria-label", "D4, dead, heard")
        label = re.compile(r"C4, speaks, -\d\.\d cents, heard")
        playwright.expect(cell(here, "C4")).to_have_attribute("aria-label", label)
        here.page.select_option("#mark", "dead")
        cell(here, "E4").click()
        playwright.expect(cell(here, "E4")).to_have_attribute("aria-label", "E4, dead, heard")
        here.status("^saved$")
        assert here.faults == []
    found = {row["note"]: row for row in rows_of(tmp_path / "organ_reeds_notes.csv")}
    speech = [found[note]["speech"] for note in ("C4", "C#4", "D4", "Eb4", "E4", "F4")]
    assert speech == ["speaks", "speaks", "dead", "speaks", "dead", "speaks"]
    assert found["E4"]["cents"] == ""
    assert float(found["C4"]["cents"]) == pytest.approx(-6, abs=1.5)
    assert " in take.wav [" in found["C4"]["heard"]
    assert (tmp_path / "organ_recordings" / "take.wav").is_file()


def test_the_microphone_is_written_as_a_wav_file(here: Device, tmp_path: Path) -> None:
    job = tmp_path / "organ.toml"
    job.write_text("format = 1\n", encoding="utf-8")
    with serving(job) as command:
        to_hear_viola(here, command)
        here.page.evaluate(KEEP_WHAT_IS_SENT)
        here.tap("Record with this device")
        here.sees("Recording, 1 s.")
        here.tap("Stop")
        here.page.get_by_text("too loud for the microphone").first.wait_for()
        wav = bytes(here.page.evaluate(WHAT_WAS_SENT))
        here.tap("Drop this recording")
        here.status("^saved$")
        assert here.faults == []
    assert (wav[:4], wav[8:16]) == (b"RIFF", b"WAVEfmt ")
    _, channels, rate, _, _, bits = struct.unpack("<HHIIHH", wav[20:36])
    assert (channels, bits, wav[36:40]) == (1, 16, b"data")
    assert rate >= 16_000
    samples = struct.unpack(f"<{(len(wav) - 44) // 2}h", wav[44:])
    assert len(samples) >= rate
    assert max(map(abs, samples)) > 100
    assert list(tmp_path.glob("*.csv")) == []
    assert not (tmp_path / "organ_recordings").exists()
