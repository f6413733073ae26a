"""Whether the tests notice small changes of the program; run it by hand, never as a test.

Places in the engine's judgement and in the declared knowledge are drawn by a seed. Each is changed
a little in a copy of the project (a comparison turned, a number moved, a danger dropped), and the
tests run against the copy until one fails. What no test notices is printed: it is not tested, or
the change makes no difference. The share that is noticed is the mutation score (R. A. DeMillo,
R. J. Lipton and F. G. Sayward, "Hints on test data selection", Computer 11 (1978); from memory).

    python tests/mutation.py --changes 150 --seed 1
"""

from __future__ import annotations

import argparse
import ast
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random

from tabulate import tabulate

ROOT = Path(__file__).parents[1]
COPIED = ("assess", "plugins", "tests", "fixtures", "pyproject.toml", "README.md", "DEVELOPERS.md")
TIMEOUT_S = 1200
PARTS = {
    "grading": "assess/grading/*.py",
    "planning": "assess/planning/*.py",
    "uncertainty": "assess/uncertainty/*.py",
    "decision": "assess/decision/*.py",
    "declared knowledge": "plugins/assess_*/*.toml",
}
TESTS = ("tests/engine", "tests/test_golden.py", "tests/organ", "tests/plugins", "tests/test_*.py")
"""In this order, since the first notice most for their time."""

COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
}
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Change:
    """One small change: where it is made, the text of the file with it, and what it is."""

    part: str
    file: str
    text: str
    words: str


def _turn(node: ast.AST) -> bool:
    """Change a node in place, where there is a way to."""
    match node:
        case ast.Compare(ops=[operator, *_]):
            node.ops[0] = COMPARISONS[type(operator)]()
        case ast.BinOp(op=operator) if type(operator) in OPERATORS:
            node.op = OPERATORS[type(operator)]()
        case ast.BoolOp():
            node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        case ast.Constant(value=bool()):
            node.value = not node.value
        case ast.Constant(value=int() | float()):
            node.value += 1
        case ast.Call(func=ast.Name(id=name)) if name in NAMES:
            node.func = ast.Name(NAMES[name], ast.Load())
        case ast.UnaryOp(op=ast.Not()):
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
        case _:
            return False
    return True


def _python_change(part: str, file: Path, random: Random) -> Change | None:
    """A change of a module at a place that is drawn; None where nothing can be changed."""
    text = file.read_text(encoding="utf-8")
    places = [at for at, node in enumerate(ast.walk(ast.parse(text))) if _turn(node)]
    if not places:
        return None
    tree = ast.parse(text)
    node = list(ast.walk(tree))[random.choice(places)]
    before = ast.unparse(node)
    _turn(node)
    words = f"line {getattr(node, 'lineno', '?')}: {before} -> {ast.unparse(node)}"
    return Change(part, file.relative_to(ROOT).as_posix(), ast.unparse(tree), words)


def _next_class(found: re.Match[str]) -> str:
    return f"{found[1]}{(int(found[2]) + 1) % 4}"


def _tenth_more(found: re.Match[str]) -> str:
    return f"{found[1]}{float(found[2]) * 1.1:g}"


KNOWLEDGE: tuple[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    (re.compile(r"\bdanger = true"), "danger = false"),
    (re.compile(r'(\bcautions = \[)"[^"]+"(?:, )?'), r"\1"),
    (re.compile(r"(\bcondition = )([0-3])\b"), _next_class),
    (re.compile(r"(\b(?:from|to|below|above|hours|days) = )(\d+(?:\.\d+)?)"), _tenth_more),
)


def _knowledge_change(part: str, file: Path, random: Random) -> Change | None:
    """A change of declared knowledge: a danger or a caution dropped, a class or a number moved."""
    text = file.read_text(encoding="utf-8")
    kinds = [(rule, new) for rule, new in KNOWLEDGE if rule.search(text)]
    if not kinds:
        return None
    rule, new = random.choice(kinds)
    found = random.choice(list(rule.finditer(text)))
    changed = rule.sub(new, found[0], count=1)
    line = text.count("\n", 0, found.start()) + 1
    words = f"line {line}: {found[0]} -> {changed}"
    whole = text[: found.start()] + changed + text[found.end() :]
    return Change(part, file.relative_to(ROOT).as_posix(), whole, words)


def changes(number: int, seed: int) -> Iterator[Change]:
    """As many changes of each part, drawn in turn; larger files are drawn more often."""
    random = Random(seed)
    files = {part: sorted(ROOT.glob(pattern)) for part, pattern in PARTS.items()}
    given: set[tuple[str, str]] = set()
    while len(given) < number:
        part = list(PARTS)[len(given) % len(PARTS)]
        [file] = random.choices(files[part], [f.stat().st_size for f in files[part]])
        drawn = _python_change if file.suffix == ".py" else _knowledge_change
        change = drawn(part, file, random)
        if change is not None and (change.file, change.words) not in given:
            given.add((change.file, change.words))
            yield change


def noticed(change: Change | None, groups: int = len(TESTS)) -> bool:
    """Whether a test fails on a copy of the project with a change, or does not end in time.

    Args:
        change: what is changed; None for the project as it is.
        groups: how many of the groups of tests may be tried.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in COPIED:
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(source, copy / name)
        if change is not None:
            (copy / change.file).write_text(change.text, encoding="utf-8")
        env = {**os.environ, "PYTHONPATH": f"{copy}:{copy / 'plugins'}"}
        for tests in TESTS[:groups]:
            paths = sorted(str(p.relative_to(copy)) for p in copy.glob(tests))
            options = ["-x", "-q", "-p", "no:cacheprovider", "-n", "0", "--no-header"]
            command = [sys.executable, "-m", "pytest", *options, *paths]
            try:
                done = subprocess.run(
                    command, cwd=copy, env=env, capture_output=True, timeout=TIMEOUT_S, check=False
                )
            except subprocess.TimeoutExpired:
                return True
            if done.returncode:
                return True
    return False


def main() -> None:
    """Draw changes, run the tests against each, print the score of each part and what is missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--changes", type=int, default=150)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--at-once", type=int, default=os.cpu_count())
    parser.add_argument("--groups", type=int, default=len(TESTS), help="of tests, from the first")
    given = parser.parse_args()
    if noticed(None, given.groups):
        sys.exit("the tests fail on the project as it is")
    drawn = list(changes(given.changes, given.seed))
    found: dict[str, list[bool]] = {part: [] for part in PARTS}
    with ProcessPoolExecutor(given.at_once) as pool:
        tried = pool.map(partial(noticed, groups=given.groups), drawn)
        for change, seen in zip(drawn, tried, strict=True):
            found[change.part].append(seen)
            print("noticed" if seen else "MISSED ", change.file, change.words, flush=True)
    rows = [(part, len(seen), sum(seen)) for part, seen in found.items() if seen]
    print(tabulate(rows, headers=("part", "changes", "noticed")))


if __name__ == "__main__":
    main()
