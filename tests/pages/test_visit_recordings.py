"""Recordings sent by the visit page: heard, kept and entered, and what is refused of them."""

from __future__ import annotations

import copy
import io
import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pluggy
import pytest
import toy
import visits
from visits import HOST, ORIGIN, SPOKES, Page, new
from werkzeug.test import TestResponse

from assess import Heard, HeardRow, Inspection, JobFileError, hookimpl
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.merging import merged
from assess.knowledge.references import qualified
from assess.pages import visit_server
from assess.plugin import hookspecs
from assess.plugin.hookspecs import PROJECT
from assess.visit.recordings import keep_recording

SURVEY = "wheels.spokes"


class Hears:
    """Hears one spoke for each line of a recording: its name and its state."""

    @hookimpl
    def hear(self, recording: Path, options: Mapping[str, str], inspection: Inspection) -> Heard:
        lines = recording.read_text(encoding="utf-8").split()
        if not lines:
            raise JobFileError(f"{recording}: nothing rings in it")
        rows = [
            HeardRow({"spoke": name, "wheel": options["wheel"]}, {"state": state, "taken": "rings"})
            for name, state in zip(lines[::2], lines[1::2], strict=True)
        ]
        return Heard(tuple(rows), (f"{len(rows)} spokes rang",))


def known() -> Knowledge:
    manager = pluggy.PluginManager(PROJECT)
    manager.add_hookspecs(hookspecs)
    manager.register(Hears())
    spokes: dict[str, Any] = copy.deepcopy(SPOKES)
    spokes["columns"].append({"id": "taken"})
    spokes["hears"] = {
        "mark": "taken",
        "how": ["Tap each spoke once."],
        "options": [
            {"id": "wheel", "says": "Which wheel.", "required": True, "column": "wheel"},
            {"id": "first", "says": "The first spoke.", "column": "spoke"},
        ],
    }
    wheels = toy.WHEELS | {"survey": [spokes]}
    declared = [qualified(toy.declaration(data)) for data in (wheels, toy.BOX)]
    return merged(declared, (), {"wheels": manager.hook})


@pytest.fixture
def page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Page:
    knowledge = known()
    monkeypatch.setattr(visits, "cart", lambda: knowledge)
    return Page(new(tmp_path))


def send(
    page: Page, data: str, *, path: str = "/hear", origin: str = ORIGIN, **query: str
) -> TestResponse:
    about = {
        "id": secrets.token_hex(8),
        "device": page.device,
        "survey": SURVEY,
        "name": "take.wav",
        "option.wheel": "left",
    }
    return page.client.post(
        path,
        base_url=ORIGIN,
        query_string=about | query,
        data=data.encode(),
        headers={"Origin": origin, "Host": HOST},
    )


def said(answer: TestResponse) -> str:
    assert answer.json
    return str(answer.json["message"])


def beside(folder: Path) -> set[str]:
    """What lies beside the job file, except lock files."""
    found = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    return {name for name in found if not name.endswith(".lock")} - {"cart.toml"}


def grid(page: Page) -> dict[str, Any]:
    shown = page.get("/visit").json
    assert shown
    found: dict[str, Any] = shown["grids"][0]
    return found


def test_a_recording_is_kept_and_fills_in_the_grid(page: Page, tmp_path: Path) -> None:
    answer = send(page, "1 firm 2 broken")
    assert answer.status_code == 200, answer.text
    assert answer.json == {"rows": 2, "says": ["2 spokes rang"], "file": "take.wav"}
    assert beside(tmp_path) == {"cart_recordings/take.wav", "cart_wheels_spokes.csv"}
    first, second = grid(page)["rows"]
    assert (first["spoke"], first["wheel"], first["state"]) == ("1", "left", "firm")
    assert second["state"] == "broken"
    assert " in take.wav [" in second["taken"]


def test_the_page_is_told_how_to_record_and_what_to_say(page: Page) -> None:
    assert grid(page)["hears"] == {
        "mark": "taken",
        "how": ["Tap each spoke once."],
        "options": [
            {"id": "wheel", "says": "Which wheel.", "column": "wheel"},
            {"id": "first", "says": "The first spoke.", "column": "spoke"},
        ],
    }


def test_a_tap_on_what_was_heard_stays_when_it_is_heard_again(page: Page) -> None:
    send(page, "1 firm")
    key = {"spoke": "1", "wheel": "left"}
    tap = {"key": key, "column": "state", "text": "loose", "was": "firm"}
    assert page.send("fill", survey=SURVEY, cells=[tap]).status_code == 200
    answer = send(page, "1 broken")
    assert answer.json
    assert answer.json["says"][1] == (
        "Kept 1 left as entered by hand: state loose. Heard: state broken."
    )
    assert grid(page)["rows"][0]["state"] == "loose"


def test_what_cannot_be_heard_is_explained_and_not_kept(page: Page, tmp_path: Path) -> None:
    answer = send(page, "")
    assert answer.status_code == 422
    assert said(answer).splitlines()[0] == "take.wav: nothing rings in it"
    assert beside(tmp_path) == set()
    assert not (tmp_path / "cart_recordings").exists()


def test_a_plugin_that_fails_is_no_reason_to_send_again(page: Page, tmp_path: Path) -> None:
    answer = send(page, "1 firm 2")
    assert answer.status_code == 422
    assert "ValueError" in said(answer)
    assert beside(tmp_path) == set()


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"survey": "wheels.rims"}, "no survey that is heard: wheels.rims"),
        ({"option.wheel": " "}, "not said: Which wheel."),
        ({"option.rim": "x"}, "no such option: rim"),
        ({"name": "x" * 300}, "not understood: name"),
        ({"id": "1"}, "not understood: id"),
    ],
)
def test_what_is_said_of_it_must_fit(
    page: Page, tmp_path: Path, query: dict[str, str], words: str
) -> None:
    for path in ("/hear", "/hear_so_far"):
        answer = send(page, "1 firm", path=path, **query)
        assert answer.status_code == 422
        assert words in said(answer)
    assert beside(tmp_path) == set()


def test_the_same_recording_sent_twice_is_kept_and_entered_once(page: Page, tmp_path: Path) -> None:
    one = send(page, "1 firm", id="0123456789abcdef")
    two = send(page, "1 firm", id="0123456789abcdef")
    assert one.json == two.json
    assert beside(tmp_path) == {"cart_recordings/take.wav", "cart_wheels_spokes.csv"}
    assert send(page, "2 firm").status_code == 200
    assert "cart_recordings/take-2.wav" in beside(tmp_path)


def test_what_is_heard_so_far_is_neither_kept_nor_entered(page: Page, tmp_path: Path) -> None:
    answer = send(page, "1 firm", path="/hear_so_far")
    assert answer.status_code == 200
    assert answer.json == {
        "rows": [{"spoke": "1", "wheel": "left", "state": "firm", "taken": "rings"}],
        "says": ["1 spokes rang"],
    }
    assert beside(tmp_path) == set()


@pytest.mark.parametrize("path", ["/hear", "/hear_so_far"])
def test_who_was_not_let_in_or_comes_from_elsewhere_is_turned_away(
    page: Page, tmp_path: Path, path: str
) -> None:
    assert send(page, "1 firm", path=path, origin="http://example.org").status_code == 403
    page.client.delete_cookie(page.doors.name, domain="127.0.0.1")
    assert send(page, "1 firm", path=path).status_code == 403
    assert beside(tmp_path) == set()


@pytest.mark.parametrize("path", ["/hear", "/hear_so_far"])
def test_a_recording_that_is_too_large_is_refused(
    page: Page, tmp_path: Path, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(visit_server, "MOST_RECORDED", 20)
    answer = send(page, "1 firm " * 4, path=path)
    assert answer.status_code == 413
    assert answer.json
    assert answer.json["error"] == "refused"
    assert beside(tmp_path) == set()


def test_a_name_leads_nowhere_else(page: Page, tmp_path: Path) -> None:
    assert send(page, "1 firm", name="../../<b>my take</b>.M4A").status_code == 200
    assert "cart_recordings/b_.m4a" in beside(tmp_path)


def test_a_folder_that_leads_elsewhere_is_not_written_to(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (tmp_path / "cart_recordings").symlink_to(elsewhere)
    with pytest.raises(JobFileError, match="leads to another folder"):
        keep_recording(tmp_path / "cart.toml", "take.wav", io.BytesIO(b"1 firm"))
    assert list(elsewhere.iterdir()) == []
