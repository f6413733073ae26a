"""Cents and hertz, note names, footages, pitch standards, and what moves the pitch of a reed.

Notes are numbered as MIDI does: A4 = 69, middle C = C4 = 60. A key is numbered by the note it
is written as; what sounds depends on the footage of the rank.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from assess import finite, positive, within
from assess_reeds.values import Band

CENTS_PER_OCTAVE = 1200.0
CENTS_PER_SEMITONE = 100.0
CONCERT_A_HZ = 440.0  # ISO 16:1975
A4_MIDI = 69

NOTE_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")

# Two tones heard one after the other: about 5 cents is often taken as the least difference
# that is noticed (common practice; 2 to 3 Hz at 1000 Hz, published, is 3.5 to 5.2 cents).
# Heard together, beats betray far less.
AUDIBLE_CENTS = 5.0

# A rank of these lengths sounds so many semitones from the key: common practice, pipe length
# halves with each octave.
FOOTAGE_SEMITONES = {32: -24, 16: -12, 8: 0, 4: 12, 2: 24}

# How far the pitch of a brass tongue moves for each degree that the reed is warmer. The middle
# is computed from moduli of brass given from memory (naval brass 15.0 to 14.6 Mpsi between 70
# and 200 F: -0.30; -4e-4/K with expansion 1.9e-5/K: -0.33); the far end is the smallest of the
# published figures for steel forks (-0.149). No measured figure for brass reeds was found, so
# this stays a range.
REED_CENTS_PER_K = Band(-0.35, -0.30, -0.14)

# How far it moves for each kilopascal of suction more. Papers on American reeds report either
# a constant pitch or a slow, nearly straight fall; none gives a number. Estimate from memory:
# replace it by a measurement on the instrument where it matters.
SUCTION_CENTS_PER_KPA = Band(-5.0, -2.0, 0.0)

# About 0.2 kPa makes reeds of 100 to 200 Hz start: Cottingham, Lilly, Reed, "The motion of
# air-driven free reeds" (1999).
SPEAKING_THRESHOLD_PA = 200.0

Status = Literal["published", "common practice", "from memory"]


def cents_between(from_hz: float, to_hz: float) -> float:
    """Interval from one frequency to another, positive upward.

    cents = 1200 log2(to / from).

    Source: A. J. Ellis's cent, 1200 to the octave (common practice).

    Args:
        from_hz: frequency measured from [Hz].
        to_hz: frequency measured to [Hz].

    Raises:
        ValueError: a frequency that is not more than zero.

    >>> round(cents_between(440.0, 435.0), 2)
    -19.79
    """
    positive("a frequency", from_hz)
    positive("a frequency", to_hz)
    # One logarithm of each, so that no quotient of two extreme numbers is ever formed.
    return CENTS_PER_OCTAVE * (math.log2(to_hz) - math.log2(from_hz))


def shifted_hz(hz: float, cents: float) -> float:
    """The frequency so many cents higher (or, if negative, lower).

    Source: the definition of the cent, solved for the frequency (common practice).

    Args:
        hz: frequency to start from [Hz].
        cents: interval to move by, up to 20000 [cents].

    Raises:
        ValueError: a frequency that is not more than zero, or an interval beyond all hearing.

    >>> round(shifted_hz(440.0, 100.0), 4)
    466.1638
    """
    positive("a frequency", hz)
    within("an interval", cents, -20000.0, 20000.0, " cents")
    return hz * float(2.0 ** (cents / CENTS_PER_OCTAVE))


def note_hz(midi: int, a_hz: float = CONCERT_A_HZ) -> float:
    """Frequency of a note in equal temperament.

    f = a 2 ** ((m - 69) / 12).

    Source: ISO 16:1975 for A4 = 440 Hz; MIDI tuning for the numbering of the notes.

    Args:
        midi: number of the sounding note, 0 to 127.
        a_hz: pitch of A4 [Hz].

    Raises:
        ValueError: a note outside the range, or a pitch that is not more than zero.

    >>> note_hz(57), round(note_hz(60), 4), round(note_hz(60, 435.0), 4)
    (220.0, 261.6256, 258.6525)
    """
    check_midi(midi)
    return positive("the pitch of A", a_hz) * float(2.0 ** ((midi - A4_MIDI) / 12))


def check_midi(midi: int) -> int:
    """Pass on the number of a note.

    Raises:
        ValueError: outside 0 to 127.
    """
    if not 0 <= midi <= 127:
        raise ValueError(f"a note is numbered from 0 to 127 (A4 is 69), not {midi}")
    return midi


def midi_of(name: str) -> int:
    """Number of a note from its name: letter, # or b, octave; C4 is middle C.

    The letter must be a capital: ``c1`` is middle C to some and the lowest C but one to
    others, and guessing between them would be three octaves wrong.

    Source: scientific pitch notation with MIDI numbers (common practice).

    Raises:
        ValueError: not such a name, or outside 0 to 127.

    >>> midi_of("A4"), midi_of("Bb3"), midi_of("F#1"), midi_of("Cb4")
    (69, 58, 30, 59)
    """
    match = re.fullmatch(r"([A-G][#b♯♭]?)(-?\d)", name.strip())
    if match is None:
        raise ValueError(
            f"{name!r} is not the name of a note: write a capital letter, # or b if needed, "
            "and the octave, as in Bb3 (C4 is middle C)"
        )
    letter, octave = match.groups()
    return check_midi(12 * (int(octave) + 1) + _semitones_above_c(letter))


def pitch_class_of(letter: str) -> int:
    """Semitones above C of a note name without octave, 0 to 11.

    Raises:
        ValueError: not such a name.

    >>> pitch_class_of("C"), pitch_class_of("Ab"), pitch_class_of("Cb")
    (0, 8, 11)
    """
    if re.fullmatch(r"[A-G][#b♯♭]?", letter.strip()) is None:
        raise ValueError(f"{letter!r} is not the name of a note without octave, such as Bb")
    return _semitones_above_c(letter.strip()) % 12


def _semitones_above_c(letter: str) -> int:
    accidental = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[letter[1:]]
    return NOTE_NAMES.index(letter[0]) + accidental


def note_name(midi: int) -> str:
    """Name of a note in the spelling that tuners show.

    Source: scientific pitch notation (common practice).

    Raises:
        ValueError: outside 0 to 127.

    >>> note_name(69), note_name(58), note_name(29)
    ('A4', 'Bb3', 'F1')
    """
    return f"{NOTE_NAMES[check_midi(midi) % 12]}{midi // 12 - 1}"


def helmholtz_name(midi: int) -> str:
    """Name of a note as catalogues of reed organs write it: the usual compass is FF to f3.

    Source: H. von Helmholtz's octaves, the number raised or the letter doubled (common
    practice; spellings differ below the great octave).

    Raises:
        ValueError: outside 0 to 127.

    >>> [helmholtz_name(midi) for midi in (29, 36, 48, 60, 89)]
    ['FF', 'C', 'c', 'c1', 'f3']
    """
    letter, octave = NOTE_NAMES[check_midi(midi) % 12], midi // 12 - 1
    if octave <= 2:
        return letter[0] * (3 - octave) + letter[1:]
    return letter[0].lower() + letter[1:] + (str(octave - 3) if octave > 3 else "")


def sounding_midi(key_midi: int, feet: int) -> int:
    """The note that sounds when a key is pressed on a rank of this length.

    Source: pipe lengths halve with the octave; 8 ft sounds as written (common practice).

    Args:
        key_midi: number of the key as written, 0 to 127.
        feet: length name of the rank: 32, 16, 8, 4 or 2 [ft].

    Raises:
        ValueError: a length that no reed organ has, or a note out of all range.

    >>> note_name(sounding_midi(midi_of("C4"), 16)), note_name(sounding_midi(midi_of("C4"), 2))
    ('C3', 'C6')
    """
    if feet not in FOOTAGE_SEMITONES:
        lengths = ", ".join(f"{length:g}" for length in FOOTAGE_SEMITONES)
        raise ValueError(f"a rank is {lengths} ft long, not {feet:g} ft")
    return check_midi(check_midi(key_midi) + FOOTAGE_SEMITONES[feet])


def off_note_cents(hz: float, midi: int, a_hz: float = CONCERT_A_HZ) -> float:
    """How far a frequency lies above a note of equal temperament.

    Source: the definition of the cent (common practice).

    Args:
        hz: frequency measured [Hz].
        midi: the note it is held against, 0 to 127.
        a_hz: pitch of A4 [Hz].

    Raises:
        ValueError: a frequency that is not more than zero, or a note out of range.

    >>> round(off_note_cents(454.0, 69), 1)
    54.2
    """
    return cents_between(note_hz(midi, a_hz), hz)


def nearest_note(hz: float, a_hz: float = CONCERT_A_HZ) -> tuple[int, float]:
    """The note a tuner would show, and the cents beside it (from -50 to 50).

    Args:
        hz: frequency measured [Hz].
        a_hz: pitch of A4 the tuner is set to [Hz].

    Raises:
        ValueError: a frequency that is not more than zero, or beyond all notes.

    >>> midi, cents = nearest_note(454.0)
    >>> note_name(midi), round(cents, 1)
    ('Bb4', -45.8)
    """
    above_a = cents_between(a_hz, hz)
    midi = check_midi(A4_MIDI + round(above_a / CENTS_PER_SEMITONE))
    return midi, above_a - CENTS_PER_SEMITONE * (midi - A4_MIDI)


@dataclass(frozen=True)
class PitchStandard:
    """A pitch that instruments have been made to.

    Attributes:
        name: what it is called.
        a_hz: its A4 [Hz].
        year: when it was set or measured; None if that is not told.
        status: how the figure is known.
        source: where it is from.
    """

    name: str
    a_hz: float
    year: int | None
    status: Status
    source: str


_HIPKINS = "A. J. Hipkins, Pitch, Musical, Encyclopaedia Britannica 11th ed. vol. 21 (1911)"
_ELLIS = "A. J. Ellis, History of Musical Pitch (1880), quoted in piano-trade summaries"
_FORK = "legend stamped on the tuning fork"

PITCH_STANDARDS = (
    PitchStandard("Praetorius, Chorton", 422.8, 1619, "published", _HIPKINS),
    PitchStandard("fork said to be Handel's", 422.5, 1751, "published", _HIPKINS),
    PitchStandard("fork for Mozart's piano", 421.6, 1780, "published", _HIPKINS),
    PitchStandard("G. Silbermann organs, Dresden", 415.0, None, "published", _HIPKINS),
    PitchStandard("R. Harris organs", 428.7, None, "published", _HIPKINS),
    PitchStandard("London fork, C 506.8 in mean-tone", 423.7, 1813, "published", _HIPKINS),
    PitchStandard("London fork", 433.2, 1834, "published", _HIPKINS),
    PitchStandard("London orchestra, performing pitch", 452.5, 1846, "published", _HIPKINS),
    PitchStandard("Paris pianos", 446.0, 1854, "published", _ELLIS),
    PitchStandard("diapason normal, as decreed", 435.0, 1859, "published", _HIPKINS),
    PitchStandard("diapason normal, its fork at 15 C", 435.45, 1859, "published", _HIPKINS),
    PitchStandard("London pianos, low", 448.4, 1860, "published", _ELLIS),
    PitchStandard("London orchestra, raised fork", 454.0, 1874, "published", _HIPKINS),
    PitchStandard("London pianos, medium", 449.9, 1877, "published", _ELLIS),
    PitchStandard("London pianos, high", 454.7, 1879, "published", _ELLIS),
    PitchStandard("London pianos, highest", 455.9, 1879, "published", _ELLIS),
    PitchStandard("London pianos, concert", 455.3, 1880, "published", _ELLIS),
    PitchStandard("international, C 517.3", 435.0, 1891, "published", _FORK + ", year from memory"),
    PitchStandard("new philharmonic, C 522", 439.0, 1896, "published", _FORK),
    PitchStandard("military bands, high pitch", 452.4, 1896, "from memory", "from memory"),
    PitchStandard("medium pitch, C 528", 443.99, None, "published", _FORK),
    PitchStandard("old philharmonic, C 540", 454.08, None, "published", _FORK),
    PitchStandard("American musicians' union", 440.0, 1917, "published", _FORK),
    PitchStandard("American standard", 440.0, 1936, "published", "US recommendation"),
    PitchStandard("international standard", 440.0, 1975, "published", "ISO 16:1975"),
)

_FOUND = "reports of restorers: In tune and yet out of tune; The Upper Action (web pages)"

FOUND_ON_REED_ORGANS = tuple(
    PitchStandard(f"found on reed organs, A {a_hz:g}", a_hz, None, "published", _FOUND)
    for a_hz in (435.0, 440.0, 452.0, 454.0, 462.0)
)


@dataclass(frozen=True)
class StandardMatch:
    """A standard, and how far the pitch in hand lies above it [cents]."""

    standard: PitchStandard
    cents: float


def nearest_standards(a_hz: float, within_cents: float = 8.0) -> tuple[StandardMatch, ...]:
    """Standards close to a pitch, the closest first; none is an answer too.

    The default reach, 8 cents, is that of 2 Hz at A4 (estimate from memory): several
    standards may lie within it, and the pitch alone cannot choose between them.

    Args:
        a_hz: pitch of A4 in hand [Hz].
        within_cents: how far away a standard may lie [cents].

    Raises:
        ValueError: a pitch or reach that is not more than zero.

    >>> [match.standard.name for match in nearest_standards(461.5)]
    ['found on reed organs, A 462']
    """
    positive("the reach", within_cents)
    matches = [
        StandardMatch(standard, cents_between(standard.a_hz, a_hz))
        for standard in (*PITCH_STANDARDS, *FOUND_ON_REED_ORGANS)
    ]
    close = [match for match in matches if abs(match.cents) <= within_cents]
    return tuple(sorted(close, key=lambda match: abs(match.cents)))


def warmth_slope_cents_per_k(modulus_per_k: float, expansion_per_k: float) -> float:
    """How far the pitch of a bar moves for each degree, from what its metal does.

    df/f = (e + a) / 2 for each degree, with the relative changes e of Young's modulus and a
    of length: the frequency goes as h sqrt(E / rho) / L**2, and rho falls by 3 a.

    Source: uniform bar, free expansion (common practice); Rayleigh, Theory of Sound vol. 1
    ch. VIII, for the frequency. First order, valid for some tens of degrees.

    Args:
        modulus_per_k: relative change of Young's modulus [1/K].
        expansion_per_k: linear expansion [1/K].

    Raises:
        ValueError: no numbers.

    >>> round(warmth_slope_cents_per_k(-4e-4, 1.9e-5), 3)
    -0.33
    """
    finite("the change of the modulus", modulus_per_k)
    finite("the expansion", expansion_per_k)
    return CENTS_PER_OCTAVE / math.log(2) * (modulus_per_k + expansion_per_k) / 2


def room_shift_cents(from_c: float, to_c: float, cents_per_k: Band = REED_CENTS_PER_K) -> Band:
    """How far reeds move when the room goes from one temperature to another.

    Reeds fall as they warm; organ pipes rise, and about ten times as much (from memory).

    Source: see REED_CENTS_PER_K for the slope and how little is known of it. Valid once the
    reeds themselves have the temperature of the room.

    Args:
        from_c: temperature before [degrees C].
        to_c: temperature after [degrees C].
        cents_per_k: slope to use [cents/K].

    Raises:
        ValueError: a temperature that no room has.

    >>> room_shift_cents(14.0, 22.0)
    Band(low=-2.8, likely=-2.4, high=-1.12)
    """
    for temperature_c in (from_c, to_c):
        within("the room", temperature_c, -30.0, 50.0, " degrees C")
    return cents_per_k.scaled(to_c - from_c)


def suction_shift_cents(
    from_pa: float, to_pa: float, cents_per_kpa: Band = SUCTION_CENTS_PER_KPA
) -> Band:
    """How far a reed moves when the suction goes from one value to another.

    Source: see SUCTION_CENTS_PER_KPA: the sign is that of Koopman, Hanzelka, Cottingham, ASA
    131st meeting (1996) 3aED2; the size is an estimate. Valid in the playing range; above it
    reeds behave erratically.

    Args:
        from_pa: suction before [Pa].
        to_pa: suction after [Pa].
        cents_per_kpa: slope to use [cents/kPa].

    Raises:
        ValueError: a suction too small for a reed to speak, or no number.

    >>> suction_shift_cents(500.0, 750.0)
    Band(low=-1.25, likely=-0.5, high=0.0)
    """
    for suction_pa in (from_pa, to_pa):
        if finite("the suction", suction_pa) < SPEAKING_THRESHOLD_PA:
            raise ValueError(
                f"a reed needs about {SPEAKING_THRESHOLD_PA:g} Pa to speak, not {suction_pa:g} Pa"
            )
    return cents_per_kpa.scaled((to_pa - from_pa) / 1000.0)
