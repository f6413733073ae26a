"""How a reed speaks: time to speech, level, steadiness, noise beside the tone, beats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assess_reeds.hearing.partials import Baseband
from assess_reeds.hearing.wav_files import Sound

BEAT_HZ = (0.4, 15.0)
SOFT_ENOUGH = 0.5
"""A tone that begins while more than this share of its amplitude sounds says nothing: estimate."""
HIDDEN_SHARE = 0.3
"""How unsure a rise is whose beginning is hidden, as a share of it: estimate."""
BEAT_DEPTH = 0.25
"""A beat changes the amplitude by at least this share of it: estimate."""
NOISE_PIECES = 6
PIECE_PERIODS = 20
"""A piece needs so many periods, or the lines of its spectrum leave nothing between them."""
BEAT_SHARE = 0.05
"""Uncertainty of the rate, as a share of what one period in the whole tone makes: measured on the
sound model."""
LEAST_BEATS = 2.0
"""Fewer beats than this in a tone cannot be told from a slow change of level."""


@dataclass(frozen=True)
class Beats:
    """Beats per second, and their standard uncertainty [1/s]."""

    hz: float
    sd_hz: float


@dataclass(frozen=True)
class Qualities:
    """How one tone sounds.

    Attributes:
        level_db: level of its harmonics [dB of full scale].
        speech_s: time from a tenth to nine tenths of its final amplitude; None if it began before
            the piece did [s].
        speech_sd_s: how finely that time can be told [s].
        noise_db: power between the harmonics against their own [dB].
        unsteady_db: standard deviation of the level [dB].
        slowest_hz: beats slower than this may not be heard [1/s].
        fall_db: how far the level falls from the first to the last quarter [dB].
        beats: of two reeds, None if none were heard.
    """

    level_db: float
    speech_s: float | None
    speech_sd_s: float
    noise_db: float
    unsteady_db: float
    slowest_hz: float
    fall_db: float
    beats: Beats | None


def amplitude(base: Baseband) -> Sound:
    """Amplitude of the tone in each block, all harmonics together, shape (blocks,)."""
    return np.asarray(np.sqrt(2 * (np.abs(base.values) ** 2).sum(axis=0)))


def speech_s(whole: Baseband, final: float) -> tuple[float, float] | None:
    """Time to speech, from a tenth to nine tenths of the final amplitude, and how sure [s].

    Source: the rise time of measuring technique (common practice). The delay between the key and
    the first sound cannot be told from a recording. Where the note before still rings louder than
    a tenth, the rise is taken from the softest moment, which is less sure.

    Args:
        whole: the tone from before its beginning.
        final: its amplitude once it is steady.

    Returns:
        None if it sounded already when the piece began.
    """
    size = amplitude(whole)
    reached = np.flatnonzero(size >= 0.9 * final)
    late = reached[reached > int(size[: max(len(size) // 2, 1)].argmin())]
    if not len(late):
        return None
    end = int(late[0])
    low = np.flatnonzero(size[:end] <= 0.1 * final)
    if len(low):
        return float((end - low[-1]) * whole.step_s), whole.step_s
    softest = int(size[:end].argmin()) if end else 0
    if not end or size[softest] > SOFT_ENOUGH * final:
        return None
    time = float((end - softest) * whole.step_s)
    return time, max(whole.step_s, HIDDEN_SHARE * time)


def noise_beside_db(sound: Sound, base: Baseband, rate_hz: float) -> float:
    """Power of what is not the harmonics, against theirs [dB], above 70 Hz.

    A buzz lasts as long as the tone, a word or a knock does not: of up to NOISE_PIECES pieces of
    the tone the quieter ones count.

    Args:
        sound: the samples that ``base`` was made of, shape (n,).
        base: the tone, shifted by its measured pitch.
        rate_hz: samples per second [Hz].
    """
    periods = len(sound) * base.hz / rate_hz
    count = int(np.clip(periods / PIECE_PERIODS, 1, NOISE_PIECES))
    pieces = np.array_split(sound, count)
    return float(np.quantile([_noise_db(piece, base.hz, rate_hz) for piece in pieces], 0.25))


def _noise_db(sound: Sound, fundamental_hz: float, rate_hz: float) -> float:
    size = len(sound)
    power = np.abs(np.fft.rfft(sound * np.hanning(size))) ** 2
    hz = np.fft.rfftfreq(size, 1 / rate_hz)
    off_hz = np.abs(hz / fundamental_hz - np.round(hz / fundamental_hz)) * fundamental_hz
    beside = off_hz > max(6 / size * rate_hz, 2.0)
    heard = (hz > 70) & (hz < 10_000)
    tone, rest = power[heard & ~beside].sum(), power[heard & beside].sum()
    return float(10 * np.log10((rest + 1e-20) / (tone + 1e-20)))


def beats(base: Baseband) -> Beats | None:
    """Beats of two ranks that sound together, None if there are none.

    The strongest harmonic n of two tones beats n times as fast as their fundamentals. The rate is
    the peak of the spectrum of its squared amplitude.
    """
    strength = (np.abs(base.values[:4]) ** 2).mean(axis=1)
    number = int(np.argmax(strength)) + 1
    power = np.abs(base.values[number - 1]) ** 2
    count = len(power)
    length = count * base.step_s
    swing = (power - power.mean()) / max(float(power.mean()), 1e-30)
    spectrum = np.abs(np.fft.rfft(swing * np.hanning(count), 8 * count)) * 4 / count
    hz = np.fft.rfftfreq(8 * count, base.step_s)
    usable = (hz >= max(BEAT_HZ[0] * number, LEAST_BEATS / length)) & (hz <= BEAT_HZ[1] * number)
    if not usable.any():
        return None
    at = int(np.argmax(np.where(usable, spectrum, 0)))
    if spectrum[at] < 2 * BEAT_DEPTH:
        return None
    return Beats(float(hz[at]) / number, BEAT_SHARE / length / number)


def qualities(sound: Sound, base: Baseband, whole: Baseband, rate_hz: float) -> Qualities:
    """Everything about how a tone sounds.

    Args:
        sound: its steady part, shape (n,).
        base: the steady part, shifted by the measured pitch.
        whole: the same from before its beginning.
        rate_hz: samples per second [Hz].
    """
    size = amplitude(base)
    final = float(np.median(size))
    level = 20 * np.log10(final / np.sqrt(2) + 1e-20)
    spread = 20 * np.log10(size / max(final, 1e-20) + 1e-20)
    told = speech_s(whole, final)
    quarter = max(len(size) // 4, 1)
    fall = float(np.mean(spread[:quarter]) - np.mean(spread[-quarter:]))
    return Qualities(
        float(level),
        told[0] if told else None,
        told[1] if told else 0.0,
        noise_beside_db(sound, base, rate_hz),
        float(np.std(spread)),
        max(BEAT_HZ[0], LEAST_BEATS / (len(size) * base.step_s)),
        fall,
        beats(base),
    )
