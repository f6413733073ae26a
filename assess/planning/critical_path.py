"""Which steps decide how long a job takes, when hands are not counted.

Network analysis of a precedence: a forward pass gives the earliest, a backward pass the latest
times of every step, and steps without slack between them decide the length (J. E. Kelley and
M. R. Walker, "Critical-path planning and scheduling", Proceedings of the Eastern Joint Computer
Conference (1959)). How likely a day of finish is comes from simulation instead: see
:mod:`assess.planning.finish_simulation`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assess.planning.priority_order import Descendants, longest_tail, predecessors

SAME = 1e-9
"""Times that differ by less than this share of the length are the same."""


@dataclass(frozen=True)
class Window:
    """The earliest and latest times of one step that leave the length of the job as it is.

    All are counted from the begin of the job, in the unit of the durations.
    """

    earliest_start: float
    earliest_finish: float
    latest_start: float
    latest_finish: float

    @property
    def slack(self) -> float:
        """How long the step may be put off without making the job longer."""
        return self.latest_start - self.earliest_start


@dataclass(frozen=True)
class Network:
    """A job whose steps wait only for each other.

    Attributes:
        windows: the times of each step.
        length: how long the job takes, in the unit of the durations.
        chain: steps without slack that follow each other from begin to end; where several
            chains are as long, one of them.
    """

    windows: Mapping[str, Window]
    length: float
    chain: tuple[str, ...]


def network(descendants: Descendants, durations: Mapping[str, float]) -> Network:
    """Earliest and latest times of every step, and a chain that decides the length.

    Args:
        descendants: the transitively closed precedence among the steps, without circles.
        durations: how long each step takes, none below zero, all in one unit.
    """
    tails = longest_tail(descendants, durations)
    heads = longest_tail(predecessors(descendants), durations)
    length = max(tails.values(), default=0.0)
    windows = {
        step: Window(
            heads[step] - taken, heads[step], length - tails[step], length - tails[step] + taken
        )
        for step, taken in durations.items()
    }
    return Network(windows, length, _chain(descendants, windows, length))


def _chain(
    descendants: Descendants, windows: Mapping[str, Window], length: float
) -> tuple[str, ...]:
    """From a step without slack at the begin, always on to one that begins when it ends."""
    near = SAME * max(1.0, length)
    tight = {step for step, window in windows.items() if window.slack <= near}
    chain: list[str] = []
    following = {step for step in tight if windows[step].earliest_start <= near}
    while following:
        # The step that most others wait for, or steps that take no time would be passed over.
        step = min(following, key=lambda s: (-len(descendants[s]), s))
        chain.append(step)
        ends = windows[step].earliest_finish + near
        following = {s for s in tight & descendants[step] if windows[s].earliest_start <= ends}
    return tuple(chain)
