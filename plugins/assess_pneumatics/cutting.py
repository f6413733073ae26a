"""What to cut and to buy for reservoir and exhausters, from the boards of this instrument."""

from __future__ import annotations

from functools import cache

from assess import Declaration, Inspection, Quantity, Sheet, read_declaration
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
SQUARE_FOOT_M2 = FOOT_M**2
ROLL_WIDTH_M = 54 * 0.0254
"""Usual width of bellows cloth, 54 in (common practice)."""
PARTS = (
    ("reservoir", "recover_reservoir", "renew_reservoir_hinge"),
    ("exhauster", "recover_exhausters", "renew_exhauster_hinges"),
)
"""Each bellows, the repair that takes its cloth, and the one that takes its hinge strip."""
IN_LEATHER = {"reservoir": "leather_reservoir", "exhauster": "ribbed_exhausters"}
"""The feature that says that a part is covered with ribs and leather."""
FLAP_REPAIRS = {
    "inner": ("renew_inner_valves", "renew_inner_valves_at_edge", "renew_inner_valves_by_board"),
    "outer": ("renew_outer_valves",),
}
"""The repairs that renew the flaps on each side: one of each row is in a plan."""
WITH_STRAPS = frozenset({"blown_by_feet", "blown_both_ways"})
"""Ways of blowing that have treadles, and so straps."""
KEEPS_COVER = frozenset(
    {
        "supple",
        "stiff but tight",
        "a batten or tack strip loose, cover sound",
        "paper cracked on the ribs, leather below whole",
        "an edge has come unglued, cloth sound",
    }
)
"""Answers about the cover of the reservoir with which it stays on."""
ON_THE_SHEET = (
    *(step for _, *steps in PARTS for step in steps),
    *(repairs[0] for repairs in FLAP_REPAIRS.values()),
    "renew_straps",
)
"""The repairs whose pieces stand on the sheet."""


def quantities(inspection: Inspection) -> list[Quantity]:
    """Cloth, hinge strip, valve leather and webbing by size, in the units they are sold in."""
    if "suction" not in inspection.tags:
        return []
    return _amounts(inspection, together=_reservoir_is_covered(inspection))


def _amounts(inspection: Inspection, *, together: bool) -> list[Quantity]:
    """All amounts; ``together``: reservoir and exhausters are cut from one length of cloth."""
    return [
        *_cloth_amounts(inspection, together),
        *_flap_amounts(inspection),
        *_strap_amounts(inspection),
    ]


def sheets(inspection: Inspection) -> list[Sheet]:
    """The list of what to cut for reservoir and exhausters, and what to buy for it."""
    if "suction" not in inspection.tags:
        return []
    title = "What to cut for reservoir and exhausters"
    boards = [_boards(inspection, part) for part, *_ in PARTS]
    known = [each for each in boards if each]
    if len(known) < len(boards):
        wants = (*size_wants(inspection, "reservoir"), *size_wants(inspection, "exhauster"))
        return [Sheet("cutting_list", title, wants=wants)]
    cloth = [cloth_piece(each) for each in known if _in_cloth(inspection, each.name)]
    hinges = [hinge_piece(each) for each in known]
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


# --- pieces


def _boards(inspection: Inspection, part: str) -> Boards | None:
    """The boards of all reservoirs, or of all exhausters; None while a size is missing."""
    if size_wants(inspection, part):
        return None
    length, depth, opening = (size or 0.0 for size in sizes_m(inspection, part).values())
    return Boards(part, length, depth, opening, count=_count(inspection, f"{part}s"))


def _count(inspection: Inspection, fact: str) -> int:
    """How many there are of something, at least one."""
    return max(1, round(inspection.number(fact, "count") or 1))


def _in_cloth(inspection: Inspection, part: str) -> bool:
    """Whether a part is covered with one piece of cloth, not with ribs and leather."""
    return IN_LEATHER[part] not in inspection.tags


def _flaps(inspection: Inspection) -> list[Piece]:
    length, width = (inspection.number(f"port_{side}", "m") for side in ("length", "width"))
    if length is None or width is None:
        return []
    return [
        valve_piece(f"{side} valve", length, width, _count(inspection, f"{side}_flaps"))
        for side in FLAP_REPAIRS
    ]


def _straps(inspection: Inspection) -> list[Piece]:
    length, width = (inspection.number(f"strap_{side}", "m") for side in ("length", "width"))
    if length is None or width is None or inspection.tags.isdisjoint(WITH_STRAPS):
        return []
    return [strap_piece(length, width)]


# --- amounts


def _cloth_amounts(inspection: Inspection, together: bool) -> list[Quantity]:
    found = []
    for part, cover, hinge in PARTS:
        boards = _boards(inspection, part)
        if boards is None:
            continue
        says = f"from the boards of the {part}"
        strip = hinge_piece(boards)
        strip_ft = strip.length_m * strip.count / FOOT_M
        found.append(Quantity(hinge, "hinge_cloth", strip_ft, says))
        if _in_cloth(inspection, part):
            cloth_yd = _cloth_m(inspection, boards, together) / YARD_M
            found.append(Quantity(cover, "bellows_cloth", cloth_yd, says))
    return found


def _cloth_m(inspection: Inspection, boards: Boards, together: bool) -> float:
    """Length to cut off the roll for one part [m].

    Together with the reservoir, the exhausters are cut beside its cloth as far as the roll is
    wide enough, and only what is longer counts for them.
    """
    own = [cloth_piece(boards)]
    reservoir = _boards(inspection, "reservoir")
    together = together and _in_cloth(inspection, "reservoir")
    if boards.name == "reservoir" or reservoir is None or not together:
        return lay_out(own, ROLL_WIDTH_M).length_m
    first = [cloth_piece(reservoir)]
    both, one = (lay_out(pieces, ROLL_WIDTH_M).length_m for pieces in ([*first, *own], first))
    return max(both - one, 0.0)


def _reservoir_is_covered(inspection: Inspection) -> bool:
    """Whether what was found calls for new cloth on the reservoir."""
    said = inspection.answers.get("pneumatics.reservoir_cloth")
    return said is not None and said not in KEEPS_COVER


def _flap_amounts(inspection: Inspection) -> list[Quantity]:
    return [
        Quantity(
            repair, "valve_leather", piece.area_m2 / SQUARE_FOOT_M2, "from the size of the ports"
        )
        for piece, repairs in zip(_flaps(inspection), FLAP_REPAIRS.values(), strict=False)
        for repair in repairs
    ]


def _strap_amounts(inspection: Inspection) -> list[Quantity]:
    return [
        Quantity(
            "renew_straps", "webbing", piece.length_m * piece.count / YARD_M, "from the straps"
        )
        for piece in _straps(inspection)
    ]


# --- notes


def _notes(inspection: Inspection, cloth: list[Piece]) -> tuple[str, ...]:
    return (
        *_on_the_roll(cloth),
        *_to_buy(inspection),
        *(
            _left_out(inspection, "Valve flaps", "port_length", "port_width")
            or ("Valve leather: a third more skin than the flaps measure.",)
        ),
        *(
            _left_out(inspection, "Straps", "strap_length", "strap_width")
            if not inspection.tags.isdisjoint(WITH_STRAPS)
            else ()
        ),
        "Springs under load: unload them before you cut any cloth, and ask a colleague who has "
        "taken out such springs before.",
    )


def _on_the_roll(cloth: list[Piece]) -> tuple[str, ...]:
    if not cloth:
        return ()
    laid = lay_out(cloth, ROLL_WIDTH_M)
    return (
        f"Cloth from a roll of {1000 * ROLL_WIDTH_M:.0f} mm: {laid.length_m:.2f} m, laid in "
        f"bands across it ({100 * laid.used_share:.0f} % of it is used).",
        "Widths are the full opening with lap, fold-over and trim at both boards. Cut oversize "
        "and trim after gluing. Measure the openings again before the old cloth comes off.",
    )


def _to_buy(inspection: Inspection) -> tuple[str, ...]:
    """What the pieces of the sheet amount to, with waste, as a plan with all of them has it."""
    wanted = set(ON_THE_SHEET)
    amounts: dict[str, float] = {}
    for quantity in _amounts(inspection, together=True):
        if quantity.repair in wanted:
            amounts[quantity.material] = amounts.get(quantity.material, 0.0) + quantity.amount
    materials = [m for m in _declared().material if m.id in amounts]
    listed = "; ".join(
        f"{m.title}: {amounts[m.id] * (1 + m.waste):.2f} {m.unit}" for m in materials
    )
    return (f"To buy for all of it, with waste: {listed}.",) if listed else ()


@cache
def _declared() -> Declaration:
    """What this plugin declares, for the titles and the waste of its materials."""
    return read_declaration("assess_pneumatics")


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
