"""What a survey of the reeds says: faults, pitch, temperament, clusters; sheets for the bench."""

from __future__ import annotations

from statistics import median

from assess import Figure, Inspection, Measurement, Row, Series, Sheet, hookimpl
from assess_reeds.pitch import note_name
from assess_reeds.retune import USUAL_TARGETS_HZ, RetunePlan, Room, Terms, compare_targets
from assess_reeds.rows import ReedRow, reed_row
from assess_reeds.survey import Fault, Survey, survey
from assess_reeds.temperament import temperament
from assess_reeds.tongue import ROOT, TIP, thinning_cents
from assess_reeds.tuning_sheet import Line, Rank, tuning_sheet

SURVEY = "reeds.notes"
CONCERT_A_HZ = 440.0
SCHEMES = {
    "equal_temperament": ("equal", "equal temperament"),
    "meantone": ("quarter_comma_meantone", "quarter-comma mean-tone"),
    "werckmeister": ("werckmeister_iii", "Werckmeister III"),
    "kirnberger": ("kirnberger_iii", "Kirnberger III"),
}
"""Feature option -> name of the temperament, and how it is printed."""
COUNTED = (
    ("dead_reeds", "Reeds that are silent", (Fault.DEAD,)),
    ("missing_reeds", "Reeds missing from their cells", (Fault.MISSING,)),
    ("slow_reeds", "Reeds that speak late or weakly", (Fault.SLOW, Fault.WEAK)),
    ("buzzing_reeds", "Reeds that buzz or rattle", (Fault.BUZZ,)),
    ("choked_reeds", "Reeds with a false or choked tone", (Fault.CHOKED,)),
    ("off_pitch_reeds", "Reeds off their own rank", (Fault.OUT_OF_TUNE, Fault.WRONG_REED)),
)
BY_SURVEY = "each reed against the middle of its own rank"
ROBUST = "medians over ranks; limits are estimates from memory"


@hookimpl
def measure(inspection: Inspection) -> list[Measurement]:
    """What the reed survey says; nothing when there is none."""
    rows = inspection.survey_rows(SURVEY, _reed)
    if not rows:
        return []
    found = survey(rows, tuner_a_hz=_tuner_a(inspection))
    return [
        *(_count(found, name, title, faults) for name, title, faults in COUNTED),
        *_pitch(found),
        *_spread(found),
        *_clusters(found),
    ]


def _tuner_a(inspection: Inspection) -> float:
    return inspection.facts.get("tuner_a", CONCERT_A_HZ)


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
    return ", ".join(names[:10]) + (f" and {len(names) - 10} more" if len(names) > 10 else "")


def _count(found: Survey, name: str, title: str, faults: tuple[Fault, ...]) -> Measurement:
    reeds = [_where(r.row) for r in found.reeds if set(faults) & set(r.faults)]
    return Measurement(
        name,
        title,
        "count",
        BY_SURVEY,
        ROBUST,
        float(len(reeds)),
        None,
        (("reeds tried", str(found.heard)),),
        f"{_listed(reeds)}." if reeds else "None.",
    )


def _pitch(found: Survey) -> list[Measurement]:
    stands = found.standing
    if stands.pitch is None:
        return []
    slope = stands.pitch.a_hz * 0.000578  # one cent, as a share of a frequency: ln 2 / 1200
    return [
        Measurement(
            "pitch_a",
            "Pitch that the instrument really stands at, as the a above middle c",
            "Hz",
            "least absolute deviations over all ranks",
            ROBUST,
            stands.pitch.a_hz,
            stands.pitch.sd_cents * slope,
            (("reeds read", str(stands.pitch.readings)),),
            f"{_sentence(stands.says)} Temperament: {_sentence(stands.temperament.says)}",
        )
    ]


def _sentence(text: str) -> str:
    return f"{text.rstrip('.')}."


def _spread(found: Survey) -> list[Measurement]:
    if not found.standing.sets:
        return []
    widest = max(found.standing.sets, key=lambda s: s.spread_cents)
    middle_half = 2 * widest.spread_cents
    return [
        Measurement(
            "rank_spread",
            "Spread of the middle half of the reeds of the widest rank",
            "cents",
            "twice the median distance from the rank's own middle",
            ROBUST,
            middle_half,
            None,
            (
                ("rank", f"{widest.rank} {widest.feet} ft"),
                ("reeds read", str(len(widest.key_midis))),
            ),
            f"Half of its reeds lie within {middle_half:.0f} cents of each other.",
        )
    ]


def _clusters(found: Survey) -> list[Measurement]:
    causes = [c.says for c in found.clusters]
    if not causes:
        return []
    says = " ".join(causes)
    return [
        Measurement(
            "common_causes",
            "Groups of faults that point to one cause: look at these first",
            "count",
            "runs of neighbouring keys and ranks that stand apart",
            ROBUST,
            float(len(causes)),
            None,
            (("reeds tried", str(found.heard)),),
            says,
        )
    ]


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """Which pitch to tune to, and the targets of every reed in the order of work."""
    rows = inspection.survey_rows(SURVEY, _reed)
    if not rows:
        wants = (f"a survey {SURVEY}",)
        return [
            Sheet("pitch_choices", "Which pitch to tune to", wants=wants),
            Sheet("tuning_sheet", "Tuning sheet", wants=wants),
        ]
    found = survey(rows, tuner_a_hz=_tuner_a(inspection))
    return [_choices(inspection, found), _targets(inspection, found)]


def _choices(inspection: Inspection, found: Survey) -> Sheet:
    wished = inspection.facts.get("tune_to")
    targets = sorted({*USUAL_TARGETS_HZ, *([wished] if wished else [])})
    room = _room(inspection)
    plans = compare_targets(found, targets, terms=Terms(room=room))
    warmth = (
        f"Reckoned for {room.used_c:g} degrees where it is played; it was surveyed at "
        f"{room.surveyed_c:g}."
        if room
        else "Reckoned at the warmth of the survey; reeds fall about a third of a cent a degree."
    )
    return Sheet(
        "pitch_choices",
        "Which pitch to tune to",
        ("Pitch", "To move", "Median", "Most", "Beyond safe", "Hours"),
        tuple(_choice(p, own=i == 0) for i, p in enumerate(plans)),
        (
            "Cents; hours are bench hours of one experienced worker for the tuning alone, "
            "estimates from memory. Beyond safe are reeds further than their tongues should be "
            "taken.",
            warmth,
            "Metal that is off a tongue does not come back; for a whole set beyond the safe "
            "distance a donor set is the better way. Defer to a reed specialist.",
        ),
    )


def _room(inspection: Inspection) -> Room | None:
    surveyed = inspection.values.get("casework.room_temperature")
    used = inspection.facts.get("room_temperature")
    return None if surveyed is None or used is None else Room(surveyed, used)


def _choice(plan: RetunePlan, own: bool) -> tuple[str, ...]:
    name = f"its own, {plan.a_hz:.1f} Hz" if own else f"{plan.a_hz:g} Hz"
    return (
        name,
        str(len(plan.to_move)),
        f"{plan.median_cents:.0f}",
        f"{plan.max_cents:.0f}",
        str(len(plan.beyond)),
        f"{plan.hours.low:.0f} to {plan.hours.high:.0f}",
    )


def _targets(inspection: Inspection, found: Survey) -> Sheet:
    stands = found.standing.pitch
    a_hz = inspection.facts.get("tune_to") or (stands.a_hz if stands else CONCERT_A_HZ)
    beats = inspection.values.get("reeds.celeste_beat")
    ranks = _ranks([r.row for r in found.reeds], beats)
    if all(r.celeste_beats_per_s is not None for r in ranks):
        return Sheet("tuning_sheet", "Tuning sheet", wants=("a rank that is no celeste",))
    scheme = next((t for t in sorted(inspection.tags) if t in SCHEMES), "equal_temperament")
    tempering, named = temperament(SCHEMES[scheme][0]), SCHEMES[scheme][1]
    bench, used = (inspection.facts.get(n) for n in ("workshop_temperature", "room_temperature"))
    warmth = (bench, used) if bench is not None and used is not None else (None, None)
    made = tuning_sheet(ranks, a_hz, tempering, bench_c=warmth[0], used_c=warmth[1])
    return Sheet(
        "tuning_sheet",
        f"Tuning sheet, a = {a_hz:.1f} Hz, {named}",
        ("Reed", "No.", "Hz", "Cents", "Within", "Beats/s"),
        tuple(_line(line) for line in made.lines),
        (
            "In the order of work: temperament octave, then outwards, then the other ranks, "
            "celeste last. Cents are from equal temperament at that pitch; beats are against "
            "the interval or rank each reed is set by.",
            "Each reed in its own cell, at steady working wind; clean and set before any filing.",
            _warmth(made.bench_a_hz, a_hz),
            f"A layer of one percent of the thickness off the tip raises a tongue by about "
            f"{thinning_cents(0.01, TIP):.0f} cents; off the root it lowers it by about "
            f"{-thinning_cents(0.01, ROOT):.0f}. Metal that is off does not come back.",
        ),
    )


def _warmth(bench_a_hz: float, a_hz: float) -> str:
    if bench_a_hz == a_hz:
        return "Tune at the warmth of use: reeds fall as they get warmer."
    return f"For the warmth of the workshop it is tuned to a = {bench_a_hz:.2f} Hz there."


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """Each reed's departure from its own rank, along the compass."""
    rows = inspection.survey_rows(SURVEY, _reed)
    if not rows:
        return []
    lines: dict[str, list[tuple[float, float]]] = {}
    for reed in survey(rows, tuner_a_hz=_tuner_a(inspection)).reeds:
        if reed.departure_cents is not None:
            name = f"{reed.row.rank} {reed.row.feet} ft"
            lines.setdefault(name, []).append((float(reed.row.key_midi), reed.departure_cents))
    series = tuple(Series(name, tuple(points)) for name, points in lines.items())
    return [
        Figure(
            "departures",
            "How far each reed stands from its own rank",
            "key (60 is middle c)",
            "departure, cents",
            series,
            ("Reeds that are silent or were not read are left out.",),
        )
    ]


def _ranks(rows: list[ReedRow], beats_per_s: float | None) -> list[Rank]:
    """Ranks as surveyed; a celeste without a counted beat is set to a calm two a second."""
    groups: dict[tuple[str, int], list[ReedRow]] = {}
    for row in rows:
        groups.setdefault((row.rank, row.feet), []).append(row)
    return [
        Rank(
            name,
            feet,
            min(r.key_midi for r in group),
            max(r.key_midi for r in group),
            (beats_per_s or 2.0) if median(r.celeste for r in group) else None,
        )
        for (name, feet), group in groups.items()
    ]


def _line(line: Line) -> tuple[str, ...]:
    return (
        f"{note_name(line.key_midi)} {line.rank.name}",
        str(line.number),
        f"{line.target_hz:.2f}",
        f"{line.cents:+.1f}",
        f"{line.tolerance_cents:g}",
        f"{line.beats_per_s:+.2f}" if line.beats_per_s else "",
    )
