"""Trying many inputs, in one process or several, and counting what comes of each."""

from __future__ import annotations

import json
import multiprocessing
import resource
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import FrameType
from typing import Any

from .targets import TARGETS, Attempt, Bench, empty

RESULT, REFUSED, PLUGIN = "result", "refused (2)", "plugin's fault (3)"
GOOD = (RESULT, REFUSED, PLUGIN)
MOST_SECONDS = 2.0
"""Processor time that an input may take."""
HANGS_AFTER_S = 10
"""Processor time after which an input is given up."""
BLOCKS_AFTER_S = 120
"""Time by the clock after which an input is given up, on a machine that may be busy."""
MOST_BYTES = 500_000_000
MOST_LINES, LONGEST_LINE = 120, 3000
"""What one message may be long."""
SHARE = 10_000
"""Inputs that one process tries."""
UNPRINTABLE = "\x1b\x00\x08\u202e\u2066"


class Hung(BaseException):
    """An input that takes too long."""


@dataclass(frozen=True)
class Outcome:
    """What came of one input.

    Attributes:
        number: of the input, from 0.
        kind: of the input.
        name: one of :data:`GOOD`, or what went wrong.
        signature: what tells this fault from others; empty where nothing went wrong.
        seconds: processor time.
        real: what the real command did, where it was tried as well.
    """

    number: int
    kind: str
    name: str
    signature: str = ""
    seconds: float = 0.0
    real: str = ""


@dataclass
class Tally:
    """Counts by kind and outcome."""

    seed: int
    counts: Counter[tuple[str, str]] = field(default_factory=Counter)
    faults: dict[str, list[int]] = field(default_factory=dict)
    real: Counter[str] = field(default_factory=Counter)
    slowest: Outcome | None = None

    def add(self, outcome: Outcome) -> None:
        """Count one more."""
        self.counts[outcome.kind, outcome.name] += 1
        if outcome.real:
            self.real[outcome.real] += 1
        if outcome.signature:
            self.faults.setdefault(outcome.signature, []).append(outcome.number)
        if self.slowest is None or outcome.seconds > self.slowest.seconds:
            self.slowest = outcome

    def table(self) -> str:
        """Counts as a table, and each fault with the first of its inputs."""
        names = sorted({name for _, name in self.counts}, key=lambda n: (n not in GOOD, n))
        rows = [["kind", *names, "all"]]
        for kind in TARGETS:
            found = [self.counts[kind, name] for name in names]
            rows.append([kind, *map(str, found), str(sum(found))])
        sums = [sum(self.counts[kind, name] for kind in TARGETS) for name in names]
        rows.append(["all", *map(str, sums), str(sum(sums))])
        widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
        lines = [
            "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
            for row in rows
        ]
        if self.slowest:
            lines.append(f"slowest: input {self.slowest.number}, {self.slowest.seconds:.2f} s")
        if self.real:
            lines.append(f"real command: {', '.join(f'{n} {k}' for k, n in self.real.items())}")
        for signature, numbers in sorted(self.faults.items(), key=lambda f: -len(f[1])):
            lines.append(f"{len(numbers)} x {signature} (seed {self.seed}, inputs {numbers[:3]})")
        return "\n".join(lines)


def judged(attempt: Attempt) -> tuple[str, str]:
    """What an attempt comes to, and the signature of what is wrong with it."""
    if attempt.error is not None:
        return "traceback", _signature(attempt.error)
    if attempt.said:
        return "broken promise", attempt.said
    if attempt.exit_code not in (0, 2, 3):
        return "other exit code", f"exit {attempt.exit_code}"
    shown = attempt.err + ("" if attempt.is_json else attempt.out)
    found = [c for c in UNPRINTABLE if c in shown]
    if found:
        return "control characters", f"prints {found[0]!r}"
    lines = attempt.err.splitlines()
    if len(lines) > MOST_LINES or any(len(line) > LONGEST_LINE for line in lines):
        return "endless message", f"starts {lines[0][:60]!r}"
    if attempt.exit_code == 0:
        return (RESULT, "") if _is_sound(attempt) else ("not JSON", "output that is not JSON")
    if not (attempt.err.strip() or attempt.out.strip()):
        return "no message", f"exit {attempt.exit_code} without a word"
    return (REFUSED if attempt.exit_code == 2 else PLUGIN), ""


def _is_sound(attempt: Attempt) -> bool:
    if not attempt.is_json:
        return True
    try:
        json.loads(attempt.out, parse_constant=_refuse)
    except ValueError:
        return attempt.out.startswith("Usage:")
    return True


def _refuse(constant: str) -> None:
    raise ValueError(constant)


def _signature(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    own = [f for f in frames if "/assess" in f.filename and "/site-packages/" not in f.filename]
    where = f"{Path(own[-1].filename).name}:{own[-1].name}" if own else "?"
    return f"{type(error).__name__} in {where}"


@contextmanager
def _alarm() -> Iterator[None]:
    def ring(number: int, frame: FrameType | None) -> None:
        raise Hung(f"signal {number}")

    kinds = ((signal.ITIMER_PROF, signal.SIGPROF), (signal.ITIMER_REAL, signal.SIGALRM))
    before = [signal.signal(name, ring) for _, name in kinds]
    for (timer, _), seconds in zip(kinds, (HANGS_AFTER_S, BLOCKS_AFTER_S), strict=True):
        signal.setitimer(timer, seconds)
    try:
        yield
    finally:
        for (timer, name), old in zip(kinds, before, strict=True):
            signal.setitimer(timer, 0)
            signal.signal(name, old)


def chance_of(seed: int, number: int) -> Random:
    """The chance that makes one input, whatever was tried before it."""
    return Random(f"{seed}:{number}")


def kind_of(rng: Random, kinds: Iterable[str]) -> str:
    """The kind of one input."""
    chosen = list(kinds)
    return rng.choices(chosen, [TARGETS[kind][1] for kind in chosen])[0]


def tried(
    seed: int, number: int, folder: Path, kinds: Iterable[str], keep: Path | None, real: bool
) -> Outcome:
    """Make one input, try it, and keep it where it shows a fault."""
    empty(folder)
    rng = chance_of(seed, number)
    kind = kind_of(rng, kinds)
    bench = Bench(folder, rng)
    memory, began = _most_memory(), time.process_time()
    try:
        with _alarm():
            attempt = TARGETS[kind][0](bench)
    except (Hung, Exception) as error:
        attempt = Attempt(1, error=error)
    seconds = time.process_time() - began
    name, signature = judged(attempt)
    if isinstance(attempt.error, Hung):
        name, signature = "hangs", f"hangs: {_signature(attempt.error)}"
    elif name in GOOD and seconds > MOST_SECONDS:
        name, signature = "slow", f"slow: {bench.kept.get('command', kind)}"
    elif _most_memory() > max(MOST_BYTES, memory + 20_000_000):
        name, signature = "memory", f"memory: {bench.kept.get('command', kind)}"
    also = _real(attempt, folder) if real and attempt.command else ""
    if also not in ("", "the same"):
        name, signature = "real command differs", also
    if signature:
        signature = f"{kind}: {signature}"
        if keep is not None:
            _keep(keep, bench, attempt, seed, number, name)
    return Outcome(number, kind, name, signature, seconds, also)


def _most_memory() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _real(attempt: Attempt, folder: Path) -> str:
    """Whether the installed command does the same as the one in this process."""
    try:
        done = subprocess.run(
            [sys.executable, "-m", "assess", *attempt.command],
            cwd=folder,
            capture_output=True,
            stdin=subprocess.DEVNULL,
            timeout=60,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return "hangs"
    if done.returncode != attempt.exit_code:
        return f"exit {done.returncode} instead of {attempt.exit_code}"
    return "a traceback" if b"Traceback" in done.stderr else "the same"


def _keep(keep: Path, bench: Bench, attempt: Attempt, seed: int, number: int, name: str) -> None:
    """Save an input that shows a fault, with what came of it."""
    target = keep / f"{seed}-{number}"
    target.mkdir(parents=True, exist_ok=True)
    for path in bench.folder.iterdir():
        if path.is_file():
            (target / path.name).write_bytes(path.read_bytes())
    trace = "".join(traceback.format_exception(attempt.error)) if attempt.error else ""
    said = [f"{k}: {v}" for k, v in bench.kept.items()]
    report = "\n".join([name, *said, attempt.said, attempt.err[:5000], attempt.out[:2000], trace])
    (target / "what_happened.txt").write_bytes(report.encode("utf-8", "backslashreplace"))


@dataclass(frozen=True)
class Share:
    """The part of a campaign that one process tries: the inputs from one number to another."""

    seed: int
    first: int
    end: int
    kinds: tuple[str, ...]
    keep: Path | None
    real_every: int
    until: float | None


def outcomes(share: Share) -> Iterator[Outcome]:
    """Try the inputs of one process."""
    with tempfile.TemporaryDirectory(prefix="assess-fuzz-") as folder:
        for number in range(share.first, share.end):
            if share.until is not None and time.time() > share.until:
                return
            real = share.real_every > 0 and number % share.real_every == 0
            yield tried(share.seed, number, Path(folder), share.kinds, share.keep, real)


def _all_of(share: Share) -> list[Outcome]:
    return list(outcomes(share))


def campaign(
    seed: int,
    inputs: int,
    *,
    processes: int = 1,
    kinds: Iterable[str] = TARGETS,
    keep: Path | None = None,
    first: int = 0,
    real_every: int = 0,
    minutes: float | None = None,
    report: Any = None,
) -> Tally:
    """Try so many inputs.

    Args:
        seed: what all chance comes from.
        inputs: how many, from number ``first`` on.
        processes: how many at the same time.
        kinds: of these kinds only.
        keep: a folder for inputs that show a fault.
        first: the number of the first one.
        real_every: of so many inputs one goes through the real command, too; 0 for none.
        minutes: stop after so long, however many were tried.
        report: called with the tally whenever a process has ended.
    """
    tally = Tally(seed)
    until = None if minutes is None else time.time() + 60 * minutes
    end = first + inputs
    shares = [
        Share(seed, n, min(n + SHARE, end), tuple(kinds), keep, real_every, until)
        for n in range(first, end, SHARE)
    ]
    if len(shares) == 1:
        for outcome in outcomes(shares[0]):
            tally.add(outcome)
        return tally
    # What a process has kept of earlier inputs is no part of the memory that an input takes.
    with multiprocessing.get_context("spawn").Pool(processes, maxtasksperchild=1) as pool:
        for found in pool.imap(_all_of, shares):
            for outcome in found:
                tally.add(outcome)
            if report is not None:
                report(tally)
    return tally
