"""The fundamental of one piece of sound, safe against octave errors of tones rich in overtones.

First the period by the difference function of YIN (A. de Cheveigne and H. Kawahara, YIN, a
fundamental frequency estimator for speech and music, 2002; from memory), then a check against the
spectrum: whether the odd multiples of half the frequency sound (then it is an octave lower), and
whether the odd multiples of the frequency itself do (if not, it is an octave higher). The check
takes the thirds in the same way.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assess_reeds.hearing.wav_files import Sound

LONGEST_S = 1.2
YIN_THRESHOLD = 0.12
FEW_SAMPLES = 60.0
"""A period of fewer samples is not exact enough to find the overtones by."""
LINE_WITHIN = 0.02
APERIODIC = 0.45
"""Above this share of sound that does not repeat, a piece is no tone: estimate."""
CHECKED_PARTIALS = 10
PRESENT_DB = 13.0
"""A partial this far above what lies round it is there."""
BELOW_LOUDEST_DB = 45.0
"""Partials further than this below the loudest count for nothing: tails of other notes."""


@dataclass(frozen=True)
class Fundamental:
    """A pitch, and how sure it is that there is one.

    Attributes:
        hz: the fundamental [Hz].
        aperiodic: share of the power that does not repeat with it, from 0.
        partials: how many of its first partials were seen.
    """

    hz: float
    aperiodic: float
    partials: int


def fundamental(sound: Sound, rate_hz: float, lowest_hz: float, highest_hz: float) -> Fundamental:
    """The fundamental of a piece of sound.

    Args:
        sound: samples, shape (n,), at least four periods of the lowest pitch.
        rate_hz: samples per second [Hz].
        lowest_hz: where it is looked for, from [Hz].
        highest_hz: up to [Hz].
    """
    middle = sound[: int(LONGEST_S * rate_hz)] - sound.mean()
    lags, difference = _normalised_difference(middle, rate_hz, lowest_hz, highest_hz)
    lag = _period(difference, lags[0])
    hz = rate_hz / lag
    spectrum = Peaks.of(middle, rate_hz)
    if lag < FEW_SAMPLES:
        hz = spectrum.nearest_line(hz)
    hz = spectrum.without_octave_error(hz, lowest_hz, highest_hz)
    nearest = round(rate_hz / hz) - int(lags[0])
    at = slice(max(nearest - 1, 0), nearest + 2)
    least = float(difference[at].min(initial=1.0))
    seen = spectrum.present(hz, range(1, CHECKED_PARTIALS + 1))
    return Fundamental(hz, least, int(seen.sum()))


def _normalised_difference(
    sound: Sound, rate_hz: float, lowest_hz: float, highest_hz: float
) -> tuple[Sound, Sound]:
    """Lags, and YIN's cumulative mean normalised difference at each [samples]."""
    longest = min(int(rate_hz / lowest_hz) + 2, len(sound) // 2)
    shortest = max(int(rate_hz / highest_hz) - 1, 2)
    width = len(sound) - longest
    size = 1 << int(np.ceil(np.log2(len(sound) + longest)))
    spectrum = np.fft.rfft(sound, size)
    head = np.fft.rfft(sound[:width], size)
    correlation = np.fft.irfft(spectrum * np.conj(head), size)[: longest + 1]
    squares = np.concatenate([[0.0], np.cumsum(sound**2)])
    lags = np.arange(longest + 1)
    power = squares[lags + width] - squares[lags]
    difference = np.maximum(power[0] + power - 2 * correlation, 0)
    mean = np.cumsum(difference[1:]) / lags[1:]
    normalised = np.concatenate([[1.0], difference[1:] / np.maximum(mean, 1e-30)])
    return lags[shortest:].astype(float), normalised[shortest:]


def _period(difference: Sound, first_lag: float) -> float:
    """The first dip below the threshold, else the deepest; between samples by a parabola."""
    below = np.flatnonzero(difference < max(YIN_THRESHOLD, 1.5 * float(difference.min())))
    at = int(below[0]) if len(below) else int(difference.argmin())
    while at + 1 < len(difference) and difference[at + 1] < difference[at]:
        at += 1
    if not 0 < at < len(difference) - 1:
        return first_lag + at
    a, b, c = difference[at - 1 : at + 2]
    curve = a - 2 * b + c
    return float(first_lag + at + (0.5 * (a - c) / curve if curve > 0 else 0.0))


@dataclass(frozen=True)
class Peaks:
    """The spectrum of a piece of sound, asked for partials.

    Attributes:
        db: level of each bin above what lies round it, shape (b,) [dB].
        level_db: level of each bin, shape (b,) [dB].
        bin_hz: width of a bin [Hz].
    """

    db: Sound
    level_db: Sound
    bin_hz: float

    @classmethod
    def of(cls, sound: Sound, rate_hz: float) -> Peaks:
        """The spectrum of a piece of sound, shape (n,), at a rate [Hz]."""
        size = 1 << int(np.ceil(np.log2(2 * len(sound))))
        power = np.abs(np.fft.rfft(sound * np.blackman(len(sound)), size)) ** 2
        level = 10 * np.log10(power + 1e-20)
        # What lies round a bin: the median over a fixed number of bins, far wider than a line.
        width = 16 * size // len(sound) + 1
        rows = len(level) // width
        coarse = np.median(level[: rows * width].reshape(rows, width), axis=1)
        floor = np.interp(np.arange(len(level)), (np.arange(len(coarse)) + 0.5) * width, coarse)
        return cls(level - floor, level, rate_hz / size)

    def _levels(self, hz: float, multiples: Sound) -> tuple[Sound, Sound]:
        """For each multiple: level above its surroundings, and level, the best bin near it."""
        over, level = [], []
        for multiple in multiples:
            reach = max(2.0, 0.006 * multiple * hz / self.bin_hz)
            low = int(max(multiple * hz / self.bin_hz - reach, 0))
            part = slice(low, int(multiple * hz / self.bin_hz + reach) + 1)
            over.append(float(self.db[part].max(initial=-99.0)))
            level.append(float(self.level_db[part].max(initial=-999.0)))
        return np.array(over), np.array(level)

    def present(self, hz: float, multiples: Iterable[int]) -> NDArray[np.bool_]:
        """Which multiples of a frequency sound, shape (number of multiples,)."""
        over, level = self._levels(hz, np.array(list(multiples), dtype=float))
        return np.asarray((over > PRESENT_DB) & (level > self.level_db.max() - BELOW_LOUDEST_DB))

    def nearest_line(self, hz: float) -> float:
        """The strongest line within LINE_WITHIN of a frequency, the frequency if there is none."""
        low = int(hz * (1 - LINE_WITHIN) / self.bin_hz)
        part = slice(low, int(hz * (1 + LINE_WITHIN) / self.bin_hz) + 2)
        at = low + int(np.argmax(self.level_db[part]))
        return at * self.bin_hz if self.db[at] > PRESENT_DB else hz

    def without_octave_error(self, hz: float, lowest_hz: float, highest_hz: float) -> float:
        """The frequency of which this one may be a multiple or a part.

        A division is taken if most of the partials that only it explains are there; a
        multiplication if hardly any of those that it leaves unexplained are.
        """
        for part in (2, 3):
            while hz / part >= lowest_hz and self._share(hz / part, part) > 0.6:
                hz /= part
        for part in (2, 3):
            while hz * part <= highest_hz and self._share(hz, part) < 0.15:
                hz *= part
        return hz

    def _share(self, hz: float, part: int) -> float:
        """Of the first partials that are no multiples of ``part``, the share that sounds."""
        numbers = [n for n in range(1, 4 * part + 1) if n % part]
        return float(self.present(hz, numbers).mean())
