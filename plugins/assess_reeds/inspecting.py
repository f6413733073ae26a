"""What the engine asks about the reeds: values of the survey, bench sheets and figures."""

from __future__ import annotations

from assess import Figure, Inspection, Measurement, Row, Sheet
from assess_reeds import answering, counted_faults, measured_tuning
from assess_reeds.past_use import past_use
from assess_reeds.pitch import CONCERT_A_HZ
from assess_reeds.rows import ReedRow, reed_row
from assess_reeds.survey import survey

SURVEY = "reeds.notes"
MISSING_SURVEY = ("the reed survey (reeds.notes)",)
YES = ("yes", "y", "true", "x", "1")
NO = ("", "no", "n", "false", "0", "-")


def measure(inspection: Inspection) -> list[Measurement]:
    """Values from the reed survey; only the pitch standard can do without it."""
    rows, told_a_hz = _reeds(inspection), inspection.number("reeds.pitch_a", "Hz")
    if not rows:
        return [*measured_tuning.standard(told_a_hz), *past_use(inspection, None)]
    found = survey(rows, tuner_a_hz=_tuner_a(inspection))
    pitch = found.tuning.pitch
    reeds = inspection.facts.get("reeds")
    tried = answering.tried(found, reeds)
    read = answering.read(found, reeds)
    return [
        *counted_faults.counts(found, tried, read),
        *counted_faults.sub_bass(found, inspection.facts.get("sub_bass_notes")),
        *counted_faults.signed(found),
        *measured_tuning.pitch(found),
        *measured_tuning.standard(pitch.a_hz if pitch else told_a_hz),
        *measured_tuning.spread(found),
        *measured_tuning.ranks_apart(found, reeds),
        *measured_tuning.ranks_off(found, reeds),
        *past_use(inspection, found if tried.enough else None),
        *measured_tuning.celeste(found),
        *counted_faults.clusters(found),
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
