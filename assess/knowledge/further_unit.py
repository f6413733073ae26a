"""One more unit of a part of which an object has several."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FurtherUnit:
    """One more unit of a kind, besides the first.

    Attributes:
        id: what the ids of its rows end with.
        kind: id of the declared kind.
        title: what it is called.
        on: whether it stands on the unit before it; else it stands apart.
    """

    id: str
    kind: str
    title: str
    on: bool = True

    def is_called(self, name: str) -> bool:
        """Whether a name, as it stands in a survey, means this unit."""
        return name.strip().casefold() in (self.id, self.title.casefold())

    def own(self, identifier: str) -> str:
        """The id of this unit's own row.

        >>> FurtherUnit("rear", "axle", "rear axle").own("open wheels.hub")
        'open wheels.hub-rear'
        """
        return f"{identifier}-{self.id}"

    def is_own(self, identifier: str) -> bool:
        """Whether a row is this unit's own."""
        return identifier.endswith(f"-{self.id}")

    def base(self, identifier: str) -> str:
        """The id of the declared row that one of this unit's own repeats."""
        return identifier.removesuffix(f"-{self.id}")


def declared_row(identifier: str) -> str:
    """The id of the declared row that one of any further unit repeats; of others, their own.

    >>> declared_row("wheels.hub-rear"), declared_row("wheels.hub")
    ('wheels.hub', 'wheels.hub')
    """
    return identifier.partition("-")[0]
