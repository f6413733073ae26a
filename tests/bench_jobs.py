"""Jobs at a bench of known hours, put into a calendar from a Monday on."""

from __future__ import annotations

import datetime as dt

import networkx as nx

from assess.job.workshop_profile import Workshop, load_workshop
from assess.planning.calendar import Calendar, schedule
from assess.planning.critical_path import LongestChain, longest_chain
from assess.planning.tasks import Task

MONDAY = dt.date(2027, 1, 11)

BenchJob = tuple[dict[str, Task], nx.DiGraph]
"""Tasks, and what precedes what among them."""


def shop(
    hours: float = 5, days: tuple[int, ...] = (0, 1, 2, 3, 4), off: tuple[str, ...] = ()
) -> Workshop:
    """A workshop with these bench hours a day, bench days and days off."""
    changed = {"bench_hours_a_day": hours, "bench_days": days, "days_off": off}
    return load_workshop().model_copy(update=changed)


def closed(graph: nx.DiGraph) -> dict[str, frozenset[str]]:
    """For each step all that come after it."""
    return {step: frozenset(nx.descendants(graph, step)) for step in graph}


def put(job: BenchJob, workshop: Workshop) -> Calendar:
    """The calendar of a job."""
    return schedule(job[0], closed(job[1]), workshop, MONDAY)


def chain_of(job: BenchJob, workshop: Workshop) -> LongestChain:
    """The longest chain of a job."""
    return longest_chain(job[0], closed(job[1]), workshop, MONDAY)
