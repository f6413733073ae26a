"""How much each wood moves across the grain: published coefficients, by name of the wood.

Source of all rows: USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010),
Table 13-5 (dimensional change coefficients) and Table 4-3 (shrinkage from green to oven dry).
Rows that were not seen in print say "from memory".
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from types import MappingProxyType

PUBLISHED = "published"
FROM_MEMORY = "from memory"


class Cut(StrEnum):
    """How a board was sawn: the direction of its width.

    TANGENTIAL is a flat-sawn board, growth rings lying along its width; RADIAL is a
    quarter-sawn board, growth rings standing on its face.
    """

    TANGENTIAL = "tangential"
    RADIAL = "radial"


@dataclass(frozen=True)
class Wood:
    """Movement of one wood, as published.

    Attributes:
        name: Name of the wood in the order of the handbook.
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


def find_wood(name: str) -> Wood:
    """Find a wood by its name, whichever way round the words are written.

    "black walnut" and "walnut, black" are the same; "commercial" may be left out. A bare
    genus ("oak") is refused: its woods differ too much.

    Args:
        name: Name of the wood.

    Returns:
        The wood with its coefficients.

    Raises:
        ValueError: No wood of that name is known; the message names the nearest.

    >>> find_wood("Red oak").name
    'oak, red, commercial'
    """
    wanted = _words(name)
    for wood in _ROWS:
        if _words(wood.name) == wanted:
            return wood
    near = [wood.name for wood in _ROWS if wanted and wanted & _words(wood.name)]
    near = near or get_close_matches(name.lower(), WOODS, n=3)
    hint = f"nearest: {'; '.join(near)}" if near else f"known: {'; '.join(WOODS)}"
    raise ValueError(f"No wood is called {name!r} ({hint}).")


def _words(name: str) -> frozenset[str]:
    return frozenset(re.findall(r"[a-z]+", name.lower())) - {"commercial"}
