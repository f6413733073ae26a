"""What the plugin computes from whole job files: moisture, cracks and carrying."""

from __future__ import annotations

import pytest
from assess_casework.handling import HANDLING_CAUTION
from conftest import job_of

import assess
from assess import Measurement, Sheet
from assess.assessment import Assessment

PANEL = (
    '[instrument.features]\ncase_wood = "pine"\n'
    '[instrument.facts]\npanel_width = "250 mm"\npanel_thickness = "18 mm"\ncrack_gap = "0.8 mm"\n'
)


def job(text: str) -> Assessment:
    """The assessment of a job file without its first line."""
    return assess.assess(job_of(f"format = 1\n{text}"))


def value(name: str, text: str) -> Measurement:
    """One computed value of a job file."""
    return job(text).measured.values[f"casework.{name}"]


def carrying(text: str) -> Sheet:
    """The sheet of ways to carry it."""
    return job(text).sheets["casework.carrying"]


def test_the_humidity_that_fits_the_wood() -> None:
    """Wood Handbook table 4-2: 8.0 % belongs to 42 % at 70 F (21.1 degC)."""
    found = value(
        "steady_humidity",
        '[answers.casework]\nwood_moisture = "8 %"\nroom_temperature = "21.1 degC"\n',
    )
    assert found.value == pytest.approx(42, abs=0.5)
    # a point and a half of moisture is some ten points of humidity
    assert found.sd == pytest.approx(9, abs=2)
    assert "will shrink" in found.says


def test_wood_wetter_than_air_can_make_it() -> None:
    found = value("steady_humidity", '[answers.casework]\nwood_moisture = "40 %"\n')
    assert found.value == pytest.approx(100)
    assert "look for water" in found.says


@pytest.mark.parametrize(
    ("name", "text", "wants"),
    [
        ("room_balance", "", ("casework.room_humidity",)),
        ("future_balance", "", ("casework.future_humidity",)),
        ("steady_humidity", "", ("casework.wood_moisture",)),
        ("moisture_step", "", ("casework.wood_moisture", "casework.future_humidity")),
        (
            "panel_change",
            "",
            (
                "panel_width",
                "case_wood",
                "casework.wood_moisture",
                "casework.future_humidity",
            ),
        ),
        ("crack_after", PANEL, ("casework.wood_moisture", "casework.future_humidity")),
        ("gluing_wait", PANEL, ("casework.wood_moisture", "casework.future_humidity")),
        (
            "gluing_wait",
            f'{PANEL}[answers.casework]\nwood_moisture = "40 %"\nfuture_humidity = "50 %"\n',
            ("casework.wood_moisture of at most 30 %",),
        ),
        (
            "room_balance",
            '[answers.casework]\nroom_humidity = "50 %"\nroom_temperature = "-30 degC"\n',
            ("casework.room_temperature of -20 to 60 degC",),
        ),
    ],
)
def test_what_is_missing_is_named_as_it_is_typed(
    name: str, text: str, wants: tuple[str, ...]
) -> None:
    found = value(name, text)
    assert (found.value, found.wants) == (None, wants)


def test_a_crack_that_closes_is_not_to_be_filled() -> None:
    """Pine, 0.00212 a percent: a panel of 250 mm gains 0.53 mm a percent."""
    found = value(
        "crack_after",
        f'{PANEL}[answers.casework]\nwood_moisture = "6 %"\nfuture_humidity = "65 %"\n',
    )
    assert found.value == 0
    # 12.0 % at 65 % and 20 degrees (Wood Handbook): 6 points are 3.2 mm
    assert "swells by 2.4 mm" in found.says
    assert "Do not fill" in found.says
    assert "eastern white pine: from memory" in found.source


def test_ways_to_carry_it() -> None:
    """18.9 or 16 kg each; two people lift two thirds of the sum, four half of it."""
    sheet = carrying('[instrument.facts]\nweight_kg = "60 kg"\n')
    assert sheet.rows == (
        ("Level, by hand", "1", "60", "19", "16"),
        ("Level, by hand", "2", "60", "25", "21"),
        ("Level, dolly", "2", "30", "19", "16"),
        ("Level, dolly", "3", "30", "25", "21"),
        ("Stairs, by hand", "2", "43", "13", "11"),
        ("Stairs, by hand", "4", "43", "19", "16"),
    )
    assert HANDLING_CAUTION in sheet.notes
