"""The pages for the bench: they say what the plan says, and they print."""

from __future__ import annotations

import datetime as dt
import json
import re
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from browsers import launched
from conftest import ROOT, Run, job_of
from reading import Reader

from assess import Job, assess, knowledge_in_use
from assess.assessment import Assessment
from assess.base.errors import UserError
from assess.job.job_reading import load
from assess.output.calendars import short_day
from assess.output.cautions import in_order, numbers_of
from assess.pages.card import Card, CardChoice, bench_card, card_page
from assess.pages.card_steps import CardStep

FIXTURES = sorted((ROOT / "fixtures").glob("*.toml"))
FORBIDDEN = {"script", "iframe", "object", "embed", "link", "img", "form", "base"}
HOSTILE = "<script>alert(1)</script> \"'{{ 7*7 }} {% raw %} & </style>"


@cache
def assessed(name: str) -> Assessment:
    path = ROOT / "fixtures" / f"{name}.toml"
    return assess(load(path, knowledge_in_use().trade))


def card_of(name: str, choice: CardChoice | None = None, scope: str = "full") -> Card:
    result = assessed(name)
    return bench_card(result, result.plans[scope], choice or CardChoice())  # type: ignore[index]


def steps_of(card: Card) -> list[CardStep]:
    return [step for section in card.sections for step in section.steps]


@pytest.mark.parametrize("job", FIXTURES, ids=lambda p: p.stem)
def test_every_fixture_has_a_card_that_loads_nothing_and_runs_nothing(run: Run, job: Path) -> None:
    done = run("card", job, "--scope", "full", "-o", "card.html", "--how")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == "Wrote card.html.\n"


@pytest.mark.parametrize("job", FIXTURES, ids=lambda p: p.stem)
def test_every_card_is_whole_html_with_headings_in_order(job: Path) -> None:
    result = assessed(job.stem)
    page = Reader(card_page(result, result.plans["full"]))
    assert not FORBIDDEN & set(page.tags)
    assert not [a for _, attrs in page.started for a in attrs if a in ("src", "href", "onclick")]
    assert page.levels[0] == 1
    assert page.levels.count(1) == 1
    assert all(below <= above + 1 for above, below in pairwise(page.levels))
    assert page.tags.count("table") == page.tags.count("caption")
    assert all("scope" in attrs for tag, attrs in page.started if tag == "th")


@pytest.mark.parametrize("job", FIXTURES, ids=lambda p: p.stem)
def test_the_card_has_the_steps_hours_and_drying_of_the_plan(run: Run, job: Path) -> None:
    plan = json.loads(run("plan", job, "--scope", "full", "--json").stdout)["data"]
    shown = steps_of(card_of(job.stem))
    assert [s.number for s in shown] == [s["number"] for s in plan["steps"]]
    for step, data in zip(shown, plan["steps"], strict=True):
        assert step.title.startswith(data["title"])
        first, _, last = step.hours.partition(" to ")
        assert float(first) == pytest.approx(data["hours"]["low"], abs=0.51)
        assert float(last or first) == pytest.approx(data["hours"]["high"], abs=0.51)
        assert bool(step.waits) == (data["waits_hours"] > 0)
        assert (step.avoid, step.done_when) == (data["avoid"], data["test"])


def test_dates_are_those_of_the_calendar(run: Run) -> None:
    job = ROOT / "fixtures" / "ribbed_two_manual.toml"
    done = run("calendar", job, "--scope", "full", "--start", "2027-01-11", "--json")
    bookings = json.loads(done.stdout)["data"]["bookings"]
    begun = {b["step"]: b["start"] for b in reversed(bookings)}
    over = {b["step"]: b["ready"] for b in bookings}
    assert len(begun) < len(bookings)  # some steps have a second half on a later day
    plan = assessed("ribbed_two_manual").plans["full"]
    card = card_of("ribbed_two_manual", CardChoice(start=dt.date(2027, 1, 11)))
    for step, shown in zip(plan.steps, steps_of(card), strict=True):
        assert shown.begins == short_day(dt.datetime.fromisoformat(begun[step.step]))
        if step.waits_hours:
            assert shown.dries_until == short_day(dt.datetime.fromisoformat(over[step.step]))
        else:
            assert shown.dries_until == ""


def test_without_a_start_there_are_blanks_for_the_day() -> None:
    result = assessed("ribbed_two_manual")
    drying = [s for s in steps_of(card_of("ribbed_two_manual")) if s.waits]
    assert drying
    assert not any(s.dries_until or s.begins for s in drying)
    page = card_page(result, result.plans["full"])
    assert page.count('class="write"') == len(drying)


@pytest.mark.parametrize("job", FIXTURES, ids=lambda p: p.stem)
def test_each_caution_stands_in_full_once_at_the_first_step_that_it_matters_for(job: Path) -> None:
    result = assessed(job.stem)
    plan = result.plans["full"]
    shown = steps_of(card_of(job.stem))
    numbers = numbers_of(plan.cautions, result.knowledge)
    met: set[int] = set()
    assert plan.steps or job.stem == "sound_organ"
    for step, card_step in zip(plan.steps, shown, strict=True):
        own = {numbers[c] for c in step.cautions}
        assert {c.number for c in card_step.cautions} == own - met
        assert {c.number for c in card_step.again} == own & met
        assert all(c.full_at < step.number for c in card_step.again)
        met |= own
    text = Reader(card_page(result, plan)).text
    for name in in_order(plan.cautions, result.knowledge):
        caution = result.knowledge.cautions[name]
        assert text.count(" ".join(caution.text.split())) >= 1


def test_a_hold_point_shows_the_value_to_reach_and_three_readings_and_the_middle_one() -> None:
    shown = {s.number: s for s in steps_of(card_of("neglected"))}
    plan = assessed("neglected").plans["full"]
    holds = [s for s in plan.steps if s.kind == "hold point"]
    assert len(holds) > 10
    for hold in holds:
        test = shown[hold.number].test
        assert test is not None
        assert test.if_fails == hold.if_fails
        assert test.reach == hold.to_reach
        if test.is_measured and test.unit:
            assert test.blanks == ("1st", "2nd", "3rd", "Middle one")
    whole = next(s for s in holds if s.title == "Whole instrument holds")
    test = shown[whole.number].test
    assert test is not None
    assert re.fullmatch(r"\d+ s or more", test.reach)


def test_a_step_that_a_survey_calls_for_names_every_row_of_it() -> None:
    result = assessed("tight_budget")
    found = [line for s in steps_of(card_of("tight_budget")) for line in s.found]
    for name, count in (("reeds.dead_reeds", 3), ("action.loose_keys", 8)):
        rows = result.measured.values[name].which
        assert len(rows) == count
        asks = result.knowledge.criteria[name].asks
        line = next(line for line in found if line.startswith(asks))
        assert line.endswith(f"by the survey: {', '.join(rows)}")


def test_notes_of_the_visit_stand_at_the_step_that_they_call_for() -> None:
    straps = next(s for s in steps_of(card_of("one_strap")) if s.title == "Renew the straps")
    assert any("left strap, at the roller" in line for line in straps.found)


def test_one_bench_alone_and_from_a_step() -> None:
    plan = assessed("neglected").plans["full"]
    card = card_of("neglected", CardChoice(bench="keyboard"))
    assert {s.title for s in card.sections} == {"Keyboard bench"}
    on_bench = [s.number for s in plan.steps if s.stage == "Keyboard bench"]
    assert [s.number for s in steps_of(card)] == on_bench
    assert "Keyboard bench" in card.part
    later = card_of("neglected", CardChoice(first=str(on_bench[1])))
    assert steps_of(later)[0].number == on_bench[1]
    both = card_of("neglected", CardChoice(bench="keyboard", first=str(on_bench[1])))
    assert [s.number for s in steps_of(both)] == on_bench[1:]
    assert steps_of(both)[0].cautions or not plan.steps[on_bench[1] - 1].cautions


@pytest.mark.parametrize(
    ("choice", "said"),
    [
        (CardChoice(bench="keybord bench"), 'did you mean "Keyboard bench"'),
        (CardChoice(bench="bench"), "fits several benches"),
        (CardChoice(first="999"), "it has steps 1 to"),
        (CardChoice(first="Renew the strops"), 'did you mean "Renew the straps"'),
        (CardChoice(bench="keyboard", first="Hand over the record"), "has no step from"),
    ],
)
def test_a_slip_in_a_bench_or_a_step_gets_a_hint(choice: CardChoice, said: str) -> None:
    with pytest.raises(UserError) as error:
        card_of("neglected", choice)
    assert said in str(error.value)


def test_the_command_refuses_a_slip_and_writes_nothing(run: Run, tmp_path: Path) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    done = run("card", job, "-o", "card.html", "--bench", "lower acton bench")
    assert done.returncode == 2
    assert 'did you mean "Lower action bench"' in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "card.html").exists()
    nowhere = run("card", job, "-o", "nowhere/card.html")
    assert nowhere.returncode == 2
    assert "cannot be written" in nowhere.stderr


@pytest.mark.parametrize("job", FIXTURES, ids=lambda p: p.stem)
def test_what_is_to_buy_is_what_the_plan_needs(job: Path) -> None:
    result = assessed(job.stem)
    plan = result.plans["full"]
    card = card_of(job.stem)
    assert sorted(m.title for m in card.materials) == sorted(m.title for m in plan.materials)
    days = [int(m.days or 0) for m in card.materials]
    assert days == sorted(days, reverse=True)
    assert all(m.steps for m in card.materials)


def test_sheets_stand_in_full_or_say_what_is_missing() -> None:
    card = card_of("neglected")
    titles = {s.title: s for s in card.sheets}
    cutting = titles["What to cut for reservoir and exhausters"]
    assert cutting.rows == assessed("neglected").sheets["pneumatics.cutting_list"].rows
    assert "Missing" in titles["Tuning sheet"].lacks
    text = Reader(card_page(assessed("neglected"), assessed("neglected").plans["full"])).text
    assert text.index("Sheets that cannot be made yet") < text.rindex("Tuning sheet.")
    assert text.count(f"Tuning sheet. {titles['Tuning sheet'].lacks}") == 1


def job_with(text: str) -> Job:
    source = (ROOT / "fixtures" / "one_strap.toml").read_text(encoding="utf-8")
    return job_of(source + text, ROOT / "fixtures" / "job.toml")


def test_done_steps_are_ticked_and_nothing_is_bought_for_them() -> None:
    text = (
        '\n[[done]]\nstep = "casework.record_state"\ndate = 2027-01-11\n'
        '[[done]]\nstep = "pneumatics.renew_straps"\nreading = "12 mm"\n'
        '[[done]]\nstep = "pneumatics.treadles_draw"\nreading = "one side dead"\n'
    )
    result = assess(job_with(text))
    card = bench_card(result, result.plans["working"], CardChoice())
    shown = {s.number: s for s in steps_of(card)}
    assert [n for n, s in shown.items() if s.is_done] == [1, 4]
    assert card.materials == ()
    assert shown[5].test is not None
    assert "one side dead" in shown[5].test.failed
    assert "Pull the strap" in shown[5].test.failed
    page = card_page(result, result.plans["working"])
    assert page.count('aria-label="done"') == 2
    assert "Done: 2 of 8 steps" in Reader(page).text
    assert not any(s.cautions or s.again for s in shown.values() if s.is_done)


def test_what_a_user_wrote_stays_text() -> None:
    source = (ROOT / "fixtures" / "one_strap.toml").read_text(encoding="utf-8")
    hostile = json.dumps(HOSTILE)
    source = source.replace('title = "Organ in the schoolroom"', f"title = {hostile}")
    source = source.replace('note = "left strap, at the roller"', f"note = {hostile}")
    source += f'\n[[done]]\nstep = "casework.record_state"\nnote = {hostile}\n'
    assert source.count("<script>") == 3
    result = assess(job_of(source, ROOT / "fixtures" / "job.toml"))
    page = card_page(result, result.plans["working"])
    assert "<script" not in page
    assert page.count("</style>") == 1
    assert Reader(page).text.count(HOSTILE) >= 3


def test_an_empty_plan_says_why() -> None:
    result = assess(job_of("format = 1\n"))
    page = Reader(card_page(result, result.plans["full"]))
    assert "Nothing has been looked at yet." in page.text


def test_it_prints_and_asks_for_nothing(tmp_path: Path) -> None:
    result = assessed("one_strap")
    file = tmp_path / "card.html"
    file.write_text(card_page(result, result.plans["working"]), encoding="utf-8")
    asked: list[str] = []
    with launched() as browser:
        view = browser.new_page(viewport={"width": 360, "height": 800})
        view.on("request", lambda request: asked.append(request.url))
        view.goto(file.as_uri())
        assert view.evaluate("document.documentElement.scrollWidth") <= 360
        for size in ("A4", "Letter"):
            printed = view.pdf(format=size)
            assert 4 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 6
    assert asked == [file.as_uri()]


def test_a_card_is_the_same_in_every_run(run: Run, tmp_path: Path) -> None:
    pages = set()
    for seed in ("1", "2", "3"):
        page = tmp_path / f"{seed}.html"
        job = ROOT / "fixtures" / "neglected.toml"
        done = run("card", job, "--output", page, PYTHONHASHSEED=seed)
        assert done.returncode == 0, done.stderr
        pages.add(page.read_text(encoding="utf-8"))
    assert len(pages) == 1
