"""What a file holds cannot steer the terminal, and no output device brings up a traceback."""

from __future__ import annotations

import io
import json
import os
import pty
import re
import signal
import subprocess
import sys
import threading
import time
import unicodedata
from pathlib import Path

import pytest
from conftest import ROOT, Run
from hypothesis import given
from hypothesis import strategies as st

from assess.cli.printing import (
    STEERING,
    HarmlessStream,
    OutputError,
    escaped,
    harmless,
    harmless_streams,
)
from assess.cli.visit_commands import _read_line
from assess.output.layout import heading, paragraph, table

COMMAND = str(Path(sys.executable).with_name("assess"))
JOB = ROOT / "fixtures" / "one_strap.toml"
STEERED = "red \x1b[31m\x1b]0;title\x07 back\x9b2J \u202eneddih\u202c\u2066 \u2028 \r gone \x7f"
IN_TOML = "".join(c if c.isalnum() or c in " []" else f"\\u{ord(c):04x}" for c in STEERED)


@pytest.fixture
def steered(tmp_path: Path) -> Path:
    """A job file with characters that would steer a terminal wherever text may stand."""
    path = tmp_path / "job.toml"
    path.write_text(
        f'format = 1\ntitle = "{IN_TOML}"\n[instrument]\ndescription = "{IN_TOML}"\n'
        f'[answers.pneumatics]\nwhole_hold = {{ answer = "3 s", note = "{IN_TOML}" }}\n',
        encoding="utf-8",
    )
    return path


@given(st.text())
def test_text_without_such_characters_is_printed_as_it_is(text: str) -> None:
    shown = harmless(text)
    assert not STEERING.search(shown)
    if not STEERING.search(text):
        assert shown == text
    for character in STEERING.findall(text):
        assert escaped(character) in shown


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_escapes_are_those_of_json(text: str) -> None:
    assert json.loads(f'"{escaped(text)}"') == text
    for encoding in ("ascii", "latin-1", "cp1252", "utf-8"):
        written = io.TextIOWrapper(io.BytesIO(), encoding=encoding, newline="")
        stream = HarmlessStream(written)
        stream.write(json.dumps(text, ensure_ascii=False))
        stream.flush()
        assert json.loads(written.buffer.getvalue().decode(encoding)) == text  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "command",
    [("grade",), ("verdict",), ("why", "pneumatics.whole_hold"), ("letter", "--text")],
    ids=lambda c: c[0],
)
def test_what_stands_in_a_file_does_not_steer_the_terminal(
    run: Run, steered: Path, command: tuple[str, ...]
) -> None:
    name, *options = command
    done = run(name, steered, *options)
    assert done.returncode == 0, done.stderr
    assert done.stdout
    assert not STEERING.search(done.stdout + done.stderr)


def test_data_stays_the_same_data(run: Run, steered: Path) -> None:
    done = run("grade", steered, "--json")
    assert not STEERING.search(done.stdout)
    assert json.loads(done.stdout)["data"]["title"] == STEERED


def test_nor_do_names_of_files_options_and_steps(run: Run, tmp_path: Path) -> None:
    said = [
        run("grade", f"{STEERED}.toml"),
        run("grade", JOB, f"--{STEERED}"),
        run(STEERED),
        run("why", JOB, STEERED),
        run("done", JOB, STEERED),
        run("schema", STEERED),
    ]
    for done in said:
        assert done.returncode == 2
        assert done.stderr
        assert not STEERING.search(done.stdout + done.stderr)


def test_nor_does_it_in_a_real_terminal(tmp_path: Path, steered: Path) -> None:
    master, slave = pty.openpty()
    with subprocess.Popen([COMMAND, "grade", steered], stdout=slave, stderr=slave) as shown:
        os.close(slave)
        read = b""
        while True:
            try:
                part = os.read(master, 65536)
            except OSError:
                break
            if not part:
                break
            read += part
        assert shown.wait(60) == 0
    os.close(master)
    text = read.decode().replace("\r\n", "\n")
    assert "\\u001b[31m" in text
    assert not STEERING.search(text)


def test_an_output_that_lacks_characters_gets_their_escapes(tmp_path: Path) -> None:
    title = "\u00e9 \u20ac \U0001d11e \u2014"
    (tmp_path / "job.toml").write_text(f'format = 1\ntitle = "{title}"\n', encoding="utf-8")
    done = subprocess.run(
        [COMMAND, "grade", tmp_path / "job.toml", "--json"],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        check=False,
    )
    assert done.returncode == 0
    assert json.loads(done.stdout.decode("ascii"))["data"]["title"] == title


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no full device")
def test_a_full_device_is_said_in_one_line() -> None:
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [COMMAND, "--version"], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
        silent = subprocess.run([COMMAND, "grade", "nothing.toml"], stderr=full, check=False)
    said = "assess: the output cannot be written: No space left on device\n"
    assert (done.returncode, done.stderr) == (2, said)
    assert silent.returncode == 2


def test_a_stream_that_fails_says_so_and_then_goes_nowhere() -> None:
    class Failing(io.StringIO):
        def write(self, text: str) -> int:
            raise OSError(5, "Input/output error")

    stream = HarmlessStream(Failing())
    assert stream.write("") == 0
    with pytest.raises(OutputError, match="the output cannot be written: Input/output error"):
        stream.write("x")
    with pytest.raises(TypeError):
        stream.write(b"")
    assert not hasattr(stream, "buffer")


def test_bytes_pass_as_the_same_harmless_text() -> None:
    written = io.StringIO()
    HarmlessStream(written).write(b"a\x1b[2J\xc3\xa9\xff")
    assert written.getvalue() == "a\\u001b[2J\u00e9\ufffd"


def test_only_the_thread_that_began_a_stream_prints_to_it() -> None:
    written = io.StringIO()
    stream = HarmlessStream(written)
    other = threading.Thread(target=stream.write, args=("from a thread",))
    other.start()
    other.join()
    stream.write("from here")
    assert written.getvalue() == "from here"


def test_without_standard_input_the_interview_ends_as_at_its_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    with harmless_streams(), pytest.raises(EOFError):
        _read_line("> ")


def test_closed_streams_are_no_crash() -> None:
    shell = f'"{COMMAND}" --version <&- >&- 2>&-'
    done = subprocess.run(["bash", "-c", shell], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_ctrl_c_ends_with_the_exit_code_that_shells_expect(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text("format = 1\n")
    with subprocess.Popen(
        [COMMAND, "ask", job, "--only", "reeds"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as talk:  # fmt: skip
        assert talk.stdin is not None
        assert talk.stdout is not None
        talk.stdin.write("n\n")
        talk.stdin.flush()
        while "not seen" not in job.read_text():
            assert talk.poll() is None
            time.sleep(0.01)
        talk.send_signal(signal.SIGINT)
        _, said = talk.communicate(timeout=60)
    assert talk.returncode == 130
    # A plugin that works at that moment is named.
    assert said.lstrip().startswith("assess: interrupted")
    assert len(said.strip().splitlines()) == 1
    assert "not seen" in job.read_text()


WIDE = "\u6f22\u5b57\u304b\u306a\U0001f3b9"
MARKED = "e\u0301o\u0308\u200b"


def columns(line: str) -> int:
    """Columns of a terminal, by the tables of the Unicode standard."""
    marks = sum(unicodedata.combining(c) > 0 or c == "\u200b" for c in line)
    return len(line) - marks + sum(unicodedata.east_asian_width(c) in "WF" for c in line)


def test_wide_letters_and_marks_keep_columns_straight() -> None:
    rows = [[WIDE * 6, "12"], [MARKED * 9, "3"], ["plain words in a cell", "4"]]
    shown = table(rows, ("What", MARKED), (40, None), right=(1,)).splitlines()
    ends = {columns(line) for line in shown if line[-1] in "1234567890"}
    assert len(ends) == 1
    assert max(map(columns, shown)) <= 80
    assert WIDE * 3 in shown[2]
    joined = "".join("".join(shown).split())
    assert joined.count("\u6f22") == 6
    assert joined.count("e\u0301") == 9 + 1


WORD = st.text(st.sampled_from([*"ab-,", *WIDE, *MARKED, "\U000f0000", "\U000ffffd"]), max_size=30)


@given(st.lists(WORD, max_size=12).map(" ".join))
def test_whatever_is_wrapped_fits_and_loses_nothing(text: str) -> None:
    for shown in (paragraph(text, "  "), table([[text]], ("Text",), (30,)), heading(text)):
        assert max(map(columns, shown.splitlines() or [""])) <= 80
        assert [c for c in shown if c in WIDE] == [c for c in text if c in WIDE]


def test_a_job_in_wide_letters_fits_the_terminal(run: Run, tmp_path: Path) -> None:
    text = (ROOT / "fixtures" / "one_strap.toml").read_text(encoding="utf-8")
    text = re.sub(r'^title = ".*"$', f'title = "{WIDE * 20}"', text, flags=re.MULTILINE)
    text = re.sub(r'^description = ".*"$', f'description = "{WIDE * 40}"', text, flags=re.MULTILINE)
    job = tmp_path / "wide.toml"
    job.write_text(text, encoding="utf-8")
    for command in ("verdict", "grade", "plan", "look"):
        shown = run(command, job)
        assert shown.returncode == 0, shown.stderr
        assert WIDE in shown.stdout
        lines = shown.stdout.splitlines()
        assert max(map(columns, lines)) <= 80
        underline = next(line for line in lines if line.startswith("=="))
        assert columns(underline) == max(columns(line) for line in lines[: lines.index(underline)])
