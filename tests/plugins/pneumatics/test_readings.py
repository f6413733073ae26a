"""From the answers of a job file to what is computed and cut, with poor answers too."""

from __future__ import annotations

import pytest
from conftest import job_of

import assess
from assess.assessment import Assessment

RESERVOIR = 'reservoir_length = "36 in"\nreservoir_width = "16 in"\nreservoir_opening = "8 in"\n'
EXHAUSTER = 'exhauster_length = "17 in"\nexhauster_width = "14 in"\nexhauster_opening = "5 in"\n'


def job(facts: str = "", answers: str = "") -> Assessment:
    text = f"format = 1\n[instrument.facts]\n{facts}\n[answers.pneumatics]\n{answers}\n"
    result = assess.assess(job_of(text))
    assert "pneumatics.leak_flow" in result.measured.values
    return result


def test_hold_tests_that_contradict_each_other_are_asked_for_again() -> None:
    result = job(answers='whole_hold = "60 s"\nlower_action_hold = "20 s"')
    found = result.measured.values["pneumatics.predicted_hold"]
    assert found.value is None
    assert found.wants[0].startswith("hold times that agree")


@pytest.mark.parametrize("part", ["reservoir", "exhauster"])
def test_an_impossible_opening_is_asked_for_again(part: str) -> None:
    known = [line for line in (RESERVOIR + EXHAUSTER).splitlines() if not line.startswith(part)]
    sizes = f"{part}_length = 900\n{part}_width = 100\n{part}_opening = 200\n"
    result = job("\n".join([*known, sizes]), 'whole_hold = "60 s"\ndeep_note = "20 s"')
    wanted = f"{part}_opening below twice {part}_width"
    assert wanted in result.measured.values["pneumatics.strokes_needed"].wants
    assert result.sheets["pneumatics.cutting_list"].wants == (wanted,)


@pytest.mark.parametrize("suction", ["suction_half = 0", "suction_half = 1\nsuction_spread = 2"])
def test_no_suction_gives_no_hole(suction: str) -> None:
    result = job(RESERVOIR, f'whole_hold = "60 s"\n{suction}')
    found = result.measured.values["pneumatics.leak_hole"]
    assert found.wants == ("pneumatics.suction_half above half of pneumatics.suction_spread",)


@pytest.mark.parametrize(
    ("hold", "counted", "words"),
    [
        ("60 s", "", "If it takes twice as many"),
        ("60 s", "strokes_to_close = 6", "The exhausters lose little"),
        ("60 s", "strokes_to_close = 15", "check their covers and flap valves"),
        ("4.2 s", "strokes_to_close = 60", "cure them first"),
        ("2 s", "strokes_to_close = 60", "cure them first"),
    ],
)
def test_counted_strokes_tell_exhausters_from_leaks(hold: str, counted: str, words: str) -> None:
    result = job(RESERVOIR + EXHAUSTER, f'whole_hold = "{hold}"\n{counted}')
    assert words in result.measured.values["pneumatics.strokes_expected"].says


def test_strokes_expected_by_hand() -> None:
    result = job(RESERVOIR + EXHAUSTER, 'whole_hold = "60 s"')
    volume, stroke = 36 * 16 * 8 / 2, 17 * 14 * 5 / 2
    found = result.measured.values["pneumatics.strokes_expected"]
    # At sixty strokes a minute, a sixtieth of the reservoir leaks in with each stroke.
    assert found.value == pytest.approx(volume / (stroke - volume / 60))


def test_spring_force_for_the_usual_suction() -> None:
    found = job(RESERVOIR).measured.values["pneumatics.spring_force_needed"]
    # 21, 31 and 42 lbf for 2, 3 and 4 in of suction (derived: half of suction x area)
    assert found.value == pytest.approx(31 * 4.448, rel=0.02)
    assert "2 in needs 93 N, 3.5 in needs 162 N" in found.says


def test_only_the_declared_value_is_judged() -> None:
    criteria = assess.knowledge_in_use().criteria
    result = job(RESERVOIR + EXHAUSTER, 'whole_hold = "60 s"\ndeep_note = "20 s"')
    judged = {name for name in result.measured.values if name in criteria}
    assert {n for n in judged if n.startswith("pneumatics.")} == {"pneumatics.strokes_needed"}


def test_the_cutting_list_says_what_is_left_out() -> None:
    notes = " ".join(job(RESERVOIR + EXHAUSTER).sheets["pneumatics.cutting_list"].notes)
    assert "Valve flaps are left out; missing: port_length, port_width" in notes
    assert "third more skin" not in notes
    flaps = "port_length = 130\nport_width = 45\n"
    notes = " ".join(job(RESERVOIR + EXHAUSTER + flaps).sheets["pneumatics.cutting_list"].notes)
    assert "Valve flaps" not in notes
    assert "Straps are left out; missing: strap_length, strap_width" in notes
    assert "third more skin" in notes
