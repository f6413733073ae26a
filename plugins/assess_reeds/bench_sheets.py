"""Sheets for the bench: which pitch to tune to, and the targets of every reed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from statistics import median

from assess import Inspection, Sheet
from assess_reeds.found_tuning import LEAST_BEAT_HZ
from assess_reeds.pitch import (
    CONCERT_A_HZ,
    cents_between,
    note_name,
    room_shift_cents,
    shifted_hz,
)
from assess_reeds.retune import (
    FRAIL_CENTS,
    FRAIL_SHARE,
    LEAVE_CENTS,
    REPLACED,
    SET_CENTS,
    USUAL_TARGETS_HZ,
    RetunePlan,
    Room,
    compare_targets,
    frail_ranks,
    leading_rank,
    own_hz,
    safe_cents,
)
from assess_reeds.rows import ReedRow
from assess_reeds.survey import Fault, JudgedReed, Survey
from assess_reeds.temperament import CELESTE_BEATS_PER_S, Temperament, named_temperament
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

SCHEMES = {
    "equal_temperament": ("equal", "equal temperament"),
    "meantone": ("quarter_comma_meantone", "quarter-comma meantone"),
    "werckmeister": ("werckmeister_iii", "Werckmeister III"),
    "kirnberger": ("kirnberger_iii", "Kirnberger III"),
}
"""Option of the feature ``tune_in`` -> name of the temperament, and its title in print."""
FRAIL_ANSWERS = {
    "reeds.sample_corrosion": ("green all over, pitted", "corroded through"),
    "reeds.file_marks": (
        "deep or crosswise marks on some",
        "many filed through or bent out of shape",
    ),
}
"""Answers about the drawn sample that forbid to move any rank."""
FRAIL_COUNTS = ("reeds.cracked_reeds", "reeds.pitted_reeds")


def pitch_choices(inspection: Inspection, found: Survey) -> Sheet:
    """What each pitch would take: reeds to file, how far, and the hours of tuning."""
    stated = inspection.number("tune_to", "Hz")
    room, lead = _room(inspection), _lead_hz(inspection, found)
    everywhere = _frail_everywhere(inspection)
    frail = {reed.row.rank_name for reed in found.reeds} if everywhere else frail_ranks(found)
    usual = sorted({*USUAL_TARGETS_HZ, *([stated] if stated else [])})
    targets = [*([lead] if lead else []), *usual]
    scheme, title = tuned_in(inspection)
    plans = compare_targets(found, targets, room, frail, scheme)
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
            _temperament_note(found, scheme, title),
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


def tuned_in(inspection: Inspection) -> tuple[Temperament, str]:
    """The temperament to tune in, by the feature ``tune_in``, and its title in print."""
    scheme = next((t for t in sorted(inspection.tags) if t in SCHEMES), "equal_temperament")
    name, title = SCHEMES[scheme]
    return named_temperament(name), title


def _temperament_note(found: Survey, scheme: Temperament, title: str) -> str:
    known = found.tuning.temperament.likely
    if known is None or known.name == scheme.name:
        return f"In {title}."
    return (
        f"In {title}. It is in {known.name.replace('_', ' ')} now: to keep that, say so in tune_in."
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


def tuning_targets(inspection: Inspection, found: Survey) -> Sheet:
    """The target of every reed, in the order of work, and what to listen to."""
    lead = _lead_hz(inspection, found)
    own = own_hz(found, _room(inspection)) or CONCERT_A_HZ
    a_hz = inspection.number("tune_to", "Hz") or lead or own
    ranks = _ranks(found, inspection.number("reeds.celeste_beat", "Hz"))
    if all(rank.celeste for rank in ranks):
        return Sheet("tuning_sheet", "Tuning sheet", wants=("a rank that is not a celeste",))
    scheme, title = tuned_in(inspection)
    bench = inspection.number("workshop_temperature", "degC")
    used = inspection.number("room_temperature", "degC")
    if bench is None or used is None:
        bench = used = None
    made = tuning_sheet(ranks, a_hz, scheme, bench_c=bench, used_c=used)
    tuned_at = bench if bench is not None else inspection.number("room_temperature", "degC")
    as_found = AsFound(found, inspection.number("casework.room_temperature", "degC"), tuned_at)
    return Sheet(
        "tuning_sheet",
        f"Tuning sheet, A = {a_hz:.1f} Hz, {title}",
        ("Reed", "Ft", "Found", "Move", "Hz", "Cents", "Set by", "Beats"),
        tuple(_line(line, made, as_found) for line in made.lines),
        (
            "In the order of work: temperament octave, outwards from it, other ranks, celeste. "
            "Tune each reed in its own cell at steady working wind. Clean and set before you file.",
            f"Found: what that tuner would have shown as it was surveyed. Move: cents still to go, "
            f"+ up at the tip, - down at the heel; empty within {LEAVE_CENTS:g} cents; ! further "
            f"than is safe for the tongue. {as_found.says}",
            f"Cents: shown by a tuner set to A = {made.bench_a_hz:.2f} Hz. Set by: what to listen "
            "to. Beats: per second, + for wide or sharp, - for narrow or flat; no beat where the "
            "column is empty.",
            f"Close enough: {MIDDLE_TOLERANCE_CENTS:g} cents from {note_name(MIDDLE_MIDI[0])} to "
            f"{note_name(MIDDLE_MIDI[-1])}, {OUTER_TOLERANCE_CENTS:g} cents outside, as sounding "
            "notes.",
            *_checks(made),
            _workshop_note(made, bench),
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


def _workshop_note(made: TuningSheet, bench_c: float | None) -> str:
    if bench_c is None:
        return (
            "No temperature is assumed: tune at the temperature of use, since reeds fall as they "
            "get warmer. For another, state workshop_temperature and room_temperature."
        )
    if made.bench_a_hz == made.a_hz:
        return "The workshop is as warm as the room where it is played."
    return (
        f"For the temperature of the workshop, tune to A = {made.bench_a_hz:.2f} Hz there. The "
        f"effect of temperature is uncertain by up to {made.unsure_cents:.1f} cents."
    )


def _ranks(found: Survey, beats_per_s: float | None) -> list[Rank]:
    """The ranks of the survey; a celeste keeps its direction, and its beats as counted."""
    groups: dict[tuple[str, int], list[ReedRow]] = {}
    for reed in found.reeds:
        groups.setdefault((reed.row.rank, reed.row.feet), []).append(reed.row)
    return [
        Rank(
            name,
            feet,
            min(r.key_midi for r in group),
            max(r.key_midi for r in group),
            _beats(found, group[0], beats_per_s) if median(r.celeste for r in group) else None,
        )
        for (name, feet), group in groups.items()
    ]


def _beats(found: Survey, row: ReedRow, counted_per_s: float | None) -> float:
    """Beats of a celeste: counted, else from the survey, else a calm usual rate; flat below 0."""
    read = found.tuning.celeste_beats_per_s(row) or 0.0
    rate = counted_per_s or abs(read)
    return math.copysign(rate if rate >= LEAST_BEAT_HZ else CELESTE_BEATS_PER_S.likely, read)


@dataclass(frozen=True)
class AsFound:
    """What the survey read, turned to the temperature that is tuned at.

    Attributes:
        found: the survey.
        surveyed_c: temperature when it was made, None if not known [degrees C].
        tuned_c: temperature that is tuned at, None if not known [degrees C].
    """

    found: Survey
    surveyed_c: float | None
    tuned_c: float | None

    @cached_property
    def reeds(self) -> dict[tuple[str, int, int], JudgedReed]:
        """The reeds by rank, length and key."""
        return {(r.row.rank, r.row.feet, r.row.key_midi): r for r in self.found.reeds}

    @property
    def shift_cents(self) -> float:
        """How far the reeds will have moved by then, for the temperature alone [cents]."""
        if self.surveyed_c is None or self.tuned_c is None:
            return 0.0
        return room_shift_cents(self.surveyed_c, self.tuned_c).likely

    @property
    def says(self) -> str:
        """What is taken into account."""
        if self.surveyed_c is None or self.tuned_c is None:
            return "Both are for the temperature of the survey."
        return f"Surveyed at {self.surveyed_c:g} degrees Celsius, tuned at {self.tuned_c:g}."


def _line(line: Line, made: TuningSheet, as_found: AsFound) -> tuple[str, ...]:
    reed = as_found.reeds.get((line.rank.name, line.rank.feet, line.key_midi))
    side = f", {reed.row.side}" if reed and reed.row.side else ""
    return (
        f"{note_name(line.key_midi)} {line.rank.name}{side}",
        str(line.rank.feet),
        *_found_and_move(line, made, as_found, reed),
        f"{line.target_hz:.2f}",
        f"{line.cents:+.1f}",
        line.against,
        f"{line.beats_per_s:+.2f}" if line.beats_per_s else "",
    )


def _found_and_move(
    line: Line, made: TuningSheet, as_found: AsFound, reed: JudgedReed | None
) -> tuple[str, str]:
    """What a tuner set as the sheet says would have shown, and how far to move; or why not."""
    if reed is None:
        return "not listed", ""
    worst = next((fault for fault in reed.faults if fault in (REPLACED | {Fault.DEAD})), None)
    if reed.cents is None:
        return (worst.value if worst else "not read"), ""
    shown = reed.cents - cents_between(CONCERT_A_HZ, made.bench_a_hz) + as_found.shift_cents
    if worst is not None:
        return f"{shown:+.1f}", worst.value
    move = line.cents - shown
    if abs(move) <= LEAVE_CENTS:
        return f"{shown:+.1f}", ""
    mark = "" if abs(move) <= safe_cents(line.sounding_midi) else "!"
    return f"{shown:+.1f}", f"{move:+.1f}{mark}"
