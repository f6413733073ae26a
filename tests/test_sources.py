"""Whatever is cited can be followed, every row has a source or its mark, and no firm is named."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from references import reference

import assess
from assess.knowledge.declaration import PUBLISHED_STATUSES
from assess.knowledge.work import Link

ROOT = Path(__file__).parent.parent
KNOWLEDGE = assess.knowledge_in_use()
HOSTS: dict[str, str] = reference("source_hosts")["hosts"]
SOURCE_FILES = sorted((ROOT / "plugins").glob("*/sources.toml"))
UNLISTED = {"source_hosts", "came_to_light"}
"""The list itself, and the table that cites what job files of real cases cite."""
TABLES = sorted(p for p in (ROOT / "tests" / "references").glob("*.toml") if p.stem not in UNLISTED)
NOT_CHECKED = "not checked"


def addresses(path: Path) -> list[str]:
    """Every address in a file."""
    return re.findall(r"https?://[^\s\"',;)]+", path.read_text(encoding="utf-8"))


def host(address: str) -> str:
    """The host of an address, without ``www``."""
    return urlsplit(address).netloc.removeprefix("www.")


# Addresses


@pytest.mark.parametrize(
    "path", [*SOURCE_FILES, *TABLES], ids=lambda p: f"{p.parent.name}/{p.stem}"
)
def test_every_address_is_at_a_host_that_may_be_followed(path: Path) -> None:
    assert [a for a in addresses(path) if host(a) not in HOSTS] == []


def test_every_listed_host_is_cited_and_has_a_reason() -> None:
    cited = {host(a) for path in (*SOURCE_FILES, *TABLES) for a in addresses(path)}
    assert set(HOSTS) == cited
    assert [name for name, reason in HOSTS.items() if len(reason.split()) < 3] == []


@pytest.mark.parametrize("path", SOURCE_FILES, ids=lambda p: p.parent.name)
def test_a_source_without_an_address_says_that_it_is_a_copy(path: Path) -> None:
    rows: list[dict[str, Any]] = tomllib.loads(path.read_text(encoding="utf-8"))["source"]
    assert len(rows) > 20
    for row in rows:
        is_copy = NOT_CHECKED in row["title"]
        assert is_copy != ("url" in row), row["id"]


def test_one_source_is_cited_in_the_same_words_everywhere() -> None:
    """By all plugins, and by the reference on the order of work."""
    said: dict[str, tuple[str, str]] = {}
    assert SOURCE_FILES
    for path in SOURCE_FILES:
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["source"]:
            words = (row["title"], row.get("url", ""))
            assert said.setdefault(row["id"], words) == words, (path.parent.name, row["id"])
    for line in reference("precedence")["source"]:
        identifier, _, rest = line.partition(": ")
        title, address = said[identifier]
        assert rest.startswith(title), line
        assert bool(address) == ("http" in rest), line


# A source, or its mark, for every row


def rows() -> Iterator[tuple[str, str]]:
    """Every row of knowledge that holds a number or a reason, with its source."""
    for table in ("criteria", "repairs", "hold_points", "places", "cautions", "materials",
                  "symptoms", "requirements"):  # fmt: skip
        for identifier, row in getattr(KNOWLEDGE, table).items():
            yield identifier, row.source
    for identifier, link in links():
        yield f"{identifier} ({link.step})", link.source


def links() -> Iterator[tuple[str, Link]]:
    """Every reason of order."""
    for table in (KNOWLEDGE.repairs, KNOWLEDGE.hold_points, KNOWLEDGE.places):
        for identifier, row in table.items():
            for name in type(row).model_fields:
                value = getattr(row, name)
                for link in value if isinstance(value, tuple) else ():
                    if isinstance(link, Link):
                        yield identifier, link


def test_every_row_has_a_source_or_says_that_it_has_none() -> None:
    found = dict(rows())
    assert len(found) > 1500
    assert [identifier for identifier, source in found.items() if not source] == []


def test_every_source_that_is_named_is_declared_or_a_mark() -> None:
    known = {name.rpartition(".")[2] for name in KNOWLEDGE.sources} | set(PUBLISHED_STATUSES)
    wrong = [
        f"{identifier}: {part}"
        for identifier, source in rows()
        for part in source.split(", ")
        if part not in known
    ]
    assert wrong == []


# Formulas


NUMERIC = re.compile(r"\b(?:float|int|Measured|Band|Movement)\b")
MARK = re.compile(r"\b[Ss]ource\b|from memory|common practice|\b[Dd]erived\b")


def formulas() -> Iterator[tuple[str, str]]:
    """Public functions of plugins that multiply, divide or raise to powers, with docstrings."""
    for path in sorted((ROOT / "plugins").glob("*/*.py")):
        for function in functions(ast.parse(path.read_text(encoding="utf-8"))):
            if is_formula(function):
                name = f"{path.parent.name}/{path.stem}.{function.name}"
                yield name, ast.get_docstring(function) or ""


def functions(module: ast.Module) -> Iterator[ast.FunctionDef]:
    """Functions of a module and methods of its classes."""
    for node in module.body:
        inner = node.body if isinstance(node, ast.ClassDef) else [node]
        yield from (f for f in inner if isinstance(f, ast.FunctionDef))


def is_formula(function: ast.FunctionDef) -> bool:
    """Whether a function is public, returns numbers, and does more than add them."""
    returns = ast.unparse(function.returns) if function.returns else ""
    return (
        not function.name.startswith("_")
        and bool(NUMERIC.search(returns))
        and any(
            isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mult | ast.Div | ast.Pow)
            for node in ast.walk(function)
        )
    )


FORMULAS = dict(formulas())


def test_formulas_are_found() -> None:
    assert len(FORMULAS) > 40
    assert "assess_pneumatics/leakage.wedge_volume_m3" in FORMULAS


@pytest.mark.parametrize("name", FORMULAS)
def test_every_formula_names_its_source(name: str) -> None:
    assert MARK.search(FORMULAS[name]), f"{name} does not say where its formula comes from"


# Names


PLAIN_NAMES = {
    "Celsius", "FFP", "III", "RH",
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
    "French",  # French polish, a technique
}  # fmt: skip
"""Words with a capital inside a sentence that name no firm and no product."""
TEXT_FILES = sorted(p for p in (ROOT / "plugins").glob("*/*.toml") if p.stem != "sources")
"""All knowledge; titles of what others have published are cited as they stand."""
INSIDE = re.compile(r"(?<=[a-z0-9,;)%] )[A-Z][A-Za-z-]+")


@pytest.mark.parametrize("path", TEXT_FILES, ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_no_firm_or_product_is_named(path: Path) -> None:
    text = "\n".join(quoted(path.read_text(encoding="utf-8")))
    names = {n for n in INSIDE.findall(text) if len(n) > 2}
    assert names <= PLAIN_NAMES, names - PLAIN_NAMES


def quoted(toml: str) -> list[str]:
    """The texts of a TOML file, without what stands in its comments."""
    return re.findall(r'"((?:[^"\\]|\\.)*)"', toml)
