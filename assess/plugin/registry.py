"""Finding, loading, checking and isolating plugins.

Steps, each a function of the one before: find entry points, load them one by one,
ask each for its declaration, and join what is sound. A plugin that cannot be imported,
raises, declares something impossible, clashes with another or makes the order of work run in
a circle is left out and named in ``Knowledge.faults``; the others go on. The engine's own
distribution joins first, so that a clash is always blamed on the newcomer.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.metadata import Distribution, EntryPoint, distributions, entry_points
from typing import Any

import pluggy

from assess.base.errors import CycleError, UserError, did_you_mean
from assess.knowledge.clashes import clash
from assess.knowledge.declaration import Declaration
from assess.knowledge.declaration_cache import checked_before, keep, kept_result
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.merging import merged
from assess.knowledge.plugin_faults import PluginFault, Provider
from assess.knowledge.precedence_graph import reasons_of_order
from assess.knowledge.references import broken_references, qualified
from assess.knowledge.toml_loader import declaration_from
from assess.plugin import hookspecs
from assess.plugin.isolation import HookError, isolated

GROUP = "assess"
TRADE_GROUP = "assess.trade"
"""Entry points of plugins that declare the words of the trade; never deselected by name."""
SELECTION_VARIABLE = "ASSESS_PLUGINS"
UNREADABLE = (OSError, ValueError, LookupError, ImportError)
"""What reading the files of a broken installation raises."""


class UnreadableEntry(EntryPoint):
    """Stands for the entry points of a distribution that cannot be read; loading it says why."""

    def load(self) -> Any:
        """Refuse.

        Raises:
            ImportError: always.
        """
        raise ImportError(f"its entry points cannot be read: {self.value}")


@dataclass(frozen=True)
class FoundPlugin:
    """A plugin that an installed distribution names: not yet imported."""

    name: str
    distribution: str
    version: str
    entry: EntryPoint

    @property
    def provider(self) -> Provider:
        """Who it is, for messages."""
        return Provider(self.name, self.distribution, self.version)

    @property
    def is_trade(self) -> bool:
        """Whether it declares the words of the trade."""
        return self.entry.group == TRADE_GROUP


@dataclass(frozen=True)
class SoundDeclaration:
    """A declaration that is sound in itself, and who made it."""

    provider: Provider
    declaration: Declaration
    hooks: Any

    @property
    def is_own(self) -> bool:
        """Whether it comes with the engine."""
        return self.provider.is_own

    @property
    def subsystem(self) -> str | None:
        """The subsystem that it declares, if it declares one."""
        return self.declaration.subsystem.id if self.declaration.subsystem else None

    @property
    def joins(self) -> tuple[bool, int, str]:
        """A key that sorts what joins first to the front."""
        info = self.declaration.subsystem
        return (not self.is_own, info.position if info else 0, self.subsystem or "")


def find_plugins(entries: Iterable[EntryPoint] | None = None) -> list[FoundPlugin]:
    """The plugins that installed distributions name, sorted by name; none is imported."""
    found = (
        [_found(entry, entry.dist) for entry in entries] if entries is not None else _installed()
    )
    plugins = {(plugin.name, plugin.distribution, plugin.entry.value): plugin for plugin in found}
    return [plugins[key] for key in sorted(plugins)]


def _installed() -> list[FoundPlugin]:
    try:
        every = entry_points()
        found = (*every.select(group=GROUP), *every.select(group=TRADE_GROUP))
    except UNREADABLE:
        return [plugin for dist in distributions() for plugin in _named_by(dist)]
    # Reading the metadata of a distribution takes longer than importing a plugin.
    called = {dist: _name_and_version(dist) for dist in {entry.dist for entry in found}}
    return [FoundPlugin(entry.name, *called[entry.dist], entry) for entry in found]


def _named_by(dist: Distribution) -> Iterator[FoundPlugin]:
    """The plugins of one distribution; one that cannot say so stands for itself."""
    try:
        for entry in dist.entry_points:
            if entry.group in (GROUP, TRADE_GROUP):
                yield _found(entry, dist)
    except UNREADABLE as error:
        unread = _found(UnreadableEntry("", f"{error}, in {dist.locate_file('')}", GROUP), dist)
        yield replace(unread, name=unread.distribution)


def _found(entry: EntryPoint, dist: Distribution | None) -> FoundPlugin:
    return FoundPlugin(entry.name, *_name_and_version(dist), entry)


def _name_and_version(dist: Distribution | None) -> tuple[str, str]:
    try:
        metadata: Any = dist.metadata if dist else {}
        return metadata["Name"] or "unknown", metadata["Version"] or ""
    except (*UNREADABLE, KeyError):
        return "unknown", ""


def selected(
    plugins: Sequence[FoundPlugin], only: Iterable[str] = (), without: Iterable[str] = ()
) -> list[FoundPlugin]:
    """The plugins that are to be used.

    Args:
        plugins: as :func:`find_plugins` gives them.
        only: names of those to use; all when empty. The words of the trade are used in any
            case, unless another trade is named.
        without: names of those to leave out.

    Raises:
        UserError: a name that no installed plugin has.
    """
    known = sorted({plugin.name for plugin in plugins})
    only, without = tuple(only), tuple(without)
    for name in (*only, *without):
        if name not in known:
            raise UserError(f"no installed plugin is called {name!r}; {did_you_mean(name, known)}")
    another_trade = any(p.name in only for p in plugins if p.is_trade)
    return [
        plugin
        for plugin in plugins
        if plugin.name not in without
        and (not only or plugin.name in only or (plugin.is_trade and not another_trade))
    ]


def gather(plugins: Iterable[FoundPlugin], also: Iterable[SoundDeclaration] = ()) -> Knowledge:
    """Ask every plugin what it knows, and join what is sound.

    Args:
        plugins: as :func:`find_plugins` gives them.
        also: declarations that join besides.

    Returns:
        The joint knowledge; plugins left out are named in its ``faults``.
    """
    sound = list(also)
    faults: list[PluginFault] = []
    for plugin in plugins:
        try:
            sound.append(_loaded(plugin))
        except HookError as failure:
            faults.append(failure.fault(plugin.provider))
    return joined(sound, faults)


def joined(sound: Iterable[SoundDeclaration], faults: Iterable[PluginFault] = ()) -> Knowledge:
    """Join sound declarations; what clashes or closes a circle is left out and named."""
    found = list(faults)
    kept = sorted(sound, key=lambda s: s.joins)
    for without in (_without_contested, _without_clashes, _without_second_trade):
        kept, more = without(kept)
        found += more
    knowledge = _merged(kept, found)
    if _circle(knowledge) is None:
        return knowledge
    kept, circular = _without_circles(kept)
    return _merged(kept, found + circular)


def _merged(sound: Sequence[SoundDeclaration], faults: Sequence[PluginFault]) -> Knowledge:
    by_subsystem = {s.subsystem: s for s in sound if s.subsystem is not None}
    return merged(
        (s.declaration for s in sound),
        faults,
        {name: s.hooks for name, s in by_subsystem.items()},
        {name: s.provider for name, s in by_subsystem.items()},
    )


def _loaded(plugin: FoundPlugin) -> SoundDeclaration:
    """Import one plugin, register it alone, call its hook, and check the answer."""
    try:
        module = isolated("import", plugin.entry.load, plugin.provider)
    except UserError as error:
        raise HookError("import", str(error)) from error
    return declared_by(module, plugin.provider)


def declared_by(module: Any, provider: Provider) -> SoundDeclaration:
    """Register a plugin's module or object alone, ask what it knows, and check the answer.

    Raises:
        HookError: it has no usable hook, raises, or declares something impossible.
    """
    hooks = isolated("register", lambda: registered(module, provider), provider)
    if not hooks.subsystem.get_hookimpls():
        raise HookError("subsystem", "the hook is not implemented; mark it with @hookimpl")

    def declare() -> Declaration:
        answers = hooks.subsystem()
        if not answers:
            raise HookError("subsystem", "the hook returned nothing; return a Declaration")
        return _checked(answers[0], provider)

    try:
        return SoundDeclaration(provider, isolated("subsystem", declare, provider), hooks)
    except UserError as error:
        raise HookError("subsystem", str(error)) from error


def registered(module: Any, provider: Provider) -> Any:
    """The hooks of one plugin, registered alone.

    Raises:
        HookError: it implements hooks that do not exist, or with the wrong arguments.
    """
    manager = pluggy.PluginManager(hookspecs.PROJECT)
    manager.add_hookspecs(hookspecs)
    try:
        manager.register(module, name=provider.plugin)
        manager.check_pending()
    except pluggy.PluginValidationError as error:
        raise HookError("register", _why_unregistered(error)) from error
    return manager.hook


def _why_unregistered(error: pluggy.PluginValidationError) -> str:
    said = " ".join(str(error).split())
    words = said.replace("'", " ").split()
    unknown = words[words.index("hook") + 1] if "unknown hook" in said else ""
    if not unknown:
        return said
    names = [name for name, f in vars(hookspecs).items() if hasattr(f, "assess_spec")]
    return f"there is no hook {unknown!r}; {did_you_mean(unknown, names)}"


def _checked(answer: Any, provider: Provider) -> Declaration:
    if not isinstance(answer, Declaration | Mapping):
        kind = type(answer).__name__
        raise HookError("subsystem", f"expected a Declaration or a mapping, got {kind}")
    if isinstance(answer, Declaration) and (known := checked_before(answer)):
        return known
    given = answer
    if isinstance(answer, Mapping) or not provider.is_own:
        # One that was copied with changes, or built without checks, is checked here.
        answer = declaration_from(answer, {}, provider.plugin)
    declaration = qualified(answer)
    broken = broken_references(declaration)
    if broken:
        own = answer.subsystem.id if answer.subsystem else None
        raise HookError("subsystem", "\n".join(broken), own)
    if isinstance(given, Declaration):
        keep(given, declaration)
    return declaration


def _without_contested(
    sound: list[SoundDeclaration],
) -> tuple[list[SoundDeclaration], list[PluginFault]]:
    """Leave out all who claim a subsystem id that is taken, but the engine's own."""
    claims: dict[str, list[SoundDeclaration]] = {}
    for item in sound:
        if item.subsystem is not None:
            claims.setdefault(item.subsystem, []).append(item)
    out: list[SoundDeclaration] = []
    faults = []
    for subsystem, claimants in sorted(claims.items()):
        if len(claimants) > 1:
            names = " and ".join(str(c.provider) for c in claimants)
            cause = f"the subsystem id {subsystem!r} is claimed by {names}; choose another id"
            losers = [c for c in claimants if not c.is_own]
            faults += [PluginFault(c.provider, "subsystem", cause, subsystem) for c in losers]
            out += losers
    return [s for s in sound if s not in out], faults


def _without_clashes(
    sound: list[SoundDeclaration],
) -> tuple[list[SoundDeclaration], list[PluginFault]]:
    """Leave out each that redeclares a feature or fact with another meaning."""
    return _one_by_one(
        sound, lambda kept, item: clash(item.declaration, (k.declaration for k in kept))
    )


def _without_second_trade(
    sound: list[SoundDeclaration],
) -> tuple[list[SoundDeclaration], list[PluginFault]]:
    """Leave out each that declares a trade after another has."""

    def second(kept: Sequence[SoundDeclaration], item: SoundDeclaration) -> str:
        first = next((k for k in kept if k.declaration.trade), None)
        if first is None or item.declaration.trade is None:
            return ""
        return f"[trade] is declared by {first.provider} already; only one plugin may declare it"

    return _one_by_one(sound, second)


def _without_circles(
    sound: list[SoundDeclaration],
) -> tuple[list[SoundDeclaration], list[PluginFault]]:
    """Leave out each declaration that, joined to those before it, closes a circle."""

    def circle(kept: Sequence[SoundDeclaration], item: SoundDeclaration) -> str:
        return _circle(merged(s.declaration for s in [*kept, item])) or ""

    return _one_by_one(sound, circle)


def _one_by_one(
    sound: Iterable[SoundDeclaration],
    objection: Callable[[Sequence[SoundDeclaration], SoundDeclaration], str],
) -> tuple[list[SoundDeclaration], list[PluginFault]]:
    """Take up each declaration to which there is no objection beside those taken before."""
    kept: list[SoundDeclaration] = []
    faults = []
    for item in sound:
        cause = objection(kept, item)
        if cause:
            faults.append(PluginFault(item.provider, "subsystem", cause, item.subsystem))
        else:
            kept.append(item)
    return kept, faults


def _circle(knowledge: Knowledge) -> str | None:
    return kept_result("circle", knowledge.digest, lambda: _circle_in(knowledge))


def _circle_in(knowledge: Knowledge) -> str | None:
    try:
        reasons_of_order(knowledge)
    except CycleError as error:
        return str(error)
    return None


def _chosen_by_variable() -> Iterator[str]:
    for name in os.environ.get(SELECTION_VARIABLE, "").split(","):
        if name.strip():
            yield name.strip()


def knowledge_in_use(without: Iterable[str] = ()) -> Knowledge:
    """The knowledge of the installed plugins, gathered once in a process.

    The variable ``ASSESS_PLUGINS`` names the plugins to use, separated by commas.

    Args:
        without: names of plugins to leave out.

    Raises:
        UserError: a name that no installed plugin has.
    """
    return _gathered(tuple(_chosen_by_variable()), tuple(sorted(set(without))))


@lru_cache(maxsize=4)
def _gathered(only: tuple[str, ...], without: tuple[str, ...]) -> Knowledge:
    return gather(selected(find_plugins(), only, without))
