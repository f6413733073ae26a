"""Recordings of a visit: kept beside the job file, under a safe name of their own."""

from __future__ import annotations

import re
from itertools import chain, count
from pathlib import Path
from typing import IO

from assess.base.text_files import keep_beside

MOST_BYTES = 60_000_000
"""Six minutes of one channel with 16 bits at 48,000 a second, or two of stereo with 24 bits."""
LONGEST_NAME = 60
UNSAFE = re.compile(r"[^\w.-]+", re.ASCII)


def keep_recording(job: Path, name: str, data: IO[bytes]) -> Path:
    """Write a recording into the folder beside the job file, under a name that is free.

    Args:
        job: the job file.
        name: what the recording was called; its suffix is kept.
        data: the file as it is sent.

    Returns:
        Where it lies. Whoever cannot use it takes it away with
        :func:`~assess.base.text_files.drop_beside`.

    Raises:
        JobFileError: it cannot be written; then nothing is kept.
    """
    first = Path(safe_name(name))
    others = (f"{first.stem}-{number}{first.suffix}" for number in count(2))
    return keep_beside(job, "recordings", chain((first.name,), others), data.read())


def safe_name(name: str) -> str:
    """A name for a file that leads nowhere else, with the suffix of the name that was given.

    >>> safe_name("../My take (1).M4A"), safe_name("..."), safe_name("")
    ('My_take_1_.m4a', 'recording', 'recording')
    """
    last = name.replace("\\", "/").rpartition("/")[2]
    stem, dot, suffix = last.rpartition(".")
    stem, suffix = (stem, suffix.lower()) if dot and suffix.isalnum() else (last, "")
    stem = UNSAFE.sub("_", stem).strip(".")[:LONGEST_NAME] or "recording"
    return f"{stem}.{UNSAFE.sub('', suffix)[:8]}".rstrip(".")
