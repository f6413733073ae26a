"""The installed command, run as a user runs it, the clumsy one too."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from conftest import ROOT, Run

from assess.cli.commands import main
from assess.job.job_reading import load
from assess.output.calendars import numbers_in_words

FIXTURES = sorted((ROOT / "fixtures").glob("*.toml"))
VERDICTS = {
    "restore in full",
    "repair to playing order",
    "conserve unplayed",
    "keep for parts",
    "look further first",
    "leave it and play it",
}
ENVELOPE = {"format", "command", "warnings", "data"}


def data_of(done: subprocess.CompletedProcess[str]) -> dict[str, object]:
    assert done.returncode == 0, done.stderr
    whole = json.loads(done.stdout)
    assert set(whole) == ENVELOPE
    assert whole["format"] == 3
    return whole["data"]  # type: ignore[no-any-return]


@pytest.mark.parametrize("job", FIXTURES, ids=lambda p: p.stem)
@pytest.mark.parametrize("command", ["grade", "plan", "verdict", "look"])
def test_every_fixture_prints_within_80_columns(run: Run, job: Path, command: str) -> None:
    done = run(command, job)
    assert (done.returncode, done.stderr) == (0, "")
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert not [line for line in done.stdout.splitlines() if line != line.rstrip()]


def test_the_fixtures_between_them_give_every_verdict(run: Run) -> None:
    found = {data_of(run("verdict", job, "--json"))["verdict"] for job in FIXTURES}
    assert found == VERDICTS


@pytest.mark.parametrize(
    ("arguments", "keys"),
    [
        (["grade"], "title identity whole subsystems findings expected unseen assumed cautions"),
        (
            ["plan"],
            "title scope hours hours_left next done_besides cost variance_shares workshop_job "
            "steps called replaced requirements left_alone materials "
            "cautions",
        ),
        (
            ["verdict"],
            "title identity verdict scope likeliest probability chances settled reasons grounds "
            "as_seen limits pivotal_findings hidden worth_saving estimate ways complaints options",
        ),
        (["look"], "title grade expected chances settled looks complaints hidden"),
        (["look", "--assumed"], "care whole components seldom often"),
        (["budget", "2500"], "title amount must_be_usable impossible best least frontier"),
        (["measure"], "values quantities figures"),
        (["why", "verdict"], "text under"),
        (
            ["calendar", "--start", "2027-01-11"],
            "scope start finish finish_p50 finish_p90 back_p50 back_p90 visits bound slack_days "
            "done longest_chain bookings",
        ),
    ],
)
def test_the_keys_of_json_are_a_promise(run: Run, arguments: list[str], keys: str) -> None:
    command, *rest = arguments
    assert set(data_of(run(command, FIXTURES[0], *rest, "--json"))) == set(keys.split())


def test_why_goes_down_to_answers_and_sources(run: Run) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    shown = run("why", job, "renew_straps").stdout
    assert "found: Straps from the treadles to the bellows: broken or off" in shown
    assert "why it stands where it does" in shown
    criterion = run("why", job, "pneumatics.whole_hold").stdout
    assert "source: " in criterion
    assert "http" in criterion
    for identifier in ("verdict", "pneumatics", "pneumatics.reservoir", "casework.dust",
                       "action.key_slip", "reeds.rough_tune"):  # fmt: skip
        assert run("why", job, identifier).stdout
    assert run("why", job, "open", "casework.lower_front").stdout.startswith("Take off")
    assert data_of(run("why", job, "verdict", "--json"))["text"] == (
        "verdict: repair to playing order"
    )


def test_a_plan_says_everything_on_request(run: Run) -> None:
    job = ROOT / "fixtures" / "heated_house.toml"
    brief, how, why = (run("plan", job, *more).stdout for more in ((), ("--how",), ("--why",)))
    assert "How each step is done: --how. Why it stands where it does: --why." in brief
    assert "Photograph all sides" not in brief
    for shown in (how, why):
        assert "Photograph all sides" in shown
        assert "Done when: " in shown
        assert "--how" not in shown
    for reason in ("Why: part of every job.", "Before other steps that could come"):
        assert reason in why
        assert reason not in how


@pytest.mark.parametrize(
    ("arguments", "identifier"),
    [
        (["grade"], "pneumatics.straps"),
        (["look"], "action.upper_action_whole"),
        (["budget", "2500"], "pneumatics.renew_straps"),
        (["measure"], "[pneumatics.leak_hole]"),
    ],
    ids=lambda a: a[0] if isinstance(a, list) else "",
)
def test_ids_are_shown_on_request_only(run: Run, arguments: list[str], identifier: str) -> None:
    command, *rest = arguments
    job = ROOT / "fixtures" / "one_strap.toml"
    if command == "look":
        job = ROOT / "fixtures" / "barely_inspected.toml"
        rest = ["--most", "200"]
    assert identifier not in run(command, job, *rest).stdout
    shown = run(command, job, *rest, "--ids")
    assert shown.returncode == 0
    assert identifier in shown.stdout
    assert max(map(len, shown.stdout.splitlines())) <= 80


def test_whether_it_must_play_is_an_option_and_follows_the_wish(run: Run, tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    text = (ROOT / "fixtures" / "one_strap.toml").read_text()
    for wish, usual in (("playing", True), ("stabilise", False)):
        job.write_text(text.replace('wish = "playing"', f'wish = "{wish}"'))
        for option, must in (((), usual), (("--playable",), True), (("--unplayed",), False)):
            data = data_of(run("budget", job, "2500", *option, "--json"))
            assert data["must_be_usable"] is must, (wish, option)
    assert (
        "What USD 2,500 buys if it must play\n" in run("budget", job, "2500", "--playable").stdout
    )
    assert "What USD 2,500 buys\n" in run("budget", job, "2500", "--unplayed").stdout


def test_a_verdict_says_everything_on_request(run: Run) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    brief, full = run("verdict", job).stdout, run("verdict", job, "--all").stdout
    assert "Hours and prices of each scope, what makes them uncertain, and more: --all" in brief
    assert "What makes the price uncertain (playing order)" in full
    assert "18R-97" in full
    assert "18R-97" not in brief
    assert max(map(len, full.splitlines())) <= 80


def test_new_then_ask_then_read(run: Run, tmp_path: Path) -> None:
    made = run("new", "visit.toml", "--title", 'The "front" room')
    assert (made.returncode, made.stdout) == (0, "Wrote visit.toml. Next: assess ask visit.toml\n")
    job = tmp_path / "visit.toml"
    assert load(job).title == 'The "front" room'
    again = run("new", "visit.toml")
    assert again.returncode == 2
    assert "visit.toml: already exists; not changed" in again.stderr
    asked = run("ask", job, "--only", "reeds", stdin="?\n3\nn\ntwo\nq\n")
    assert asked.returncode == 0
    assert "Saved in" in asked.stdout
    assert len(load(job).answers["reeds"]) == 2
    assert "# `assess ask` puts the answers in." in job.read_text()
    assert run("grade", job).returncode == 0
    assert data_of(run("verdict", job, "--json"))["verdict"] == "repair to playing order"


def test_every_comment_of_a_new_file_can_be_uncommented(run: Run, tmp_path: Path) -> None:
    run("new", "visit.toml")
    job = tmp_path / "visit.toml"
    lines = []
    for line in job.read_text().splitlines():
        key, equals, value = line.removeprefix("# ").partition(" = ")
        filled = equals and value.split("  #")[0].strip()
        lines.append(line.removeprefix("# ") if key.isidentifier() and filled else line)
    job.write_text("\n".join(lines))
    done = run("check", job)
    assert done.returncode == 0, done.stdout


MISTAKES = {
    "no file": (None, "there is no such file"),
    "empty file": ("", 'no "format = 1" in it'),
    "cut off": ('format = 1\n[answers.reeds]\ndead_reeds = "', "not valid TOML"),
    "unknown key": ("format = 1\nowners = 3\n", 'did you mean "owner"'),
    "unknown feature": ("format = 1\n[instrument.features]\ncelest = true\n", '"celeste"'),
    "wrong kind": ('format = 1\n[instrument.features]\nwind = "sucks"\n', "no such kind"),
    "unknown fact": ("format = 1\n[instrument.facts]\nkey = 61\n", 'did you mean "keys"'),
    "impossible fact": ("format = 1\n[instrument.facts]\nkeys = -3\n", "out of range"),
    "unknown criterion": ("format = 1\n[answers.reeds]\ndead_reed = 3\n", '"dead_reeds"'),
    "unknown answer": ('format = 1\n[answers.pneumatics]\nstraps = "brokn or off"\n',
                       'did you mean "broken or off"'),
    "wrong unit": ('format = 1\n[answers.pneumatics]\nwhole_hold = "14 mm"\n',
                   "is a unit of length"),
    "negative time": ("format = 1\n[answers.pneumatics]\nwhole_hold = -4\n", "out of range"),
    "half a reed": ("format = 1\n[answers.reeds]\ndead_reeds = 2.5\n", "is not a whole number"),
    "negative ceiling": ("format = 1\n[owner]\nceiling = -1\n", "owner.ceiling"),
}  # fmt: skip


@pytest.mark.parametrize("kind", MISTAKES)
@pytest.mark.parametrize("command", ["grade", "plan", "verdict", "look", "ask", "check"])
def test_mistakes_are_named_and_never_a_traceback(
    run: Run, tmp_path: Path, kind: str, command: str
) -> None:
    text, words = MISTAKES[kind]
    job = tmp_path / "job.toml"
    if text is not None:
        job.write_text(text)
    done = run(command, job)
    said = done.stderr + (done.stdout if command == "check" else "")
    assert done.returncode == 2
    assert words in " ".join(said.split())
    assert "job.toml" in said
    assert "Traceback" not in said
    if text is not None:
        assert job.read_text() == text


def test_other_slips_of_the_command_line(run: Run) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    for arguments, words in (
        (["why", job, "renew_strap"], 'did you mean "renew_straps"'),
        (["ask", job, "--only", "reed"], 'did you mean "reeds"'),
        (["plan", job, "--scope", "most"], "'most' is not one of: stabilise, playing, full"),
        (["plan", job, "--scope", "working"], "'working' is not one of: stabilise, playing, full"),
        (["grade", job, "--workshop", "none.toml"], "none.toml: there is no such file"),
        (["grades", job], "No such command 'grades'; did you mean \"grade\""),
        (["calendar", job, "--start", "11.1.2027"], "'11.1.2027' does not match"),
        (["calendar", job, "--start", "next spring"], "'next spring' does not match"),
        (["calendar", job, "--start", "2027-02-30"], "'2027-02-30' does not match"),
        (["calendar", job, "--start", "9999-12-31"], "the first day must be before the year 9800"),
        (["calendar", job], "Missing option '--start'"),
        (["new", "no/such/folder/x.toml"], "there is no such folder"),
    ):
        done = run(*arguments)
        assert done.returncode == 2, arguments
        assert words in done.stderr
        assert "Traceback" not in done.stderr


@pytest.mark.parametrize("job", FIXTURES, ids=lambda p: p.stem)
def test_a_calendar_books_every_step_of_the_plan(run: Run, job: Path) -> None:
    start = ("--start", "2027-01-11", "--scope", "full")
    shown = run("calendar", job, *start)
    assert (shown.returncode, shown.stderr) == (0, "")
    assert max(map(len, shown.stdout.splitlines())) <= 80
    booked = data_of(run("calendar", job, *start, "--json"))
    planned = data_of(run("plan", job, "--scope", "full", "--json"))
    assert booked["bookings"] or job.stem == "sound_organ"
    assert {b["step"] for b in booked["bookings"]} == {  # type: ignore[attr-defined]
        s["step"]
        for s in planned["steps"]  # type: ignore[attr-defined]
    }
    assert booked["finish_p50"] <= booked["finish_p90"]  # type: ignore[operator]


def test_a_calendar_says_what_sets_its_length_and_what_is_done_meanwhile(run: Run) -> None:
    job, start = ROOT / "fixtures" / "tight_budget.toml", ("--start", "2027-01-11")
    shown = run("calendar", job, *start).stdout
    data = data_of(run("calendar", job, *start, "--json"))
    number = {s["step"]: s["number"] for s in data_of(run("plan", job, "--json"))["steps"]}  # type: ignore[attr-defined]
    chain = data["longest_chain"]
    words = " ".join(shown.split())
    days = round(chain["days"])  # type: ignore[index]
    steps = numbers_in_words(number[s] for s in chain["steps"])  # type: ignore[index]
    assert f"What sets the length ({days} calendar days): steps {steps}" in words
    drying = [b for b in data["bookings"] if b["meanwhile"]]  # type: ignore[attr-defined]
    assert drying
    for booking in drying:
        assert f"meanwhile: {numbers_in_words(number[s] for s in booking['meanwhile'])}" in words


def test_a_calendar_warns_of_a_start_in_the_past_and_says_when_there_is_no_work(
    run: Run, tmp_path: Path
) -> None:
    job = tmp_path / "job.toml"
    job.write_text((ROOT / "fixtures" / "one_strap.toml").read_text())
    for start in ("2001-01-01", "0001-01-01"):
        warned = run("calendar", job, "--start", start)
        assert warned.returncode == 0
        assert warned.stderr == f"warning: the start {start} is in the past\n"
    for profile in ("bench_days = []\n", "bench_hours_a_day = 0\n"):
        (tmp_path / "workshop.toml").write_text(profile)
        done = run("calendar", job, "--start", "2027-01-11")
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr == (
            "assess: the profile has no bench hours, so nothing can be scheduled\n"
        )
    job.write_text("format = 1\n")
    (tmp_path / "workshop.toml").unlink()
    assert "There is nothing to schedule." in run("calendar", job, "--start", "2027-01-11").stdout
    data = data_of(run("calendar", job, "--start", "2027-01-11", "--json"))
    assert data["bookings"] == []
    assert data["start"] == data["finish_p50"] == data["finish_p90"] == "2027-01-11T09:00"


def test_a_workshop_profile_beside_the_job_or_named(run: Run, tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text((ROOT / "fixtures" / "one_strap.toml").read_text())
    usual = data_of(run("plan", job, "--scope", "full", "--json"))
    (tmp_path / "workshop.toml").write_text('rate_per_hour = 150\ncurrency = "EUR"\n')
    beside = data_of(run("plan", job, "--scope", "full", "--json"))
    assert beside["cost"]["currency"] == "EUR"  # type: ignore[index]
    assert beside["cost"]["total"]["p50"] > usual["cost"]["total"]["p50"]  # type: ignore[index]
    (tmp_path / "workshop.toml").write_text("rate_per_hour = -1\nratio = 2\n")
    assert "unknown key" in run("grade", job).stderr
    (tmp_path / "workshop.toml").write_text("rate_per_hour = -1\n")
    done = run("grade", job)
    assert done.returncode == 2
    assert "rate_per_hour: Input should be greater than or equal to 0 (given: -1)" in done.stderr


def test_lists_fit_80_columns_too(run: Run) -> None:
    for arguments in (["subsystems"], ["check", *FIXTURES], ["--help"]):
        assert max(map(len, run(*arguments).stdout.splitlines())) <= 80


def test_measures_and_sheets(run: Run) -> None:
    job = ROOT / "fixtures" / "tight_budget.toml"
    values = data_of(run("measure", job, "--json"))
    assert values["values"]["pneumatics.leak_hole"]["unit"] == "mm"  # type: ignore[index]
    assert "pneumatics.leak_down" in values["figures"]  # type: ignore[operator]
    assert len(values["quantities"]) >= 2  # type: ignore[arg-type]
    assert "Source: " in run("measure", job).stdout
    listed = data_of(run("sheet", job, "--json"))
    assert set(listed) == {
        "pneumatics.cutting_list",
        "action.key_level",
        "reeds.pitch_choices",
        "reeds.tuning_sheet",
        "casework.carrying",
    }
    assert "Tuning sheet, A = 4" in run("sheet", job, "tuning_sheet").stdout
    wrong = run("sheet", job, "tuning")
    assert wrong.returncode == 2
    assert 'no sheet "tuning"' in wrong.stderr
    for name in FIXTURES:
        for shown in (run("measure", name), run("sheet", name)):
            assert (shown.returncode, shown.stderr) == (0, "")
            assert max(map(len, shown.stdout.splitlines())) <= 80


def test_nothing_is_called_missing_that_the_job_file_has(run: Run) -> None:
    missing = 0
    for job in FIXTURES:
        answers = tomllib.loads(job.read_text())["answers"].get("pneumatics", {})
        plain = {n: a["answer"] if isinstance(a, dict) else a for n, a in answers.items()}
        given = {name for name, answer in plain.items() if answer != "not seen"}
        values = data_of(run("measure", job, "--json"))["values"]
        for measured in values.values():  # type: ignore[attr-defined]
            names = {w.removeprefix("pneumatics.") for w in measured["wants"]}
            missing += len(names)
            assert not names & given
    assert missing > 20


def test_help_teaches_with_an_example(run: Run) -> None:
    assert "job file" in run("--help").stdout
    assert len(main.commands) > 10
    for command in main.commands:
        shown = run(command, "--help").stdout
        assert f"Example: assess {command}" in shown
        assert max(map(len, shown.splitlines())) <= 80


def test_plugins_are_left_out_by_name(run: Run) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    done = run("grade", job, "--without", "reeds", "--json")
    data = data_of(done)
    assert [s["id"] for s in data["subsystems"]] == ["pneumatics", "action", "casework"]  # type: ignore[attr-defined]
    assert "answers.reeds: no installed plugin knows this subsystem" in done.stderr
    chosen = run("subsystems", "--json", ASSESS_PLUGINS="casework,action")
    assert [s["id"] for s in data_of(chosen)["subsystems"]] == ["action", "casework"]  # type: ignore[attr-defined]
    for slip in (
        run("grade", job, "--without", "reed"),
        run("grade", job, ASSESS_PLUGINS="reed"),
    ):
        assert (slip.returncode, slip.stdout) == (2, "")
        assert "no installed plugin is called 'reed'; did you mean \"reeds\"" in slip.stderr
        assert "Traceback" not in slip.stderr


def test_where_nothing_can_be_assessed_it_says_so_and_exits_with_3(run: Run) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    nothing = [
        x for name in ("pneumatics", "action", "reeds", "casework") for x in ("--without", name)
    ]
    for command in ("grade", "plan", "verdict", "look"):
        done = run(command, job, *nothing)
        assert (done.returncode, done.stdout) == (3, "")
        assert "assess: no subsystem can be assessed" in done.stderr
        assert "Traceback" not in done.stderr


def test_a_reader_that_stops_early_is_no_error() -> None:
    command = Path(sys.executable).with_name("assess")
    job = ROOT / "fixtures" / "neglected.toml"
    shell = f"set -o pipefail; {command} plan {job} | head -1"
    done = subprocess.run(["bash", "-c", shell], capture_output=True, text=True, check=False)
    assert done.stderr == ""


def test_the_interview_in_a_real_terminal(tmp_path: Path) -> None:
    job = tmp_path / "visit.toml"
    job.write_text("format = 1\n")
    command = Path(sys.executable).with_name("assess")
    master, slave = pty.openpty()
    with subprocess.Popen(
        [command, "ask", job, "--only", "reeds"], stdin=slave, stdout=slave, stderr=slave
    ) as talk:
        os.close(slave)
        os.write(master, b"n\nn\nq\n")
        talk.wait(timeout=60)
        assert talk.returncode == 0
    os.close(master)
    assert [a.answer for a in load(job).answers["reeds"].values()] == ["not seen", "not seen"]


def test_the_heavy_modules_stay_out_of_the_way_of_help() -> None:
    code = (
        "import sys, assess.cli.commands; "
        "print([m for m in ('tomlkit', 'tabulate') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_grades_do_not_wait_for_the_graph_library() -> None:
    code = (
        "import sys, assess; job = assess.load(sys.argv[1]); assess.assess(job).graded; "
        "print('networkx' in sys.modules)"
    )
    job = ROOT / "fixtures" / "neglected.toml"
    command = [sys.executable, "-c", code, str(job)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
