"""What a survey may declare for a grid, and what is a mistake."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from assess.knowledge.surveys import Survey

COLUMNS = [
    {"id": "spoke", "required": True, "choices": ["a", "b"]},
    {"id": "wheel"},
    {"id": "state", "choices": ["firm", "loose"]},
    {"id": "length", "unit": "mm"},
]
GRID = {"row": "spoke", "by": ["wheel"], "mark": "state", "number": "length"}


def survey(**grid: Any) -> Survey:
    data = {"id": "spokes", "title": "Spokes", "columns": COLUMNS, "grid": {**GRID, **grid}}
    return Survey.model_validate(data)


def test_a_grid_shows_the_choices_of_its_row() -> None:
    assert survey().cells == ("a", "b")
    assert survey(shown=["a", "b"]).grid


@pytest.mark.parametrize(
    ("grid", "said"),
    [
        ({"mark": "colour"}, "grid names no column 'colour'"),
        ({"by": ["colour"]}, "grid names no column 'colour'"),
        ({"row": "wheel"}, "needs choices of column 'wheel'"),
        ({"mark": "length"}, "needs choices of column 'length'"),
        ({"remark": "wheel"}, "needs choices of column 'wheel'"),
        ({"shown": ["a", "z"]}, "shows no cell 'z'"),
        ({"line": 7}, "multiple of 2"),
        ({"lines": 6}, "Extra inputs"),
    ],
)
def test_a_grid_that_cannot_be_is_named(grid: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        survey(**grid)
