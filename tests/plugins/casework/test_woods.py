"""The table of woods against the published one, row by row."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from assess_casework.woods import WOODS, Cut

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
    """Each wood has its row and each row its wood, in alphabetical order."""
    assert list(WOODS) == sorted(row["species"] for row in TABLE["rows"])


@pytest.mark.parametrize(
    ("name", "usual"),
    [("walnut, black", "black walnut"), ("oak, white, commercial", "white oak")],
)
def test_the_usual_name(name: str, usual: str) -> None:
    """As it is said, not as it is indexed."""
    assert WOODS[name].usual_name == usual


@pytest.mark.parametrize("wood", WOODS.values(), ids=lambda wood: str(wood.name))
def test_flat_sawn_boards_move_more(wood: Any) -> None:
    """As in every wood."""
    assert wood.tangential_per_percent > wood.radial_per_percent > 0
