"""How much each wood moves across the grain: published coefficients, by name of the wood.

Source of all rows: USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010),
Table 13-5 (dimensional change coefficients) and Table 4-3 (shrinkage from green to oven dry).
Rows that were not seen in print are marked "from memory".
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

PUBLISHED = "published"
FROM_MEMORY = "from memory"


class Cut(StrEnum):
    """How a board was sawn: the direction of its width.

    TANGENTIAL is a flat-sawn board, with growth rings along its width; RADIAL is a
    quarter-sawn board, with growth rings upright to its face.
    """

    TANGENTIAL = "tangential"
    RADIAL = "radial"


@dataclass(frozen=True)
class Wood:
    """Movement of one wood, as published.

    Attributes:
        name: Name of the wood as the handbook writes it.
        radial_per_percent: Dimensional change coefficient CR, per 1 % of moisture content.
        tangential_per_percent: Dimensional change coefficient CT, per 1 % of moisture content.
        radial_shrinkage_percent: Shrinkage from green to oven dry, radial, if known.
        tangential_shrinkage_percent: Shrinkage from green to oven dry, tangential, if known.
        status: Where the two coefficients come from.
        shrinkage_status: Where the two shrinkages come from.
    """

    name: str
    radial_per_percent: float
    tangential_per_percent: float
    radial_shrinkage_percent: float | None = None
    tangential_shrinkage_percent: float | None = None
    status: str = PUBLISHED
    shrinkage_status: str = PUBLISHED

    @property
    def usual_name(self) -> str:
        """Name in the usual order of words, such as black walnut."""
        words = [word for word in self.name.split(", ") if word != "commercial"]
        return " ".join(reversed(words))

    def coefficient_per_percent(self, cut: Cut) -> float:
        """Dimensional change coefficient across a board of this cut, per 1 % of moisture."""
        return self.radial_per_percent if cut is Cut.RADIAL else self.tangential_per_percent

    def shrinkage_percent(self, cut: Cut) -> float | None:
        """Shrinkage from green to oven dry across a board of this cut, or None if unknown."""
        if cut is Cut.RADIAL:
            return self.radial_shrinkage_percent
        return self.tangential_shrinkage_percent


_ROWS = (
    Wood("alder, red", 0.00151, 0.00256, 4.4, 7.3),
    Wood("ash, white", 0.00169, 0.00274, 4.9, 7.8),
    Wood("basswood, American", 0.0023, 0.0033, 6.6, 9.3),
    Wood("beech, American", 0.0019, 0.00431, 5.5, 11.9),
    Wood("birch, yellow", 0.00256, 0.00338, 7.3, 9.5),
    Wood("butternut", 0.00116, 0.00223, 3.4, 6.4),
    Wood("cherry, black", 0.00126, 0.00248, 3.7, 7.1),
    Wood("chestnut, American", 0.00116, 0.00234, 3.4, 6.7),
    Wood("fir, white", 0.00112, 0.00245, 3.3, 7.0, FROM_MEMORY, FROM_MEMORY),
    Wood("maple, red", 0.00137, 0.00289),
    Wood("maple, sugar", 0.00165, 0.00353, 4.8, 9.9, PUBLISHED, FROM_MEMORY),
    Wood("oak, red, commercial", 0.00158, 0.00369),
    Wood("oak, white, commercial", 0.0018, 0.00365),
    Wood("pine, eastern white", 0.00071, 0.00212, 2.1, 6.1, FROM_MEMORY, FROM_MEMORY),
    Wood("spruce, Sitka", 0.00148, 0.00263, 4.3, 7.5, FROM_MEMORY, FROM_MEMORY),
    Wood("sycamore, American", 0.00172, 0.00296, 5.0, 8.4),
    Wood("walnut, black", 0.0019, 0.00274, 5.5, 7.8),
    Wood("yellow-poplar", 0.00158, 0.00289, 4.6, 8.2, FROM_MEMORY, PUBLISHED),
)

WOODS = MappingProxyType({wood.name: wood for wood in _ROWS})
"""The woods by name, as the handbook writes it."""
