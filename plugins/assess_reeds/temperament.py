"""Temperaments as chains of fifths, their beats, and a celeste that beats evenly.

A temperament is given by how much each fifth of the chain Eb Bb F C G D A E B F# C# Ab is
narrower than pure; the last fifth, Ab to Eb, takes what is left over.
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
    pitch_class_of,
    shifted_hz,
)
from assess_reeds.values import Band

PURE_FIFTH_CENTS = CENTS_PER_OCTAVE * math.log2(3 / 2)
PYTHAGOREAN_COMMA_CENTS = 12 * PURE_FIFTH_CENTS - 7 * CENTS_PER_OCTAVE
SYNTONIC_COMMA_CENTS = CENTS_PER_OCTAVE * math.log2(81 / 80)
SCHISMA_CENTS = PYTHAGOREAN_COMMA_CENTS - SYNTONIC_COMMA_CENTS

CHAIN = ("Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "Ab")

# How fast a celeste beats: about 1 to 2 a second on pipe organs, about 3 for a mild stop
# (organists' pages); nothing was found for reed organs. What the instrument had goes first.
CELESTE_BEATS_PER_S = Band(1.0, 2.0, 3.0)


@dataclass(frozen=True)
class Temperament:
    """Twelve notes in the octave.

    Attributes:
        name: what it is asked for by.
        title: what people call it.
        key: the note it is built on; C is the usual form.
        cents_from_c: the notes C to B above C [cents].
        status: how it is known.
        source: where it is from.
    """

    name: str
    title: str
    key: str
    cents_from_c: tuple[float, ...]
    status: Status
    source: str

    def offset_cents(self, midi: int) -> float:
        """How far a note lies above equal temperament, with A the same in both [cents].

        >>> round(temperament("werckmeister_iii").offset_cents(60), 2)
        11.73
        """
        a_class, note_class = A4_MIDI % 12, midi % 12
        above_a = self.cents_from_c[note_class] - self.cents_from_c[a_class]
        return above_a - CENTS_PER_SEMITONE * (note_class - a_class)

    def hz(self, midi: int, a_hz: float = CONCERT_A_HZ) -> float:
        """Frequency of a sounding note, A4 being ``a_hz`` [Hz].

        >>> round(temperament("quarter_comma_meantone").hz(60), 2)
        263.18
        """
        return shifted_hz(note_hz(midi, a_hz), self.offset_cents(midi))

    def same_as(self, other: Temperament, within_cents: float = 0.01) -> bool:
        """Whether no note differs by more than ``within_cents``, whatever they are called."""
        pairs = zip(self.cents_from_c, other.cents_from_c, strict=True)
        return all(abs(mine - theirs) <= within_cents for mine, theirs in pairs)


@dataclass(frozen=True)
class _Scheme:
    """Which fifths are narrower than pure, each named by its lower note [cents]."""

    title: str
    narrow_cents: Mapping[str, float]
    status: Status
    source: str


def _each(fifths: str, cents: float) -> dict[str, float]:
    return dict.fromkeys(fifths.split(), cents)


_ARCHIVE = "scale archive of M. Op de Coul, "
_PC, _SC = PYTHAGOREAN_COMMA_CENTS, SYNTONIC_COMMA_CENTS

_SCHEMES = {
    "equal": _Scheme("equal", _each(" ".join(CHAIN[:-1]), _PC / 12), "published", "ISO 16:1975"),
    "quarter_comma_meantone": _Scheme(
        "quarter-comma mean-tone",
        _each(" ".join(CHAIN[:-1]), _SC / 4),
        "published",
        _ARCHIVE + "meanquar.scl: Aaron 1523, Eb to G#",
    ),
    "pythagorean_Eb_to_Gsharp": _Scheme(
        "Pythagorean, Eb to G#", {}, "published", _ARCHIVE + "pyth_12.scl"
    ),
    "werckmeister_iii": _Scheme(
        "Werckmeister III", _each("C G D B", _PC / 4), "published", _ARCHIVE + "werck3.scl"
    ),
    "kirnberger_iii": _Scheme(
        "Kirnberger III",
        _each("C G D A", _SC / 4) | {"F#": SCHISMA_CENTS},
        "published",
        _ARCHIVE + "kirnberger.scl: letter to Forkel, 1779",
    ),
    "vallotti": _Scheme(
        "Vallotti", _each("F C G D A E", _PC / 6), "published", _ARCHIVE + "vallotti.scl"
    ),
    "young_sixth_comma": _Scheme(
        "Young, sixth of a comma",
        _each("C G D A E B", _PC / 6),
        "published",
        _ARCHIVE + "young.scl, usually called Young II",
    ),
    "young_no1_idealised": _Scheme(
        "Young no. 1, idealised",
        _each("C G D A", _PC / 6) | _each("Bb F E B", _PC / 12),
        "published",
        _ARCHIVE + "young2.scl (the file is numbered otherwise)",
    ),
    "young_no1_1800": _Scheme(
        "Young no. 1, 1800",
        _each("C G D A", 3 * _SC / 16) | _each("Bb F E B", (_PC - 3 * _SC / 4) / 4),
        "published",
        _ARCHIVE + "young1.scl, to within 0.04 cent (the file has rational string lengths)",
    ),
}

TEMPERAMENT_NAMES = tuple(_SCHEMES)


def temperament(name: str, key: str = "C") -> Temperament:
    """A temperament by name, built on any note.

    Source: the chain of fifths of each, as named in its ``source``. A key other than C moves
    the whole scheme: its best keys then lie round that note.

    Args:
        name: one of TEMPERAMENT_NAMES.
        key: note that takes the place of C, such as "D".

    Raises:
        ValueError: a name that is not known.

    >>> round(temperament("quarter_comma_meantone").cents_from_c[4], 3)
    386.314
    >>> temperament("vallotti", "G").same_as(temperament("young_sixth_comma"))
    True
    """
    if name not in _SCHEMES:
        raise ValueError(f"no temperament {name!r}: known are {', '.join(TEMPERAMENT_NAMES)}")
    scheme, shift = _SCHEMES[name], pitch_class_of(key)
    on_c = _cents_from_c(scheme.narrow_cents)
    moved = tuple(
        (on_c[(note - shift) % 12] - on_c[-shift % 12]) % CENTS_PER_OCTAVE for note in range(12)
    )
    return Temperament(name, scheme.title, key, moved, scheme.status, scheme.source)


def _cents_from_c(narrow_cents: Mapping[str, float]) -> tuple[float, ...]:
    above_eb, cents = {}, 0.0
    for note in CHAIN:
        above_eb[note] = cents
        cents += PURE_FIFTH_CENTS - narrow_cents.get(note, 0.0)
    return tuple((above_eb[note] - above_eb["C"]) % CENTS_PER_OCTAVE for note in NOTE_NAMES)


def a_hz_from(midi: int, hz: float, tempering: Temperament | None = None) -> float:
    """The A4 that belongs to another note, such as the C stamped on a fork.

    Source: the definition of the temperament (common practice).

    Args:
        midi: number of the sounding note that is known.
        hz: its frequency [Hz].
        tempering: temperament that leads from it to A; equal if not told.

    Raises:
        ValueError: a frequency that is not more than zero, or a note out of range.

    >>> round(a_hz_from(72, 540.0), 2)
    454.08
    >>> round(a_hz_from(72, 506.8, temperament("quarter_comma_meantone")), 2)
    423.65
    """
    chosen = tempering or temperament("equal")
    return positive("the frequency", hz) * CONCERT_A_HZ / chosen.hz(check_midi(midi))


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
            Interval("unison", 0, 1, 1),
            Interval("minor_third", 3, 6, 5),
            Interval("major_third", 4, 5, 4),
            Interval("perfect_fourth", 5, 4, 3),
            Interval("perfect_fifth", 7, 3, 2),
            Interval("minor_sixth", 8, 8, 5),
            Interval("major_sixth", 9, 5, 3),
            Interval("octave", 12, 2, 1),
            Interval("two_octaves", 24, 4, 1),
        )
    }
)


def beats_per_s(lower_hz: float, upper_hz: float, interval: str) -> float:
    """Beats of two notes, positive where the interval is wider than pure, negative if narrower.

    upper_partial * upper - lower_partial * lower, at the lowest partials that coincide.

    Source: coincidence of partials (common practice); agrees with S. Teki et al., Journal of
    Neuroscience 32(35) (2012), Table 1. Reeds are near enough to harmonic for this.

    Args:
        lower_hz: frequency of the lower note [Hz].
        upper_hz: frequency of the upper note [Hz].
        interval: one of INTERVALS.

    Raises:
        ValueError: an interval that is not known, or a frequency that is not more than zero.

    >>> round(beats_per_s(256.0, 383.5669, "perfect_fifth"), 3)
    -0.866
    """
    if interval not in INTERVALS:
        raise ValueError(f"no interval {interval!r}: known are {', '.join(INTERVALS)}")
    partials = INTERVALS[interval]
    positive("a frequency", lower_hz)
    positive("a frequency", upper_hz)
    return partials.upper_partial * upper_hz - partials.lower_partial * lower_hz


def tempered_beats_per_s(
    tempering: Temperament, interval: str, lower_midi: int, a_hz: float = CONCERT_A_HZ
) -> float:
    """Beats of an interval as a temperament has it; the sign as in ``beats_per_s``.

    Source: as for ``beats_per_s``.

    Args:
        tempering: the temperament.
        interval: one of INTERVALS.
        lower_midi: number of the lower sounding note.
        a_hz: pitch of A4 [Hz].

    Raises:
        ValueError: an interval that is not known, or a note or pitch out of range.

    >>> round(tempered_beats_per_s(temperament("equal"), "major_third", 53), 2)
    6.93
    """
    if interval not in INTERVALS:
        raise ValueError(f"no interval {interval!r}: known are {', '.join(INTERVALS)}")
    upper_midi = lower_midi + INTERVALS[interval].semitones
    return beats_per_s(tempering.hz(lower_midi, a_hz), tempering.hz(upper_midi, a_hz), interval)


@dataclass(frozen=True)
class Beat:
    """One interval to listen to.

    Attributes:
        interval: its name.
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
    """One step in setting the octave that all else is tuned from.

    Attributes:
        from_midi: the note that stands already.
        to_midi: the note to tune; in the closing step it stands already too, and tells by
            its beats how well the round came out.
        by: the fifth or fourth between them.
        thirds: the major thirds and sixths that the new note makes, to check it by.
        closing: whether this is the last fifth of the circle, a check only.
    """

    from_midi: int
    to_midi: int
    by: Beat
    thirds: tuple[Beat, ...]
    closing: bool = False


def bearings(
    tempering: Temperament, a_hz: float = CONCERT_A_HZ, lowest_midi: int = 53
) -> tuple[Bearing, ...]:
    """How to set a temperament by ear inside one octave, from its A.

    Fifths up and fourths down from A towards the sharps, then the other way towards the
    flats; the last fifth closes the circle and is only listened to.

    Source: tuning in a circle of fifths and fourths (common practice); the beats as in
    ``beats_per_s``.

    Args:
        tempering: the temperament to set.
        a_hz: pitch of A4 [Hz].
        lowest_midi: lowest sounding note of the octave; F3 is usual.

    Raises:
        ValueError: an octave out of range, or a pitch that is not more than zero.

    >>> first = bearings(temperament("equal"))[0]
    >>> first.by.interval, first.from_midi, first.to_midi, round(first.by.beats_per_s, 2)
    ('perfect_fifth', 57, 64, -0.74)
    """
    check_midi(lowest_midi)
    check_midi(lowest_midi + 11)
    start = lowest_midi + (A4_MIDI - lowest_midi) % 12
    home = CHAIN.index("A")
    towards_sharps, towards_flats = len(CHAIN) - 1 - home, home
    steps, standing = [], [start]
    for fifths, count in ((1, towards_sharps), (-1, towards_flats)):
        note = start
        for _ in range(count):
            new = lowest_midi + (note + 7 * fifths - lowest_midi) % 12
            steps.append(_bearing(tempering, a_hz, note, new, standing))
            standing.append(new)
            note = new
    last_sharp = standing[towards_sharps]
    closing = _bearing(tempering, a_hz, last_sharp, standing[-1], [])
    return (*steps, Bearing(closing.from_midi, closing.to_midi, closing.by, (), closing=True))


def _bearing(
    tempering: Temperament, a_hz: float, old: int, new: int, standing: Sequence[int]
) -> Bearing:
    by = _beat_between(tempering, a_hz, old, new, ("perfect_fifth", "perfect_fourth"))
    thirds = [
        _beat_between(tempering, a_hz, other, new, ("major_third", "major_sixth"))
        for other in standing
        if abs(other - new) in (4, 9)
    ]
    return Bearing(old, new, by, tuple(thirds))


def _beat_between(
    tempering: Temperament, a_hz: float, one: int, other: int, among: Sequence[str]
) -> Beat:
    lower, upper = sorted((one, other))
    interval = next(name for name in among if INTERVALS[name].semitones == upper - lower)
    return Beat(interval, lower, upper, tempered_beats_per_s(tempering, interval, lower, a_hz))


def celeste_cents(unison_hz: float, beats_per_s: float, *, sharp: bool = True) -> float:
    """How far a celeste reed lies from its unison to beat at a given rate.

    1200 log2((f + b) / f), or f - b for a flat celeste: the same beats need ever fewer cents
    up the compass.

    Source: beats of two fundamentals (common practice).

    Args:
        unison_hz: frequency of the reed it beats with [Hz].
        beats_per_s: beats wanted [1/s].
        sharp: whether the celeste is the sharper of the two.

    Returns:
        Offset from the unison, negative for a flat celeste [cents].

    Raises:
        ValueError: a frequency that is not more than zero, a negative rate, or a flat celeste
            that would have to beat faster than its unison sounds.

    >>> [round(celeste_cents(440.0, beats), 1) for beats in (1.0, 2.0, 3.0, 5.0)]
    [3.9, 7.9, 11.8, 19.6]
    """
    positive("the frequency of the unison", unison_hz)
    if finite("the beats", beats_per_s) < 0:
        raise ValueError("the beats cannot be negative: say flat or sharp instead")
    celeste_hz = unison_hz + (beats_per_s if sharp else -beats_per_s)
    if celeste_hz <= 0:
        raise ValueError(
            f"a flat celeste to {unison_hz:g} Hz cannot beat {beats_per_s:g} times a second"
        )
    return cents_between(unison_hz, celeste_hz)


def celeste_beats_per_s(unison_hz: float, cents: float) -> float:
    """Beats of a celeste reed so many cents from its unison; negative if it is flat.

    Source: as for ``celeste_cents``, solved for the beats.

    Args:
        unison_hz: frequency of the unison [Hz].
        cents: offset of the celeste [cents].

    Raises:
        ValueError: a frequency that is not more than zero, or an interval beyond all hearing.

    >>> round(celeste_beats_per_s(440.0, 7.85), 2)
    2.0
    """
    return shifted_hz(unison_hz, cents) - unison_hz


def even_celeste(
    midis: Sequence[int],
    beats_per_s: float,
    a_hz: float = CONCERT_A_HZ,
    tempering: Temperament | None = None,
    *,
    sharp: bool = True,
) -> dict[int, float]:
    """The offset of every note of a celeste that beats equally fast from end to end.

    Source: as for ``celeste_cents``. A celeste tuned by octaves instead would beat twice as
    fast in each octave upward.

    Args:
        midis: sounding notes of the rank.
        beats_per_s: beats wanted [1/s].
        a_hz: pitch of A4 of the unison [Hz].
        tempering: temperament of the unison; equal if not told.
        sharp: whether the celeste is the sharper of the two.

    Returns:
        Offset from the unison for each note [cents].

    Raises:
        ValueError: as for ``celeste_cents``.

    >>> offsets = even_celeste([57, 69, 81], 2.0)
    >>> {midi: round(cents, 1) for midi, cents in offsets.items()}
    {57: 15.7, 69: 7.9, 81: 3.9}
    """
    chosen = tempering or temperament("equal")
    return {midi: celeste_cents(chosen.hz(midi, a_hz), beats_per_s, sharp=sharp) for midi in midis}
