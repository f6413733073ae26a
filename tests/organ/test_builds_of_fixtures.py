"""The fixtures of less usual builds: what their plans and verdicts must hold, unit by unit."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from conftest import job_of
from hypothesis import given
from hypothesis import strategies as st
from references import reference
from seen import FIXTURES, assessed, in_order, numbers

import assess
from assess.knowledge.model_base import Scope
from assess.knowledge.steps import Step
from assess.planning.plan import Plan

BUILDS: dict[str, Scope] = {
    "hung_bellows": "full",
    "upper_unit": "working",
    "two_manuals_and_pedal": "full",
    "motor_blown": "working",
    "folding_travel": "working",
    "double_expression": "full",
    "spilt_drink": "working",
    "weekly_use": "working",
}
"""Fixture -> the scope that its owner asks for."""
ORDER = {
    "hung_bellows": [
        "open action.upper_action",
        "pneumatics.support_hung_block",
        "open pneumatics.lower_action",
        "pneumatics.recover_reservoir",
        "pneumatics.reservoir_alone",
        "pneumatics.recover_exhausters",
        "pneumatics.exhausters_alone",
        "pneumatics.renew_hung_gasket",
        "pneumatics.lower_action_complete",
        "close pneumatics.lower_action",
    ],
    "upper_unit": [
        "action.trace_silent_run-upper",
        "reeds.clear_single_reeds-upper",
        "action.stops_clear",
        "casework.acceptance",
    ],
    "two_manuals_and_pedal": [
        "open action.upper_action-second",
        "open action.upper_action",
        "open pneumatics.lower_action",
        "pneumatics.lower_action_complete",
        "close pneumatics.lower_action",
        "pneumatics.renew_foundation_gasket",
        "pneumatics.gasket_joint",
        "close action.upper_action",
        "pneumatics.renew_foundation_gasket-second",
        "pneumatics.gasket_joint-second",
        "pneumatics.upper_action_tight-second",
        "close action.upper_action-second",
        "pneumatics.whole_instrument_tight",
    ],
    "motor_blown": [
        "pneumatics.unit_unplugged",
        "pneumatics.isolate_suction_unit",
        "pneumatics.reconnect_suction_unit",
        "pneumatics.unit_draws",
        "pneumatics.whole_instrument_tight",
        "pneumatics.regulate_suction_unit",
        "pneumatics.unit_gives_wind",
    ],
    "folding_travel": [
        "pneumatics.trace_leaks",
        "pneumatics.repair_folding_linkage",
        "pneumatics.whole_instrument_tight",
        "casework.acceptance",
    ],
    "double_expression": [
        "open pneumatics.reservoir_interior",
        "pneumatics.releather_reservoir",
        "pneumatics.pressure_reservoir_alone",
        "close pneumatics.lower_action",
        "pneumatics.pressure_whole_tight",
        "pneumatics.halves_follow",
        "reeds.rank_tuned",
    ],
    "spilt_drink": [
        "action.free_after_liquid",
        "open action.stickers",
        "open action.pallets",
        "action.free_stuck_pallets",
        "action.pallets_seat",
        "close action.pallets",
        "close action.stickers",
        "action.stickers_free",
        "close action.keyboard",
    ],
    "weekly_use": [
        "open action.key_slip",
        "reeds.clear_single_reeds",
        "close action.key_slip",
        "casework.acceptance",
    ],
}
"""Fixture -> steps that its plan must have, in this order."""
ABSENT = {
    "hung_bellows": "sub-bass|celeste|suction unit|pedalboard|feeder|unit\\b",
    "upper_unit": "sub-bass|suction unit|pedalboard|second manual|feeder",
    "two_manuals_and_pedal": "sub-bass|tremulant|celeste|suction unit|feeder",
    "motor_blown": "strap|tremulant|celeste|sub-bass|pedalboard|feeder",
    "folding_travel": "knee|back panel|stop board|stop rod|mute|coupler|tremulant|fretwork"
    "|high top|swell|feeder",
    "double_expression": "exhauster|coupler|tremulant|sub-bass|cloth of the|reservoir cloth",
    "spilt_drink": "sub-bass|celeste|suction unit|feeder|bellows",
    "weekly_use": "tremulant|fretwork|suction unit|feeder|bellows",
}
"""Fixture -> what no title of its plan may name, since it is not there or not touched."""
PACKAGES = {
    "hung_bellows": "full_restoration",
    "upper_unit": "playable_repair",
    "motor_blown": "playable_repair",
    "folding_travel": "playable_repair",
    "double_expression": "full_restoration",
    "spilt_drink": "playable_repair",
    "weekly_use": "home_tidy",
}
"""Fixture -> the package of work that its plan is; none is declared for three units."""
SEARCHES = ("action.trace_silent_run", "action.trace_adjacent_ciphers", "action.trace_dead_keys")
UNITS = st.lists(st.sampled_from(["on the one before", "apart"]), min_size=1, max_size=3)
FOUND = {
    "reeds": {
        "pan_cracks": "2",
        "dead_reeds": "40",
        "off_pitch_reeds": "100",
        "partitions": "3",
    },
    "action": {
        "ciphering_notes": "4",
        "pallet_facing": '"hard or deeply grooved"',
        "mute_leather": '"hard or grooved"',
        "guide_pins": '"corroded or bent"',
    },
    "pneumatics": {
        "foundation_gasket": '"torn, pieces missing, or glue instead"',
        "chest_seams": '"seam open"',
        "chest_whole": '"a joint loose"',
    },
}
"""Findings of one unit that call for work at each of its places."""


def plan_of(stem: str) -> Plan:
    """The plan of a fixture for what its owner asks for."""
    return assessed(stem).plans[BUILDS[stem]]


def assert_nested(result: assess.Assessment, plan: Plan) -> None:
    """Every place is opened once and closed once, within those that it is in."""
    places, at = result.knowledge.places, numbers(plan)
    for place in places.values():
        opened, closed = str(Step.opening(place.id)), str(Step.closing(place.id))
        assert (opened in at) == (closed in at), place.id
        outer = place.inside
        while opened in at and outer is not None:
            around = str(Step.opening(outer)), str(Step.closing(outer))
            if around[0] in at:
                assert at[around[0]] < at[opened] < at[closed] < at[around[1]], (outer, place.id)
            outer = places[outer].inside


def assert_proved_while_open(result: assess.Assessment, plan: Plan) -> None:
    """Work lies while its places are open, and its proof before what closes them in."""
    knowledge, at = result.knowledge, numbers(plan)
    for step in (*knowledge.repairs.values(), *knowledge.hold_points.values()):
        for place in step.places if step.id in at else ():
            if str(Step.opening(place)) in at:
                assert at[f"open {place}"] < at[step.id] < at[f"close {place}"], (step.id, place)
    for hold in knowledge.hold_points.values():
        proved = [step for step in hold.proves if step in at]
        if proved and result.configuration.admits(hold.needs, hold.excludes):
            assert hold.id in at, (hold.id, proved)
            assert max(at[step] for step in proved) < at[hold.id], (hold.id, proved)
            closing = [link.step for link in hold.before if link.step in at]
            assert all(at[hold.id] < at[step] for step in closing), hold.id


def assert_bottom_to_top(result: assess.Assessment, plan: Plan) -> None:
    """Of units that stand on each other, each is proved and back before the next goes on."""
    at = numbers(plan)
    names = ["", *(f"-{unit.id}" for unit in result.knowledge.further_units if unit.on)]
    for below, above in pairwise(names):
        closing = at.get(f"close action.upper_action{above}")
        if closing is None:
            assert f"open action.upper_action{below}" not in at
            continue
        if f"open action.upper_action{below}" in at:
            assert in_order(
                plan,
                f"open action.upper_action{above}",
                f"open action.upper_action{below}",
                f"close action.upper_action{below}",
                f"pneumatics.renew_foundation_gasket{above}",
                f"pneumatics.gasket_joint{above}",
                f"close action.upper_action{above}",
            )
        for hold in result.knowledge.hold_points.values():
            if hold.before_next and hold.id + above in result.knowledge.hold_points:
                assert at.get(hold.id + below, 0) < closing, (hold.id, below)


@pytest.mark.parametrize("stem", BUILDS)
def test_a_fixture_loads_without_a_question_and_its_verdict_is_quick_to_say(stem: str) -> None:
    result = assessed(stem)
    assert result.warnings == ()
    if result.job.owner.ceiling is None:
        assert result.verdict.name != "look_further"


def test_some_fixtures_have_no_limit() -> None:
    assert sum(assessed(stem).job.owner.ceiling is None for stem in BUILDS) >= 2


@pytest.mark.parametrize("stem", BUILDS)
def test_the_owner_gets_what_can_be_had_for_the_limit(stem: str) -> None:
    assert assessed(stem).verdict.name == BUILDS[stem]


@pytest.mark.parametrize("stem", ORDER)
def test_the_steps_of_a_build_come_in_order(stem: str) -> None:
    at = numbers(plan_of(stem))
    assert [step for step in ORDER[stem] if step not in at] == []
    assert in_order(plan_of(stem), *ORDER[stem])


@pytest.mark.parametrize("stem", ABSENT)
def test_no_step_names_what_is_not_there(stem: str) -> None:
    titles = [step.title.casefold() for step in plan_of(stem).steps]
    assert [title for title in titles if re.search(ABSENT[stem], title)] == []


@pytest.mark.parametrize("stem", PACKAGES)
def test_the_hours_lie_in_the_package_of_the_trade(stem: str) -> None:
    package = next(p for p in reference("work_packages")["package"] if p["id"] == PACKAGES[stem])
    cost = plan_of(stem).cost
    assert package["low"] <= cost.hours.mean <= package["high"]


@pytest.mark.parametrize("stem", FIXTURES)
def test_whatever_is_opened_is_closed_again_within_what_it_is_in(stem: str) -> None:
    result = assessed(stem)
    assert result.plans
    for plan in result.plans.values():
        assert_nested(result, plan)
        assert_proved_while_open(result, plan)
        assert_bottom_to_top(result, plan)


@given(
    units=UNITS,
    found=st.sets(
        st.tuples(
            st.integers(0, 3),
            st.sampled_from([(s, c) for s, criteria in FOUND.items() for c in criteria]),
        ),
        max_size=6,
    ),
)
def test_units_are_stripped_proved_and_put_back_one_by_one(
    units: list[str], found: set[tuple[int, tuple[str, str]]]
) -> None:
    names = ["", *(f"-u{n}" for n in range(len(units)))]
    text = "format = 1\n" + "".join(
        f'[[instrument.unit]]\nid = "u{n}"\nstands = "{stands}"\n' for n, stands in enumerate(units)
    )
    for subsystem, criteria in FOUND.items():
        text += f"[answers.{subsystem}]\n"
        for unit, (own, criterion) in sorted(found):
            if own == subsystem and unit < len(names):
                text += f"{criterion}{names[unit]} = {criteria[criterion]}\n"
    result = assess.assess(job_of(text))
    assert result.plans
    for plan in result.plans.values():
        assert_nested(result, plan)
        assert_proved_while_open(result, plan)
        assert_bottom_to_top(result, plan)


def test_a_liquid_that_is_known_is_not_searched_for() -> None:
    steps = numbers(plan_of("spilt_drink"))
    assert [step for step in SEARCHES if step in steps] == []


def test_lint_in_a_sample_has_only_the_silent_reeds_drawn_for_working_order() -> None:
    working = numbers(assessed("hung_bellows").plans["working"])
    assert "reeds.clear_single_reeds" in working
    assert "open reeds.cells" not in working
    assert "reeds.clean_reeds" in numbers(assessed("hung_bellows").plans["full"])


def test_nobody_is_asked_what_one_rank_without_stops_cannot_show() -> None:
    judgements = assessed("folding_travel").graded.judgements
    names = ("reeds.ranks_agree", "reeds.ranks_off", "reeds.off_rank", "pneumatics.mutes_hold")
    assert [name for name in names if judgements[name].counts] == []


def test_each_unit_has_the_reeds_of_its_own_lines_of_the_survey() -> None:
    result = assessed("two_manuals_and_pedal")
    sheets = [name for name in result.sheets if name.startswith("reeds.tuning_sheet")]
    assert sorted(sheets) == [f"reeds.tuning_sheet{unit}" for unit in ("", "-pedal", "-second")]
    assert all(result.sheets[name].rows for name in sheets)
