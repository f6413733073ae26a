"""The knowledge of all plugins together, under full ids.

:func:`qualified` rewrites the short ids of one declaration (``hub``) to full
ones (``wheels.hub``); :class:`Knowledge` holds them all by full id.
References to something that is not there are dropped and remembered.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, TypeVar

from assess.knowledge.criteria import Criterion
from assess.knowledge.declaration import (
    KINDS,
    Caution,
    Component,
    Declaration,
    Fact,
    Feature,
    HoldPoint,
    Material,
    Place,
    Repair,
    Source,
    Stage,
    SubsystemInfo,
    Survey,
    Work,
)
from assess.knowledge.model_base import Declared, part_fields

M = TypeVar("M", bound=Declared)
SHARED = ("feature", "fact")
"""Kinds whose ids belong to the instrument, not to one subsystem."""


@dataclass(frozen=True)
class DroppedReference:
    """A reference to something that is not there: who made it, and to what."""

    owner: str
    field: str
    target: str
    reason: str


@dataclass(frozen=True)
class PluginFault:
    """A plugin that could not be used: who it is, at which hook, and why."""

    plugin: str
    distribution: str
    version: str
    hook: str
    cause: str
    subsystem: str | None = None

    def __str__(self) -> str:
        who = f"{self.plugin} ({self.distribution} {self.version})".replace(" )", ")")
        return f"plugin {who}, {self.hook}: {self.cause}"


@dataclass(frozen=True, eq=False)
class Knowledge:
    """All that the usable plugins declare, by full id, in a fixed order.

    Compared by identity, so that what follows from it can be kept and found again.
    """

    subsystems: dict[str, SubsystemInfo] = field(default_factory=dict)
    components: dict[str, Component] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    criteria: dict[str, Criterion] = field(default_factory=dict)
    repairs: dict[str, Repair] = field(default_factory=dict)
    hold_points: dict[str, HoldPoint] = field(default_factory=dict)
    cautions: dict[str, Caution] = field(default_factory=dict)
    materials: dict[str, Material] = field(default_factory=dict)
    stages: dict[str, Stage] = field(default_factory=dict)
    features: dict[str, Feature] = field(default_factory=dict)
    facts: dict[str, Fact] = field(default_factory=dict)
    surveys: dict[str, Survey] = field(default_factory=dict)
    sources: dict[str, Source] = field(default_factory=dict)
    hooks: dict[str, Any] = field(default_factory=dict)
    """Subsystem id to the plugin's hooks, as pluggy calls them."""
    faults: tuple[PluginFault, ...] = ()
    dropped: tuple[DroppedReference, ...] = ()

    def work(self, step: str) -> Work | None:
        """The repair or hold point of that id, if it is one."""
        return self.repairs.get(step) or self.hold_points.get(step)

    def steps(self) -> Iterator[str]:
        """Every step there is: repairs, hold points, and each place opened and closed."""
        yield from self.repairs
        yield from self.hold_points
        for place in self.places:
            yield f"open {place}"
            yield f"close {place}"

    def title(self, step: str) -> str:
        """A step's title as the plan prints it."""
        word, _, place = step.rpartition(" ")
        if word == "open":
            return self.places[place].open
        if word == "close":
            return self.places[place].close
        found = self.work(step)
        return found.title if found else step


def subsystem_of(identifier: str) -> str:
    """The subsystem of a full id or step.

    >>> subsystem_of("open wheels.hub")
    'wheels'
    """
    return identifier.rpartition(" ")[2].partition(".")[0]


def full_id(reference: str, subsystem: str) -> str:
    """A reference under its full id; ``open`` and ``close`` stay in front.

    >>> full_id("open hub", "wheels")
    'open wheels.hub'
    """
    word, space, name = reference.rpartition(" ")
    if "." not in name:
        name = f"{subsystem}.{name}"
    return f"{word}{space}{name}"


def qualified(declaration: Declaration) -> Declaration:
    """The declaration with every id and reference written out in full."""
    subsystem = declaration.subsystem.id
    updates: dict[str, Any] = {}
    for kind in KINDS:
        things = getattr(declaration, kind)
        owned = {} if kind in SHARED else {t.id: {"id": f"{subsystem}.{t.id}"} for t in things}
        updates[kind] = tuple(
            _rewritten(t, lambda r: full_id(r, subsystem), owned.get(t.id)) for t in things
        )
    return declaration.model_copy(update=updates)


def _rewritten(
    model: M, rename: Callable[[str], str | None], changed: Mapping[str, Any] | None = None
) -> M:
    """A copy with each reference renamed, and some fields changed besides.

    A name of None drops the reference. A dropped :class:`Link` goes whole, since a reason
    without its step says nothing.
    """
    updates: dict[str, Any] = dict(changed or {})
    for name in _pointing(type(model)):
        value = getattr(model, name)
        if not value:
            continue
        if name in model.refers_to:
            if isinstance(value, str):
                updates[name] = rename(value)
            else:
                updates[name] = tuple(r for r in map(rename, value) if r is not None)
        elif isinstance(value, Declared):
            updates[name] = _rewritten(value, rename)
        else:
            items = (_rewritten(item, rename) for item in value)
            updates[name] = tuple(item for item in items if not _is_void(item))
    return model.model_copy(update=updates) if updates else model


@cache
def _pointing(kind: type[Declared]) -> tuple[str, ...]:
    """The fields of a model that name other things, or hold models that may."""
    return tuple(n for n in kind.model_fields if n in kind.refers_to or n in part_fields(kind))


def _is_void(model: Declared) -> bool:
    """Whether a reference is gone without which the model says nothing."""
    fields = type(model).model_fields
    return any(fields[n].is_required() and getattr(model, n) is None for n in model.refers_to)


def references(model: Declared, path: str = "") -> Iterator[tuple[str, str, str]]:
    """Every reference within a model: where it stands, what kind it names, and the id."""
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


def merged(
    declarations: Iterable[Declaration],
    faults: Iterable[PluginFault] = (),
    hooks: Mapping[str, Any] | None = None,
) -> Knowledge:
    """Join qualified declarations into one body of knowledge.

    References that lead nowhere are dropped and listed in ``Knowledge.dropped``; so are
    features and facts that an earlier subsystem has declared already, with its own meaning.
    """
    ordered = sorted(declarations, key=lambda d: (d.subsystem.position, d.subsystem.id))
    tables: dict[str, dict[str, Any]] = {kind: {} for kind in KINDS}
    for declaration in ordered:
        for kind in KINDS:
            for thing in getattr(declaration, kind):
                tables[kind].setdefault(thing.id, thing)
    known = {kind: set(table) for kind, table in tables.items()}
    known["step"] = known["repair"] | known["hold_point"]
    known["step"] |= {f"{word} {p}" for p in known["place"] for word in ("open", "close")}
    subsystems = {d.subsystem.id: d.subsystem for d in ordered}
    dropped: list[DroppedReference] = []
    for table in tables.values():
        for identifier, thing in table.items():
            missing: dict[str, DroppedReference] = {
                reference: DroppedReference(
                    identifier, where, reference, _why(reference, subsystems)
                )
                for where, target_kind, reference in references(thing)
                if reference not in known[target_kind]
            }
            if missing:
                dropped += missing.values()
                table[identifier] = _rewritten(thing, _without(missing))
    return Knowledge(
        subsystems=subsystems,
        components=tables["component"],
        places=tables["place"],
        criteria=tables["criterion"],
        repairs=tables["repair"],
        hold_points=tables["hold_point"],
        cautions=tables["caution"],
        materials=tables["material"],
        stages=tables["stage"],
        features=tables["feature"],
        facts=tables["fact"],
        surveys=tables["survey"],
        sources=tables["source"],
        hooks={s: hooks[s] for s in subsystems if hooks and s in hooks},
        faults=tuple(faults),
        dropped=tuple(dropped),
    )


def _without(missing: Iterable[str]) -> Callable[[str], str | None]:
    gone = frozenset(missing)
    return lambda reference: None if reference in gone else reference


def _why(reference: str, subsystems: dict[str, SubsystemInfo]) -> str:
    owner = subsystem_of(reference)
    if owner in subsystems:
        return f"{owner} declares nothing of that id"
    return f"subsystem {owner} is not installed"


def broken_references(declaration: Declaration) -> list[str]:
    """References of a qualified declaration to things of its own that it does not declare."""
    own = declaration.subsystem.id
    known = {kind: {t.id for t in getattr(declaration, kind)} for kind in KINDS}
    known["step"] = known["repair"] | known["hold_point"]
    known["step"] |= {f"{word} {p}" for p in known["place"] for word in ("open", "close")}
    lines = []
    for kind in KINDS:
        for thing in getattr(declaration, kind):
            for where, target, reference in references(thing):
                if subsystem_of(reference) == own and reference not in known[target]:
                    lines.append(f"{kind} {thing.id}: {where} names no {target} {reference!r}")
    return lines
