"""What the numbers of an inspection say about the wind: leaks, pumping and springs together."""

from __future__ import annotations

import math

from assess import Figure, Inspection, Measurement, Series
from assess_pneumatics.measured_leaks import (
    good_hold,
    judged_hold_s,
    kind_of_leak,
    leak_flow,
    leak_hole,
    leak_paths,
    predicted_hold,
    reservoir_volume,
)
from assess_pneumatics.measured_pumping import (
    spring_force,
    spring_suction,
    strokes_expected,
    strokes_needed,
)
from assess_pneumatics.readings import WHOLE_FALL, WHOLE_HOLD, seconds, suctions_pa
from assess_pneumatics.uncertainty import Measured


def measure(inspection: Inspection) -> list[Measurement]:
    """Everything that can be computed about the wind, in order; of pressure only a good hold."""
    if "suction" not in inspection.tags:
        good = good_hold(inspection)
        return [] if good.wants else [good]
    return [
        reservoir_volume(inspection),
        good_hold(inspection),
        leak_flow(inspection),
        leak_hole(inspection),
        *leak_paths(inspection),
        predicted_hold(inspection),
        strokes_expected(inspection),
        strokes_needed(inspection),
        kind_of_leak(inspection),
        spring_suction(inspection),
        spring_force(inspection),
    ]


def figures(inspection: Inspection) -> list[Figure]:
    """How the reservoir gives up its wind, compared with a good one."""
    by_suction = "suction" in inspection.tags
    hold = seconds(inspection, WHOLE_HOLD if by_suction else WHOLE_FALL)
    if hold is None:
        return []
    suctions = suctions_pa(inspection) if by_suction else None
    good_s = judged_hold_s(inspection)
    wind, does, done, way = (
        ("suction", "opens fully", "opened", "opening")
        if by_suction
        else ("pressure", "falls to the bottom", "fallen", "fall")
    )
    note = (
        "Computed with the suction falling as the springs relax."
        if suctions
        else f"Computed for constant {wind}: its change was not measured."
    )
    return [
        Figure(
            "leak_down",
            f"How far the reservoir has {done}, no key held",
            "time, s",
            f"{way}, % of the full travel",
            (
                Series("measured", _travel(hold.value, suctions)),
                Series(f"good ({good_s:.0f} s)", _travel(good_s, suctions)),
            ),
            (note,),
            says=f"It {does} within {hold.value:.0f} s; a good one takes {good_s:.0f} s or more.",
        )
    ]


def _travel(
    hold_s: float, suctions: tuple[Measured, Measured] | None
) -> tuple[tuple[float, float], ...]:
    """Times [s] at which each tenth of the travel [%] is reached, for leaks through holes.

    The time goes with the fall of the root of the suction: the volume balance of
    :func:`~assess_pneumatics.leakage.effective_suction_pa` (derived).
    """
    start, end = (math.sqrt(pa.value) for pa in suctions) if suctions else (1.0, 1.0)
    if start == end:
        return tuple((hold_s * n / 10, 10.0 * n) for n in range(11))
    roots = [math.sqrt(start**2 - (start**2 - end**2) * n / 10) for n in range(11)]
    return tuple(
        (hold_s * (start - root) / (start - end), 10.0 * n) for n, root in enumerate(roots)
    )
