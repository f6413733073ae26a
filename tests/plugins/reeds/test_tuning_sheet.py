from __future__ import annotations

import itertools
import math

import pytest
from assess_reeds.pitch import cents_between, midi_of, note_name
from assess_reeds.temperament import TEMPERAMENT_NAMES, celeste_beats_per_s, named_temperament
from assess_reeds.tuning_sheet import (
    Line,
    Rank,
    Stage,
    interval_words,
    tuning_sheet,
)
from hypothesis import given
from hypothesis import strategies as st

F1, B3, C4, F6 = (midi_of(name) for name in ("F1", "B3", "C4", "F6"))
VIOLA = Rank("Viola", 8, F1, F6)
FLUTE = Rank("Flute", 4, F1, B3)
BASS = Rank("Bourdon", 16, C4, F6)
CELESTE = Rank("Celeste", 8, C4, F6, 2.0)


@st.composite
def compasses(draw: st.DrawFn) -> Rank:
    lowest = draw(st.integers(24, 80))
    highest = draw(st.integers(lowest, min(96, lowest + 61)))
    name, feet = draw(st.sampled_from("abcd")), draw(st.sampled_from([16, 8, 4, 2]))
    return Rank(name, feet, lowest, highest)


def distinct(ranks: list[Rank]) -> list[Rank]:
    return list({(rank.name, rank.feet): rank for rank in ranks}.values())


@given(st.lists(compasses(), min_size=1, max_size=5).map(distinct))
def test_every_reed_is_on_the_sheet_once(ranks: list[Rank]) -> None:
    sheet = tuning_sheet(ranks)
    reeds = [(line.rank.name, line.rank.feet, line.key_midi) for line in sheet.lines]
    assert len(set(reeds)) == len(reeds) == sum(len(rank.keys) for rank in ranks)
    assert [line.number for line in sheet.lines] == list(range(1, len(reeds) + 1))


@given(st.lists(compasses(), min_size=1, max_size=5).map(distinct))
def test_the_stages_come_in_their_order(ranks: list[Rank]) -> None:
    stages = [line.stage for line in tuning_sheet(ranks).lines]
    order = list(Stage)
    assert stages == sorted(stages, key=order.index)


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_targets_are_those_of_the_temperament(name: str) -> None:
    made = named_temperament(name)
    lines = tuning_sheet([VIOLA, FLUTE, BASS], 435.0, made).lines
    assert lines
    for line in lines:
        assert line.target_hz == pytest.approx(made.hz(line.sounding_midi, 435.0), rel=1e-12)
        assert line.cents == pytest.approx(made.offset_cents(line.sounding_midi), abs=1e-7)


def test_the_order_of_a_usual_instrument_from_a3_to_the_celeste() -> None:
    lines = tuning_sheet([CELESTE, BASS, FLUTE, VIOLA]).lines
    first = lines[0]
    assert (note_name(first.key_midi), first.stage) == ("A3", Stage.FIRST_NOTE)
    assert {note_name(line.key_midi) for line in lines[:12]} == {
        note_name(midi) for midi in range(midi_of("F3"), midi_of("F4"))
    }
    assert all(line.rank is VIOLA for line in lines[:61])
    blocks = [rank.name for rank, _ in itertools.groupby(line.rank for line in lines)]
    assert blocks == ["Viola", "Flute", "Bourdon", "Celeste"]


def test_each_reed_is_set_by_one_that_is_tuned_already() -> None:
    """Each interval of the sheet is with a reed further up."""
    tuned: set[tuple[str, int]] = set()
    lines = tuning_sheet([VIOLA, FLUTE, BASS, CELESTE]).lines
    assert lines
    for line in lines:
        needed = _needed(line)
        assert needed is None or needed in tuned, line
        tuned.add((line.rank.name, line.key_midi))


def _needed(line: Line) -> tuple[str, int] | None:
    words = line.against.replace(",", "").split()
    if line.stage is Stage.FIRST_NOTE:
        return None
    if line.stage is Stage.OCTAVE:
        notes = {midi_of(words[1]), midi_of(words[3])} - {line.key_midi}
        return ("Viola", notes.pop())
    if line.stage is Stage.OUTWARD:
        return ("Viola", midi_of(words[3]))
    return (words[2], line.key_midi)


def test_tuning_outwards_goes_up_then_down_by_octaves() -> None:
    outward = [line for line in tuning_sheet([VIOLA]).lines if line.stage is Stage.OUTWARD]
    keys = [line.key_midi for line in outward]
    assert keys == [*range(65, F6 + 1), *range(52, F1 - 1, -1)]
    assert outward[0].against == "octave with key F3"
    assert outward[-1].against == "octave with key F2"


def test_other_lengths_are_set_by_octaves() -> None:
    lines = tuning_sheet([VIOLA, FLUTE, BASS, Rank("Piccolo", 2, C4, F6)]).lines
    words = {line.rank.name: line.against for line in lines if line.stage is Stage.OTHER_RANKS}
    assert words == {
        "Flute": "octave with Viola",
        "Bourdon": "octave with Viola",
        "Piccolo": "2 octaves with Viola",
    }


def test_the_temperament_octave_has_beats_thirds_and_a_closing_fifth() -> None:
    sheet = tuning_sheet([VIOLA], temperament=named_temperament("equal"))
    lines = sheet.lines[:12]
    assert lines[0].beats_per_s == 0.0
    assert all(0.5 < abs(line.beats_per_s) < 1.2 for line in lines[1:])
    thirds = [beat for line in lines for beat in line.checks]
    assert len(thirds) == 11
    assert all(beat.beats_per_s > 5 for beat in thirds)
    assert interval_words(thirds[0]) == "major third A3 to C#4"
    assert sheet.closing is not None
    assert interval_words(sheet.closing) == "fifth Ab3 to Eb4"
    assert -1.2 < sheet.closing.beats_per_s < -0.5


@given(st.floats(0.5, 4.0), st.booleans(), st.floats(425.0, 460.0))
def test_the_celeste_beats_at_the_given_rate(beats: float, sharp: bool, a_hz: float) -> None:
    signed = beats if sharp else -beats
    rank = Rank("Celeste", 8, C4, F6, signed)
    lines = [line for line in tuning_sheet([VIOLA, rank], a_hz).lines if line.rank is rank]
    assert len(lines) == len(rank.keys)
    for line in lines:
        unison_hz = named_temperament("equal").hz(line.sounding_midi, a_hz)
        assert line.target_hz - unison_hz == pytest.approx(signed, abs=1e-8)
        assert celeste_beats_per_s(unison_hz, line.cents) == pytest.approx(signed, abs=1e-6)
        assert line.against == f"{'sharp' if sharp else 'flat'} of Viola"


def test_a_celeste_without_its_unison_needs_the_tuner() -> None:
    lines = tuning_sheet([Rank("Flute", 4, F1, F6), CELESTE]).lines
    assert lines[-1].against == "tuner, sharp"
    with pytest.raises(ValueError, match="a celeste needs a rank to beat with"):
        tuning_sheet([CELESTE])


def test_the_halves_of_a_divided_rank_are_tuned_first_together() -> None:
    bass, treble = Rank("Viola", 8, F1, B3), Rank("Melody", 8, C4, F6)
    lines = tuning_sheet([Rank("Flute", 4, F1, B3), bass, treble]).lines
    assert {line.rank.name for line in lines[:12]} == {"Viola", "Melody"}
    assert {line.rank.name for line in lines[61:]} == {"Flute"}


def test_without_8_ft_the_temperament_octave_sounds_at_its_usual_place() -> None:
    first = tuning_sheet([Rank("Flute", 4, F1, F6)]).lines[:12]
    assert {note_name(line.sounding_midi) for line in first} >= {"F3", "A3", "E4"}
    assert {note_name(line.key_midi) for line in first} >= {"F2", "A2", "E3"}


def test_a_rank_shorter_than_an_octave_is_set_by_tuner() -> None:
    sheet = tuning_sheet([Rank("Stub", 16, F1, F1 + 10)])
    assert sheet.closing is None
    assert {(line.stage, line.against) for line in sheet.lines} == {(Stage.OUTWARD, "tuner")}


def test_keys_outside_the_leading_rank_are_set_by_tuner() -> None:
    lines = tuning_sheet([VIOLA, Rank("Pedal", 16, F1 - 5, F1 + 5)]).lines
    words = [line.against for line in lines if line.rank.name == "Pedal"]
    assert words == ["tuner"] * 5 + ["octave with Viola"] * 6


def test_in_a_cold_workshop_the_target_is_higher() -> None:
    sheet = tuning_sheet([VIOLA], 440.0, bench_c=12.0, used_c=22.0)
    assert sheet.a_hz == 440.0
    assert cents_between(440.0, sheet.bench_a_hz) == pytest.approx(3.0)
    assert sheet.unsure_cents == pytest.approx(1.6)
    assert sheet.lines[0].target_hz == pytest.approx(sheet.bench_a_hz / 2)
    warm = tuning_sheet([VIOLA], 440.0, bench_c=22.0, used_c=12.0)
    assert cents_between(440.0, warm.bench_a_hz) == pytest.approx(-3.0)
    assert warm.unsure_cents == pytest.approx(1.6)
    same = tuning_sheet([VIOLA], 440.0, bench_c=20.0, used_c=20.0)
    assert (same.bench_a_hz, same.unsure_cents) == (440.0, 0.0)
    for bench_c, used_c in ((12.0, None), (None, 12.0)):
        with pytest.raises(ValueError, match="give both temperatures"):
            tuning_sheet([VIOLA], bench_c=bench_c, used_c=used_c)


@pytest.mark.parametrize("a_hz", [0.0, -1.0, math.nan])
def test_a_sheet_for_an_impossible_pitch_is_refused(a_hz: float) -> None:
    with pytest.raises(ValueError, match="must be"):
        tuning_sheet([VIOLA], a_hz)


def test_impossible_ranks_are_refused() -> None:
    with pytest.raises(ValueError, match="the lowest key is above"):
        Rank("Viola", 8, F6, F1)
    with pytest.raises(ValueError, match="the length of a rank is 32"):
        Rank("Viola", 5, F1, F6)
    with pytest.raises(ValueError, match="run from 0 to 127"):
        Rank("Viola", 2, F1, 110)
    with pytest.raises(ValueError, match="without beats it is a unison"):
        Rank("Celeste", 8, C4, F6, 0.0)
    with pytest.raises(ValueError, match="must be a number"):
        Rank("Celeste", 8, C4, F6, math.nan)
    with pytest.raises(ValueError, match="listed twice"):
        tuning_sheet([VIOLA, Rank("Viola", 8, C4, F6)])
    with pytest.raises(ValueError, match="there is none"):
        tuning_sheet([])


def test_the_rank_with_the_usual_octave_is_tuned_first() -> None:
    treble = Rank("Melody", 8, midi_of("C5"), F6)
    lines = tuning_sheet([treble, Rank("Flute", 4, F1, F6)]).lines
    assert {line.rank.name for line in lines[:61]} == {"Flute"}


def test_the_first_note_is_that_of_the_fork_or_an_octave_of_it() -> None:
    assert tuning_sheet([VIOLA]).lines[0].against == "fork, by octave"
    treble = Rank("Melody", 8, midi_of("A4"), F6)
    first = tuning_sheet([treble]).lines[0]
    assert (first.against, note_name(first.sounding_midi)) == ("fork or tuner", "A4")
