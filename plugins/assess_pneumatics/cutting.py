"""What to cut and to buy for reservoir and exhausters, from the boards of this instrument."""

from __future__ import annotations

from assess import Inspection, Quantity, Sheet, hookimpl
from assess.plugin.api import missing
from assess_pneumatics.bellows import (
    Boards,
    Piece,
    cloth_piece,
    hinge_piece,
    lay_out,
    strap_piece,
    valve_piece,
)
from assess_pneumatics.readings import size_wants, sizes_m

YARD_M, FOOT_M = 0.9144, 0.3048
ROLL_WIDTH_M = 54 * 0.0254
"""Usual width of bellows cloth, 54 in (common practice)."""
PARTS = (
    ("reservoir", "recover_reservoir", "renew_reservoir_hinge"),
    ("exhauster", "recover_exhausters", "renew_exhauster_hinges"),
)
"""Each bellows, the repair that takes its cloth, and the one that takes its hinge strip."""


@hookimpl
def quantities(inspection: Inspection) -> list[Quantity]:
    """Bellows cloth and hinge strip from the boards, in the units they are sold in."""
    if "suction" not in inspection.tags:
        return []
    found = []
    for part, repair, hinge in PARTS:
        boards = _boards(inspection, part)
        if boards is None:
            continue
        cloth_m = lay_out([cloth_piece(boards)], ROLL_WIDTH_M).length_m
        strip = hinge_piece(boards)
        says = f"from the boards of the {part}"
        found += [
            Quantity(repair, "bellows_cloth", cloth_m / YARD_M, says),
            Quantity(hinge, "hinge_cloth", strip.length_m * strip.count / FOOT_M, says),
        ]
    return found


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """The list of what to cut for reservoir and exhausters."""
    if "suction" not in inspection.tags:
        return []
    title = "What to cut for reservoir and exhausters"
    reservoir, exhausters = (_boards(inspection, part) for part, *_ in PARTS)
    if reservoir is None or exhausters is None:
        wants = (*size_wants(inspection, "reservoir"), *size_wants(inspection, "exhauster"))
        return [Sheet("cutting_list", title, wants=wants)]
    cloth = [cloth_piece(reservoir), cloth_piece(exhausters)]
    hinges = [hinge_piece(reservoir), hinge_piece(exhausters)]
    pieces = [*cloth, *hinges, *_flaps(inspection), *_straps(inspection)]
    return [
        Sheet(
            "cutting_list",
            title,
            ("Piece", "Number", "Length, mm", "Width, mm", "Area, m2"),
            tuple(_row(piece) for piece in pieces),
            _notes(inspection, cloth),
        )
    ]


def _boards(inspection: Inspection, part: str) -> Boards | None:
    """The boards of the reservoir, or of both exhausters; None while a size is missing."""
    if size_wants(inspection, part):
        return None
    length, depth, opening = (size or 0.0 for size in sizes_m(inspection, part).values())
    return Boards(part, length, depth, opening, count=2 if part == "exhauster" else 1)


def _flaps(inspection: Inspection) -> list[Piece]:
    length, width = (inspection.number(f"port_{side}", "m") for side in ("length", "width"))
    if length is None or width is None:
        return []
    return [valve_piece(f"{side} valve", length, width, 2) for side in ("inner", "outer")]


def _straps(inspection: Inspection) -> list[Piece]:
    length, width = (inspection.number(f"strap_{side}", "m") for side in ("length", "width"))
    return [] if length is None or width is None else [strap_piece(length, width)]


def _notes(inspection: Inspection, cloth: list[Piece]) -> tuple[str, ...]:
    laid = lay_out(cloth, ROLL_WIDTH_M)
    return (
        f"Cloth from a roll of {1000 * ROLL_WIDTH_M:.0f} mm: {laid.length_m:.2f} m, laid in "
        f"bands across it ({100 * laid.used_share:.0f} % of it is used).",
        "Widths are the full opening with lap, fold-over and trim at both boards. Cut oversize "
        "and trim after gluing. Measure the openings again before the old cloth comes off.",
        *(
            _left_out(inspection, "Valve flaps", "port_length", "port_width")
            or ("Allow a third more skin than the flaps measure.",)
        ),
        *_left_out(inspection, "Straps", "strap_length", "strap_width"),
        "Springs under load: unload them before you cut any cloth, and ask a colleague who has "
        "taken out such springs before.",
    )


def _left_out(inspection: Inspection, what: str, *facts: str) -> tuple[str, ...]:
    """A note that some pieces are left out, and what they need."""
    absent = missing({fact: inspection.number(fact, "m") for fact in facts})
    return (f"{what} are left out; missing: {', '.join(absent)}.",) if absent else ()


def _row(piece: Piece) -> tuple[str, ...]:
    return (
        piece.name,
        str(piece.count),
        f"{1000 * piece.length_m:.0f}",
        f"{1000 * piece.width_m:.0f}",
        f"{piece.area_m2:.3f}",
    )
