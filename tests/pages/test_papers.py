"""What holds for every page that is printed: the letter, the report, the card and the form."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from browsers import assert_axe_finds_nothing, axe_script, launched
from reading import Reader
from seen import assessed

from assess.assessment import Assessment
from assess.inspection.visit_stops import VisitMeans
from assess.pages.card import CardChoice, card_page
from assess.pages.letter import letter_page
from assess.pages.report import report_page
from assess.pages.visit_form import form_page

DAY = dt.date(2026, 11, 30)
BEGIN = dt.date(2027, 1, 11)


def form(result: Assessment) -> str:
    return form_page(result, VisitMeans(minutes=60), how=True)


def card(result: Assessment) -> str:
    plan = result.plans[result.verdict.plan_scope]
    return card_page(result, plan, CardChoice(start=BEGIN, how=True))


PAPERS: dict[str, Callable[[Assessment], str]] = {
    "letter": lambda result: letter_page(result, DAY),
    "report": lambda result: report_page(result, result.verdict.plan_scope, DAY, BEGIN),
    "card": card,
    "form": form,
}
STEMS = ("neglected", "one_strap", "ribbed_two_manual")
WIDTHS = {"one_strap": (360, 1280)}


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with launched() as started:
        yield started


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("stem", STEMS)
def test_axe_finds_nothing(stem: str, paper: str, browser: Any, tmp_path: Path) -> None:
    script = axe_script()
    file = tmp_path / f"{paper}.html"
    file.write_text(PAPERS[paper](assessed(stem)), encoding="utf-8")
    for width in WIDTHS.get(stem, (360,)):
        tab = browser.new_page(viewport={"width": width, "height": 800})
        tab.goto(file.as_uri())
        tab.evaluate(script)
        assert_axe_finds_nothing(tab, f"{paper} of {stem}, {width} px")
        tab.close()


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("stem", STEMS)
def test_one_frame_holds_every_page(stem: str, paper: str) -> None:
    page = Reader(PAPERS[paper](assessed(stem)))
    assert page.policy.startswith("default-src 'none'; style-src 'unsafe-inline'")
    assert page.tags.count("main") == 1
    assert ("html", {"lang": "en"}) in page.started
    assert page.levels[0] == 1
    assert all(below <= above + 1 for above, below in pairwise(page.levels))
