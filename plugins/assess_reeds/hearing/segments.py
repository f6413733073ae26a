"""Where the notes are in a recording: from level above the noise, and from changes of spectrum.

A note begins where something tonal rises out of the noise, or where the spectrum changes while
something sounds, and ends likewise. Source: the distance between the spectra before and after a
moment as a sign of a new note is J. Foote, Automatic audio segmentation using a measure of audio
novelty, 2000 (from memory); noise floors from low quantiles are R. Martin, Noise power spectral
density estimation based on minimum statistics, 2001 (from memory, much simplified).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from assess_reeds.hearing.wav_files import Sound, WavFile

HOP_S = 0.02
WINDOW_S = 0.2
"""Long enough to tell the overtones of the lowest reeds from those of the next one."""
LEVEL_FRAMES = 3
BAND_HZ = (70.0, 7500.0)
"""Below it pumping rumbles; the overtones of bass reeds are above it."""
NOISE_FRAMES = 1500
NOISE_QUANTILE = 0.1
# The quantile of an exponential distribution, which the power of noise in one bin has, in means.
QUANTILE_TO_MEAN = -1.0 / np.log1p(-NOISE_QUANTILE)
SMOOTH_BINS = 25
LEAST_NOISE = 1e-13
"""Noise power in a bin is at least this: digital silence is not quieter [full scale squared]."""
TONAL_RATIO = 40.0
"""A bin this many times above its noise is a tone: in pure noise one frame in 10**14 has one."""
NOVELTY = ((2, 10, 0.45), (8, 16, 0.6))
"""First and last frame compared on each side, and the distance from which on a note is new. The
second pair finds keys that overlap."""
DIP_DB = 10.0
SHORTEST_NOTE_S = 0.3
"""What is shorter is a click, a knock, or the change from one note to the next: estimate."""
BLOCK_S = 10.0


@dataclass(frozen=True)
class Span:
    """A piece of a recording in which one thing sounds, from start to end [s]."""

    start_s: float
    end_s: float

    @property
    def length_s(self) -> float:
        """How long it is [s]."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Noise:
    """The noise of the room.

    Attributes:
        hz: middle of each bin, shape (b,) [Hz].
        power: mean power in each bin of a frame, shape (b,) [full scale squared].
    """

    hz: Sound
    power: Sound


def _shape(wav: WavFile) -> tuple[int, int]:
    """Samples of a hop and of a window."""
    return round(HOP_S * wav.rate_hz), round(WINDOW_S * wav.rate_hz)


@cache
def _weights(window: int) -> Sound:
    return np.hanning(window)


def _spectra(sound: Sound, window: int, firsts: NDArray[np.int64]) -> Sound:
    """Power spectra of windows that begin at ``firsts``, shape (len(firsts), bins)."""
    pieces = np.lib.stride_tricks.sliding_window_view(sound, window)[firsts]
    weights = _weights(window)
    power = np.abs(np.fft.rfft(pieces * weights, axis=1)) ** 2
    return np.asarray(power / weights.sum() ** 2)


def _band(wav: WavFile) -> tuple[slice, Sound]:
    """The bins that are looked at, and their frequencies [Hz]."""
    _, window = _shape(wav)
    hz: Sound = np.asarray(np.fft.rfftfreq(window, 1 / wav.rate_hz), np.float64)
    first, last = np.searchsorted(hz, (BAND_HZ[0], min(BAND_HZ[1], 0.45 * wav.rate_hz)))
    return slice(int(first), int(last)), hz[first:last]


def room_noise(wav: WavFile) -> Noise:
    """The noise floor of a recording, from frames spread over all of it.

    Args:
        wav: the recording; each bin must be free of tones for a tenth of the time.
    """
    hop, window = _shape(wav)
    band, hz = _band(wav)
    last = max(wav.frames - window, 0)
    starts = np.linspace(0, last, min(NOISE_FRAMES, last // hop + 1)).astype(int)
    zero = np.zeros(1, np.int64)
    frames = [_spectra(wav.read(first, window), window, zero)[0, band] for first in starts]
    low = np.quantile(np.array(frames), NOISE_QUANTILE, axis=0) * QUANTILE_TO_MEAN
    padded = np.pad(low, SMOOTH_BINS // 2, mode="edge")
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(padded, SMOOTH_BINS), axis=1)
    return Noise(hz, np.maximum(smooth, LEAST_NOISE))


def _blocks(wav: WavFile, noise: Noise) -> Iterator[tuple[Sound, Sound, Sound]]:
    """Tonal ratio, level and novelty of the frames of each block of the recording."""
    hop, window = _shape(wav)
    band, _ = _band(wav)
    reach = max(far for _, far, _ in NOVELTY)
    per_block = round(BLOCK_S / HOP_S)
    total = max((wav.frames - window) // hop + 1, 0)
    for first in range(0, total, per_block):
        begin, end = max(first - reach, 0), min(first + per_block + reach, total)
        sound = wav.read(begin * hop, (end - begin - 1) * hop + window)
        power = _spectra(sound, window, np.arange(end - begin) * hop)[:, band]
        ratio = power / noise.power
        own = slice(first - begin, min(first + per_block, total) - begin)
        level = _level_db(sound, hop, (window - hop) // 2, len(power))
        yield (
            ratio.max(axis=1)[own],
            level[own],
            _novelty(np.log(np.maximum(ratio / TONAL_RATIO, 1)))[own],
        )


def _level_db(sound: Sound, hop: int, first: int, count: int) -> Sound:
    """Level in the middle of each of ``count`` frames, above the rumble, shape (count,) [dB].

    The difference between samples stands in for a filter that takes the rumble out.
    """
    middle = np.diff(sound[first : first + count * hop + 1]) ** 2
    padded = np.pad(middle, (0, max(count * hop - len(middle), 0)), mode="edge")
    power = padded[: count * hop].reshape(count, hop).mean(axis=1)
    smooth = np.convolve(power, np.ones(LEVEL_FRAMES) / LEVEL_FRAMES, "same")
    return np.asarray(10 * np.log10(smooth + 1e-16))


def _novelty(spectra: Sound) -> Sound:
    """How new the spectrum is at each frame, in shares of what makes a new note, shape (n,)."""
    curves = [_distance(spectra, near, far) / least for near, far, least in NOVELTY]
    return np.asarray(np.max(curves, axis=0))


def _distance(spectra: Sound, near: int, far: int) -> Sound:
    """One minus the cosine between the mean spectra before and after each frame, shape (n,)."""
    count = len(spectra)
    sums = np.vstack([np.zeros(spectra.shape[1]), np.cumsum(spectra, axis=0)])
    at = np.arange(count)
    before = sums[np.maximum(at - near + 1, 0)] - sums[np.maximum(at - far, 0)]
    after = sums[np.minimum(at + far + 1, count)] - sums[np.minimum(at + near, count)]
    size = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    return np.asarray(1 - (before * after).sum(axis=1) / np.maximum(size, 1e-30))


def note_spans(
    wav: WavFile, noise: Noise, progress: Callable[[float], None] = lambda share: None
) -> list[Span]:
    """Pieces of a recording in which something tonal sounds and its spectrum stays.

    One note may come in several pieces; two different notes never share one, unless they change
    more slowly than in a quarter of a second.

    Args:
        wav: the recording.
        noise: that of its room.
        progress: gets the share that is done.
    """
    parts = []
    for part in _blocks(wav, noise):
        parts.append(part)
        progress(min(len(parts) * BLOCK_S / max(wav.length_s, BLOCK_S), 1.0))
    if not parts:
        return []
    ratio, level, novelty = (np.concatenate(column) for column in zip(*parts, strict=True))
    sounding = ratio > TONAL_RATIO
    cuts = _peaks(novelty, 1.0) | _dips(level)
    spans = []
    start: int | None = None
    for frame in range(len(ratio) + 1):
        ends = frame == len(ratio) or not sounding[frame] or cuts[frame]
        if start is not None and ends:
            spans.append(Span(start * HOP_S + WINDOW_S / 2, frame * HOP_S + WINDOW_S / 2))
            start = None
        if frame < len(ratio) and sounding[frame] and start is None:
            start = frame
    return [span for span in spans if span.length_s >= SHORTEST_NOTE_S]


def _peaks(values: Sound, least: float) -> NDArray[np.bool_]:
    """Where a value is the largest within a tenth of a second, and at least ``least``."""
    reach = round(0.1 / HOP_S)
    padded = np.pad(values, reach, constant_values=-np.inf)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=1)
    return np.asarray((values >= around) & (values >= least))


def _dips(level_db: Sound) -> NDArray[np.bool_]:
    """The lowest frames between two that are DIP_DB louder, within 0.3 s on either side."""
    reach = round(0.3 / HOP_S)
    padded = np.pad(level_db, reach, constant_values=-np.inf)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    before, after = windows[:, :reach].max(axis=1), windows[:, reach + 1 :].max(axis=1)
    lowest = _peaks(-level_db, -np.inf)
    return np.asarray(lowest & (np.minimum(before, after) >= level_db + DIP_DB))
