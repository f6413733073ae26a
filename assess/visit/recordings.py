"""Recordings of a visit: kept beside the job file, under a safe name of their own."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import IO, BinaryIO

from assess.visit.kept_folders import kept_folder

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
        Where it lies. Whoever cannot use it takes it away again.

    Raises:
        JobFileError: it cannot be written; then nothing is kept.
    """
    with kept_folder(job, "recordings") as folder:
        file, written = _next_free(folder, safe_name(name))
        try:
            with written:
                shutil.copyfileobj(data, written)
        except BaseException:
            drop_recording(file)
            raise
    return file


def drop_recording(file: Path) -> None:
    """Take a recording away again, and its folder if nothing else is in it."""
    file.unlink(missing_ok=True)
    if file.parent.is_dir() and not any(file.parent.iterdir()):
        file.parent.rmdir()


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


def _next_free(folder: Path, name: str) -> tuple[Path, BinaryIO]:
    """A file of that name, or with a number behind it, that was not there before."""
    file, number = folder / name, 1
    while True:
        try:
            return file, file.open("xb")
        except FileExistsError:
            number += 1
            first = folder / name
            file = first.with_name(f"{first.stem}-{number}{first.suffix}")
