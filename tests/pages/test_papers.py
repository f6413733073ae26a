"""What holds for every page that is printed: the letter, the report, the card and the form."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from browsers import assert_axe_finds_nothing, axe_script, launched
from conftest import job_of
from reading import Reader
from seen import assessed

import assess
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
STEMS = ("neglected", "one_strap", "sound_organ")
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


HOSTILE = "<script>alert(1)</script> \"'{{ 7*7 }} {% raw %} & </style>"


@pytest.fixture(scope="module")
def hostile() -> Assessment:
    """One strap, with markup for its title and in the note on the strap."""
    said = json.dumps(HOSTILE)
    text = f"""
format = 1
title = {said}
[owner]
wish = "playing"
[instrument.features]
wind = "suction"
[answers.pneumatics]
straps = {{ answer = "broken or off", note = {said} }}
"""
    return assess.assess(job_of(text))


@pytest.mark.parametrize("paper", PAPERS)
def test_what_was_written_stays_text_and_nothing_is_asked_of_the_network(
    paper: str, hostile: Assessment, browser: Any, tmp_path: Path
) -> None:
    file = tmp_path / f"{paper}.html"
    file.write_text(PAPERS[paper](hostile), encoding="utf-8")
    page = Reader(file.read_text(encoding="utf-8"))
    assert "script" not in page.tags
    assert page.tags.count("style") == 1
    assert page.text.count(HOSTILE) >= (1 if paper == "letter" else 2)  # a letter quotes no note
    tab = browser.new_page(viewport={"width": 360, "height": 800})
    asked: list[str] = []
    complaints: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.on("console", lambda message: complaints.append(message.text))
    tab.goto(file.as_uri())
    assert tab.pdf(format="A4").startswith(b"%PDF")
    assert asked == [file.as_uri()]
    assert complaints == []
    assert tab.evaluate("document.documentElement.scrollWidth") <= 360
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
