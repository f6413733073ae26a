"""Files that no person would write, or that lie where they should not: one line, never a hang."""

from __future__ import annotations

import gc
import os
import time
from pathlib import Path

import pytest
from conftest import Run, job_of

from assess import Assessment, assess
from assess.base.errors import JobFileError, UserError, hints, shortened
from assess.base.text_files import named_beside, read_bytes
from assess.base.toml_text import line_of
from assess.job.job_reading import parse

HEAD = "format = 1\n"
ROWS = "note,rank,feet,speech\n"
HOLD = "[answers.pneumatics]\nwhole_hold = "

IMPOSSIBLE = {
    "digits": ("x = " + "9" * 5000, "too many digits"),
    "large": (HOLD + "9" * 400, "answers.pneumatics.whole_hold: the number is too large"),
    "brackets": ("x = " + "[" * 400 + "]" * 400, "nested more than 30 deep"),
    "more brackets": ("x = " + "[" * 4000 + "]" * 4000, "nested more than 30 deep"),
    "dotted key": (".".join("a" * 999) + " = 1", "nested more than 30 deep"),
    "dotted table": ("[" + ".".join("a" * 999) + "]", "nested more than 30 deep"),
    "very long dotted key": (".".join("a" * 9999) + " = 1", "nested more than 30 deep"),
    "long fraction": (HOLD + f'"1/{"9" * 5000}"', "is too long for a number"),
    "large fraction": (HOLD + f'"{"9" * 400}/1 s"', "is too long for a number"),
    "exponent": (HOLD + '"1e400 s"', '"1e400 s" is too large'),
    "null in a name": ('[surveys]\n"reeds.notes" = "a\\u0000b"', "no file can have that name"),
    "long name": (f'[surveys]\n"reeds.notes" = "{"n" * 300}"', "cannot be read: File name too"),
    "folder": ('[surveys]\n"reeds.notes" = "."', "is a folder"),
    "elsewhere": ('[surveys]\n"reeds.notes" = "/etc/passwd"', "not in the folder of the job file"),
    "above": ('[surveys]\n"reeds.notes" = "../other.csv"', "not in the folder of the job file"),
    "device": ('[surveys]\n"reeds.notes" = "/dev/zero"', "not in the folder of the job file"),
    "link": ('[surveys]\n"reeds.notes" = "link.csv"', "not in the folder of the job file"),
    "loop": ('[surveys]\n"reeds.notes" = "loop.csv"', "cannot be read"),
    "pipe": ('[surveys]\n"reeds.notes" = "pipe"', "pipe: not an ordinary file"),
    "photograph": ('[photographs]\nwhole = ["/etc/passwd"]', "not in the folder of the job file"),
    "piped photograph": ('[photographs]\nwhole = ["pipe"]', "pipe: not an ordinary file"),
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a pipe, a link to a file elsewhere, and a link to itself."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link.csv").symlink_to("/etc/passwd")
    (tmp_path / "loop.csv").symlink_to("loop.csv")
    return tmp_path


@pytest.mark.parametrize("kind", IMPOSSIBLE)
def test_what_cannot_be_a_job_is_refused_in_one_line(run: Run, folder: Path, kind: str) -> None:
    text, said = IMPOSSIBLE[kind]
    (folder / "job.toml").write_text(HEAD + text + "\n", encoding="utf-8")
    command = ("report", "job.toml", "-o", "r.html") if "photograph" in kind else ("grade",)
    done = run(*command, *(() if "photograph" in kind else ("job.toml",)))
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert done.stderr.startswith("assess: ")
    assert len(done.stderr.splitlines()) == 1
    assert "root:" not in done.stderr


@pytest.mark.parametrize("text", ["x = " + "[" * 4000 + "]" * 4000, "x = " + "9" * 5000, "x = nan"])
def test_so_is_a_workshop_profile(run: Run, tmp_path: Path, text: str) -> None:
    (tmp_path / "job.toml").write_text(HEAD, encoding="utf-8")
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    done = run("grade", "job.toml", "--workshop", "shop.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("assess: shop.toml")
    assert len(done.stderr.splitlines()) == 1


def test_pipes_and_devices_are_not_waited_for(run: Run, folder: Path) -> None:
    (folder / "job.toml").write_text(HEAD, encoding="utf-8")
    calls = [
        (("grade", "pipe"), "pipe"),
        (("grade", "/dev/zero"), "/dev/zero"),
        (("grade", "job.toml", "--workshop", "pipe"), "pipe"),
        (("grade", "job.toml", "--workshop", "/dev/zero"), "/dev/zero"),
    ]
    for arguments, name in calls:
        done = run(*arguments)
        assert (done.returncode, done.stderr) == (2, f"assess: {name}: not an ordinary file\n")


def test_a_job_file_may_have_the_name_of_a_profile(run: Run, tmp_path: Path) -> None:
    (tmp_path / "workshop.toml").write_text(HEAD, encoding="utf-8")
    assert run("grade", "workshop.toml").returncode == 0
    (tmp_path / "job.toml").write_text(HEAD, encoding="utf-8")
    beside = run("grade", "job.toml")
    assert beside.returncode == 2
    assert "workshop.toml: format: unknown key" in beside.stderr


def test_a_file_larger_than_any_is_not_read_whole(tmp_path: Path) -> None:
    large = tmp_path / "large.toml"
    with large.open("wb") as file:
        file.truncate(10**12)  # a hole: it takes no room
    with pytest.raises(JobFileError, match="larger than any such file"):
        read_bytes(large)


def test_a_name_that_no_file_can_have_is_named(run: Run, tmp_path: Path) -> None:
    for name in ("n" * 300 + ".toml", "a\x7f/b.toml", "nowhere/job.toml"):
        done = run("grade", name)
        assert done.returncode == 2
        assert "Traceback" not in done.stderr
        assert len(done.stderr.splitlines()) == 1
        assert run("new", name).returncode == 2
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_listed_gives_no_hints(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(_: object) -> list[str]:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "listdir", refuses)
    with pytest.raises(JobFileError, match=r"job\.toml: there is no such file$"):
        read_bytes(tmp_path / "job.toml")


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ('C4,Front,8,"' + "x" * 140_000 + '"', "a cell is longer than any remark"),
        ('C4,Front,8,"speaks\n' * 3, "a quotation mark is not closed on this line"),
        ("C4,Front,8," + "x" * 5000, "does not say how a reed speaks"),
    ],
    ids=["long cell", "unclosed", "long word"],
)
def test_rows_that_cannot_be_have_file_and_line(
    run: Run, tmp_path: Path, row: str, said: str
) -> None:
    (tmp_path / "job.toml").write_text(f'{HEAD}[surveys]\n"reeds.notes" = "reeds.csv"\n')
    (tmp_path / "reeds.csv").write_text(ROWS + row + "\n", encoding="utf-8")
    done = run("grade", "job.toml")
    assert done.returncode == 2
    assert "reeds.csv:2: " in done.stderr
    assert said in done.stderr
    assert max(map(len, done.stderr.splitlines())) < 700


def test_the_first_five_of_many_bad_rows_are_named(run: Run, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(f'{HEAD}[surveys]\n"reeds.notes" = "reeds.csv"\n')
    rows = "".join(f"C4,Front,8,speaks,{n} flat\n" for n in range(20_000))
    (tmp_path / "reeds.csv").write_text(ROWS.replace("\n", ",cents\n") + rows, encoding="utf-8")
    done = run("grade", "job.toml")
    lines = done.stderr.splitlines()
    assert done.returncode == 2
    assert len(lines) == 6
    assert all(f"reeds.csv:{n}: column cents" in line for n, line in enumerate(lines[:5], 2))
    assert lines[5].startswith("assess: and ")
    assert lines[5].endswith(" more")


MANY = {
    "keys": lambda n: "".join(f"unknown_{i} = 1\n" for i in range(n)),
    "keys of a table": lambda n: "[owner]\n" + "".join(f"unknown_{i} = 1\n" for i in range(n)),
    "types": lambda n: "[photographs]\n" + "".join(f"k{i} = 1\n" for i in range(n)),
    "answers": lambda n: "[answers.wheels]\n" + "".join(f"k{i} = [1]\n" for i in range(n)),
}


@pytest.mark.parametrize("kind", MANY)
def test_the_time_grows_with_the_number_of_mistakes(kind: str) -> None:
    def seconds(count: int) -> float:
        text = HEAD + MANY[kind](count)
        # What other tests left to be freed is not part of the time.
        gc.collect()
        gc.disable()
        try:
            began = time.process_time()
            with pytest.raises(JobFileError, match=f"and {count - 5:,} more"):
                parse(text)
            return time.process_time() - began
        finally:
            gc.enable()

    few = min(seconds(250) for _ in range(3))
    assert seconds(2000) < 8 * few * 3 + 0.1


def test_many_unknown_steps_do_not_each_look_for_similar_ones(run: Run, tmp_path: Path) -> None:
    steps = "".join(f'[[done]]\nstep = "pneumatics.x{n}"\n' for n in range(2000))
    (tmp_path / "job.toml").write_text(HEAD + steps, encoding="utf-8")
    began = time.monotonic()
    done = run("grade", "job.toml")
    assert time.monotonic() - began < 10
    assert done.returncode == 2
    lines = done.stderr.splitlines()
    assert len(lines) == 6
    assert lines[4].startswith("assess: job.toml:10: done: no such step")
    assert lines[5] == "assess: and 1,995 more"


def test_a_message_is_shortened_once() -> None:
    listed = "\n".join(f"line {n}" for n in range(30))
    once = shortened(listed)
    assert once.splitlines()[4:] == ["line 4", "and 25 more"]
    assert shortened(once) == once
    assert str(UserError(str(UserError(listed)))) == once
    assert shortened("a\nb") == "a\nb"
    long = shortened("x" * 10_000 + "; the end")
    assert len(long) <= 600
    assert long.endswith("; the end")


def test_only_the_first_hints_are_looked_for() -> None:
    hint = hints()
    found = [hint("craked", ["cracked", "firm"]) for _ in range(7)]
    assert found[:5] == ['did you mean "cracked"?'] * 5
    assert set(found[5:]) == {"unknown"}


def test_a_file_that_a_job_names_lies_beside_it(tmp_path: Path) -> None:
    inner = tmp_path / "photographs"
    inner.mkdir()
    job = tmp_path / "job.toml"
    for named in ("a.csv", "photographs/a.jpg", "photographs/../a.csv", str(tmp_path / "a.csv")):
        assert named_beside(job, named).name == Path(named).name
    (tmp_path / "out").symlink_to("/")
    for named in ("../a.csv", "/a.csv", "photographs/../../a.csv", "out/a.csv", "a\0.csv"):
        with pytest.raises(JobFileError):
            named_beside(job, named)


def test_a_key_is_found_whatever_stands_around_it() -> None:
    text = '[surveys]\n"reeds.notes" = "a.csv"\n[a.b]\nc = 1\nd.e = 2\n[[f]]\ng = 1\n[[f]]\n'
    assert line_of(text, ("surveys", "reeds.notes")) == 2
    assert line_of(text, ("a", "b", "c")) == 4
    assert line_of(text, ("a", "b", "d")) is None
    assert line_of(text, ("a", "b", "c", "deeper")) == 4
    assert line_of(text, ("a",)) == 3
    assert line_of(text, ("f", "g")) == 7


def test_lines_that_look_like_the_beginning_of_a_table_take_no_time() -> None:
    lines = "\n".join("[" + " " * 900 for _ in range(2000))
    began = time.process_time()
    assert line_of(lines + "\na = 1", ("a",)) == 2001
    assert time.process_time() - began < 1


def surveyed(folder: Path, survey: str, table: str) -> Assessment:
    (folder / "s.csv").write_text(table, encoding="utf-8")
    result = assess(job_of(f'format = 1\n[surveys]\n"{survey}" = "s.csv"\n', folder / "job.toml"))
    assert not result.faults
    return result


SAME_ROW = {
    "reeds.notes": ("note,rank,speech", ["C#4,Front,speaks", "Db4,Front,dead"]),
    "action.keys": ("note,dip", ["A#3,9", "Bb3,10"]),
}


@pytest.mark.parametrize("survey", SAME_ROW)
def test_a_row_spelled_in_two_ways_is_refused(tmp_path: Path, survey: str) -> None:
    headings, rows = SAME_ROW[survey]
    with pytest.raises(JobFileError, match=r"s\.csv:3: about the same as .*s\.csv:2, spelled"):
        surveyed(tmp_path, survey, "\n".join([headings, *rows, ""]))


def test_what_looks_the_same_is_the_same(tmp_path: Path) -> None:
    headings = "note,rank,speech\u200b,cents\n"
    clean = "C4,Fl\u00f6te,speaks,3\nD4,Fl\u00f6te,not tried,\n"
    odd = "C4,Fl\u00f6te,speaks\u00ad,3\nD4\u200b,FLO\u0308TE,not\u00a0tried,\n"
    read = [
        surveyed(tmp_path, "reeds.notes", headings + rows).inspection.surveys["reeds.notes"]
        for rows in (clean, odd)
    ]
    assert read[0] == read[1]
    assert len(read[0]) == 2
    with pytest.raises(JobFileError, match="appears twice"):
        surveyed(tmp_path, "reeds.notes", f"{headings}{clean}C4,FLO\u0308TE\u200b,dead,\n")


@pytest.mark.parametrize(
    ("headings", "cells", "says"),
    [
        ("feet", "2 2/3", "a whole number of feet"),
        ("feet", "8-16", "the length of a rank is"),
        ("celeste", "perhaps", "write yes, or leave it empty"),
    ],
)
def test_a_cell_is_not_taken_for_the_nearest_thing(
    tmp_path: Path, headings: str, cells: str, says: str
) -> None:
    with pytest.raises(JobFileError, match=says):
        surveyed(tmp_path, "reeds.notes", f"note,rank,{headings}\nC4,Front,{cells}\n")
