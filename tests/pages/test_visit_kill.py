"""The command is killed while answers come in: the file is whole, and what was confirmed is in it.

It is killed four times; ``ASSESS_KILLS=200`` kills it more often.
"""

from __future__ import annotations

import os
import random
import threading
import time
from pathlib import Path

from serving import KNOWLEDGE, Sender, serving

from assess.job.job_reading import load

KILLS = int(os.environ.get("ASSESS_KILLS", "4"))


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
