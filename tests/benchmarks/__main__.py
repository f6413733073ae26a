"""Every speed as a ratio to something outside, measured in the same run.

``python -m tests.benchmarks`` prints one table: what is measured, in milliseconds of processor
time and as a ratio; the ratio that stands in DEVELOPERS.md; and which grew. Ratios to imports are
to those of the very modules, none of them ours, that the command has loaded. Nothing is asserted.

``python -m tests.benchmarks calendars`` (or ``looks``, ``visits``, ``calibration``, ``hearing``)
runs one of the longer comparisons beside this file.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import random
import re
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(HERE), str(HERE.parent)]

LONGER = ("calendars", "looks", "visits", "calibration", "hearing")
RICHEST = ROOT / "fixtures" / "neglected.toml"
HARDLY_SEEN = ROOT / "fixtures" / "barely_inspected.toml"
COMPLAINED_OF = ROOT / "fixtures" / "one_strap.toml"
START = ("--start", "2027-01-11")
RUNS = 5
AFTER_HEADING = 4
"""Lines from the first to the answer."""
NOTICED = 1.15
"""A ratio so many times that of the table has grown: runs on one machine differ by a tenth."""
NEW_SEEDS = range(3000, 3020)
JOBS = 200


class Row(NamedTuple):
    """One thing measured, what it is a ratio to, and the ratio that is aimed at, if one is."""

    name: str
    ms: float
    ratio: float
    to: str
    aim: float | None = None


def environment(cache: Path) -> dict[str, str]:
    """As where it is installed: compiled files and declarations are kept."""
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return kept | {
        "PYTHONPYCACHEPREFIX": str(cache / "pyc"),
        "ASSESS_CACHE": str(cache / "declared"),
    }


def cold_ms(arguments: list[str], env: dict[str, str], runs: int = RUNS) -> float:
    """Median processor time of a fresh interpreter; one run before it fills the caches."""
    taken = []
    for _ in range(runs + 1):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *arguments], env=env, capture_output=True, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return 1000 * statistics.median(taken[1:])


def answer_ms(arguments: list[str], env: dict[str, str], runs: int = RUNS) -> float:
    """Median processor time until the lines after the heading are printed."""
    taken = []
    for _ in range(runs):
        command = [sys.executable, *arguments]
        with subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True) as running:
            assert running.stdout
            for _ in range(AFTER_HEADING):
                running.stdout.readline()
            spent = Path(f"/proc/{running.pid}/schedstat").read_text(encoding="ascii")
            taken.append(int(spent.split()[0]) / 1e6)
            running.kill()
    return statistics.median(taken)


LOADED = """
import json, sys
from assess.cli.commands import main
try:
    main({arguments!r}, standalone_mode=False)
except SystemExit:
    pass
left_out = ("__main__", "networkx.utils.backends_compiled", *{left_out!r})
print(json.dumps([m for m in sys.modules if not m.startswith(left_out)]), file=sys.stderr)
"""


def imports_of(arguments: list[str], env: dict[str, str], ours: bool = False) -> str:
    """Code that imports all modules that a command loads, with ours or without."""
    code = LOADED.format(arguments=arguments, left_out=() if ours else ("assess",))
    found = subprocess.run(
        [sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True
    )
    names = json.loads(found.stderr.splitlines()[-1])
    return (
        "import importlib\n"
        f"for name in {names!r}:\n"
        "    try:\n        importlib.import_module(name)\n"
        "    except ImportError:\n        pass\n"
    )


def commands(env: dict[str, str]) -> Iterator[Row]:
    """Cold starts against the imports of the libraries that each needs."""
    job = str(RICHEST)
    taken = {}
    for name, arguments, aim in (
        ("--version", ["--version"], 1.5),
        ("schema", ["schema"], 2.0),
        ("grade", ["grade", job], 2.0),
        ("measure", ["measure", job], 2.0),
        ("check", ["check"], 2.0),
        ("plan --scope", ["plan", job, "--scope", "full"], 2.0),
        ("verdict", ["verdict", job], 2.0),
        ("look", ["look", job], 2.0),
        ("calendar", ["calendar", job, *START], 2.0),
        ("budget", ["budget", job, "20000"], 2.0),
    ):
        imports = cold_ms(["-c", imports_of(arguments, env)], env)
        taken[name] = cold_ms(["-m", "assess", *arguments], env)
        yield Row(f"assess {name}", taken[name], taken[name] / imports, "its imports", aim)
        if name == "grade":
            modules = cold_ms(["-c", imports_of(arguments, env, ours=True)], env)
            yield Row("assess grade, its modules alone", modules, modules / imports, "its imports")
        if name in ("verdict", "budget") and Path("/proc/self/schedstat").exists():
            first = answer_ms(["-m", "assess", *arguments], env)
            yield Row(f"assess {name}, the answer", first, first / imports, "its imports", aim)
    yield Row(
        "budget, the same", taken["budget"], taken["budget"] / taken["verdict"], "verdict", 3.0
    )


def median_ms(action: Callable[[], object], times: int = 11) -> float:
    """Median processor time of several runs."""
    taken = []
    for _ in range(times):
        start = time.process_time()
        action()
        taken.append(1000 * (time.process_time() - start))
    return statistics.median(taken)


def in_process(env: dict[str, str]) -> Iterator[Row]:
    """What a library call takes, against the import of numpy and pydantic."""
    import assess
    from assess.output.layout import sections
    from assess.output.verdicts import verdict_parts

    imports = cold_ms(["-c", "import numpy, pydantic.main"], env)
    job, unseen = assess.load(RICHEST), assess.load(HARDLY_SEEN)
    told = assess.load(COMPLAINED_OF).model_copy(update={"answers": {}})
    for name, action in (
        ("whole assessment, verdict as text", lambda: sections(verdict_parts(assess.assess(job)))),
        ("grades and plans", lambda: assess.assess(job).plans),
        ("grades, plans and verdict", lambda: assess.assess(job).verdict),
    ):
        taken = median_ms(action)
        yield Row(name, taken, taken / imports, "numpy and pydantic", 100 / imports)
    for name, about in (("hardly seen", unseen), ("a complaint told", told), ("mostly seen", job)):
        look = median_ms(lambda a=about: assess.assess(a).information_value.looks(1))  # type: ignore[misc]
        yield Row(f"next look, {name}", look, look / imports, "numpy and pydantic", 50 / imports)
    yield from many_jobs(imports)


def many_jobs(imports: float) -> Iterator[Row]:
    """Job files one after the other: time of each, and memory that is kept."""
    import assess

    paths = sorted((ROOT / "fixtures").glob("*.toml"))
    for path in paths:
        _ = assess.assess(assess.load(path)).verdict
    before, start = _memory_kb(), time.process_time()
    for number in range(JOBS):
        _ = assess.assess(assess.load(paths[number % len(paths)])).verdict
    each = 1000 * (time.process_time() - start) / JOBS
    yield Row(
        "one of many job files, to its verdict",
        each,
        each / imports,
        "numpy and pydantic",
        20 / imports,
    )
    grown = _memory_kb() / before
    yield Row(f"memory after {JOBS} job files", 0.0, grown, "memory before", 1.05)


def _memory_kb() -> float:
    status = Path("/proc/self/status")
    if not status.exists():
        return float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    found = re.search(r"VmRSS:\s+(\d+)", status.read_text(encoding="ascii"))
    return float(found[1]) if found else 1.0


def calendars() -> Iterator[Row]:
    """Calendars against the best there are, and their time against half as many steps."""
    import networkx as nx
    from calendars import MONDAY, fixture_jobs, random_job
    from exact_calendar import best_calendar

    from assess.planning.calendar import schedule

    later, taken = [], 0.0
    for seed in NEW_SEEDS:
        _, tasks, graph, workshop = random_job(seed)
        closed = {step: frozenset(nx.descendants(graph, step)) for step in graph}
        start = time.process_time()
        ours = schedule(tasks, closed, workshop, MONDAY)
        taken += 1000 * (time.process_time() - start)
        best = ours.bound
        if ours.finish > ours.bound:
            best = best_calendar(tasks, graph, workshop, ours, seconds=10).finish
        later.append((ours.finish - ours.start) / (best - ours.start))
    at_best = sum(share < 1 + 1e-6 for share in later) / len(later)
    yield Row("calendars of new seeds not at the best", taken / len(later), 1 - at_best, "all", 0.1)
    yield Row("the latest of them", taken / len(later), max(later), "the best there is", 1.17)
    bounds = []
    for _, tasks, graph, workshop in fixture_jobs():
        closed = {step: frozenset(nx.descendants(graph, step)) for step in graph}
        ours = schedule(tasks, closed, workshop, MONDAY)
        bounds.append((ours.finish - ours.start) / (ours.bound - ours.start))
    yield Row("the latest of all fixtures", 0.0, max(bounds), "its lower bound", 1.02)
    times = {count: _long_calendar_ms(count) for count in (1000, 2000)}
    yield Row("a calendar of 2,000 steps", times[2000], times[2000] / times[1000], "1,000 steps", 4)


def _long_calendar_ms(count: int) -> float:
    from assess.job.workshop_profile import load_workshop
    from assess.planning.calendar import schedule
    from assess.planning.tasks import Task

    chance = random.Random(1)
    names = [f"s{n}" for n in range(count)]
    next_to: dict[str, list[str]] = {name: [] for name in names}
    for place, name in enumerate(names):
        for other in names[max(0, place - 8) : place]:
            if chance.random() < 0.2:
                next_to[other].append(name)
    after: dict[str, frozenset[str]] = {}
    for name in reversed(names):
        after[name] = frozenset().union(*({n} | after[n] for n in next_to[name]))
    tasks = {n: Task(chance.randint(1, 20) / 4, chance.choice([0] * 5 + [4, 24])) for n in names}
    shop = load_workshop().model_copy(update={"bench_hours_a_day": 15})
    return median_ms(lambda: schedule(tasks, after, shop, dt.date(2027, 1, 11)), 3)


def written() -> dict[str, float]:
    """The ratios that stand in DEVELOPERS.md."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([^|]+?) \| [^|]* \| ([\d.]+) \| ([^|]+?) \|", text, re.MULTILINE)
    return {f"{name} / {to}": float(ratio) for name, ratio, to in rows}


def run_longer(name: str, arguments: list[str]) -> None:
    """Run one of the longer comparisons by itself, since some use several processes."""
    paths = os.pathsep.join([*sys.path[:2], str(ROOT), os.environ.get("PYTHONPATH", "")])
    command = [sys.executable, str(HERE / f"{name}.py"), *arguments]
    subprocess.run(command, env=os.environ | {"PYTHONPATH": paths}, check=True)


def main() -> None:
    """Measure and print, in the form of the table in DEVELOPERS.md."""
    if len(sys.argv) > 1 and sys.argv[1] in LONGER:
        run_longer(sys.argv[1], sys.argv[2:])
        return
    known = written()
    print("| measured | ms | ratio | to | aim | before |\n|---|---|---|---|---|---|")
    grown = []
    with tempfile.TemporaryDirectory() as cache:
        env = environment(Path(cache))
        for rows in (commands(env), in_process(env), calendars()):
            for row in rows:
                before = known.get(f"{row.name} / {row.to}")
                more = before is not None and row.ratio > NOTICED * before
                said = "new" if before is None else f"{before:.2f}{', grew' if more else ''}"
                grown += [row.name] if more else []
                aim = "" if row.aim is None else f"{row.aim:.2f}"
                print(
                    f"| {row.name} | {row.ms:.0f} | {row.ratio:.2f} | {row.to} | {aim} | {said} |",
                    flush=True,
                )
    print(f"Grew since DEVELOPERS.md: {', '.join(grown) or 'none'}.")


if __name__ == "__main__":
    main()
