"""Cents and hertz, note names, lengths of ranks, and the effect of temperature on reeds.

Notes have MIDI numbers: A4 = 69, middle C = C4 = 60. A key has the number of the note it is
written as. The note that sounds depends on the length of the rank.
"""

from __future__ import annotations

import math
import re
from typing import Literal

from assess import positive, within
from assess_reeds.values import Band

CENTS_PER_OCTAVE = 1200.0
CENTS_PER_SEMITONE = 100.0
CONCERT_A_HZ = 440.0  # ISO 16:1975
A4_MIDI = 69

NOTE_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")

# Smallest difference that listeners notice between two tones heard one after the other: common
# practice (published: 2 to 3 Hz at 1000 Hz, which is 3.5 to 5.2 cents). Tones heard together
# show much smaller differences by their beats.
AUDIBLE_CENTS = 5.0

# Length of a rank in feet: semitones from the key to the sounding note (common practice: half
# the pipe length is an octave up).
FOOTAGE_SEMITONES = {32: -24, 16: -12, 8: 0, 4: 12, 2: 24}

# Change of the pitch of a brass tongue for each kelvin that the reed gets warmer [cents/K]. For
# a uniform bar it is 1200 / ln 2 * (e + a) / 2, with the relative changes of Young's modulus e
# and of length a (common practice; first order). The likely value uses moduli of brass from
# memory (naval brass 15.0 to 14.6 Mpsi between 70 and 200 F: -0.30; -4e-4/K with expansion
# 1.9e-5/K: -0.33). The high end is the smallest published figure for steel forks (-0.149). No
# measured figure for brass reeds was found, so this stays a range.
REED_CENTS_PER_K = Band(-0.35, -0.30, -0.14)

Status = Literal["published", "common practice", "from memory"]


def cents_between(from_hz: float, to_hz: float) -> float:
    """Interval from one frequency to another, positive upwards [cents].

    cents = 1200 log2(to / from).

    Source: A. J. Ellis's cent, 1200 to the octave (common practice).

    Args:
        from_hz: frequency to measure from [Hz].
        to_hz: frequency to measure to [Hz].

    Raises:
        ValueError: a frequency is not more than zero.

    >>> round(cents_between(440.0, 435.0), 2)
    -19.79
    """
    positive("a frequency", from_hz)
    positive("a frequency", to_hz)
    # Two logarithms instead of one of the quotient, which could overflow.
    return CENTS_PER_OCTAVE * (math.log2(to_hz) - math.log2(from_hz))


def shifted_hz(hz: float, cents: float) -> float:
    """The frequency that is higher by an interval, or lower if it is negative [Hz].

    Source: the definition of the cent, solved for the frequency (common practice).

    Args:
        hz: frequency to start from [Hz].
        cents: interval to move by, -20000 to 20000 [cents].

    Raises:
        ValueError: the frequency is not more than zero, or the interval is out of range.

    >>> round(shifted_hz(440.0, 100.0), 4)
    466.1638
    """
    positive("a frequency", hz)
    within("an interval", cents, -20000.0, 20000.0, " cents")
    return hz * float(2.0 ** (cents / CENTS_PER_OCTAVE))


def note_hz(midi: int, a_hz: float = CONCERT_A_HZ) -> float:
    """Frequency of a note in equal temperament [Hz].

    f = a 2 ** ((m - 69) / 12).

    Source: ISO 16:1975 for A4 = 440 Hz; the MIDI tuning standard for the note numbers.

    Args:
        midi: number of the sounding note, 0 to 127.
        a_hz: pitch of A4 [Hz].

    Raises:
        ValueError: the note is out of range, or the pitch is not more than zero.

    >>> note_hz(57), round(note_hz(60), 4), round(note_hz(60, 435.0), 4)
    (220.0, 261.6256, 258.6525)
    """
    check_midi(midi)
    return positive("the pitch of A", a_hz) * float(2.0 ** ((midi - A4_MIDI) / 12))


def check_midi(midi: int) -> int:
    """Return the number of a note after checking it.

    Raises:
        ValueError: it is outside 0 to 127.
    """
    if not 0 <= midi <= 127:
        raise ValueError(f"note numbers run from 0 to 127 (A4 is 69), not {midi}")
    return midi


def midi_of(name: str) -> int:
    """Number of a note from its name: letter, # or b, octave; C4 is middle C.

    The letter must be a capital. ``c1`` is middle C in one system and three octaves lower in
    another, so a guess could be three octaves wrong.

    Source: scientific pitch notation with MIDI numbers (common practice).

    Raises:
        ValueError: not the name of a note, or outside 0 to 127.

    >>> midi_of("A4"), midi_of("Bb3"), midi_of("F#1"), midi_of("Cb4")
    (69, 58, 30, 59)
    """
    match = re.fullmatch(r"([A-G])([#b♯♭]?)(-?\d)", name.strip())
    if match is None:
        raise ValueError(
            f"{name!r} is not the name of a note: write a capital letter, # or b if needed, "
            "and the octave, as in Bb3 (C4 is middle C)"
        )
    letter, accidental, octave = match.groups()
    semitones = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[accidental]
    return check_midi(12 * (int(octave) + 1) + NOTE_NAMES.index(letter) + semitones)


def note_name(midi: int) -> str:
    """Name of a note in the spelling that tuners show.

    Source: scientific pitch notation (common practice).

    Raises:
        ValueError: the number is outside 0 to 127.

    >>> note_name(69), note_name(58), note_name(29)
    ('A4', 'Bb3', 'F1')
    """
    return f"{NOTE_NAMES[check_midi(midi) % 12]}{midi // 12 - 1}"


def sounding_midi(key_midi: int, feet: int) -> int:
    """The note that sounds when a key is pressed on a rank of a given length.

    Source: half the pipe length is an octave up; 8 ft sounds as written (common practice).

    Args:
        key_midi: number of the key as written, 0 to 127.
        feet: length of the rank: 32, 16, 8, 4 or 2 [ft].

    Raises:
        ValueError: a length that no reed organ has, or a note out of range.

    >>> note_name(sounding_midi(midi_of("C4"), 16)), note_name(sounding_midi(midi_of("C4"), 2))
    ('C3', 'C6')
    """
    if feet not in FOOTAGE_SEMITONES:
        lengths = ", ".join(f"{length:g}" for length in FOOTAGE_SEMITONES)
        raise ValueError(f"the length of a rank is {lengths} ft, not {feet:g} ft")
    return check_midi(check_midi(key_midi) + FOOTAGE_SEMITONES[feet])


def off_note_cents(hz: float, midi: int, a_hz: float = CONCERT_A_HZ) -> float:
    """How far a frequency is above a note of equal temperament [cents].

    Source: the definition of the cent (common practice).

    Args:
        hz: measured frequency [Hz].
        midi: the note to compare it with, 0 to 127.
        a_hz: pitch of A4 [Hz].

    Raises:
        ValueError: the frequency is not more than zero, or the note is out of range.

    >>> round(off_note_cents(454.0, 69), 1)
    54.2
    """
    return cents_between(note_hz(midi, a_hz), hz)


def room_shift_cents(from_c: float, to_c: float) -> Band:
    """How far reeds move when the temperature of the room changes [cents].

    Reeds fall as they get warmer. Organ pipes rise, about ten times as much (from memory).

    Source: REED_CENTS_PER_K, which says how little is known of it. Valid once the reeds
    themselves have the temperature of the room.

    Args:
        from_c: temperature before [degrees C].
        to_c: temperature after [degrees C].

    Raises:
        ValueError: a temperature outside -30 to 50 degrees C.

    >>> room_shift_cents(14.0, 22.0)
    Band(low=-2.8, likely=-2.4, high=-1.12)
    """
    for temperature_c in (from_c, to_c):
        within("the temperature of the room", temperature_c, -30.0, 50.0, " degrees C")
    return REED_CENTS_PER_K.scaled(to_c - from_c)
