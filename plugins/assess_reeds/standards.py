"""Pitches that instruments were made to, and which of them a pitch is close to."""

from __future__ import annotations

from dataclasses import dataclass

from assess_reeds.pitch import Status, cents_between

# A standard this close to a pitch may be the one that the instrument was made to: 8 cents is
# 2 Hz at A4 (estimate from memory). Several standards can be this close.
CLOSE_CENTS = 8.0


@dataclass(frozen=True)
class PitchStandard:
    """A pitch that instruments were made to.

    Attributes:
        name: what it is called.
        a_hz: its A4 [Hz].
        year: when it was set or measured; None if the source does not say.
        status: how the figure is known.
        source: where the figure comes from.
    """

    name: str
    a_hz: float
    year: int | None
    status: Status
    source: str


_HIPKINS = "A. J. Hipkins, Pitch, Musical, Encyclopaedia Britannica 11th ed. vol. 21 (1911)"
_ELLIS = "A. J. Ellis, History of Musical Pitch (1880), quoted in piano-trade summaries"
_FORK = "stamp on the tuning fork"
_FOUND = "reports of restorers: In tune and yet out of tune; The Upper Action (web pages)"

PITCH_STANDARDS = (
    PitchStandard("early German choir pitch", 422.8, 1619, "published", _HIPKINS),
    PitchStandard("English tuning fork", 422.5, 1751, "published", _HIPKINS),
    PitchStandard("tuning fork of a piano builder", 421.6, 1780, "published", _HIPKINS),
    PitchStandard("organs in Dresden", 415.0, None, "published", _HIPKINS),
    PitchStandard("old English organs", 428.7, None, "published", _HIPKINS),
    PitchStandard("London fork, C 506.8 in meantone", 423.7, 1813, "published", _HIPKINS),
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

FOUND_ON_REED_ORGANS = tuple(
    PitchStandard("found on reed organs", a_hz, None, "published", _FOUND)
    for a_hz in (435.0, 440.0, 452.0, 454.0, 462.0)
)


@dataclass(frozen=True)
class StandardMatch:
    """A standard, and how far a pitch is above it [cents]."""

    standard: PitchStandard
    cents: float


def nearest_standards(a_hz: float) -> tuple[StandardMatch, ...]:
    """All known standards, the closest to a pitch first.

    Source: PITCH_STANDARDS and FOUND_ON_REED_ORGANS.

    Args:
        a_hz: pitch of A4 [Hz].

    Raises:
        ValueError: the pitch is not more than zero.

    >>> nearest = nearest_standards(461.5)[0]
    >>> nearest.standard.name, nearest.standard.a_hz, round(nearest.cents, 1)
    ('found on reed organs', 462.0, -1.9)
    """
    matches = [
        StandardMatch(standard, cents_between(standard.a_hz, a_hz))
        for standard in (*PITCH_STANDARDS, *FOUND_ON_REED_ORGANS)
    ]
    return tuple(sorted(matches, key=lambda match: abs(match.cents)))
