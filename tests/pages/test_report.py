"""The report as a page: complete, safe, self-contained, with the numbers of the other outputs."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from browsers import launched
from conftest import ROOT, Run, job_of
from reading import Reader
from seen import FILES, FIXTURES, assessed

import assess
from assess.output.json_data import grades_data, plan_data, verdict_data
from assess.pages.letter import letter_of
from assess.pages.report import report_of, report_page
from assess.pages.report_condition import measurements

CASEWORK = "Casework and surroundings"
START = dt.date(2027, 1, 11)
WRITTEN = dt.date(2026, 11, 30)


@cache
def page(stem: str) -> str:
    result = assessed(stem)
    return report_page(result, result.verdict.plan_scope, WRITTEN)


@cache
def read(stem: str) -> Reader:
    return Reader(page(stem))


@pytest.mark.parametrize("stem", FIXTURES)
def test_it_parses_has_no_script_and_loads_nothing(stem: str) -> None:
    reader = read(stem)
    assert not {"script", "link", "iframe", "object", "form"} & set(reader.tags)
    for tag, named in reader.started:
        assert not [name for name in named if name.startswith("on")]
        for address in (named.get("src"), named.get("href")):
            outside = address is not None and not address.startswith(("#", "data:image/"))
            assert not outside or tag == "a"
    assert "@import" not in page(stem)
    assert all(name.startswith("#") for name in re.findall(r"url\(([^)]*)\)", page(stem)))
    assert reader.policy == "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


@pytest.mark.parametrize("stem", FIXTURES)
def test_a_screen_reader_finds_its_way(stem: str) -> None:
    reader = read(stem)
    assert reader.levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(reader.levels))
    assert reader.tags.count("caption") == reader.tags.count("table")
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
    made = report_of(result, "working", WRITTEN)
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
    made = report_of(result, result.verdict.plan_scope, WRITTEN)
    for way, row in zip(verdict["ways"], made.ways.rows, strict=True):
        if way["cost"] and way["cost"]["p90"] >= 1:
            low, high = row[1].split(" to ")
            for said, named in ((low, "p10"), (high, "p90")):
                # The data are rounded, so a half may have been rounded either way.
                assert said in {f"{way['cost'][named] + nudge:,.0f}" for nudge in (-5e-3, 5e-3)}
            assert row[1] in text
    whole = grades["whole"]
    assert made.grades.rows[0][1].split(" to ")[0] == str(round(whole["lower"]))
    assert sum(len(group.findings) for group in made.findings) == len(grades["findings"])
    assert sum(len(group.lines) for group in made.not_seen) == len(grades["unseen"])
    plan = plan_data(result, result.plans[result.verdict.plan_scope])
    numbers = [step.number for stage in made.stages for step in stage.steps]
    assert numbers == [step["number"] for step in plan["steps"]]
    bought = [m for m in result.plans[result.verdict.plan_scope].materials if m.kind == "material"]
    assert len(made.materials.rows if made.materials else ()) == len(bought)
    others = made.others.rows if made.others else ()
    assert len(plan["materials"]) - len(bought) <= len(others) <= len(plan["materials"])
    for step in plan["steps"]:
        assert step["title"] in text


@pytest.mark.parametrize("stem", FIXTURES)
def test_everything_that_was_answered_and_noted_is_in_it(stem: str) -> None:
    result, text = assessed(stem), read(stem).text
    assert result.graded.judgements
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
    made = report_of(result, result.verdict.plan_scope, WRITTEN)
    raised = {c for f in result.graded.findings for c in f.outcome.cautions}
    raised |= set(result.plans[result.verdict.plan_scope].cautions)
    titles = {result.knowledge.cautions[c].title for c in raised}
    assert {line.title for line in made.cautions} == titles
    assert all(line.ask or line.follow for line in made.cautions)
    by_number = {line.number: line.title for line in made.cautions}
    plan = result.plans[result.verdict.plan_scope]
    steps = {step.number: step for step in plan.steps}
    for stage in made.stages:
        said: set[str] = set()
        for line in stage.steps:
            raised_here = [result.knowledge.cautions[c] for c in steps[line.number].cautions]
            said |= {by_number[n] for n in line.care}
            assert {c.title for c in raised_here} <= said
            own = {by_number[n] for n in line.care}
            assert {c.title for c in raised_here if not c.once_a_stage} <= own


def test_values_that_lack_the_same_stand_in_one_line() -> None:
    (group,) = (g for g in measurements(assessed("tight_budget")) if g.title == CASEWORK)
    lacks = [line.partition("Missing: ")[2] for line in group.lines]
    assert lacks
    assert len(lacks) == len(set(lacks))
    unknown = [
        m.title
        for name, m in assessed("tight_budget").measured.values.items()
        if name.startswith("casework.") and m.value is None
    ]
    assert len(unknown) > len(lacks)
    assert all(title in " ".join(group.lines) for title in unknown)


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
    dated = Reader(report_page(result, "working", WRITTEN, START)).text
    assert "Finish: 11 January 2027 (9 in 10). Start: 11 January 2027" in dated
    assert "Mon 11 Jan 2027" in dated
    counted = read("one_strap").text
    assert "Done within 1 day (9 in 10), counted from a Monday" in counted
    assert "2024" not in counted
    assert "Start:" not in counted


def test_without_bench_hours_all_but_the_calendar_is_there() -> None:
    result = assessed("one_strap")
    idle = result.workshop.model_copy(update={"bench_hours_a_day": 0.0})
    made = report_of(assess.assess(result.job, workshop=idle), "working", WRITTEN)
    assert made.lanes is None
    assert made.calendar_said == (
        "No calendar can be made: the profile has no bench hours, so nothing can be scheduled.",
    )
    assert made.stages


@pytest.mark.parametrize("stem", FIXTURES)
def test_what_is_written_to_the_owner_is_the_letter(stem: str) -> None:
    letter, text = letter_of(assessed(stem), WRITTEN), read(stem).text.replace("\u00a0", " ")
    for said in (*letter.looked, *letter.advice, *letter.hidden, *letter.household, letter.stands):
        assert " ".join(said.replace("\u00a0", " ").split()) in text
    for option in letter.options:
        assert option.price.replace("\u00a0", " ") in text


def test_work_done_is_told_and_only_what_is_left_is_scheduled() -> None:
    text = FILES["one_strap"].read_text(encoding="utf-8") + (
        '\n[[done]]\nstep = "casework.record_state"\ndate = 2027-01-11\n'
        '[[done]]\nstep = "pneumatics.treadles_draw"\nreading = "one side dead"\n'
    )
    result = assess.assess(job_of(text))
    plan = result.plans["working"]
    made = report_of(result, "working", WRITTEN)
    assert made.plan_said[-1].startswith(f"Done: 1 of {len(plan.steps)} steps.")
    steps = {line.number: line for stage in made.stages for line in stage.steps}
    done, failed = plan.step("casework.record_state"), plan.step("pneumatics.treadles_draw")
    assert done is not None
    assert failed is not None
    assert (steps[done.number].hours, steps[done.number].waits) == ("done", "")
    assert steps[done.number].progress[0] == "Done: 11 January 2027"
    assert steps[failed.number].progress[0].startswith("It failed (one side dead)")
    assert made.lanes is not None
    shown = {row[0].partition(" ")[0] for row in made.lanes.rows}
    assert shown == {str(step.number) for step in plan.left}


def test_a_step_with_a_second_half_is_scheduled_twice() -> None:
    result = assessed("ribbed_two_manual")
    plan = result.plans[result.verdict.plan_scope]
    lanes = report_of(result, plan.scope, WRITTEN, START).lanes
    assert lanes is not None
    names = [row[0] for row in lanes.rows]
    twice = [name.replace("again: ", "") for name in names if "again: " in name]
    assert twice
    assert set(twice) < set(names)
    assert {row[2] for row in lanes.rows} == {"home", "bench", "desk"}


def test_a_search_tells_its_likely_cures() -> None:
    text = """format = 1
[[history.complaint]]
symptom = "pneumatics.one_treadle_dead"
"""
    result = assess.assess(job_of(text))
    lines = [s for stage in report_of(result, "working", WRITTEN).stages for s in stage.steps]
    (search,) = (line for line in lines if line.kind == "find")
    assert any(line.startswith("Likely cures, and what each adds") for line in search.told)
    assert search.told[-1].endswith("none of these")


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
    reader = Reader(report_page(result, "working", WRITTEN))
    assert "script" not in reader.tags
    assert not [n for _, named in reader.started for n in named if n.startswith("on")]
    said = "<script>alert('x')</script>{{ 7 * 7 }}\" onload=\"x &lt;b&gt;"
    assert reader.text.count(said) >= 5


def test_an_empty_file_says_that_nothing_was_looked_at() -> None:
    text = Reader(report_page(assess.assess(job_of("format = 1\n")), "working", WRITTEN)).text
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
whole = ["front.jpg"]
"pneumatics.straps" = ["strap.jpg", "strap 2.png"]
"""
    result = assess.assess(job_of(text, tmp_path / "job.toml"))
    reader = Reader(report_page(result, "working", WRITTEN))
    assert reader.tags.count("img") == 3
    assert all(named["alt"] for tag, named in reader.started if tag == "img")
    assert re.search(r"broken or off \[photographs 2 ?, 3 ?\]", reader.text)


def test_the_command_writes_it_and_names_mistakes(run: Run, tmp_path: Path) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    done = run("report", job, "-o", "a page.html", "--scope", "full", "--start", "2027-01-11")
    assert done.returncode == 0, done.stderr
    assert done.stdout == "Wrote 'a page.html'.\n"
    assert "Plan for full restoration" in (tmp_path / "a page.html").read_text(encoding="utf-8")
    (tmp_path / "bad.toml").write_text('format = 1\n[photographs]\nwhole = ["gone.jpg"]\n')
    done = run("report", "bad.toml", "-o", "b.html")
    assert done.returncode == 2
    assert "bad.toml:3: photographs.whole: gone.jpg: there is no such file" in done.stderr
    assert not (tmp_path / "b.html").exists()
    assert run("report", job, "-o", "gone/b.html").returncode == 2


def test_the_same_file_gives_the_same_page() -> None:
    again = assess.assess(assess.load(ROOT / "fixtures" / "tight_budget.toml"))
    assert report_page(again, again.verdict.plan_scope, WRITTEN) == page("tight_budget")


@pytest.mark.parametrize("stem", FIXTURES)
def test_without_photographs_it_stays_small(stem: str) -> None:
    assert len(page(stem).encode()) < 2_000_000


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with launched() as started:
        yield started


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
