"""The pitch of one tone by least squares over its harmonics, with its uncertainty.

Each harmonic is shifted down to zero frequency and averaged over whole periods, which removes
all the others. What is left turns slowly if the first guess was a little off; the frequency that
explains the most power of all harmonics together, each weighted by the noise round it, is the
least squares estimate. Source: nonlinear least squares for harmonic signals (common practice);
the bound is D. C. Rife and R. R. Boorstyn, Single-tone parameter estimation from discrete-time
observations, 1974, summed over harmonics (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assess_reeds.hearing.wav_files import Sound

Complex = NDArray[np.complex128]

CENTS_PER_NEPER = 1200 / np.log(2)
MOST_HARMONICS = 16
HIGHEST_SHARE = 0.45
"""Harmonics above this share of the sampling rate are left out."""
BLOCK_S = 0.012
BLOCK_PERIODS = 16
"""A block is as long as the shorter of both, so that high tones can be a little off at first."""
PIECES = 6
SEARCHED = 0.02
"""How far from the first guess it is looked for: a share of the frequency."""
CLOCK_CENTS = 0.1
"""Clocks of recorders are within 50 millionths or so (common practice): 0.09 cents."""


@dataclass(frozen=True)
class Baseband:
    """The harmonics of a tone, shifted down.

    Attributes:
        hz: the frequency they were shifted by, times the number of each [Hz].
        step_s: time between blocks [s].
        block: samples averaged in each block.
        values: complex amplitude of each harmonic in each block, shape (harmonics, blocks).
        noise: variance of each value by noise, shape (harmonics,).
    """

    hz: float
    step_s: float
    block: int
    values: Complex
    noise: Sound

    @property
    def times_s(self) -> Sound:
        """Middle of each block from the middle of all, shape (blocks,) [s]."""
        count = self.values.shape[1]
        return np.asarray((np.arange(count) - (count - 1) / 2) * self.step_s)


@dataclass(frozen=True)
class Pitch:
    """A measured pitch.

    Attributes:
        hz: fundamental [Hz].
        sd_cents: its standard uncertainty, by what was seen and by the noise [cents].
        bound_cents: the least that the noise allows, by Rife and Boorstyn [cents].
        wander_cents: standard deviation of the pitch over sixths of the tone [cents].
    """

    hz: float
    sd_cents: float
    bound_cents: float
    wander_cents: float


def baseband(sound: Sound, rate_hz: float, hz: float) -> Baseband:
    """Shift the harmonics of a tone down to zero frequency.

    Args:
        sound: samples, shape (n,); at least PIECES blocks.
        rate_hz: samples per second [Hz].
        hz: the fundamental, within SEARCHED of the right one [Hz].
    """
    block = round(np.ceil(min(BLOCK_S * hz, BLOCK_PERIODS)) * rate_hz / hz)
    count = len(sound) // block
    used = sound[: count * block]
    harmonics = int(min(MOST_HARMONICS, max(1, HIGHEST_SHARE * rate_hz // hz)))
    turn = np.exp(-2j * np.pi * hz / rate_hz * np.arange(len(used)))
    shifted = used.astype(np.complex128)
    values = np.empty((harmonics, count), np.complex128)
    for harmonic in range(harmonics):
        shifted = shifted * turn
        values[harmonic] = shifted.reshape(count, block).mean(axis=1)
    return Baseband(hz, block / rate_hz, block, values, _noise(values))


def _noise(values: Complex) -> Sound:
    """Noise in each value, from second differences, in which slow changes cancel; shape (h,)."""
    if values.shape[1] < 5:
        return np.asarray(np.maximum(np.abs(values).mean(axis=1) ** 2 * 0.01, 1e-16))
    bends = values[:, 2:] - 2 * values[:, 1:-1] + values[:, :-2]
    # Var of the second difference of white noise is 6; the median of an exponential is ln 2.
    noise = np.median(np.abs(bends) ** 2, axis=1) / (6 * np.log(2))
    return np.asarray(np.maximum(noise, 1e-16))


def measured_pitch(base: Baseband) -> Pitch:
    """The pitch of a tone from its harmonics; see the module for the method."""
    shift = _best_shift(base.values, base.times_s, base.noise, SEARCHED * base.hz)
    hz = base.hz + shift
    to_cents = CENTS_PER_NEPER / hz
    bound = to_cents * _bound_hz(base)
    times = base.times_s
    pieces = np.array_split(np.arange(len(times)), PIECES)
    shifts = [
        _best_shift(base.values[:, p], times[p], base.noise, SEARCHED * base.hz)
        for p in pieces
        if len(p) >= 3
    ]
    wander = float(np.std(shifts, ddof=1)) * to_cents if len(shifts) > 2 else float("nan")
    seen = wander / np.sqrt(len(shifts)) if len(shifts) > 2 else 5.0
    sd = float(np.sqrt(max(bound, seen) ** 2 + CLOCK_CENTS**2))
    return Pitch(hz, sd, bound, wander)


def _power(shift: float, values: Complex, times: Sound, noise: Sound) -> float:
    numbers = np.arange(1, len(values) + 1)[:, None]
    turned = values * np.exp(-2j * np.pi * shift * numbers * times)
    return float((np.abs(turned.mean(axis=1)) ** 2 / noise).sum())


def _best_shift(values: Complex, times: Sound, noise: Sound, reach: float) -> float:
    """The change of the fundamental that explains the most power [Hz], at most ``reach``."""
    step = float(times[1] - times[0])
    # The higher harmonics turn too fast at first to tell which way they turn.
    slow = values[: max(1, int(0.5 / (reach * step)))]
    first = _turning(slow, step, noise[: len(slow)], last_lag=30)
    numbers = np.arange(1, len(values) + 1)[:, None]
    turned = values * np.exp(-2j * np.pi * first * numbers * times)
    best = first + _turning(turned, step, noise, last_lag=values.shape[1])
    best = float(np.clip(best, -reach, reach))
    # A quarter of the width of the peak that the highest harmonic makes.
    stride = 0.25 / (len(times) * step * len(values))
    for _ in range(14):
        low, mid, high = (_power(best + d * stride, values, times, noise) for d in (-1, 0, 1))
        curve = low - 2 * mid + high
        if mid >= max(low, high) and curve < 0:
            best += stride * 0.5 * (low - high) / curve
            stride *= 0.5
        else:
            best += stride if high > low else -stride
    return best


def _turning(values: Complex, step: float, noise: Sound, last_lag: int) -> float:
    """How fast the harmonics turn [Hz]: from pairs further and further apart, shape of values.

    Source: S. Kay, A fast and accurate single frequency estimator, 1989 (from memory), without
    its weights, since it only begins the search.
    """
    numbers = np.arange(1, len(values) + 1)
    weight = (np.abs(values) ** 2).mean(axis=1) / noise * numbers**2
    found, lag = 0.0, 1
    while lag < min(values.shape[1], last_lag):
        turn = np.exp(-2j * np.pi * found * numbers * lag * step)
        pairs = (values[:, lag:] * np.conj(values[:, :-lag])).sum(axis=1) * turn
        hz = np.angle(pairs) / (2 * np.pi * lag * step * numbers)
        found += float((weight * hz).sum() / weight.sum())
        lag *= 3
    return found


def _bound_hz(base: Baseband) -> float:
    """Least standard deviation of the fundamental that noise allows [Hz].

    For a complex tone of amplitude b with noise of variance s in each of n values, T apart,
    Rife and Boorstyn give var(w) >= 6 s / (b^2 T^2 n (n^2 - 1)); harmonic k counts k^2 times.
    """
    count = base.values.shape[1]
    numbers = np.arange(1, len(base.values) + 1)
    signal = np.maximum((np.abs(base.values) ** 2).mean(axis=1) - base.noise, 0)
    information = float((numbers**2 * signal / base.noise).sum())
    spread = base.step_s**2 * count * (count**2 - 1)
    return float(np.sqrt(6 / max(information * spread, 1e-30)) / (2 * np.pi))
