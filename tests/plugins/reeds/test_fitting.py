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
from assess_reeds.temperament import TEMPERAMENT_NAMES, Temperament, named_temperament
from hypothesis import assume, given
from hypothesis import strategies as st
from made_organs import COMPASS, rank
from scipy import stats


def fitted(
    temperament: Temperament, tuner_sd: float = 0.0, scatter: float = 0.0, seed: int = 0
) -> TemperamentFit:
    """The fit to two ranks by a tuner whose temperament octave errs by ``tuner_sd`` [cents]."""
    random_numbers = random.Random(seed)
    octave = [random_numbers.gauss(0.0, tuner_sd) for _ in range(12)]
    ranks = [
        rank(name, temperament=temperament, octave=octave, scatter=scatter, seed=2 * seed + place)
        for place, name in enumerate(("Viola", "Melody"))
    ]
    return fit_temperament([readings_of(rows) for rows in ranks])


def test_the_factor_from_deviation_to_sd_is_that_of_the_normal_distribution() -> None:
    assert pytest.approx(1 / stats.norm.ppf(0.75), rel=1e-12) == MAD_TO_SD


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_an_exact_temperament_is_found_or_left_open_with_very_similar_ones(name: str) -> None:
    fit = fitted(named_temperament(name))
    assert fit.candidates[0].mean_off_cents == pytest.approx(0.0, abs=1e-9)
    assert fit.candidates[0].temperament.name == name
    if fit.likely is not None:
        assert fit.likely.name == name
        return
    # Temperaments that differ by a cent on average cannot be told apart by reeds.
    assert fit.says.startswith("not clear")
    assert all(one.mean_off_cents < 1.5 for one in fit.still_open)
    assert "equal" not in [one.temperament.name for one in fit.still_open]
    assert fit.assumed.name == name


@pytest.mark.parametrize("name", ["equal", "quarter_comma_meantone", "pythagorean_Eb_to_Gsharp"])
def test_clearly_different_temperaments_are_found_under_noise(name: str) -> None:
    named = Counter(
        fit.likely.name if fit.likely else None
        for fit in (fitted(named_temperament(name), 2.0, 4.0, seed) for seed in range(25))
    )
    assert named[name] >= 20
    assert named[name] + named[None] == 25


@pytest.mark.parametrize("name", TEMPERAMENT_NAMES)
def test_bad_tuning_rarely_gives_a_wrong_name(name: str) -> None:
    """The temperament octave errs by 3 cents, the reeds by 8 (standard deviations)."""
    fits = [fitted(named_temperament(name), 3.0, 8.0, seed) for seed in range(40)]
    wrong = sum(fit.likely is not None and fit.likely.name != name for fit in fits)
    still_open = sum(name in [one.temperament.name for one in fit.still_open] for fit in fits)
    assert wrong <= 5
    assert still_open >= 28


def test_equal_temperament_is_hardly_ever_called_historical() -> None:
    fits = [fitted(named_temperament("equal"), 3.0, 8.0, seed) for seed in range(100)]
    assert sum(fit.likely is not None and fit.likely.name != "equal" for fit in fits) <= 2


def test_random_pitches_have_no_temperament() -> None:
    fit = fitted(named_temperament("equal"), tuner_sd=40.0, scatter=40.0, seed=3)
    assert fit.likely is None
    assert fit.candidates[0].mean_off_cents > POOR_FIT_CENTS
    assert "even the closest" in fit.says
    assert fit.assumed.name == "equal"


def test_each_set_may_have_its_own_pitch() -> None:
    made = named_temperament("quarter_comma_meantone")
    ranks = [rank("Viola", temperament=made), rank("Melody", level=54.0, temperament=made)]
    fit = fit_temperament([readings_of(rows) for rows in ranks])
    assert fit.likely == made


@pytest.mark.parametrize(("notes", "enough"), [(MIN_NOTES - 1, False), (MIN_NOTES, True)])
def test_too_few_notes_show_no_temperament(notes: int, enough: bool) -> None:
    fit = fit_temperament([readings_of(rank(keys=range(60, 60 + notes)))])
    assert fit.notes == notes
    assert bool(fit.candidates) is enough
    if not enough:
        assert fit.likely is None
        assert f"only {notes} of the twelve" in fit.says


def test_without_readings_there_is_no_temperament() -> None:
    fit = fit_temperament([])
    assert (fit.likely, fit.candidates, fit.notes) == (None, (), 0)


def test_the_weights_are_probabilities() -> None:
    for seed in range(5):
        fit = fitted(named_temperament("vallotti"), 2.0, 4.0, seed)
        weights = [one.weight for one in fit.candidates]
        assert sum(weights) == pytest.approx(1.0, abs=1e-12)
        assert weights == sorted(weights, reverse=True)


def test_more_octaves_are_not_more_evidence() -> None:
    """An error in the temperament octave is copied everywhere, so more reeds prove nothing."""
    octave = [0.0, 6.0, 0.0, 0.0, -5.0, 0.0, 4.0, 0.0, 0.0, -3.0, 0.0, 5.0]
    once = fit_temperament([readings_of(rank(keys=range(60, 72), octave=octave))])
    often = fit_temperament([readings_of(rank(keys=range(36, 84), octave=octave))])
    assert once.candidates
    for one, other in zip(once.candidates, often.candidates, strict=True):
        assert one.temperament == other.temperament
        assert one.weight == pytest.approx(other.weight, abs=1e-9)


@given(st.integers(0, 60), st.floats(-1200.0, 1200.0), st.integers(0, 3))
def test_one_wild_reading_does_not_change_the_temperament(
    place: int, wild: float, seed: int
) -> None:
    readings = list(readings_of(rank(scatter=2.0, seed=seed)))
    before = fit_temperament([readings])
    readings[place] = Reading(readings[place].row, wild)
    after = fit_temperament([readings])
    assert before.likely is not None
    assert after.likely == before.likely
    for one, other in zip(before.candidates, after.candidates, strict=True):
        assert abs(one.mean_off_cents - other.mean_off_cents) < 1.5


@given(st.floats(-100.0, 100.0), st.integers(0, 5))
def test_the_fit_does_not_depend_on_the_pitch(level: float, seed: int) -> None:
    low = fit_temperament([readings_of(rank(scatter=3.0, seed=seed))])
    high = fit_temperament([readings_of(rank(level=level, scatter=3.0, seed=seed))])
    assert low.candidates
    for one, other in zip(low.candidates, high.candidates, strict=True):
        assert one.temperament == other.temperament
        assert one.weight == pytest.approx(other.weight, abs=1e-6)


def two_sets(apart: float, sizes: tuple[int, int], scatter: float, seed: int) -> list[float]:
    random_numbers = random.Random(seed)
    values = [random_numbers.gauss(0.0, scatter) for _ in range(sizes[0])]
    values += [random_numbers.gauss(apart, scatter) for _ in range(sizes[1])]
    random_numbers.shuffle(values)
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


def test_sets_at_435_and_440_are_separated_if_well_in_tune() -> None:
    """They are 19.8 cents apart."""
    assert len(separate_sets(two_sets(19.8, (30, 31), 2.0, 1))) == 2
    assert len(separate_sets(two_sets(19.8, (30, 31), 8.0, 1))) == 1


def test_one_set_is_hardly_ever_split() -> None:
    split = {"normal": 0, "even": 0, "small": 0}
    for seed in range(300):
        random_numbers = random.Random(seed)
        scatter = random_numbers.choice([2.0, 5.0, 10.0, 20.0])
        sets = {
            "normal": [random_numbers.gauss(0.0, scatter) for _ in COMPASS],
            "even": [random_numbers.uniform(-2 * scatter, 2 * scatter) for _ in COMPASS],
            "small": [random_numbers.gauss(0.0, scatter) for _ in range(10)],
        }
        for name, values in sets.items():
            split[name] += len(separate_sets(values)) > 1
    assert split["normal"] == 0
    assert split["even"] <= 3
    # By chance, ten readings can look like two sets of five.
    assert split["small"] <= 6


@given(st.lists(st.floats(-300.0, 300.0), max_size=40))
def test_every_reading_is_in_one_set(values: list[float]) -> None:
    parts = separate_sets(values)
    assert sorted(place for part in parts for place in part) == list(range(len(values)))
    middles = [median(values[place] for place in part) for part in parts if part]
    assert middles == sorted(middles)


@given(st.integers(0, 39), st.floats(-1200.0, 1200.0), st.integers(0, 50))
def test_one_wild_reading_is_not_a_set(place: int, wild: float, seed: int) -> None:
    values = two_sets(0.0, (20, 20), 3.0, seed)
    values[place] = wild
    assert len(separate_sets(values)) == 1


@given(
    st.floats(40.0, 100.0),
    st.tuples(st.integers(6, 15), st.integers(6, 15)),
    st.integers(0, 10**6),
)
def test_the_split_has_the_smallest_deviations(
    apart: float, sizes: tuple[int, int], seed: int
) -> None:
    values = two_sets(apart, sizes, 4.0, seed)

    def deviations(parts: list[list[float]]) -> float:
        return sum(abs(value - median(part)) for part in parts for value in part)

    found = [[values[place] for place in part] for part in separate_sets(values)]
    assume(len(found) == 2)
    ranked = sorted(values)
    cuts = range(MIN_SET_READINGS, len(values) - MIN_SET_READINGS + 1)
    least = min(deviations([ranked[:cut], ranked[cut:]]) for cut in cuts)
    assert deviations(found) == pytest.approx(least, abs=1e-9)


@pytest.mark.parametrize(("apart", "sets"), [(14.9, 1), (15.1, 2)])
def test_sets_as_close_as_bad_tuning_count_as_one(apart: float, sets: int) -> None:
    assert len(separate_sets([0.0] * 20 + [apart] * 20)) == sets


@pytest.mark.parametrize(("strays", "sets"), [(4, 1), (5, 2)])
def test_a_few_strays_are_not_a_set(strays: int, sets: int) -> None:
    assert len(separate_sets([0.0] * 30 + [54.0] * strays)) == sets


@pytest.mark.parametrize(("size", "notes"), [(3, 0), (4, 8)])
def test_groups_too_small_for_a_pitch_do_not_count(size: int, notes: int) -> None:
    groups = [
        readings_of(rank(keys=range(60, 60 + size))),
        readings_of(rank(keys=range(66, 66 + size))),
    ]
    assert fit_temperament(groups).notes == notes
