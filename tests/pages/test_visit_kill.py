"""The command is killed while answers come in: the file is whole, and what was confirmed is in it.

``ASSESS_KILLS=200`` kills it more often.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import secrets
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterable
from http.cookiejar import CookieJar
from pathlib import Path

from serving import serving

import assess
from assess.job.job_file import load

KILLS = int(os.environ.get("ASSESS_KILLS", "20"))
KNOWLEDGE = assess.knowledge_in_use()


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


def test_no_confirmed_answer_is_lost(tmp_path: Path) -> None:
    seed = random.randrange(10**6)
    print(f"seed {seed}")
    random.seed(seed)
    words = [c.id for c in KNOWLEDGE.criteria.values() if not c.measured and not c.computed_from]
    interrupted = 0
    for kill in range(KILLS):
        path = tmp_path / f"job{kill}.toml"
        path.write_text("format = 1\n", encoding="utf-8")
        with serving(path) as command:
            half = len(words) // 2
            senders = [
                Sender(command.address, command.origin, part)
                for part in (words[:half], words[half:])
            ]
            threads = [threading.Thread(target=sender.run) for sender in senders]
            for thread in threads:
                thread.start()
            time.sleep(random.uniform(0, 1.5))
            command.kill()
            for thread in threads:
                thread.join()
        answers = load(path).answers
        found = {f"{s}.{n}": a.answer for s, table in answers.items() for n, a in table.items()}
        sent = {k: v for sender in senders for k, v in sender.confirmed.items()}
        unheard = {k: v for sender in senders for k, v in sender.unheard.items()}
        assert sent.items() <= found.items()
        assert found.items() <= (sent | unheard).items()
        interrupted += bool(sent and unheard)
    assert interrupted > KILLS / 4, "the command was hardly ever killed while it was saving"
