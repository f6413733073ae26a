"""An hour in a home: the order of the walk, what it asks, and how it ends."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from seen import FILES, assessed

import assess
from assess.assessment import Assessment
from assess.cli.interview import Interview
from assess.grading.judgements import Judgement, State
from assess.inspection import complaints
from assess.inspection.question_places import (
    ANSWERING_MIN,
    is_danger,
    places_to,
    seen_at_visit,
    seen_from,
)
from assess.inspection.visit_stops import BEFORE_OPENING, USED, VisitMeans, stop_of_criterion
from assess.inspection.visit_walk import Walk
from assess.job.configuration import Configuration
from assess.job.workshop_profile import load_workshop
from assess.knowledge.criteria import Criterion
from assess.testing import job_with
from assess.visit.session import Saved, VisitSession

KNOWLEDGE = assess.knowledge_in_use()
HOUR = 60.0
HOLD = {"pneumatics.whole_hold", "pneumatics.whole_fall"}
SILENT = {"action.dead_keys", "reeds.dead_reeds"}
BUILDS: dict[str, dict[str, bool | str]] = {
    "blank": {},
    "pressure": {"wind": "pressure"},
    "folding": {"folds_up": True, "case_build": "folding"},
    "two manuals": {"second_manual": True},
}


@cache
def unanswered(stem: str) -> Assessment:
    """A fixture or case before anything was seen: what is told, and how it is built."""
    job = assess.load(FILES[stem])
    return assess.assess(job.model_copy(update={"answers": {}, "surveys": {}, "text": ""}))


@cache
def built(build: str) -> Assessment:
    """An instrument of some build of which nothing has been seen."""
    return assess.assess(job_with(features=BUILDS[build]))


def walk_of(result: Assessment, minutes: float | None = HOUR, everything: bool = False) -> Walk:
    return result.walk(VisitMeans(minutes=minutes, everything=everything))


EVERY_WALK = [(stem, minutes) for stem in FILES for minutes in (HOUR, None)]


# The order


@pytest.mark.parametrize(("stem", "minutes"), EVERY_WALK)
def test_each_place_is_opened_once_and_outermost_first(stem: str, minutes: float | None) -> None:
    result = unanswered(stem)
    walk = walk_of(result, minutes)
    opens = [place for stop in walk.stops for place in stop.opens]
    assert len(opens) == len(set(opens))
    assert len({stop.id for stop in walk.stops}) == len(walk.stops)
    opened: set[str] = set()
    for stop in walk.stops:
        opened.update(stop.opens)
        for question in stop.questions:
            ways = places_to(
                result.knowledge.criteria[question], result.knowledge, result.configuration
            )
            assert set(ways) <= opened
    assert opens or "folding" in stem


@pytest.mark.parametrize("stem", FILES)
def test_dangers_are_asked_about_before_anything_is_touched(stem: str) -> None:
    result = unanswered(stem)
    walk = walk_of(result)
    dangers = {j.id for j in result.graded.judgements.values() if is_danger(j) and j.is_unseen}
    asked = [stop for stop in walk.stops if set(stop.questions) & dangers]
    assert [stop.id for stop in asked] == ["dangers"]
    assert [stop.id for stop in walk.stops].index("dangers") <= 1
    must = {c for c in dangers if result.graded.judgements[c].criterion.openings == ()}
    assert len(must) >= 5
    assert must <= set(walk.questions)


@pytest.mark.parametrize("stem", FILES)
def test_hold_test_and_silent_notes_come_before_any_place_is_opened(stem: str) -> None:
    result = unanswered(stem)
    walk = walk_of(result, None)
    before = {q for stop in walk.stops if stop.id in BEFORE_OPENING for q in stop.questions}
    there = [
        result.graded.judgements[c]
        for c in HOLD | SILENT
        if result.graded.judgements[c].state is State.NO_ANSWER
    ]
    assert len(there) == 3  # a hold test is for suction, or for pressure
    assert {j.id for j in there} <= before


@pytest.mark.parametrize("build", BUILDS)
def test_the_hold_test_and_silent_notes_come_within_twenty_minutes(build: str) -> None:
    times = minutes_until(walk_of(built(build)), built(build))
    assert min(times[c] for c in HOLD if c in times) < 20
    assert min(times[c] for c in SILENT if c in times) < 20


def minutes_until(walk: Walk, result: Assessment) -> dict[str, float]:
    """Question -> minutes of the visit until it is answered."""
    spent, found = 0.0, {}
    for stop in walk.stops:
        spent += sum(result.knowledge.places[place].minutes for place in stop.opens)
        for question in stop.questions:
            spent += result.knowledge.criteria[question].minutes + ANSWERING_MIN
            found[question] = spent
    return found


COMPLAINED = [stem for stem in FILES if assess.load(FILES[stem]).history.complaint]


@pytest.mark.parametrize("stem", COMPLAINED)
def test_the_tests_of_a_complaint_come_first_at_their_stop(stem: str) -> None:
    result = unanswered(stem)
    tests = set(complaints.tests_first(result.complaints))
    walk = walk_of(result)
    for stop in walk.stops:
        here = [n for n, question in enumerate(stop.questions) if question in tests]
        earlier = stop.questions[: here[-1] + 1] if here else ()
        needed = {c for q in earlier for c in result.knowledge.criteria[q].after}
        assert set(earlier) <= tests | needed
    at_home = {
        t for t in tests
        if seen_at_visit(result.graded.judgements[t], result.knowledge, result.configuration)
    }  # fmt: skip
    left_for_tools = {q for waiting in walk.no_tool.values() for q in waiting}
    assert at_home - left_for_tools <= set(walk.questions)


def test_most_complaints_have_tests_that_a_home_allows() -> None:
    assert len(COMPLAINED) >= 4
    assert all(complaints.tests_first(unanswered(stem).complaints) for stem in COMPLAINED)


@pytest.mark.parametrize("stem", FILES)
def test_a_reading_comes_before_the_questions_that_need_it(stem: str) -> None:
    result = unanswered(stem)
    walk = walk_of(result)
    at = {question: n for n, question in enumerate(walk.questions)}
    pairs = [(b, q) for q in at for b in result.knowledge.criteria[q].after]
    assert pairs
    for before, question in pairs:
        state = unanswered(stem).graded.judgements[before].state
        assert state is not State.NO_ANSWER or at[before] < at[question]


# What is asked


@pytest.mark.parametrize("build", BUILDS)
def test_the_core_of_a_visit_is_under_seventy_questions_and_fits_the_hour(build: str) -> None:
    walk = walk_of(built(build))
    assert 30 < len(walk.questions) < 70
    assert walk.minutes <= HOUR


def asked_of(build: str) -> set[str]:
    return set(walk_of(built(build), None).questions)


def test_a_pressure_instrument_is_asked_nothing_of_suction() -> None:
    pressure, blank = asked_of("pressure"), asked_of("blank")
    suction_only = {"pneumatics.whole_hold", "pneumatics.mutes_hold", "pneumatics.exhauster_cloth"}
    assert suction_only <= blank
    assert not suction_only & pressure
    assert {"pneumatics.whole_fall", "pneumatics.feeder_covers"} <= pressure - blank


def test_a_folding_instrument_is_asked_about_its_linkage_and_no_panel_that_it_lacks() -> None:
    folding, blank = asked_of("folding"), asked_of("blank")
    assert "pneumatics.folding_linkage" in folding - blank
    assert {"casework.back_panel_state", "casework.lost_top"} <= blank - folding
    panels = {"casework.back_panel", "casework.lower_front", "casework.high_top"}
    walk = walk_of(built("folding"), None, everything=True)
    assert not panels & {place for stop in walk.stops for place in stop.opens}


@pytest.mark.parametrize("everything", [False, True])
def test_what_needs_the_workshop_is_asked_only_on_request(everything: bool) -> None:
    result = built("blank")
    at_home = [
        seen_at_visit(result.graded.judgements[c], result.knowledge, result.configuration)
        for c in walk_of(result, None, everything).questions
    ]
    assert at_home
    assert all(at_home) is not everything


@pytest.mark.parametrize(
    "criterion",
    ["pneumatics.bass_only", "pneumatics.hand_pump", "action.percussion_action",
     "action.prolongement_action"],
)  # fmt: skip
def test_what_is_tried_by_playing_or_pumping_is_asked_while_it_is_played(criterion: str) -> None:
    assert stop_of_criterion(KNOWLEDGE.criteria[criterion], KNOWLEDGE) == USED


@pytest.mark.parametrize(
    ("before", "question"),
    [
        ("pneumatics.first_pump", "pneumatics.whole_hold"),
        ("pneumatics.first_pump", "pneumatics.whole_fall"),
        ("pneumatics.whole_hold", "pneumatics.mutes_hold"),
        ("action.dead_keys", "reeds.dead_reeds"),
        ("reeds.dead_reeds", "reeds.off_pitch_reeds"),
        ("reeds.sample_corrosion", "reeds.mixed_sets"),
    ],
)
def test_what_one_reading_needs_of_another_is_declared(before: str, question: str) -> None:
    assert before in KNOWLEDGE.criteria[question].after


# A whole visit, with a clock


@dataclass
class Timed(VisitSession):
    """A visit in which each look takes the minutes that are declared for it."""

    passed_min: list[float] = field(default_factory=lambda: [0.0])
    when: dict[str, float] = field(default_factory=dict)
    gone_to: list[str] = field(default_factory=list)
    opens: list[str] = field(default_factory=list)
    next_up: str = ""

    def walk(self, result: Assessment) -> Walk:
        walk = super().walk(result)
        self.next_up = walk.questions[0] if walk.questions else ""
        return walk

    def save(self, result: Assessment, criterion: Criterion, words: str, note: str = "") -> Saved:
        stop = super().walk(result).stops[0]
        assert criterion.id in stop.questions
        if self.gone_to[-1:] != [stop.id]:
            self.gone_to.append(stop.id)
            self.opens += stop.opens
            self.passed_min[0] += sum(result.knowledge.places[p].minutes for p in stop.opens)
        self.passed_min[0] += criterion.minutes + ANSWERING_MIN
        self.when[criterion.id] = self.passed_min[0]
        return super().save(result, criterion, words, note)


@dataclass
class Script:
    """Answers typed in, truthfully; a person's note of what was heard."""

    truth: Assessment
    visit: Timed
    heard: list[str] = field(default_factory=list)

    def ask(self, _: str) -> str:
        judgement = self.truth.graded.judgements[self.visit.next_up]
        return typed(judgement, self.truth)


def typed(judgement: Judgement, truth: Assessment) -> str:
    """What is true of a criterion, as typed; where the file says nothing, all is well."""
    criterion = judgement.criterion
    if judgement.is_seen and judgement.value is not None:
        number = judgement.value
    elif criterion.measured:
        best = next(n for n, o in enumerate(criterion.outcomes) if o.condition == 0)
        number = min(truth.plan_arrays.counts[judgement.id][best], criterion.possible[1])
    else:
        return judgement.best.label
    return f"{number:.0f}" if criterion.unit == "count" else f"{number:.4g} {criterion.unit}"


def hour_with(stem: str, tmp_path: Path) -> Script:
    """An hour with a fixture of which nothing has been seen yet."""
    path = tmp_path / "job.toml"
    text = FILES[stem].read_text().partition("[answers")[0].partition("[surveys")[0]
    path.write_text(text)
    passed = [0.0]
    visit = Timed(
        path, KNOWLEDGE, load_workshop(), HOUR, clock=lambda: 60 * passed[0], passed_min=passed
    )
    script = Script(assessed(stem), visit)
    Interview(visit, script.ask, script.heard.append).run()
    return script


@pytest.mark.parametrize("stem", ["heated_house", "one_strap", "pressure_harmonium"])
def test_an_hour_ends_in_time_with_a_summary(stem: str, tmp_path: Path) -> None:
    script = hour_with(stem, tmp_path)
    visit, said = script.visit, "\n".join(script.heard)
    assert 50 < visit.spent_min <= 65
    assert 30 < len(visit.when) < 70
    last = script.heard[-1]
    assert "State\n" in last
    assert "Recommendation\n" in last
    assert "No time for" in last
    assert said.count("Recommendation\n") == 1
    assert len(visit.opens) == len(set(visit.opens))
    told = [stop for stop, after in pairwise(visit.gone_to) if stop != after]
    assert len(told) <= 10
    assert min(visit.when[c] for c in HOLD if c in visit.when) < 20
    assert {a for table in assess.load(visit.path).answers.values() for a in table} == {
        c.partition(".")[2] for c in visit.when
    }
    _told_first(visit)


def _told_first(visit: Timed) -> None:
    """What needs no opening was asked before the first place was opened."""
    first_place = next(n for n, stop in enumerate(visit.gone_to) if stop not in BEFORE_OPENING)
    assert [s for s in BEFORE_OPENING if s in visit.gone_to[:first_place]] == visit.gone_to[
        :first_place
    ]
    assert USED in visit.gone_to[:first_place]


# What must be open to see something

GAUGE_READINGS = (
    "pneumatics.suction_half",
    "pneumatics.suction_spread",
    "pneumatics.pressure_half",
    "pneumatics.peak_reading",
    "pneumatics.sag",
    "action.tremulant_start",
)
FRONT_AND_REAR = (
    "action.warped_mutes",
    "action.mute_leather",
    "reeds.missing_reeds",
    "reeds.missing_with_donor",
    "reeds.sample_corrosion",
)


def configured(**features: bool | str) -> Configuration:
    """How an organ with these features is built."""
    return assess.assess(job_with(features=features)).configuration


@pytest.mark.parametrize("criterion", GAUGE_READINGS)
def test_the_gauge_is_read_with_the_back_off(criterion: str) -> None:
    """The gauge sits in the cell of a drawn reed, and the reservoir is seen from behind."""
    found = KNOWLEDGE.criteria[criterion]
    assert places_to(found, KNOWLEDGE, configured()) == ("casework.back_panel",)
    how = found.how.lower()
    assert "cell of a drawn" in how or "channel" in how or "draw one rear" in how


@pytest.mark.parametrize("criterion", FRONT_AND_REAR)
def test_what_is_seen_in_front_and_behind_needs_both_open(criterion: str) -> None:
    found = KNOWLEDGE.criteria[criterion]
    places = places_to(found, KNOWLEDGE, configured())
    assert places == ("action.key_slip", "casework.back_panel")
    assert seen_from(found, KNOWLEDGE, configured()) == "Key slip, Back panel"


def test_the_pan_of_either_wind_is_seen_in_the_workshop_only() -> None:
    """Suction reeds are drawn from their cells; pressure reeds are screwed beneath the pan."""
    cracks = KNOWLEDGE.criteria["reeds.pan_cracks"]
    drawn = places_to(cracks, KNOWLEDGE, configured(wind="suction"))
    screwed = places_to(cracks, KNOWLEDGE, configured(wind="pressure"))
    assert drawn == ("action.key_slip", "reeds.cells")
    assert screwed[-1] == "reeds.screwed_pan"
    assert "action.upper_action" in screwed
    assert "reeds.cells" not in screwed
    assert seen_from(cracks, KNOWLEDGE, configured(wind="pressure")) == "Reed pan, opened"
    for way in (drawn, screwed):
        assert not all(KNOWLEDGE.places[place].at_visit for place in way)
