"""Photographs of a visit: checked, made smaller, kept beside the job file and named in it.

It needs Pillow, which is optional: whoever keeps a photograph says what is missing.
"""

from __future__ import annotations

import os
from pathlib import Path

from assess.base.errors import JobFileError, did_you_mean
from assess.base.text_files import edit_text, held, names_beside
from assess.base.whole_files import replace_file
from assess.job.job_edits import with_photograph
from assess.visit.camera_pictures import PictureError, as_jpeg, upright
from assess.visit.kept_folders import kept_folder

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
    file = _keep(job, about, made_new(data))
    try:
        edit_text(job, lambda text: with_photograph(text, about, file))
    except JobFileError:
        (job.parent / file).unlink(missing_ok=True)
        raise
    return file


def read_picture(file: Path) -> bytes:
    """The contents of a file, for :func:`add_photograph`.

    Raises:
        PictureError: there is none, or it cannot be read.
    """
    if not os.path.isfile(file):
        near = did_you_mean(file.name, names_beside(file))
        raise PictureError(f"{file}: there is no such file; {near}")
    try:
        with file.open("rb") as opened:
            return opened.read(MOST_BYTES + 1)
    except OSError as error:
        raise PictureError(f"{file}: cannot be read: {error.strerror}") from None


def thumbnail(job: Path, file: str) -> bytes:
    """A photograph that a job file names, small, as a JPEG.

    Args:
        job: the job file.
        file: where the photograph lies, seen from the job file.

    Raises:
        PictureError: it lies outside the folder of the job file, or cannot be read.
        ModuleNotFoundError: Pillow is not installed.
    """
    path = (job.parent / file).resolve()
    if not path.is_relative_to(job.parent.resolve()):
        raise PictureError(f"{file}: lies outside the folder of the job file")
    return as_jpeg(upright(read_picture(path), THUMBNAIL_SIDE, MOST_PIXELS, KINDS), QUALITY)


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


def _keep(job: Path, about: str, jpeg: bytes) -> str:
    """Write a photograph into the folder beside the job file, under the next free number.

    Raises:
        JobFileError: it cannot be written.
    """
    with kept_folder(job, "photographs") as folder, held(folder):
        file = _next_free(folder, about)
        replace_file(file, jpeg)
    return f"{folder.name}/{file.name}"


def _next_free(folder: Path, about: str) -> Path:
    number = 1
    while (file := folder / f"{about}-{number}.jpg").exists():
        number += 1
    return file
