"""The knowledge of all plugins together, by full id, and what is kept that follows from it."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, field
from functools import cached_property, wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from assess.knowledge.criteria import Criterion
from assess.knowledge.declaration import (
    Component,
    Fact,
    Feature,
    Source,
    Stage,
    SubsystemInfo,
    Tool,
    UnitKind,
)
from assess.knowledge.further_unit import FurtherUnit
from assess.knowledge.plugin_faults import PluginFault, Provider
from assess.knowledge.references import DroppedReference
from assess.knowledge.steps import Step, StepKind
from assess.knowledge.surveys import Survey
from assess.knowledge.symptoms import Requirement, Symptom
from assess.knowledge.trade import NEUTRAL, Trade
from assess.knowledge.work import Caution, HoldPoint, Material, Place, Repair, Season, Work

P = ParamSpec("P")
R = TypeVar("R")

KEPT = 8
"""How many results of one function are kept for the same knowledge."""


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
        return self._place_of.get(Step(step))

    @cached_property
    def _place_of(self) -> dict[Step, Place]:
        ways = (Step.opening, Step.closing)
        return {way(name): place for name, place in self.places.items() for way in ways}

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """Every step there is: repairs, hold points, and each place opened and closed."""
        return (*map(Step, (*self.repairs, *self.hold_points)), *self._place_of)

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
