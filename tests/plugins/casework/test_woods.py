"""The table of woods against the published one, every row."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from assess_casework.woods import WOODS, Cut, find_wood

REFERENCES = Path(__file__).parents[2] / "references"
TABLE: dict[str, Any] = tomllib.loads(
    (REFERENCES / "wood_dimensional_change.toml").read_text(encoding="utf-8")
)
ROWS = [pytest.param(row, id=row["species"]) for row in TABLE["rows"]]


@pytest.mark.parametrize("row", ROWS)
def test_every_row_is_as_published(row: dict[str, Any]) -> None:
    """Coefficients, shrinkages and where they come from."""
    wood = WOODS[row["species"]]
    assert wood.coefficient_per_percent(Cut.RADIAL) == row["CR"]
    assert wood.coefficient_per_percent(Cut.TANGENTIAL) == row["CT"]
    assert wood.shrinkage_percent(Cut.RADIAL) == row.get("shrinkage_radial_percent")
    assert wood.shrinkage_percent(Cut.TANGENTIAL) == row.get("shrinkage_tangential_percent")
    assert wood.status == row["status"]
    if "shrinkage_radial_percent" in row:
        assert wood.shrinkage_status == row.get("shrinkage_status", row["status"])


def test_no_wood_is_made_up() -> None:
    """Each wood has its row, each row its wood, in the order of the alphabet."""
    assert list(WOODS) == sorted(row["species"] for row in TABLE["rows"])


@pytest.mark.parametrize("row", ROWS)
def test_every_wood_is_found_either_way_round(row: dict[str, Any]) -> None:
    """As the handbook writes it, and as one says it."""
    name = row["species"]
    spoken = " ".join(reversed(name.split(", ")))
    assert find_wood(name) is WOODS[name]
    assert find_wood(spoken.upper()) is WOODS[name]


@pytest.mark.parametrize(
    ("name", "named"),
    [
        ("oak", ["oak, red, commercial", "oak, white, commercial"]),
        ("maple", ["maple, red", "maple, sugar"]),
        ("walnut", ["walnut, black"]),
        ("buternut", ["butternut"]),
        ("ebony", ["known:", "yellow-poplar"]),
        ("", ["known:"]),
        ("commercial", ["oak, red, commercial"]),
    ],
)
def test_a_wood_unknown_or_too_vague_is_refused(name: str, named: list[str]) -> None:
    """The message names the nearest, or all."""
    with pytest.raises(ValueError, match="No wood is called") as refused:
        find_wood(name)
    assert all(word in str(refused.value) for word in named)


@pytest.mark.parametrize("wood", WOODS.values(), ids=lambda wood: str(wood.name))
def test_flat_sawn_boards_move_more(wood: Any) -> None:
    """As in every wood."""
    assert wood.tangential_per_percent > wood.radial_per_percent > 0
