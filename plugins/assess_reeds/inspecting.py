"""What the reed survey says: faults, pitch, celeste, common causes; and sheets for the bench."""

from __future__ import annotations

from assess import Figure, Inspection, Measurement, Row, Sheet
from assess_reeds import answering
from assess_reeds.answering import Coverage
from assess_reeds.found_tuning import LEAST_BEAT_HZ, CelesteFit
from assess_reeds.past_use import past_use
from assess_reeds.pitch import CENTS_PER_OCTAVE, CONCERT_A_HZ, note_name
from assess_reeds.retune import frail_ranks
from assess_reeds.rows import ReedRow, Sign, reed_row
from assess_reeds.standards import CLOSE_CENTS, StandardMatch, nearest_standards
from assess_reeds.survey import Fault, Survey, survey

SURVEY = "reeds.notes"
MISSING_SURVEY = ("the reed survey (reeds.notes)",)
COUNTED = (
    ("dead_reeds", "Silent reeds", (Fault.DEAD,)),
    ("missing_reeds", "Reeds missing from their cells", (Fault.MISSING,)),
    (
        "slow_reeds",
        "Reeds that speak late, weakly or choked",
        (Fault.SLOW, Fault.WEAK, Fault.CHOKED),
    ),
    ("buzzing_reeds", "Reeds that buzz or rattle", (Fault.BUZZ,)),
    ("choked_reeds", "Reeds with a false or choked tone", (Fault.CHOKED,)),
    ("off_pitch_reeds", "Reeds off their own rank", (Fault.OUT_OF_TUNE, Fault.WRONG_REED)),
)
SIGNED = (
    ("cracked_reeds", "Cracked tongues named in the remarks", Sign.CRACKED),
    ("neighbours_whisper", "Notes that make a neighbour sound, by the remarks", Sign.NEIGHBOUR),
)
"""Counted only where a remark names them: a survey without remarks does not deny them."""
COUNTING = "count of the survey rows; pitch against the median of each rank"
ROBUST = "medians over ranks; limits are estimates from memory"
SHOWN_REEDS = 10
"""Reeds named in one sentence; of more, only the number is given."""
SHOWN_STANDARDS = 3
PITCH_HZ = (380.0, 520.0)
"""The pitches that an instrument can have; what is outside is no answer."""
FASTEST_BEAT_HZ = 20.0
HALF_CENT = 0.5
YES = ("yes", "y", "true", "x", "1")
NO = ("", "no", "n", "false", "0", "-")
RANK_OFF_CENTS = 12.0
"""A rank further than this from the others is clearly apart: estimate from memory."""


def measure(inspection: Inspection) -> list[Measurement]:
    """Values from the reed survey; only the pitch standard can do without it."""
    rows = _reeds(inspection)
    if not rows:
        return [
            *_standard(inspection.number("reeds.pitch_a", "Hz")),
            *past_use(inspection, None),
        ]
    found = survey(rows, tuner_a_hz=_tuner_a(inspection))
    pitch = found.tuning.pitch
    reeds = inspection.facts.get("reeds")
    tried = answering.tried(found, reeds)
    read = answering.read(found, reeds)
    return [
        *(
            _count(found, name, title, faults, read if name == "off_pitch_reeds" else tried)
            for name, title, faults in COUNTED
        ),
        *_sub_bass(found, inspection.facts.get("sub_bass_notes")),
        *_signed(found),
        *_pitch(found),
        *_standard(pitch.a_hz if pitch else inspection.number("reeds.pitch_a", "Hz")),
        *_spread(found),
        *_ranks_apart(found, reeds),
        *_ranks_off(found, reeds),
        *past_use(inspection, found if tried.enough else None),
        *_celeste(found),
        *_clusters(found),
    ]


def _tuner_a(inspection: Inspection) -> float:
    return inspection.number("tuner_a", "Hz") or CONCERT_A_HZ


def _reeds(inspection: Inspection) -> list[ReedRow]:
    """The reeds of the survey; two rows for one reed are refused."""
    return inspection.survey_rows(SURVEY, _reed, lambda row: row.label.casefold())


def _reed(row: Row) -> ReedRow:
    feet, cents, hz = (_number(row, name) for name in ("feet", "cents", "hz"))
    return reed_row(
        _text(row, "note"),
        _text(row, "rank"),
        _length(feet),
        _text(row, "speech") or "speaks",
        cents=cents,
        shown=_text(row, "shown") or None,
        hz=hz,
        celeste=_yes(_text(row, "celeste")),
        remarks=_text(row, "remarks"),
        side=_text(row, "side"),
        cents_sd=_number(row, "cents_sd") or 0.0,
    )


def _length(feet: float | None) -> int:
    """The length of a rank; 2 2/3 ft is none of those that a reed organ has."""
    if feet is not None and not feet.is_integer():
        raise ValueError(f"the length of a rank is a whole number of feet, not {feet:g} ft")
    return 8 if feet is None else int(feet)


def _yes(word: str) -> bool:
    """Whether a cell says yes.

    Raises:
        ValueError: it says neither yes nor no.
    """
    said = word.strip().casefold()
    if said not in YES and said not in NO:
        raise ValueError(f"celeste is {word!r}; write yes, or leave it empty")
    return said in YES


def _text(row: Row, name: str) -> str:
    value = row.get(name)
    return "" if value is None else str(value)


def _number(row: Row, name: str) -> float | None:
    value = row.get(name)
    return value if isinstance(value, float) else None


def _where(row: ReedRow) -> str:
    return f"{note_name(row.key_midi)} {row.rank}"


def _with_remarks(row: ReedRow) -> str:
    return f"{_where(row)} ({row.remarks})" if row.remarks else _where(row)


def _listed(names: list[str]) -> str:
    more = len(names) - SHOWN_REEDS
    return ", ".join(names[:SHOWN_REEDS]) + (f" and {more} more" if more > 0 else "")


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _count(
    found: Survey, name: str, title: str, faults: tuple[Fault, ...], coverage: Coverage
) -> Measurement:
    """A count over the ranks; it answers its criterion only if enough reeds were tried."""
    reeds = [
        reed
        for reed in found.reeds
        if set(faults) & set(reed.faults) and not answering.is_sub_bass(reed.row)
    ]
    says = [_sentence(_listed([_where(reed.row) for reed in reeds]) if reeds else "none")]
    if Fault.WRONG_REED in faults:
        says += [_sentence(f"{_where(reed.row)}: {reed.says}") for reed in reeds if reed.says]
    if not coverage.enough:
        says.append(
            "Too few reeds for the whole instrument: nine tenths of all reeds are needed, so that "
            "those not tried cannot change the result."
        )
    return Measurement(
        name if coverage.enough else f"{name}_so_far",
        title if coverage.enough else f"{title}, so far",
        "count",
        COUNTING,
        ROBUST,
        float(len(reeds)),
        None,
        (("reeds tried", coverage.says),),
        " ".join(says),
        which=tuple(_with_remarks(reed.row) for reed in reeds),
    )


def _sub_bass(found: Survey, notes: float | None) -> list[Measurement]:
    coverage = answering.sub_bass_tried(found, notes)
    if not coverage.enough:
        return []
    bad = [
        reed.row
        for reed in found.reeds
        if answering.is_sub_bass(reed.row)
        and {Fault.DEAD, Fault.MISSING, Fault.SLOW} & set(reed.faults)
    ]
    return [
        Measurement(
            "sub_bass_speech",
            "Sub-bass notes that are silent or slow",
            "count",
            "count of the survey rows whose rank is named sub-bass",
            ROBUST,
            float(len(bad)),
            None,
            (("notes tried", coverage.says),),
            _sentence(_listed([_where(row) for row in bad]) if bad else "none"),
            which=tuple(_with_remarks(row) for row in bad),
        )
    ]


def _signed(found: Survey) -> list[Measurement]:
    return [
        Measurement(
            name,
            title,
            "count",
            "count of the survey rows with such a remark; there may be more",
            ROBUST,
            float(len(rows)),
            None,
            (("reeds tried", str(found.heard)),),
            _sentence(_listed([_where(row) for row in rows])),
            which=tuple(_with_remarks(row) for row in rows),
        )
        for name, title, sign in SIGNED
        if (rows := answering.signed(found, sign))
    ]


def _pitch(found: Survey) -> list[Measurement]:
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
            f"{_sentence(tuning.says)} Temperament: {tuning.temperament.says}.",
        )
    ]


def _standard(a_hz: float | None) -> list[Measurement]:
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


def _spread(found: Survey) -> list[Measurement]:
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


def _ranks_apart(found: Survey, reeds: float | None) -> list[Measurement]:
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


def _ranks_off(found: Survey, reeds: float | None) -> list[Measurement]:
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
            " ".join(_sentence(said) for said in says or ["none"]),
        )
    ]


def _celeste(found: Survey) -> list[Measurement]:
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


def _clusters(found: Survey) -> list[Measurement]:
    if not found.clusters:
        return []
    return [
        Measurement(
            "common_causes",
            "Groups of faults with a common cause: check these first",
            "count",
            "runs of neighbouring keys, and ranks that differ from the others",
            ROBUST,
            float(len(found.clusters)),
            None,
            (("reeds tried", str(found.heard)),),
            " ".join(_sentence(cluster.says) for cluster in found.clusters),
        )
    ]


def sheets(inspection: Inspection) -> list[Sheet]:
    """Which pitch to tune to, and the targets of every reed in the order of work."""
    from assess_reeds.bench_sheets import pitch_choices, tuning_targets

    rows = _reeds(inspection)
    if not rows:
        return [
            Sheet("pitch_choices", "Which pitch to tune to", wants=MISSING_SURVEY),
            Sheet("tuning_sheet", "Tuning sheet", wants=MISSING_SURVEY),
        ]
    found = survey(rows, tuner_a_hz=_tuner_a(inspection))
    return [pitch_choices(inspection, found), tuning_targets(inspection, found)]


def figures(inspection: Inspection) -> list[Figure]:
    """Each reed along the compass: its pitch, and its distance from its own rank."""
    from assess_reeds.survey_figures import departures_figure, pitches_figure

    rows = _reeds(inspection)
    if not rows:
        return []
    found = survey(rows, tuner_a_hz=_tuner_a(inspection))
    return [*pitches_figure(found), departures_figure(found)]
