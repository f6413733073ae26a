"""Photographs beside the job file: scaled, and embedded in a page."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from dataclasses import dataclass

from assess.base.errors import JobFileError, did_you_mean
from assess.base.text_files import named_beside, read_bytes
from assess.job.job_file import WHOLE, Job
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of
from assess.visit.camera_pictures import as_jpeg, upright

MOST_PX = 1200
MOST_BYTES = 200_000
MOST_READ = 100_000_000
MOST_PIXELS = 120_000_000
"""Larger pictures are refused, since they would be unpacked whole."""
QUALITIES = (85, 75, 65, 50, 35)
SIGNATURES = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))
NO_SCALING = (
    "left out: over 200 kB or neither JPEG nor PNG, and nothing is installed that scales "
    "pictures (pip install pillow)"
)


@dataclass(frozen=True)
class Photograph:
    """One photograph.

    Attributes:
        number: under which a page refers to it.
        about: full id of the criterion that it shows, or ``whole``.
        file: its name, as the job file has it.
        uri: the picture as a data URI; empty where it is left out.
        left_out: why, in that case.
    """

    number: int
    about: str
    file: str
    uri: str
    left_out: str = ""


def photographs_of(job: Job, knowledge: Knowledge) -> tuple[Photograph, ...]:
    """Every photograph that a job file names, scaled one after the other.

    Raises:
        JobFileError: an id that nothing has, a file that is not there or is no picture; each is
            named with its line.
    """
    faults: list[str] = []
    found: list[Photograph] = []
    for number, (about, file) in enumerate(_named(job), 1):
        where = job.where("photographs", *about.split("."))
        if not _is_known(about, knowledge):
            faults.append(f"{where}: no such criterion; {did_you_mean(about, knowledge.criteria)}")
        try:
            uri, left_out = _embedded(read_bytes(named_beside(job.path, file), MOST_READ))
            found.append(Photograph(number, about, file, uri, left_out))
        except JobFileError as error:
            faults.append(f"{where}: {error}")
        except ValueError as error:
            faults.append(f"{where}: {file}: {error}")
    if faults:
        raise JobFileError("\n".join(dict.fromkeys(faults)))
    return tuple(found)


def _named(job: Job) -> Iterator[tuple[str, str]]:
    for about, files in job.photographs.items():
        for file in files:
            yield about, file


def _is_known(about: str, knowledge: Knowledge) -> bool:
    """Whether an id names the whole or a criterion; what is not installed may have it."""
    if about == WHOLE or about in knowledge.criteria:
        return True
    return subsystem_of(about) not in knowledge.subsystems and "." in about


def _embedded(data: bytes) -> tuple[str, str]:
    """A picture as a data URI, or why it is left out.

    Raises:
        ValueError: it is no picture.
    """
    scaled = _scaled(data)
    if scaled is not None:
        return _uri("image/jpeg", scaled), ""
    if len(data) > MOST_BYTES:
        return "", NO_SCALING
    kind = next((kind for start, kind in SIGNATURES if data.startswith(start)), "")
    return (_uri(kind, data), "") if kind else ("", NO_SCALING)


def _uri(kind: str, data: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"


def _scaled(data: bytes) -> bytes | None:
    """A picture as a small JPEG; None without Pillow.

    Raises:
        PictureError: it is no picture, or too large to unpack.
    """
    try:
        picture = upright(data, MOST_PX, MOST_PIXELS)
    except ImportError:
        return None
    while True:
        # Coarser first, then smaller.
        for quality in QUALITIES:
            jpeg = as_jpeg(picture, quality)
            if len(jpeg) <= MOST_BYTES:
                return jpeg
        picture = picture.resize((max(1, picture.width * 2 // 3), max(1, picture.height * 2 // 3)))
