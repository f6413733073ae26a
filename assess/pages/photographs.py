"""Photographs of a visit: checked, made smaller, and kept in a folder beside the job file."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from assess.base.errors import JobFileError
from assess.base.text_files import held
from assess.pages.camera_pictures import PictureError, as_jpeg, upright

MOST_BYTES = 15_000_000
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 2000
"""Pixels of the longer side of what is kept."""
QUALITY = 85
KINDS = ("JPEG", "MPO", "PNG", "WEBP", "HEIF", "AVIF")
"""What is taken, where the installed library can read it."""


def made_new(data: bytes) -> bytes:
    """A photograph as a JPEG: upright, at most :data:`LONGEST_SIDE` pixels, without metadata.

    Args:
        data: the file as it was sent.

    Raises:
        PictureError: it is too large, or no photograph.
    """
    if len(data) > MOST_BYTES:
        raise PictureError(f"larger than {MOST_BYTES // 1_000_000} MB; take it smaller")
    return as_jpeg(upright(data, LONGEST_SIDE, MOST_PIXELS, KINDS), QUALITY)


def folder_of(job: Path) -> Path:
    """Where the photographs of a job file lie."""
    return job.with_name(f"{job.stem}_photographs")


def keep_photograph(job: Path, about: str, jpeg: bytes) -> str:
    """Write a photograph into the folder beside the job file, under the next free number.

    Args:
        job: the job file.
        about: full id of what it shows; the file is named by it.
        jpeg: as :func:`made_new` gives it.

    Returns:
        Where it lies, seen from the job file.

    Raises:
        JobFileError: it cannot be written.
    """
    folder = folder_of(job)
    try:
        folder.mkdir(exist_ok=True)
        if folder.resolve() != job.resolve().parent / folder.name:
            raise JobFileError(f"{folder}: leads to another folder; not written")
        with held(folder):
            file = _next_free(folder, about)
            _write(file, jpeg)
    except OSError as error:
        raise JobFileError(f"{folder}: cannot be written: {error.strerror}") from error
    return f"{folder.name}/{file.name}"


def _next_free(folder: Path, about: str) -> Path:
    number = 1
    while (file := folder / f"{about}-{number}.jpg").exists():
        number += 1
    return file


def _write(file: Path, data: bytes) -> None:
    """Write a file whole or not at all."""
    handle, temporary = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
    try:
        with os.fdopen(handle, "wb") as written:
            written.write(data)
            written.flush()
            os.fsync(written.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, file)
    finally:
        if os.path.exists(temporary):
            os.unlink(temporary)
