"""From the steps of a plan to what the calendar needs to know of them.

Where each step is done follows from the steps that move the object; a second reading becomes a
task of its own; and what may not go on beside a wait becomes order: work that a step holds back
waits for it, and noisy work lies before or after a quiet wait, as it does in the plan.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from assess.job.workshop_profile import Workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import HoursRange
from assess.knowledge.steps import Step, StepKind
from assess.knowledge.work import Work
from assess.planning.bench_days import DAY_H
from assess.planning.cost_estimate import pert_mean
from assess.planning.priority_order import Descendants
from assess.planning.tasks import Site, Task

AGAIN = "again "
"""In front of a step's id: its second half on a later day."""
OVERNIGHT_H = 12.0
"""Longer than what is left of a bench day, shorter than until the next one opens."""


@dataclass(frozen=True)
class Timing:
    """A plan as the calendar sees it.

    Attributes:
        tasks: every step, and second halves, at mean hours.
        hours: low, likely and high hours of each task.
        descendants: their transitively closed precedence.
        back: the step that brings the object back to its owner, if it goes away.
    """

    tasks: dict[str, Task]
    hours: dict[str, HoursRange]
    descendants: Descendants
    back: str | None


def step_of(task: str) -> str:
    """The step that a task is, or is the second half of.

    >>> step_of("again wheels.runs_true")
    'wheels.runs_true'
    """
    return task.removeprefix(AGAIN)


def timing(
    hours: Mapping[str, HoursRange],
    lead_days: Mapping[str, int],
    descendants: Descendants,
    knowledge: Knowledge,
    workshop: Workshop,
    summed_h: float,
    in_workshop: bool = False,
) -> Timing:
    """What the calendar needs to know of a plan.

    Args:
        hours: low, likely and high hours of each step, in the order of the plan.
        lead_days: days to get what each step uses.
        descendants: the transitively closed precedence among the steps.
        knowledge: what the plugins declare of the steps.
        workshop: overlap and pace, and the bench hours of a day.
        summed_h: mean hours of the whole plan added up, with what is done; how much of them
            is really spent depends on that.
        in_workshop: the object stands in the workshop already.
    """
    order = list(hours)
    work = {step: knowledge.work(step) for step in order}
    after = _held_back(order, work, descendants)
    sites = _sites(order, work, after, knowledge, in_workshop)
    leads = _leads(order, lead_days, sites, after, knowledge)
    ordering = next((s for s, w in work.items() if w is not None and w.orders), None)
    scale = workshop.share_spent(summed_h) * workshop.pace
    tasks: dict[str, Task] = {}
    ranges: dict[str, HoursRange] = {}
    for step in order:
        found = work[step]
        season = knowledge.seasons[found.season].span if found and found.season else None
        known = ordering if ordering and step in after[ordering] else None
        waits_h = waits_of(step, knowledge)
        again = found.again_after_days if found else 0
        ranges[step] = _part(hours[step], 2 if again else 1)
        between_h = (again - 1) * DAY_H + max(OVERNIGHT_H, workshop.bench_hours_a_day)
        tasks[step] = Task(
            pert_mean(ranges[step]) * scale,
            between_h if again else waits_h,
            leads[step],
            known if leads[step] else None,
            sites[step],
            season,
            frozenset(link.step for link in found.after if link.at_once) if found else frozenset(),
        )
        if again:
            name = f"{AGAIN}{step}"
            ranges[name] = ranges[step]
            tasks[name] = Task(pert_mean(ranges[name]) * scale, waits_h, site=sites[step])
    back = next((s for s, w in work.items() if w is not None and w.moves == "back"), None)
    return Timing(tasks, ranges, _with_second_halves(after, tasks), back)


def waits_of(step: str, knowledge: Knowledge) -> float:
    """Hours by the clock after a step, for drying, rest, treatment or an answer."""
    repair, work = knowledge.repairs.get(step), knowledge.work(step)
    dries_h = repair.drying_hours if repair else 0.0
    return max(dries_h, work.waiting_days * DAY_H if work else 0.0)


def _part(hours: HoursRange, parts: int) -> HoursRange:
    low, likely, high = hours
    return HoursRange((low / parts, likely / parts, high / parts))


def _sites(
    order: Sequence[str],
    work: Mapping[str, Work | None],
    after: Descendants,
    knowledge: Knowledge,
    in_workshop: bool,
) -> dict[str, Site]:
    """Where each step is done.

    Without any step in the knowledge that moves the object, all is done at the bench.
    """
    moving = {w.moves for w in (*knowledge.repairs.values(), *knowledge.hold_points.values())}
    fetch, bring = (
        next((s for s, w in work.items() if w is not None and w.moves == move), None)
        for move in ("to_workshop", "back")
    )
    sites: dict[str, Site] = {}
    for step in order:
        found = work[step]
        where = found.where if found else "with_it"
        before_fetching = fetch in (None, step) or fetch in after[step]
        at_home = (
            (before_fetching and not in_workshop)
            or step == bring
            or (bring is not None and step in after[bring])
        )
        if where == "desk":
            sites[step] = "desk"
        elif not moving - {None} or (where == "with_it" and not at_home):
            sites[step] = "bench"
        else:
            sites[step] = "home"
    return sites


def _leads(
    order: Sequence[str],
    lead_days: Mapping[str, int],
    sites: Mapping[str, Site],
    after: Descendants,
    knowledge: Knowledge,
) -> dict[str, int]:
    """Days to wait for materials: at the home, a place is opened once all that it needs is there.

    At the bench a place may stand open until the last of it comes.
    """
    leads = {step: lead_days.get(step, 0) for step in order}
    for step in order:
        place = knowledge.place_of(step)
        if place is None or sites[step] != "home" or Step(step).kind is not StepKind.OPEN:
            continue
        closing = Step.closing(place.id)
        inside = (s for s in after[step] if closing in after.get(s, ()))
        leads[step] = max([leads[step], *(lead_days.get(s, 0) for s in inside)])
    return leads


def _held_back(
    order: Sequence[str], work: Mapping[str, Work | None], descendants: Descendants
) -> Descendants:
    """The precedence, with what may not go on beside a wait put before or after it."""
    after = dict(descendants)
    for first, then in _kept_apart(order, work):
        if first in after[then] or then in after[first]:
            continue
        more = after[then] | {then}
        for step in order:
            if step == first or first in after[step]:
                after[step] = after[step] | more
    return after


def _kept_apart(order: Sequence[str], work: Mapping[str, Work | None]) -> Iterator[tuple[str, str]]:
    """Pairs of steps of which the first is to be over, its wait included, before the second."""
    known = [(step, found) for step, found in work.items() if found is not None]
    place = {step: number for number, step in enumerate(order)}
    holders = [(step, found) for step, found in known if found.holds_back or found.quiet]
    held = [(step, found) for step, found in known if found.does or found.noisy]
    for (waiting, holder), (step, found) in itertools.product(holders, held):
        if step == waiting:
            continue
        if not set(holder.holds_back).isdisjoint(found.does):
            yield waiting, step
        if holder.quiet and found.noisy:
            yield (step, waiting) if place[step] < place[waiting] else (waiting, step)


def _with_second_halves(after: Descendants, tasks: Mapping[str, Task]) -> Descendants:
    """The precedence with each second half after its step, and before what follows it."""
    halves = {step_of(name): name for name in tasks if name.startswith(AGAIN)}
    if not halves:
        return after
    whole = {
        step: frozenset(followers) | {halves[s] for s in (step, *followers) if s in halves}
        for step, followers in after.items()
    }
    for step, name in halves.items():
        whole[name] = whole[step] - {name}
    return whole
