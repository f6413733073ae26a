"""What the action computes from a job file: touch, cipher suction and the key survey."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from conftest import job_of

import assess
from assess import Measurement
from assess.testing import job_with

SIZES: dict[str, float | int | str] = {
    "pallet_spring": "150 g",
    "slot_length": "90 mm",
    "slot_width": "9 mm",
    "key_to_finger": "210 mm",
    "key_to_sticker": "120 mm",
}
SUCTION = "pneumatics.suction_half"
INCH_WATER_PA = 249.0889
NEWTON_PER_GRAM = 9.80665e-3


def measured(
    answers: dict[str, str | float | int],
    sizes: dict[str, float | int | str] | None = None,
    features: dict[str, bool | str] | None = None,
) -> dict[str, Measurement]:
    """The computed values of a job, by full id."""
    job = job_with(answers, features, SIZES if sizes is None else sizes)
    return dict(assess.assess(job).measured.values)


def test_the_cipher_suction_is_the_spring_over_the_slot() -> None:
    found = measured({SUCTION: "2.3 in wc"})["action.cipher_suction"]
    limit = 150 * NEWTON_PER_GRAM / (0.090 * 0.009) / INCH_WATER_PA
    assert found.value == pytest.approx(limit)
    assert found.says == f"The measured suction of 2.3 inH2O is {230 / limit:.0f} % of this."


@pytest.mark.parametrize(("inches", "ciphers"), [("7.2 in wc", False), ("7.4 in wc", True)])
def test_above_the_cipher_suction_no_touch_is_expected(inches: str, ciphers: bool) -> None:
    values = measured({SUCTION: inches})
    touch = values["action.expected_touch"]
    assert (touch.value == 0) is ciphers
    assert ("the note ciphers" in touch.says) is ciphers
    assert ("the note ciphers" in values["action.cipher_suction"].says) is ciphers


def test_a_cipher_suction_needs_no_measured_suction() -> None:
    values = measured({})
    assert values["action.cipher_suction"].value
    assert values["action.expected_touch"].wants == (SUCTION,)


def test_missing_sizes_are_named() -> None:
    values = measured({}, {"slot_length": "90 mm"})
    assert values["action.cipher_suction"].wants == ("pallet_spring", "slot_width")


def test_without_suction_the_spring_is_all_there_is() -> None:
    touch = measured({SUCTION: "0 in wc"})["action.expected_touch"]
    assert touch.value == pytest.approx(150 * 120 / 210)
    assert "With the wind off about 86 g." in touch.says


@pytest.mark.parametrize(
    ("grams", "words"),
    [("105 g", "something rubs"), ("60 g", "as expected"), ("30 g", "the spring is weak")],
)
def test_a_measured_touch_is_compared(grams: str, words: str) -> None:
    touch = measured({SUCTION: "2.3 in wc", "action.touch_weight": grams})["action.expected_touch"]
    assert touch.says.startswith(f"Measured: {grams}, ")
    assert words in touch.says


def test_pressure_instruments_are_not_computed_as_suction() -> None:
    values = measured({}, features={"wind": "pressure"})
    assert not {"action.expected_touch", "action.cipher_suction"} & set(values)


def test_computed_touch_grades_nothing() -> None:
    criteria = assess.knowledge_in_use().criteria
    assert not {"action.expected_touch", "action.cipher_suction"} & set(criteria)


def test_a_key_far_from_the_others_is_left_out_and_named(tmp_path: Path) -> None:
    rows = "".join(f"{note}{octave},9\n" for octave in (2, 3) for note in "CDEFG")
    (tmp_path / "keys.csv").write_text(f"note,dip\n{rows}C4,9.2\nD4,14\n")
    job = job_of('format = 1\n[surveys]\n"action.keys" = "keys.csv"\n', tmp_path / "job.toml")
    found = assess.assess(job).measured.values["action.dip_spread"]
    assert found.value == pytest.approx(0.2)
    assert found.says == "The usual dip is 9.0 mm. Set singly, since far from the others: D4."


def test_a_key_whose_dip_is_odd_is_set_alone(tmp_path: Path) -> None:
    rows = "".join(f"{note}{octave},9\n" for octave in (2, 3) for note in "CDEFG")
    (tmp_path / "keys.csv").write_text(f"note,dip\n{rows}C4,9.2\nD4,14\n")
    job = job_of('format = 1\n[surveys]\n"action.keys" = "keys.csv"\n', tmp_path / "job.toml")
    result = assess.assess(job)
    assert result.measured.values["action.odd_dips"].value == 1
    plan = result.plans["full"]
    assert plan.step("action.set_single_dips")
    assert plan.step("action.set_key_dip") is None
    assert [row[:3] for row in result.sheets["action.key_level"].rows] == [
        ("D4", "", "set dip 14 to 9.0")
    ]


def test_many_keys_are_counted_and_the_first_are_named(tmp_path: Path) -> None:
    rows = "".join(f"{note}{octave},0.8\n" for octave in (2, 3) for note in "CDEFGAB")
    (tmp_path / "keys.csv").write_text(f"note,side_play\n{rows}")
    job = job_of('format = 1\n[surveys]\n"action.keys" = "keys.csv"\n', tmp_path / "job.toml")
    found = assess.assess(job).measured.values["action.loose_keys"]
    assert found.value == 14
    assert found.says == "C2, D2, E2, F2, G2, A2, B2, C3, D3, E3, F3, G3 and 2 more."


def survey_of(heights: list[float], folder: Path) -> assess.Assessment:
    """A job whose 61 keys stand at these heights; the sharps are 12 mm higher."""
    names = [f"{n}{o}" for o in range(1, 7) for n in NAMES][5:66]
    lines = [f"{n},{h + 12 * ('#' in n):.2f}\n" for n, h in zip(names, heights, strict=True)]
    (folder / "keys.csv").write_text("note,height\n" + "".join(lines))
    job = job_of('format = 1\n[surveys]\n"action.keys" = "keys.csv"\n', folder / "job.toml")
    return assess.assess(job.model_copy(update={"answers": UNEVEN}))


NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
UNEVEN = job_with({"action.key_level": "2 mm"}).answers


@pytest.mark.parametrize("seed", range(8))
def test_sheet_plan_and_shopping_list_agree_on_every_paper(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    heights = [20 + rng.choice([0.0, 0.0, 0.1, -0.4, -0.85, -1.2, 0.6]) for _ in range(61)]
    result = survey_of(heights, tmp_path)
    sheet = result.sheets["action.key_level"]
    assert 0 < len(sheet.rows) < 61
    assert all(row[2] in ("shim", "lower") for row in sheet.rows)
    laid = [row[4].split(" + ") for row in sheet.rows if row[4]]
    for row in sheet.rows:
        papers = [float(p) for p in row[4].split(" + ") if p]
        assert sum(papers) == pytest.approx(float(row[3] or 0))
    counted = sum(map(len, laid))
    plan = result.plans["full"]
    (need,) = [m for m in plan.materials if m.material == "action.level_papers"]
    assert (need.quantity, need.unit) == (counted, "each")
    assert need.price == pytest.approx(0.03 * counted)


def test_a_level_keyboard_leaves_an_empty_sheet(tmp_path: Path) -> None:
    sheet = survey_of([20.0] * 61, tmp_path).sheets["action.key_level"]
    assert (sheet.rows, sheet.wants) == ((), ())
    assert sheet.notes[0].startswith("Nothing to move")
