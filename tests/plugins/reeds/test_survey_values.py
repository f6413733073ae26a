"""What the plugin computes from whole job files with a reed survey."""

from __future__ import annotations

from pathlib import Path

import pytest
from assess_reeds.pitch import note_name
from assess_reeds.rows import ReedRow
from conftest import job_of
from made_organs import celeste, rank

import assess
from assess.assessment import Assessment


def surveyed(folder: Path, rows: list[ReedRow], job: str = "") -> Assessment:
    """A job with a survey of these reeds; ``job`` is more of its text."""
    lines = ["note,rank,feet,cents,celeste"]
    lines += [
        f"{note_name(row.key_midi)},{row.rank},{row.feet},{row.cents},{'x' if row.celeste else ''}"
        for row in rows
    ]
    (folder / "reeds.csv").write_text("\n".join(lines), encoding="utf-8")
    text = f'format = 1\n[surveys]\n"reeds.notes" = "reeds.csv"\n{job}'
    return assess.assess(job_of(text, folder / "job.toml"))


def test_the_standard_comes_from_the_survey_or_else_from_the_answer(tmp_path: Path) -> None:
    for result in (
        surveyed(tmp_path, rank(level=54.5)),
        assess.assess(job_of('format = 1\n[answers.reeds]\npitch_a = "454.08 Hz"\n')),
    ):
        found = result.measured.values["reeds.pitch_standard"]
        assert found.value == pytest.approx(0.0, abs=0.1)
        assert "old philharmonic, C 540 (454.08 Hz)" in found.says


def test_a_pitch_far_from_all_standards_names_the_nearest(tmp_path: Path) -> None:
    found = surveyed(tmp_path, rank(level=-55.0)).measured.values["reeds.pitch_standard"]
    assert abs(found.value or 0.0) > 8
    assert "No known standard within 8 cents; the nearest is old English organs" in found.says


@pytest.mark.parametrize(("beats", "side"), [(2.5, "sharp"), (-2.5, "flat")])
def test_the_celeste_is_recorded_with_its_direction(
    tmp_path: Path, beats: float, side: str
) -> None:
    result = surveyed(tmp_path, rank() + celeste(beats))
    found = result.measured.values["reeds.celeste_beat"]
    assert found.value == pytest.approx(2.5, abs=0.01)
    assert f"2.5 beats per second {side}" in found.says
    assert "even up the compass" in found.says


def test_a_celeste_without_beats_points_at_a_top_mute(tmp_path: Path) -> None:
    found = surveyed(tmp_path, rank() + celeste(0.0)).measured.values["reeds.celeste_beat"]
    assert "no beat. Look for a top mute" in found.says


def test_a_wrong_reed_is_explained(tmp_path: Path) -> None:
    rows = [row for row in rank() if row.key_midi != 60]
    one_rank = "[instrument.facts]\nranks = 1\n"
    found = surveyed(tmp_path, [*rows, ReedRow(60, "Viola", cents=-130.0)], one_rank)
    says = found.measured.values["reeds.off_pitch_reeds"].says
    assert "C4 Viola: far too flat" in says


def test_the_pitch_sheet_names_ranks_that_need_a_donor_set_and_reeds_left_out(
    tmp_path: Path,
) -> None:
    rows = rank(level=54.5) + celeste(2.0, range(60, 62), level=54.5)
    notes = surveyed(tmp_path, rows).sheets["reeds.pitch_choices"].notes
    assert "440 Hz: more than 50 cents for most reeds of Viola 8 ft" in " ".join(notes)
    assert "Reeds not included: 2 without a known pitch or beat." in notes


def test_the_pitch_sheet_says_what_the_temperature_does(tmp_path: Path) -> None:
    job = "[instrument.facts]\nroom_temperature = 21\n[answers.casework]\nroom_temperature = 11\n"
    notes = " ".join(surveyed(tmp_path, rank(), job).sheets["reeds.pitch_choices"].notes)
    assert "the reeds will be about 3.0 cents lower (1.4 to 3.5)" in notes


def test_the_tuning_sheet_has_intervals_and_checks(tmp_path: Path) -> None:
    sheet = surveyed(tmp_path, rank()).sheets["reeds.tuning_sheet"]
    assert sheet.columns == ("Reed", "No.", "Hz", "Cents", "Set by", "Beats/s")
    assert sheet.rows[1][4:] == ("fifth A3 to E4", "-0.74")
    notes = " ".join(sheet.notes)
    assert "major third F3 to A3 +6.9" in notes
    assert "The last interval of the circle: fifth Ab3 to Eb4 -0.7" in notes


def test_earlier_names_of_the_temperatures_are_understood(tmp_path: Path) -> None:
    job = "[instrument.facts]\nbench_warmth = 12\nuse_warmth = 22\n"
    notes = " ".join(surveyed(tmp_path, rank(), job).sheets["reeds.tuning_sheet"].notes)
    assert "For the temperature of the workshop, tune to A = 440.76 Hz" in notes
