"""What one declaration says that cannot stand beside those of other plugins."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from assess.knowledge.declaration import SHARED, Declaration, Fact, Feature, Tool, UnitKind


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
    """Things of the whole object that another plugin declares with another meaning."""
    for kind in SHARED:
        known = {thing.id: _meaning(thing) for thing in getattr(other, kind)}
        for thing in getattr(declaration, kind):
            here = _meaning(thing)
            there = known.get(thing.id, here)
            differs = [
                f"{name} {value!r} there, {here[name]!r} here"
                for name, value in there.items()
                if value != here[name]
            ]
            if differs:
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
    """What two plugins must say alike of something that both declare."""
    if isinstance(thing, Tool):
        return {"in_bag": thing.in_bag}
    if isinstance(thing, UnitKind):
        return {"first": thing.first, "stacked": thing.stacked}
    fields = ("unit", "possible", "usual") if isinstance(thing, Fact) else ("options", "usual")
    values = {name: getattr(thing, name) for name in fields}
    return values | ({"options": sorted(thing.options)} if isinstance(thing, Feature) else {})
