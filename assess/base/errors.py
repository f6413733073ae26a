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

from collections.abc import Iterable
from difflib import get_close_matches


class AssessError(Exception):
    """Base of all expected errors; the message is meant to be read by a person."""

    exit_code = 1


class SolverError(AssessError):
    """The solver found no choice, or one that does not hold, where there is one."""


class UserError(AssessError):
    """Something the user gave cannot be used."""

    exit_code = 2


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


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A short hint with the closest known words, or all of them when they are few.

    >>> did_you_mean("craked", ["cracked", "supple"])
    'did you mean "cracked"?'
    """
    known = sorted(known)
    close = get_close_matches(word, known, n=3, cutoff=0.6)
    if close:
        return "did you mean " + " or ".join(f'"{c}"' for c in close) + "?"
    if len(known) <= 12:
        return "known: " + ", ".join(f'"{k}"' for k in known)
    return "no similar name"
