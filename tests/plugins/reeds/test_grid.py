"""The grid of the reed survey: its cells and words are those that a reed survey takes."""

from __future__ import annotations

from itertools import pairwise

from assess_reeds.pitch import midi_of, note_name
from assess_reeds.rows import Sign, Speech, reed_row, signs_in

import assess

SURVEY = assess.knowledge_in_use().surveys["reeds.notes"]


def test_cells_are_the_notes_from_the_lowest_c_upwards() -> None:
    notes = [midi_of(cell) for cell in SURVEY.cells]
    assert SURVEY.cells[0] == "C1"
    assert all(b - a == 1 for a, b in pairwise(notes))
    assert [note_name(n) for n in notes] == list(SURVEY.cells)


def test_the_usual_compass_has_61_keys() -> None:
    assert SURVEY.grid
    assert SURVEY.grid.shown
    low, high = map(midi_of, SURVEY.grid.shown)
    assert high - low + 1 == 61


def test_marks_are_the_words_for_speech() -> None:
    marks = SURVEY.column("speech").choices
    assert set(marks) == {speech.value for speech in Speech}
    assert marks[0] == Speech.SPEAKS
    for mark in marks:
        assert reed_row("F3", "Front", 8, mark).speech == mark


def test_a_reed_that_speaks_along_is_read_as_such() -> None:
    assert "speaks along" in SURVEY.column("remarks").choices
    assert signs_in("speaks along") == {Sign.NEIGHBOUR}


def test_lengths_are_those_of_ranks() -> None:
    for feet in SURVEY.column("feet").choices:
        reed_row("F3", "Front", int(feet))
