"""Work done so far, on the hand cart: what is recorded stays done, and the rest is left."""

from __future__ import annotations

import datetime as dt
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
import toy
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from assess.assessment import Assessment, assess
from assess.base.errors import JobFileError, UserError
from assess.base.text_files import edit_text
from assess.cli.commands import main
from assess.job.job_edits import dumps, with_done, without_done
from assess.job.job_file import DoneRecord
from assess.job.job_reading import load, parse
from assess.knowledge.knowledge_base import Knowledge
from assess.output.calendars import calendar_text
from assess.output.plans import plan_text
from assess.pages.card import CardChoice, bench_card, card_page
from assess.planning.cost_estimate import job_hours
from assess.planning.pass_marks import value_to_reach
from assess.planning.plan import Plan, StepState
from assess.planning.step_names import find_stage, find_step, steps_meant

CART = toy.knowledge()
TESTED = toy.knowledge(
    toy.altered(toy.WHEELS, "hold_point", "runs_true", if_fails="Take it apart again."), toy.BOX
)
WORN = '[answers.wheels]\nplay = 7\nbroken_spokes = 3\n[answers.box]\ncrack = "one"\n'


def record(step: str, more: str = "") -> str:
    return f'[[done]]\nstep = "{step}"\n{more}'


def assessed(text: str, knowledge: Knowledge = CART) -> Assessment:
    return assess(toy.job(text), knowledge=knowledge)


def full(text: str, knowledge: Knowledge = CART) -> Plan:
    return assessed(text, knowledge).plans["full"]


def states(plan: Plan) -> dict[str, StepState]:
    return {s.step: s.state for s in plan.steps}


EVERY = [s.step for s in full(WORN).steps]


def test_without_records_everything_is_left_and_nothing_is_said_of_progress() -> None:
    result = assessed(WORN)
    plan = result.plans["full"]
    assert plan.left == plan.steps
    assert plan.hours_left == plan.hours
    assert not plan.begun
    assert "Done" not in plan_text(result, plan)


@given(st.sets(st.sampled_from(EVERY)))
def test_the_hours_left_are_the_hours_of_the_steps_that_are_not_done(done: set[str]) -> None:
    plan = full(WORN + "".join(map(record, sorted(done))))
    left = {s.step: s.hours for s in plan.steps if s.step not in done}
    assert [s.step for s in plan.left] == list(left)
    assert plan.hours_left == job_hours(left.values(), plan.workshop)
    assert plan.hours == full(WORN).hours


@given(st.sets(st.sampled_from(EVERY)))
def test_work_goes_on_after_what_is_done_wherever_something_is_left_there(done: set[str]) -> None:
    plan = full(WORN + "".join(map(record, sorted(done))))
    late = {s.step for s in plan.left if s.before_done}
    passed = late & {"box.photograph", "box.fetch"}
    step = plan.next_step
    if done == set(EVERY):
        assert step is None
    else:
        assert step is not None
        in_turn = [s.step for s in plan.left if s.step not in passed]
        assert step.step == (in_turn or [s.step for s in plan.left])[0]
    after = assessed(WORN).planner.work_order.among(EVERY)
    assert late == {s for s in EVERY if s not in done and after[s] & done}


def test_done_steps_stay_done_after_new_findings() -> None:
    before = "[answers.wheels]\nplay = 2\n"
    done = record("box.photograph") + record("open wheels.axle") + record("wheels.grease_hub")
    assert states(full(before + done))["wheels.grease_hub"] is StepState.DONE
    after = states(full(WORN + done))
    assert len(after) > len(full(before).steps)
    assert {s for s, state in after.items() if state is StepState.DONE} == {
        "box.photograph",
        "open wheels.axle",
        "wheels.grease_hub",
    }


def test_a_step_newly_called_for_before_a_done_one_is_noted_and_the_plan_does_not_restart() -> None:
    done = "".join(map(record, ["open wheels.axle", "wheels.grease_hub", "close wheels.axle"]))
    result = assessed(WORN + done)
    plan = result.plans["full"]
    spokes, closing = plan.step("wheels.new_spokes"), plan.step("close wheels.axle")
    assert spokes is not None
    assert closing is not None
    assert spokes.before_done == closing.number
    shown = " ".join(plan_text(result, plan).split())
    assert f"Comes before step {closing.number}, which is done" in shown
    following = plan.next_step
    assert following is not None
    assert following.step == "box.glue_crack"
    assert states(plan)["box.photograph"] is StepState.OPEN


def test_a_step_left_out_names_the_first_of_the_done_steps_that_come_after_it() -> None:
    plan = full(WORN + record("close wheels.axle") + record("wheels.runs_true"))
    spokes, proof = plan.step("wheels.new_spokes"), plan.step("wheels.runs_true")
    assert spokes is not None
    assert proof is not None
    assert spokes.before_done == proof.number
    assert proof.before_done == 0


def test_after_it_was_fetched_the_rest_is_done_at_the_bench() -> None:
    box = toy.altered(toy.BOX, "repair", "fetch", moves="to_workshop")
    knowledge = toy.knowledge(toy.WHEELS, toy.altered(box, "repair", "hand_over", moves="back"))

    def sites(*done: str) -> dict[str, str]:
        result = assessed(WORN + "".join(map(record, done)), knowledge)
        tasks = result.planner.timing(result.plans["full"]).tasks
        return {step: task.site for step, task in tasks.items()}

    before, fetched = sites("box.photograph"), sites("box.photograph", "box.fetch")
    assert sites()["box.photograph"] == "home"
    assert before["box.fetch"] == before["box.hand_over"] == "home"
    assert fetched.pop("box.hand_over") == "home"
    assert set(fetched.values()) == {"bench"}


def test_work_that_no_plan_calls_for_any_more_is_not_forgotten() -> None:
    result = assessed('[answers.box]\ncrack = "rotten"\n' + record("wheels.bind_spokes"))
    plan = result.plans["full"]
    assert plan.done_besides == ("wheels.bind_spokes",)
    assert "Done besides this plan: Bind the spokes." in " ".join(plan_text(result, plan).split())


@pytest.mark.parametrize(
    ("reading", "state"),
    [
        ("0.5 mm", StepState.DONE),
        ("3 mm", StepState.FAILED),
        ("0.3 cm", StepState.FAILED),
        ("0.01 in", StepState.DONE),
        ("spins well", StepState.DONE),
    ],
)
def test_a_reading_decides_whether_a_test_is_passed(reading: str, state: StepState) -> None:
    plan = full(WORN + record("wheels.runs_true", f'reading = "{reading}"\n'))
    assert states(plan)["wheels.runs_true"] is state


def test_a_failed_test_stays_open_and_says_what_to_do() -> None:
    failed = record("wheels.runs_true", 'date = 2027-03-02\nreading = "3 mm"\n')
    result = assessed(WORN + record("wheels.new_spokes") + failed, TESTED)
    plan = result.plans["full"]
    step = plan.next_step
    assert step is not None
    assert (step.step, step.state) == ("wheels.runs_true", StepState.FAILED)
    assert "It failed (3 mm, 2 March 2027): Take it apart again." in " ".join(
        plan_text(result, plan).split()
    )
    assert states(plan)["wheels.new_spokes"] is StepState.DONE


def test_the_last_record_of_a_step_counts() -> None:
    failed, passed = "failed = true\n", 'reading = "0.5 mm"\n'
    hold = "wheels.runs_true"
    assert states(full(WORN + record(hold, failed) + record(hold, passed)))[hold] is StepState.DONE
    assert (
        states(full(WORN + record(hold, passed) + record(hold, failed)))[hold] is StepState.FAILED
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (record("wheels.grease_hob"), "cart.toml:3: done: no such step 'wheels.grease_hob'; did"),
        (record("open wheels.axel"), 'did you mean "open wheels.axle"'),
        (record("photograph"), "no such step"),
        (record("wheels.grease_hub", "failed = true\n"), "only a hold point can fail"),
        (record("wheels.grease_hub", "readings = 3\n"), 'unknown key; did you mean "reading"?'),
        (record("wheels.grease_hub", 'date = "soon"\n'), "date"),
        ("[[done]]\nreading = 3\n", "is missing"),
    ],
)
def test_records_that_cannot_be_are_refused_with_their_place(text: str, said: str) -> None:
    with pytest.raises(JobFileError) as error:
        assessed("title = 'x'\n" + text)
    assert said in str(error.value)


def test_a_wrong_record_is_named_by_its_own_line() -> None:
    with pytest.raises(JobFileError, match=r"cart\.toml:5: done"):
        assessed(record("box.photograph") + "\n" + record("box.photogaph"))


def test_records_of_a_subsystem_that_is_not_installed_are_kept() -> None:
    result = assess(toy.job(WORN + record("sail.mend")), knowledge=CART)
    assert any("'sail.mend'" in line and "kept" in line for line in result.warnings)
    assert "sail.mend" in dumps(result.job)


def test_records_are_written_beside_what_a_person_wrote() -> None:
    text = "format = 1 # mine\n[owner]\nkeeps = true # yes\n"
    records = [DoneRecord(step="open wheels.axle"), DoneRecord(step="wheels.runs_true", reading=3)]
    written = with_done(text, records)
    assert written.startswith(text)
    assert parse(written).done == tuple(records)
    assert parse(dumps(parse(written))).done == tuple(records)
    without = without_done(without_done(written, ["open wheels.axle"]), ["wheels.runs_true"])
    assert parse(without) == parse(text).model_copy(update={"text": without})


def test_two_who_record_at_the_same_time_both_succeed(tmp_path: Path) -> None:
    job = tmp_path / "cart.toml"
    job.write_text("format = 1\n")
    steps = [f"wheels.s{n}" for n in range(8)]

    def put(step: str) -> str:
        return edit_text(job, lambda text: with_done(text, [DoneRecord(step=step)]))

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(put, steps))
    assert sorted(r.step for r in load(job).done) == steps


def test_a_calendar_has_only_what_is_left() -> None:
    result = assessed(WORN + "".join(map(record, EVERY[:5])))
    plan = result.plans["full"]
    calendar = result.planner.calendar(plan, dt.date(2027, 1, 11))
    assert sorted(b.step for b in calendar.bookings) == sorted(EVERY[5:])
    whole = assessed(WORN)
    before = whole.planner.calendar(whole.plans["full"], dt.date(2027, 1, 11))
    assert calendar.finish <= before.finish
    assert sum((b.end - b.start for b in calendar.bookings), dt.timedelta()) < sum(
        (b.end - b.start for b in before.bookings), dt.timedelta()
    )


def test_a_calendar_of_finished_work_says_so() -> None:
    result = assessed(WORN + "".join(map(record, EVERY)))
    plan = result.plans["full"]
    calendar = result.planner.calendar(plan, dt.date(2027, 1, 11))
    finish = result.planner.finish(plan, calendar)
    chain = result.planner.longest_chain(plan, calendar)
    assert "All 13 steps are done." in calendar_text(result, plan, calendar, finish, chain)
    assert plan.hours_left.mean == 0


@pytest.mark.parametrize(
    ("words", "step"),
    [
        ("4", "open wheels.axle"),
        ("wheels.grease_hub", "wheels.grease_hub"),
        ("grease_hub", "wheels.grease_hub"),
        ("open axle", "open wheels.axle"),
        ("Grease the hub", "wheels.grease_hub"),
        ("  runs TRUE ", "wheels.runs_true"),
    ],
)
def test_a_step_is_found_by_number_id_or_words(words: str, step: str) -> None:
    assert find_step(full(WORN), words).step == step


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("14", "it has steps 1 to 13"),
        ("0", "it has steps 1 to 13"),
        ("bearing", "fits several steps"),
        ("greese_hub", 'did you mean "grease_hub"'),
        ("spoks", 'did you mean "spokes"'),
        ("", "no step"),
    ],
)
def test_a_step_that_is_not_there_gets_a_hint(words: str, said: str) -> None:
    with pytest.raises(UserError) as error:
        find_step(full(WORN), words)
    assert said in str(error.value)


def test_a_plan_without_steps_says_so() -> None:
    with pytest.raises(UserError, match="no step 1 in this plan; it has none"):
        find_step(replace(full(WORN), steps=()), "1")


def test_a_bench_is_found_by_words_and_a_slip_gets_a_hint() -> None:
    assert find_stage(full(WORN), "wheel") == "Wheel bench"
    with pytest.raises(UserError, match='did you mean "Wheel bench"'):
        find_stage(full(WORN), "weel bench")


def test_several_numbers_and_ranges_of_them_are_meant_at_once() -> None:
    plan = full(WORN)
    assert steps_meant(plan, ["3", "1-2", "3"], CART) == [EVERY[2], EVERY[0], EVERY[1]]
    assert steps_meant(plan, ["open", "wheels.axle"], CART) == ["open wheels.axle"]
    with pytest.raises(UserError, match="1 to 13"):
        steps_meant(plan, ["12-14"], CART)


def reach(most: int, criterion: str = "play", facts: str = "") -> str:
    """What the wheel must read when some criterion may be as bad as a class."""
    marked = toy.altered(
        toy.WHEELS,
        "hold_point",
        "runs_true",
        passes={"criterion": criterion, "at_most_class": most},
    )
    knowledge = toy.knowledge(marked, toy.BOX)
    step = full(facts + WORN, knowledge).step("wheels.runs_true")
    assert step is not None
    assert step.to_reach == value_to_reach(
        knowledge.hold_points["wheels.runs_true"],
        "full",
        knowledge,
        assessed(facts + WORN, knowledge).configuration,
    )
    return step.to_reach


def test_ranges_that_touch_are_one_value_to_reach() -> None:
    assert [reach(0), reach(2), reach(3)] == ["under 1 mm", "under 5 mm", "0 mm or more"]


def test_words_to_reach_are_listed() -> None:
    assert [reach(0, "noise"), reach(1, "noise")] == ["silent", "silent; or squeaks"]


def test_a_share_to_reach_is_said_as_a_count() -> None:
    """Under 0.01 and 0.5 of ten spokes, and of a hundred: under 0.1 and 5, under 1 and 50."""
    many = "[instrument.facts]\nspokes = 100\n"
    assert reach(0, "broken_spokes") == "0 of 10"
    assert reach(2, "broken_spokes") == "0 to 4 of 10"
    assert reach(0, "broken_spokes", many) == "0 of 100"
    assert reach(2, "broken_spokes", many) == "0 to 49 of 100"
    assert reach(3, "broken_spokes", many) == "0 or more of 100"


class Bench:
    """The command on a job file."""

    def __init__(self, folder: Path) -> None:
        self.job = folder / "cart.toml"
        self.job.write_text(f"format = 1\n{WORN}", encoding="utf-8")

    def call(self, *arguments: str) -> Result:
        return CliRunner().invoke(main, [arguments[0], str(self.job), *arguments[1:]])

    def done(self, *arguments: str) -> Result:
        return self.call("done", *arguments, "--scope", "full")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_the_command_records_and_says_what_is_next(bench: Bench) -> None:
    shown = bench.done("1-3", "--date", "2027-03-02")
    assert shown.exit_code == 0, shown.output
    assert "Done: 1 Photograph it (2 March 2027)." in shown.output
    assert "Next: 4 Lift the cart off its axle." in " ".join(shown.output.split())
    assert [r.step for r in load(bench.job).done] == EVERY[:3]


def test_the_command_names_earlier_steps_that_are_not_recorded(bench: Bench) -> None:
    shown = bench.done("grease the hub", "--date", "2027-03-02")
    assert "not recorded" in shown.output
    assert "Next: 4 " not in shown.output


def test_a_reading_that_misses_is_recorded_and_the_test_stays_open(bench: Bench) -> None:
    shown = bench.done("runs_true", "--reading", "3 mm")
    assert shown.exit_code == 0
    assert "Still open: 11 The wheel runs true." in shown.output
    assert "none to speak of (under 1 mm)" in " ".join(shown.output.split())
    again = bench.done("runs_true", "--reading", "0.5 mm")
    assert "Done: 11 The wheel runs true (0.5 mm" in again.output


def test_the_last_record_can_be_taken_back(bench: Bench) -> None:
    before = bench.job.read_text()
    bench.done("1")
    assert "Taken out: Photograph it." in bench.done("1", "--undo").output
    assert bench.job.read_text().strip() == before.strip()
    assert bench.done("1", "--undo").exit_code == 2


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["99"], "it has steps 1 to 13"),
        (["greese the hub"], "did you mean"),
        (["1", "--failed"], "no hold point"),
        (["1-2", "--reading", "3 mm"], "belongs to one step"),
        (["runs_true", "--reading", "wide"], "expected a number in mm"),
        (["runs_true", "--reading", "not seen"], "--reading"),
    ],
)
def test_what_cannot_be_recorded_is_refused_and_nothing_is_written(
    bench: Bench, arguments: list[str], said: str
) -> None:
    before = bench.job.read_text()
    shown = bench.done(*arguments)
    assert shown.exit_code == 2
    assert said in shown.output
    assert bench.job.read_text() == before


@given(st.sets(st.sampled_from(EVERY)))
def test_the_card_ticks_what_is_done_and_nothing_else(done: set[str]) -> None:
    result = assessed(WORN + "".join(map(record, sorted(done))))
    plan = result.plans["full"]
    card = bench_card(result, plan, CardChoice())
    shown = [step for section in card.sections for step in section.steps]
    assert {plan.steps[s.number - 1].step for s in shown if s.is_done} == done
    assert not any(s.cautions or s.again for s in shown if s.is_done)
    page = card_page(result, plan)
    assert page.count('aria-label="done"') == len(done)
    assert ("It may fall." in page) == ("open wheels.axle" not in done)
