"""Numbers that are none, have no end, or could be read in two ways."""

from __future__ import annotations

import datetime as dt
import warnings
from pathlib import Path

import click
import pytest
from conftest import ROOT, Run, job_of

import assess
from assess.base.errors import JobFileError, WorkshopError
from assess.base.measures import parse_measure
from assess.base.units import UnitError
from assess.cli.options import Money
from assess.job.workshop_profile import load_workshop
from assess.visit.door_questions import DoorQuestion
from assess.visit.session import VisitSession

TABLE = assess.knowledge_in_use().trade.table
NOT_MONEY = {
    "inf": "expected a number, got inf",
    "nan": "expected a number, got nan",
    "-inf": "expected a number, got -inf",
    "true": "expected a number",
    '"2500"': "without quotation marks",
    "1e308": "less than or equal to 10000000000",
    "-1": "greater than or equal to 0",
}
OWNER = ("ceiling", "worth")
SHOP = ("rate_per_hour", "transport", "most_hours", "overlap_from", "worth_times", "pace")
TABLES = {
    '[prices]\n"pneumatics.bellows_cloth" = ': "",
    '[hours]\n"pneumatics.recover_reservoir" = [1, 2, ': "]",
}


@pytest.mark.parametrize("value", NOT_MONEY)
@pytest.mark.parametrize("key", OWNER)
def test_what_an_owner_will_pay_is_an_amount(key: str, value: str) -> None:
    with pytest.raises(JobFileError) as error:
        job_of(f"format = 1\n[owner]\n{key} = {value}\n")
    assert str(error.value).startswith(f"job.toml:3: owner.{key}: ")
    assert NOT_MONEY[value] in str(error.value)


@pytest.mark.parametrize("value", ["inf", "nan", "true", '"60"', "1e308", "-1"])
@pytest.mark.parametrize("key", SHOP)
def test_so_is_what_a_workshop_charges(tmp_path: Path, key: str, value: str) -> None:
    profile = tmp_path / "shop.toml"
    profile.write_text(f"{key} = {value}\n", encoding="utf-8")
    with pytest.raises(WorkshopError, match=rf"shop\.toml(:1)?: {key}: "):
        load_workshop(profile)


@pytest.mark.parametrize("value", ["inf", "nan", "1e308"])
@pytest.mark.parametrize("table", TABLES)
def test_so_are_single_prices_and_hours(tmp_path: Path, table: str, value: str) -> None:
    profile = tmp_path / "shop.toml"
    profile.write_text(f"{table}{value}{TABLES[table]}\n", encoding="utf-8")
    with pytest.raises(WorkshopError, match=r"shop\.toml(:2)?: (hours|prices)\.pneumatics\."):
        load_workshop(profile)


EXTREME = """
rate_per_hour = 1e10
transport = 1e10
most_hours = 1e5
pace = 10
[prices]
"pneumatics.strap_webbing" = 1e10
[hours]
"pneumatics.renew_straps" = [0, 1e5, 1e5]
[care]
rare = 1e-6
"""


def test_the_largest_numbers_that_are_taken_can_be_worked_with(tmp_path: Path) -> None:
    profile = tmp_path / "shop.toml"
    profile.write_text(EXTREME, encoding="utf-8")
    text = (ROOT / "fixtures" / "one_strap.toml").read_text(encoding="utf-8")
    job = job_of(text.replace("ceiling = 600", "ceiling = 1e10"))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        result = assess.assess(job, workshop=load_workshop(profile))
        assert result.verdict.plan_scope in result.plans
        cost = result.plans["full"].cost.total
        assert 1e10 < cost.mean < float("inf")


def test_zero_has_no_sign() -> None:
    job = job_of("format = 1\n[owner]\nceiling = -0.0\n[answers.pneumatics]\nwhole_hold = -0.0\n")
    assert str(job.owner.ceiling) == "0.0"
    assert assess.assess(job).graded.judgements["pneumatics.whole_hold"].given == "0 s"
    assert str(parse_measure("-0", "s")) == "0.0"


@pytest.mark.parametrize("value", ["true", "false"])
def test_yes_and_no_are_no_counts(value: str) -> None:
    for text in (f"[owner]\nattachment = {value}", f"[{TABLE}.facts]\nranks = {value}"):
        with pytest.raises(JobFileError, match="expected a number"):
            assess.assess(job_of(f"format = 1\n{text}\n"))


AMOUNTS = {"2500": 2500, "2,500": 2500, "2 500": 2500, "2500.50": 2500.5, "1,234,567.5": 1234567.5}
NO_AMOUNTS = [
    "nan", "inf", "1e308", "1e3", "2,5", "25,00", "2.500", "2.500,00", "1,2,3", "2500,", "2_500",
    "0x10", "+5", "", " ", "\u0661\u0662", "9" * 16, "9" * 400, "1/2",
]  # fmt: skip


@pytest.mark.parametrize("typed", AMOUNTS)
def test_amounts_as_they_are_typed(typed: str) -> None:
    assert Money().convert(typed, None, None) == AMOUNTS[typed]


def test_amounts_that_could_mean_two_things_are_refused(run: Run) -> None:
    for typed in NO_AMOUNTS:
        with pytest.raises(click.BadParameter, match="is not an amount"):
            Money().convert(typed, None, None)
    job = ROOT / "fixtures" / "one_strap.toml"
    for typed in ("2,5", "2.500,00", "-0"):
        done = run("budget", job, typed)
        assert (done.returncode, done.stdout) == (2, ""), typed
        assert "Error: " in done.stderr
        assert "Traceback" not in done.stderr


@pytest.mark.parametrize("typed", ["nan", "inf", "-1", "1e308", "1441"])
def test_minutes_of_a_visit_have_an_end(run: Run, tmp_path: Path, typed: str) -> None:
    done = run("form", "-o", "form.html", "--minutes", typed)
    assert done.returncode == 2
    assert "--minutes" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "text", ["nan s", "inf", "1e400 s", "9" * 101, "1/" + "9" * 5000, "1e999 h", "--5"]
)
def test_no_reading_is_without_end(text: str) -> None:
    with pytest.raises(UnitError):
        parse_measure(text, "s")


def test_a_fraction_of_an_inch_is_no_note(run: Run, tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    for typed, answer, note in (
        ("1 / 8 in", "1 / 8 in", ""),
        ("1/8 in", "1/8 in", ""),
        ("1/8 in/left side", "1/8 in", "left side"),
    ):
        job.write_text("format = 1\n", encoding="utf-8")
        measured = next(
            c for c in assess.knowledge_in_use().criteria.values() if c.unit == "mm" and c.place
        )
        subsystem, _, name = measured.id.partition(".")
        lines = f"/{measured.asks}\n{typed}\nq\n"
        done = run("ask", job, "--only", subsystem, "--all", stdin=lines)
        given = assess.load(job).answers[subsystem][name]
        assert (given.answer, given.note) == (answer, note), done.stdout


def test_an_answer_that_does_not_apply_must_be_one_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("format = 1\n", encoding="utf-8")
    knowledge = assess.knowledge_in_use()
    visit = VisitSession(path=path, knowledge=knowledge, workshop=load_workshop())
    result = visit.assessed()
    absent = [j for j in result.graded.judgements.values() if j.state.name == "NOT_PRESENT"]
    assert len(absent) > 5
    for judgement in absent:
        with pytest.raises(ValueError, match=r"no such answer|expected|not a number"):
            visit.save(result, judgement.criterion, "whatever")
    assert path.read_text() == "format = 1\n"


TWO_READINGS = {
    "s": ["14 s 15 s", "14/15", "9/8 s", "5 min -3 s", "2 min 120 s", "1-2-3", "10-5 s", "112-14"],
    "mm": ["3 in 76 mm", "12 mm 14 mm", "1/2 in 13 mm", "0.5 m 50 cm", "11/2 in", "3 1/8-1/4 in"],
    "inH2O": ["3 in 75 mm", "2/3 in"],
    "degC": ["20 C 68 F"],
    "%": ["1/2", "\u00bd", "50 % 60 %"],
    "count": ["6/2", "61/61", "3 cm", "2 dozen", "10 percent", "5 per side", "2 not loose"],
}  # fmt: skip


@pytest.mark.parametrize(("unit", "texts"), TWO_READINGS.items())
def test_what_could_be_two_readings_is_not_read_as_one(unit: str, texts: list[str]) -> None:
    for text in texts:
        with pytest.raises(UnitError):
            pytest.fail(f"{text} was read as {parse_measure(text, unit)} {unit}")


WRITTEN = [
    ("3-1/4 in", "in", 3.25), ("1-1/8\u201d", "in", 1.125), ("1 1/2 min", "s", 90),
    ("1/16-1/8 in", "in", 3 / 32), ("2-2 1/2 in", "in", 2.25), ("\u22125 cents", "cents", -5),
    ("3/10 mm", "mm", 0.3), ("2 min 30 s", "s", 150), ("5 ft 3 in", "in", 63),
    ("1/2 %", "%", 0.5), ("3/8\u2033", "in", 0.375), ("1/8''", "in", 0.125),
]  # fmt: skip


@pytest.mark.parametrize(("text", "unit", "value"), WRITTEN)
def test_fractions_ranges_and_signs_of_telephones(text: str, unit: str, value: float) -> None:
    assert parse_measure(text, unit) == pytest.approx(value)


def test_thousands_are_not_read_as_decimals(tmp_path: Path) -> None:
    answer = 'format = 1\n[answers.pneumatics]\nwhole_hold = "1,500 s"\n'
    with pytest.raises(JobFileError, match=r"whole_hold: 1,500 could be 1500 or 1\.5"):
        assert assess.assess(job_of(answer)).graded
    with pytest.raises(JobFileError, match=r"altitude: 1,500 could be 1500 or 1\.5"):
        assess.assess(job_of(f'format = 1\n[{TABLE}.facts]\naltitude = "1,500 m"\n'))
    keys = 'note,touch,dip\nC4,"1,250","9,125"\n'
    (tmp_path / "keys.csv").write_text(keys, encoding="utf-8")
    job = job_of('format = 1\n[surveys]\n"action.keys" = "keys.csv"\n', tmp_path / "job.toml")
    with pytest.raises(JobFileError, match=r"column touch: 1,250 could be 1250 or 1\.25") as error:
        assess.assess(job)
    assert "dip" not in str(error.value), "9125 mm is impossible, so 9,125 mm is clear"


NO_SUMS = ["none", "no", "1500-2000", "2 1/2", "2 3", "1,500", "5k", "\u00bd", "9" * 400, "\u00b2"]
SUMS = {"1500": 1500, "1 500": 1500, "12\u202f000": 12000, "ca. 1500": 1500, "2,5": 2.5}


def test_a_sum_at_the_door_is_one_plain_number() -> None:
    money = DoorQuestion("owner.ceiling", "The most", "number")
    for typed in NO_SUMS:
        with pytest.raises(ValueError, match=r"plain number|could be"):
            pytest.fail(f"{typed} was read as {money.value(typed)}")
    for typed, amount in SUMS.items():
        assert money.value(typed) == amount


@pytest.mark.parametrize("typed", ["\u00b2", "9" * 5000, "\u2460"])
def test_what_looks_like_a_number_chooses_nothing(run: Run, tmp_path: Path, typed: str) -> None:
    job = tmp_path / "job.toml"
    for options in (["--all"], ["--from-paper"], ["--all", "--only", "casework"]):
        job.write_text("format = 1\n", encoding="utf-8")
        lines = f"q\n{typed}\n/e\n{typed}\n1 {typed}\n{typed} 1\nD1 {typed}\nq\n"
        done = run("ask", job, *options, stdin=lines)
        assert "Traceback" not in done.stderr
        assert done.returncode in (0, 2)
        assert job.read_text(encoding="utf-8") == "format = 1\n"


@pytest.mark.parametrize("step", ["1-9999999999", "9" * 5000, "1-" + "9" * 5000, "5-1", "6-99"])
def test_steps_beyond_the_plan_are_refused(run: Run, tmp_path: Path, step: str) -> None:
    text = (ROOT / "fixtures" / "one_strap.toml").read_text(encoding="utf-8")
    job = tmp_path / "job.toml"
    job.write_text(text, encoding="utf-8")
    done = run("done", job, step)
    assert done.returncode == 2
    assert "smaller number" in done.stderr or "it has steps 1 to" in done.stderr
    assert job.read_text(encoding="utf-8") == text


@pytest.mark.parametrize("given", ["1792454400", "true", "0.5", '"soon"', "2026-05-02T10:00:00"])
@pytest.mark.parametrize(
    "text",
    [
        "date = {}\n",
        "[answers.pneumatics]\nwhole_hold = {{ answer = 3, date = {} }}\n",
        '[[done]]\nstep = "pneumatics.renew_straps"\ndate = {}\n',
    ],
    ids=["visit", "answer", "work"],
)
def test_a_day_is_written_as_a_day(text: str, given: str) -> None:
    with pytest.raises(JobFileError, match="expected a day, such as 2026-05-02"):
        job_of("format = 1\n" + text.format(given))


@pytest.mark.parametrize("given", ["2026-05-02", '"2026-05-02"'])
def test_a_day_in_quotes_is_the_same_day(given: str) -> None:
    assert job_of(f"format = 1\ndate = {given}\n").date == dt.date(2026, 5, 2)


def test_nothing_was_made_after_the_visit() -> None:
    text = f"format = 1\ndate = 2026-05-02\n[{TABLE}.identity]\nyear = 2027\n"
    with pytest.raises(JobFileError, match="2027 is after the year of the visit"):
        assess.assess(job_of(text))
    assert not assess.assess(job_of(text.replace("2027", "2026"))).warnings


def test_a_subsystem_spelt_wrongly_is_named_with_the_right_one() -> None:
    result = assess.assess(job_of("format = 1\n[answers.pneumatic]\nwhole_hold = 3\n"))
    assert any('did you mean "pneumatics"?' in line for line in result.warnings)


TINY = "5e-324"
"""The least number above zero that a machine has; half of it is zero."""
CARE = "[care]\nstate_persistence = 0.7\n"
WORKED_WITH = {
    **{
        key: f"{key} = {TINY}\n"
        for key in ("rate_per_hour", "transport", "overlap_from", "whole_job_spread",
                    "contingency", "sure_enough", "verdict_enough", "settled_doubt",
                    "worth_looking", "bench_hours_a_day")
    },
    "a price": f'[prices]\n"pneumatics.bellows_cloth" = {TINY}\n',
    "hours": f'[hours]\n"pneumatics.recover_reservoir" = [0, {TINY}, {TINY}]\n',
    "the least care": f"{CARE}rare = 1e-6\nstopping = 1e-6\nnoticed = 1e-6\n"
    "overhauled = [{ years = 500, odds = 1e-6 }]\n",
}  # fmt: skip
TOO_LITTLE = {
    **{key: f"{key} = {TINY}\n"
       for key in ("pace", "overlap", "most_hours", "worth_times", "visit_minutes")},
    **{key: f"{CARE}{key} = {TINY}\n" for key in ("rare", "stopping", "noticed")},
    "overhauled": f"{CARE}overhauled = [{{ years = 5, odds = {TINY} }}]\n",
}  # fmt: skip
TOLD = """
[owner]
ceiling = 400
[answers.pneumatics]
reservoir_cloth = "perished, rubber flaking all over"
[answers.casework]
case_altered = "gutted for furniture"
[[history.overhaul]]
year = 1990
"""


@pytest.mark.parametrize("kind", WORKED_WITH)
def test_the_least_number_of_a_profile_is_worked_with(tmp_path: Path, kind: str) -> None:
    profile = tmp_path / "workshop.toml"
    profile.write_text(WORKED_WITH[kind], encoding="utf-8")
    workshop = load_workshop(profile, assess.knowledge_in_use().trade)
    result = assess.assess(job_of(f"format = 1\n{TOLD}"), workshop=workshop)
    assert sum(result.verdict.chances.values()) == pytest.approx(1)
    assert result.plans["full"].cost.total.mean < 1e6


@pytest.mark.parametrize("kind", TOO_LITTLE)
def test_what_everything_is_multiplied_with_is_no_such_number(tmp_path: Path, kind: str) -> None:
    profile = tmp_path / "workshop.toml"
    profile.write_text(TOO_LITTLE[kind], encoding="utf-8")
    with pytest.raises(WorkshopError, match=r"greater than or equal to 0\.0"):
        load_workshop(profile, assess.knowledge_in_use().trade)


@pytest.mark.parametrize("key", OWNER)
def test_the_least_amount_of_an_owner_is_an_amount(key: str) -> None:
    text = TOLD.replace("ceiling = 400", f"{key} = {TINY}")
    result = assess.assess(job_of(f"format = 1\n{text}"))
    assert result.verdict.likeliest != "full"
    assert all(0 <= (option.within_limit or 0) <= 1 for option in result.verdict.options)
