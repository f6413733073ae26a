"""Finding, loading, checking and isolating plugins.

Four steps, each a function of the one before: find entry points, load them one by one,
ask each for its declaration, and join what is sound. A plugin that cannot be imported,
raises, declares something impossible or makes the order of work run in a circle is left
out and named in ``Knowledge.faults``; the others go on.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import EntryPoint, entry_points
from typing import Any

import pluggy

from assess.base.errors import AssessError, CycleError, DeclarationError
from assess.knowledge.declaration import Declaration
from assess.knowledge.knowledge_base import (
    Knowledge,
    PluginFault,
    broken_references,
    merged,
    qualified,
)
from assess.knowledge.precedence_graph import reasons_of_order
from assess.knowledge.toml_loader import declaration_from
from assess.plugin import hookspecs

GROUP = "assess"


@dataclass(frozen=True)
class FoundPlugin:
    """A plugin that an installed distribution names: not yet imported."""

    name: str
    distribution: str
    version: str
    entry: EntryPoint


@dataclass(frozen=True)
class SoundDeclaration:
    """A declaration that is sound in itself, and who made it."""

    plugin: FoundPlugin
    declaration: Declaration
    hooks: Any


def find_plugins(entries: Iterable[EntryPoint] | None = None) -> list[FoundPlugin]:
    """The plugins that installed distributions name, sorted by name; none is imported."""
    found = entry_points(group=GROUP) if entries is None else entries
    plugins = {}
    for entry in found:
        dist = entry.dist
        plugin = FoundPlugin(
            entry.name, dist.name if dist else "unknown", dist.version if dist else "", entry
        )
        plugins[entry.name, plugin.distribution, entry.value] = plugin
    return [plugins[key] for key in sorted(plugins)]


def gather(plugins: Iterable[FoundPlugin]) -> Knowledge:
    """Ask every plugin what it knows, and join what is sound.

    Args:
        plugins: as :func:`find_plugins` gives them.

    Returns:
        The joint knowledge; plugins left out are named in its ``faults``.
    """
    sound: list[SoundDeclaration] = []
    faults: list[PluginFault] = []
    for plugin in plugins:
        try:
            sound.append(_declared_by(plugin))
        except _HookError as failure:
            faults.append(_fault(plugin, failure.hook, failure.cause, failure.subsystem))
    sound, contested = _without_contested(sound)
    faults += contested
    knowledge = _joined(sound, faults)
    if _circle(knowledge) is None:
        return knowledge
    sound, circular = _without_circles(sound)
    return _joined(sound, faults + circular)


def _joined(sound: list[SoundDeclaration], faults: list[PluginFault]) -> Knowledge:
    hooks = {s.declaration.subsystem.id: s.hooks for s in sound}
    return merged((s.declaration for s in sound), faults, hooks)


class _HookError(Exception):
    def __init__(self, hook: str, cause: str, subsystem: str | None = None) -> None:
        super().__init__(cause)
        self.hook, self.cause, self.subsystem = hook, cause, subsystem


def _declared_by(plugin: FoundPlugin) -> SoundDeclaration:
    """Import one plugin, register it alone, call its hook, and check the answer."""
    try:
        module = plugin.entry.load()
    except BaseException as error:
        if isinstance(error, KeyboardInterrupt):
            raise
        raise _HookError("import", _said(error)) from error
    manager = pluggy.PluginManager(hookspecs.PROJECT)
    manager.add_hookspecs(hookspecs)
    try:
        manager.register(module, name=plugin.name)
        manager.check_pending()
    except pluggy.PluginValidationError as error:
        raise _HookError("register", " ".join(str(error).split())) from error
    if not manager.hook.subsystem.get_hookimpls():
        raise _HookError("subsystem", "the hook is not implemented")
    try:
        answers = manager.hook.subsystem()
    except AssessError as error:
        raise _HookError("subsystem", str(error)) from error
    except Exception as error:
        raise _HookError("subsystem", _said(error)) from error
    if not answers:
        raise _HookError("subsystem", "the hook returned nothing")
    return SoundDeclaration(plugin, _checked(answers[0], plugin), manager.hook)


def _checked(answer: Any, plugin: FoundPlugin) -> Declaration:
    if isinstance(answer, Mapping):
        try:
            answer = declaration_from(answer, {}, plugin.name)
        except DeclarationError as error:
            raise _HookError("subsystem", str(error)) from error
    if not isinstance(answer, Declaration):
        kind = type(answer).__name__
        raise _HookError("subsystem", f"expected a Declaration or a mapping, got {kind}")
    declaration = qualified(answer)
    broken = broken_references(declaration)
    if broken:
        raise _HookError("subsystem", "\n".join(broken), answer.subsystem.id)
    return declaration


def _said(error: BaseException) -> str:
    return f"{type(error).__name__}: {error}"


def _fault(plugin: FoundPlugin, hook: str, cause: str, subsystem: str | None = None) -> PluginFault:
    return PluginFault(plugin.name, plugin.distribution, plugin.version, hook, cause, subsystem)


def _without_contested(
    sound: list[SoundDeclaration],
) -> tuple[list[SoundDeclaration], list[PluginFault]]:
    """Leave out all claimants of a subsystem id that more than one plugin claims."""
    claims: dict[str, list[SoundDeclaration]] = {}
    for item in sound:
        claims.setdefault(item.declaration.subsystem.id, []).append(item)
    faults = []
    for subsystem, claimants in sorted(claims.items()):
        if len(claimants) > 1:
            names = " and ".join(
                f"{c.plugin.name} ({c.plugin.distribution} {c.plugin.version})" for c in claimants
            )
            cause = f"the subsystem id {subsystem!r} is claimed by {names}"
            faults += [_fault(c.plugin, "subsystem", cause, subsystem) for c in claimants]
    kept = [s for s in sound if len(claims[s.declaration.subsystem.id]) == 1]
    return kept, faults


def _without_circles(
    sound: list[SoundDeclaration],
) -> tuple[list[SoundDeclaration], list[PluginFault]]:
    """Leave out each declaration that, joined to those before it, closes a circle."""
    kept: list[SoundDeclaration] = []
    faults = []
    ordered = sorted(
        sound, key=lambda s: (s.declaration.subsystem.position, s.declaration.subsystem.id)
    )
    for item in ordered:
        circle = _circle(merged(s.declaration for s in [*kept, item]))
        if circle is None:
            kept.append(item)
        else:
            faults.append(_fault(item.plugin, "subsystem", circle, item.declaration.subsystem.id))
    return kept, faults


def _circle(knowledge: Knowledge) -> str | None:
    try:
        reasons_of_order(knowledge)
    except CycleError as error:
        return str(error)
    return None


@lru_cache(maxsize=1)
def knowledge_in_use() -> Knowledge:
    """The knowledge of all installed plugins, gathered once in a process."""
    return gather(find_plugins())
