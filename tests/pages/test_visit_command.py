"""The command `assess visit`: how it starts, what it cannot use, how it ends."""

from __future__ import annotations

import os
import re
import signal
import socket
from pathlib import Path

import pytest
from conftest import Run
from serving import Sender, serving
from visits import new

from assess.job.job_reading import load


def test_what_the_command_cannot_use_is_one_clear_line(tmp_path: Path, run: Run) -> None:
    job = new(tmp_path)
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = str(other.getsockname()[1])
        calls = {
            ("visit", "nothing.toml"): "there is no such file",
            ("visit", str(job), "--port", port): f"port {port} cannot be used",
            ("visit", str(job), "--with", "crowbar"): "no tool 'crowbar'",
            ("visit", str(job), "--port", "70000"): "70000",
        }
        for arguments, said in calls.items():
            done = run(*arguments)
            assert done.returncode == 2
            assert said in done.stderr
            assert "Traceback" not in done.stderr


@pytest.mark.parametrize("missing", ["flask", "waitress", "PIL", "segno"])
def test_without_its_libraries_it_says_what_to_install(
    tmp_path: Path, run: Run, missing: str
) -> None:
    shadow = tmp_path / "shadow"
    shadow.mkdir()
    (shadow / f"{missing}.py").write_text(f"raise ModuleNotFoundError(name={missing!r})\n")
    done = run("visit", new(tmp_path), PYTHONPATH=_first(shadow))
    assert done.returncode == 2
    package = "pillow" if missing == "PIL" else missing
    assert f"{package} is not installed" in done.stderr
    assert "pip install 'reed-organ-assess[visit]'" in done.stderr
    assert run("grade", tmp_path / "cart.toml", PYTHONPATH=_first(shadow)).returncode == 0


def _first(folder: Path) -> str:
    """A search path with a folder in front of the caller's."""
    return os.pathsep.join(filter(None, [str(folder), os.environ.get("PYTHONPATH", "")]))


def test_it_ends_when_interrupted_and_says_what_was_saved(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    job = new(tmp_path)
    with serving(job) as command:
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/\?key=[0-9a-f]{32}", command.address)
        key = command.address.rpartition("=")[2]
        sender = Sender(command.address, command.origin, ["casework.lead_paint"])
        sender.run()
        assert sender.confirmed
        command.process.send_signal(signal.SIGINT)
        assert command.process.wait(20) == 0
        assert command.process.stdout
        said = command.process.stdout.read()
    assert "Saved in" in said
    assert (
        load(job).answers["casework"]["lead_paint"].answer
        == sender.confirmed["casework.lead_paint"]
    )
    errors = capfd.readouterr().err
    assert key not in said + errors
    assert "Traceback" not in said + errors
