"""The report as a page: complete, safe, self-contained, with the numbers of the other outputs."""

from __future__ import annotations

import datetime as dt
import re
import shutil
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest
from conftest import ROOT, Run, job_of
from seen import FIXTURES, assessed

import assess
from assess.output.json_data import grades_data, plan_data, verdict_data
from assess.pages.report import report_of, report_page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
VOID = {"meta", "img", "br", "hr", "link", "input"}
START = dt.date(2027, 1, 11)


@cache
def page(stem: str) -> str:
    result = assessed(stem)
    return report_page(result, result.verdict.plan_scope)


class Reader(HTMLParser):
    """Tags in their order, with a check that each is closed where it should be."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.started: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.started.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not {"style", "title", "desc"} & set(self.open):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@cache
def read(stem: str) -> Reader:
    return Reader(page(stem))


@pytest.mark.parametrize("stem", FIXTURES)
def test_it_parses_has_no_script_and_loads_nothing(stem: str) -> None:
    reader = read(stem)
    assert reader.open == []
    tags = [tag for tag, _ in reader.started]
    assert not {"script", "link", "iframe", "object", "form"} & set(tags)
    for tag, named in reader.started:
        assert not [name for name in named if name.startswith("on")]
        for address in (named.get("src"), named.get("href")):
            outside = address is not None and not address.startswith(("#", "data:image/"))
            assert not outside or tag == "a"
    assert "@import" not in page(stem)
    assert all(name.startswith("#") for name in re.findall(r"url\(([^)]*)\)", page(stem)))
    policy = next(n["content"] for t, n in reader.started if "http-equiv" in n)
    assert policy == "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


@pytest.mark.parametrize("stem", FIXTURES)
def test_a_screen_reader_finds_its_way(stem: str) -> None:
    reader = read(stem)
    levels = [int(tag[1]) for tag, _ in reader.started if re.fullmatch(r"h[1-6]", tag)]
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    tags = [tag for tag, _ in reader.started]
    assert tags.count("caption") == tags.count("table")
    assert all("scope" in named for tag, named in reader.started if tag == "th")
    ids = [named["id"] for _, named in reader.started if "id" in named]
    assert len(ids) == len(set(ids))
    for tag, named in reader.started:
        if tag == "svg" and named.get("role") == "img":
            assert set((named["aria-labelledby"] or "").split()) <= set(ids)
        if tag == "a" and (named["href"] or "").startswith("#"):
            assert (named["href"] or "")[1:] in ids


def test_every_figure_has_a_title_a_sentence_and_its_numbers() -> None:
    result = assessed("tight_budget")
    made = report_of(result, "working")
    figures = [made.grades, made.order, made.lanes, made.cost_figure, *made.pictures]
    assert len(figures) == 4 + len(result.figures)
    for picture in figures:
        assert picture is not None
        assert picture.title
        assert picture.says.endswith(".")
        assert picture.rows
        at = page("tight_budget").index(f'<figure id="{picture.id}">')
        shown = page("tight_budget")[at:].partition("</figure>")[0]
        assert "<svg" in shown
        assert "<details open>" in shown
        assert shown.count('<th scope="row">') == len(picture.rows)


@pytest.mark.parametrize("stem", FIXTURES)
def test_its_numbers_are_those_of_the_json(stem: str) -> None:
    result, text = assessed(stem), read(stem).text
    verdict, grades = verdict_data(result), grades_data(result)
    made = report_of(result, result.verdict.plan_scope)
    for way, row in zip(verdict["ways"], made.ways.rows, strict=True):
        if way["cost"] and way["cost"]["p90"] >= 1:
            assert f"{way['cost']['p10']:,.0f}" in row[1]
            assert f"{way['cost']['p90']:,.0f}" in row[1]
            assert row[1] in text
    whole = grades["whole"]
    assert made.grades.rows[0][1].split(" to ")[0] == str(round(whole["lower"]))
    assert sum(len(group.findings) for group in made.findings) == len(grades["findings"])
    assert sum(len(group.lines) for group in made.not_seen) == len(grades["unseen"])
    plan = plan_data(result, result.plans[result.verdict.plan_scope])
    numbers = [step.number for stage in made.stages for step in stage.steps]
    assert numbers == [step["number"] for step in plan["steps"]]
    assert len(made.materials.rows if made.materials else ()) == len(plan["materials"])
    for step in plan["steps"]:
        assert step["title"] in text


@pytest.mark.parametrize("stem", FIXTURES)
def test_everything_that_was_answered_and_noted_is_in_it(stem: str) -> None:
    result, text = assessed(stem), read(stem).text
    for judgement in result.graded.judgements.values():
        if judgement.is_seen:
            assert " ".join(judgement.criterion.asks.split()) in text
            assert " ".join(judgement.given.split()) in text
    for judgement in result.graded.findings:
        if judgement.note and not judgement.note.startswith("computed from"):
            assert " ".join(judgement.note.split()) in text
    for measurement in result.measured.values.values():
        assert measurement.title in text
        if measurement.value is not None:
            assert measurement.formula in text


@pytest.mark.parametrize("stem", FIXTURES)
def test_hazards_say_whom_to_ask_and_steps_name_them_by_number(stem: str) -> None:
    result = assessed(stem)
    made = report_of(result, result.verdict.plan_scope)
    raised = {c for f in result.graded.findings for c in f.outcome.cautions}
    raised |= set(result.plans[result.verdict.plan_scope].cautions)
    titles = {result.knowledge.cautions[c].title for c in raised}
    assert {line.title for line in made.cautions} == titles
    assert all(line.ask or line.follow for line in made.cautions)
    by_number = {line.number: line.title for line in made.cautions}
    plan = result.plans[result.verdict.plan_scope]
    shown = {s.number: s.care for stage in made.stages for s in stage.steps}
    for step in plan.steps:
        named = {by_number[n] for n in shown[step.number]}
        assert named == {result.knowledge.cautions[c].title for c in step.cautions}


def test_sheets_and_materials_are_in_it() -> None:
    result, text = assessed("tight_budget"), read("tight_budget").text
    assert result.sheets["pneumatics.cutting_list"].rows
    for sheet in result.sheets.values():
        for row in sheet.rows:
            assert " ".join(" ".join(row).split()) in text
    for material in result.plans["working"].materials:
        assert material.title in text


def test_with_a_first_day_it_names_dates_and_without_one_it_counts_days() -> None:
    result = assessed("one_strap")
    dated = Reader(report_page(result, "working", START)).text
    assert "Finish: 18 January 2027 (9 in 10). Start: 11 January 2027" in dated
    assert "Mon 11 Jan 2027" in dated
    counted = read("one_strap").text
    assert "Done within 8 days (9 in 10), counted from a Monday" in counted
    assert "2024" not in counted
    assert "Start:" not in counted


def test_without_bench_hours_all_but_the_calendar_is_there() -> None:
    result = assessed("one_strap")
    idle = result.workshop.model_copy(update={"bench_hours_a_day": 0.0})
    made = report_of(assess.assess(result.job, workshop=idle), "working")
    assert made.lanes is None
    assert made.calendar_said == (
        "No calendar can be made: the profile has no bench hours, so nothing can be scheduled.",
    )
    assert made.stages


HOSTILE = "<script>alert('x')</script>{{ 7 * 7 }}\\\" onload=\\\"x &lt;b&gt;"


def test_what_the_user_wrote_stays_text(tmp_path: Path) -> None:
    text = f"""format = 1
title = "{HOSTILE}"
[owner]
reason_to_play = "{HOSTILE}"
[history]
plays = "with faults"
[[history.complaint]]
symptom = "pneumatics.one_treadle_dead"
words = "{HOSTILE}"
[instrument]
description = "{HOSTILE}"
[answers.pneumatics]
straps = {{ answer = "broken or off", note = "{HOSTILE}" }}
"""
    result = assess.assess(job_of(text))
    reader = Reader(report_page(result, "working"))
    assert not [tag for tag, _ in reader.started if tag == "script"]
    assert not [n for _, named in reader.started for n in named if n.startswith("on")]
    said = "<script>alert('x')</script>{{ 7 * 7 }}\" onload=\"x &lt;b&gt;"
    assert reader.text.count(said) >= 5


def test_an_empty_file_says_that_nothing_was_looked_at() -> None:
    text = Reader(report_page(assess.assess(job_of("format = 1\n")), "working")).text
    assert "nothing has been looked at yet" in text.casefold()
    assert "in order" not in text.partition("Measurements")[0].partition("Findings")[2]


def test_photographs_stand_beside_what_they_show(tmp_path: Path) -> None:
    image = pytest.importorskip("PIL.Image")
    for name in ("front.jpg", "strap.jpg", "strap 2.png"):
        image.new("RGB", (30, 20), "gray").save(tmp_path / name)
    text = """format = 1
[answers.pneumatics]
straps = "broken or off"
[photographs]
instrument = ["front.jpg"]
"pneumatics.straps" = ["strap.jpg", "strap 2.png"]
"""
    result = assess.assess(job_of(text, tmp_path / "job.toml"))
    reader = Reader(report_page(result, "working"))
    assert len([tag for tag, _ in reader.started if tag == "img"]) == 3
    assert all(named["alt"] for tag, named in reader.started if tag == "img")
    assert re.search(r"broken or off \[photographs 2 ?, 3 ?\]", reader.text)


def test_the_command_writes_it_and_names_mistakes(run: Run, tmp_path: Path) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    done = run("report", job, "-o", "a page.html", "--scope", "full", "--start", "2027-01-11")
    assert done.returncode == 0, done.stderr
    assert done.stdout == "Wrote 'a page.html'.\n"
    assert "Plan for full restoration" in (tmp_path / "a page.html").read_text(encoding="utf-8")
    (tmp_path / "bad.toml").write_text('format = 1\n[photographs]\ninstrument = ["gone.jpg"]\n')
    done = run("report", "bad.toml", "-o", "b.html")
    assert done.returncode == 2
    assert "bad.toml:3: photographs.instrument: gone.jpg: there is no such file" in done.stderr
    assert not (tmp_path / "b.html").exists()
    assert run("report", job, "-o", "gone/b.html").returncode == 2


def test_the_same_file_gives_the_same_page() -> None:
    again = assess.assess(assess.load(ROOT / "fixtures" / "tight_budget.toml"))
    assert report_page(again, again.verdict.plan_scope) == page("tight_budget")


@pytest.mark.parametrize("stem", FIXTURES)
def test_without_photographs_it_stays_small(stem: str) -> None:
    assert len(page(stem).encode()) < 2_000_000


@pytest.fixture(scope="module")
def browser():
    """A browser without a window, or a reason to skip."""
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine")
    with api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


PAGES = {"one_strap": (10, 22), "ribbed_two_manual": (25, 50), "sound_organ": (7, 18)}


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("stem", PAGES)
def test_it_prints_whole_and_asks_the_network_for_nothing(
    stem: str, paper: str, browser, tmp_path: Path
) -> None:
    file = tmp_path / "report.html"
    file.write_text(page(stem), encoding="utf-8")
    tab = browser.new_page()
    requests: list[str] = []
    complaints: list[str] = []
    tab.on("request", lambda request: requests.append(request.url))
    tab.on("console", lambda message: complaints.append(message.text))
    tab.goto(file.as_uri())
    printed = tab.pdf(format=paper)
    assert requests == [file.as_uri()]
    assert complaints == []
    low, high = PAGES[stem]
    assert low <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= high
    tab.set_viewport_size({"width": 360, "height": 700})
    wider = tab.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wider <= 0
    tab.close()
