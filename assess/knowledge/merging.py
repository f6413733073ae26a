"""Declarations of several plugins joined into one body of knowledge."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from assess.base.errors import did_you_mean
from assess.knowledge.declaration import KINDS, SHARED, Declaration, SubsystemInfo
from assess.knowledge.declaration_cache import digest_of, kept_result
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.plugin_faults import PluginFault, Provider
from assess.knowledge.references import DroppedReference, is_void, known_ids, references, rewritten
from assess.knowledge.steps import subsystem_of
from assess.knowledge.trade import NEUTRAL


def merged(
    declarations: Iterable[Declaration],
    faults: Iterable[PluginFault] = (),
    hooks: Mapping[str, Any] | None = None,
    providers: Mapping[str, Provider] | None = None,
) -> Knowledge:
    """Join qualified declarations into one body of knowledge.

    References that lead nowhere are dropped and listed in ``Knowledge.dropped``. Of a feature
    or fact that several declare that of the first declaration is taken, whatever position its
    subsystem has in tables; :func:`assess.knowledge.clashes.clash` says what may differ.
    """
    every = list(declarations)
    digest = digest_of(every)
    ordered = _in_order(every)
    tables: dict[str, dict[str, Any]] = {
        kind: _first_of_each(kind, every if kind in SHARED else ordered) for kind in KINDS
    }
    subsystems = {d.subsystem.id: d.subsystem for d in ordered if d.subsystem}
    missing = kept_result("missing", digest, lambda: _missing(tables, subsystems))
    for (kind, identifier), found in missing.items():
        thing = rewritten(tables[kind][identifier], _without(found))
        if is_void(thing):
            del tables[kind][identifier]
        else:
            tables[kind][identifier] = thing
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
        dropped=tuple(reference for found in missing.values() for reference in found.values()),
        digest=digest,
    )


def _missing(
    tables: Mapping[str, Mapping[str, Any]], subsystems: Mapping[str, SubsystemInfo]
) -> dict[tuple[str, str], dict[str, DroppedReference]]:
    """Of each thing, by its kind and id, the references that lead nowhere.

    A thing that cannot be without one of them is left out, and what refers to it leads nowhere too.
    """
    left_out: set[tuple[str, str]] = set()
    while True:
        present = {k: {i for i in table if (k, i) not in left_out} for k, table in tables.items()}
        known = known_ids(present)
        found = {
            (kind, identifier): {
                reference: _dropped(identifier, where, reference, known[named], subsystems)
                for where, named, reference in references(thing)
                if reference not in known[named]
            }
            for kind, table in tables.items()
            for identifier, thing in table.items()
        }
        lacking = {of: those for of, those in found.items() if those}
        void = {
            (kind, identifier)
            for (kind, identifier), those in lacking.items()
            if is_void(rewritten(tables[kind][identifier], _without(those)))
        }
        if void <= left_out:
            return lacking
        left_out |= void


def _first_of_each(kind: str, declarations: Iterable[Declaration]) -> dict[str, Any]:
    things: dict[str, Any] = {}
    for declaration in declarations:
        for thing in getattr(declaration, kind):
            things.setdefault(thing.id, thing)
    return things


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


def _in_order(declarations: Iterable[Declaration]) -> list[Declaration]:
    """Declarations of subsystems by their position, then by id."""
    found = [(d.subsystem.position, d.subsystem.id, d) for d in declarations if d.subsystem]
    return [d for _, _, d in sorted(found, key=lambda item: item[:2])]
