"""A part that an object has several of."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest
import toy

from assess.assessment import Assessment, assess
from assess.base.errors import JobFileError
from assess.knowledge.knowledge_base import Knowledge

AXLES = '[[instrument.unit]]\nid = "rear"\ntitle = "rear axle"\n'
APART = f'{AXLES}stands = "apart"\n'


def of_axles(**altered: Any) -> dict[str, Any]:
    """The wheels, with everything at the axle declared for each axle."""
    data = copy.deepcopy(toy.WHEELS)
    kind = {"id": "axle", "title": "Axle", "first": "front axle", "stacked": "two_axles"}
    data["unit"] = [kind | altered]
    for entry in (*data["component"], *data["place"]):
        entry["each"] = "axle"
    next(p for p in data["place"] if p["id"] == "axle")["stacked"] = True
    next(f for f in data["fact"] if f["id"] == "spokes")["each"] = "axle"
    return data


def cart() -> Knowledge:
    """The whole cart with such wheels."""
    return toy.knowledge(of_axles(), toy.BOX)


def assessed(text: str) -> Assessment:
    return assess(toy.job(text), knowledge=cart())


def test_without_a_further_unit_nothing_changes() -> None:
    assert assessed("").knowledge.criteria.keys() == toy.knowledge().criteria.keys()


def test_each_unit_has_its_own_criteria_repairs_and_facts() -> None:
    text = f"{AXLES}[instrument.facts]\nspokes-rear = 20\n[answers.wheels]\n"
    result = assessed(f"{text}broken_spokes = 0\nbroken_spokes-rear = 9\n")
    judged = result.graded.judgements
    assert judged["wheels.broken_spokes"].outcome.condition == 0
    # 9 of 20 are less than half; of the 10 spokes of the front axle it would be beyond repair.
    assert judged["wheels.broken_spokes-rear"].outcome.label == "some"
    steps = [step.step for step in result.plans["full"].steps]
    assert "wheels.new_spokes-rear" in steps
    assert "wheels.new_spokes" not in steps
    assert "rear axle" in result.plans["full"].step("wheels.new_spokes-rear").title


def test_hours_grow_with_what_each_unit_has() -> None:
    data = of_axles()
    next(p for p in data["place"] if p["id"] == "axle")["hours_per"] = {
        "facts": ["spokes"],
        "usual": 10,
    }
    text = f'{AXLES}[instrument.facts]\nspokes-rear = 20\n[answers.wheels]\nplay = "6 mm"\n'
    plan = assess(toy.job(text), knowledge=toy.knowledge(data, toy.BOX)).plans["full"]
    assert plan.step("open wheels.axle").hours == (0.2, 0.4, 1)
    assert plan.step("open wheels.axle-rear").hours == (0.4, 0.8, 2)


def test_a_fact_of_a_unit_follows_from_the_facts_of_that_unit() -> None:
    data = of_axles()
    data["fact"].append(
        {"id": "ends", "each": "axle", "asks": "Ends of spokes", "product_of": ["spokes"]}
    )
    job = toy.job(f"{AXLES}[instrument.facts]\nspokes-rear = 20\n")
    facts = assess(job, knowledge=toy.knowledge(data, toy.BOX)).configuration.facts
    assert (facts["ends"], facts["ends-rear"]) == (10, 20)


@pytest.mark.parametrize("upwards", [True, False])
def test_work_that_goes_upwards_is_done_unit_by_unit(upwards: bool) -> None:
    data = of_axles()
    for place in data["place"]:
        place.pop("each")  # one place for all: nothing but the declared order keeps them apart
        place.pop("stacked", None)
    next(r for r in data["repair"] if r["id"] == "new_spokes")["upwards"] = upwards
    names = ["", "-z", "-a", "-m"]
    text = "".join(f'[[instrument.unit]]\nid = "{name[1:]}"\n' for name in names[1:])
    text += "[answers.wheels]\n" + "".join(f"broken_spokes{name} = 2\n" for name in names)
    knowledge = toy.knowledge(data, toy.BOX)
    steps = [step.step for step in assess(toy.job(text), knowledge=knowledge).plans["full"].steps]
    done = [step for step in steps if step.startswith("wheels.new_spokes")]
    in_order = [f"wheels.new_spokes{name}" for name in names]
    assert done == (in_order if upwards else sorted(in_order))


def test_what_stands_on_another_is_off_before_it_and_on_after_it() -> None:
    text = f'{AXLES}[answers.wheels]\nplay = "6 mm"\n'
    steps = [step.step for step in assessed(text).plans["full"].steps]
    order = ["open wheels.axle-rear", "open wheels.axle", "wheels.new_bearing",
             "close wheels.axle", "close wheels.axle-rear"]  # fmt: skip
    assert [step for step in steps if step in order] == order


def test_what_stands_apart_is_left_alone() -> None:
    text = f'{APART}[answers.wheels]\nplay = "6 mm"\n'
    assert "open wheels.axle-rear" not in [s.step for s in assessed(text).plans["full"].steps]


def test_a_unit_is_unseen_until_it_is_looked_at() -> None:
    result = assessed(f'{AXLES}[answers.wheels]\nplay = "0 mm"\n')
    assert result.graded.judgements["wheels.play-rear"].is_unseen
    grade = result.graded.subsystems["wheels"].grade
    assert grade.lower < grade.upper


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('[[instrument.unit]]\nid = "rear"\nkind = "axel"\n', 'did you mean "axle"'),
        (AXLES + AXLES, "two units have this id"),
        ('[[instrument.unit]]\nid = "Rear axle"\n', "instrument.unit"),
        ('[answers.wheels]\nplay-rear = "1 mm"\n', "no such criterion"),
        (f'{AXLES}[answers.wheels]\nplay-raer = "1 mm"\n', 'did you mean "play-rear"'),
    ],
)
def test_a_unit_that_cannot_be_is_named(text: str, expected: str) -> None:
    with pytest.raises(JobFileError, match=r"cart\.toml") as caught:
        assessed(text)
    assert expected in str(caught.value)


def test_rows_of_a_survey_belong_to_their_unit(tmp_path: Path) -> None:
    data = of_axles()
    columns = [{"id": "unit"}, {"id": "spoke", "required": True}]
    data["survey"] = [{"id": "spokes", "title": "S", "each": "axle", "columns": columns}]
    (tmp_path / "spokes.csv").write_text("unit,spoke\nfront,a\nrear,b\n", encoding="utf-8")
    job = toy.job(f'{AXLES}[surveys]\n"wheels.spokes" = "spokes.csv"\n')
    job = job.model_copy(update={"path": str(tmp_path / "cart.toml")})
    with pytest.raises(JobFileError, match=r"spokes.csv:2: column unit: no such unit .front."):
        assess(job, knowledge=toy.knowledge(data, toy.BOX))
