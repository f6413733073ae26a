"""Small changes of the engine's judgement and of the declared knowledge, drawn by a seed.

What can make no difference is not drawn: annotations, decorators, defaults of fields, messages,
and guards against faulty callers. `mutation.py` looks which of them the tests notice.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

ROOT = Path(__file__).parents[1]
PARTS = {
    "grading": "assess/grading/*.py",
    "planning": "assess/planning/*.py",
    "uncertainty": "assess/uncertainty/*.py",
    "decision": "assess/decision/*.py",
    "declared knowledge": "plugins/assess_*/*.toml",
}

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
    """One small change: where it is made, the text of the file with it, and what it is.

    ``function`` is the first line of the function that it is in; None outside of all.
    """

    part: str
    file: str
    text: str
    words: str
    function: int | None = None


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
        case ast.IfExp():
            node.body, node.orelse = node.orelse, node.body
        case ast.GeneratorExp(generators=[first]) | ast.ListComp(generators=[first]) if first.ifs:
            first.ifs.clear()
        case _:
            return False
    return True


def _children(node: ast.AST) -> Iterator[ast.AST]:
    """What stands in a node, without what makes no difference to a result.

    Left out are annotations, decorators, the defaults of fields, messages of errors and other
    texts made at run time, and ``strict`` of ``zip``, which only guards against faulty callers.
    """
    for name, value in ast.iter_fields(node):
        idle = name in ("annotation", "returns", "decorator_list")
        field = isinstance(node, ast.ClassDef) and name == "body"
        for child in value if isinstance(value, list) else [value]:
            strict = isinstance(child, ast.keyword) and child.arg == "strict"
            silent = isinstance(child, ast.JoinedStr | ast.Raise) or not isinstance(child, ast.AST)
            if not (idle or strict or silent or (field and isinstance(child, ast.AnnAssign))):
                yield child


def first_line(function: ast.FunctionDef) -> int:
    """The line that a function begins in, with its decorators."""
    return min([function.lineno, *(d.lineno for d in function.decorator_list)])


def _places(node: ast.AST, function: int | None = None) -> Iterator[tuple[ast.expr, int | None]]:
    """Expressions in the order they are written, with the first line of their function."""
    if isinstance(node, ast.FunctionDef):
        function = first_line(node)
    if isinstance(node, ast.expr):
        yield node, function
    for child in _children(node):
        yield from _places(child, function)


def _python_change(part: str, file: Path, random: Random) -> Change | None:
    """A change of a module at a place that is drawn; None where nothing can be changed."""
    text = file.read_text(encoding="utf-8")
    places = [at for at, (node, _) in enumerate(list(_places(ast.parse(text)))) if _turn(node)]
    if not places:
        return None
    node, function = list(_places(ast.parse(text)))[random.choice(places)]
    before = ast.get_source_segment(text, node) or ""
    _turn(node)
    new = f"({ast.unparse(node)})"
    source = text.encode()  # columns of a tree are counted in bytes
    start = sum(map(len, source.splitlines(keepends=True)[: node.lineno - 1])) + node.col_offset
    end = start + len(before.encode())
    whole = (source[:start] + new.encode() + source[end:]).decode()
    words = f"line {node.lineno}: {' '.join(before.split())} -> {new}"
    return Change(part, file.relative_to(ROOT).as_posix(), whole, words, function)


def _next_class(found: re.Match[str]) -> str:
    return f"{found[1]}{(int(found[2]) + 1) % 4}"


def _tenth_more(found: re.Match[str]) -> str:
    return f"{found[1]}{float(found[2]) * 1.1:g}"


KNOWLEDGE: tuple[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    (re.compile(r"\b(danger|danger_first|people) = true"), r"\1 = false"),
    (re.compile(r'(\b(?:open_)?cautions = \[\s*)"[^"]+"(?:,\s*)?'), r"\1"),
    (re.compile(r'(\bcautions = \["[^"]+")(?:, "[^"]+")+'), r"\1"),
    (re.compile(r"(\b(?:class|from_class|at_most_class) = )([0-3])\b"), _next_class),
    (re.compile(r"(\b(?:from|to|below|above) = )(-?[1-9]\d*(?:\.\d+)?|0\.\d+)"), _tenth_more),
    (re.compile(r"(\b\w*(?:hours|days) = \[?)(\d+(?:\.\d+)?)"), _tenth_more),
    (re.compile(r"(\b\w*hours = \[[\d.]+, )([\d.]+)"), _tenth_more),
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
    words = f"line {line}: {' '.join(found[0].split())} -> {' '.join(changed.split())}"
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
