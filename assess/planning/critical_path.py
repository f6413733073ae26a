"""Which steps decide how long a job takes, when hands are not counted.

Network analysis of a precedence: a forward pass gives the earliest, a backward pass the latest
times of every step, and steps without slack between them decide the length (J. E. Kelley and
M. R. Walker, "Critical-path planning and scheduling", Proceedings of the Eastern Joint Computer
Conference (1959)). Chances of a due time are those of the programme evaluation and review
technique: the steps of the critical chain are taken as independent, their sum as normal, and
all other chains are left out, so that the chance is if anything too good (D. G. Malcolm and
others, "Application of a technique for research and development program evaluation",
Operations Research 7 (1959)).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist

from assess.knowledge.model_base import HoursRange
from assess.planning.priority_order import Descendants, longest_tail, predecessors

SAME = 1e-9
"""Times that differ by less than this share of the length are the same."""


@dataclass(frozen=True)
class Window:
    """Between which times one step must lie for the job to be no longer.

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


@dataclass(frozen=True)
class Chance:
    """Mean and variance of the length of a critical chain, taken as normal."""

    mean: float
    variance: float

    def of_being_done_by(self, due: float) -> float:
        """Probability of being done by a time counted from the begin of the job."""
        if self.variance <= 0:
            return 1.0 if self.mean <= due else 0.0
        return NormalDist(self.mean, math.sqrt(self.variance)).cdf(due)


def network(descendants: Descendants, durations: Mapping[str, float]) -> Network:
    """Earliest and latest times of every step, and a chain that decides the length.

    Args:
        descendants: the transitively closed precedence among the steps, without circles.
        durations: how long each step takes, none below zero, in any one unit.
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


def classic_variance(hours: HoursRange) -> float:
    """Variance of a step's hours as the published tables have it, in hours squared.

    A sixth of the range is taken for the standard deviation, whatever the likely value
    (Malcolm and others, 1959). Costs use the exact variance of the beta distribution instead;
    this one is kept for chances along a chain because every published table is made with it.

    >>> classic_variance(HoursRange((1, 2, 7)))
    1.0
    """
    low, _, high = hours
    return ((high - low) / 6) ** 2


def chance(found: Network, hours: Mapping[str, HoursRange]) -> Chance:
    """Mean and variance of the critical chain.

    Args:
        found: the network at the mean durations.
        hours: low, likely and high value of each step, in the unit of the durations.
    """
    return Chance(found.length, sum(classic_variance(hours[step]) for step in found.chain))


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
