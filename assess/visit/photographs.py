"""Photographs of a visit: checked, made smaller, kept beside the job file and named in it.

It needs pillow, which is optional: whoever imports this module says what is missing.
"""

from __future__ import annotations

import io
import os
import tempfile
import warnings
from pathlib import Path

from PIL import Image, ImageOps

from assess.base.errors import JobFileError, did_you_mean
from assess.base.text_files import edit_text, held, names_beside
from assess.job.job_file import with_photograph

MOST_BYTES = 15_000_000
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 2000
"""Pixels of the longer side of what is kept."""
QUALITY = 85
KINDS = ("JPEG", "MPO", "PNG", "WEBP", "HEIF", "AVIF")
"""What is read, where the installed library can read it; the content decides, not the name."""


class PhotographError(ValueError):
    """What was sent cannot be kept as a photograph; the message says why."""


def add_photograph(job: Path, about: str, data: bytes) -> str:
    """Keep a photograph and name it in the job file.

    Args:
        job: the job file.
        about: full id of the criterion that it shows, or ``whole``.
        data: the file as it was sent.

    Returns:
        Where it lies, seen from the job file.

    Raises:
        PhotographError: it is too large, or no photograph.
        JobFileError: it cannot be written, or the job file cannot name it; then it is not kept.
    """
    file = _keep(job, about, as_jpeg(data))
    try:
        edit_text(job, lambda text: with_photograph(text, about, file))
    except JobFileError:
        (job.parent / file).unlink(missing_ok=True)
        raise
    return file


def read_picture(file: Path) -> bytes:
    """The contents of a file, for :func:`add_photograph`.

    Raises:
        PhotographError: there is none, or it cannot be read.
    """
    if not file.is_file():
        near = did_you_mean(file.name, names_beside(file))
        raise PhotographError(f"{file}: there is no such file; {near}")
    try:
        with file.open("rb") as opened:
            return opened.read(MOST_BYTES + 1)
    except OSError as error:
        raise PhotographError(f"{file}: cannot be read: {error.strerror}") from None


def as_jpeg(data: bytes) -> bytes:
    """A photograph made new: upright, at most :data:`LONGEST_SIDE` pixels, without metadata.

    Args:
        data: the file as it was sent.

    Raises:
        PhotographError: it is too large, or no photograph.
    """
    if len(data) > MOST_BYTES:
        raise PhotographError(f"larger than {MOST_BYTES // 1_000_000} MB; take it smaller")
    Image.init()
    readable = [kind for kind in KINDS if kind in Image.OPEN]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            opened = Image.open(io.BytesIO(data), formats=readable)
        _check_size(opened)
        upright = ImageOps.exif_transpose(opened).convert("RGB")
    except Image.DecompressionBombError:
        raise PhotographError(_too_many()) from None
    except (OSError, ValueError, SyntaxError, EOFError) as error:
        if isinstance(error, PhotographError):
            raise
        raise PhotographError("not a photograph that can be read; send JPEG or PNG") from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    written = io.BytesIO()
    bare.save(written, "JPEG", quality=QUALITY, optimize=True)
    return written.getvalue()


def _check_size(opened: Image.Image) -> None:
    width, height = opened.size
    if width * height > MOST_PIXELS:
        raise PhotographError(_too_many())


def _too_many() -> str:
    return f"more than {MOST_PIXELS // 1_000_000} million pixels; take it smaller"


def _keep(job: Path, about: str, jpeg: bytes) -> str:
    """Write a photograph into the folder beside the job file, under the next free number.

    Raises:
        JobFileError: it cannot be written.
    """
    folder = job.with_name(f"{job.stem}_photographs")
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
