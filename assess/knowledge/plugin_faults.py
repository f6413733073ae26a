"""Who declares what, and plugins that could not be used."""

from __future__ import annotations

from dataclasses import dataclass

OWN_DISTRIBUTION = "reed-organ-assess"
MOST_CAUSES = 20
"""How many causes of one fault are told."""
LONGEST_CAUSE = 500
"""How many characters of each cause are told."""


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
