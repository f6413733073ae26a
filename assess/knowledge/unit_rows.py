"""Rows for every further unit of a part of which an object may have several.

A plugin declares the rows of such a part once, for the first unit. For each further unit that a
job has, :func:`with_units` adds them once more, under ids that end with the unit
(``wheels.hub-rear``), with their references turned to that unit's own rows. Rows that are not
about a unit keep theirs, and wherever order, proof, causes or counts are concerned they name
the rows of all units.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import pairwise, product
from typing import Any, TypeVar

from assess.base.errors import did_you_mean
from assess.knowledge.declaration import UnitKind
from assess.knowledge.further_unit import FurtherUnit
from assess.knowledge.knowledge_base import Knowledge, kept
from assess.knowledge.model_base import Declared, part_fields
from assess.knowledge.references import rewritten
from assess.knowledge.steps import Step
from assess.knowledge.work import HoldPoint, HoursPer, Link, Place, Work

M = TypeVar("M", bound=Declared)

NAMES_ALL = frozenset(
    {
        "after", "before", "open_after", "close_after", "proves", "unless", "per", "hints",
        "causes", "tests", "shown_by", "proved_by",
    }
)  # fmt: skip
"""Fields in which a row that is not about one unit names the rows of all units."""
TABLES = {
    "components": "component",
    "places": "place",
    "criteria": "criterion",
    "repairs": "repair",
    "hold_points": "hold_point",
    "features": "feature",
    "facts": "fact",
}
"""Fields of the knowledge whose rows a further unit may have of its own, and what they hold."""
TAGS = {
    "needs": "feature",
    "excludes": "feature",
    "per_fact": "fact",
    "share_of": "fact",
    "product_of": "fact",
}
"""Fields that name features and facts."""
Rows = Mapping[tuple[str, str], str]
"""What is about units: kind of thing and id, to the kind of unit."""


def kind_of(row: Declared, knowledge: Knowledge) -> str | None:
    """The kind of unit that a row is about, by its own word or its places or component."""
    if getattr(row, "shared", False):
        return None
    own: str | None = getattr(row, "each", None)
    if own is not None:
        return own
    names = getattr(row, "places", None) or (getattr(row, "place", None),)
    rows = [knowledge.places[name] for name in names if name]
    component = getattr(row, "component", None)
    found = [r.each for r in rows] + ([knowledge.components[component].each] if component else [])
    return next((kind for kind in found if kind), None)


def unit_faults(units: tuple[FurtherUnit, ...], knowledge: Knowledge) -> list[str]:
    """What is wrong with the units of a job, one line each."""
    faults = []
    for position, unit in enumerate(units):
        if unit.kind not in knowledge.units:
            known = list(knowledge.units)
            hint = did_you_mean(unit.kind, known) if known else "no plugin in use declares one"
            faults.append(f"{unit.id}: no kind of unit is called {unit.kind!r}; {hint}")
        if unit.id in {u.id for u in units[:position]}:
            faults.append(f"{unit.id}: two units have this id")
    return faults


@kept
def with_units(knowledge: Knowledge, units: tuple[FurtherUnit, ...]) -> Knowledge:
    """The knowledge with the rows of every further unit; the same one where there is none.

    Args:
        knowledge: what plugins declare.
        units: further units, those of one kind from the lowest upwards.
    """
    if not units:
        return knowledge
    about = rows_of_units(knowledge)
    changed: dict[str, Any] = {"further_units": units, "digest": "", "memo": {}}
    for name, thing in TABLES.items():
        table: dict[str, Any] = {}
        for row in getattr(knowledge, name).values():
            kind = about.get((thing, row.id), "")
            further = [unit for unit in units if unit.kind == kind]
            if not further:
                table[row.id] = _naming_all(row, about, units)
                continue
            table[row.id] = _titled(row, knowledge.units[kind].first)
            for unit in further:
                own = _of_unit(row.id, row, about, unit)
                table[unit.own(row.id)] = _titled(own, unit.title)
        changed[name] = table
    for kind in dict.fromkeys(unit.kind for unit in units):
        _one_after_another(changed, about, [unit for unit in units if unit.kind == kind])
    for name in ("symptoms", "requirements"):
        rows = getattr(knowledge, name).items()
        changed[name] = {i: _naming_all(row, about, units) for i, row in rows}
    for kind in dict.fromkeys(unit.kind for unit in units):
        own_units = [unit for unit in units if unit.kind == kind]
        _stand(changed, about, knowledge.units[kind], own_units)
    return replace(knowledge, **changed)


def rows_of_units(knowledge: Knowledge) -> dict[tuple[str, str], str]:
    """Every row that is about a kind of unit: kind of thing and id, to the kind of unit."""
    return {
        (thing, row.id): kind
        for name, thing in TABLES.items()
        for row in getattr(knowledge, name).values()
        if (kind := kind_of(row, knowledge))
    }


def _about(reference: str, thing: str, about: Rows) -> str | None:
    """The kind of unit that a reference to a thing, or to a step, is about."""
    if thing != "step":
        return about.get((thing, reference))
    step = Step(reference)
    things = ("place",) if step.is_access else ("repair", "hold_point")
    return next((about[t, step.target] for t in things if (t, step.target) in about), None)


def _of_unit(identifier: str, row: M, about: Rows, unit: FurtherUnit) -> M:
    """A row of one unit: its references turned to the rows of the same unit."""

    def own(reference: str, thing: str) -> str:
        return unit.own(reference) if _about(reference, thing, about) == unit.kind else reference

    changed: dict[str, Any] = {"id": unit.own(identifier), "formerly": ()}
    for field, thing in TAGS.items():
        if getattr(row, field, ()):
            changed[field] = tuple(own(name, thing) for name in getattr(row, field))
    fields = type(row).model_fields
    renamed = rewritten(row, own, {k: v for k, v in changed.items() if k in fields})
    hours_per: HoursPer | None = getattr(row, "hours_per", None)
    if hours_per is None:
        return renamed
    facts = tuple(own(name, "fact") for name in hours_per.facts)
    return renamed.model_copy(update={"hours_per": hours_per.model_copy(update={"facts": facts})})


def _naming_all(row: M, about: Rows, units: tuple[FurtherUnit, ...]) -> M:
    """A row that is not about one unit, naming the rows of all units where that is meant."""
    changed: dict[str, Any] = {}
    for field in type(row).model_fields:
        value = getattr(row, field)
        if not value or not isinstance(value, tuple):
            continue
        if field in NAMES_ALL:
            thing = row.refers_to.get(field, "")
            changed[field] = tuple(e for item in value for e in _each(item, thing, about, units))
        elif field in part_fields(type(row)):
            changed[field] = tuple(_naming_all(item, about, units) for item in value)
    return row.model_copy(update=changed) if changed else row


def _each(item: Any, thing: str, about: Rows, units: tuple[FurtherUnit, ...]) -> Iterator[Any]:
    """A reference, or a part that makes one, and the same for each further unit it is about."""
    yield item
    field, thing = next(iter(item.refers_to.items()), ("", "")) if not thing else ("", thing)
    reference = getattr(item, field) if field else item
    kind = _about(reference, thing, about)
    for unit in units:
        if kind == unit.kind:
            own = unit.own(reference)
            yield item.model_copy(update={field: own}) if field else own


def _titled(row: M, unit: str) -> M:
    """A row whose words say which unit it is about."""
    fields = ("title", "asks") if not isinstance(row, Place) else ("title", "open", "close")
    changed = {f: f"{getattr(row, f)} ({unit})" for f in fields if hasattr(row, f)}
    return row.model_copy(update=changed)


def _one_after_another(tables: dict[str, Any], about: Rows, units: list[FurtherUnit]) -> None:
    """Have work that goes upwards done unit by unit, the first unit first."""
    for table, (thing, name) in product(("repairs", "hold_points"), about):
        row: Work | None = tables[table].get(name) if thing == TABLES[table] else None
        if row is None or not row.upwards or about[thing, name] != units[0].kind:
            continue
        for before, own in pairwise([name, *(unit.own(name) for unit in units)]):
            link = Link.model_construct(step=before, because="it is done unit by unit, upwards")
            further = tables[table][own]
            tables[table][own] = further.model_copy(update={"after": (*further.after, link)})


def _stand(tables: dict[str, Any], about: Rows, kind: UnitKind, units: list[FurtherUnit]) -> None:
    """Put units on each other, or apart: what must be open to reach each.

    The first unit is the lowest. Of units that stand on each other the upper one is taken off
    before the lower one is opened, so the lower one is behind it.
    """
    places: dict[str, Place] = tables["places"]
    roots = [
        place
        for place in list(places.values())
        if about.get(("place", place.id)) == kind.id
        and about.get(("place", place.inside or "")) != kind.id
    ]
    for unit in units:
        for root in () if unit.on else roots:
            own = unit.own(root.id)
            places[own] = places[own].model_copy(update={"inside": kind.apart_inside})
    on = [unit for unit in units if unit.on]
    for lower, upper in zip([None, *on], on, strict=False):
        for root in (root for root in roots if root.stacked):
            below, above = lower.own(root.id) if lower else root.id, upper.own(root.id)
            reason = f"what stands on it is taken off first: {upper.title}"
            places[below] = places[below].model_copy(update={"inside": above, "reason": reason})
            _prove_before(tables["hold_points"], lower, about, kind, Step.closing(above))
            _wait_for_below(tables["repairs"], upper, about, kind, Step.closing(below))


def _prove_before(
    holds: dict[str, HoldPoint],
    unit: FurtherUnit | None,
    about: Rows,
    kind: UnitKind,
    closing: Step,
) -> None:
    """Have every test of a unit that must pass first come before the next one is put on."""
    link = Link.model_construct(step=closing, because="the next unit closes it in")
    for (thing, name), about_kind in about.items():
        own = unit.own(name) if unit else name
        if thing == "hold_point" and about_kind == kind.id and holds[own].before_next:
            holds[own] = holds[own].model_copy(update={"before": (*holds[own].before, link)})


def _wait_for_below(
    repairs: dict[str, Work], unit: FurtherUnit, about: Rows, kind: UnitKind, closing: Step
) -> None:
    """Have what is done on the unit below come after that unit is back."""
    link = Link.model_construct(step=closing, because="it is done on the unit below")
    for (thing, name), about_kind in about.items():
        own = unit.own(name)
        if thing == "repair" and about_kind == kind.id and repairs[own].after_below:
            repairs[own] = repairs[own].model_copy(update={"after": (*repairs[own].after, link)})


def stacked_tags(units: tuple[FurtherUnit, ...], knowledge: Knowledge) -> frozenset[str]:
    """Tags of kinds of which units stand on each other."""
    tags = (knowledge.units[unit.kind].stacked for unit in units if unit.on)
    return frozenset(tag for tag in tags if tag)
