"""The grid of a survey: cells merged into the file beside the job, everything else kept."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
import toy
from conftest import ROOT
from visits import Page, new, picture

import assess
from assess.job.job_reading import load
from assess.job.workshop_profile import load_workshop
from assess.pages.visit_inbox import Inbox
from assess.visit.session import VisitSession

SURVEY = "wheels.spokes"


def cell(spoke: str, column: str, text: str, was: str = "", wheel: str = "left") -> dict[str, Any]:
    return {"key": {"spoke": spoke, "wheel": wheel}, "column": column, "text": text, "was": was}


def fill(page: Page, *cells: dict[str, Any]) -> Any:
    return page.send("fill", survey=SURVEY, cells=cells)


def rows(page: Page) -> list[dict[str, str]]:
    shown = page.get("/visit").json
    assert shown
    found: list[dict[str, str]] = shown["grids"][0]["rows"]
    return found


def test_a_grid_becomes_a_survey_of_the_job(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    done = fill(page, cell("1", "state", "broken"), cell("2", "state", "firm"))
    assert done.status_code == 200
    assert fill(page, cell("1", "length", "512,5")).status_code == 200
    assert load(path, toy.knowledge().trade).surveys == {SURVEY: "cart_wheels_spokes.csv"}
    written = (tmp_path / "cart_wheels_spokes.csv").read_text(encoding="utf-8")
    assert written.splitlines() == [
        "spoke,wheel,state,length,remarks",
        '1,left,broken,"512,5",',
        "2,left,firm,,",
    ]
    assert rows(page)[0] == {"spoke": "1", "wheel": "left", "state": "broken", "length": "512,5"}


def test_rows_separator_and_order_of_a_file_are_kept(tmp_path: Path) -> None:
    path = new(tmp_path, '[surveys]\n"wheels.spokes" = "mine.csv"\n')
    mine = tmp_path / "mine.csv"
    mine.write_text("wheel;spoke;remarks;state\nright;4;by hand;loose\n", encoding="utf-8")
    page = Page(path)
    assert fill(page, cell("1", "state", "firm"), cell("1", "length", "500")).status_code == 200
    assert mine.read_text(encoding="utf-8").splitlines() == [
        "wheel;spoke;remarks;state;length",
        "right;4;by hand;loose;",
        "left;1;;firm;500",
    ]


def test_a_cell_changed_by_hand_is_shown_and_not_overwritten(tmp_path: Path) -> None:
    path = new(tmp_path, '[surveys]\n"wheels.spokes" = "mine.csv"\n')
    mine = tmp_path / "mine.csv"
    mine.write_text("spoke,wheel,state\n1,left,loose\n", encoding="utf-8")
    page = Page(path)
    clash = fill(page, cell("1", "state", "broken"), cell("2", "state", "firm"))
    assert clash.status_code == 409
    assert clash.json["there"] == [{**cell("1", "state", "broken"), "there": "loose"}]
    assert "1,left,loose" in mine.read_text(encoding="utf-8")
    assert "2,left,firm" in mine.read_text(encoding="utf-8")
    assert fill(page, cell("1", "state", "broken", was="loose")).status_code == 200
    assert "1,left,broken" in mine.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (cell("1", "length", "long"), "column length"),
        (cell("1", "length", "5000"), "out of range"),
        (cell("1", "colour", "red"), "no such column: colour"),
        (cell("1", "state", "firm\nloose"), "one line"),
        (cell("", "state", "firm"), "column spoke: empty"),
    ],
)
def test_cells_that_cannot_be_leave_the_file_alone(
    tmp_path: Path, wrong: dict[str, Any], said: str
) -> None:
    path = new(tmp_path, '[surveys]\n"wheels.spokes" = "mine.csv"\n')
    mine = tmp_path / "mine.csv"
    before = "spoke,wheel,state\n1,left,firm\n"
    mine.write_text(before, encoding="utf-8")
    refused = fill(Page(path), wrong)
    assert refused.status_code == 422
    assert said in refused.json["message"]
    assert mine.read_text(encoding="utf-8") == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["cart.toml", "mine.csv"]


def test_a_survey_elsewhere_is_not_written(tmp_path: Path) -> None:
    inner = tmp_path / "jobs"
    inner.mkdir()
    outside = tmp_path / "mine.csv"
    outside.write_text("spoke,wheel,state\n1,left,firm\n", encoding="utf-8")
    path = new(inner, '[surveys]\n"wheels.spokes" = "../mine.csv"\n')
    refused = fill(Page(path), cell("2", "state", "firm"))
    assert refused.status_code == 503
    assert "not in the folder of the job file" in refused.json["message"]
    assert "2" not in outside.read_text(encoding="utf-8")


def test_a_survey_that_leads_out_of_the_folder_is_not_written(tmp_path: Path) -> None:
    inner = tmp_path / "jobs"
    inner.mkdir()
    outside = tmp_path / "mine.csv"
    outside.write_text("spoke,wheel,state\n1,left,firm\n", encoding="utf-8")
    (inner / "cart_wheels_spokes.csv").symlink_to(outside)
    page = Page(new(inner))
    for refused in (fill(page, cell("2", "state", "firm")), page.get("/visit")):
        assert refused.status_code == 503
        assert "not in the folder of the job file" in refused.json["message"]
        assert "left" not in refused.text
    assert "2" not in outside.read_text(encoding="utf-8")


def test_a_job_file_that_is_a_link_has_its_surveys_beside_the_link(tmp_path: Path) -> None:
    for folder in ("kept", "here"):
        (tmp_path / folder).mkdir()
    new(tmp_path / "kept")
    link = tmp_path / "here" / "cart.toml"
    link.symlink_to(tmp_path / "kept" / "cart.toml")
    page = Page(link)
    assert fill(page, cell("2", "state", "firm")).status_code == 200
    assert [row["spoke"] for row in rows(page)] == ["2"]
    assert (tmp_path / "here" / "cart_wheels_spokes.csv").exists()
    assert "cart_wheels_spokes.csv" in link.read_text(encoding="utf-8")
    assert page.photograph("whole", picture()).status_code == 200
    assert (tmp_path / "here" / "cart_photographs").is_dir()


def test_a_survey_changed_by_hand_is_read_again(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    fill(page, cell("1", "state", "firm"))
    assert [row["state"] for row in rows(page)] == ["firm"]
    written = tmp_path / "cart_wheels_spokes.csv"
    written.write_text("spoke,wheel,state\n1,left,loose\n", encoding="utf-8")
    assert [row["state"] for row in rows(page)] == ["loose"]


def test_the_same_cells_twice_are_harmless(tmp_path: Path) -> None:
    path = new(tmp_path)
    assert fill(Page(path), cell("1", "state", "loose")).status_code == 200
    once = (tmp_path / "cart_wheels_spokes.csv").read_bytes()
    assert fill(Page(path), cell("1", "state", "loose")).status_code == 200
    assert (tmp_path / "cart_wheels_spokes.csv").read_bytes() == once


def test_a_tap_changes_one_line_of_a_survey_typed_by_hand(tmp_path: Path) -> None:
    for name in ("heated_house.toml", "heated_house_reeds.csv"):
        shutil.copy(ROOT / "fixtures" / name, tmp_path)
    knowledge = assess.knowledge_in_use()
    job = tmp_path / "heated_house.toml"
    box = Inbox(VisitSession(job, knowledge, load_workshop(trade=knowledge.trade)))
    survey = tmp_path / "heated_house_reeds.csv"
    before = survey.read_text(encoding="utf-8").splitlines()
    row = box.data()["grids"][0]["rows"][3]
    tapped = {
        "key": {name: row[name] for name in ("note", "rank", "feet")},
        "column": "speech",
        "text": "slow",
        "was": row["speech"],
    }
    box.fill({"id": "1" * 16, "device": "2" * 16, "survey": "reeds.notes", "cells": [tapped]})
    after = survey.read_text(encoding="utf-8").splitlines()
    changed = [(old, new_) for old, new_ in zip(before, after, strict=True) if old != new_]
    assert changed == [("Ab1;Front;8;speaks;4,2;;", "Ab1;Front;8;slow;4,2;;")]
