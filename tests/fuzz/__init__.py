"""Hostile input in bulk: ``python -m tests.fuzz --seed 1 --inputs 200000``.

Each input is made from the seed and its own number, so any of them can be made again alone. Every
input must end in a result, or in one clear message, quickly and without much memory.
"""

import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]
for folder in (TESTS, TESTS / "pages"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
