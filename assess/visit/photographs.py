"""Photographs of a visit: checked, made smaller, kept beside the job file and named in it.

It needs Pillow, which is optional: whoever keeps a photograph says what is missing.
"""

from __future__ import annotations

from itertools import count
from pathlib import Path

from assess.base.errors import JobFileError
from assess.base.text_files import drop_beside, edit_text, keep_beside, named_beside, read_bytes
from assess.job.job_edits import with_photograph
from assess.visit.camera_pictures import PictureError, as_jpeg, upright

MOST_BYTES = 15_000_000
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 2000
"""Pixels of the longer side of what is kept."""
THUMBNAIL_SIDE = 480
QUALITY = 85
KINDS = ("JPEG", "MPO", "PNG", "WEBP", "HEIF", "AVIF")
"""What is taken, where the installed library can read it."""


def add_photograph(job: Path, about: str, data: bytes) -> str:
    """Keep a photograph and name it in the job file.

    Args:
        job: the job file.
        about: full id of the criterion that it shows, or ``whole``.
        data: the file as it was sent.

    Returns:
        Where it lies, seen from the job file.

    Raises:
        PictureError: it is too large, or no photograph.
        ModuleNotFoundError: Pillow is not installed.
        JobFileError: it cannot be written, or the job file cannot name it; then it is not kept.
    """
    names = (f"{about}-{number}.jpg" for number in count(1))
    kept = keep_beside(job, "photographs", names, reencoded(data))
    file = f"{kept.parent.name}/{kept.name}"
    try:
        edit_text(job, lambda text: with_photograph(text, about, file))
    except JobFileError:
        drop_beside(kept)
        raise
    return file


def read_picture(file: Path) -> bytes:
    """The contents of a file, for :func:`add_photograph`.

    Raises:
        PictureError: there is none, or it cannot be read.
    """
    try:
        return read_bytes(file, MOST_BYTES)
    except JobFileError as error:
        raise PictureError(str(error)) from None


def thumbnail(job: Path, file: str) -> bytes:
    """A photograph that a job file names, small, as a JPEG.

    Args:
        job: the job file.
        file: where the photograph lies, seen from the job file.

    Raises:
        PictureError: it lies outside the folder of the job file, or cannot be read.
        ModuleNotFoundError: Pillow is not installed.
    """
    try:
        path = named_beside(job, file)
    except JobFileError as error:
        raise PictureError(str(error)) from None
    return as_jpeg(upright(read_picture(path), THUMBNAIL_SIDE, MOST_PIXELS, KINDS), QUALITY)


def reencoded(data: bytes) -> bytes:
    """A photograph as a JPEG: upright, at most :data:`LONGEST_SIDE` pixels, without metadata.

    Args:
        data: the file as it was sent.

    Raises:
        PictureError: it is too large, or no photograph.
    """
    if len(data) > MOST_BYTES:
        raise PictureError(f"larger than {MOST_BYTES // 1_000_000} MB; take it smaller")
    return as_jpeg(upright(data, LONGEST_SIDE, MOST_PIXELS, KINDS), QUALITY)
