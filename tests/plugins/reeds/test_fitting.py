from __future__ import annotations

import random
from collections import Counter
from statistics import median

import pytest
from assess_reeds.fitting import (
    MAD_TO_SD,
    MIN_NOTES,
    MIN_SET_READINGS,
    POOR_FIT_CENTS,
    Reading,
    TemperamentFit,
    fit_temperament,
    readings_of,
    separate_sets,
)
from assess_reeds.temperament import TEMPERAMENT_NAMES, Temperament, temperament
from hypothesis import assume, given
from hypothesis import strategies as st
from made_organs import COMPASS, rank
from scipy import stats


def fitted(
    tempering: Temperament, tuner_sd: float = 0.0, scatter: float = 0.0, seed: int = 0
) -> TemperamentFit:
    """The fit to two ranks tuned by someone whose temperament octave errs by ``tuner_sd``."""
    chance = random.Random(seed)
    octave = [chance.gauss(0.0, tuner_sd) for _ in range(12)]
    ranks = [
        rank(name, tempering=tempering, octave=octave, scatter=scatter, seed=2 * seed + place)
        for place, name in enumerate(("Viola", "Melody"))
    ]
    return fit_temperament([readings_of(rows) for rows in ranks])


def test_the_factor_from_deviation_to_sd_is_that_of_the_normal_law() -> None:
    assert pytest.approx(1 / stats.norm.ppf(0.75), rel=1e-12) == MAD_TO_SD


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_a_temperament_tuned_exactly_is_found_or_left_open_with_its_twins(name: str) -> None:
    fit = fitted(temperament(name))
    assert fit.candidates[0].mean_off_cents == pytest.approx(0.0, abs=1e-9)
    assert fit.candidates[0].temperament.name == name
    if fit.likely is not None:
        assert fit.likely.name == name
        return
    # Nobody can tell by a reed what lies within a cent on the average of the notes.
    assert fit.says.startswith("cannot tell")
    assert all(one.mean_off_cents < 1.5 for one in fit.still_open)
    assert "equal" not in [one.temperament.name for one in fit.still_open]
    assert fit.assumed.name == name


@pytest.mark.parametrize("name", ["equal", "quarter_comma_meantone", "pythagorean_Eb_to_Gsharp"])
def test_what_is_clearly_different_is_found_under_noise(name: str) -> None:
    named = Counter(
        fit.likely.name if fit.likely else None
        for fit in (fitted(temperament(name), 2.0, 4.0, seed) for seed in range(25))
    )
    assert named[name] >= 20
    assert named[name] + named[None] == 25


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_bad_tuning_leads_to_silence_not_to_invention(name: str) -> None:
    """With a temperament octave 3 cents and reeds 8 cents wild, wrong names stay rare."""
    fits = [fitted(temperament(name), 3.0, 8.0, seed) for seed in range(40)]
    wrong = sum(fit.likely is not None and fit.likely.name != name for fit in fits)
    still_open = sum(name in [one.temperament.name for one in fit.still_open] for fit in fits)
    assert wrong <= 5
    assert still_open >= 28


def test_an_equal_instrument_is_hardly_ever_called_historical() -> None:
    fits = [fitted(temperament("equal"), 3.0, 8.0, seed) for seed in range(100)]
    assert sum(fit.likely is not None and fit.likely.name != "equal" for fit in fits) <= 2


def test_random_pitches_have_no_temperament() -> None:
    fit = fitted(temperament("equal"), tuner_sd=40.0, scatter=40.0, seed=3)
    assert fit.likely is None
    assert fit.candidates[0].mean_off_cents > POOR_FIT_CENTS
    assert "even the closest" in fit.says
    assert fit.assumed.name == "equal"


def test_a_scheme_on_another_note_is_found_if_asked_for() -> None:
    moved = temperament("quarter_comma_meantone", "D")
    groups = [readings_of(rank(tempering=moved))]
    tried = [temperament("equal")] + [
        temperament("quarter_comma_meantone", key) for key in ("C", "G", "D", "A")
    ]
    fit = fit_temperament(groups, tried)
    assert fit.likely is not None
    assert fit.likely.key == "D"
    assert fit.says.startswith("quarter-comma mean-tone on D")


def test_schemes_that_are_the_same_are_tried_once() -> None:
    tried = [temperament("vallotti", "G"), temperament("young_sixth_comma")]
    fit = fit_temperament([readings_of(rank())], tried)
    assert len(fit.candidates) == 1


def test_each_set_may_have_its_own_pitch() -> None:
    made = temperament("quarter_comma_meantone")
    ranks = [rank("Viola", tempering=made), rank("Melody", level=54.0, tempering=made)]
    fit = fit_temperament([readings_of(rows) for rows in ranks])
    assert fit.likely == made


@pytest.mark.parametrize(("notes", "enough"), [(MIN_NOTES - 1, False), (MIN_NOTES, True)])
def test_too_few_notes_cannot_tell(notes: int, enough: bool) -> None:
    fit = fit_temperament([readings_of(rank(keys=range(60, 60 + notes)))])
    assert fit.notes == notes
    assert bool(fit.candidates) is enough
    if not enough:
        assert fit.likely is None
        assert f"only {notes} of the twelve" in fit.says


def test_nothing_read_is_no_temperament() -> None:
    fit = fit_temperament([])
    assert (fit.likely, fit.candidates, fit.notes) == (None, (), 0)


def test_the_weights_are_shares() -> None:
    for seed in range(5):
        fit = fitted(temperament("vallotti"), 2.0, 4.0, seed)
        weights = [one.weight for one in fit.candidates]
        assert sum(weights) == pytest.approx(1.0, abs=1e-12)
        assert weights == sorted(weights, reverse=True)


def test_octaves_more_are_not_witnesses_more() -> None:
    """A slip in the temperament octave is copied everywhere: more reeds make no surer."""
    octave = [0.0, 6.0, 0.0, 0.0, -5.0, 0.0, 4.0, 0.0, 0.0, -3.0, 0.0, 5.0]
    once = fit_temperament([readings_of(rank(keys=range(60, 72), octave=octave))])
    often = fit_temperament([readings_of(rank(keys=range(36, 84), octave=octave))])
    for one, other in zip(once.candidates, often.candidates, strict=True):
        assert one.temperament == other.temperament
        assert one.weight == pytest.approx(other.weight, abs=1e-9)


@given(st.integers(0, 60), st.floats(-1200.0, 1200.0), st.integers(0, 3))
def test_one_wild_reading_changes_nothing_that_is_said(place: int, wild: float, seed: int) -> None:
    readings = list(readings_of(rank(scatter=2.0, seed=seed)))
    before = fit_temperament([readings])
    readings[place] = Reading(readings[place].row, wild)
    after = fit_temperament([readings])
    assert before.likely is not None
    assert after.likely == before.likely
    for one, other in zip(before.candidates, after.candidates, strict=True):
        assert abs(one.mean_off_cents - other.mean_off_cents) < 1.5


@given(st.floats(-100.0, 100.0), st.integers(0, 5))
def test_the_pitch_itself_says_nothing_about_the_temperament(level: float, seed: int) -> None:
    low = fit_temperament([readings_of(rank(scatter=3.0, seed=seed))])
    high = fit_temperament([readings_of(rank(level=level, scatter=3.0, seed=seed))])
    for one, other in zip(low.candidates, high.candidates, strict=True):
        assert one.temperament == other.temperament
        assert one.weight == pytest.approx(other.weight, abs=1e-6)


def two_sets(apart: float, sizes: tuple[int, int], scatter: float, seed: int) -> list[float]:
    chance = random.Random(seed)
    values = [chance.gauss(0.0, scatter) for _ in range(sizes[0])]
    values += [chance.gauss(apart, scatter) for _ in range(sizes[1])]
    chance.shuffle(values)
    return values


@given(
    st.floats(40.0, 100.0),
    st.tuples(st.integers(8, 40), st.integers(8, 40)),
    st.floats(0.0, 4.0),
    st.integers(0, 10**6),
)
def test_two_sets_well_apart_are_found(
    apart: float, sizes: tuple[int, int], scatter: float, seed: int
) -> None:
    values = two_sets(apart, sizes, scatter, seed)
    parts = separate_sets(values)
    assert [len(part) for part in parts] == list(sizes)
    lower, upper = (median(values[place] for place in part) for part in parts)
    assert lower == pytest.approx(0.0, abs=6.0)
    assert upper == pytest.approx(apart, abs=6.0)


def test_sets_of_the_two_pitches_met_most_are_told_apart() -> None:
    """A 435 and a 440 set lie 19.8 cents apart: told if each is in good tune."""
    assert len(separate_sets(two_sets(19.8, (30, 31), 2.0, 1))) == 2
    assert len(separate_sets(two_sets(19.8, (30, 31), 8.0, 1))) == 1


def test_one_heap_is_hardly_ever_split() -> None:
    split = {"normal": 0, "even": 0, "small": 0}
    for seed in range(300):
        chance = random.Random(seed)
        scatter = chance.choice([2.0, 5.0, 10.0, 20.0])
        heaps = {
            "normal": [chance.gauss(0.0, scatter) for _ in COMPASS],
            "even": [chance.uniform(-2 * scatter, 2 * scatter) for _ in COMPASS],
            "small": [chance.gauss(0.0, scatter) for _ in range(10)],
        }
        for name, values in heaps.items():
            split[name] += len(separate_sets(values)) > 1
    assert split["normal"] == 0
    assert split["even"] <= 3
    # Ten readings can by chance look like two heaps of five.
    assert split["small"] <= 6


@given(st.lists(st.floats(-300.0, 300.0), max_size=40))
def test_every_reading_is_in_one_set(values: list[float]) -> None:
    parts = separate_sets(values)
    assert sorted(place for part in parts for place in part) == list(range(len(values)))
    middles = [median(values[place] for place in part) for part in parts if part]
    assert middles == sorted(middles)


@given(st.integers(0, 39), st.floats(-1200.0, 1200.0), st.integers(0, 50))
def test_one_wild_reading_makes_no_set(place: int, wild: float, seed: int) -> None:
    values = two_sets(0.0, (20, 20), 3.0, seed)
    values[place] = wild
    assert len(separate_sets(values)) == 1


@given(
    st.floats(40.0, 100.0),
    st.tuples(st.integers(6, 15), st.integers(6, 15)),
    st.integers(0, 10**6),
)
def test_no_other_cut_would_leave_less(apart: float, sizes: tuple[int, int], seed: int) -> None:
    values = two_sets(apart, sizes, 4.0, seed)

    def left(parts: list[list[float]]) -> float:
        return sum(abs(value - median(part)) for part in parts for value in part)

    found = [[values[place] for place in part] for part in separate_sets(values)]
    assume(len(found) == 2)
    ranked = sorted(values)
    cuts = range(MIN_SET_READINGS, len(values) - MIN_SET_READINGS + 1)
    least = min(left([ranked[:cut], ranked[cut:]]) for cut in cuts)
    assert left(found) == pytest.approx(least, abs=1e-9)


@pytest.mark.parametrize(("apart", "sets"), [(14.9, 1), (15.1, 2)])
def test_sets_closer_than_bad_tuning_are_one(apart: float, sets: int) -> None:
    assert len(separate_sets([0.0] * 20 + [apart] * 20)) == sets


@pytest.mark.parametrize(("strays", "sets"), [(4, 1), (5, 2)])
def test_a_few_strays_are_no_set(strays: int, sets: int) -> None:
    assert len(separate_sets([0.0] * 30 + [54.0] * strays)) == sets


@pytest.mark.parametrize(("size", "notes"), [(3, 0), (4, 8)])
def test_groups_too_small_for_a_pitch_are_no_witnesses(size: int, notes: int) -> None:
    groups = [
        readings_of(rank(keys=range(60, 60 + size))),
        readings_of(rank(keys=range(66, 66 + size))),
    ]
    assert fit_temperament(groups).notes == notes


def test_a_lone_candidate_takes_all() -> None:
    fit = fit_temperament([readings_of(rank(scatter=2.0))], [temperament("equal")])
    assert [one.weight for one in fit.candidates] == [1.0]
