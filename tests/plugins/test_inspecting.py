"""What the four plugins compute from whole job files, worked out again by hand."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from conftest import ROOT, job_of

import assess
from assess import JobFileError
from assess.assessment import Assessment

PARLOUR = ROOT / "fixtures" / "tight_budget.toml"


@pytest.fixture(scope="module")
def parlour() -> Assessment:
    return assess.assess(assess.load(PARLOUR))


def job(text: str, folder: Path = Path(".")) -> Assessment:
    return assess.assess(job_of(f"format = 1\n{text}", folder / "job.toml"))


def test_volume_flow_and_hole(parlour: Assessment) -> None:
    values = parlour.measured.values
    volume_m3 = 0.5 * (36 * 16 * 8) * 0.0254**3
    flow_m3_s = volume_m3 / 18
    assert values["pneumatics.reservoir_volume"].value == pytest.approx(1000 * volume_m3)
    assert values["pneumatics.leak_flow"].value == pytest.approx(1000 * flow_m3_s)
    # mean suction while it opens: the mean of the roots, squared (holes), at 16 degrees
    shut, slack = (249.0889 * p for p in (2.3 + 0.35, 2.3 - 0.35))
    suction = ((math.sqrt(shut) + math.sqrt(slack)) / 2) ** 2
    # standard atmosphere at 120 m: 101325 (1 - 2.25577e-5 h)^5.2559
    density = 101325 * (1 - 2.25577e-5 * 120) ** 5.2559 / (287.05 * (273.15 + 16))
    area_m2 = flow_m3_s / (0.61 * math.sqrt(2 * suction / density))
    hole = values["pneumatics.leak_hole"]
    assert hole.value == pytest.approx(1000 * math.sqrt(4 * area_m2 / math.pi), rel=2e-3)
    assert hole.sd is not None
    assert 0.1 < hole.sd < 1


def test_leaks_are_told_apart_by_the_hold_tests(parlour: Assessment) -> None:
    values = parlour.measured.values
    volume_l = values["pneumatics.reservoir_volume"].value or 0
    pallets = values["pneumatics.leak_pallets"]
    assert pallets.value == pytest.approx(volume_l * (1 / 15 - 1 / 18), rel=1e-3)
    mutes = values["pneumatics.leak_mutes"]
    assert mutes.value == pytest.approx(volume_l * (1 / 13 - 1 / 18), rel=1e-3)
    lower = values["pneumatics.leak_lower_action"]
    assert (lower.value, lower.wants) == (None, ("pneumatics.lower_action_hold",))


def test_a_prediction_for_the_hold_point() -> None:
    result = job('[answers.pneumatics]\nwhole_hold = "40 s"\nlower_action_hold = "60 s"\n')
    predicted = result.measured.values["pneumatics.predicted_hold"]
    assert predicted.value == pytest.approx(1 / (1 / 40 - 1 / 60), rel=0.02)


def test_strokes_needed_becomes_a_judged_criterion(parlour: Assessment) -> None:
    judged = parlour.graded.judgements["pneumatics.strokes_needed"]
    assert judged.is_seen
    assert judged.best.says == "easy"
    assert 20 < (judged.value or 0) < 50
    heavier = (
        PARLOUR.read_text(encoding="utf-8").replace('"18 s"', '"3 s"').replace('"7 s"', '"2 s"')
    )
    result = assess.assess(job_of(heavier, PARLOUR))
    assert result.graded.judgements["pneumatics.strokes_needed"].best.condition >= 2


def test_the_cutting_list_fits_the_roll(parlour: Assessment) -> None:
    sheet = parlour.sheets["pneumatics.cutting_list"]
    pieces = [row[0] for row in sheet.rows]
    assert pieces[:2] == ["cloth of reservoir", "cloth of exhauster"]
    assert pieces[2:] == ["hinge of reservoir", "hinge of exhauster"]
    assert int(sheet.rows[0][2]) > 914 + 2 * 406
    assert any("Springs under load" in note for note in sheet.notes)


def test_a_very_large_reservoir_takes_more_than_eight_feet_of_cloth() -> None:
    """Common practice, no source."""
    inches = {
        "reservoir": {"length": 72, "width": 20, "opening": 9},
        "exhauster": {"length": 24, "width": 18, "opening": 6},
    }
    facts = "\n".join(
        f'{part}_{size} = "{value} in"'
        for part, sizes in inches.items()
        for size, value in sizes.items()
    )
    sheet = job(f"[instrument.facts]\n{facts}\n").sheets["pneumatics.cutting_list"]
    metres = float(sheet.notes[0].split(" mm: ")[1].split(" m")[0])
    assert metres > 8 * 0.3048


def test_the_reed_survey_agrees_with_what_was_counted_by_hand(parlour: Assessment) -> None:
    values = parlour.measured.values
    answered = parlour.job.answers["reeds"]
    for name in ("dead_reeds", "slow_reeds", "off_pitch_reeds"):
        assert values[f"reeds.{name}"].value == pytest.approx(float(answered[name].answer), abs=2)
    assert values["reeds.pitch_a"].value == pytest.approx(440, abs=0.5)
    assert "equal" in values["reeds.pitch_a"].says


def test_counts_of_a_survey_stand_in_where_nothing_was_answered() -> None:
    text = "".join(
        line
        for line in PARLOUR.read_text(encoding="utf-8").splitlines(keepends=True)
        if not line.startswith(("dead_reeds", "off_pitch_reeds", "loose_keys"))
    )
    result = assess.assess(job_of(text, PARLOUR))
    for name, count in (("reeds.dead_reeds", 3), ("action.loose_keys", 8)):
        judged = result.graded.judgements[name]
        assert (judged.state, judged.value) == ("seen", count)
        assert judged.note.startswith("computed from")


def test_tuning_sheet_and_choices(parlour: Assessment) -> None:
    sheet = parlour.sheets["reeds.tuning_sheet"]
    assert len(sheet.rows) == 61 + 61 + 37
    a4 = next(row for row in sheet.rows if row[0] == "A4 Front")
    # the room is warmer than at the survey, so that the same reeds will stand lower in use
    surveyed = parlour.measured.values["reeds.pitch_a"].value
    own = parlour.sheets["reeds.pitch_choices"].rows[0][0]
    pitch = float(own.removeprefix("its own, ").removesuffix(" Hz"))
    assert surveyed is not None
    assert surveyed * 2 ** (-3 / 1200) < pitch < surveyed
    assert f"A = {pitch:.1f} Hz" in sheet.title
    # the workshop is three degrees colder than the room, where reeds stand about a cent higher
    assert pitch < float(a4[4]) < pitch * 2 ** (2 / 1200)
    assert [row[0] for row in sheet.rows[-37:]] == [r[0] for r in sheet.rows if "Celeste" in r[0]]
    choices = parlour.sheets["reeds.pitch_choices"].rows
    moved = {row[0]: int(row[1]) for row in choices}
    assert moved["435 Hz"] > moved["440 Hz"]
    assert any(
        "21 degrees Celsius where it is played" in n
        for n in parlour.sheets["reeds.pitch_choices"].notes
    )
    wanted = PARLOUR.read_text(encoding="utf-8").replace(
        "ranks = 2\n", "ranks = 2\ntune_to = 435\n"
    )
    other = assess.assess(job_of(wanted, PARLOUR)).sheets["reeds.tuning_sheet"]
    assert "A = 435.0 Hz" in other.title
    text = PARLOUR.read_text(encoding="utf-8").replace("ranks = 2\n", "ranks = 2\ntune_to = 452\n")
    rows = assess.assess(job_of(text, PARLOUR)).sheets["reeds.pitch_choices"].rows
    assert "452 Hz" in [row[0] for row in rows]


def test_the_key_survey_finds_the_odd_keys_and_the_shim(parlour: Assessment) -> None:
    values = parlour.measured.values
    assert "A4" in values["action.dip_spread"].says
    assert values["action.loose_keys"].value == 8
    low = next(r for r in parlour.sheets["action.key_level"].rows if r[0] == "F3")
    assert low[2] == "shim"
    assert float(low[3]) == pytest.approx(1.2, abs=0.25)


def test_moisture_movement_and_waiting() -> None:
    result = job(
        '[instrument.features]\ncase_wood = "walnut"\n'
        '[instrument.facts]\npanel_width = "400 mm"\npanel_thickness = "18 mm"\n'
        '[answers.casework]\nwood_moisture = "12 %"\nfuture_humidity = "30 %"\n'
    )
    values = result.measured.values
    balance = values["casework.future_balance"].value or 0
    # Wood Handbook table: 30 % at 21 degrees, 6.2 %
    assert balance == pytest.approx(6.2, abs=0.15)
    change = values["casework.panel_change"].value or 0
    # walnut, tangential 0.00274 a percent (Wood Handbook table 13-5)
    assert change == pytest.approx(-400 * 0.00274 * (12 - balance), rel=0.02)
    assert result.graded.judgements["casework.moisture_step"].best.condition == 2
    wait = values["casework.gluing_wait"]
    assert wait.value is not None
    assert wait.value > 5


def test_handling_always_defers(parlour: Assessment) -> None:
    says = parlour.measured.values["casework.lifting_index"].says
    assert "Local rules come first" in says
    assert "mover" in says


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("note,rank\nH4,Front\n", "reeds.csv:2: 'H4' is not the name of a note"),
        ("note,rank,speech\nC4,Front,mumbles\n", "reeds.csv:2: 'mumbles' does not say how"),
        ("note,rank,cents\nC4,Front,5 Hz\n", "reeds.csv:2: column cents"),
    ],
)
def test_a_survey_row_that_cannot_be_is_the_users_mistake(
    tmp_path: Path, rows: str, words: str
) -> None:
    (tmp_path / "reeds.csv").write_text(rows)
    with pytest.raises(JobFileError) as error:
        job('[surveys]\n"reeds.notes" = "reeds.csv"\n', tmp_path)
    assert words in str(error.value)


def test_pressure_instruments_are_not_measured_as_suction() -> None:
    result = job('[instrument.features]\nwind = "pressure"\n')
    assert result.measured.values
    assert not [m for m in result.measured.values if m.startswith("pneumatics.")]


def test_the_exponent_of_the_leak_is_told_with_its_doubt(parlour: Assessment) -> None:
    found = parlour.measured.values["pneumatics.leak_exponent"]
    assert found.value is not None
    assert found.sd is not None
    assert found.sd > 0.1
    assert found.says


def test_spring_force_against_the_gauge(parlour: Assessment) -> None:
    found = parlour.measured.values["pneumatics.spring_suction"]
    area_m2 = 36 * 16 * 0.0254**2
    assert found.value == pytest.approx(2 * 150 / area_m2 / 249.0889, rel=1e-3)


def test_touch_to_expect(parlour: Assessment) -> None:
    found = parlour.measured.values["action.expected_touch"]
    pull_n = 0.090 * 0.009 * 2.3 * 249.0889
    force_n = 150 * 9.80665e-3 - pull_n
    assert found.value == pytest.approx(force_n * 120 / 210 / 9.80665e-3, rel=1e-3)


def test_bellows_cloth_is_bought_by_the_boards() -> None:
    text = PARLOUR.read_text(encoding="utf-8")
    text = text.replace("reservoir_cloth = ", "#").replace("exhauster_cloth = ", "#")
    perished = '[answers.pneumatics]\nreservoir_cloth = "perished, rubber flaking all over"\n'
    text = text.replace("[answers.pneumatics]\n", perished)
    small = assess.assess(job_of(text, PARLOUR))
    large = assess.assess(job_of(text.replace('"36 in"', '"72 in"'), PARLOUR))

    def cloth(result: Assessment) -> float:
        step = result.plans["full"].step("pneumatics.recover_reservoir")
        assert step
        found = next(m for m in step.materials if m.material == "pneumatics.bellows_cloth")
        return found.quantity

    waste = 1.15
    edge_m = (36 + 2 * 16) * 0.0254
    assert cloth(small) / waste * 0.9144 == pytest.approx(edge_m, rel=0.2)
    assert cloth(large) > 1.3 * cloth(small)


def test_figures_hold_what_was_measured(parlour: Assessment) -> None:
    assert set(parlour.figures) == {
        "action.key_dip",
        "action.key_level",
        "pneumatics.leak_down",
        "reeds.departures",
        "reeds.pitches",
        "casework.panel_movement",
        "casework.panel_year",
    }
    measured, good = parlour.figures["pneumatics.leak_down"].series
    assert measured.points[0] == (0, 0)
    assert measured.points[-1] == (pytest.approx(18), 100)
    judged_s = parlour.measured.values["pneumatics.good_hold"].value
    assert good.points[-1][0] == pytest.approx(judged_s)
    assert f"a good one takes {judged_s:.0f} s" in parlour.figures["pneumatics.leak_down"].says
    times = [t for t, _ in measured.points]
    assert times == sorted(times)
    # the suction falls, so the second half of the travel takes longer
    assert times[5] < 9
    reeds = parlour.figures["reeds.departures"].series
    assert sum(len(s.points) for s in reeds) == 61 + 61 + 37 - 3
    naturals, sharps = parlour.figures["action.key_dip"].series
    assert (len(naturals.points), len(sharps.points)) == (36, 25)
    dips = dict(naturals.points + sharps.points)
    assert sorted(dips) == [float(key) for key in range(29, 90)]
    off = {x: y for s in parlour.figures["action.key_level"].series for x, y in s.points}
    assert off.keys() == dips.keys()
    assert [key for key, y in off.items() if abs(y) > 0.3] == [53.0]  # F3, which is shimmed
    widths = [w for _, w in parlour.figures["casework.panel_movement"].series[0].points]
    assert widths == sorted(widths)


def test_the_tuning_sheet_knows_warmth_temperament_and_tongues(parlour: Assessment) -> None:
    notes = " ".join(parlour.sheets["reeds.tuning_sheet"].notes)
    assert "For the temperature of the workshop" in notes
    assert "cannot be put back" in notes
    text = PARLOUR.read_text(encoding="utf-8")
    text = text.replace(
        "[instrument.features]\n", '[instrument.features]\ntune_in = "werckmeister"\n'
    )
    other = assess.assess(job_of(text, PARLOUR)).sheets["reeds.tuning_sheet"]
    assert "Werckmeister III" in other.title
    cents = {row[0]: row[3] for row in other.rows}
    assert cents["C4 Front"] != cents["E4 Front"]


def test_cracks_flaps_and_straps_of_the_attic_organ() -> None:
    result = assess.assess(assess.load(ROOT / "fixtures" / "neglected.toml"))
    crack = result.measured.values["casework.crack_after"]
    change = result.measured.values["casework.panel_change"].value or 0
    assert change < 0
    # held at both edges, the whole shrinkage goes into the crack
    assert crack.value == pytest.approx(2.5 - change, rel=1e-6)
    assert "opens" in crack.says
    pieces = [row[0] for row in result.sheets["pneumatics.cutting_list"].rows]
    assert {"inner valve", "outer valve", "treadle strap"} <= set(pieces)
