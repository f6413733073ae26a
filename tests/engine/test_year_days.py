"""Days off and seasons: how they are written, and which days they hold."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assess.base.errors import WorkshopError
from assess.base.year_days import LEAP_YEAR, YearSpan, days_off
from assess.job.workshop_profile import load_workshop

month_days = st.dates(dt.date(LEAP_YEAR, 1, 1), dt.date(LEAP_YEAR, 12, 31)).map(
    lambda day: (day.month, day.day)
)
days = st.dates(dt.date(1900, 1, 1), dt.date(2200, 12, 31))


@pytest.mark.parametrize(
    ("entry", "held", "free"),
    [
        ("2027-12-24", ["2027-12-24"], ["2027-12-23", "2027-12-25", "2028-12-24"]),
        ("2027-07-19 to 2027-08-06", ["2027-07-19", "2027-08-06"], ["2027-07-18", "2028-07-20"]),
        ("12-25", ["2027-12-25", "2031-12-25"], ["2027-12-24"]),
        ("12-24 to 01-02", ["2027-12-31", "2028-01-02"], ["2027-12-23", "2028-01-03"]),
        ("02-29", ["2028-02-29"], ["2027-02-28", "2027-03-01"]),
    ],
)
def test_which_days_an_entry_holds(entry: str, held: list[str], free: list[str]) -> None:
    off = days_off((entry,))
    assert all(off.holds(dt.date.fromisoformat(day)) for day in held)
    assert not any(off.holds(dt.date.fromisoformat(day)) for day in free)


@given(month_days, month_days, days)
def test_the_next_day_of_a_season_is_the_first_that_it_holds(
    first: tuple[int, int], last: tuple[int, int], day: dt.date
) -> None:
    span = YearSpan(first, last)
    found = span.next_from(day)
    assert span.holds(found)
    between = (day + dt.timedelta(days=n) for n in range(min((found - day).days, 400)))
    assert not any(span.holds(one) for one in between)


def profile(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "workshop.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_profile_takes_dates_with_and_without_quotes(tmp_path: Path) -> None:
    shop = load_workshop(profile(tmp_path, 'days_off = [2027-12-24, "12-25"]'))
    assert shop.days_off == ("2027-12-24", "12-25")


def test_a_profile_without_days_off_has_none(tmp_path: Path) -> None:
    assert load_workshop(profile(tmp_path, 'currency = "EUR"')).days_off == ()


@pytest.mark.parametrize(
    ("given_as", "says"),
    [
        ('["2027-13-01"]', "not a day off; write"),
        ('["25 December"]', "not a day off; write"),
        ('["2027-12-24 to 12-26"]', "not a day off; write"),
        ('["2027-12-26 to 2027-12-24"]', "ends before it begins"),
        ("[2027-12-24T09:00:00]", "not a day off; write"),
    ],
)
def test_what_is_no_day_off_is_named_in_one_line(tmp_path: Path, given_as: str, says: str) -> None:
    path = profile(tmp_path, f"days_off = {given_as}")
    with pytest.raises(WorkshopError) as caught:
        load_workshop(path)
    (line,) = str(caught.value).splitlines()
    assert line.startswith(f"{path}: days_off[0]: ")
    assert says in line
