"""The knowledge of all plugins together, under full ids.

:func:`qualified` rewrites the short ids of one declaration (``hub``) to full
ones (``wheels.hub``); :class:`Knowledge` holds them all by full id.
References to something that is not there are dropped and remembered.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache, wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from assess.base.errors import did_you_mean
from assess.knowledge.criteria import Criterion
from assess.knowledge.declaration import (
    KINDS,
    Component,
    Declaration,
    Fact,
    Feature,
    Source,
    Stage,
    SubsystemInfo,
    Survey,
    Tool,
    UnitKind,
)
from assess.knowledge.declaration_cache import digest_of
from assess.knowledge.further_unit import FurtherUnit
from assess.knowledge.model_base import Declared, part_fields
from assess.knowledge.steps import Step, StepKind, subsystem_of
from assess.knowledge.symptoms import Requirement, Symptom
from assess.knowledge.trade import NEUTRAL, Trade
from assess.knowledge.work import Caution, HoldPoint, Material, Place, Repair, Season, Work

M = TypeVar("M", bound=Declared)
P = ParamSpec("P")
R = TypeVar("R")

SHARED = ("tool", "unit", "feature", "fact")
"""Kinds whose ids belong to the whole object, not to one subsystem."""
OWN_DISTRIBUTION = "reed-organ-assess"
MOST_CAUSES = 20
LONGEST_CAUSE = 500
"""How many causes of one fault are told, and how many characters of each."""
KEPT = 8
"""How many results of one function are kept for the same knowledge."""


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


@dataclass(frozen=True)
class Provider:
    """The plugin that declares something: its name, distribution and version."""

    plugin: str
    distribution: str = ""
    version: str = ""

    @property
    def is_own(self) -> bool:
        """Whether it comes with the engine."""
        return self.distribution == OWN_DISTRIBUTION

    def __str__(self) -> str:
        package = f"{self.distribution} {self.version}".strip()
        return f"{self.plugin} ({package})" if package else self.plugin


def _shown(cause: str) -> str:
    """A cause as it can be printed: control characters escaped, and short enough to read."""
    plain = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in cause)
    return plain if len(plain) <= LONGEST_CAUSE else f"{plain[:LONGEST_CAUSE]} ..."


@dataclass(frozen=True)
class PluginFault:
    """A plugin that could not be used: who it is, at which hook, and why."""

    provider: Provider
    hook: str
    cause: str
    subsystem: str | None = None

    @property
    def plugin(self) -> str:
        """The plugin's name."""
        return self.provider.plugin

    def lines(self) -> tuple[str, ...]:
        """What is wrong, each cause a line that names the plugin and the hook."""
        head = f"plugin {self.provider}, {self.hook}"
        causes = [line.strip() for line in self.cause.splitlines() if line.strip()] or [""]
        more = len(causes) - MOST_CAUSES
        if more > 0:
            causes = [*causes[:MOST_CAUSES], f"and {more} more"]
        return tuple(f"{head}: {_shown(cause)}" for cause in causes)

    def __str__(self) -> str:
        return "\n".join(self.lines())


@dataclass(frozen=True, eq=False)
class Knowledge:
    """All that the usable plugins declare, by full id, in a fixed order.

    Compared by identity; what follows from it is kept in ``memo`` (see :func:`kept`).
    """

    subsystems: dict[str, SubsystemInfo] = field(default_factory=dict)
    components: dict[str, Component] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    criteria: dict[str, Criterion] = field(default_factory=dict)
    repairs: dict[str, Repair] = field(default_factory=dict)
    hold_points: dict[str, HoldPoint] = field(default_factory=dict)
    cautions: dict[str, Caution] = field(default_factory=dict)
    materials: dict[str, Material] = field(default_factory=dict)
    seasons: dict[str, Season] = field(default_factory=dict)
    stages: dict[str, Stage] = field(default_factory=dict)
    tools: dict[str, Tool] = field(default_factory=dict)
    units: dict[str, UnitKind] = field(default_factory=dict)
    features: dict[str, Feature] = field(default_factory=dict)
    facts: dict[str, Fact] = field(default_factory=dict)
    surveys: dict[str, Survey] = field(default_factory=dict)
    symptoms: dict[str, Symptom] = field(default_factory=dict)
    requirements: dict[str, Requirement] = field(default_factory=dict)
    sources: dict[str, Source] = field(default_factory=dict)
    trade: Trade = NEUTRAL
    hooks: dict[str, Any] = field(default_factory=dict)
    """Subsystem id to the plugin's hooks, as pluggy calls them."""
    providers: dict[str, Provider] = field(default_factory=dict)
    """Subsystem id to the plugin that declares it."""
    faults: tuple[PluginFault, ...] = ()
    dropped: tuple[DroppedReference, ...] = ()
    further_units: tuple[FurtherUnit, ...] = ()
    """Units of the object besides the first, where its rows are there for each of them."""
    digest: str = ""
    """A hash of all that the knowledge follows from, where what follows from it may be kept."""
    memo: dict[Hashable, OrderedDict[Hashable, Any]] = field(default_factory=dict, repr=False)

    def work(self, step: str) -> Work | None:
        """The repair or hold point of that id, if it is one."""
        return self.repairs.get(step) or self.hold_points.get(step)

    def place_of(self, step: str) -> Place | None:
        """The place that a step opens or closes, if it is such a step."""
        found = Step(step)
        return self.places.get(found.target) if found.is_access else None

    def steps(self) -> Iterator[Step]:
        """Every step there is: repairs, hold points, and each place opened and closed."""
        for work in (*self.repairs, *self.hold_points):
            yield Step(work)
        for place in self.places:
            yield Step.opening(place)
            yield Step.closing(place)

    def searches(self) -> Iterator[Step]:
        """For each symptom the step that finds its cause."""
        yield from map(Step.finding, self.symptoms)

    def title(self, step: str) -> str:
        """A step's title as the plan prints it."""
        named = Step(step)
        if named.kind is StepKind.FIND and named.target in self.symptoms:
            return f"Find the cause: {self.symptoms[named.target].asks}"
        place = self.place_of(step)
        if place is not None:
            return place.open if step == Step.opening(place.id) else place.close
        found = self.work(step)
        return found.title if found else step

    def provider_of(self, subsystem: str) -> Provider:
        """The plugin that declares a subsystem."""
        return self.providers.get(subsystem, Provider(subsystem))


def kept(
    function: Callable[Concatenate[Knowledge, P], R],
) -> Callable[Concatenate[Knowledge, P], R]:
    """Keep a function's results with the knowledge that they follow from.

    The other arguments must be hashable; the oldest of :data:`KEPT` results goes.
    """

    @wraps(function)
    def call(knowledge: Knowledge, /, *args: P.args, **kwargs: P.kwargs) -> R:
        results = knowledge.memo.setdefault(function, OrderedDict())
        key = (args, tuple(sorted(kwargs.items())))
        if key in results:
            results.move_to_end(key)
        else:
            results[key] = function(knowledge, *args, **kwargs)
            if len(results) > KEPT:
                results.popitem(last=False)
        found: R = results[key]
        return found

    return call


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
    A dropped :class:`Link` goes whole, since a reason without its step is useless.
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
            updates[name] = rewritten(value, rename)
        else:
            items = (rewritten(item, rename) for item in value)
            updates[name] = tuple(item for item in items if not _is_void(item))
    return model.model_copy(update=updates) if updates else model


@cache
def _pointing(kind: type[Declared]) -> tuple[str, ...]:
    """The fields of a model that name other things, or hold models that may."""
    return tuple(n for n in kind.model_fields if n in kind.refers_to or n in part_fields(kind))


def _is_void(model: Declared) -> bool:
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


def in_order(declarations: Iterable[Declaration]) -> list[Declaration]:
    """Declarations of subsystems by their position, then by id."""
    found = [(d.subsystem.position, d.subsystem.id, d) for d in declarations if d.subsystem]
    return [d for _, _, d in sorted(found, key=lambda item: item[:2])]


def clash(declaration: Declaration, others: Iterable[Declaration]) -> str:
    """What a declaration says that cannot stand beside the others, or an empty text.

    Kinds of unit, features, facts and tools belong to the whole object, so two plugins may
    declare the same one, but only alike: unit of measure, options, and what is usual and possible.
    """
    earlier = list(others)
    features = {f.id: f for d in (declaration, *earlier) for f in d.feature}
    found = (
        *(fault for other in earlier for fault in _redeclared(declaration, other)),
        *(fault for other in earlier for fault in _names_of_others(declaration, other)),
        *(fault for other in earlier for fault in _tags_of_others(declaration, other)),
        *_impossible_tellings(declaration, features),
    )
    return "\n".join(found)


def _redeclared(declaration: Declaration, other: Declaration) -> Iterator[str]:
    for kind in SHARED:
        known = {thing.id: thing for thing in getattr(other, kind)}
        for thing in getattr(declaration, kind):
            if thing.id in known and _meaning(thing) != _meaning(known[thing.id]):
                differs = [
                    f"{name} {value!r} there, {_meaning(thing)[name]!r} here"
                    for name, value in _meaning(known[thing.id]).items()
                    if value != _meaning(thing)[name]
                ]
                yield (
                    f"{kind} {thing.id!r} is declared by {_owner(other)} already, with another "
                    f"meaning: {'; '.join(differs)}; use another id, or leave it out and "
                    "refer to theirs"
                )


def _names_of_others(declaration: Declaration, other: Declaration) -> Iterator[str]:
    """Former names that are names of something else of another plugin."""
    for kind in ("feature", "fact"):
        known = {name: t.id for t in getattr(other, kind) for name in (t.id, *t.formerly)}
        for thing in getattr(declaration, kind):
            for name in thing.formerly:
                if known.get(name, thing.id) != thing.id:
                    yield (
                        f"{kind} {thing.id!r} cannot be called {name!r} formerly: that is "
                        f"{known[name]!r} of {_owner(other)}"
                    )


def _tags_of_others(declaration: Declaration, other: Declaration) -> Iterator[str]:
    """Tags that a feature of another plugin gives already."""
    known = {tag: feature.id for feature in other.feature for tag in feature.tags}
    for feature in declaration.feature:
        for tag in feature.tags:
            if known.get(tag, feature.id) != feature.id:
                yield (
                    f"feature {feature.id!r}: {tag!r} is given by the feature {known[tag]!r} of "
                    f"{_owner(other)} already; use another id"
                )


def _impossible_tellings(
    declaration: Declaration, features: Mapping[str, Feature]
) -> Iterator[str]:
    """Outcomes that tell of a feature what it cannot be."""
    for criterion in declaration.criterion:
        for outcome in criterion.outcomes:
            for name, value in outcome.tells.items():
                if name in features and value not in features[name].ways:
                    yield (
                        f'{criterion.id}: "{outcome.label}" tells that {name} is {value!r}, '
                        f"which it cannot be"
                    )


def _owner(declaration: Declaration) -> str:
    return declaration.subsystem.id if declaration.subsystem else "another plugin"


def _meaning(thing: Feature | Fact | UnitKind | Tool) -> dict[str, Any]:
    if isinstance(thing, Tool):
        return {"in_bag": thing.in_bag}
    if isinstance(thing, UnitKind):
        return {"first": thing.first, "stacked": thing.stacked}
    fields = ("unit", "possible", "usual") if isinstance(thing, Fact) else ("options", "usual")
    values = {name: getattr(thing, name) for name in fields}
    return values | ({"options": sorted(thing.options)} if isinstance(thing, Feature) else {})


def merged(
    declarations: Iterable[Declaration],
    faults: Iterable[PluginFault] = (),
    hooks: Mapping[str, Any] | None = None,
    providers: Mapping[str, Provider] | None = None,
) -> Knowledge:
    """Join qualified declarations into one body of knowledge.

    References that lead nowhere are dropped and listed in ``Knowledge.dropped``. Of a feature
    or fact that several declare that of the first declaration is taken, whatever position its
    subsystem has in tables; see :func:`clash`.
    """
    every = list(declarations)
    digest = digest_of(every)
    ordered = in_order(every)
    tables: dict[str, dict[str, Any]] = {
        kind: _first_of_each(kind, every if kind in SHARED else ordered) for kind in KINDS
    }
    known = _known_ids({kind: set(table) for kind, table in tables.items()})
    subsystems = {d.subsystem.id: d.subsystem for d in ordered if d.subsystem}
    dropped: list[DroppedReference] = []
    for table in tables.values():
        for identifier, thing in table.items():
            missing: dict[str, DroppedReference] = {
                reference: _dropped(identifier, where, reference, known[kind], subsystems)
                for where, kind, reference in references(thing)
                if reference not in known[kind]
            }
            if missing:
                dropped += missing.values()
                table[identifier] = rewritten(thing, _without(missing))
    return Knowledge(
        subsystems=subsystems,
        components=tables["component"],
        places=tables["place"],
        criteria=tables["criterion"],
        repairs=tables["repair"],
        hold_points=tables["hold_point"],
        cautions=tables["caution"],
        materials=tables["material"],
        seasons=tables["season"],
        stages=tables["stage"],
        tools=tables["tool"],
        units=tables["unit"],
        features=tables["feature"],
        facts=tables["fact"],
        surveys=tables["survey"],
        symptoms=tables["symptom"],
        requirements=tables["requirement"],
        sources=tables["source"],
        trade=next((d.trade for d in every if d.trade), NEUTRAL),
        hooks={s: hooks[s] for s in subsystems if hooks and s in hooks},
        providers=dict(providers or {}),
        faults=tuple(faults),
        dropped=tuple(dropped),
        digest=digest,
    )


def _first_of_each(kind: str, declarations: Iterable[Declaration]) -> dict[str, Any]:
    things: dict[str, Any] = {}
    for declaration in declarations:
        for thing in getattr(declaration, kind):
            things.setdefault(thing.id, thing)
    return things


def _known_ids(ids: dict[str, set[str]]) -> dict[str, set[str]]:
    steps = {*ids["repair"], *ids["hold_point"]}
    for place in ids["place"]:
        steps |= {Step.opening(place), Step.closing(place)}
    return {**ids, "step": steps}


def _dropped(
    owner: str,
    where: str,
    reference: str,
    known: Iterable[str],
    subsystems: Mapping[str, SubsystemInfo],
) -> DroppedReference:
    declarer = subsystem_of(reference)
    if declarer not in subsystems:
        reason = f"subsystem {declarer} is not installed"
        return DroppedReference(owner, where, reference, reason, installed=False)
    near = [k for k in known if subsystem_of(k) == declarer]
    reason = f"{declarer} declares no such id; {did_you_mean(reference, near)}"
    return DroppedReference(owner, where, reference, reason, installed=True)


def _without(missing: Iterable[str]) -> Callable[[str, str], str | None]:
    gone = frozenset(missing)
    return lambda reference, _: None if reference in gone else reference


def broken_references(declaration: Declaration) -> list[str]:
    """References of a qualified declaration to things of its own that it does not declare."""
    if declaration.subsystem is None:
        return []
    own = declaration.subsystem.id
    known = _known_ids({kind: {t.id for t in getattr(declaration, kind)} for kind in KINDS})
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
