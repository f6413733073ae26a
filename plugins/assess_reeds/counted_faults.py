"""Faults counted over the reeds of a survey, and groups of them with a common cause."""

from __future__ import annotations

from assess import Measurement, sentence
from assess_reeds import answering
from assess_reeds.answering import Coverage
from assess_reeds.pitch import note_name
from assess_reeds.rows import ReedRow, Sign
from assess_reeds.survey import ROBUST, Fault, Survey

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
SHOWN_REEDS = 10
"""Reeds named in one sentence; of more, only the number is given."""


def counts(found: Survey, tried: Coverage, read: Coverage) -> list[Measurement]:
    """Each kind of fault, by the reeds tried; of pitch, by those read."""
    return [
        _count(found, name, title, faults, read if name == "off_pitch_reeds" else tried)
        for name, title, faults in COUNTED
    ]


def _where(row: ReedRow) -> str:
    return f"{note_name(row.key_midi)} {row.rank}"


def _with_remarks(row: ReedRow) -> str:
    return f"{_where(row)} ({row.remarks})" if row.remarks else _where(row)


def _listed(names: list[str]) -> str:
    more = len(names) - SHOWN_REEDS
    return ", ".join(names[:SHOWN_REEDS]) + (f" and {more} more" if more > 0 else "")


def _count(
    found: Survey, name: str, title: str, faults: tuple[Fault, ...], coverage: Coverage
) -> Measurement:
    """A count over the ranks; it answers its criterion only if enough reeds were tried."""
    reeds = [
        reed
        for reed in found.reeds
        if set(faults) & set(reed.faults) and not answering.is_sub_bass(reed.row)
    ]
    says = [sentence(_listed([_where(reed.row) for reed in reeds]) if reeds else "none")]
    if Fault.WRONG_REED in faults:
        says += [sentence(f"{_where(reed.row)}: {reed.says}") for reed in reeds if reed.says]
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


def sub_bass(found: Survey, notes: float | None) -> list[Measurement]:
    """Notes of the sub-bass that are silent or slow, where enough of them were tried."""
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
            sentence(_listed([_where(row) for row in bad]) if bad else "none"),
            which=tuple(_with_remarks(row) for row in bad),
        )
    ]


def signed(found: Survey) -> list[Measurement]:
    """What the remarks name; nothing where none does."""
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
            sentence(_listed([_where(row) for row in rows])),
            which=tuple(_with_remarks(row) for row in rows),
        )
        for name, title, sign in SIGNED
        if (rows := answering.signed(found, sign))
    ]


def clusters(found: Survey) -> list[Measurement]:
    """Groups of faults that one cause may explain."""
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
            " ".join(sentence(cluster.says) for cluster in found.clusters),
        )
    ]
