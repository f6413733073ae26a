"""The command `assess visit` as a process of its own, and somebody who sends it answers."""

from __future__ import annotations

import http.client
import json
import os
import random
import secrets
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from http.cookiejar import CookieJar
from pathlib import Path

from conftest import ROOT, clean_environment

import assess

KNOWLEDGE = assess.knowledge_in_use()


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
        lines = iter(self.process.stdout.readline, "")
        self.address = next((li for li in lines if li.startswith("http")), "").strip()

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


class Sender:
    """Sends answers as fast as they are confirmed, and remembers which were."""

    def __init__(self, address: str, origin: str, questions: Iterable[str]) -> None:
        cookies = urllib.request.HTTPCookieProcessor(CookieJar())
        self.opener = urllib.request.build_opener(cookies)
        self.opener.open(address, timeout=20).read()
        self.origin = origin
        self.questions = questions
        self.confirmed: dict[str, str] = {}
        self.unheard: dict[str, str] = {}

    def run(self) -> None:
        """Answer until the command is gone."""
        for question in self.questions:
            outcomes = KNOWLEDGE.criteria[question].outcomes
            words = random.choice(outcomes).label
            try:
                self._send(question, words)
            except (urllib.error.URLError, http.client.HTTPException, OSError):
                self.unheard[question] = words
                return
            self.confirmed[question] = words

    def _send(self, question: str, words: str) -> None:
        entry = {
            "id": secrets.token_hex(16),
            "device": secrets.token_hex(16),
            "question": question,
            "words": words,
            "chosen": True,
        }
        headers = {"Content-Type": "application/json", "Origin": self.origin}
        request = urllib.request.Request(
            f"{self.origin}/answer", json.dumps(entry).encode(), headers
        )
        self.opener.open(request, timeout=20).read()
