"""Every error that somebody can correct, and what the command exits with.

    AssessError
    ├── SolverError          no best choice was found: exit 1
    ├── UserError            the user's mistake: exit 2
    │   ├── JobFileError     something in a job file
    │   └── WorkshopError    something in a workshop profile
    └── KnowledgeError       a plugin's fault: exit 3
        ├── DeclarationError what it declares is impossible
        ├── CycleError       its order of work runs in a circle
        └── NothingInstalledError no plugin is left that could assess anything

Anything else that escapes is a fault of the engine.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from difflib import get_close_matches
from itertools import count

MOST_LISTED = 5
"""How many mistakes are named at once."""
LONGEST_LINE = 600
"""Letters of the longest line of a message."""
LONGEST_WORD = 80
"""Letters of the longest word that similar ones are looked up for."""
_MORE = re.compile(r"and [\d,]+ more")


class AssessError(Exception):
    """Base of all expected errors; the message is meant to be read by a person."""

    exit_code = 1


class SolverError(AssessError):
    """The solver found no choice, or one that does not hold, where there is one."""


class UserError(AssessError):
    """Something the user gave cannot be used.

    Of many mistakes the first are named and the rest counted, and long values are cut: nobody
    reads ten thousand lines, and the first mistake often causes the others.
    """

    exit_code = 2

    def __init__(self, message: str) -> None:
        super().__init__(shortened(message))


class JobFileError(UserError):
    """A job file cannot be read, or says something impossible."""


class WorkshopError(UserError):
    """A workshop profile cannot be read, or says something impossible."""


class KnowledgeError(AssessError):
    """A plugin's fault."""

    exit_code = 3


class DeclarationError(KnowledgeError):
    """A plugin declares something impossible."""


class CycleError(KnowledgeError):
    """The declared order of work runs in a circle; the message names every edge."""


class NothingInstalledError(KnowledgeError):
    """No subsystem can be assessed: no plugin is installed, or none could be used."""


class PluginInterrupted(KeyboardInterrupt):
    """The user interrupted the program while a plugin ran; the message names it."""


def shortened(message: str) -> str:
    """A message with a line for each of the first mistakes, and how many more there are.

    >>> shortened(chr(10).join("abcdefghi")).splitlines()[-2:]
    ['e', 'and 4 more']
    """
    lines = message.splitlines()
    is_short_already = bool(lines) and _MORE.fullmatch(lines[-1])
    if len(lines) > MOST_LISTED and not is_short_already:
        lines = [*lines[:MOST_LISTED], f"and {len(lines) - MOST_LISTED:,} more"]
    return "\n".join(map(_clipped, lines))


def _clipped(line: str) -> str:
    """A line without the middle of what is too long to read."""
    if len(line) <= LONGEST_LINE:
        return line
    return f"{line[: LONGEST_LINE // 2]} [...] {line[10 - LONGEST_LINE // 2 :]}"


def hints() -> Callable[[str, Iterable[str]], str]:
    """:func:`did_you_mean` for a list of mistakes, of which only the first are named.

    The later ones get none, since similar names take long to find.
    """
    calls = count()

    def hint(word: str, known: Iterable[str]) -> str:
        return did_you_mean(word, known) if next(calls) < MOST_LISTED else "unknown"

    return hint


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A short hint with the closest known words, or all of them when they are few.

    >>> did_you_mean("craked", ["cracked", "supple"])
    'did you mean "cracked"?'
    """
    known = sorted(known)
    word = word[:LONGEST_WORD]
    close = get_close_matches(word, known, n=3, cutoff=0.6)
    if close:
        return "did you mean " + " or ".join(f'"{c}"' for c in close) + "?"
    if len(known) <= 12:
        return "known: " + ", ".join(f'"{k}"' for k in known)
    return "no similar name"
