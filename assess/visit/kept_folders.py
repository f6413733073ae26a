"""Folders beside a job file for what a visit keeps: photographs, recordings."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from assess.base.errors import JobFileError


@contextmanager
def kept_folder(job: Path, kind: str) -> Iterator[Path]:
    """The folder for what is kept of one kind, to write in; made where there is none.

    Args:
        job: the job file.
        kind: the end of the folder's name.

    Raises:
        JobFileError: it leads to another folder, or it or a file in it cannot be written.
    """
    folder = job.with_name(f"{job.stem}_{kind}")
    try:
        folder.mkdir(exist_ok=True)
        if folder.resolve() != job.resolve().parent / folder.name:
            raise JobFileError(f"{folder}: leads to another folder; not written")
        yield folder
    except OSError as error:
        raise JobFileError(f"{folder}: cannot be written: {error.strerror}") from error
