"""Temperaments as chains of fifths, the beats of their intervals, and celestes.

A temperament is given by how much each fifth of the chain Eb Bb F C G D A E B F# C# Ab is
narrower than pure. The last fifth, Ab to Eb, takes what is left over.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from assess import finite, positive
from assess_reeds.pitch import (
    A4_MIDI,
    CENTS_PER_OCTAVE,
    CENTS_PER_SEMITONE,
    CONCERT_A_HZ,
    NOTE_NAMES,
    Status,
    cents_between,
    check_midi,
    note_hz,
    shifted_hz,
)
from assess_reeds.values import Band

PURE_FIFTH_CENTS = CENTS_PER_OCTAVE * math.log2(3 / 2)
PYTHAGOREAN_COMMA_CENTS = 12 * PURE_FIFTH_CENTS - 7 * CENTS_PER_OCTAVE
SYNTONIC_COMMA_CENTS = CENTS_PER_OCTAVE * math.log2(81 / 80)
SCHISMA_CENTS = PYTHAGOREAN_COMMA_CENTS - SYNTONIC_COMMA_CENTS

CHAIN = ("Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "Ab")

# Beats of a celeste per second: about 1 to 2 on pipe organs, about 3 suggested for a mild stop
# (organists' pages). Nothing was found for reed organs. Prefer what the instrument had.
CELESTE_BEATS_PER_S = Band(1.0, 2.0, 3.0)


@dataclass(frozen=True)
class Temperament:
    """The twelve notes of an octave.

    Attributes:
        name: id, one of TEMPERAMENT_NAMES.
        title: what people call it.
        cents_from_c: the twelve notes from C to B, above C [cents].
        status: how it is known.
        source: where it comes from.
    """

    name: str
    title: str
    cents_from_c: tuple[float, ...]
    status: Status
    source: str

    def offset_cents(self, midi: int) -> float:
        """How far a note is above equal temperament, with the same A in both [cents].

        Source: definition of the cent, 100 to a semitone of equal temperament.

        >>> round(named_temperament("werckmeister_iii").offset_cents(60), 2)
        11.73
        """
        a_class, note_class = A4_MIDI % 12, midi % 12
        above_a = self.cents_from_c[note_class] - self.cents_from_c[a_class]
        return above_a - CENTS_PER_SEMITONE * (note_class - a_class)

    def hz(self, midi: int, a_hz: float = CONCERT_A_HZ) -> float:
        """Frequency of a sounding note when A4 is ``a_hz`` [Hz].

        >>> round(named_temperament("quarter_comma_meantone").hz(60), 2)
        263.18
        """
        return shifted_hz(note_hz(midi, a_hz), self.offset_cents(midi))


@dataclass(frozen=True)
class _Scheme:
    """Which fifths are narrower than pure, each named by its lower note [cents]."""

    title: str
    narrow_cents: Mapping[str, float]
    source: str


def _each(fifths: str, cents: float) -> dict[str, float]:
    return dict.fromkeys(fifths.split(), cents)


_ARCHIVE = "a public archive of historical scales, checked against the chain of fifths"
_PC, _SC = PYTHAGOREAN_COMMA_CENTS, SYNTONIC_COMMA_CENTS

# The treatises are cited from memory; the numbers are those of the archive.
_SCHEMES = {
    "equal": _Scheme("equal", _each(" ".join(CHAIN[:-1]), _PC / 12), "ISO 16:1975"),
    "quarter_comma_meantone": _Scheme(
        "quarter-comma meantone",
        _each(" ".join(CHAIN[:-1]), _SC / 4),
        f"{_ARCHIVE}; P. Aaron, Thoscanello de la musica (1523), Eb to G#",
    ),
    "pythagorean_Eb_to_Gsharp": _Scheme("Pythagorean, Eb to G#", {}, _ARCHIVE),
    "werckmeister_iii": _Scheme(
        "Werckmeister III",
        _each("C G D B", _PC / 4),
        f"{_ARCHIVE}; A. Werckmeister, Musicalische Temperatur (1691)",
    ),
    "kirnberger_iii": _Scheme(
        "Kirnberger III",
        _each("C G D A", _SC / 4) | {"F#": SCHISMA_CENTS},
        f"{_ARCHIVE}; J. P. Kirnberger, letter to J. N. Forkel (1779)",
    ),
    "vallotti": _Scheme(
        "Vallotti",
        _each("F C G D A E", _PC / 6),
        f"{_ARCHIVE}; F. A. Vallotti, Della scienza teorica e pratica della moderna musica (1779)",
    ),
    "young_sixth_comma": _Scheme(
        "Young no. 2, sixth of a comma",
        _each("C G D A E B", _PC / 6),
        f"{_ARCHIVE}; T. Young, A Course of Lectures on Natural Philosophy (1807)",
    ),
    "young_no1_idealised": _Scheme(
        "Young no. 1, idealised",
        _each("C G D A", _PC / 6) | _each("Bb F E B", _PC / 12),
        _ARCHIVE,
    ),
    "young_no1_1800": _Scheme(
        "Young no. 1, 1800",
        _each("C G D A", 3 * _SC / 16) | _each("Bb F E B", (_PC - 3 * _SC / 4) / 4),
        f"{_ARCHIVE}, to within 0.04 cent (there as rational string lengths); T. Young, "
        "Philosophical Transactions 90 (1800)",
    ),
}

TEMPERAMENT_NAMES = tuple(_SCHEMES)


def named_temperament(name: str) -> Temperament:
    """A temperament by its name, in its usual form, built on C.

    Source: the chain of fifths of each, as given in its ``source``.

    Args:
        name: one of TEMPERAMENT_NAMES.

    Raises:
        ValueError: no temperament has that name.

    >>> round(named_temperament("quarter_comma_meantone").cents_from_c[4], 3)
    386.314
    """
    if name not in _SCHEMES:
        raise ValueError(f"no temperament {name!r}: the known ones are {', '.join(_SCHEMES)}")
    scheme = _SCHEMES[name]
    cents_from_c = _cents_from_c(scheme.narrow_cents)
    return Temperament(name, scheme.title, cents_from_c, "published", scheme.source)


def _cents_from_c(narrow_cents: Mapping[str, float]) -> tuple[float, ...]:
    above_eb, cents = {}, 0.0
    for note in CHAIN:
        above_eb[note] = cents
        cents += PURE_FIFTH_CENTS - narrow_cents.get(note, 0.0)
    return tuple((above_eb[note] - above_eb["C"]) % CENTS_PER_OCTAVE for note in NOTE_NAMES)


@dataclass(frozen=True)
class Interval:
    """An interval, and the two partials that beat when it is not pure.

    Attributes:
        name: what it is called.
        semitones: its size on the keyboard.
        lower_partial: number of the partial of the lower note.
        upper_partial: number of the partial of the upper note.
    """

    name: str
    semitones: int
    lower_partial: int
    upper_partial: int


INTERVALS = MappingProxyType(
    {
        interval.name: interval
        for interval in (
            Interval("minor_third", 3, 6, 5),
            Interval("major_third", 4, 5, 4),
            Interval("perfect_fourth", 5, 4, 3),
            Interval("perfect_fifth", 7, 3, 2),
            Interval("minor_sixth", 8, 8, 5),
            Interval("major_sixth", 9, 5, 3),
        )
    }
)


def beats_per_s(lower_hz: float, upper_hz: float, interval: str) -> float:
    """Beats of two notes, positive if the interval is wider than pure, negative if narrower.

    upper_partial * upper - lower_partial * lower, at the lowest partials that coincide.

    Source: coincidence of partials (common practice); agrees with S. Teki et al., Journal of
    Neuroscience 32(35) (2012), Table 1. The partials of reeds are harmonic enough for this.

    Args:
        lower_hz: frequency of the lower note [Hz].
        upper_hz: frequency of the upper note [Hz].
        interval: one of INTERVALS.

    Raises:
        ValueError: the interval is not known, or a frequency is not more than zero.

    >>> round(beats_per_s(256.0, 383.5669, "perfect_fifth"), 3)
    -0.866
    """
    partials = _interval(interval)
    positive("a frequency", lower_hz)
    positive("a frequency", upper_hz)
    return partials.upper_partial * upper_hz - partials.lower_partial * lower_hz


def _interval(name: str) -> Interval:
    if name not in INTERVALS:
        raise ValueError(f"no interval {name!r}: the known ones are {', '.join(INTERVALS)}")
    return INTERVALS[name]


def tempered_beats_per_s(
    temperament: Temperament, interval: str, lower_midi: int, a_hz: float = CONCERT_A_HZ
) -> float:
    """Beats of an interval in a temperament, with the sign of ``beats_per_s``.

    Source: as for ``beats_per_s``.

    Args:
        temperament: the temperament.
        interval: one of INTERVALS.
        lower_midi: number of the lower sounding note.
        a_hz: pitch of A4 [Hz].

    Raises:
        ValueError: the interval is not known, or a note or the pitch is out of range.

    >>> equal = named_temperament("equal")
    >>> round(tempered_beats_per_s(equal, "major_third", 53), 2)
    6.93
    """
    upper_midi = lower_midi + _interval(interval).semitones
    return beats_per_s(temperament.hz(lower_midi, a_hz), temperament.hz(upper_midi, a_hz), interval)


@dataclass(frozen=True)
class Beat:
    """One interval to listen to.

    Attributes:
        interval: its name, one of INTERVALS.
        lower_midi: number of its lower note.
        upper_midi: number of its upper note.
        beats_per_s: positive if wider than pure, negative if narrower [1/s].
    """

    interval: str
    lower_midi: int
    upper_midi: int
    beats_per_s: float


@dataclass(frozen=True)
class Bearing:
    """One step in tuning the temperament octave.

    Attributes:
        from_midi: the note that is tuned already.
        to_midi: the note to tune.
        by: the fifth or fourth between them.
        thirds: the major thirds and sixths of the new note, as a check.
        closing: True for the last fifth of the circle. Both its notes are tuned already, and
            its beats show how accurate the octave is.
    """

    from_midi: int
    to_midi: int
    by: Beat
    thirds: tuple[Beat, ...]
    closing: bool = False


def bearings(
    temperament: Temperament, a_hz: float = CONCERT_A_HZ, lowest_midi: int = 53
) -> tuple[Bearing, ...]:
    """The twelve steps of tuning a temperament by ear inside one octave, from its A.

    Fifths up and fourths down from A towards the sharps, then the other way towards the flats.
    The last fifth closes the circle: only listen to it.

    Source: tuning in a circle of fifths and fourths (common practice); the beats as in
    ``beats_per_s``.

    Args:
        temperament: the temperament to set.
        a_hz: pitch of A4 [Hz].
        lowest_midi: lowest sounding note of the octave; F3 is usual.

    Raises:
        ValueError: the octave is out of range, or the pitch is not more than zero.

    >>> first = bearings(named_temperament("equal"))[0]
    >>> first.by.interval, first.from_midi, first.to_midi, round(first.by.beats_per_s, 2)
    ('perfect_fifth', 57, 64, -0.74)
    """
    check_midi(lowest_midi)
    check_midi(lowest_midi + 11)
    start = lowest_midi + (A4_MIDI - lowest_midi) % 12
    towards_flats = CHAIN.index("A")
    towards_sharps = len(CHAIN) - 1 - towards_flats
    steps, tuned = [], [start]
    for fifths, count in ((1, towards_sharps), (-1, towards_flats)):
        note = start
        for _ in range(count):
            new = lowest_midi + (note + 7 * fifths - lowest_midi) % 12
            steps.append(_bearing(temperament, a_hz, note, new, tuned))
            tuned.append(new)
            note = new
    closing = _bearing(temperament, a_hz, tuned[towards_sharps], tuned[-1], [])
    return (*steps, Bearing(closing.from_midi, closing.to_midi, closing.by, (), closing=True))


def _bearing(
    temperament: Temperament, a_hz: float, old: int, new: int, tuned: Sequence[int]
) -> Bearing:
    by = _beat_between(temperament, a_hz, old, new, ("perfect_fifth", "perfect_fourth"))
    thirds = [
        _beat_between(temperament, a_hz, other, new, ("major_third", "major_sixth"))
        for other in tuned
        if abs(other - new) in (4, 9)
    ]
    return Bearing(old, new, by, tuple(thirds))


def _beat_between(
    temperament: Temperament, a_hz: float, one: int, other: int, among: Sequence[str]
) -> Beat:
    lower, upper = sorted((one, other))
    interval = next(name for name in among if INTERVALS[name].semitones == upper - lower)
    return Beat(interval, lower, upper, tempered_beats_per_s(temperament, interval, lower, a_hz))


def celeste_cents(unison_hz: float, beats_per_s: float) -> float:
    """How far a celeste reed is from its unison, to beat at a given rate [cents].

    1200 log2((f + b) / f): equal beats need ever fewer cents up the compass. In the lowest bass
    a flat celeste can ask for a frequency below zero; it is held at an octave there.

    Source: beats of two fundamentals (common practice).

    Args:
        unison_hz: frequency of the reed that it beats with [Hz].
        beats_per_s: beats, negative for a flat celeste [1/s].

    Returns:
        Offset from the unison, negative for a flat celeste [cents].

    Raises:
        ValueError: the frequency is not more than zero, or the beats are not a number.

    >>> [round(celeste_cents(440.0, beats), 1) for beats in (1.0, 2.0, 5.0, -2.0)]
    [3.9, 7.9, 19.6, -7.9]
    >>> round(celeste_cents(20.0, -15.0), 1)
    -1200.0
    """
    positive("the frequency of the unison", unison_hz)
    beats = max(finite("the beats", beats_per_s), -unison_hz / 2)
    return cents_between(unison_hz, unison_hz + beats)


def celeste_beats_per_s(unison_hz: float, cents: float) -> float:
    """Beats of a celeste reed at an offset from its unison, negative if it is flat [1/s].

    Source: as for ``celeste_cents``, solved for the beats.

    Args:
        unison_hz: frequency of the unison [Hz].
        cents: offset of the celeste [cents].

    Raises:
        ValueError: the frequency is not more than zero, or the offset is out of range.

    >>> round(celeste_beats_per_s(440.0, 7.85), 2)
    2.0
    """
    return shifted_hz(unison_hz, cents) - unison_hz
