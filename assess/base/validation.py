"""What a model refuses, in plain words: one line for each problem, with the nearest key names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from assess.base.errors import did_you_mean


def problems(
    error: ValidationError, model: type[BaseModel]
) -> list[tuple[tuple[int | str, ...], str]]:
    """Where each problem is (keys and positions), and what is wrong there, in words."""
    return [(item["loc"], _in_words(item, model)) for item in error.errors(include_url=False)]


def error_lines(error: ValidationError, model: type[BaseModel], prefix: str = "") -> list[str]:
    """Each problem as one line: key path, what is wrong, what was given."""
    lines = []
    for location, words in problems(error, model):
        path = dotted(location)
        lines.append(f"{prefix}{path}: {words}" if path else f"{prefix}{words}")
    return lines


def dotted(location: Sequence[int | str]) -> str:
    """A place in nested data as it is written: ``criterion[2].outcomes[0].class``."""
    return "".join(f"[{p}]" if isinstance(p, int) else f".{p}" for p in location).lstrip(".")


def _in_words(item: Any, model: type[BaseModel]) -> str:
    kind, location = item["type"], item["loc"]
    if kind == "missing":
        return "is missing"
    if kind == "extra_forbidden":
        return f"unknown key; {did_you_mean(str(location[-1]), _keys_at(model, location[:-1]))}"
    given = item.get("input")
    shown = f" (given: {given!r})" if isinstance(given, str | int | float | bool) else ""
    message: str = item["msg"].removeprefix("Value error, ")
    return f"{message}{shown}"


def _keys_at(model: type[BaseModel], location: Sequence[int | str]) -> list[str]:
    """The keys that a table at some place may have."""
    found: type[BaseModel] | None = model
    for part in location:
        if isinstance(part, str) and found is not None:
            fields = {info.alias or name: info for name, info in found.model_fields.items()}
            found = _model_in(fields[part].annotation) if part in fields else found
    if found is None:
        return []
    return [info.alias or name for name, info in found.model_fields.items() if not info.exclude]


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if isinstance(annotation, type) and issubclass(annotation, Mapping):
        return None
    return next((m for part in get_args(annotation) if (m := _model_in(part))), None)
