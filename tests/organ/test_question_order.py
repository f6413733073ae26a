"""The order in which the interview asks, and what it says about more looking."""

from __future__ import annotations

import itertools
import shutil
from pathlib import Path

import pytest
from seen import FILES, assessed

import assess
from assess.cli.interview import Interview
from assess.grading.judgements import State
from assess.inspection.question_order import is_danger, places_to, seen_at_visit, seen_from
from assess.job.configuration import Configuration
from assess.job.workshop_profile import load_workshop
from assess.testing import job_with

KNOWLEDGE = assess.knowledge_in_use()


class Owner:
    """Somebody who has seen nothing, and leaves after so many questions."""

    def __init__(self, patience: int, answer: str = "n") -> None:
        self.left = patience
        self.answer = answer
        self.heard: list[str] = []

    def ask(self, prompt: str) -> str:
        if not self.left:
            raise EOFError
        self.left -= 1
        return self.answer

    def said(self, words: str) -> int:
        return sum(words in " ".join(text.split()) for text in self.heard)


def talk(path: Path, owner: Owner, **options: bool) -> list[str]:
    """The criteria asked, in order."""
    interview = Interview(
        path, KNOWLEDGE, load_workshop(), owner.ask, owner.heard.append, **options
    )
    interview.run()
    return interview.asked


def copy_of(stem: str, tmp_path: Path) -> Path:
    for survey in FILES[stem].parent.glob(f"{stem}*.csv"):
        shutil.copy(survey, tmp_path)
    return Path(shutil.copy(FILES[stem], tmp_path / "job.toml"))


def empty(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text("format = 1\n")
    return path


def danger(criterion: str) -> bool:
    return is_danger(assessed("heated_house").graded.judgements[criterion])


def places_in_turn(asked: list[str]) -> list[str | None]:
    """The places looked into, each run of questions about one place once."""
    return [p for p, _ in itertools.groupby(asked, lambda c: KNOWLEDGE.criteria[c].place)]


@pytest.mark.parametrize("in_order", [False, True])
def test_dangers_are_asked_before_anything_else(tmp_path: Path, in_order: bool) -> None:
    dangers = [c for c in KNOWLEDGE.criteria if danger(c)]
    asked = talk(empty(tmp_path), Owner(len(dangers) + 6), in_order=in_order)
    kinds = [danger(c) for c in asked]
    assert kinds == sorted(kinds, reverse=True)
    assert 3 <= sum(kinds) < len(asked)


def test_after_the_dangers_comes_what_says_most(tmp_path: Path) -> None:
    path = copy_of("barely_inspected", tmp_path)
    for _ in range(4):
        before = assess.assess(assess.load(path))
        first = before.information_value.looks(1)[0].criterion
        dangers = [
            j.id
            for j in before.graded.judgements.values()
            if is_danger(j) and j.state is State.NO_ANSWER
        ]
        asked = talk(path, Owner(1))
        assert asked == ([first] if not dangers else [a for a in asked if a in dangers])


def test_it_does_not_send_back_and_forth_part_by_part(tmp_path: Path) -> None:
    path = empty(tmp_path)
    asked = talk(path, Owner(60), in_order=True)
    rest = places_in_turn([c for c in asked if not danger(c)])
    assert len(rest) == len(set(rest))
    assert len(asked) == 60


def test_the_two_orders_differ_and_ask_the_same(tmp_path: Path) -> None:
    ours = talk(copy_of("heated_house", tmp_path), Owner(400))
    plain = talk(copy_of("heated_house", tmp_path), Owner(400), in_order=True)
    assert ours != plain
    assert sorted(ours) == sorted(plain)


@pytest.mark.parametrize("everything", [False, True])
def test_what_needs_the_workshop_is_asked_only_on_request(tmp_path: Path, everything: bool) -> None:
    result = assessed("heated_house")
    asked = talk(copy_of("heated_house", tmp_path), Owner(400), everything=everything)
    at_home = [
        seen_at_visit(result.graded.judgements[c], KNOWLEDGE, result.configuration) for c in asked
    ]
    assert asked
    assert all(at_home) is not everything


def test_it_is_called_settled_once_while_it_is_settled(tmp_path: Path) -> None:
    assert assessed("heated_house").settled
    owner = Owner(3)
    assert len(talk(copy_of("heated_house", tmp_path), owner)) == 3
    assert owner.said("Settled: what is left is unlikely to change the verdict.") == 1
    assert owner.said("[so far: repair to playing order") == 4


def test_it_is_not_called_settled_where_the_unseen_may_change_it(tmp_path: Path) -> None:
    owner = Owner(3)
    talk(copy_of("barely_inspected", tmp_path), owner)
    assert owner.said("Settled") == 0
    assert owner.said("[so far: ") == 4


def test_the_verdict_moves_as_answers_come(tmp_path: Path) -> None:
    path = copy_of("barely_inspected", tmp_path)
    owner = Owner(4, answer="1")
    talk(path, owner)
    lines = [text for text in owner.heard if text.startswith("[so far: ")]
    assert len(set(lines)) > 1
    assert assess.assess(assess.load(path)).chances() != assessed("barely_inspected").chances()


# What must be open to see something


GAUGE_READINGS = (
    "pneumatics.suction_half",
    "pneumatics.suction_spread",
    "pneumatics.pressure_half",
    "pneumatics.peak_reading",
    "pneumatics.sag",
    "action.tremulant_start",
)
FRONT_AND_REAR = (
    "action.warped_mutes",
    "action.mute_leather",
    "reeds.missing_reeds",
    "reeds.missing_with_donor",
    "reeds.sample_corrosion",
)


def built(**features: str | bool) -> Configuration:
    """How an organ with these features is built."""
    return assess.assess(job_with(features=features)).configuration


@pytest.mark.parametrize("criterion", GAUGE_READINGS)
def test_the_gauge_is_read_with_the_back_off(criterion: str) -> None:
    """The gauge sits in the cell of a drawn reed, and the reservoir is seen from behind."""
    found = KNOWLEDGE.criteria[criterion]
    assert places_to(found, KNOWLEDGE, built()) == ("casework.back_panel",)
    assert any(
        said in found.how.casefold() for said in ("cell of a drawn", "channel", "draw one rear")
    )


@pytest.mark.parametrize("criterion", FRONT_AND_REAR)
def test_what_is_seen_in_front_and_behind_needs_both_open(criterion: str) -> None:
    found = KNOWLEDGE.criteria[criterion]
    assert places_to(found, KNOWLEDGE, built()) == ("action.key_slip", "casework.back_panel")
    assert seen_from(found, KNOWLEDGE, built()) == "Key slip, Back panel"


def test_the_pan_of_either_wind_is_seen_in_the_workshop_only() -> None:
    """Suction reeds are drawn from their cells; pressure reeds are screwed beneath the pan."""
    cracks = KNOWLEDGE.criteria["reeds.pan_cracks"]
    drawn = places_to(cracks, KNOWLEDGE, built(wind="suction"))
    screwed = places_to(cracks, KNOWLEDGE, built(wind="pressure"))
    assert drawn == ("action.key_slip", "reeds.cells")
    assert screwed[-1] == "reeds.screwed_pan"
    assert "action.upper_action" in screwed
    assert "reeds.cells" not in screwed
    assert seen_from(cracks, KNOWLEDGE, built(wind="pressure")) == "Reed pan, opened"
    for way in (drawn, screwed):
        assert not all(KNOWLEDGE.places[place].at_visit for place in way)
