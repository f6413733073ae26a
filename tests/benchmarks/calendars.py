"""How near the calendar comes to the best; run it with `python -m tests.benchmarks calendars`.

Random jobs, and the full and the working plan of every fixture at hours rounded to quarters,
are put into time by the engine and by constraint programming on one core with a time limit.
Printed in days from the first: our finish, the best finish found, what no finish can come
before, and how far ours lies from either. Never run as a test: it takes up to half an hour.
"""

from __future__ import annotations

import datetime as dt
import random
import statistics
from collections.abc import Iterator
from pathlib import Path

import networkx as nx
from exact_calendar import best_calendar, rounded

import assess
from assess.job.workshop_profile import Workshop, load_workshop
from assess.planning.calendar import schedule
from assess.planning.tasks import Task

ROOT = Path(__file__).parents[2]
MONDAY = dt.date(2027, 1, 11)
RANDOM_JOBS = 60
SECONDS = 20
A_DAY = dt.timedelta(days=1)

Job = tuple[str, dict[str, Task], nx.DiGraph, Workshop]


def random_job(seed: int) -> Job:
    """Ten to forty steps, a third of which dry, with a precedence as dense as a plan's."""
    chance = random.Random(seed)
    names = [f"s{n}" for n in range(chance.randint(10, 40))]
    graph = nx.DiGraph()
    graph.add_nodes_from(names)
    for place, name in enumerate(names[1:], 1):
        near = names[max(0, place - 8) : place]
        graph.add_edges_from((other, name) for other in near if chance.random() < 0.2)
    tasks = {
        name: Task(
            chance.randint(1, 20) / 4,
            chance.choice([0, 0, 0, 0, 4, 12, 24, 72, 168]),
            chance.choice([0] * 9 + [3, 7, 14]),
        )
        for name in names
    }
    return f"random {seed}, {len(names)} steps", tasks, graph, load_workshop()


def fixture_jobs() -> Iterator[Job]:
    """The plans of every fixture that have steps."""
    for path in sorted((ROOT / "fixtures").glob("*.toml")):
        result = assess.assess(assess.load(path))
        for scope in ("full", "working"):
            plan = result.plans[scope]
            timed = result.planner.timing(plan)
            tasks = rounded(timed.tasks)
            graph = nx.DiGraph(
                (step, after)
                for step, descendants in timed.descendants.items()
                for after in descendants
            )
            graph.add_nodes_from(tasks)
            if tasks:
                yield f"{path.stem} {scope}, {len(tasks)} steps", tasks, graph, result.workshop


def compare(job: Job) -> tuple[float, float]:
    """Print one line; how far ours lies from the best found and from the bound, as shares."""
    name, tasks, graph, workshop = job
    closed = {step: frozenset(nx.descendants(graph, step)) for step in graph}
    ours = schedule(tasks, closed, workshop, MONDAY)
    best = best_calendar(tasks, graph, workshop, ours, SECONDS)
    bound = max(best.bound, ours.bound)
    days, found, least = ((m - ours.start) / A_DAY for m in (ours.finish, best.finish, bound))
    print(
        f"{name:38} {days:7.2f} {found:7.2f} {least:7.2f}"
        f" {days - found:6.2f} {100 * (days / found - 1):5.1f} %"
        f" {days - least:6.2f} {100 * (days / least - 1):5.1f} %",
        flush=True,
    )
    return days / found - 1, days / least - 1


def distribution(title: str, shares: list[float]) -> str:
    """Median, ninth tenth and worst of some gaps."""
    tenths = statistics.quantiles(shares, n=10, method="inclusive")
    return (
        f"{title:38} median {100 * statistics.median(shares):5.1f} %, "
        f"nine of ten within {100 * tenths[8]:5.1f} %, worst {100 * max(shares):5.1f} %"
    )


def main() -> None:
    """Measure and print."""
    print(f"{'job':38} {'ours':>7} {'found':>7} {'bound':>7} {'above found':>14} {'bound':>14}")
    for title, jobs in (
        ("random jobs", map(random_job, range(RANDOM_JOBS))),
        ("fixtures", fixture_jobs()),
    ):
        gaps = [compare(job) for job in jobs]
        print(distribution(f"{title}, above the best found", [g[0] for g in gaps]))
        print(distribution(f"{title}, above the bound", [g[1] for g in gaps]))


if __name__ == "__main__":
    main()
