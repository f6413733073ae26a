"""Which steps decide how long a job takes, when hands are not counted.

Network analysis of a precedence: a forward pass gives the earliest time of every step, and from
the last one the way leads back along what each step waited for longest (J. E. Kelley and M. R.
Walker, "Critical-path planning and scheduling", Proceedings of the Eastern Joint Computer
Conference (1959)). All is put on the clock: nights and days off, deliveries, seasons, and a new
day wherever work goes on elsewhere. How likely a day of finish is comes from simulation instead:
see :mod:`assess.planning.finish_simulation`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from assess.job.workshop_profile import Workshop
from assess.planning.bench_days import A_MOMENT_H, DAY_H, OPENS_AT, Bench
from assess.planning.priority_order import Descendants, predecessors
from assess.planning.tasks import Task, day_after_others_h, delivered_h, in_season_h, over_h


@dataclass(frozen=True)
class LongestChain:
    """Steps that follow each other and take longest, counting work, waits and deliveries.

    Attributes:
        steps: in order.
        deliveries: those of them that wait longest for what they use.
        seasons: those of them that wait longest for their season.
        days: by the clock, from the first day to its end, if the hands had nothing else to do.
    """

    steps: tuple[str, ...]
    deliveries: tuple[str, ...]
    seasons: tuple[str, ...]
    days: float

    @property
    def waits_for_materials(self) -> bool:
        """Whether some step of it waits for a delivery."""
        return bool(self.deliveries)


@dataclass(frozen=True)
class _Earliest:
    """When one step is done and dry at the earliest, and what it waited for longest."""

    dry_h: float
    waited_for: str | None
    delivery: bool
    season: bool


def longest_chain(
    tasks: Mapping[str, Task], descendants: Descendants, workshop: Workshop, start: dt.date
) -> LongestChain:
    """The chain of deliveries, work and waits that no number of hands could shorten.

    Args:
        tasks: every step with its hours.
        descendants: the transitively closed precedence among the steps.
        workshop: bench hours, bench days and days off.
        start: the first day.

    Raises:
        WorkshopError: the profile has no bench hours.
    """
    bench = Bench(workshop, start)
    begin_h = bench.clock_h(dt.datetime.combine(start, OPENS_AT))
    found = _forward(tasks, descendants, bench, begin_h)
    if not found:
        return LongestChain((), (), (), 0.0)
    # Of steps that end together the one that follows the most others.
    last = max(found, key=lambda s: (round(found[s].dry_h, 6), -len(descendants[s]), s))
    days = (found[last].dry_h - begin_h) / DAY_H
    chain: list[str] = []
    step: str | None = last
    while step is not None:
        chain.append(step)
        step = found[step].waited_for
    chain.reverse()
    return LongestChain(
        tuple(chain),
        tuple(s for s in chain if found[s].delivery),
        tuple(s for s in chain if found[s].season),
        days,
    )


def _forward(
    tasks: Mapping[str, Task], descendants: Descendants, bench: Bench, begin_h: float
) -> dict[str, _Earliest]:
    """The earliest end of every step, each begun as soon as what it waits for lets it."""
    before = predecessors(descendants)
    found: dict[str, _Earliest] = {}
    ended: dict[str, float] = {}
    dry: dict[str, float] = {}
    # In a closed precedence an earlier step has more descendants.
    for step in sorted(tasks, key=lambda s: (-len(descendants[s]), s)):
        task = tasks[step]
        delivered = delivered_h(task, dry, begin_h)
        another_day = day_after_others_h(task, before[step], tasks, ended, bench)
        waits = {other: over_h(other, task, ended, dry) for other in before[step]}
        for other in before[step]:
            if another_day and tasks[other].site not in ("desk", task.site):
                waits[other] = max(waits[other], bench.day_after_h(ended[other]))
        last = max(waits, key=lambda s: (round(waits[s], 6), -len(descendants[s]), s), default=None)
        free = max(begin_h, waits[last]) if last else begin_h
        by_delivery = delivered > free + A_MOMENT_H
        soonest = bench.next_h(max(free, delivered))
        moment = in_season_h(task, soonest, bench)
        ended[step] = bench.after_h(moment, task.hands_h)
        dry[step] = ended[step] + task.waits_h
        waited_for = task.ordered_after if by_delivery else last
        found[step] = _Earliest(dry[step], waited_for, by_delivery, moment > soonest + A_MOMENT_H)
    return found
