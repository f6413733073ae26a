"""Steps of work: a repair or hold point, the opening or closing of a place, or a search."""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache


class StepKind(StrEnum):
    """What a step does."""

    OPEN = "open"
    CLOSE = "close"
    FIND = "find"
    WORK = "work"


_KINDS = {kind.value: kind for kind in StepKind}


@lru_cache(maxsize=10_000)
def subsystem_of(identifier: str) -> str:
    """The subsystem of a full id or step.

    >>> subsystem_of("open wheels.hub")
    'wheels'
    """
    return identifier[identifier.rfind(" ") + 1 :].partition(".")[0]


class Step(str):
    """A step as it is written in declarations, plans and JSON.

    ``wheels.grease_hub`` is a repair or a hold point by its id; ``open wheels.hub`` and
    ``close wheels.hub`` are about the place of that id; ``find wheels.wobbles`` finds the cause of
    the symptom of that id. A step is text, so that it serves as a key and in files as it is;
    nothing but this class takes that text apart.

    >>> step = Step("open wheels.hub")
    >>> step.kind, step.target, step.subsystem
    (<StepKind.OPEN: 'open'>, 'wheels.hub', 'wheels')
    """

    __slots__ = ()

    @classmethod
    def opening(cls, place: str) -> Step:
        """The step that opens a place."""
        return cls(f"{StepKind.OPEN} {place}")

    @classmethod
    def closing(cls, place: str) -> Step:
        """The step that closes a place."""
        return cls(f"{StepKind.CLOSE} {place}")

    @classmethod
    def finding(cls, symptom: str) -> Step:
        """The step that finds the cause of a symptom."""
        return cls(f"{StepKind.FIND} {symptom}")

    @property
    def kind(self) -> StepKind:
        """What it does; text that names no step, as a person may type it, counts as work."""
        return _KINDS.get(self.rpartition(" ")[0], StepKind.WORK)

    @property
    def target(self) -> str:
        """The id of its place or symptom, or of the repair or hold point."""
        return self.rpartition(" ")[2]

    @property
    def is_access(self) -> bool:
        """Whether it opens or closes a place."""
        return self.kind in (StepKind.OPEN, StepKind.CLOSE)

    @property
    def subsystem(self) -> str:
        """The subsystem that declares its target."""
        return subsystem_of(self)

    def about(self, target: str) -> Step:
        """The same kind of step about something else."""
        return Step(target) if self.kind is StepKind.WORK else Step(f"{self.kind} {target}")
