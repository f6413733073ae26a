from __future__ import annotations

import dataclasses

import pytest
from assess_reeds.clusters import Kind
from assess_reeds.rows import WITHOUT_PITCH, ReedRow, Sign, Speech, reed_row
from assess_reeds.survey import Fault, Survey, survey
from assess_reeds.survey_figures import pitches_figure
from assess_reeds.temperament import TEMPERAMENT_NAMES, named_temperament
from hypothesis import given
from hypothesis import strategies as st
from made_organs import celeste, rank

import assess


def changed(rows: list[ReedRow], key: int, **changes: object) -> list[ReedRow]:
    return [
        dataclasses.replace(row, **changes) if row.key_midi == key else row  # type: ignore[arg-type]
        for row in rows
    ]


def count(found: Survey, fault: Fault) -> int:
    return sum(fault in reed.faults for reed in found.reeds)


def faults_at(found: Survey, key: int) -> tuple[Fault, ...]:
    (reed,) = [reed for reed in found.reeds if reed.row.key_midi == key]
    return reed.faults


@pytest.mark.parametrize(
    ("speech", "faults"),
    [
        (Speech.SPEAKS, ()),
        (Speech.SLOW, (Fault.SLOW,)),
        (Speech.WEAK, (Fault.WEAK,)),
        (Speech.BUZZ, (Fault.BUZZ,)),
        (Speech.CHOKED, (Fault.CHOKED,)),
        (Speech.DEAD, (Fault.DEAD,)),
        (Speech.MISSING, (Fault.MISSING,)),
        (Speech.NOT_TRIED, ()),
    ],
)
def test_every_way_of_speaking_has_its_fault(speech: Speech, faults: tuple[Fault, ...]) -> None:
    found = survey([ReedRow(60, "Viola", speech=speech)])
    assert faults_at(found, 60) == faults
    assert found.heard == (speech is not Speech.NOT_TRIED)


def test_untried_reeds_are_not_counted_as_heard() -> None:
    rows = [ReedRow(60, "Viola"), ReedRow(61, "Viola", speech=Speech.DEAD)]
    untried = [ReedRow(key, "Viola", speech=Speech.NOT_TRIED) for key in range(62, 90)]
    assert survey(rows + untried).heard == 2
    assert survey(untried).heard == survey([]).heard == 0


@pytest.mark.parametrize(
    ("off", "faults"),
    [
        (9.9, ()),
        (-9.9, ()),
        (10.1, (Fault.OUT_OF_TUNE,)),
        (-40.0, (Fault.OUT_OF_TUNE,)),
        (74.9, (Fault.OUT_OF_TUNE,)),
        (75.1, (Fault.WRONG_REED,)),
        (-100.0, (Fault.WRONG_REED,)),
    ],
)
def test_departure_from_the_rank(off: float, faults: tuple[Fault, ...]) -> None:
    found = survey(changed(rank(level=54.0), 60, cents=54.0 + off))
    (reed,) = [reed for reed in found.reeds if reed.row.key_midi == 60]
    assert reed.departure_cents == pytest.approx(off, abs=1e-9)
    assert reed.faults == faults
    assert all(not other.faults for other in found.reeds if other is not reed)


def test_a_reed_may_have_several_faults_the_worst_first() -> None:
    rows = changed(rank(), 60, cents=-30.0, speech=Speech.SLOW, signs=frozenset({Sign.CRACKED}))
    assert faults_at(survey(rows), 60) == (Fault.CRACKED, Fault.OUT_OF_TUNE, Fault.SLOW)


@pytest.mark.parametrize(
    ("off", "words"),
    [
        (1195.0, "overtone"),
        (-1200.0, "overtone"),
        (1160.0, "overtone"),
        (1140.0, "lost its tip weight"),
        (-1140.0, "cracking at its root"),
        (-130.0, "cracking at its root"),
        (130.0, "lost its tip weight"),
        (40.0, ""),
    ],
)
def test_what_a_wrong_pitch_points_at(off: float, words: str) -> None:
    found = survey(changed(rank(), 60, cents=off))
    (reed,) = [reed for reed in found.reeds if reed.row.key_midi == 60]
    assert words in reed.says
    assert bool(reed.says) == bool(words)


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_a_historical_temperament_is_not_a_fault(name: str) -> None:
    found = survey(rank(level=-20.0, temperament=named_temperament(name)))
    assert count(found, Fault.OUT_OF_TUNE) == 0


@given(st.floats(-80.0, 80.0), st.integers(29, 89), st.floats(-70.0, 70.0), st.integers(0, 9))
def test_one_reed_out_of_tune_is_found_at_any_pitch(
    level: float, key: int, off: float, seed: int
) -> None:
    rows = rank(level=level, scatter=2.0, seed=seed)
    found = survey(changed(rows, key, cents=level + off))
    (reed,) = [reed for reed in found.reeds if reed.row.key_midi == key]
    assert reed.departure_cents == pytest.approx(off, abs=2.0)


def test_each_rank_is_judged_at_its_own_pitch() -> None:
    rows = rank("Viola") + rank("Melody", level=54.0)
    found = survey(rows)
    assert count(found, Fault.OUT_OF_TUNE) == 0
    assert [one.kind for one in found.clusters] == [Kind.RANK_OFF]


def test_foreign_reeds_in_a_rank_are_out_of_tune_and_one_cluster() -> None:
    found = survey(rank(keys=range(29, 45), level=54.0) + rank(keys=range(45, 90)))
    assert count(found, Fault.OUT_OF_TUNE) == 16
    (cluster,) = found.clusters
    assert cluster.kind is Kind.MIXED_SET
    assert cluster.key_midis == tuple(range(29, 45))


def test_a_rank_with_few_readings_is_compared_with_the_instrument() -> None:
    found = survey(rank() + rank("Flute", 4, range(60, 62), level=30.0))
    assert count(found, Fault.OUT_OF_TUNE) == 2


def test_a_lone_rank_with_few_readings_is_compared_with_itself() -> None:
    """Two reeds 30 cents apart share one pitch, and both are off it."""
    found = survey(rank(keys=range(60, 61)) + rank(keys=range(61, 62), level=30.0))
    assert [reed.departure_cents for reed in found.reeds] == pytest.approx([-15.0, 15.0])


def test_without_a_common_pitch_few_readings_are_not_judged() -> None:
    two = rank("Viola", keys=range(60, 62)) + rank("Melody", keys=range(60, 62), level=54.0)
    assert [reed.departure_cents for reed in survey(two).reeds] == [None] * 4


def test_a_celeste_is_judged_by_its_own_beats() -> None:
    rows = rank() + celeste(2.5)
    assert count(survey(rows), Fault.OUT_OF_TUNE) == 0
    off = [
        dataclasses.replace(row, cents=(row.cents or 0.0) - 25.0)
        if row.celeste and row.key_midi == 70
        else row
        for row in rows
    ]
    wrong = [reed for reed in survey(off).reeds if Fault.OUT_OF_TUNE in reed.faults]
    assert [(reed.row.rank, reed.row.key_midi) for reed in wrong] == [("Celeste", 70)]


def test_a_celeste_with_few_readings_is_not_judged() -> None:
    found = survey(rank() + celeste(2.5, range(60, 62)))
    assert [reed.departure_cents for reed in found.reeds if reed.row.celeste] == [None, None]


def test_the_setting_of_the_tuner_moves_the_pitch_but_no_departure() -> None:
    rows = changed(rank(), 60, cents=20.0)
    plain, low = survey(rows), survey(rows, tuner_a_hz=435.0)
    assert plain.tuning.pitch is not None
    assert low.tuning.pitch is not None
    assert low.tuning.pitch.a_hz == pytest.approx(435.0)
    departures = [reed.departure_cents for reed in plain.reeds]
    assert [reed.departure_cents for reed in low.reeds] == pytest.approx(departures, abs=1e-9)


def test_two_rows_for_one_reed_are_refused() -> None:
    with pytest.raises(ValueError, match="more than one row for Viola 8 ft, key C4"):
        survey([ReedRow(60, "Viola"), ReedRow(60, "Viola", speech=Speech.SLOW)])
    assert survey([ReedRow(60, "Viola"), ReedRow(60, "Viola", 4)]).heard == 2


def test_exchanged_reeds_are_found_as_a_pair() -> None:
    rows = changed(changed(rank(scatter=2.0), 60, cents=200.0), 62, cents=-200.0)
    found = survey(rows)
    assert count(found, Fault.WRONG_REED) == 2
    assert [(one.kind, one.key_midis) for one in found.clusters] == [(Kind.EXCHANGED, (60, 62))]


@given(st.permutations(range(61)))
def test_the_order_of_the_rows_does_not_matter(order: list[int]) -> None:
    rows = changed(rank(scatter=4.0), 60, speech=Speech.SLOW)
    plain, shuffled = survey(rows), survey([rows[place] for place in order])
    assert shuffled.tuning == plain.tuning
    assert shuffled.clusters == plain.clusters
    assert set(shuffled.reeds) == set(plain.reeds)


def test_two_octaves_off_by_hertz_are_an_overtone_too() -> None:
    rows = changed(rank(), 60, cents=None, hz=4 * named_temperament("equal").hz(60))
    (reed,) = [reed for reed in survey(rows).reeds if reed.row.key_midi == 60]
    assert reed.departure_cents == pytest.approx(2400.0)
    assert "overtone" in reed.says


def test_reeds_that_are_only_out_of_tune_are_not_called_exchanged() -> None:
    found = survey(changed(changed(rank(), 60, cents=74.0), 61, cents=-74.0))
    assert count(found, Fault.OUT_OF_TUNE) == 2
    assert found.clusters == ()


def test_the_figure_of_pitches_shows_silent_and_slow_reeds_before_the_temperament() -> None:
    rows = [reed_row(n, "Viola", cents=-20.0, cents_sd=0.4) for n in ["C4", "D4", "E4", "F4", "G4"]]
    rows += [
        reed_row("A4", "Viola", speech="slow", cents=-21.0),
        reed_row("B4", "Viola", speech="dead"),
        reed_row("C4", "Flute", 4, "missing"),
    ]
    (figure,) = pitches_figure(survey(rows))
    viola, flute, behind = figure.series
    assert viola.points[0] == (60.0, pytest.approx(-20.0))
    assert viola.spreads == (0.4,) * 5 + (0.0,)
    assert (flute.name, flute.points, flute.spreads) == ("Flute 4 ft", (), ())
    assert behind.behind
    assert [y for _, y in behind.points] == pytest.approx([-20.0] * 7)
    assert [(flag.series, flag.says, flag.at) for flag in figure.flags] == [
        ("Viola 8 ft", "silent", (71.0,)),
        ("Viola 8 ft", "slow", (69.0,)),
        ("Flute 4 ft", "missing", (60.0,)),
    ]
    assert figure.x_names[60.0] == "C4"


def test_there_is_no_figure_of_pitches_without_a_pitch() -> None:
    assert pitches_figure(survey([reed_row("C4", "Viola", speech="dead")])) == []


def test_the_grid_keeps_no_reading_with_the_same_words_as_a_row() -> None:
    grid = assess.knowledge_in_use().surveys["reeds.notes"].grid
    assert grid is not None
    assert set(grid.no_number) == WITHOUT_PITCH
