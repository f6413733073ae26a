"""A sound model of reeds in a living room, with a known truth.

Reeds have overtones without inharmonicity, speak slowly in the bass, and differ in level. The
room answers with an exponential tail; pumping rumbles, clicks and hiss are added, and the wind
wavers slowly.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np

RATE_HZ = 32_000


@dataclass(frozen=True)
class Played:
    """One key as it is played; hz None is silent, buzz is that of the tongue against the tone."""

    key: int
    hz: float | None
    cents: float = 0.0
    slow: float = 1.0
    level_db: float = 0.0
    second_hz: float | None = None
    buzz: float = 0.0


@dataclass(frozen=True)
class Room:
    """What is heard besides the reeds."""

    hiss_db: float = -62.0
    rumble_db: float = -45.0
    tail_s: float = 0.4
    waver_cents: float = 1.0
    clicks: int = 12
    period_s: float = 2.0
    gap_s: float = 0.15
    rate_hz: int = RATE_HZ
    syllables: int = 0
    voice_db: float = -35.0


def reed(
    hz: float, length_s: float, slow: float, room: Room, rng: np.random.Generator
) -> np.ndarray:
    """One reed tone, shape (n,), peak about 0.1."""
    t = np.arange(int(length_s * room.rate_hz)) / room.rate_hz
    waver = room.waver_cents * np.sin(2 * np.pi * (rng.uniform(0.3, 0.9) * t + rng.uniform()))
    phase = 2 * np.pi * np.cumsum(hz * 2 ** (waver / 1200)) / room.rate_hz
    rise_s = slow * (0.03 + 3 / hz)
    tone = np.zeros_like(t)
    slope = rng.uniform(0.7, 1.1)
    grows = 1 - np.exp(-t / rise_s * 2.3)
    grows_later = grows**2
    turn = np.exp(1j * phase)
    turned = np.ones_like(turn)
    for n in range(1, int(min(30, 0.45 * room.rate_hz / hz)) + 1):
        # Small radiation of the lowest tones: the fundamental of a bass reed is weak.
        weak = 1 / (1 + (120 / (n * hz)) ** 2)
        size = weak * n**-slope * 10 ** (rng.normal(0, 3) / 20)
        start = size * np.exp(2j * np.pi * rng.uniform())
        turned = turned * turn
        # The higher overtones come later.
        tone += (grows if n < 9 else grows_later) * (start * turned).imag
    fade = int(0.03 * room.rate_hz)
    tone[-fade:] *= np.linspace(1, 0, fade)
    return (
        0.05
        * tone
        / max(np.sqrt((tone**2).mean()), 1e-9)
        * (1 + 0.03 * np.sin(2 * np.pi * 0.7 * t))
    )


def recording(
    played: list[Played], room: Room, seed: int, onsets: list[float] | None = None
) -> np.ndarray:
    """All of it as a microphone hears it, shape (n,), full scale 1."""
    rng = np.random.default_rng(seed)
    starts = onsets or [
        1.0 + room.period_s * i + rng.normal(0, 0.05 * room.period_s) for i in range(len(played))
    ]
    total = int((starts[-1] + room.period_s + 1.5) * room.rate_hz)
    dry = np.zeros(total)
    for start, note in zip(starts, played, strict=True):
        if note.hz is None:
            continue
        length = room.period_s - room.gap_s
        hz = note.hz * 2 ** (note.cents / 1200)
        tone = reed(hz, length, note.slow, room, rng)
        if note.second_hz is not None:
            tone = tone + reed(note.second_hz, length, note.slow, room, rng)
        if note.buzz:
            strikes = np.sin(2 * np.pi * hz * np.arange(len(tone)) / room.rate_hz) > 0.7
            tone = tone + note.buzz * tone.std() * strikes * rng.normal(0, 1, len(tone))
        tone *= 10 ** ((note.level_db + rng.normal(0, 2)) / 20)
        first = int(start * room.rate_hz)
        dry[first : first + len(tone)] += tone[: total - first]
    return dry_in_room(dry, room, rng)


def dry_in_room(dry: np.ndarray, room: Room, rng: np.random.Generator) -> np.ndarray:
    """Add what the room does: a tail, rumble, hiss, clicks."""
    n = int(room.tail_s * room.rate_hz)
    tail = rng.normal(0, 1, n) * 10 ** (-3 * np.arange(n) / n)
    tail *= 0.5 / np.sqrt((tail**2).sum())
    tail[0] += 1
    size = 1 << int(np.ceil(np.log2(len(dry) + n)))
    wet = np.fft.irfft(np.fft.rfft(dry, size) * np.fft.rfft(tail, size), size)[: len(dry)]
    t = np.arange(len(dry)) / room.rate_hz
    rumble = np.cumsum(rng.normal(0, 1, len(dry)))
    low = max(int(room.rate_hz / 30), 1)
    rumble -= np.convolve(rumble, np.ones(low) / low, "same")
    rumble *= (1 + np.sin(2 * np.pi * 0.8 * t)) / 2 / rumble.std()
    wet += 10 ** (room.rumble_db / 20) * rumble
    wet += 10 ** (room.hiss_db / 20) * rng.normal(0, 1, len(dry))
    for at in rng.integers(0, len(dry) - 400, room.clicks):
        knock = rng.normal(0, 1, 400) * np.exp(-np.arange(400) / 60)
        wet[at : at + 400] += 0.08 * knock
    for at in rng.integers(0, len(dry) - room.rate_hz, room.syllables):
        voice = syllable(room, rng)
        wet[at : at + len(voice)] += 10 ** (room.voice_db / 20) * voice
    return wet


def syllable(room: Room, rng: np.random.Generator) -> np.ndarray:
    """A piece of a voice whose pitch glides, shape (n,), level 0 dB."""
    t = np.arange(int(rng.uniform(0.15, 0.45) * room.rate_hz)) / room.rate_hz
    hz = rng.uniform(90, 250) * (1 + rng.uniform(-0.5, 0.5) * t)
    phase = 2 * np.pi * np.cumsum(hz) / room.rate_hz
    voice = np.sum([np.sin(n * phase) / n for n in range(1, 14)], axis=0) * np.hanning(len(t))
    return np.asarray(voice / np.sqrt((voice**2).mean()))


def write_wav(path: Path, sound: np.ndarray, rate_hz: int = RATE_HZ, bits: int = 16) -> Path:
    """A WAV file with one channel; 16, 24 bits, or 32 for floating point."""
    if bits == 32:
        data, kind = sound.astype("<f4").tobytes(), 3
    elif bits == 24:
        wide = np.clip(sound * 2**31, -(2**31), 2**31 - 1).astype("<i4")
        data, kind = wide.view(np.uint8).reshape(-1, 4)[:, 1:].tobytes(), 1
    elif bits == 8:
        data, kind = (np.clip(sound * 128, -128, 127) + 128).astype(np.uint8).tobytes(), 1
    else:
        data, kind = np.clip(sound * 32768, -32768, 32767).astype("<i2").tobytes(), 1
    form = struct.pack("<HHIIHH", kind, 1, rate_hz, rate_hz * bits // 8, bits // 8, bits)
    chunks = b"fmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", len(data)) + data
    path.write_bytes(b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks)
    return path


def tempered(key: float, feet_semitones: int = 0) -> float:
    """Equal temperament at A4 = 440 Hz [Hz]."""
    return float(440 * 2 ** ((key + feet_semitones - 69) / 12))
