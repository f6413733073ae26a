"""How fast the parts are, measured; run it with `python tests/benchmarks.py`, never as a test.

Prints medians, and for the command how its cold start compares with importing its libraries
alone. Numbers depend on the machine; the ratios travel better.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[1]
RICHEST = ROOT / "fixtures" / "neglected.toml"
HARDLY_SEEN = ROOT / "fixtures" / "barely_inspected.toml"
COMPLAINED_OF = ROOT / "fixtures" / "one_strap.toml"


def median_ms(action: Callable[[], object], times: int) -> float:
    """Median of several runs, in milliseconds."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        action()
        taken.append(1000 * (time.perf_counter() - start))
    return statistics.median(taken)


def cold(*arguments: str) -> Callable[[], object]:
    """A fresh interpreter with these arguments."""
    return lambda: subprocess.run([sys.executable, *arguments], check=True, capture_output=True)


def main() -> None:
    """Measure and print."""
    import datetime as dt

    import assess
    from assess.pages.report import report_page

    libraries = "import click, networkx, pluggy, pydantic, tabulate"
    imports = median_ms(cold("-c", libraries), 9)
    print(f"{'libraries alone, cold':45} {imports:8.0f} ms")
    for command in ("grade", "plan", "verdict", "calendar"):
        start = ("--start", "2027-01-11") if command == "calendar" else ()
        taken = median_ms(cold("-m", "assess", command, str(RICHEST), *start), 9)
        print(f"{'assess ' + command + ', cold':45} {taken:8.0f} ms  {taken / imports:5.2f} x")
    job, unseen = assess.load(RICHEST), assess.load(HARDLY_SEEN)
    # As on the telephone: the complaint is told, and nobody has looked yet.
    told = assess.load(COMPLAINED_OF).model_copy(update={"answers": {}})
    assess.knowledge_in_use()
    for name, action in (
        ("read a job file", lambda: assess.load(RICHEST)),
        ("grades", lambda: assess.assess(job)),
        ("grades and plans", lambda: assess.assess(job).plans),
        ("grades, plans and verdict", lambda: assess.assess(job).verdict),
        (
            "next look, an instrument hardly seen",
            lambda: assess.assess(unseen).information_value.looks(1),
        ),
        (
            "next look with a complaint told",
            lambda: assess.assess(told).information_value.looks(1),
        ),
        (
            "next look, an instrument mostly seen",
            lambda: assess.assess(job).information_value.looks(1),
        ),
        ("findings that would change the verdict", lambda: assess.assess(job).pivotal_findings),
        ("what a sum buys", lambda: assess.assess(job).budget(usable=True).best(15000)),
        ("the best choices for all sums", lambda: assess.assess(job).budget(usable=True).frontier),
    ):
        print(f"{name:45} {median_ms(action, 21):8.1f} ms")
    result = assess.assess(job)
    plan, planner = result.plans["full"], result.planner
    page = report_page(result, "full", dt.date(2027, 1, 11))
    print(f"{'the report, without photographs':45} {len(page.encode()) / 1000:8.0f} kB")
    calendar = planner.calendar(plan, dt.date(2027, 1, 11))
    for name, action in (
        ("the report, assessed already", lambda: report_page(result, "full", dt.date(2027, 1, 11))),
        ("calendar", lambda: planner.calendar(plan, dt.date(2027, 1, 11))),
        ("finish dates by simulation", lambda: planner.finish(plan, calendar)),
    ):
        print(f"{name:45} {median_ms(action, 21):8.1f} ms")


if __name__ == "__main__":
    main()
