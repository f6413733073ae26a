"""What hooks give back, checked field by field: the declared types, finite numbers, plain ids."""

from __future__ import annotations

import re
import reprlib
from collections.abc import Iterable, Iterator
from dataclasses import MISSING, fields
from functools import cache
from itertools import islice
from typing import Any, TypeVar, get_args, get_type_hints

from pydantic import BaseModel, ConfigDict, ValidationError, create_model

from assess.base.validation import dotted
from assess.plugin.api import Measurement, Quantity, Sheet

R = TypeVar("R")


class UnfitResultsError(ValueError):
    """What a hook gave cannot be used; a line for each reason."""


MOST_RESULTS = 10_000
"""More than this of one kind is a hook that does not stop."""
LONGEST_TEXT = 20_000
"""Letters of the longest text in a result."""
MOST = 1e15
"""Beyond this no number is a reading, an amount or a point of a plot."""


def checked(hook: str, kind: type[R], given: Iterable[object]) -> list[R]:
    """What a hook gave, built again from its checked fields.

    Args:
        hook: the name of the hook, for messages.
        kind: what it has to give: one of the dataclasses of :mod:`assess.plugin.api`.
        given: what it gave; it may be a generator.

    Raises:
        UnfitResultsError: something else, a wrong field, an impossible id, or an id given twice; a
            line for each.
    """
    items = list(islice(given, MOST_RESULTS + 1))
    if len(items) > MOST_RESULTS:
        raise UnfitResultsError(f"{hook} gives more than {MOST_RESULTS} results")
    strangers = [type(item).__name__ for item in items if not isinstance(item, kind)]
    if strangers:
        raise UnfitResultsError(f"expected a {kind.__name__}, got {strangers[0]}")
    results: list[R] = []
    faults: list[str] = []
    for item in items:
        try:
            results.append(_new(kind, item))
        except ValidationError as error:
            faults += [_wrong_field(item, problem) for problem in error.errors()]
        except ValueError as error:
            faults.append(f"{_named(item)}: {error}")
    faults += _id_faults(hook, results)
    faults += [fault for result in results for fault in _more_faults(result)]
    if faults:
        raise UnfitResultsError("\n".join(faults))
    return results


def _new(kind: Any, item: object) -> Any:
    """The same from checked fields; lists, which others could change later, become tuples."""
    names, shape = _shape(kind)
    model = shape.model_validate({name: _settled(getattr(item, name)) for name in names})
    return kind(**{name: getattr(model, name) for name in names})


@cache
def _shape(kind: Any) -> tuple[tuple[str, ...], type[BaseModel]]:
    """The fields of a dataclass, and a strict model with them."""
    hints = get_type_hints(kind)
    shape: dict[str, Any] = {
        field.name: (hints[field.name], ... if field.default is MISSING else field.default)
        for field in fields(kind)
    }
    strict = ConfigDict(strict=True, allow_inf_nan=False, revalidate_instances="always")
    return tuple(shape), create_model(kind.__name__, __config__=strict, **shape)


def _wrong_field(item: object, problem: Any) -> str:
    where = f"the {dotted(problem['loc'])} of {_named(item)}"
    _, wanted, expected = problem["msg"].partition("Input should be ")
    if not wanted:
        return f"{where}: {problem['msg']}"
    if type(None) in get_args(get_type_hints(type(item)).get(problem["loc"][0])):
        expected += " or None"
    return f"{where} is {reprlib.repr(problem['input'])}, expected {expected}"


def _settled(value: Any) -> Any:
    """Lists as tuples; text that no file can hold or nobody would read is refused.

    Raises:
        ValueError: half a character, or too much text.
    """
    if isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            raise ValueError(f"a text of {len(value):,} letters; at most {LONGEST_TEXT:,}")
        if not _is_whole(value):
            raise ValueError(f"{value!a} holds half a character, which no file can")
    if isinstance(value, list | tuple):
        return tuple([_settled(item) for item in value])
    return value


def _is_whole(text: str) -> bool:
    return text.isascii() or not any("\ud800" <= c <= "\udfff" for c in text)


def _named(item: object) -> str:
    """How a result is called in messages, as far as it says so."""
    name = getattr(item, "id", None) or getattr(item, "repair", None)
    return repr(name) if isinstance(name, str) else f"a {type(item).__name__}"


def _id_faults(hook: str, results: Iterable[object]) -> Iterator[str]:
    seen: set[str] = set()
    for identifier in (r.id for r in results if hasattr(r, "id")):
        if not re.fullmatch(r"[a-z][a-z0-9_]*", identifier):
            yield f"{identifier!r} is not an id; use lower case letters, digits and underscores"
        if identifier in seen:
            yield f"{hook} gives the id {identifier!r} twice"
        seen.add(identifier)


def _more_faults(result: object) -> Iterator[str]:
    """What is wrong although every field is of its type."""
    if isinstance(result, Measurement) and result.sd is not None and result.sd < 0:
        yield f"the sd of {_named(result)} is {result.sd:g}, expected 0 or more"
    if isinstance(result, Quantity) and result.amount < 0:
        yield f"the amount of {result.material!r} is {result.amount:g}, expected 0 or more"
    if isinstance(result, Sheet):
        wide = {len(row) for row in result.rows} - {len(result.columns)}
        if wide:
            yield (
                f"{_named(result)}: a row has {wide.pop()} cells, "
                f"but there are {len(result.columns)} columns"
            )
    for name, number in _numbers(result):
        if abs(number) > MOST:
            yield f"the {name} of {_named(result)} is {number:g}, beyond {MOST:g}"


def _numbers(result: object) -> Iterator[tuple[str, float]]:
    for name in ("value", "sd", "amount"):
        number = getattr(result, name, None)
        if number is not None:
            yield name, number
    for series in getattr(result, "series", ()):
        yield from ((f"series {series.name!r}", n) for point in series.points for n in point)
