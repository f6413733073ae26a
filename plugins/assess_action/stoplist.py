"""The stop list: one line per knob, with what it is called and whether it works."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assess_action.keysurvey import key_number

SIDES = ("bass", "treble", "both")
WORKS = ("yes", "no", "partly", "dummy")


@dataclass(frozen=True)
class StopRow:
    """One stop, or one half of a divided one; empty for what was not written down.

    Attributes:
        name: what stands on it.
        side: "bass", "treble" or "both".
        divide: the lowest note of the treble half, like C4.
        works: "yes", "no", "partly", or "dummy" for one that was built to do nothing.

    Raises:
        ValueError: another side or state, or a divide that is not a note.
    """

    name: str
    side: str = ""
    divide: str = ""
    works: str = ""

    def __post_init__(self) -> None:
        """Refuse words that the list does not know."""
        for what, word, known in (("side", self.side, SIDES), ("works", self.works, WORKS)):
            if word and word.strip().casefold() not in known:
                raise ValueError(f"{what} is {word!r}; expected {', '.join(known)}, or nothing")
        if self.divide:
            key_number(self.divide)

    @property
    def state(self) -> str:
        """The word of ``works``, in small letters."""
        return self.works.strip().casefold()

    @property
    def title(self) -> str:
        """Its name, with its side where that is half the keyboard."""
        side = self.side.strip().casefold()
        return f"{self.name} ({side})" if side in ("bass", "treble") else self.name


def failing(rows: Sequence[StopRow]) -> tuple[str, ...]:
    """Titles of the stops that do not work, or only partly, in the order of the list.

    >>> failing([StopRow("Diapason", works="no"), StopRow("Forte", works="yes")])
    ('Diapason',)
    """
    return tuple(row.title for row in rows if row.state in ("no", "partly"))


def untried(rows: Sequence[StopRow]) -> tuple[str, ...]:
    """Titles of the stops of which the list does not say whether they work.

    >>> untried([StopRow("Diapason", "bass"), StopRow("Forte", works="yes")])
    ('Diapason (bass)',)
    """
    return tuple(row.title for row in rows if not row.state)
