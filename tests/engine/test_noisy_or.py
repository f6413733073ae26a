"""Symptoms and their causes: closed forms and samples, compared with every case enumerated."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import toy
from hypothesis import given
from hypothesis import strategies as st

import assess
from assess.assessment import Assessment
from assess.base.errors import JobFileError
from assess.job.workshop_profile import load_workshop
from assess.uncertainty.bayes_network import beliefs, responsible
from assess.uncertainty.monte_carlo import sample
from assess.uncertainty.noisy_or import SymptomEvidence, factors_of, responsibilities

KNOWLEDGE = toy.knowledge()
CARE = load_workshop(trade=KNOWLEDGE.trade).care
WOBBLES = KNOWLEDGE.symptoms["wheels.wobbles"]
COMPLAINT = '[[history.complaint]]\nsymptom = "wheels.wobbles"\n'
chance = st.floats(0.01, 0.99)
causes = st.lists(st.tuples(chance, chance), min_size=1, max_size=5)


def assessed(text: str = "") -> Assessment:
    return assess.assess(toy.job(text), knowledge=KNOWLEDGE)


def evidence(strengths: list[float], present: bool = True) -> SymptomEvidence:
    rows = {f"c{n}": (0.0, s) for n, s in enumerate(strengths)}
    return SymptomEvidence(WOBBLES, present, rows)


def enumerated(given_causes: list[tuple[float, float]], present: bool) -> dict[str, list[float]]:
    """For each cause: the probability that it is there, given the symptom, case by case."""
    there = [0.0] * len(given_causes)
    total = 0.0
    for case in itertools.product((0, 1), repeat=len(given_causes)):
        prior = math.prod(p if c else 1 - p for c, (p, _) in zip(case, given_causes, strict=True))
        absent = (1 - WOBBLES.leak) * math.prod(
            1 - s for c, (_, s) in zip(case, given_causes, strict=True) if c
        )
        joint = prior * (1 - absent if present else absent)
        total += joint
        for n, c in enumerate(case):
            there[n] += joint * c
    return {f"c{n}": [1 - t / total, t / total] for n, t in enumerate(there)}


@given(causes, st.booleans())
def test_factors_are_what_enumeration_gives(given_causes, present):  # type: ignore[no-untyped-def]
    chances = {f"c{n}": (1 - p, p) for n, (p, _) in enumerate(given_causes)}
    item = evidence([s for _, s in given_causes], present)
    found = factors_of(item, chances)
    assert found.keys() == chances.keys()
    for name, factors in found.items():
        weighed = [p * f for p, f in zip(chances[name], factors, strict=True)]
        exact = enumerated(given_causes, present)[name]
        assert [w / sum(weighed) for w in weighed] == pytest.approx(exact, abs=1e-9)


@given(causes)
def test_a_cause_never_contributes_more_often_than_it_is_there(given_causes):  # type: ignore[no-untyped-def]
    chances = {f"c{n}": (1 - p, p) for n, (p, _) in enumerate(given_causes)}
    shares = responsibilities(evidence([s for _, s in given_causes]), chances)
    there = enumerated(given_causes, True)
    assert shares.keys() == chances.keys()
    for name, share in shares.items():
        assert 0 <= share <= there[name][1] + 1e-9


def test_a_complaint_makes_its_causes_likelier_and_nothing_else() -> None:
    before, after = assessed().beliefs, assessed(COMPLAINT).beliefs
    play = KNOWLEDGE.criteria["wheels.play"]
    bad = [n for n, o in enumerate(play.outcomes) if o.condition > 0]
    assert sum(after.of_criterion("wheels.play")[n] for n in bad) > 1.5 * sum(
        before.of_criterion("wheels.play")[n] for n in bad
    )
    assert after.of_criterion("box.crack") == before.of_criterion("box.crack")


def test_a_cause_that_is_found_lowers_its_rivals() -> None:
    unknown = assessed(COMPLAINT).beliefs.of_criterion("wheels.broken_spokes")
    explained = COMPLAINT + '[answers.wheels]\nplay = "5 mm"\n'
    found = assessed(explained)
    assert found.beliefs.of_criterion("wheels.broken_spokes")[0] > unknown[0]
    assert found.complaints[0].is_explained
    assert not assessed(COMPLAINT).complaints[0].is_explained


def test_what_nobody_noticed_is_no_complaint_and_its_causes_are_rarer() -> None:
    """A cart that rolls with faults is not stuck, of which rotten boards are a cause."""
    rolls = assessed(f'[history]\nrolls = "with faults"\n{COMPLAINT}')
    told = {item.symptom.id: item.present for item in rolls.beliefs.symptoms}
    assert told == {"wheels.wobbles": True, "wheels.stuck": False}
    assert responsible(rolls.beliefs, rolls.graded).keys() == {"wheels.wobbles"}
    rotten = []
    for result in (assessed(COMPLAINT), rolls):
        row = [j.id for j in result.sample.unseen].index("box.crack")
        rotten.append(float((result.sample.outcomes[row] == 2).mean()))
    assert rotten[1] < 0.7 * rotten[0]


def test_what_rolls_well_has_none_of_the_faults_that_would_keep_it_from_it() -> None:
    symptoms = assessed('[history]\nrolls = "well"\n').beliefs.symptoms
    assert {s.symptom.id: s.present for s in symptoms} == {
        "wheels.wobbles": False,
        "wheels.stuck": False,
    }


def test_a_cause_that_comes_slowly_is_less_likely_of_something_sudden() -> None:
    slow, sudden = (
        assessed(f'{COMPLAINT}came = "{came}"\n').beliefs.of_criterion("wheels.play")
        for came in ("slowly", "suddenly")
    )
    assert slow[0] < sudden[0]


def test_samples_agree_with_enumeration_over_the_states_of_care() -> None:
    """Every state and every outcome of the two causes, weighted by the symptom's probability."""
    result = assessed(COMPLAINT)
    prior = beliefs(result.graded, KNOWLEDGE, CARE)
    names = ("wheels.play", "wheels.broken_spokes")
    item = result.beliefs.complaints[0]
    exact = {name: np.zeros(len(KNOWLEDGE.criteria[name].outcomes)) for name in names}
    components = [prior.component_of[name] for name in names]
    count = range(len(CARE.states))
    for whole, part, *states in itertools.product(count, repeat=2 + len(names)):
        weight = prior.whole[whole] * prior.given_whole["wheels"][whole][part]
        if components[0] == components[1] and states[0] != states[1]:
            continue
        for component, state in dict(zip(components, states, strict=True)).items():
            weight *= prior.given_subsystem[component][part][state]
        rows = [prior.outcomes[n][s] for n, s in zip(names, states, strict=True)]
        for outcomes in itertools.product(*(range(len(row)) for row in rows)):
            absent = 1 - WOBBLES.leak
            joint = weight
            for name, row, outcome in zip(names, rows, outcomes, strict=True):
                joint *= row[outcome]
                absent *= 1 - item.strengths[name][outcome]
            for name, outcome in zip(names, outcomes, strict=True):
                exact[name][outcome] += joint * (1 - absent)
    drawn = sample(result.graded, KNOWLEDGE, result.beliefs, 4000)
    assert 400 < drawn.effective <= 4000
    for row, judgement in enumerate(drawn.unseen):
        if judgement.id in exact:
            shares = np.bincount(drawn.outcomes[row], minlength=len(exact[judgement.id])) / 4000
            wanted = exact[judgement.id] / exact[judgement.id].sum()
            assert shares == pytest.approx(wanted, abs=0.035), judgement.id


def test_what_works_well_and_is_used_has_fewer_faults_that_would_stop_it() -> None:
    def sound(text: str) -> float:
        return assessed(text).beliefs.of_criterion("wheels.play")[0]

    well = '[history]\nrolls = "well"\n'
    assert sound("") < sound(well) < sound(well + 'used = "weekly"\n')


def test_earlier_work_makes_findings_rarer_the_newer_it_is() -> None:
    def sound(year: int, subsystem: str = "") -> float:
        where = f'subsystem = "{subsystem}"\n' if subsystem else ""
        text = f"date = 2026-10-14\n[[history.overhaul]]\nyear = {year}\n{where}"
        return assessed(text).beliefs.of_criterion("wheels.play")[0]

    assert sound(2025) > sound(2014) > sound(1950)
    assert sound(1950) == pytest.approx(assessed().beliefs.of_criterion("wheels.play")[0])
    assert sound(2025, "box") < sound(2025, "wheels")


def test_the_tests_of_a_complaint_are_looked_at_first() -> None:
    looks = assessed(COMPLAINT).information_value.looks(everything=True)
    assert [k.criterion for k in looks[:2]] == list(WOBBLES.tests)
    assert looks[0].symptom == "wheels.wobbles"
    assert looks[-1].symptom == ""


def test_responsible_causes_are_listed_likeliest_first() -> None:
    result = assessed(COMPLAINT)
    shares = [c.responsible for c in result.complaints[0].causes]
    assert shares == sorted(shares, reverse=True)
    assert shares
    assert responsible(assessed().beliefs, assessed().graded) == {}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[[history.complaint]]\nsymptom = "wheels.wobles"\n', 'did you mean "wheels.wobbles"'),
        ("date = 2026-10-14\n[[history.overhaul]]\nyear = 2031\n", "2031 is after the year"),
        ('[[history.overhaul]]\nyear = 2001\nsubsystem = "weels"\n', 'did you mean "wheels"'),
        ('[[history.overhaul]]\nyear = 2001\nhow_far = "ful"\n', 'did you mean "full"'),
        ('[history]\nrolls = "fine"\n', "history.rolls"),
        ('[history]\nopened = ["wheels.axel"]\n', 'did you mean "wheels.axle"'),
    ],
)
def test_what_cannot_be_told_is_one_clear_line(text: str, words: str) -> None:
    with pytest.raises(JobFileError) as error:
        assessed(text)
    assert words in str(error.value)
    assert len(str(error.value).splitlines()) == 1


@pytest.mark.parametrize(
    "text",
    [
        '[history]\nrolls = "well"\n[[history.complaint]]\nsymptom = "wheels.stuck"\n',
        '[history]\nrolls = "well"\n[[history.complaint]]\nsymptom = "wheels.wobbles"\n',
        '[history]\nrolls = "not at all"\nused = "weekly"\n',
        '[history]\nunused_since = 2011\nused = "weekly"\n',
    ],
)
def test_a_contradiction_is_asked_about_and_not_used(text: str) -> None:
    result = assessed(text)
    assert [w for w in result.warnings if "which is right?" in w or 'is it "with faults"?' in w]
    assert result.told.history.works is None


def test_a_symptom_of_a_plugin_that_is_missing_is_kept() -> None:
    job = toy.job('[[history.complaint]]\nsymptom = "lamps.dark"\n')
    result = assess.assess(job, knowledge=KNOWLEDGE)
    assert result.complaints == ()
    assert any("no installed plugin knows the symptom 'lamps.dark'" in w for w in result.warnings)
    assert job.history.complaint[0].symptom == "lamps.dark"
