"""What the action computes from a job file: touch, cipher suction and the key survey."""

from __future__ import annotations

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
    assert found.says == "The usual dip is 9.0 mm. Left out, since far from the others: D4."


def test_many_keys_are_counted_and_the_first_are_named(tmp_path: Path) -> None:
    rows = "".join(f"{note}{octave},0.8\n" for octave in (2, 3) for note in "CDEFGAB")
    (tmp_path / "keys.csv").write_text(f"note,side_play\n{rows}")
    job = job_of('format = 1\n[surveys]\n"action.keys" = "keys.csv"\n', tmp_path / "job.toml")
    found = assess.assess(job).measured.values["action.loose_keys"]
    assert found.value == 14
    assert found.says == "C2, D2, E2, F2, G2, A2, B2, C3, D3, E3, F3, G3 and 2 more."
