"""The command `assess visit` as a process of its own, which tests may end at any moment."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from conftest import ROOT, clean_environment


class Command:
    """The running command.

    Attributes:
        address: what it printed, with the key.
    """

    def __init__(self, job: Path, *options: str, port: int = 0) -> None:
        paths = [str(ROOT), str(ROOT / "plugins"), os.environ.get("PYTHONPATH", "")]
        environment = {**clean_environment(), "PYTHONPATH": os.pathsep.join(filter(None, paths))}
        self.process = subprocess.Popen(
            [
                sys.executable,
                "-u",
                "-m",
                "assess",
                "visit",
                str(job),
                "--port",
                str(port),
                *options,
            ],
            stdout=subprocess.PIPE,
            text=True,
            env=environment,
            cwd=job.parent,
        )
        assert self.process.stdout
        self.address = self.process.stdout.readline().strip()

    @property
    def origin(self) -> str:
        """The address without the key."""
        return self.address.partition("/?")[0]

    @property
    def port(self) -> int:
        """Where it listens."""
        return int(self.origin.rpartition(":")[2])

    def kill(self) -> None:
        """End it at once, in the middle of whatever it does."""
        self.process.kill()
        self.process.wait()
        if self.process.stdout:
            self.process.stdout.close()


@contextmanager
def serving(job: Path, *options: str, port: int = 0) -> Iterator[Command]:
    """The command while something is done with it."""
    command = Command(job, *options, port=port)
    try:
        yield command
    finally:
        command.kill()
