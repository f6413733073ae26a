"""A visit walked in a real browser, on a narrow and on a wide screen.

Skipped where there is no Chromium; ``ASSESS_CHROMIUM`` names another one.
"""

from __future__ import annotations

import csv
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from browsers import CHROMIUM, assert_axe_finds_nothing, axe_script, launched
from conftest import Run
from serving import Command, serving
from visits import picture

import assess
from assess.job.job_reading import load
from assess.pages.visit_server import network_addresses

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

SIZES = [(360, 740), (1280, 800)]
ON_A_PHONE = pytest.mark.parametrize("device", SIZES[:1], ids=["360px"], indirect=True)
"""What is kept and sent does not depend on how wide the page is."""
HOLD, PAINT, DEAD = "pneumatics.whole_hold", "casework.lead_paint", "action.dead_keys"
SMALLEST = 44
"""Pixels of what is tapped."""

pytestmark = pytest.mark.skipif(not CHROMIUM, reason="there is no Chromium here")


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with launched() as started:
        yield started


@pytest.fixture(params=SIZES, ids=lambda size: f"{size[0]}px")
def device(request: pytest.FixtureRequest, browser: Any) -> Iterator[Callable[[], Device]]:
    """Makes devices of one size; each keeps what it stores to itself."""
    contexts = []

    def make() -> Device:
        width, height = request.param
        # Without animations: a test looks at the page as it is in the end.
        view = {"width": width, "height": height}
        contexts.append(browser.new_context(viewport=view, reduced_motion="reduce"))
        return Device(contexts[-1])

    yield make
    for context in contexts:
        context.close()


GO = """
screen => new Promise(done => {
  if (decodeURIComponent(location.hash.slice(1)) === screen) return done();
  addEventListener("hashchange", () => setTimeout(done), { once: true });
  location.hash = screen;
})
"""


class Device:
    """A browser window, and what a person does in it."""

    def __init__(self, context: Any) -> None:
        self.context = context
        self.page = context.new_page()
        self.page.set_default_timeout(15_000)
        self.faults: list[str] = []
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("console", self._said)
        self.origin = ""

    def _said(self, message: Any) -> None:
        if "Content Security Policy" in message.text:
            self.faults.append(message.text)

    def open(self, command: Command) -> None:
        """Open the address that the terminal printed."""
        self.origin = command.origin
        self.page.goto(command.address)
        self.page.wait_for_selector("h1")

    def go(self, screen: str) -> None:
        """Go to a screen."""
        self.page.evaluate(GO, screen)

    def question(self, question: str) -> None:
        """Go to a question."""
        self.go("")
        self.go(f"q/{question}")

    def tap(self, name: str, exact: bool = True) -> None:
        """Tap the first button of a name."""
        self.page.get_by_role("button", name=name, exact=exact).first.click()

    @property
    def heading(self) -> str:
        """What is asked."""
        return str(self.page.inner_text("h1"))

    def status(self, text: str) -> None:
        """Wait until the status says something."""
        playwright.expect(self.page.locator("#status")).to_have_text(re.compile(text))

    def sees(self, text: str) -> None:
        """Wait until something stands on the screen."""
        playwright.expect(self.page.locator("body")).to_contain_text(text)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "organ.toml"
    path.write_text('format = 1\ntitle = "Organ in the <b>front</b> room"\n', encoding="utf-8")
    return path


def until(true: Callable[[], bool], seconds: float = 15) -> None:
    """Wait until something is true."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


def answer_in(path: Path, question: str) -> Any:
    subsystem, name = question.split(".")
    return load(path).answers[subsystem][name]


def test_a_visit(device: Callable[[], Device], job: Path, tmp_path: Path, run: Run) -> None:
    photograph = tmp_path / "camera.jpg"
    photograph.write_bytes(picture(size=(2400, 1800)))
    with serving(job) as command:
        here = device()
        here.open(command)
        assert "key=" not in here.page.url
        assert here.page.inner_text("#title") == "Organ in the <b>front</b> room"
        _at_the_door(here)
        _answers(here)
        _stopwatch(here)
        _grid(here)
        _photograph(here, photograph)
        _overview(here)
        _craftsman(here)
        here.status("^saved$")
        assert here.faults == []
    _what_was_saved(job)
    for arguments in (("grade", job), ("verdict", job), ("measure", job), ("check", job)):
        done = run(*arguments)
        assert done.returncode == 0, done.stderr


def _at_the_door(here: Device) -> None:
    assert here.heading == "Does it play?"
    here.tap("with faults")
    here.sees("How often is it used?")
    here.tap("Skip")
    here.sees("What is wrong with it?")
    here.tap("A note buzzes or rattles")
    here.tap("Smells musty")
    here.tap("Save these")
    here.sees("Since which year has it not been used?")
    here.page.fill("#number", "recently")
    here.tap("Save")
    here.sees("a year in four figures")
    here.page.fill("#number", "1998")
    here.tap("Save")
    here.sees("In which year was it last overhauled?")


def _answers(here: Device) -> None:
    here.question(PAINT)
    here.tap("old paint, sound")
    here.sees("Take care (Paint on the case)")
    here.tap("I have read it")
    here.question(PAINT)
    here.sees("Answer now: old paint, sound")
    here.question(DEAD)
    for _ in range(4):
        here.tap("one more", exact=False)
    here.tap("One less")
    here.page.click("summary:has-text('Note')")
    here.page.fill("#note", "top octave")
    here.tap("Save 3")
    here.status("^saved$")


def _stopwatch(here: Device) -> None:
    here.question(HOLD)
    here.page.fill("#seconds", "1.500")
    here.tap("Save")
    here.sees("1.500 could be 1500 or 1.5")
    for wait, name in ((300, "Start"), (500, "Start run 2"), (400, "Start run 3")):
        here.tap(name)
        here.page.wait_for_timeout(wait)
        here.tap("Stop")
    here.sees("The middle one counts: 0.")
    here.tap("Save")
    here.status("^saved$")


def _grid(here: Device) -> None:
    here.page.click("nav >> text=Reed survey")
    here.page.fill("#by-rank", "Front")
    here.tap("Add it")
    here.page.select_option("#mark", "dead")
    here.page.click("[data-cell='A2']")
    here.page.select_option("#mark", "buzz")
    here.page.click("[data-cell='C3']")
    here.page.click("[data-cell='D3']")
    here.page.click("[data-cell='D3']")
    here.page.select_option("#mark", "sounds by itself")
    here.page.click("[data-cell='E3']")
    here.page.select_option("#mark", label="cents, typed")
    here.page.click("[data-cell='F3']")
    here.page.fill("#cell-number", "-7.5")
    here.page.press("#cell-number", "Enter")
    here.sees("F#3, cents")
    here.page.keyboard.type("4")
    here.page.keyboard.press("Enter")
    here.tap("All others: speaks")
    here.status("^saved$")


def _photograph(here: Device, file: Path) -> None:
    here.question(PAINT)
    here.page.click("summary:has-text('Photograph')")
    here.page.set_input_files("#photograph", file)
    here.sees("1 photograph")
    here.status("^saved$")
    shown = here.page.locator(".pictures img")
    playwright.expect(shown).to_have_count(1)
    assert shown.evaluate("picture => picture.decode().then(() => picture.naturalWidth)") > 0


def _overview(here: Device) -> None:
    here.page.click("nav >> text=Overview")
    here.page.fill("#find", "silent EVERY")
    assert here.page.locator("main .list li").count() == 1
    here.page.click("main .list a")
    here.sees("Answer now: 3 / top octave")
    assert here.heading == "Keys silent in every rank"


def _craftsman(here: Device) -> None:
    here.page.click("nav >> text=Craftsman")
    assert "Grade" not in here.page.inner_text("main")
    here.tap("Show grade and price")
    here.sees("Recommendation")
    here.sees("Grade")


def _what_was_saved(job: Path) -> None:
    saved = load(job)
    assert (saved.history.works, saved.history.unused_since) == ("with faults", 1998)
    assert {c.symptom for c in saved.history.complaint} == {"reeds.buzzes", "casework.smells_musty"}
    assert answer_in(job, PAINT).answer == "old paint, sound"
    assert (answer_in(job, DEAD).answer, answer_in(job, DEAD).note) == (3, "top octave")
    hold = answer_in(job, HOLD)
    assert re.fullmatch(r"0\.\d s", hold.answer)
    runs = re.fullmatch(r"three runs (0\.\d), (0\.\d), (0\.\d)", hold.note)
    assert runs
    assert hold.answer == f"{sorted(runs.groups())[1]} s"
    (photograph,) = saved.photographs[PAINT]
    assert (job.parent / photograph).is_file()
    rows = rows_of(job.parent / saved.surveys["reeds.notes"])
    assert len(rows) == 61
    found = {row["note"]: [row["speech"], row["cents"]] for row in rows}
    assert found["A2"] == ["dead", ""]
    assert found["C3"] == ["buzz", ""]
    assert found["D3"] == ["speaks", ""]
    assert found["F3"] == ["speaks", "-7.5"]
    assert found["F#3"] == ["speaks", "4"]
    (remarked,) = [row for row in rows if row["remarks"] == "sounds by itself"]
    assert [remarked[name] for name in ("note", "rank", "feet")] == ["E3", "Front", "8"]


def rows_of(survey: Path) -> list[dict[str, str]]:
    """The rows of a survey as they stand in its file."""
    with survey.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# The browser takes its time to delete what was sent.
SLOW_TO_DELETE = """
const quick = IDBObjectStore.prototype.delete;
IDBObjectStore.prototype.delete = function (key) {
  const end = performance.now() + 1500;
  const hold = () => { if (performance.now() < end) this.get(0).onsuccess = hold; };
  hold();
  return quick.call(this, key);
};
"""


@ON_A_PHONE
def test_a_second_tap_sees_what_was_just_saved(device: Callable[[], Device], job: Path) -> None:
    with serving(job) as command:
        here = device()
        here.page.add_init_script(SLOW_TO_DELETE)
        here.open(command)
        here.go("grid/reeds.notes")
        here.page.fill("#by-rank", "Front")
        here.tap("Add it")
        here.page.select_option("#mark", "buzz")
        with here.page.expect_response(lambda response: response.url.endswith("/fill")):
            here.page.click("[data-cell='D3']")
        here.page.click("[data-cell='D3']")
        here.status("^saved$")
    (row,) = rows_of(job.parent / "organ_reeds_notes.csv")
    assert (row["note"], row["speech"]) == ("D3", "speaks")


@ON_A_PHONE
def test_a_lost_connection_loses_nothing(device: Callable[[], Device], job: Path) -> None:
    with serving(job) as command:
        here = device()
        here.open(command)
        here.question(PAINT)
        here.context.set_offline(True)
        here.tap("none")
        here.status("^1 waiting, no connection$")
        here.question(DEAD)
        here.page.fill("#count", "2")
        here.tap("Save 2")
        here.status("^2 waiting")
        here.go("grid/reeds.notes")
        here.page.fill("#by-rank", "Front")
        here.tap("Add it")
        here.page.click("[data-cell='C4']")
        here.status("^3 waiting")
        playwright.expect(here.page.locator("[data-cell='C4']")).to_contain_text("dead")
        assert "answers" not in job.read_text(encoding="utf-8")
        here.context.set_offline(False)
        here.status("^saved$")
        assert here.faults == []
    assert answer_in(job, PAINT).answer == "none"
    assert answer_in(job, DEAD).answer == 2
    (row,) = rows_of(job.parent / "organ_reeds_notes.csv")
    assert [row[name] for name in ("note", "rank", "feet", "speech")] == [
        "C4",
        "Front",
        "8",
        "dead",
    ]


@ON_A_PHONE
def test_a_killed_command_and_a_reloaded_page_lose_nothing(
    device: Callable[[], Device], job: Path, tmp_path: Path
) -> None:
    photograph = tmp_path / "camera.png"
    photograph.write_bytes(picture("PNG"))
    here = device()
    with serving(job) as command:
        here.open(command)
        here.question(PAINT)
        here.status("^saved$")
        port = command.port
    here.tap("none")
    here.status("^1 waiting")
    here.question(PAINT)
    here.page.click("summary:has-text('Photograph')")
    here.page.set_input_files("#photograph", photograph)
    here.status("^2 waiting")
    with serving(job, port=port) as command:
        here.sees("Open the address that the terminal shows now")
        here.sees("2 entries wait here")
        here.page.reload()
        here.sees("This page is closed")
        here.open(command)
        here.status("^saved$")
    assert answer_in(job, PAINT).answer == "none"
    assert load(job).photographs[PAINT] == ("organ_photographs/casework.lead_paint-1.jpg",)


@ON_A_PHONE
def test_another_job_does_not_get_what_waits_for_this_one(
    device: Callable[[], Device], job: Path
) -> None:
    here = device()
    with serving(job) as command:
        here.open(command)
        here.question(PAINT)
        port = command.port
    here.tap("none")
    here.status("^1 waiting")
    other = job.with_name("other.toml")
    other.write_text("format = 1\n", encoding="utf-8")
    with serving(other, port=port) as command:
        here.open(command)
        here.go("overview")
        here.sees("1 entry of another job file waits")
        here.page.wait_for_timeout(1000)
    assert other.read_text(encoding="utf-8") == "format = 1\n"
    with serving(job, port=port) as command:
        here.open(command)
        here.status("^saved$")
    assert answer_in(job, PAINT).answer == "none"


def test_on_a_phone(browser: Any, job: Path, tmp_path: Path) -> None:
    """Over the network a browser allows a page less than on the machine itself."""
    near = network_addresses()
    if not near:
        pytest.skip("this machine is in no network")
    photograph = tmp_path / "camera.jpg"
    photograph.write_bytes(picture())
    with serving(job, "--phone") as command:
        assert command.origin.startswith(f"http://{near[0]}:")
        here = Device(browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True))
        here.open(command)
        assert not here.page.evaluate("isSecureContext")
        here.question(PAINT)
        here.tap("none")
        here.question(PAINT)
        here.page.click("summary:has-text('Photograph')")
        here.page.set_input_files("#photograph", photograph)
        until(lambda: "photographs" in job.read_text(encoding="utf-8"))
        here.status("^saved$")
        assert "keeps nothing" not in here.page.inner_text("#notices")
        assert here.faults == []
        here.context.close()
    assert answer_in(job, PAINT).answer == "none"


@ON_A_PHONE
def test_two_devices_that_disagree_are_asked(device: Callable[[], Device], job: Path) -> None:
    with serving(job) as command:
        one, two = device(), device()
        one.open(command)
        two.open(command)
        one.question(PAINT)
        one.context.set_offline(True)
        one.tap("none")
        one.status("^1 waiting")
        two.question(PAINT)
        two.tap("old paint, sound")
        two.status("^saved$")
        until(lambda: "old paint" in job.read_text(encoding="utf-8"))
        one.context.set_offline(False)
        one.sees("1 entry needs you")
        one.status("^1 needs you$")
        assert answer_in(job, PAINT).answer == "old paint, sound"
        one.page.click("text=1 entry needs you")
        one.sees("In the job file: old paint, sound")
        one.sees("Yours: none")
        one.tap("Save yours")
        one.status("^saved$")
        assert answer_in(job, PAINT).answer == "none"
        assert one.faults + two.faults == []


@ON_A_PHONE
def test_a_job_file_broken_by_hand_keeps_the_outbox(
    device: Callable[[], Device], job: Path
) -> None:
    sound = job.read_text(encoding="utf-8")
    with serving(job) as command:
        here = device()
        here.open(command)
        here.question(PAINT)
        job.write_text("format = 1\n[broken\n", encoding="utf-8")
        here.tap("none")
        here.status("^1 waiting, job file unusable$")
        here.sees("not valid TOML")
        job.write_text(sound, encoding="utf-8")
        here.status("^saved$")
    assert answer_in(job, PAINT).answer == "none"


def test_by_keyboard_alone(device: Callable[[], Device], job: Path) -> None:
    with serving(job) as command:
        here = device()
        here.open(command)
        here.page.keyboard.press("Tab")
        assert here.page.evaluate("document.activeElement.textContent") == "well"
        here.page.keyboard.press("Tab")
        here.page.keyboard.press("Enter")
        here.sees("How often is it used?")
        here.status("^saved$")
        assert here.page.evaluate("document.activeElement.tagName") == "H1"
    assert load(job).history.works == "with faults"


def screens() -> list[str]:
    return [
        "door/history.works", "door/history.complaint", "door/owner.ceiling", f"q/{PAINT}",
        f"q/{HOLD}", f"q/{DEAD}", "q/casework.room_humidity", "overview", "grid/reeds.notes",
        "craftsman", "turned",
    ]  # fmt: skip


def test_screens_fit_and_targets_are_large(device: Callable[[], Device], job: Path) -> None:
    with serving(job) as command:
        here = device()
        here.open(command)
        here.go("grid/reeds.notes")
        here.page.fill("#by-rank", "Front")
        here.tap("Add it")
        all_screens = screens()
        assert all_screens
        for screen in all_screens:
            here.go(screen)
            wide = here.page.evaluate(
                "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
            )
            assert wide[0] <= wide[1], screen
            small = here.page.evaluate(SMALL_TARGETS, SMALLEST)
            assert small == [], screen


SMALL_TARGETS = """
least => Array.from(document.querySelectorAll("button, a, select, input, summary, textarea"))
  .filter(e => e.checkVisibility() && getComputedStyle(e).opacity !== "0")
  .filter(e => e.className !== "pass")
  .map(e => [e.textContent || e.id, e.getBoundingClientRect()])
  .filter(([, box]) => box.height < least || box.width < least)
  .map(([text, box]) => `${text}: ${box.width} x ${box.height}`)
"""


def test_axe_finds_nothing(device: Callable[[], Device], job: Path) -> None:
    script = axe_script()
    with serving(job) as command:
        here = device()
        here.open(command)
        here.question(PAINT)
        here.tap("old paint, sound")
        here.go("grid/reeds.notes")
        here.page.fill("#by-rank", "Front")
        here.tap("Add it")
        here.page.evaluate(script)
        for screen in screens():
            here.go(screen)
            assert_axe_finds_nothing(here.page, screen)


def test_a_screen_enlarged_twice_still_fits(browser: Any, job: Path) -> None:
    with serving(job) as command:
        context = browser.new_context(viewport={"width": 320, "height": 400})
        here = Device(context)
        here.open(command)
        all_screens = screens()
        assert all_screens
        for screen in all_screens:
            here.go(screen)
            wide = here.page.evaluate(
                "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
            )
            assert wide[0] <= wide[1], screen
        context.close()


def test_every_question_of_a_visit_can_be_drawn(browser: Any, job: Path) -> None:
    with serving(job, "--all") as command:
        here = Device(browser.new_context(viewport={"width": 360, "height": 740}))
        here.open(command)
        asked = here.page.evaluate("fetch('/visit').then(r => r.json()).then(v => v.questions)")
        assert len(asked) > 150
        for question, shown in asked.items():
            here.go(f"q/{question}")
            assert here.heading == shown["asks"]
        assert here.faults == []
        here.context.close()
    assert set(asked) <= set(assess.knowledge_in_use().criteria)


def test_dangers_that_were_skipped_are_asked_once_more(browser: Any, job: Path) -> None:
    few = ("--minutes", "1", "--without", "reeds", "--without", "action", "--without", "pneumatics")
    with serving(job, *few) as command:
        here = Device(browser.new_context(viewport={"width": 360, "height": 740}))
        here.open(command)
        asked: list[str] = []
        while here.heading != "Nothing is left to ask":
            asked.append(here.heading)
            here.tap("Skip")
            here.page.wait_for_timeout(30)
        again = [question for question in asked if asked.count(question) > 1]
        assert [q for q in again if q == "Paint on the case"] == 2 * ["Paint on the case"]
        assert len(again) == 2 * len(set(again))
        here.sees("Skipped")
        here.sees("Not in the time left")
        here.context.close()
