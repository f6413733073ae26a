from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from assess_reeds.pitch import cents_between
from assess_reeds.standards import FOUND_ON_REED_ORGANS, PITCH_STANDARDS, nearest_standards
from hypothesis import given
from hypothesis import strategies as st

TABLE = Path(__file__).parents[2] / "references" / "tuning_historic_pitch.toml"
HISTORIC = tomllib.loads(TABLE.read_text(encoding="utf-8"))["rows"]


@pytest.mark.parametrize("row", HISTORIC, ids=lambda row: row["name"])
def test_historic_pitch_row(row: dict[str, Any]) -> None:
    assert cents_between(440.0, row["a4_hz"]) == pytest.approx(row["cents_from_440"], abs=5.1e-3)
    (standard,) = [one for one in PITCH_STANDARDS if one.name == row["name"]]
    assert (standard.a_hz, standard.year, standard.status) == (
        row["a4_hz"],
        row.get("year"),
        row["status"],
    )


def test_every_standard_is_in_the_table() -> None:
    assert len(PITCH_STANDARDS) == len(HISTORIC)


@given(st.floats(400.0, 480.0))
def test_standards_are_sorted_by_distance_and_none_is_left_out(a_hz: float) -> None:
    matches = nearest_standards(a_hz)
    distances = [abs(match.cents) for match in matches]
    assert distances == sorted(distances)
    assert {match.standard for match in matches} == {*PITCH_STANDARDS, *FOUND_ON_REED_ORGANS}
    assert all(match.cents == cents_between(match.standard.a_hz, a_hz) for match in matches)


def test_an_impossible_pitch_is_refused() -> None:
    with pytest.raises(ValueError, match="must be more"):
        nearest_standards(0.0)
