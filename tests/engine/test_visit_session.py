"""A visit over a job file: what it reads again, and what the door saves."""

from __future__ import annotations

from pathlib import Path

import pytest
import toy

from assess.base.errors import JobFileError
from assess.job.job_reading import load
from assess.job.workshop_profile import load_workshop
from assess.visit.door_questions import DoorQuestion, door_questions
from assess.visit.session import VisitSession

CART = toy.knowledge()


def visit_of(folder: Path, text: str = "") -> VisitSession:
    path = folder / "job.toml"
    path.write_text(f"format = 1\n{text}", encoding="utf-8")
    return VisitSession(path, CART, load_workshop(trade=CART.trade))


def door(visit: VisitSession, name: str) -> DoorQuestion:
    return next(q for q in door_questions(visit.assessed().job, CART) if q.id == name)


def test_the_file_is_read_again_when_it_changed(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    first = visit.assessed()
    assert visit.assessed() is first
    visit.path.write_text('format = 1\ntitle = "other"\n', encoding="utf-8")
    assert visit.assessed().job.title == "other"


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("history.works", "2", "with faults"),
        ("history.complaint", "1 2", "It wobbles, It does not move"),
        ("owner.ceiling", "1200", "1200"),
        ("owner.attachment", "much", "much"),
        ("history.overhaul", "1971", "1971"),
    ],
)
def test_words_of_a_value_are_those_that_are_shown(
    tmp_path: Path, name: str, typed: str, said: str
) -> None:
    visit = visit_of(tmp_path)
    question = door(visit, name)
    value = question.value(typed)
    assert question.words(value) == said
    visit.tell(visit.assessed(), question, value)
    assert door(visit, name).given == said


def test_what_would_spoil_the_file_is_not_saved(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    question = door(visit, "history.overhaul")
    with pytest.raises(JobFileError, match="after the year of the visit"):
        visit.tell(visit.assessed(), question, 2999)
    assert load(visit.path, CART.trade).history.overhaul == ()
