"""Whether the tests notice small changes of the program; run it by hand, never as a test.

Places in the engine's judgement and in the declared knowledge are drawn by a seed. Each is changed
a little in a copy of the project (a comparison turned, a number moved, a danger dropped), and tests
run against the copy until one fails. What no test notices is printed: it is not tested, or the
change makes no difference. The share that is noticed is the mutation score (R. A. DeMillo,
R. J. Lipton and F. G. Sayward, "Hints on test data selection", Computer 11 (1978); from memory).

    python tests/mutation.py --changes 250 --seed 1 --reach reach.json > found.txt
    python tests/mutation.py --changes 250 --seed 1 --reach reach.json --again found.txt

The first run finds out which file of tests enters which functions, and how long it takes, and keeps
that in the file given. Of a changed function, only the files that enter it are tried; of declared
knowledge, those about the organ. Those that noticed much in little time run first, until their
times add up to ``--seconds``: so a change that is missed was missed by these alone. Tests in a
browser, of packages and of hostile input are left out. With ``--again``, only the changes that were
missed before are tried; write to another file than the one read. With ``--part``, the same
changes are drawn, and those of other parts left out.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib
import json
import os
import re
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import accumulate
from pathlib import Path

import pytest
from small_changes import PARTS, ROOT, Change, changes, first_line
from tabulate import tabulate

TIMEOUT_S = 1200
COPIED = ("assess", "plugins", "tests", "fixtures", "pyproject.toml", "README.md", "DEVELOPERS.md")
LEFT_OUT = re.compile("pages/test_(?:visit|hearing)|hard_use|packag|third_|second_|readme|start")
SHARED = ("hypothesis", "numpy", "pydantic", "networkx", "highspy", "click", "jinja2", "tomlkit")
"""Libraries that are imported once; the project itself never is, since it changes."""


@dataclass(frozen=True)
class Reach:
    """A file of tests, how many seconds it takes, and the functions it enters (file:line)."""

    tests: str
    seconds: float
    functions: list[str]


NOTES = """
import builtins, os
seen, out = set(), os.open(os.environ["REACHED"], os.O_WRONLY | os.O_APPEND | os.O_CREAT)
def note_function(name):
    if name not in seen:
        seen.add(name)
        os.write(out, (name + "\\n").encode())
builtins.note_function = note_function
"""
"""What notes the functions that a process enters in a file; its forks go on with it."""


def with_notes(text: str, file: str) -> str:
    """A module whose functions note that they are entered."""
    tree = ast.parse(text)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            [note] = ast.parse(f"note_function('{file}:{first_line(node)}')").body
            node.body.insert(ast.get_docstring(node) is not None, note)
    return ast.unparse(tree)


class Copy:
    """A copy of the project that tests run against.

    Args:
        folder: an empty folder for it.
        noted: whether its functions note that they are entered.
    """

    def __init__(self, folder: Path, noted: bool = False) -> None:
        self.folder = folder / "project"
        self.noted = noted
        self.reached = folder / "reached.txt"
        self.cache = folder / "cache"
        self.running = folder / "running.txt"
        self.changes = 0
        for name in COPIED:
            source = ROOT / name
            if source.is_dir():
                ignored = shutil.ignore_patterns("__pycache__")
                shutil.copytree(source, self.folder / name, ignore=ignored)
            else:
                shutil.copy2(source, self.folder / name)
        if noted:
            (self.folder / "sitecustomize.py").write_text(NOTES, encoding="utf-8")
            for file in (f for pattern in PARTS.values() for f in self.folder.glob(pattern)):
                if file.suffix == ".py":
                    text = file.read_text(encoding="utf-8")
                    name = file.relative_to(self.folder).as_posix()
                    file.write_text(with_notes(text, name), encoding="utf-8")

    def failing(self, tests: Mapping[str, float]) -> str | None:
        """The first of some files of tests that fails, or does not end in its seconds by the clock.

        They run one after the other in a fork of this process, so that what they share is
        imported and worked out once.
        """
        child = os.fork()
        if child == 0:
            try:
                self._run(tests)
            finally:
                os._exit(1)
        try:
            _, status = os.waitpid(child, 0)
        finally:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child, signal.SIGKILL)  # with what it has started
        return self.running.read_text(encoding="utf-8") if status else None

    def _run(self, tests: Mapping[str, float]) -> None:
        """Run files of tests in this process, which ends with the first that fails."""
        os.setpgrp()
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        nothing = os.open(os.devnull, os.O_RDWR)
        for stream in range(3):
            os.dup2(nothing, stream)
        os.chdir(self.folder)
        ours = [str(self.folder), str(self.folder / "plugins")]
        sys.path[:1] = ours
        os.environ.update(CI="1", ASSESS_CACHE=str(self.cache), PYTHONPATH=os.pathsep.join(ours))
        if self.noted:
            os.environ.update(REACHED=str(self.reached), ASSESS_CACHE="")
            exec(NOTES, {})
        options = ["-x", "-q", "-p", "no:cacheprovider", "-n", "0", f"--rootdir={self.folder}"]
        imported_before = ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
        for name, seconds in tests.items():
            self.running.write_text(name, encoding="utf-8")
            signal.alarm(int(seconds))
            if pytest.main([*options, *imported_before, name]):
                os._exit(1)
        os._exit(0)

    def reach(self, tests: str) -> Reach:
        """How long a file of tests takes, and which functions it enters."""
        self.reached.write_text("", encoding="utf-8")
        before = time.monotonic()
        if self.failing({tests: TIMEOUT_S}):
            sys.exit(f"{tests} fails on the project as it is")
        seconds = time.monotonic() - before
        return Reach(tests, seconds, sorted(self.reached.read_text(encoding="utf-8").split()))

    def noticed(self, change: Change, tests: Sequence[Reach]) -> str | None:
        """The first file of tests that fails with a change, or takes much longer than it did."""
        file = self.folder / change.file
        times = file.stat()
        before = file.read_text(encoding="utf-8")
        file.write_text(change.text, encoding="utf-8")
        # Bytecode is kept by time and size of its source, so each change has a time of its own.
        self.changes += 1
        os.utime(file, (self.changes, self.changes))
        try:
            return self.failing({one.tests: 20 + 4 * one.seconds for one in tests})
        finally:
            file.write_text(before, encoding="utf-8")
            os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))


def known_reach(folder: Path, file: Path) -> list[Reach]:
    """What each file of tests reaches, from a file; what it lacks is measured and added to it."""
    found = []
    if file.exists():
        found = [Reach(**entry) for entry in json.loads(file.read_text(encoding="utf-8"))]
    names = {p.relative_to(ROOT).as_posix() for p in (ROOT / "tests").rglob("test_*.py")}
    lacking = sorted(n for n in names - {o.tests for o in found} if not LEFT_OUT.search(n))
    copy = Copy(folder, noted=True)
    for name in lacking:
        found.append(copy.reach(name))
        print(f"{found[-1].seconds:6.1f} s {name}", file=sys.stderr, flush=True)
    file.write_text(json.dumps([asdict(one) for one in found]), encoding="utf-8")
    return [one for one in found if one.tests in names]


def chosen(
    change: Change, reach: list[Reach], successes: Counter[tuple[str, str]], seconds: float
) -> list[Reach]:
    """The files of tests that a change is tried on, those that promise most for their time first.

    Outside of a function, all that enter any function of the module are; for declared knowledge,
    all but those of the invented world and of the other plugins.
    """

    def reaches(name: str) -> bool:
        file, _, line = name.rpartition(":")
        return file == change.file and change.function in (None, int(line))

    those = [one for one in reach if any(map(reaches, one.functions))]
    if change.file.endswith(".toml"):
        plugin = change.file.removeprefix("plugins/assess_").partition("/")[0]
        others = re.compile(f"tests/(engine|plugins/(?!{plugin}))")
        those = [one for one in reach if not others.match(one.tests)]
    those.sort(key=lambda o: o.seconds / (1 + successes[Path(change.file).suffix, o.tests]))
    spent = accumulate(one.seconds for one in those)
    return [one for one, so_far in zip(those, spent, strict=True) if so_far <= seconds]


def main() -> None:
    """Draw changes, try tests against each, print the score of each part and what is missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--changes", type=int, default=250)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=150, help="of tests for each change")
    parser.add_argument("--reach", type=Path, default=Path(tempfile.gettempdir(), "reach.json"))
    parser.add_argument("--part", choices=PARTS, action="append", help="only changes of this part")
    parser.add_argument("--again", type=Path, help="output of a run; only what it missed is tried")
    given = parser.parse_args()
    again = given.again and given.again.read_text(encoding="utf-8").splitlines()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("ended"))
    for name in SHARED:
        importlib.import_module(name)
    found: dict[str, list[bool]] = {part: [] for part in PARTS}
    successes: Counter[tuple[str, str]] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        reach = known_reach(Path(folder, "noted"), given.reach)
        copy = Copy(Path(folder, "changed"))
        for change in changes(given.changes, given.seed):
            line = f"{change.file} {change.words}"
            if given.part and change.part not in given.part:
                continue
            if again is not None and f"MISSED  {line}" not in again:
                continue
            tests = copy.noticed(change, chosen(change, reach, successes, given.seconds))
            if tests:
                successes[Path(change.file).suffix, tests] += 1
            found[change.part].append(tests is not None)
            print(f"noticed {line}  by {tests}" if tests else f"MISSED  {line}", flush=True)
    rows = [(part, len(seen), sum(seen)) for part, seen in found.items() if seen]
    print(tabulate(rows, headers=("part", "changes", "noticed")))


if __name__ == "__main__":
    main()
