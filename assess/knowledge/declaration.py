"""Models of what a plugin declares.

A plugin's knowledge is data: TOML files beside its code, read by
:func:`assess.read_declaration` into one :class:`Declaration`. Every model is
frozen and refuses keys it does not know, so a typing mistake in a declaration is named instead
of ignored. The forms of ids and references are in :mod:`assess.knowledge.model_base`, what is
judged in :mod:`assess.knowledge.criteria`, the columns of its CSV files in
:mod:`assess.knowledge.surveys`.
"""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from assess.base.guards import LEAST
from assess.knowledge.criteria import Criterion
from assess.knowledge.model_base import (
    MOST_DECLARED,
    Declared,
    LocalId,
    Range,
    Ref,
    Round,
    Text,
    check_unit,
    part_fields,
)
from assess.knowledge.surveys import Survey
from assess.knowledge.symptoms import Requirement, Symptom
from assess.knowledge.trade import Trade
from assess.knowledge.work import Caution, HoldPoint, Material, Place, Repair, Season

AT_WORKSHOP = "at_workshop"
WHEREABOUTS = MappingProxyType(
    {"the owner's": "at_owner", "the workshop": AT_WORKSHOP, "elsewhere": "at_other_place"}
)
"""Where a job file says that the object is now, and the tag for ``needs`` and ``excludes``."""

RESERVED_IDS = frozenset({"instrument", "verdict"})
"""Ids that name the whole object and the verdict in ``why`` and in JSON."""

PUBLISHED_STATUSES = ("common practice", "estimate from memory", "derived")


class Source(Declared):
    """Where a number or a fact comes from: title and address of something published."""

    id: Annotated[str, Field(pattern=r"^[A-Za-z0-9_]+$")]
    title: Text
    url: str = ""
    status: Literal["published", "from memory"] = "published"


class UnitKind(Declared):
    """A kind of part of which one object may have several.

    Its rows are declared once, for the first unit. Rows with ``each`` name the kind; for every
    further unit that a job has, they are there once more (:mod:`assess.knowledge.unit_rows`).

    Attributes:
        first: what the first unit is called where there are several.
        stacked: a tag that the object has where units stand on each other.
        apart_inside: the place that must be open to reach a unit that stands apart.
    """

    refers_to: ClassVar[dict[str, str]] = {"apart_inside": "place"}
    id: LocalId
    title: Text
    first: Text
    stacked: LocalId | None = None
    apart_inside: Ref | None = None
    source: str = ""


class Feature(Declared):
    """Something the object has or lacks, or one of several ways it can be built.

    Without ``options`` the feature is a yes or no and its own id is the tag that
    ``needs`` and ``excludes`` name; with ``options`` the chosen option's id is.
    ``usual`` is what is assumed, and shown as assumed, when the job file does not say.
    With a ``chance`` (how often it is otherwise than usual) it is listed among what may still
    be hidden while it is not stated. ``place`` is where it is seen from, and ``minutes`` what
    looking takes. ``formerly`` are earlier ids, which job files may still use. ``each`` is the
    kind of unit that each has its own of. ``at_door`` has it asked first, since much else
    depends on it.
    """

    refers_to: ClassVar[dict[str, str]] = {"place": "place"}
    id: LocalId
    formerly: tuple[LocalId, ...] = ()
    each: LocalId | None = None
    at_door: bool = False
    asks: Text
    options: dict[LocalId, Text] = Field(default_factory=dict)
    usual: bool | str = False
    place: Ref | None = None
    minutes: Annotated[float, Field(ge=0, le=MOST_DECLARED)] = 0.0
    chance: Annotated[float, Field(ge=LEAST, lt=1)] | None = None
    source: str = ""

    @model_validator(mode="after")
    def _usual_is_possible(self) -> Self:
        if self.usual not in self.ways:
            raise ValueError(f"usual must be one of {sorted(map(str, self.ways))}")
        for tag in {self.id, *self.options} & set(WHEREABOUTS.values()):
            raise ValueError(f"{tag} says where the object is now; call this something else")
        return self

    @property
    def places(self) -> tuple[str, ...]:
        """The place that it is seen from, if something must be opened."""
        return (self.place,) if self.place else ()

    @property
    def ways(self) -> tuple[bool | str, ...]:
        """The ways it can be."""
        return tuple(self.options) if self.options else (True, False)

    @property
    def others(self) -> tuple[bool | str, ...]:
        """The ways it can be otherwise than usual."""
        return tuple(way for way in self.ways if way != self.usual)

    @property
    def tags(self) -> tuple[str, ...]:
        """The tags that an object may have of it."""
        return tuple(self.options) if self.options else (self.id,)


class Fact(Declared):
    """A number of the object: how many of something it has, or the length of a board.

    ``formerly`` are earlier ids, which job files may still use; ``each`` is the kind of unit
    that each has its own of. Where the job file does not say, it is as ``usual``, or the product
    of the facts in ``product_of``, rounded to a whole number where it is a count. ``at_door``
    has it asked first, since much else depends on it.
    """

    id: LocalId
    formerly: tuple[LocalId, ...] = ()
    each: LocalId | None = None
    at_door: bool = False
    asks: Text
    unit: str = "count"
    usual: float | None = None
    product_of: tuple[LocalId, ...] = ()
    possible: Range = (0.0, 1e9)
    plausible: Range | None = None
    source: str = ""

    @model_validator(mode="after")
    def _known_unit(self) -> Self:
        check_unit(self.unit)
        return self

    @model_validator(mode="after")
    def _one_way_to_be_assumed(self) -> Self:
        if self.product_of and self.usual is not None:
            raise ValueError("give 'usual' or 'product_of', not both")
        return self


class Tool(Declared):
    """Something that looking needs.

    Attributes:
        title: what it is called.
        in_bag: whether every bag holds it, unless the workshop profile says otherwise.
    """

    id: LocalId
    title: Text
    in_bag: bool = False


class Component(Declared):
    """A named part inside a subsystem.

    Attributes:
        part: whether it is a thing that can be kept for parts; not so for dirt, or a room.
        each: the kind of unit that each has one of; its criteria and repairs follow.
        during: when in a visit its questions are asked, where nothing need be opened.
    """

    id: LocalId
    title: Text
    part: bool = True
    each: LocalId | None = None
    during: Round = "round"


class Stage(Declared):
    """A heading of the plan, and a bench where the hands stay for a while."""

    id: LocalId
    title: Text


class SubsystemInfo(Declared):
    """What a plugin says of itself: id, title, weight in the grade of the whole."""

    id: LocalId
    title: Text
    weight: Annotated[float, Field(ge=LEAST, le=MOST_DECLARED)]
    position: int = 100
    """Where it stands in tables: lower first, then by id."""

    @model_validator(mode="after")
    def _free_id(self) -> Self:
        if self.id in RESERVED_IDS:
            raise ValueError(f"the id {self.id!r} is reserved; use another")
        return self


class Declaration(Declared):
    """Everything one plugin knows: a subsystem, the words of the trade, or both."""

    subsystem: SubsystemInfo | None = None
    trade: Trade | None = None
    component: tuple[Component, ...] = ()
    place: tuple[Place, ...] = ()
    criterion: tuple[Criterion, ...] = ()
    repair: tuple[Repair, ...] = ()
    hold_point: tuple[HoldPoint, ...] = ()
    caution: tuple[Caution, ...] = ()
    material: tuple[Material, ...] = ()
    season: tuple[Season, ...] = ()
    stage: tuple[Stage, ...] = ()
    tool: tuple[Tool, ...] = ()
    unit: tuple[UnitKind, ...] = ()
    feature: tuple[Feature, ...] = ()
    fact: tuple[Fact, ...] = ()
    survey: tuple[Survey, ...] = ()
    symptom: tuple[Symptom, ...] = ()
    requirement: tuple[Requirement, ...] = ()
    source: tuple[Source, ...] = ()

    @model_validator(mode="after")
    def _is_about_something(self) -> Self:
        if self.subsystem is None and self.trade is None:
            raise ValueError("a plugin declares a [subsystem], a [trade], or both")
        if self.subsystem is None and any(getattr(self, kind) for kind in KINDS):
            raise ValueError("what a plugin declares belongs to a [subsystem], which is missing")
        return self

    @model_validator(mode="after")
    def _ids_once(self) -> Self:
        for kind in KINDS:
            seen: set[str] = set()
            for thing in getattr(self, kind):
                if thing.id in seen:
                    raise ValueError(f"two {kind} entries have the id {thing.id!r}")
                seen.add(thing.id)
            for thing in getattr(self, kind):
                for former in getattr(thing, "formerly", ()):
                    if former in seen:
                        raise ValueError(
                            f"{kind} {thing.id}: cannot be called {former!r} formerly: "
                            f"another {kind} is or was"
                        )
                    seen.add(former)
        steps = {r.id for r in self.repair} & {h.id for h in self.hold_point}
        if steps:
            raise ValueError(f"a repair and a hold point share the id {sorted(steps)[0]!r}")
        return self

    @model_validator(mode="after")
    def _sources_known(self) -> Self:
        known = {s.id for s in self.source} | set(PUBLISHED_STATUSES)
        for kind in KINDS:
            for thing in getattr(self, kind):
                for path, source in _sources_within(thing):
                    unknown = [s for s in source.split(", ") if s and s not in known]
                    if unknown:
                        raise ValueError(
                            f"{kind} {thing.id}: {path} names no source {unknown[0]!r}"
                        )
        return self


KINDS = (
    "component",
    "place",
    "criterion",
    "repair",
    "hold_point",
    "caution",
    "material",
    "season",
    "stage",
    "tool",
    "unit",
    "feature",
    "fact",
    "survey",
    "symptom",
    "requirement",
    "source",
)
SHARED = ("tool", "unit", "feature", "fact")
"""Kinds whose ids belong to the whole object, not to one subsystem."""


def _sources_within(model: Declared, path: str = "") -> Iterator[tuple[str, str]]:
    source = getattr(model, "source", None)
    if isinstance(source, str):
        yield f"{path}source", source
    for name in part_fields(type(model)):
        value = getattr(model, name)
        if isinstance(value, tuple):
            for index, item in enumerate(value):
                yield from _sources_within(item, f"{path}{name}[{index}].")
