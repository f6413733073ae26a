"""Reeds beyond use, added up from what was counted and surveyed."""

from __future__ import annotations

from assess import Inspection, Measurement
from assess_reeds.survey import Fault, Survey

# A set without a donor is given up at this share; once the reeds counted so far reach it, the
# rest cannot change the answer (estimate from memory).
GIVEN_UP_SHARE = 0.3

COUNTS = (
    ("missing", ("reeds.missing_reeds", "reeds.missing_with_donor"), Fault.MISSING),
    ("cracked", ("reeds.cracked_reeds", "reeds.cracked_with_donor"), Fault.CRACKED),
    ("pitted", ("reeds.pitted_reeds",), None),
)
"""What is counted, the criteria that it is counted in, and the fault that the survey shows."""


def past_use(inspection: Inspection, found: Survey | None) -> list[Measurement]:
    """How many reeds are beyond use: those counted as missing, cracked and pitted, added up.

    It answers its criterion once all three are counted, or once those counted are so many that
    the others cannot change the answer. A reed that is both cracked and pitted counts twice, so
    the sum is an upper limit of what the counts say.

    Args:
        inspection: answers and facts of the job.
        found: the survey, if it covers the instrument; it names missing and cracked reeds.
    """
    reeds = inspection.facts.get("reeds")
    counts = {name: _count(inspection, found, of, fault) for name, of, fault in COUNTS}
    known = {name: count for name, count in counts.items() if count is not None}
    if not known or not reeds:
        return []
    total = min(sum(known.values()), reeds)
    settled = len(known) == len(counts) or total >= GIVEN_UP_SHARE * reeds
    return [
        Measurement(
            "reeds_past_use" if settled else "beyond_use_so_far",
            "Reeds beyond use" if settled else "Reeds beyond use, so far",
            "count",
            "missing + cracked + pitted",
            "sum of counts",
            float(round(total)),
            None,
            (*((name, f"{count:g}") for name, count in known.items()), ("reeds", f"{reeds:g}")),
            f"{100 * total / reeds:.0f} % of the reeds.",
        )
    ]


def _count(
    inspection: Inspection, found: Survey | None, criteria: tuple[str, ...], fault: Fault | None
) -> float | None:
    answers = (inspection.number(criterion, "count") for criterion in criteria)
    answered = next((count for count in answers if count is not None), None)
    if answered is not None or found is None or fault is None:
        return answered
    shown = sum(fault in reed.faults for reed in found.reeds)
    # That no remark names a crack does not mean that there is none.
    return float(shown) if shown or fault is Fault.MISSING else None
