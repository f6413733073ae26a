"""The command: ``python -m tests.fuzz --seed 1 --inputs 200000``."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from .campaign import GOOD, Tally, campaign
from .targets import TARGETS


def main() -> int:
    """Run a campaign and print its table; 1 where an input showed a fault."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--inputs", type=int, default=2000)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--minutes", type=float, help="stop after so long")
    parser.add_argument("--kinds", nargs="+", choices=TARGETS, default=list(TARGETS))
    parser.add_argument("--keep", type=Path, help="folder for inputs that show a fault")
    parser.add_argument("--only", type=int, help="the number of one input to try again")
    parser.add_argument("--real-every", type=int, default=1000, help="also by the real command")
    given = parser.parse_args()
    began = time.monotonic()
    tally = campaign(
        given.seed,
        given.inputs if given.only is None else 1,
        processes=given.processes,
        kinds=given.kinds,
        keep=given.keep,
        first=given.only or 0,
        real_every=given.real_every,
        minutes=given.minutes,
        report=_progress,
    )
    print(tally.table())
    print(f"{sum(tally.counts.values())} inputs of seed {given.seed}", end=", ")
    print(f"{(time.monotonic() - began) / 60:.1f} minutes")
    return int(any(name not in GOOD for _, name in tally.counts))


def _progress(tally: Tally) -> None:
    print(f"{sum(tally.counts.values())} ...", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
