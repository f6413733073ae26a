"""What the plugin computes from whole job files with a reed survey."""

from __future__ import annotations

from pathlib import Path

import pytest
from assess_reeds.pitch import note_name
from assess_reeds.rows import ReedRow
from assess_reeds.temperament import named_temperament
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
    assert sheet.columns == ("Reed", "Ft", "Found", "Move", "Hz", "Cents", "Set by", "Beats")
    assert sheet.rows[1][6:] == ("fifth A3 to E4", "-0.74")
    notes = " ".join(sheet.notes)
    assert "major third F3 to A3 +6.9" in notes
    assert "The last interval of the circle: fifth Ab3 to Eb4 -0.7" in notes


def test_earlier_names_of_the_temperatures_are_understood(tmp_path: Path) -> None:
    job = "[instrument.facts]\nbench_warmth = 12\nuse_warmth = 22\n"
    notes = " ".join(surveyed(tmp_path, rank(), job).sheets["reeds.tuning_sheet"].notes)
    assert "For the temperature of the workshop, tune to A = 440.76 Hz" in notes


def lines_of(result: Assessment) -> dict[tuple[str, str], dict[str, str]]:
    """The rows of the tuning sheet by reed and length, with their headings."""
    sheet = result.sheets["reeds.tuning_sheet"]
    return {(row[0], row[1]): dict(zip(sheet.columns, row, strict=True)) for row in sheet.rows}


def test_the_tuning_sheet_says_what_was_found_and_how_far_each_reed_is_to_move(
    tmp_path: Path,
) -> None:
    odd = {60: 12.0, 62: -31.0, 30: 25.0}
    rows = [ReedRow(r.key_midi, r.rank, 8, cents=odd.get(r.key_midi, 0.0)) for r in rank()]
    rows += rank("Viola", 4)
    lines = lines_of(surveyed(tmp_path, rows))
    assert len(lines) == 122  # one name for two lengths is no ambiguity
    c4 = lines["C4 Viola", "8"]
    assert (c4["Found"], c4["Move"]) == ("+12.0", "-12.0")
    assert lines["D4 Viola", "8"]["Move"] == "+31.0"
    assert lines["F#1 Viola", "8"]["Move"] == "-25.0!"  # a bass tongue may go 20 cents
    assert lines["E4 Viola", "8"]["Move"] == ""
    for line in lines.values():
        if line["Move"]:
            total = float(line["Found"]) + float(line["Move"].rstrip("!"))
            assert total == pytest.approx(float(line["Cents"]), abs=0.11)


def test_what_is_found_is_turned_to_the_temperature_of_the_workshop(tmp_path: Path) -> None:
    job = (
        "[instrument.facts]\nworkshop_temperature = 11\nroom_temperature = 21\ntune_to = 440\n"
        "[answers.casework]\nroom_temperature = 11\n"
    )
    result = surveyed(tmp_path, rank(), job)
    line = lines_of(result)["A4 Viola", "8"]
    # It was read at the temperature that it is tuned at; in the warmer room it would be flat.
    assert float(line["Found"]) == pytest.approx(-3.0, abs=0.06)
    assert float(line["Hz"]) == pytest.approx(440 * 2 ** (3 / 1200), abs=0.02)
    notes = " ".join(result.sheets["reeds.tuning_sheet"].notes)
    assert "Surveyed at 11 degrees Celsius, tuned at 11." in notes
    bare = " ".join(surveyed(tmp_path, rank()).sheets["reeds.tuning_sheet"].notes)
    assert "No temperature is assumed" in bare


@pytest.mark.parametrize(("beats", "side"), [(2.5, "sharp"), (-2.5, "flat")])
@pytest.mark.parametrize("counted", ["", '[answers.reeds]\nceleste_beat = "3 Hz"\n'])
def test_the_tuning_sheet_keeps_the_direction_of_the_celeste(
    tmp_path: Path, beats: float, side: str, counted: str
) -> None:
    lines = lines_of(surveyed(tmp_path, rank() + celeste(beats), counted))
    line = lines["A4 Celeste", "8"]
    assert line["Set by"] == f"{side} of Viola"
    rate = 3.0 if counted else 2.5
    assert float(line["Beats"]) == pytest.approx(rate if beats > 0 else -rate, abs=0.01)
    assert (float(line["Cents"]) > 0) == (beats > 0)


def test_a_celeste_left_as_it_is_need_not_move(tmp_path: Path) -> None:
    lines = lines_of(surveyed(tmp_path, rank() + celeste(-2.0)))
    assert {line["Move"] for line in lines.values()} == {""}


@pytest.mark.parametrize("tuned", ["equal", "kirnberger_iii"])
def test_the_choice_of_pitch_is_for_the_temperament_to_tune_in(tmp_path: Path, tuned: str) -> None:
    rows = rank(temperament=named_temperament(tuned), level=20.0)
    job = '[instrument.features]\ntune_in = "kirnberger"\n'
    sheet = surveyed(tmp_path, rows, job).sheets["reeds.pitch_choices"]
    to_file = int(sheet.rows[0][1])
    assert sheet.rows[0][0].startswith("its own")
    assert (to_file == 0) == (tuned == "kirnberger_iii")
    assert "In Kirnberger III." in " ".join(sheet.notes)


def test_the_side_of_a_reed_stands_beside_its_name(tmp_path: Path) -> None:
    text = "note,rank,feet,side,cents\n" + "".join(
        f"{note_name(key)},Viola,8,{'rear' if key < 60 else 'front'},0\n" for key in range(29, 90)
    )
    (tmp_path / "reeds.csv").write_text(text, encoding="utf-8")
    job = 'format = 1\n[surveys]\n"reeds.notes" = "reeds.csv"\n'
    lines = lines_of(assess.assess(job_of(job, tmp_path / "job.toml")))
    assert ("A4 Viola, front", "8") in lines
    assert ("A2 Viola, rear", "8") in lines


@pytest.mark.parametrize(("off", "way"), [(25.0, "sharp"), (-25.0, "flat")])
def test_the_rank_that_is_off_is_named_with_its_direction(
    tmp_path: Path, off: float, way: str
) -> None:
    facts = "[instrument.facts]\nranks = 3\n"
    rows = rank("Front") + rank("Rear") + rank("Odd", 4, level=off)
    result = surveyed(tmp_path, rows, facts)
    found = result.measured.values["reeds.ranks_off"]
    assert found.value == 1
    assert f"Odd 4 ft: {abs(off):.0f} cents {way} of the others" in found.says
    step = result.plans["full"].step("reeds.tune_rank")
    assert step.times.count == 1
    assert step.hours == (3, 6, 12)


def test_reeds_beyond_use_are_added_up_from_the_counts() -> None:
    def past(*lines: str, keys: int = 61) -> Assessment:
        text = f"format = 1\n[instrument.facts]\nkeys = {keys}\nranks = 2\n[answers.reeds]\n"
        return assess.assess(job_of(text + "\n".join(lines) + "\n"))

    three = ("missing_reeds = 10", "cracked_reeds = 12", "pitted_reeds = 15")
    whole = past(*three)
    judged = whole.graded.judgements["reeds.reeds_past_use"]
    assert judged.value == 37  # 30.3 % of 122
    assert judged.outcome.condition == 3
    two = past(*three[:2])
    assert two.graded.judgements["reeds.reeds_past_use"].value is None
    assert two.measured.values["reeds.beyond_use_so_far"].value == 22
    # 22 of 72 are so many that the pitted ones cannot change the answer
    few = past(*three[:2], keys=36)
    assert few.graded.judgements["reeds.reeds_past_use"].outcome.condition == 3


@pytest.mark.parametrize(
    ("pitch", "condition", "named"),
    [
        (440.0, 0, "440 Hz"),
        (446.0, 0, "Paris pianos"),
        (459.0, 1, "nearest is"),
        (431.0, 1, "nearest is"),
    ],
)
def test_the_pitch_is_judged_by_the_nearest_standard(
    pitch: float, condition: int, named: str
) -> None:
    result = assess.assess(job_of(f'format = 1\n[answers.reeds]\npitch_a = "{pitch} Hz"\n'))
    assert result.graded.judgements["reeds.pitch_standard"].outcome.condition == condition
    assert named in result.measured.values["reeds.pitch_standard"].says
