"""What the reed survey says: faults, pitch, celeste, common causes; and sheets for the bench."""

from __future__ import annotations

from statistics import median

from assess import Figure, Inspection, Measurement, Row, Series, Sheet, hookimpl
from assess_reeds import answering
from assess_reeds.answering import Coverage
from assess_reeds.found_tuning import CelesteFit
from assess_reeds.pitch import CENTS_PER_OCTAVE, CONCERT_A_HZ, cents_between, note_name, shifted_hz
from assess_reeds.retune import (
    FRAIL_CENTS,
    FRAIL_SHARE,
    LEAVE_CENTS,
    SET_CENTS,
    USUAL_TARGETS_HZ,
    RetunePlan,
    Room,
    compare_targets,
    frail_ranks,
    leading_rank,
)
from assess_reeds.rows import ReedRow, Sign, reed_row
from assess_reeds.standards import CLOSE_CENTS, StandardMatch, nearest_standards
from assess_reeds.survey import Fault, Survey, survey
from assess_reeds.temperament import CELESTE_BEATS_PER_S, named_temperament
from assess_reeds.tongue import ROOT, TIP, neutral_place, thinning_cents
from assess_reeds.tuning_sheet import (
    MIDDLE_MIDI,
    MIDDLE_TOLERANCE_CENTS,
    OUTER_TOLERANCE_CENTS,
    Line,
    Rank,
    TuningSheet,
    interval_words,
    tuning_sheet,
)

SURVEY = "reeds.notes"
MISSING_SURVEY = ("the reed survey (reeds.notes)",)
SCHEMES = {
    "equal_temperament": ("equal", "equal temperament"),
    "meantone": ("quarter_comma_meantone", "quarter-comma meantone"),
    "werckmeister": ("werckmeister_iii", "Werckmeister III"),
    "kirnberger": ("kirnberger_iii", "Kirnberger III"),
}
"""Option of the feature ``tune_in`` -> name of the temperament, and its title in print."""
COUNTED = (
    ("dead_reeds", "Silent reeds", (Fault.DEAD,)),
    ("missing_reeds", "Reeds missing from their cells", (Fault.MISSING,)),
    ("slow_reeds", "Reeds that speak late or weakly", (Fault.SLOW, Fault.WEAK)),
    ("buzzing_reeds", "Reeds that buzz or rattle", (Fault.BUZZ,)),
    ("choked_reeds", "Reeds with a false or choked tone", (Fault.CHOKED,)),
    ("off_pitch_reeds", "Reeds off their own rank", (Fault.OUT_OF_TUNE, Fault.WRONG_REED)),
)
SIGNED = (
    ("cracked_reeds", "Cracked tongues named in the remarks", Sign.CRACKED),
    ("neighbours_whisper", "Notes that make a neighbour sound, by the remarks", Sign.NEIGHBOUR),
)
"""Counted only where a remark names them: a survey without remarks does not deny them."""
FRAIL_ANSWERS = {
    "reeds.sample_corrosion": ("green all over, pitted", "corroded through"),
    "reeds.file_marks": (
        "deep or crosswise marks on some",
        "many filed through or bent out of shape",
    ),
}
"""Answers about the drawn sample that forbid to move any rank."""
FRAIL_COUNTS = ("reeds.cracked_reeds", "reeds.pitted_reeds")
COUNTING = "count of the survey rows; pitch against the median of each rank"
ROBUST = "medians over ranks; limits are estimates from memory"
SHOWN_REEDS = 10
"""Reeds named in one sentence; of more, only the number is given."""
SHOWN_STANDARDS = 3
PITCH_HZ = (380.0, 520.0)
"""The pitches that an instrument can have; what is outside is no answer."""
FASTEST_BEAT_HZ = 20.0
LEAST_BEAT_HZ = 0.05
"""A celeste slower than this does not beat: it rounds to zero."""


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """Values from the reed survey; only the pitch standard can do without it."""
    rows = inspection.survey_rows(SURVEY, _reed)
    if not rows:
        return _standard(inspection.number("reeds.pitch_a", "Hz"))
    found = survey(rows, tuner_a_hz=_tuner_a(inspection))
    pitch = found.tuning.pitch
    keys, ranks = inspection.facts.get("keys"), inspection.facts.get("ranks")
    tried = answering.tried(found, keys, ranks)
    read = answering.read(found, keys, ranks)
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
        *_ranks_apart(found, keys, ranks),
        *_celeste(found),
        *_clusters(found),
    ]


def _tuner_a(inspection: Inspection) -> float:
    return inspection.number("tuner_a", "Hz") or CONCERT_A_HZ


def _reed(row: Row) -> ReedRow:
    feet, cents, hz = (_number(row, name) for name in ("feet", "cents", "hz"))
    return reed_row(
        _text(row, "note"),
        _text(row, "rank"),
        int(feet or 8),
        _text(row, "speech") or "speaks",
        cents=cents,
        shown=_text(row, "shown") or None,
        hz=hz,
        celeste=_text(row, "celeste").casefold() in ("yes", "true", "x"),
        remarks=_text(row, "remarks"),
    )


def _text(row: Row, name: str) -> str:
    value = row.get(name)
    return "" if value is None else str(value)


def _number(row: Row, name: str) -> float | None:
    value = row.get(name)
    return value if isinstance(value, float) else None


def _where(row: ReedRow) -> str:
    return f"{note_name(row.key_midi)} {row.rank}"


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
            f"It may have been made to one of these: {named}."
            if close
            else f"No known standard within {CLOSE_CENTS:g} cents; the nearest is {named}.",
        )
    ]


def _match(match: StandardMatch) -> str:
    year = f", {match.standard.year}" if match.standard.year else ""
    return f"{match.standard.name} ({match.standard.a_hz:g} Hz{year})"


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


def _ranks_apart(found: Survey, keys: float | None, ranks: float | None) -> list[Measurement]:
    apart = answering.ranks_apart(found, keys, ranks)
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


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """Which pitch to tune to, and the targets of every reed in the order of work."""
    rows = inspection.survey_rows(SURVEY, _reed)
    if not rows:
        return [
            Sheet("pitch_choices", "Which pitch to tune to", wants=MISSING_SURVEY),
            Sheet("tuning_sheet", "Tuning sheet", wants=MISSING_SURVEY),
        ]
    found = survey(rows, tuner_a_hz=_tuner_a(inspection))
    return [_choices(inspection, found), _targets(inspection, found)]


def _choices(inspection: Inspection, found: Survey) -> Sheet:
    stated = inspection.number("tune_to", "Hz")
    room, lead = _room(inspection), _lead_hz(inspection, found)
    everywhere = _frail_everywhere(inspection)
    frail = {reed.row.rank_name for reed in found.reeds} if everywhere else frail_ranks(found)
    usual = sorted({*USUAL_TARGETS_HZ, *([stated] if stated else [])})
    targets = [*([lead] if lead else []), *usual]
    plans = compare_targets(found, targets, room, frail)
    has_own = len(plans) > len(targets)
    names = [_target_name(plan, own=has_own and place == 0) for place, plan in enumerate(plans)]
    if lead:
        names[int(has_own)] = f"of the frail rank, {lead:.1f} Hz"
    return Sheet(
        "pitch_choices",
        "Which pitch to tune to",
        ("Pitch", "To file", "Median", "Most", "Too far", "Hours"),
        tuple(_choice(name, plan) for name, plan in zip(names, plans, strict=True)),
        (
            *_frail_notes(found, everywhere),
            "To file: number of reeds. Median and Most: how far the reeds must move, in cents. "
            "Too far: reeds that would have to move further than is safe for their tongues.",
            "Hours are bench hours of one experienced worker for tuning alone, estimated from "
            "memory.",
            _room_note(inspection, plans[0]),
            *_left_out(plans[0]),
            *(
                f"{name}: more than {SET_CENTS:g} cents for most reeds of "
                f"{', '.join(plan.far_ranks)}. Look for a donor set instead."
                for name, plan in zip(names, plans, strict=True)
                if plan.far_ranks
            ),
            "Metal filed off a tongue cannot be put back. If a whole set would move too far, a "
            "donor set is better. Ask: a reed specialist.",
        ),
    )


def _frail_everywhere(inspection: Inspection) -> tuple[str, ...]:
    """What the drawn sample and the counts say against moving any rank, in words."""
    said = [
        f"{answer} ({'corrosion' if 'corrosion' in name else 'file marks'})"
        for name, frail in FRAIL_ANSWERS.items()
        if (answer := inspection.answers.get(name, "")) in frail
    ]
    reeds = inspection.facts.get("keys", 0.0) * inspection.facts.get("ranks", 0.0)
    for name in FRAIL_COUNTS:
        count = inspection.number(name, "count") or 0.0
        if reeds and count >= FRAIL_SHARE * reeds:
            said.append(f"{count:g} reeds {'cracked' if 'cracked' in name else 'pitted'}")
    return tuple(said)


def _lead_hz(inspection: Inspection, found: Survey) -> float | None:
    """The pitch of the frail rank that the others come to, where it is not the common one."""
    lead = leading_rank(found)
    if lead is None or _frail_everywhere(inspection):
        return None
    pitch = found.tuning.pitch
    if pitch is not None and abs(cents_between(pitch.a_hz, lead.a_hz)) <= LEAVE_CENTS:
        return None
    room = _room(inspection)
    return shifted_hz(lead.a_hz, room.shift_cents().likely) if room else lead.a_hz


def _frail_notes(found: Survey, everywhere: tuple[str, ...]) -> list[str]:
    if everywhere:
        return [
            f"Too frail to move: {'; '.join(everywhere)}. Keep its own pitch, and move no reed by "
            f"more than {FRAIL_CENTS:g} cents. Ask: a reed specialist."
        ]
    frail, lead = frail_ranks(found), leading_rank(found)
    if not frail:
        return []
    named = ", ".join(f"{name} ({reeds} reeds)" for name, reeds in frail.items())
    leads = (
        f" {lead.rank_name} leads, at A = {lead.a_hz:.1f} Hz: tune the others to it."
        if lead
        else ""
    )
    return [
        f"Too frail to move, by the remarks on corrosion, cracks and filing: {named}.{leads} Move "
        f"no reed of a frail rank by more than {FRAIL_CENTS:g} cents."
    ]


def _room(inspection: Inspection) -> Room | None:
    surveyed = inspection.number("casework.room_temperature", "degC")
    used = inspection.number("room_temperature", "degC")
    return None if surveyed is None or used is None else Room(surveyed, used)


def _room_note(inspection: Inspection, plan: RetunePlan) -> str:
    room, shift = _room(inspection), plan.room_shift_cents
    if room is None or shift is None:
        return (
            "For the temperature of the survey. Reeds fall about a third of a cent for each degree "
            "Celsius that they get warmer."
        )
    low, high = sorted((abs(shift.low), abs(shift.high)))
    direction = "lower" if shift.likely < 0 else "higher"
    return (
        f"For {room.used_c:g} degrees Celsius where it is played. It was surveyed at "
        f"{room.surveyed_c:g}, so the reeds will be about {abs(shift.likely):.1f} cents "
        f"{direction} ({low:.1f} to {high:.1f})."
    )


def _left_out(plan: RetunePlan) -> list[str]:
    counts = [
        (len(plan.replaced), "to be replaced"),
        (len(plan.unread), "without a known pitch or beat"),
    ]
    named = [f"{count} {what}" for count, what in counts if count]
    return [f"Reeds not included: {', '.join(named)}."] if named else []


def _target_name(plan: RetunePlan, *, own: bool) -> str:
    return f"its own, {plan.a_hz:.1f} Hz" if own else f"{plan.a_hz:g} Hz"


def _choice(name: str, plan: RetunePlan) -> tuple[str, ...]:
    return (
        name,
        str(len(plan.to_move)),
        f"{plan.median_cents:.0f}",
        f"{plan.max_cents:.0f}",
        str(len(plan.beyond)),
        f"{plan.hours.low:.0f} to {plan.hours.high:.0f}",
    )


def _targets(inspection: Inspection, found: Survey) -> Sheet:
    pitch = found.tuning.pitch
    lead = _lead_hz(inspection, found)
    own = pitch.a_hz if pitch else CONCERT_A_HZ
    a_hz = inspection.number("tune_to", "Hz") or lead or own
    beats = inspection.number("reeds.celeste_beat", "Hz")
    ranks = _ranks([reed.row for reed in found.reeds], beats)
    if all(rank.celeste for rank in ranks):
        return Sheet("tuning_sheet", "Tuning sheet", wants=("a rank that is not a celeste",))
    scheme = next((t for t in sorted(inspection.tags) if t in SCHEMES), "equal_temperament")
    name, title = SCHEMES[scheme]
    bench = inspection.number("workshop_temperature", "degC")
    used = inspection.number("room_temperature", "degC")
    if bench is None or used is None:
        bench = used = None
    made = tuning_sheet(ranks, a_hz, named_temperament(name), bench_c=bench, used_c=used)
    return Sheet(
        "tuning_sheet",
        f"Tuning sheet, A = {a_hz:.1f} Hz, {title}",
        ("Reed", "No.", "Hz", "Cents", "Set by", "Beats/s"),
        tuple(_line(line) for line in made.lines),
        (
            "In the order of work: temperament octave, outwards from it, other ranks, celeste. "
            "Tune each reed in its own cell at steady working wind. Clean and set before you file.",
            f"Cents: shown by a tuner set to A = {made.bench_a_hz:.2f} Hz. Set by: what to listen "
            "to. Beats: per second, + for wide or sharp, - for narrow or flat; no beat where the "
            "column is empty.",
            f"Close enough: {MIDDLE_TOLERANCE_CENTS:g} cents from {note_name(MIDDLE_MIDI[0])} to "
            f"{note_name(MIDDLE_MIDI[-1])}, {OUTER_TOLERANCE_CENTS:g} cents outside, as sounding "
            "notes.",
            *_checks(made),
            _workshop_note(made),
            f"Taking 1 % of the thickness off the tip raises a tongue by about "
            f"{thinning_cents(0.01, TIP):.0f} cents; off the root it lowers it by about "
            f"{-thinning_cents(0.01, ROOT):.0f}. At {100 * neutral_place():.0f} % of the way from "
            "root to tip, filing does nothing. Metal filed off cannot be put back.",
        ),
    )


def _checks(made: TuningSheet) -> list[str]:
    beats = [beat for line in made.lines for beat in line.checks]
    if not beats or made.closing is None:
        return []
    named = ", ".join(f"{interval_words(beat)} {beat.beats_per_s:+.1f}" for beat in beats)
    closing = f"{interval_words(made.closing)} {made.closing.beats_per_s:+.1f}"
    return [
        f"To check the temperament octave, beats per second: {named}. "
        f"The last interval of the circle: {closing}."
    ]


def _workshop_note(made: TuningSheet) -> str:
    if made.bench_a_hz == made.a_hz:
        return "Tune at the temperature of use: reeds fall as they get warmer."
    return (
        f"For the temperature of the workshop, tune to A = {made.bench_a_hz:.2f} Hz there. The "
        f"effect of temperature is uncertain by up to {made.unsure_cents:.1f} cents."
    )


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """Distance of each reed from its own rank, along the compass."""
    rows = inspection.survey_rows(SURVEY, _reed)
    if not rows:
        return []
    lines: dict[str, list[tuple[float, float]]] = {}
    for reed in survey(rows, tuner_a_hz=_tuner_a(inspection)).reeds:
        if reed.departure_cents is not None:
            points = lines.setdefault(reed.row.rank_name, [])
            points.append((float(reed.row.key_midi), reed.departure_cents))
    series = tuple(Series(name, tuple(points)) for name, points in lines.items())
    return [
        Figure(
            "departures",
            "How far each reed is from its own rank",
            "key (60 is middle C)",
            "distance, cents",
            series,
            ("Reeds that are silent or were not read are left out.",),
        )
    ]


def _ranks(rows: list[ReedRow], beats_per_s: float | None) -> list[Rank]:
    """The ranks of the survey; a celeste whose beats were not counted gets a calm usual rate."""
    groups: dict[tuple[str, int], list[ReedRow]] = {}
    for row in rows:
        groups.setdefault((row.rank, row.feet), []).append(row)
    return [
        Rank(
            name,
            feet,
            min(r.key_midi for r in group),
            max(r.key_midi for r in group),
            (beats_per_s or CELESTE_BEATS_PER_S.likely)
            if median(r.celeste for r in group)
            else None,
        )
        for (name, feet), group in groups.items()
    ]


def _line(line: Line) -> tuple[str, ...]:
    return (
        f"{note_name(line.key_midi)} {line.rank.name}",
        str(line.number),
        f"{line.target_hz:.2f}",
        f"{line.cents:+.1f}",
        line.against,
        f"{line.beats_per_s:+.2f}" if line.beats_per_s else "",
    )
