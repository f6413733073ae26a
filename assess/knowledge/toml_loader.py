"""Reading what a plugin declares: its TOML files, joined and validated.

What is wrong is named by file, entry and key, so that it is found without a search.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib.resources import files
from typing import Any

from pydantic import ValidationError

from assess.base.errors import DeclarationError
from assess.base.validation import dotted, problems
from assess.knowledge.declaration import Declaration
from assess.knowledge.declaration_cache import kept_declaration, note_read


def read_declaration(package: str) -> Declaration:
    """Read and join all TOML files of a plugin's package into its declaration.

    Args:
        package: the importable package that holds the files, usually ``__name__``.

    Raises:
        DeclarationError: a file cannot be read, or what it declares is impossible;
            the message names file and key.
    """
    found = sorted((f.name, f) for f in files(package).iterdir() if f.name.endswith(".toml"))
    if not found:
        raise DeclarationError(f"package {package}: no TOML file in it")
    tomls = [(name, file.read_bytes()) for name, file in found]
    declared = kept_declaration(package, tomls)
    if declared is None:
        declared = _read(package, tomls)
        note_read(package, tomls, declared)
    return declared


def _read(package: str, tomls: Iterable[tuple[str, bytes]]) -> Declaration:
    import tomli

    merged: dict[str, Any] = {}
    places: dict[tuple[str, int], str] = {}
    for name, contents in tomls:
        try:
            text = contents.decode("utf-8").replace("\r\n", "\n")
            data = tomli.loads(text)
        except (tomli.TOMLDecodeError, UnicodeDecodeError) as error:
            raise DeclarationError(f"{package}/{name}: {error}") from error
        _merge(merged, data, name, places, package)
    return declaration_from(merged, places, package)


def _merge(
    merged: dict[str, Any],
    data: Mapping[str, Any],
    file: str,
    places: dict[tuple[str, int], str],
    package: str,
) -> None:
    for key, value in data.items():
        if not isinstance(value, list):
            if key in merged:
                raise DeclarationError(f"{package}/{file}: {key} is declared twice")
            merged[key] = value
            continue
        entries = merged.setdefault(key, [])
        for entry in value:
            places[key, len(entries)] = file
            entries.append(entry)


def declaration_from(
    data: Mapping[str, Any] | Declaration, places: Mapping[tuple[str, int], str], package: str
) -> Declaration:
    """Validate a declaration, naming file, entry id and key in what is wrong."""
    try:
        return Declaration.model_validate(data)
    except ValidationError as error:
        lines = []
        for location, words in problems(error, Declaration):
            file, entry, rest = "", "", location
            if len(location) >= 2 and isinstance(location[1], int):
                kind, number = str(location[0]), location[1]
                known = places.get((kind, number))
                file = f"/{known}" if known else ""
                entries = data[kind] if isinstance(data, Mapping) else getattr(data, kind)
                found = entries[number]
                name = found.get("id") if isinstance(found, dict) else getattr(found, "id", None)
                entry, rest = f" {kind} {name or number + 1}", location[2:]
            where = f": {dotted(rest)}" if rest else ""
            lines.append(f"{package}{file}{entry}{where}: {words}")
        raise DeclarationError("\n".join(lines)) from None
