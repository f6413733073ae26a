"""Impossible declarations, each named with file, entry and key."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest
import toy

from assess.assessment import assess
from assess.base.errors import DeclarationError
from assess.knowledge.lint import doubts
from assess.knowledge.toml_loader import declaration_from, read_declaration

HEAD = (
    '[subsystem]\nid = "bad"\ntitle = "Bad"\nweight = 1\n[[component]]\nid = "part"\ntitle = "P"\n'
)
CRITERION = (
    '[[criterion]]\nid = "state"\ncomponent = "part"\nasks = "?"\nhow = "Look."\n'
    "minutes = 1\nweight = 1\n"
)
REPAIR = '[[repair]]\nid = "mend"\ncomponent = "part"\ntitle = "Mend"\n'

# ruff: noqa: E501 (a broken declaration is read best on one line)
BROKEN = {
    "not_toml": ("[[repair", "facts.toml: Expected ']]'"),
    "unknown_key": (REPAIR + "hours = [1, 2, 3]\ncolour = 1", "/facts.toml repair mend: colour: unknown key"),
    "misspelt_key": (REPAIR + "hour = [1, 2, 3]", '/facts.toml repair mend: hour: unknown key; did you mean "hours"'),
    "no_id": (REPAIR.replace('id = "mend"\n', "") + "hours = [1, 2, 3]", "/facts.toml repair 1: id: is missing"),
    "negative_hours": (REPAIR + "hours = [-1, 2, 3]", "/facts.toml repair mend: hours: hours must be low"),
    "hours_out_of_order": (REPAIR + "hours = [3, 2, 1]", "/facts.toml repair mend: hours: hours must be low"),
    "two_hours": (REPAIR + "hours = [3, 2]", "/facts.toml repair mend: hours[2]: is missing"),
    "bad_id": (REPAIR.replace("mend", "Mend it") + "hours = [1, 2, 3]", "repair Mend it: id: String should"),
    "one_outcome": (CRITERION + 'outcomes = [{ answer = "a", class = 0 }]', "at least two outcomes"),
    "never_in_order": (
        CRITERION + 'outcomes = [{ answer = "a", class = 1 }, { answer = "b", class = 2 }]',
        "one outcome must have class 0",
    ),
    "class_four": (
        CRITERION + 'outcomes = [{ answer = "a", class = 0 }, { answer = "b", class = 4 }]',
        "/facts.toml criterion state: outcomes[1].class: Input should be less than or equal to 3 (given: 4)",
    ),
    "same_answer": (
        CRITERION + 'outcomes = [{ answer = "a", class = 0 }, { answer = "a", class = 1 }]',
        "two outcomes have the same answer",
    ),
    "no_unit": (
        CRITERION + 'outcomes = [{ from = 0, class = 0 }, { from = 1, class = 1 }]',
        "need 'answer'; or give a unit",
    ),
    "unknown_unit": (
        CRITERION + 'unit = "stone"\noutcomes = [{ from = 0, says = "a", class = 0 }, '
        '{ from = 1, says = "b", class = 1 }]',
        'unknown unit "stone"; known units: %',
    ),
    "gap_at_the_bottom": (
        CRITERION + 'unit = "s"\noutcomes = [{ from = 1, says = "a", class = 0 }, '
        '{ from = 2, says = "b", class = 1 }]',
        "the lowest outcome must begin at the lowest possible value",
    ),
    "unknown_source": (
        REPAIR + 'hours = [1, 2, 3]\nsource = "hearsay"',
        "repair mend: source names no source 'hearsay'",
    ),
    "twice": (
        REPAIR + "hours = [1, 2, 3]\n" + REPAIR + "hours = [1, 2, 3]",
        "two repair entries have the id 'mend'",
    ),
    "idle_hold_point": (
        '[[hold_point]]\nid = "test"\ntitle = "Test"\nhours = [1, 2, 3]',
        "a hold point needs 'proves'",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", BROKEN)
def test_each_broken_file_is_named(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text, words = BROKEN[kind]
    package = tmp_path / f"declares_{kind}"
    package.mkdir()
    (package / "__init__.py").touch()
    (package / "base.toml").write_text(HEAD)
    (package / "facts.toml").write_text(text)
    monkeypatch.syspath_prepend(str(tmp_path))
    with pytest.raises(DeclarationError) as error:
        read_declaration(package.name)
    assert words in str(error.value)
    assert str(error.value).startswith(package.name)


def test_an_empty_package_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "declares_nothing").mkdir()
    (tmp_path / "declares_nothing" / "__init__.py").touch()
    monkeypatch.syspath_prepend(str(tmp_path))
    with pytest.raises(DeclarationError, match="no TOML file in it"):
        read_declaration("declares_nothing")


def test_a_declaration_from_data_names_key_and_value() -> None:
    with pytest.raises(
        DeclarationError,
        match=r"subsystem\.weight: .*greater than or equal to 0.000001 \(given: 0\)",
    ):
        declaration_from({"subsystem": {"id": "x", "title": "X", "weight": 0}}, {}, "plug")


def test_the_toy_world_is_sound() -> None:
    assert doubts(toy.knowledge()) == []


def test_a_worse_answer_that_asks_for_less_is_doubted() -> None:
    lax = toy.altered(
        toy.BOX,
        "criterion",
        "crack",
        outcomes=[
            {"answer": "none", "class": 0},
            {"answer": "one", "class": 1, "calls_for": ["glue_crack", "new_boards"]},
            {"answer": "rotten", "class": 3},
        ],
    )
    found = doubts(toy.knowledge(toy.WHEELS, lax))
    assert any('"rotten" is worse than "one" but no longer calls for' in d for d in found)


def test_what_nothing_calls_for_and_unknown_tags_are_doubted() -> None:
    idle = toy.altered(toy.WHEELS, "repair", "fix_shoe", needs=["brakes"], per_fact=["spoke"])
    idle = toy.altered(idle, "place", "axle", hours_per={"facts": ["spoks"], "usual": 10})
    idle = toy.altered(idle, "criterion", "shoe", outcomes=[
        {"answer": "sound", "class": 0}, {"answer": "loose", "class": 1}])  # fmt: skip
    found = "\n".join(doubts(toy.knowledge(idle, toy.BOX)))
    assert "wheels.fix_shoe: no outcome calls for it" in found
    assert "wheels.fix_shoe: no feature is called 'brakes'" in found
    assert "wheels.fix_shoe: no fact is called 'spoke'" in found
    assert "wheels.axle: no fact is called 'spoks'; did you mean \"spokes\"" in found


def test_a_major_finding_that_does_not_say_whether_it_can_be_used_is_doubted() -> None:
    mute = toy.altered(toy.WHEELS, "criterion", "shoe", outcomes=[
        {"answer": "sound", "class": 0},
        {"answer": "loose", "class": 3, "calls_for": ["fix_shoe"]},
    ])  # fmt: skip
    (doubt,) = doubts(toy.knowledge(mute, toy.BOX))
    assert doubt.startswith('wheels.shoe: "loose" is class 3; say which requirement it breaks')


def test_a_danger_of_which_nobody_is_warned_is_doubted() -> None:
    loose = next(c for c in toy.WHEELS["criterion"] if c["id"] == "shoe")["outcomes"][1]
    assert loose["danger"]
    silent = toy.altered(toy.WHEELS, "criterion", "shoe", outcomes=[
        {"answer": "sound", "class": 0},
        {k: v for k, v in loose.items() if k != "cautions"},
    ])  # fmt: skip
    (doubt,) = doubts(toy.knowledge(silent, toy.BOX))
    assert doubt.startswith('wheels.shoe: "loose" is a danger to people but raises no caution')


def test_a_symptom_of_answers_that_are_not_there_is_doubted() -> None:
    cause = {"criterion": "box.crack", "answers": ["rotted"], "strength": 0.5}
    wrong = toy.altered(toy.WHEELS, "symptom", "stuck", causes=[cause])
    (doubt,) = doubts(toy.knowledge(wrong, toy.BOX))
    assert "wheels.stuck: box.crack has no answer 'rotted'; did you mean \"rotten\"" in doubt


def test_an_answer_that_is_a_symptom_but_breaks_less_is_doubted() -> None:
    sign = {"criterion": "play", "from_class": 3}
    wrong = toy.altered(toy.WHEELS, "symptom", "stuck", shown_by=[sign])
    (doubt,) = doubts(toy.knowledge(wrong, toy.BOX))
    assert 'wheels.stuck: wheels.play "wobbles" is the symptom' in doubt
    assert "does not break wheels.turns" in doubt


# Where a criterion is seen from, and what is done about what is found


def test_a_finding_that_asks_for_no_work_must_say_why() -> None:
    shoe = [{"answer": "sound", "class": 0}, {"answer": "worn", "class": 2}]
    silent = toy.altered(toy.WHEELS, "criterion", "shoe", outcomes=shoe)
    found = doubts(toy.knowledge(silent, toy.BOX))
    assert any(
        d.startswith('wheels.shoe: "worn" is class 2 but calls for no repair') for d in found
    )
    shoe[1]["breaks_none"] = "it rolls without a brake"
    excused = toy.altered(toy.WHEELS, "criterion", "shoe", outcomes=shoe)
    assert not any('"worn"' in d for d in doubts(toy.knowledge(excused, toy.BOX)))


def test_a_repair_called_for_only_where_it_cannot_be_done_is_doubted() -> None:
    elsewhere = toy.altered(toy.WHEELS, "repair", "fix_shoe", excludes=["brake"])
    found = doubts(toy.knowledge(elsewhere, toy.BOX))
    assert "wheels.fix_shoe: no outcome calls for it and no step needs it" in found


def test_a_repair_that_only_an_idle_repair_brings_in_is_doubted() -> None:
    idle = toy.altered(toy.WHEELS, "criterion", "shoe", outcomes=[
        {"answer": "sound", "class": 0}, {"answer": "loose", "class": 1}])  # fmt: skip
    link = {"step": "polish_shoe", "because": "it must shine"}
    idle = toy.altered(idle, "repair", "fix_shoe", requires=[link])
    polish = {"id": "polish_shoe", "component": "rim", "title": "Polish it", "hours": [1, 1, 1]}
    idle["repair"].append(polish)
    found = "\n".join(doubts(toy.knowledge(idle, toy.BOX)))
    assert "wheels.fix_shoe: no outcome calls for it" in found
    assert "wheels.polish_shoe: no outcome calls for it" in found


def test_a_place_that_nothing_opens_is_doubted() -> None:
    lost = copy.deepcopy(toy.WHEELS)
    lost["place"].append(_place("lost"))
    lost = toy.altered(lost, "criterion", "noise", place="lost")
    (doubt,) = doubts(toy.knowledge(lost, toy.BOX))
    assert doubt.startswith("wheels.noise: nobody can see it: wheels.lost is not opened")
    lost["place"][-1]["at_visit"] = True
    assert doubts(toy.knowledge(lost, toy.BOX)) == []


def test_a_place_that_some_objects_lack_is_doubted_until_another_is_named() -> None:
    tyres = copy.deepcopy(toy.WHEELS)
    tyres["place"] += [
        _place("rubber_side", needs=["rubber"], at_visit=True),
        _place("iron_side", needs=["iron"], at_visit=True),
    ]
    one = toy.altered(tyres, "criterion", "noise", place="rubber_side")
    (doubt,) = doubts(toy.knowledge(one, toy.BOX))
    assert doubt.startswith("wheels.noise: nobody can see it on some objects")
    assert "depends on rubber" in doubt
    both = toy.altered(tyres, "criterion", "noise", place="rubber_side", also_open=["iron_side"])
    assert doubts(toy.knowledge(both, toy.BOX)) == []
    limited = toy.altered(tyres, "criterion", "noise", place="rubber_side", needs=["rubber"])
    assert doubts(toy.knowledge(limited, toy.BOX)) == []


def test_a_test_of_a_complaint_that_only_the_workshop_can_make_is_doubted() -> None:
    late = toy.altered(toy.WHEELS, "symptom", "stuck", tests=["noise"])
    (doubt,) = doubts(toy.knowledge(late, toy.BOX))
    assert doubt.startswith("wheels.stuck: its test wheels.noise cannot be made at a visit")
    assert "wheels.axle" in doubt


def _place(identifier: str, **keys: Any) -> dict[str, Any]:
    """A place of the cart that is easily opened."""
    hours = {"open_hours": [0.1, 0.1, 0.1], "close_hours": [0.1, 0.1, 0.1]}
    return {"id": identifier, "title": identifier, "open": "Open", "close": "Shut", **hours, **keys}


def test_what_stands_on_a_part_of_a_missing_plugin_is_left_out_whole() -> None:
    """A question without its part, and the pass mark and the search that need the question."""
    wheels = toy.altered(toy.WHEELS, "criterion", "play", component="axles.hub")
    knowledge = toy.knowledge(wheels, toy.BOX)
    assert "wheels.play" not in knowledge.criteria
    assert knowledge.hold_points["wheels.runs_true"].passes is None
    assert knowledge.symptoms["wheels.wobbles"].tests == ("wheels.broken_spokes",)
    assert {d.target for d in knowledge.dropped} == {"axles.hub", "wheels.play"}
    told = '[[history.complaint]]\nsymptom = "wheels.wobbles"\n'
    result = assess(toy.job(told), knowledge=knowledge)
    assert result.plans["full"].steps
    assert result.verdict.chances


@pytest.mark.parametrize("repair", ["new_spokes", "fix_shoe"])
def test_so_is_a_repair_and_no_plan_names_it(repair: str) -> None:
    wheels = toy.altered(toy.WHEELS, "repair", repair, component="axles.rim")
    knowledge = toy.knowledge(wheels, toy.BOX)
    assert f"wheels.{repair}" not in knowledge.repairs
    text = (
        '[instrument.features]\nbrake = true\n[answers.wheels]\nbroken_spokes = 3\nshoe = "loose"\n'
    )
    plan = assess(toy.job(text), knowledge=knowledge).plans["full"]
    assert f"wheels.{repair}" not in {s.step for s in plan.steps}
    assert plan.steps
