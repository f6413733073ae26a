"""What a survey says of tuning: pitch, its spread, how the ranks agree, and the celeste."""

from __future__ import annotations

from assess import Measurement, sentence
from assess_reeds import answering
from assess_reeds.found_tuning import LEAST_BEAT_HZ, CelesteFit
from assess_reeds.pitch import CENTS_PER_OCTAVE
from assess_reeds.retune import frail_ranks
from assess_reeds.standards import CLOSE_CENTS, StandardMatch, nearest_standards
from assess_reeds.survey import ROBUST, Survey

SHOWN_STANDARDS = 3
PITCH_HZ = (380.0, 520.0)
"""The pitches that an instrument can have; what is outside is no answer."""
FASTEST_BEAT_HZ = 20.0
HALF_CENT = 0.5
RANK_OFF_CENTS = 12.0
"""A rank further than this from the others is clearly apart: estimate from memory."""


def pitch(found: Survey) -> list[Measurement]:
    """The pitch that all ranks agree on best, with the temperament [Hz of the A above middle C]."""
    tuning = found.tuning
    if tuning.pitch is None:
        return []
    hz_per_cent = tuning.pitch.a_hz * 0.000578  # one cent as a share of a frequency: ln 2 / 1200
    return [
        Measurement(
            "pitch_a" if PITCH_HZ[0] <= tuning.pitch.a_hz <= PITCH_HZ[1] else "pitch_found",
            "Pitch of the instrument, as the A above middle C",
            "Hz",
            "least absolute deviations over all ranks",
            ROBUST,
            tuning.pitch.a_hz,
            tuning.pitch.sd_cents * hz_per_cent,
            (("reeds read", str(tuning.pitch.readings)),),
            f"{sentence(tuning.says)} Temperament: {tuning.temperament.says}.",
        )
    ]


def standard(a_hz: float | None) -> list[Measurement]:
    """How far a pitch is from the nearest known standard [cents]."""
    if a_hz is None:
        return []
    nearest = nearest_standards(a_hz)
    close = [match for match in nearest if abs(match.cents) <= CLOSE_CENTS]
    shown = close[:SHOWN_STANDARDS] or nearest[:1]
    named = "; ".join(_match(match) for match in shown)
    return [
        Measurement(
            "pitch_standard",
            "Distance of its pitch from the nearest known standard",
            "cents",
            "cents between the pitch and each known standard",
            "; ".join(dict.fromkeys(match.standard.source for match in shown)),
            nearest[0].cents,
            None,
            (("pitch", f"{a_hz:.1f} Hz"),),
            f"Close to: {named}."
            if close
            else f"No known standard within {CLOSE_CENTS:g} cents; the nearest is {named}.",
        )
    ]


def _match(match: StandardMatch) -> str:
    year = f", {match.standard.year}" if match.standard.year else ""
    return f"{match.standard.name} ({match.standard.a_hz:g} Hz{year}), {_distance(match.cents)}"


def _distance(cents: float) -> str:
    if abs(cents) < HALF_CENT:
        return "met to the cent"
    return f"{abs(cents):.0f} cents {'above' if cents > 0 else 'below'} it"


def spread(found: Survey) -> list[Measurement]:
    """How far the middle half of the widest rank spreads [cents]."""
    widest = answering.widest(found)
    if widest is None:
        return []
    middle_half = 2 * widest.spread_cents
    return [
        Measurement(
            "rank_spread",
            "Spread of the middle half of the reeds in the widest rank",
            "cents",
            "twice the median distance from the pitch of the rank",
            ROBUST,
            middle_half,
            None,
            (("rank", widest.rank_name), ("reeds read", str(len(widest.key_midis)))),
            f"Half of its reeds are within {middle_half:.0f} cents of each other.",
        )
    ]


def ranks_apart(found: Survey, reeds: float | None) -> list[Measurement]:
    """The largest difference in pitch between ranks [cents], where enough reeds were read."""
    apart = answering.ranks_apart(found, reeds)
    if apart is None:
        return []
    low, high = apart.lowest, apart.highest
    return [
        Measurement(
            "ranks_agree",
            "Largest difference in pitch between ranks, without the celeste",
            "cents",
            "difference between the median pitches of the ranks",
            ROBUST,
            min(apart.cents, CENTS_PER_OCTAVE),
            None,
            (("ranks compared", str(apart.ranks)),),
            f"{high.rank_name} at {high.a_hz:.1f} Hz, {low.rank_name} at {low.a_hz:.1f} Hz.",
        )
    ]


def ranks_off(found: Survey, reeds: float | None) -> list[Measurement]:
    """Ranks to tune to the others: which, which way, and whether their reeds may be moved."""
    if answering.ranks_apart(found, reeds) is None:
        return []
    off = answering.ranks_off(found, RANK_OFF_CENTS)
    frail = frail_ranks(found)
    says = [
        f"{one.rank_name}: {abs(cents):.0f} cents {'sharp' if cents > 0 else 'flat'} of the others"
        f"{', and too frail to move' if one.rank_name in frail else ''}"
        for one, cents in off
    ]
    return [
        Measurement(
            "ranks_off",
            "Ranks that are off the others",
            "count",
            f"ranks more than {RANK_OFF_CENTS:g} cents from the pitch that most reeds share",
            ROBUST,
            float(len(off)),
            None,
            (("ranks compared", str(len(answering.mains(found)))),),
            " ".join(sentence(said) for said in says or ["none"]),
        )
    ]


def celeste(found: Survey) -> list[Measurement]:
    """The beat of the celeste against its unison [Hz], as found."""
    celestes = found.tuning.celestes
    if not celestes:
        return []
    usual = abs(celestes[0].beats_per_s) <= FASTEST_BEAT_HZ
    return [
        Measurement(
            "celeste_beat" if usual else "celeste_as_found",
            "Beats per second of the celeste, from the survey",
            "Hz",
            "median of the differences in frequency from its unison",
            ROBUST,
            abs(celestes[0].beats_per_s),
            None,
            (("rank", f"{celestes[0].rank} {celestes[0].feet} ft"),),
            f"{' '.join(_celeste_says(one) for one in celestes)} Keep this record: it is what you "
            "restore.",
        )
    ]


def _celeste_says(fit: CelesteFit) -> str:
    name = f"{fit.rank} {fit.feet} ft"
    if abs(fit.beats_per_s) < LEAST_BEAT_HZ:
        return f"{name}: no beat. Look for a top mute before you tune it."
    side = "sharp" if fit.beats_per_s > 0 else "flat"
    evenness = {
        True: "even up the compass",
        False: "faster towards the treble, so it was tuned in octaves",
        None: "not clear whether it is even",
    }[fit.even]
    beats = f"{abs(fit.beats_per_s):.1f} beats per second {side}"
    return f"{name}: {beats} ({abs(fit.cents):.0f} cents); {evenness}."
