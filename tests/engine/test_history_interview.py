"""The first questions of an interview: what is told is saved at once, in the words of the file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import toy

from assess.cli.history_interview import HistoryInterview
from assess.job.job_file import Job
from assess.job.job_reading import parse
from assess.job.workshop_profile import load_workshop
from assess.visit.session import VisitSession

KNOWLEDGE = toy.knowledge()
BARE = "format = 1\n# a note of mine\n\n[answers.wheels]\nplay = 2\n"


def told(tmp_path: Path, *typed: str, text: str = BARE) -> tuple[Job, str, str]:
    """The job, the text of its file and everything shown, after these lines were typed."""
    path = tmp_path / "cart.toml"
    path.write_text(text, encoding="utf-8")
    lines: Iterator[str] = iter(typed)
    shown: list[str] = []

    def ask(_: str) -> str:
        try:
            return next(lines)
        except StopIteration:
            raise EOFError from None

    visit = VisitSession(path, KNOWLEDGE, load_workshop(trade=KNOWLEDGE.trade))
    HistoryInterview(visit, ask, shown.append).run()
    text = path.read_text(encoding="utf-8")
    return parse(text, str(path), KNOWLEDGE.trade), text, "\n".join(shown)


def test_everything_told_is_saved_and_all_else_kept(tmp_path: Path) -> None:
    job, text, _ = told(tmp_path, "2", "weekly", "1", "slowly", "2019")
    assert job.history.works == "with faults"
    assert job.history.used == "weekly"
    assert [(c.symptom, c.came) for c in job.history.complaint] == [("wheels.wobbles", "slowly")]
    assert [(o.year, o.how_far) for o in job.history.overhaul] == [(2019, "full")]
    assert 'rolls = "with faults"' in text
    assert "# a note of mine" in text
    assert job.answers["wheels"]["play"].answer == 2


def test_enter_passes_over_and_q_ends_these_questions(tmp_path: Path) -> None:
    assert told(tmp_path, "", "", "", "", "")[1] == BARE
    job, _, shown = told(tmp_path, "1", "q")
    assert job.history.works == "well"
    assert "It wobbles" not in shown


def test_a_line_that_ends_early_keeps_what_was_said(tmp_path: Path) -> None:
    assert told(tmp_path, "3")[0].history.works == "partly"


def test_slips_are_asked_again(tmp_path: Path) -> None:
    job, _, shown = told(tmp_path, "9", "wel", "1", "", "7", "", "soon", "2015", "")
    assert job.history.works == "well"
    assert "no such number: 7" in shown
    assert "a year in four figures" in shown
    assert job.history.unused_since == 2015


def test_contradictions_are_shown_and_kept(tmp_path: Path) -> None:
    job, _, shown = told(tmp_path, "1", "", "2", "", "q")
    assert job.history.works == "well"
    assert "which is right?" in " ".join(shown.split())


def test_nothing_is_asked_where_something_is_told(tmp_path: Path) -> None:
    text = BARE + '\n[history]\nused = "weekly"\n'
    assert told(tmp_path, "1", text=text)[1:] == (text, "")


@pytest.mark.parametrize("year", ["2999", "9999"])
def test_a_year_to_come_is_not_saved(tmp_path: Path, year: str) -> None:
    job, text, shown = told(tmp_path, "", "", "", "", year)
    assert (job.history.overhaul, text) == ((), BARE)
    assert "NOT SAVED" in shown
