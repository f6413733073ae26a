"""Where one answer ends and the next begins: against published limits, and as it was read."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from conftest import golden
from references import reference

from assess import Knowledge, knowledge_in_use
from assess.knowledge.criteria import Criterion

KNOWLEDGE = knowledge_in_use()
HAZARDS: list[dict[str, Any]] = reference("hazards_limits")["rows"]


def bounds(criterion: Criterion) -> dict[float, int]:
    """Where each outcome of a measured criterion begins, and its class."""
    return {o.from_: o.condition for o in criterion.outcomes if o.from_ is not None}


def first_bound_above(criterion: str, limit: float) -> float:
    """The first bound beyond a limit."""
    return min(bound for bound in bounds(KNOWLEDGE.criteria[criterion]) if bound > limit)


def thresholds(knowledge: Knowledge) -> str:
    """Every bound of every criterion that is measured or counted, one criterion a line."""
    lines = []
    for criterion in knowledge.criteria.values():
        if criterion.unit is not None:
            steps = ", ".join(f"{b:g}: {c}" for b, c in sorted(bounds(criterion).items()))
            shares = f" of {' x '.join(criterion.share_of)}" if criterion.share_of else ""
            lines.append(f"{criterion.id} [{criterion.unit}{shares}] {steps}")
    return "\n".join(lines) + "\n"


def test_no_threshold_moves_unseen() -> None:
    shown = thresholds(KNOWLEDGE)
    assert len(shown.splitlines()) > 100
    assert shown == golden(Path(__file__).parent / "golden" / "thresholds.txt", shown)


@pytest.mark.parametrize("criterion", ["casework.room_humidity", "casework.future_humidity"])
def test_damp_air_is_found_from_the_published_limit_for_mould(criterion: str) -> None:
    (row,) = (row for row in HAZARDS if row["hazard"] == "mould")
    (limit, low, high) = (float(number) for number in re.findall(r"\d+", row["value"]))
    assert 0 < first_bound_above(criterion, limit) - limit <= 1
    classes = bounds(KNOWLEDGE.criteria[criterion])
    assert classes[first_bound_above(criterion, limit)] >= 1
    # What is ideal there counts as good here, at least from the middle of it on.
    middle = (low + high) / 2
    assert classes[max(b for b in classes if b <= middle)] == 0


def test_a_load_is_found_from_the_published_limit_for_one_person() -> None:
    limit = reference("hazard_niosh_lifting")["constants"]["LC_kg"]
    above = first_bound_above("casework.load_each", limit)
    assert above - limit <= 0.1 + 1e-9
    assert bounds(KNOWLEDGE.criteria["casework.load_each"])[above] >= 1
    assert f"{limit:.0f} kg" in KNOWLEDGE.cautions["casework.lifting"].text


def test_cautions_of_droppings_say_what_is_published() -> None:
    (row, *_) = (row for row in HAZARDS if row["hazard"] == "rodent droppings")
    published = "air 30 min first; 1 part bleach to 9 parts water; soak 5 min; no dry sweeping"
    assert row["value"].startswith(published)
    told = [c for c in KNOWLEDGE.cautions.values() if c.id.endswith(".droppings")]
    assert len(told) > 1
    for caution in told:
        for words in ("half an hour", "one part bleach to nine parts water", "five minutes"):
            assert words in caution.text, caution.id
        assert "Never sweep dry" in caution.text
        assert "never use a vacuum cleaner" in caution.text


def test_the_ordinary_pitches_are_those_that_were_built() -> None:
    built = [float(row["a4_hz"]) for row in reference("tuning_historic_pitch")["rows"]]
    ordinary = bounds(KNOWLEDGE.criteria["reeds.pitch_a"])
    low, high = (bound for bound in sorted(ordinary) if bound > 380)
    within = [hz for hz in built if low <= hz < high]
    assert len(within) > len(built) / 2
