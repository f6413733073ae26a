"""Nothing of the trade's inspection list, repair list, faults, grounds and hazards is left out.

The table ``references/trade_list.toml`` has what the trade inspects and repairs; the tables
``references/coverage_*.toml`` say which ids cover each row. Here each row must be covered, and
each id must exist and be able to do what it is named for.
"""

from __future__ import annotations

from typing import Any

import pytest
from references import reference

from assess import knowledge_in_use
from assess.knowledge.lint import doubts, measured_share

KNOWLEDGE = knowledge_in_use()
SUBSYSTEMS = ("pneumatics", "action", "reeds", "casework")
LIST = reference("trade_list")
TABLES = {s: reference(f"coverage_{s}") for s in SUBSYSTEMS}


def joint(kind: str) -> dict[str, list[str]]:
    """The rows of one kind from all four tables."""
    rows: dict[str, list[str]] = {}
    for table in TABLES.values():
        for row, ids in table.get(kind, {}).items():
            rows.setdefault(row, []).extend(ids)
    return rows


def outcome(reading: str) -> Any:
    """The outcome named by ``criterion=label``."""
    criterion, _, label = reading.partition("=")
    return next(o for o in KNOWLEDGE.criteria[criterion].outcomes if o.label == label)


@pytest.mark.parametrize("row", LIST["inspection"])
def test_each_inspection_row_is_asked(row: str) -> None:
    asked = joint("inspection").get(row, [])
    assert asked, f"no criterion covers {row}"
    assert set(asked) <= set(KNOWLEDGE.criteria)


@pytest.mark.parametrize("row", LIST["repairs"])
def test_each_repair_row_is_a_step(row: str) -> None:
    steps = joint("repairs").get(row, [])
    assert steps, f"no step does {row}"
    assert set(steps) <= set(KNOWLEDGE.steps)


@pytest.mark.parametrize("kind", ["inspection", "repairs"])
def test_only_rows_of_the_list_are_covered(kind: str) -> None:
    assert set(joint(kind)) == set(LIST[kind])


@pytest.mark.parametrize("fault", joint("faults"))
def test_each_fault_can_be_said(fault: str) -> None:
    assert joint("faults")[fault]
    for reading in joint("faults")[fault]:
        assert outcome(reading).condition > 0


@pytest.mark.parametrize("ground", joint("grounds"))
def test_each_ground_can_be_reached(ground: str) -> None:
    assert joint("grounds")[ground]
    for reading in joint("grounds")[ground]:
        found = outcome(reading)
        assert found.beyond_repair or found.advise_against, reading


@pytest.mark.parametrize("hazard", joint("hazards"))
def test_each_hazard_has_a_caution_that_is_shown(hazard: str) -> None:
    shown = {c for k in KNOWLEDGE.criteria.values() for o in k.outcomes for c in o.cautions}
    shown |= {c for r in KNOWLEDGE.repairs.values() for c in r.cautions}
    shown |= {c for h in KNOWLEDGE.hold_points.values() for c in h.cautions}
    shown |= {c for p in KNOWLEDGE.places.values() for c in p.open_cautions}
    assert joint("hazards")[hazard]
    for caution in joint("hazards")[hazard]:
        assert KNOWLEDGE.cautions[caution].defer_to or KNOWLEDGE.cautions[caution].follow
        assert caution in shown


def test_every_caution_is_shown_somewhere() -> None:
    named = {c for ids in joint("hazards").values() for c in ids}
    assert len(named) >= 25


@pytest.mark.parametrize(
    ("subsystem", "least"), [("pneumatics", 30), ("action", 30), ("reeds", 20), ("casework", 25)]
)
def test_there_are_criteria_enough_and_a_quarter_is_measured(subsystem: str, least: int) -> None:
    criteria, measured = measured_share(KNOWLEDGE, subsystem)
    assert criteria >= least
    assert measured >= criteria / 4


@pytest.mark.parametrize("kind", ["criteria", "repairs", "hold_points", "materials", "cautions"])
def test_every_number_has_its_provenance(kind: str) -> None:
    assert getattr(KNOWLEDGE, kind)
    for identifier, thing in getattr(KNOWLEDGE, kind).items():
        assert thing.source, f"{identifier} does not say where its numbers come from"


def test_hold_tests_name_what_is_tested() -> None:
    holds = [c for c in KNOWLEDGE.criteria.values() if c.id.endswith("_hold") and c.unit == "s"]
    assert len(holds) >= 5
    for criterion in holds:
        assert criterion.asks.startswith("Hold test, ")
        assert "from fully" in criterion.asks


def test_the_knowledge_is_sound_and_whole() -> None:
    assert KNOWLEDGE.faults == ()
    assert KNOWLEDGE.dropped == ()
    assert doubts(KNOWLEDGE) == []


def test_a_published_benchmark_is_kept() -> None:
    """The lowest note on one reservoir lasts at least so many seconds (source in the table)."""
    row = reference("hold_tests")["rows"][0]
    criterion = KNOWLEDGE.criteria["pneumatics.deep_note"]
    good = next(o for o in criterion.outcomes if o.condition == 0)
    assert good.from_ == row["seconds"]


def test_same_titles_carry_the_same_words() -> None:
    """Cautions and materials that several plugins share are said once, so they must agree."""
    for table, fields in (
        (KNOWLEDGE.cautions, ("text", "defer_to", "follow", "people", "once_a_stage")),
        (KNOWLEDGE.materials, ("price", "waste", "lead_days", "whole")),
    ):
        assert table
        by_title: dict[Any, Any] = {}
        for thing in table.values():
            key = (thing.title.casefold(), getattr(thing, "unit", ""))
            said = tuple(getattr(thing, f) for f in fields)
            assert by_title.setdefault(key, said) == said, thing.id
