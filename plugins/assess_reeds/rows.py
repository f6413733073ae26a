"""One row of a reed survey: which reed, how it speaks, what the tuner showed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum

from assess import within
from assess_reeds.pitch import (
    CENTS_PER_SEMITONE,
    CONCERT_A_HZ,
    cents_between,
    check_midi,
    midi_of,
    note_name,
    off_note_cents,
    sounding_midi,
)


class Speech(StrEnum):
    """How a reed answers its key."""

    SPEAKS = "speaks"
    SLOW = "slow"
    WEAK = "weak"
    BUZZ = "buzz"
    CHOKED = "choked"
    DEAD = "dead"
    MISSING = "missing"
    NOT_TRIED = "not tried"


WITHOUT_PITCH = frozenset({Speech.DEAD, Speech.MISSING, Speech.NOT_TRIED})


class Sign(StrEnum):
    """What the remarks say beside the speech."""

    CORRODED = "corroded"
    CRACKED = "cracked"
    DIRTY = "dirty"
    FILED = "filed"
    STUCK = "stuck in its cell"
    NEIGHBOUR = "makes a neighbour sound"


# Words in a craftsman's remark, and the sign they stand for: common practice. They are the
# beginnings of words, so that endings do not matter.
SIGN_WORDS = {
    Sign.CORRODED: ("corro", "verdigris", "green", "pitted", "urine"),
    Sign.CRACKED: ("crack", "fractur"),
    Sign.DIRTY: ("dirt", "dust", "lint", "soot", "splinter"),
    Sign.FILED: ("filed", "file mark", "scraped", "scratch"),
    Sign.STUCK: ("stuck", "frozen", "jammed", "seized"),
    Sign.NEIGHBOUR: (
        "speaks along",
        "sounds along",
        "neighbour speaks",
        "neighbor speaks",
        "sympath",
    ),
}
_DENIALS = re.compile(r"\b(no|not|without|never|none|free of)\b")


def signs_in(remarks: str) -> frozenset[Sign]:
    """Signs named in a remark; a clause with a denial counts for nothing.

    A remark is free text: this finds plain statements and misses the rest.

    Source: SIGN_WORDS.

    >>> sorted(signs_in("verdigris at the rivet, no cracks; lint under the tongue"))
    [<Sign.CORRODED: 'corroded'>, <Sign.DIRTY: 'dirty'>]
    """
    clauses = re.split(r"[,;.:]|\bbut\b", remarks.lower())
    stated = [clause for clause in clauses if not _DENIALS.search(clause)]
    return frozenset(
        sign
        for sign, words in SIGN_WORDS.items()
        if any(re.search(rf"\b{word}", clause) for word in words for clause in stated)
    )


@dataclass(frozen=True)
class ReedRow:
    """One reed as surveyed.

    Attributes:
        key_midi: number of the key as written.
        rank: name of the rank, or of the half of it that has its own stop.
        feet: length of the rank: 32, 16, 8, 4 or 2 [ft].
        speech: how it answers.
        cents: what the tuner showed beside the note, or None [cents].
        shown_midi: the note that the tuner showed, if it was not the note that the reed should
            sound (a set half a semitone high shows the next note); otherwise None.
        hz: frequency instead of cents, or None [Hz].
        celeste: whether the rank is meant to beat with another.
        signs: what the remarks say beside the speech.
        remarks: anything else, kept as written.
        side: where it lies, such as front or rear, bass or treble; kept as written.
        cents_sd: standard uncertainty of the cents, 0 where it is not known [cents].

    Raises:
        ValueError: a note or length that does not exist, two readings at once, a reading out of
            range, or a reading of a reed that gave no sound.
    """

    key_midi: int
    rank: str
    feet: int = 8
    speech: Speech = Speech.SPEAKS
    cents: float | None = None
    shown_midi: int | None = None
    hz: float | None = None
    celeste: bool = False
    signs: frozenset[Sign] = frozenset()
    remarks: str = ""
    side: str = ""
    cents_sd: float = 0.0

    def __post_init__(self) -> None:
        sounding_midi(self.key_midi, self.feet)
        if not self.rank.strip():
            raise ValueError(f"the reed of key {note_name(self.key_midi)} needs the name of a rank")
        self._check_reading()

    def _check_reading(self) -> None:
        if self.cents is not None and self.hz is not None:
            raise ValueError(f"{self.label}: give cents or hertz, not both")
        if self.shown_midi is not None and self.cents is None:
            raise ValueError(f"{self.label}: the note shown needs its cents")
        if self.has_reading and self.speech in WITHOUT_PITCH:
            raise ValueError(f"{self.label}: a reed that is {self.speech.value} has no pitch")
        if self.cents is not None:
            within(f"{self.label}: the cents", self.cents, -1200.0, 1200.0)
        if self.hz is not None:
            within(f"{self.label}: the frequency", self.hz, 8.0, 16000.0, " Hz")
        if self.shown_midi is not None:
            check_midi(self.shown_midi)

    @property
    def has_reading(self) -> bool:
        """Whether a pitch was read."""
        return self.cents is not None or self.hz is not None

    @property
    def sounding_midi(self) -> int:
        """The note that this reed should sound."""
        return sounding_midi(self.key_midi, self.feet)

    @property
    def rank_name(self) -> str:
        """The rank with its length.

        >>> ReedRow(53, "Viola", 4).rank_name
        'Viola 4 ft'
        """
        return f"{self.rank} {self.feet} ft"

    @property
    def label(self) -> str:
        """The name of the reed in a message.

        >>> ReedRow(53, "Viola", 4).label
        'Viola 4 ft, key F3'
        """
        return f"{self.rank_name}, key {note_name(self.key_midi)}"


def _speech(text: str) -> Speech:
    word = text.strip().lower()
    known = [speech.value for speech in Speech]
    if word in known:
        return Speech(word)
    close = get_close_matches(word, known, 1)
    hint = f"did you mean {close[0]!r}?" if close else f"write one of {', '.join(known)}"
    raise ValueError(f"{text!r} does not say how a reed speaks: {hint}")


def reed_row(
    key: str,
    rank: str,
    feet: int = 8,
    speech: str = "speaks",
    *,
    cents: float | None = None,
    shown: str | None = None,
    hz: float | None = None,
    celeste: bool = False,
    remarks: str = "",
    side: str = "",
    cents_sd: float = 0.0,
) -> ReedRow:
    """A row from words as written down; its signs are those that the remarks name.

    Args:
        key: name of the key, such as "F3" (C4 is middle C).
        rank: name of the rank.
        feet: length of the rank [ft].
        speech: one of the words of Speech.
        cents: what the tuner showed [cents].
        shown: the note that the tuner showed, if it was not the right one.
        hz: frequency instead of cents [Hz].
        celeste: whether the rank is meant to beat.
        remarks: free text.
        side: where it lies.
        cents_sd: standard uncertainty of the cents, 0 where it is not known [cents].

    Raises:
        ValueError: a word or note that is not known, or a row that contradicts itself.

    >>> reed_row("A4", "Viola", 4, "slow", cents=-7.0, remarks="green at the heel").signs
    frozenset({<Sign.CORRODED: 'corroded'>})
    """
    return ReedRow(
        key_midi=midi_of(key),
        rank=rank,
        feet=feet,
        speech=_speech(speech),
        cents=cents,
        shown_midi=None if shown is None else midi_of(shown),
        hz=hz,
        celeste=celeste,
        signs=signs_in(remarks),
        remarks=remarks,
        side=side,
        cents_sd=cents_sd,
    )


def reading_cents(row: ReedRow, tuner_a_hz: float = CONCERT_A_HZ) -> float | None:
    """Pitch of a reed above the note it should sound, equal temperament, A4 = 440 Hz [cents].

    Source: the definition of the cent (common practice).

    Args:
        row: the reed.
        tuner_a_hz: what the tuner's A was set to when the cents were read [Hz].

    Returns:
        The cents, or None if no pitch was read.

    Raises:
        ValueError: the tuner's A is outside 300 to 600 Hz.

    >>> round(reading_cents(reed_row("A4", "Viola", hz=454.0)), 1)
    54.2
    >>> reading_cents(reed_row("A4", "Viola", cents=-46.0, shown="Bb4"))
    54.0
    """
    if row.hz is not None:
        return off_note_cents(row.hz, row.sounding_midi)
    if row.cents is None:
        return None
    shown_midi = row.sounding_midi if row.shown_midi is None else row.shown_midi
    semitones = shown_midi - row.sounding_midi
    within("the tuner's A", tuner_a_hz, 300.0, 600.0, " Hz")
    tuner_cents = cents_between(CONCERT_A_HZ, tuner_a_hz)
    return row.cents + CENTS_PER_SEMITONE * semitones + tuner_cents
