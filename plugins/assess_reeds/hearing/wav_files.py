"""Sound from WAV files, read piece by piece, so that an hour of it needs little memory."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from assess import JobFileError

Sound = NDArray[np.float64]

PCM, FLOAT, EXTENSIBLE = 1, 3, 0xFFFE
LOWEST_RATE_HZ = 16_000
HIGHEST_RATE_HZ = 192_000
LONGEST_S = 2 * 3600.0
SHORTEST_S = 1.0
CLIPPED_SHARE = 0.002
"""Share of samples at full scale from which a recording is refused: estimate from memory."""
FULL_SCALE = 0.9995
SILENT_PEAK = 1e-4
"""A recording that never exceeds this (-80 dB of full scale) has no sound in it: estimate."""
BLOCK_S = 20.0


class NotWavError(JobFileError):
    """A file of another kind."""


@dataclass(frozen=True)
class WavFile:
    """Where the samples of a WAV file are, and how they are written.

    Attributes:
        path: the file.
        name: the recording that messages name; another file if this one was decoded from it.
        rate_hz: samples per second and channel [Hz].
        channels: number of channels; they are averaged.
        bits: bits of each sample.
        is_float: whether samples are floating point numbers.
        offset: where the samples begin in the file [bytes].
        frames: number of samples in each channel.
    """

    path: Path
    name: Path
    rate_hz: int
    channels: int
    bits: int
    is_float: bool
    offset: int
    frames: int

    @property
    def length_s(self) -> float:
        """How long it is [s]."""
        return self.frames / self.rate_hz

    def read(self, first: int, count: int) -> Sound:
        """Samples of all channels averaged, full scale 1; fewer at the end of the file.

        Args:
            first: number of the first sample, 0 or more.
            count: how many.

        Returns:
            Samples at ``rate_hz``, shape (at most count,).
        """
        first, last = max(first, 0), min(first + count, self.frames)
        width = self.channels * self.bits // 8
        with self.path.open("rb") as file:
            file.seek(self.offset + first * width)
            data = file.read(max(last - first, 0) * width)
        data = data[: len(data) // width * width]
        samples = _numbers(data, self.bits, self.is_float).reshape(-1, self.channels)
        return np.asarray(np.nan_to_num(samples.mean(axis=1)), dtype=np.float64)


def _numbers(data: bytes, bits: int, is_float: bool) -> Sound:
    """Samples as numbers, full scale 1, shape (n,)."""
    if is_float:
        return np.frombuffer(data, "<f4" if bits == 32 else "<f8").astype(np.float64)
    if bits == 8:
        return (np.frombuffer(data, np.uint8).astype(np.float64) - 128) / 128
    if bits == 24:
        wide = np.zeros((len(data) // 3, 4), np.uint8)
        wide[:, 1:] = np.frombuffer(data, np.uint8).reshape(-1, 3)
        return wide.view("<i4")[:, 0] / 2.0**31
    return np.frombuffer(data, f"<i{bits // 8}") / 2.0 ** (bits - 1)


def open_wav(path: Path) -> WavFile:
    """A WAV file, after checking that it can be heard.

    Source: the RIFF layout of WAV files (common practice). The standard library's ``wave``
    refuses floating point samples and files whose header was never finished, which telephones
    write when a recording is broken off; so chunks are walked here.

    Raises:
        JobFileError: not a WAV file, of a kind that cannot be read, too short or too long.
    """
    try:
        with path.open("rb") as file:
            found = _parsed(path, file, path.stat().st_size)
    except FileNotFoundError:
        raise JobFileError(f"{path}: there is no such recording") from None
    except OSError as error:
        raise JobFileError(f"{path}: cannot be read: {error.strerror}") from error
    _check(found)
    return found


def _parsed(path: Path, file: BinaryIO, size: int) -> WavFile:
    if size == 0:
        raise JobFileError(f"{path}: the file is empty; record it again")
    head = file.read(12)
    if len(head) < 12 or head[:4] != b"RIFF" or head[8:] != b"WAVE":
        raise NotWavError(f"{path}: not a WAV file; save the recording as WAV")
    layout: tuple[int, int, int, int] | None = None
    while len(chunk := file.read(8)) == 8:
        name, length = chunk[:4], struct.unpack("<I", chunk[4:])[0]
        if name == b"fmt " and 16 <= length <= 4096:
            layout = _layout(file.read(length))
        elif name == b"data" and layout is not None:
            return _described(path, layout, file.tell(), min(length, size - file.tell()))
        else:
            file.seek(length, 1)
        if length % 2:
            file.seek(1, 1)
    raise JobFileError(f"{path}: a WAV file without sound in it; record it again")


def _layout(data: bytes) -> tuple[int, int, int, int]:
    """Kind, channels, rate and bits of the samples."""
    kind, channels, rate, _, _, bits = struct.unpack("<HHIIHH", data[:16])
    if kind == EXTENSIBLE and len(data) >= 26:
        kind = struct.unpack("<H", data[24:26])[0]
    return kind, channels, rate, bits


def _described(path: Path, layout: tuple[int, int, int, int], offset: int, size: int) -> WavFile:
    kind, channels, rate, bits = layout
    known = {PCM: (8, 16, 24, 32), FLOAT: (32, 64)}
    if bits not in known.get(kind, ()) or not 1 <= channels <= 8:
        raise JobFileError(
            f"{path}: samples of kind {kind} with {bits} bits in {channels} channels cannot be "
            "read; save it as WAV with 16 or 24 bits, mono or stereo"
        )
    return WavFile(
        path, path, rate, channels, bits, kind == FLOAT, offset, size * 8 // bits // channels
    )


def _check(found: WavFile) -> None:
    if not LOWEST_RATE_HZ <= found.rate_hz <= HIGHEST_RATE_HZ:
        raise JobFileError(
            f"{found.path}: {found.rate_hz} samples per second; record with 44100 or 48000"
        )
    if found.length_s < SHORTEST_S:
        raise JobFileError(f"{found.path}: only {found.length_s:.1f} s long; record it again")
    if found.length_s > LONGEST_S:
        hours = LONGEST_S / 3600
        raise JobFileError(f"{found.path}: longer than {hours:g} hours; give one stop at a time")


def check_sound(wav: WavFile) -> None:
    """Refuse a recording that is silent or clipped.

    Raises:
        JobFileError: nothing can be measured on it; says why.
    """
    block = int(BLOCK_S * wav.rate_hz)
    peak, full = 0.0, 0
    for first in range(0, wav.frames, block):
        size = np.abs(wav.read(first, block))
        peak = max(peak, float(size.max(initial=0.0)))
        full += int((size >= FULL_SCALE).sum())
    if peak < SILENT_PEAK:
        raise JobFileError(f"{wav.name}: no sound in it; was the microphone on?")
    if full > CLIPPED_SHARE * wav.frames:
        raise JobFileError(
            f"{wav.name}: too loud for the microphone ({100 * full / wav.frames:.1f} % of it is "
            "clipped); record it again from further away"
        )
