"""Recordings of any kind as WAV files: others are decoded, piece by piece, into a temporary one.

The decoder, PyAV, is optional and only loaded for a file that is not WAV.
"""

from __future__ import annotations

import struct
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assess import JobFileError
from assess_reeds.hearing.wav_files import LONGEST_S, PCM, NotWavError, WavFile, open_wav

if TYPE_CHECKING:
    from typing import BinaryIO

EXTRA = "pip install 'reed-organ-assess[recordings]'"
HEADER_BYTES = 44


@contextmanager
def open_recording(path: Path) -> Iterator[WavFile]:
    """A recording, to be read as a WAV file while the context lasts.

    Args:
        path: a WAV file, or any other that the decoder can read.

    Raises:
        JobFileError: it holds no sound that can be heard, or the decoder is missing.
    """
    try:
        yield open_wav(path)
        return
    except NotWavError as error:
        not_wav = str(error)
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "decoded.wav"
        _decode(path, wav, not_wav)
        try:
            found = open_wav(wav)
        except JobFileError as error:
            raise JobFileError(str(error).replace(str(wav), str(path))) from None
        yield replace(found, name=path)


def _decode(path: Path, wav: Path, not_wav: str) -> None:
    """Write the sound of a file as a WAV file of one channel with 16 bits, at its own rate."""
    try:
        import av
    except ModuleNotFoundError:
        raise JobFileError(f"{not_wav}, or install a decoder: {EXTRA}") from None
    try:
        with av.open(str(path)) as container, wav.open("wb") as file:
            if any(not _is_cover(stream) for stream in container.streams.video):
                raise JobFileError(f"{path}: a video; record sound alone")
            if not container.streams.audio:
                raise JobFileError(f"{path}: no sound in it")
            _write(path, container, file)
    except (av.FFmpegError, OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise JobFileError(f"{path}: not a recording that can be read ({reason})") from error


def _is_cover(stream: Any) -> bool:
    """Whether a stream of pictures is only the cover of the sound."""
    import av

    return bool(stream.disposition & av.stream.Disposition.attached_pic)


def _write(path: Path, container: Any, file: BinaryIO) -> None:
    """Decode the first sound of a file, block by block."""
    import av

    stream = container.streams.audio[0]
    rate = int(stream.rate or 0)
    to_mono = av.AudioResampler(format="s16", layout="mono", rate=rate)
    file.write(bytes(HEADER_BYTES))
    frames = 0
    for decoded in chain(container.decode(stream), [None]):  # the last gives what is left
        for block in to_mono.resample(decoded):
            file.write(bytes(block.planes[0])[: 2 * block.samples])
            frames += block.samples
        if frames > LONGEST_S * rate:
            raise JobFileError(
                f"{path}: longer than {LONGEST_S / 3600:g} hours; give one stop at a time"
            )
    file.seek(0)
    file.write(_header(rate, 2 * frames))


def _header(rate: int, size: int) -> bytes:
    """The head of a WAV file of one channel with 16 bits."""
    layout = struct.pack("<HHIIHH", PCM, 1, rate, 2 * rate, 2, 16)
    chunks = b"fmt " + struct.pack("<I", len(layout)) + layout + b"data" + struct.pack("<I", size)
    return b"RIFF" + struct.pack("<I", 4 + len(chunks) + size) + b"WAVE" + chunks
