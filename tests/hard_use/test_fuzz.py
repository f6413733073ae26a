"""A short campaign of hostile input; a long one is `python -m tests.fuzz --inputs 200000`."""

from __future__ import annotations

from pathlib import Path

import pytest
from fuzz.campaign import GOOD, RESULT, Attempt, campaign, chance_of, judged, kind_of
from fuzz.targets import TARGETS

INPUTS = 1200


def test_every_input_ends_in_a_result_or_in_one_clear_message(tmp_path: Path) -> None:
    tally = campaign(1, INPUTS, keep=tmp_path)
    kinds = {kind for kind, _ in tally.counts}
    assert kinds == set(TARGETS)
    assert all(tally.counts[kind, RESULT] for kind in kinds), tally.table()
    assert sum(tally.counts.values()) == INPUTS
    assert {name for _, name in tally.counts} <= set(GOOD), tally.table()
    assert list(tmp_path.iterdir()) == []


def test_an_input_is_made_from_the_seed_and_its_number_alone() -> None:
    kinds = [kind_of(chance_of(7, number), TARGETS) for number in range(50)]
    assert kinds == [kind_of(chance_of(7, number), TARGETS) for number in range(50)]
    assert len(set(kinds)) == len(TARGETS)


def test_several_processes_come_to_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    one = campaign(1, 16)
    monkeypatch.setattr("fuzz.campaign.SHARE", 8)
    assert campaign(1, 16, processes=2).counts == one.counts


@pytest.mark.parametrize(
    ("attempt", "name"),
    [
        (Attempt(0, "fine"), RESULT),
        (Attempt(1), "other exit code"),
        (Attempt(2), "no message"),
        (Attempt(2, err="assess: \x1b[2J"), "control characters"),
        (Attempt(2, err="x\n" * 1000), "endless message"),
        (Attempt(2, err="x" * 10_000), "endless message"),
        (Attempt(0, '{"a": NaN}', is_json=True), "not JSON"),
        (Attempt(1, error=ValueError("odd")), "traceback"),
        (Attempt(0, said="knocked out"), "broken promise"),
    ],
)
def test_what_is_wrong_is_seen(attempt: Attempt, name: str) -> None:
    assert judged(attempt)[0] == name
