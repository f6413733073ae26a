"""Impossible declarations, each named with file, entry and key."""

from __future__ import annotations

from pathlib import Path

import pytest
import toy

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
    with pytest.raises(DeclarationError, match=r"subsystem\.weight: .*greater than 0 \(given: 0\)"):
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
