"""References from one declared thing to another: written out in full, renamed, listed, checked.

Within one declaration ids are short (``hub``); everywhere else they are full (``wheels.hub``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

from assess.base.errors import did_you_mean
from assess.knowledge.declaration import KINDS, SHARED, Declaration
from assess.knowledge.model_base import Declared, part_fields
from assess.knowledge.steps import Step, subsystem_of

M = TypeVar("M", bound=Declared)


@dataclass(frozen=True)
class DroppedReference:
    """A reference to something that is not there: who made it, and to what.

    ``installed`` says whether the subsystem that should declare the target is installed; then
    the reference is a mistake, else it waits for another plugin.
    """

    owner: str
    field: str
    target: str
    reason: str
    installed: bool


def full_id(reference: str, subsystem: str) -> str:
    """A reference under its full id; ``open`` and ``close`` stay in front.

    >>> full_id("open hub", "wheels")
    'open wheels.hub'
    """
    step = Step(reference)
    return step if "." in step.target else step.about(f"{subsystem}.{step.target}")


def qualified(declaration: Declaration) -> Declaration:
    """The declaration with every id and reference written out in full."""
    if declaration.subsystem is None:
        return declaration
    subsystem = declaration.subsystem.id
    updates: dict[str, Any] = {}
    for kind in KINDS:
        things = getattr(declaration, kind)
        owned = {} if kind in SHARED else {t.id: {"id": f"{subsystem}.{t.id}"} for t in things}
        updates[kind] = tuple(
            rewritten(t, lambda r, _: full_id(r, subsystem), owned.get(t.id)) for t in things
        )
    return declaration.model_copy(update=updates)


def rewritten(
    model: M, rename: Callable[[str, str], str | None], changed: Mapping[str, Any] | None = None
) -> M:
    """A copy with each reference renamed, and some fields changed besides.

    ``rename`` gets the reference and the kind of thing that it names; None drops the reference.
    A dropped :class:`Link` goes whole, since a reason without its step is useless; a single part
    that goes leaves what the field usually holds.
    """
    updates: dict[str, Any] = dict(changed or {})
    for name in _pointing(type(model)):
        value = getattr(model, name)
        if not value:
            continue
        if name in model.refers_to:
            kind = model.refers_to[name]
            if isinstance(value, str):
                updates[name] = rename(value, kind)
            else:
                names = (rename(reference, kind) for reference in value)
                updates[name] = tuple(n for n in names if n is not None)
        elif isinstance(value, Declared):
            part = rewritten(value, rename)
            usual = type(model).model_fields[name].get_default()
            updates[name] = usual if is_void(part) else part
        else:
            items = (rewritten(item, rename) for item in value)
            updates[name] = tuple(item for item in items if not is_void(item))
    return model.model_copy(update=updates) if updates else model


@cache
def _pointing(kind: type[Declared]) -> tuple[str, ...]:
    """The fields of a model that name other things, or hold models that may."""
    return tuple(n for n in kind.model_fields if n in kind.refers_to or n in part_fields(kind))


def is_void(model: Declared) -> bool:
    """Whether a reference is gone that the model cannot do without."""
    fields = type(model).model_fields
    return any(fields[n].is_required() and getattr(model, n) is None for n in model.refers_to)


def references(model: Declared, path: str = "") -> Iterator[tuple[str, str, str]]:
    """Every reference within a model: where it is, what kind it names, and the id."""
    for name in _pointing(type(model)):
        value = getattr(model, name)
        if not value:
            continue
        kind = model.refers_to.get(name)
        if kind:
            for reference in (value,) if isinstance(value, str) else value:
                yield f"{path}{name}", kind, reference
        elif isinstance(value, Declared):
            yield from references(value, f"{path}{name}.")
        else:
            for index, item in enumerate(value):
                yield from references(item, f"{path}{name}[{index}].")


def known_ids(ids: dict[str, set[str]]) -> dict[str, set[str]]:
    """What a reference of each kind may name: ids of that kind, and for ``step`` every step."""
    steps = {*ids["repair"], *ids["hold_point"]}
    for place in ids["place"]:
        steps |= {Step.opening(place), Step.closing(place)}
    return {**ids, "step": steps}


def broken_references(declaration: Declaration) -> list[str]:
    """References of a qualified declaration to things of its own that it does not declare."""
    if declaration.subsystem is None:
        return []
    own = declaration.subsystem.id
    known = known_ids({kind: {t.id for t in getattr(declaration, kind)} for kind in KINDS})
    lines = []
    for kind in KINDS:
        for thing in getattr(declaration, kind):
            for where, target, reference in references(thing):
                if subsystem_of(reference) == own and reference not in known[target]:
                    hint = did_you_mean(reference, known[target])
                    lines.append(
                        f"{kind} {thing.id}: {where} names no {target} {reference!r}; {hint}"
                    )
    return lines
