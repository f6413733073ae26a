"""The hull of a dinghy, as a subsystem."""

from collections.abc import Iterator

from assess import (
    Declaration,
    Figure,
    Inspection,
    Measurement,
    Quantity,
    Series,
    Sheet,
    hookimpl,
    read_declaration,
)


@hookimpl
def subsystem() -> Declaration:
    """What is known of the hull."""
    return read_declaration(__name__)


def _area_m2(inspection: Inspection) -> float | None:
    length, beam = inspection.number("length", "m"), inspection.number("beam", "m")
    return None if length is None or beam is None else 1.3 * length * beam


@hookimpl
def measure(inspection: Inspection) -> Iterator[Measurement]:
    """The wetted area, and how much water comes in per hour and area."""
    area, leak = _area_m2(inspection), inspection.number("hull.leak", "L")
    formula, source = "1.3 x length x beam", "estimate from memory"
    wants = ("length", "beam")
    if area is None:
        yield Measurement("area", "Area of the hull", "m2", formula, source, wants=wants)
        return
    inputs = (("length x beam", f"{area / 1.3:.1f} m2"),)
    says = "Paint for two coats covers twice this."
    yield Measurement("area", "Area of the hull", "m2", formula, source, area, None, inputs, says)
    if leak is not None:
        yield Measurement(
            "leak_rate",
            "Water through each square metre in an hour",
            "L",
            "leak over area",
            "arithmetic",
            leak / area,
        )


@hookimpl
def quantities(inspection: Inspection) -> list[Quantity]:
    """Paint by area."""
    area = _area_m2(inspection)
    return [] if area is None else [Quantity("paint_hull", "paint", area / 6, "two coats")]


@hookimpl
def sheets(inspection: Inspection) -> list[Sheet]:
    """What to paint."""
    area = _area_m2(inspection)
    if area is None:
        return [Sheet("paint_list", "Paint to buy", wants=("length", "beam"))]
    return [Sheet("paint_list", "Paint to buy", ("Coat", "L"), (("both", f"{area / 6:.1f}"),))]


@hookimpl
def figures(inspection: Inspection) -> list[Figure]:
    """Water over time."""
    leak = inspection.number("hull.leak", "L")
    if leak is None:
        return []
    line = Series("water", tuple((float(h), h * leak) for h in range(4)))
    return [Figure("water", "Water in the boat", "time, h", "water, L", (line,))]
