"""Saving a file that a person has set something on, and that others change or cannot take."""

from __future__ import annotations

import os
import re
import shutil
import stat
import subprocess
import sys
import time
import tomllib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from conftest import Run

from assess import knowledge_in_use
from assess.base import whole_files
from assess.base.errors import JobFileError
from assess.base.text_files import drop_beside, edit_text, held, keep_beside, save_text
from assess.base.whole_files import LEFT_BEHIND_S, MARK, replace_file
from assess.job.job_edits import with_answer, with_history, without_done
from assess.job.job_reading import load, parse
from assess.job.survey_edits import Cell, merge_cells

JOB = "format = 1\n[answers.pneumatics]\n"
HOLD = "pneumatics.whole_hold"
EACH = """
import ast, sys
from assess.cli.commands import main
for call in ast.literal_eval(sys.argv[1]):
    try:
        main(call)
    except SystemExit as stop:
        print(stop.code)
"""


def job_in(folder: Path, text: str = JOB) -> Path:
    path = folder / "job.toml"
    path.write_bytes(text.encode())
    return path


def put(path: Path, answer: str = "14 s") -> str:
    return edit_text(path, lambda text: with_answer(text, HOLD, answer))


def answer_in(path: Path) -> object:
    return load(path).answers["pneumatics"]["whole_hold"].answer


@pytest.mark.parametrize(
    "text",
    [
        "answers = { reeds = { dead_reeds = 1 } }",
        "[answers]\nreeds = { dead_reeds = 1 }",
        '[answers]\nreeds.dead_reeds = 1\n[history]\nused = "weekly"',
        '[answers.reeds.dead_reeds]\nanswer = 1\nnote = "left"',
    ],
)
def test_an_edit_fits_however_the_tables_are_written(text: str) -> None:
    trade = knowledge_in_use().trade
    edited = with_answer(f"format = 1\n{text}\n", HOLD, "14 s", "with all stops in")
    edited = with_history(edited, {"overhaul": [{"year": 1990}], "used": "weekly"}, trade)
    edited = with_history(edited, {"complaint": [{"symptom": "reeds.silent"}]}, trade)
    job = parse(edited, "job.toml", trade)
    assert job.answers["pneumatics"]["whole_hold"].answer == "14 s"
    assert job.answers["reeds"]["dead_reeds"].answer == 1
    assert (job.history.used, job.history.overhaul[0].year) == ("weekly", 1990)
    assert job.history.complaint[0].symptom == "reeds.silent"


def test_an_edit_that_would_move_something_else_is_refused(tmp_path: Path) -> None:
    text = 'format = 1\nanswers.reeds.dead_reeds = 1\nhistory = { used = "weekly" }\n'
    job = job_in(tmp_path, text)
    with pytest.raises(JobFileError, match="without moving something else"):
        put(job)
    assert job.read_text() == text


def test_a_hard_link_stays_one_file(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    other = tmp_path / "backup.toml"
    os.link(job, other)
    for answer in ("a long answer that makes the file longer", "1 s"):
        edit_text(job, lambda text, said=answer: with_answer(text, HOLD, said))  # type: ignore[misc]
        assert os.path.samefile(job, other)
        assert answer_in(other) == answer
        assert other.read_text().endswith(f'"{answer}"\n')
    assert sorted(p.name for p in tmp_path.iterdir()) == ["backup.toml", "job.toml"]


@pytest.mark.parametrize("new", ["x" * 5, "x" * 50])
def test_a_file_written_in_place_is_old_or_new_at_every_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, new: str
) -> None:
    path = tmp_path / "notes.txt"
    seen = []
    for name in ("write", "ftruncate", "fsync"):
        real = getattr(os, name)

        def spied(*arguments: object, real: object = real) -> object:
            seen.append(path.read_text().rstrip("\n"))
            return real(*arguments)  # type: ignore[operator]

        monkeypatch.setattr(os, name, spied)
    path.write_text("o" * 20)
    os.link(path, tmp_path / "other.txt")
    replace_file(path, new.encode())
    assert path.read_text() == new
    assert set(seen) == {"o" * 20, new}


def test_where_there_is_no_room_a_file_written_in_place_is_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = job_in(tmp_path)
    os.link(job, tmp_path / "other.toml")
    real = os.write

    def full(handle: int, data: bytes) -> int:
        real(handle, data[:3])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(JobFileError, match="No space left"):
        put(job)
    monkeypatch.undo()
    assert job.read_text() == JOB
    assert not list(tmp_path.glob(f"{MARK}*"))


def test_a_symbolic_link_stays_one(tmp_path: Path) -> None:
    real = tmp_path / "jobs"
    real.mkdir()
    job = job_in(real)
    link = tmp_path / "job.toml"
    link.symlink_to(job)
    put(link)
    assert link.is_symlink()
    assert answer_in(job) == "14 s"


@pytest.mark.skipif(os.geteuid() != 0, reason="only the superuser gives files away")
def test_owner_group_and_permissions_stay(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    os.chown(job, 12345, 23456)
    job.chmod(0o2664)
    put(job)
    now = job.stat()
    assert (now.st_uid, now.st_gid, stat.S_IMODE(now.st_mode)) == (12345, 23456, 0o2664)
    assert answer_in(job) == "14 s"


def test_a_file_whose_owner_cannot_be_kept_is_written_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = job_in(tmp_path)
    before = job.stat().st_ino
    monkeypatch.setattr(whole_files, "_taken_over", lambda *_: False)
    put(job)
    assert job.stat().st_ino == before
    assert answer_in(job) == "14 s"


def test_a_read_only_file_is_not_overwritten(run: Run, tmp_path: Path) -> None:
    job = job_in(tmp_path)
    job.chmod(0o444)
    with pytest.raises(JobFileError, match=r"job\.toml: cannot be written: it is read-only"):
        put(job)
    assert job.read_text() == JOB
    done = run("ask", "job.toml", "--only", "pneumatics", stdin="n\nq\n")
    assert done.returncode == 2
    assert "NOT SAVED." in done.stdout
    assert "these answers could not be saved" in done.stderr
    page = tmp_path / "page.html"
    page.write_text("mine")
    page.chmod(0o444)
    assert run("form", "-o", "page.html").returncode == 2
    assert page.read_text() == "mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job.toml", "page.html"]


@pytest.mark.parametrize("mask", [0o022, 0o077, 0o002])
def test_a_new_file_is_as_private_as_the_user_wants(tmp_path: Path, mask: int) -> None:
    old = os.umask(mask)
    try:
        save_text(tmp_path / "new.toml", JOB)
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "new.toml").stat().st_mode) == 0o666 & ~mask


def test_the_folder_is_written_to_the_disk_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced = []
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda h: (synced.append(os.fstat(h).st_mode), real(h)))
    put(job_in(tmp_path))
    assert [stat.S_ISDIR(mode) for mode in synced] == [False, True]


def test_what_a_killed_program_left_is_removed(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    old, fresh, mine = (tmp_path / f"{MARK}{name}.tmp" for name in ("old", "fresh", "mine"))
    mine = tmp_path / "assess-mine.tmp"
    for left in (old, fresh, mine):
        left.write_text("half a fi")
    long_ago = time.time() - LEFT_BEHIND_S - 60
    for left in (old, mine):
        os.utime(left, (long_ago, long_ago))
    put(job)
    assert sorted(p.name for p in tmp_path.iterdir()) == [fresh.name, mine.name, "job.toml"]


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_line_ends_and_the_byte_order_mark_stay(tmp_path: Path, mark: str, end: str) -> None:
    job = job_in(tmp_path, mark + (JOB + "# a remark\n").replace("\n", end))
    put(job)
    put(job, "15 s / 2 in / \u00bd")
    text = job.read_bytes().decode()
    assert text.startswith(f"{mark}format")
    assert text.count("\ufeff") == len(mark)
    assert len(re.findall("\n", text)) == len(re.findall(end, text)) == 4
    assert "# a remark" in text


def test_a_survey_keeps_them_as_well(run: Run, tmp_path: Path) -> None:
    survey = knowledge_in_use().surveys["reeds.notes"]
    path = tmp_path / "reeds.csv"
    path.write_bytes("\ufeffnote,rank,feet,speech\r\nC4,Front,8,speaks\r\n".encode())
    key = {"note": "D4", "rank": "Front", "feet": "8"}
    left = merge_cells(path, survey, [Cell(key, "speech", "slow")], lambda _: None)
    assert left == []
    assert path.read_bytes().decode() == (
        "\ufeffnote,rank,feet,speech\r\nC4,Front,8,speaks\r\nD4,Front,8,slow\r\n"
    )


def test_what_an_editor_saves_meanwhile_is_kept(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    calls = []

    def change(text: str) -> str:
        calls.append(text)
        if len(calls) == 1:
            job.write_text(JOB + 'whole_fall = "3 s"\n')
        return with_answer(text, HOLD, "14 s")

    edit_text(job, change)
    assert len(calls) == 2
    assert set(load(job).answers["pneumatics"]) == {"whole_hold", "whole_fall"}


def test_a_survey_keeps_what_an_editor_saves_meanwhile(tmp_path: Path) -> None:
    survey = knowledge_in_use().surveys["reeds.notes"]
    path = tmp_path / "reeds.csv"
    path.write_text("note,rank,feet,speech\nC4,Front,8,speaks\n")

    def meanwhile(_: Path) -> None:
        path.write_text("note,rank,feet,speech\nC4,Front,8,speaks\nE4,Front,8,silent\n")

    cell = Cell({"note": "D4", "rank": "Front", "feet": "8"}, "speech", "slow")
    assert merge_cells(path, survey, [cell], meanwhile) == []
    assert path.read_text().splitlines()[1:] == [
        "C4,Front,8,speaks",
        "E4,Front,8,silent",
        "D4,Front,8,slow",
    ]


def test_what_is_kept_beside_a_job_overwrites_nothing(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    first = keep_beside(job, "pictures", ["a", "b", "c"], b"1")
    (tmp_path / "job_pictures" / "b").symlink_to(tmp_path / "elsewhere")
    second = keep_beside(job, "pictures", ["a", "b", "c"], b"2")
    assert [(f.name, f.read_bytes()) for f in (first, second)] == [("a", b"1"), ("c", b"2")]
    assert not (tmp_path / "elsewhere").exists()


def test_what_cannot_be_kept_beside_a_job_leaves_no_folder(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    with pytest.raises(JobFileError, match="job_pictures: cannot be written"):
        keep_beside(job, "pictures", ["n" * 300], b"1")
    drop_beside(keep_beside(job, "pictures", ["a"], b"1"))
    assert [p.name for p in tmp_path.iterdir()] == ["job.toml"]


def test_a_file_that_never_rests_is_left_alone(tmp_path: Path) -> None:
    job = job_in(tmp_path)

    def change(text: str) -> str:
        job.write_text(f"{job.read_text()}# again\n")
        return with_answer(text, HOLD, "14 s")

    with pytest.raises(JobFileError, match="another program keeps saving it"):
        edit_text(job, change)
    assert "14 s" not in job.read_text()


def test_a_lock_that_cannot_be_taken_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = job_in(tmp_path)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "nowhere" / "\x7f" / ("n" * 300)))
    with pytest.raises(JobFileError, match="cannot be held while it is saved"), held(job):
        pass


def test_two_that_ask_at_once_lose_nothing(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text("format = 1\n")
    command = [str(Path(sys.executable).with_name("assess")), "ask", str(job), "--all", "--only"]

    def answered(subsystem: str) -> None:
        done = subprocess.run(
            [*command, subsystem], input="n\n" * 3 + "q\n", capture_output=True, text=True,
            check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(answered, ["pneumatics", "action"]))
    answers = load(job).answers
    assert {name: len(given) for name, given in answers.items()} == {"pneumatics": 3, "action": 3}


def test_an_answer_that_could_not_be_saved_is_named_at_the_end(run: Run, tmp_path: Path) -> None:
    job = job_in(tmp_path, "format = 1\n")
    job.chmod(0o444)
    typed = {
        ("ask", "job.toml"): ("1\nq\n", r"history\.works: .+"),
        ("ask", "job.toml", "--from-paper"): ("D1 1\n999 3\n\n", r"D1 1\n  999 3"),
        ("ask", "job.toml", "--only", "reeds"): ("n/a lid\nq\n", r"reeds\.\w+: not seen / a lid"),
    }
    for arguments, (lines, named) in typed.items():
        done = run(*arguments, stdin=lines)
        assert done.returncode == 2
        assert "NOT SAVED" in done.stdout
        assert re.search(f"these answers could not be saved:\n  {named}", done.stderr), done.stderr
        assert "Saved in" not in done.stdout
    job.chmod(0o644)
    done = run("ask", "job.toml", "--from-paper", stdin="D1 9\nD1 1\n\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert job.read_text() != "format = 1\n"


def test_bytes_that_are_no_text_are_not_saved(tmp_path: Path) -> None:
    job = job_in(tmp_path, "format = 1\n")
    command = [str(Path(sys.executable).with_name("assess")), "ask", str(job), "--only", "reeds"]
    done = subprocess.run(command, input=b"n/caf\xe9\nq\n", capture_output=True, check=False)
    assert done.returncode == 2
    assert b"NOT SAVED." in done.stdout
    assert b"Traceback" not in done.stderr
    assert job.read_text() == "format = 1\n"


def test_a_name_that_leaves_no_room_for_another_is_saved(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 250 + ".toml")
    save_text(path, JOB)
    put(path)
    assert answer_in(path) == "14 s"


def test_what_is_no_file_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    for name, said in (
        ("folder", "it is a folder"),
        ("pipe", "it is not an ordinary file"),
        ("nowhere/job.toml", "No such file"),
        ("a\0b", "no file can have that name"),
        ("n" * 300, "File name too long"),
    ):
        with pytest.raises(JobFileError, match=said):
            save_text(tmp_path / name, JOB)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder", "pipe"]


@pytest.mark.skipif(
    os.geteuid() != 0 or shutil.which("setpriv") is None, reason="needs another user"
)
def test_a_folder_that_only_others_may_enter_is_no_crash(tmp_path: Path) -> None:
    shut = tmp_path / "shut"
    shut.mkdir()
    job = job_in(shut)
    shut.chmod(0o600)
    calls = [["grade", str(shut / "job.toml")], ["new", str(shut / "new.toml")]]
    done = subprocess.run(
        ["setpriv", "--reuid", "65534", "--clear-groups", sys.executable, "-c", EACH, repr(calls)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    no_way_in = "Permission denied" in done.stderr or "No module named" in done.stderr
    if no_way_in and "assess: " not in done.stderr:
        pytest.skip("the other user may not run the command")
    assert done.stdout == "2\n2\n", done.stderr
    said = done.stderr.splitlines()
    assert said[0].endswith("shut/job.toml: cannot be read: Permission denied")
    assert len(said) == 2
    shut.chmod(0o755)
    assert job.read_text() == JOB


@pytest.mark.parametrize(
    "text",
    [
        "[history]\noverhaul = [\n  { year = 1950 }, # by his uncle\n  { year = 1980 },\n] # all\n",
        "[[history.overhaul]]\nyear = 1950 # by his uncle\n"
        "[[history.overhaul]]\n# all\nyear = 1980\n",
    ],
)
def test_comments_beside_what_is_told_stay(text: str) -> None:
    trade = knowledge_in_use().trade
    entries = [{"year": 1950}, {"year": 1999, "how_far": "full"}, {"year": 2001}]
    changed = with_history(f"format = 1\n{text}", {"overhaul": entries}, trade)
    assert "# by his uncle" in changed
    assert "# all" in changed
    assert tomllib.loads(changed)["history"]["overhaul"] == entries
    for kept in (entries[:1], entries[:2], entries[2:]):
        fewer = with_history(f"{changed}# to come\n[answers]\n", {"overhaul": kept}, trade)
        assert tomllib.loads(fewer)["history"]["overhaul"] == kept
        assert "# to come" in fewer
        assert ("# by his uncle" in fewer) is (kept[0]["year"] == 1950)


def test_comments_below_a_record_that_is_taken_back_stay() -> None:
    records = [f'[[done]]\nstep = "reeds.{name}"\n\n# after {name}\n' for name in ("a", "b")]
    text = f"format = 1\n{records[0]}{records[1]}[answers.reeds]\ndead_reeds = 1 # three\n"
    for steps in (["reeds.a"], ["reeds.b"], ["reeds.a", "reeds.b"]):
        left = without_done(text, steps)
        assert all(words in left for words in ("# after a", "# after b", "# three")), left
        assert len(tomllib.loads(left).get("done", [])) == 2 - len(steps)
