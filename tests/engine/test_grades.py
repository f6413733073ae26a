"""Grades worked by hand, and what must hold for any answers."""

from __future__ import annotations

from dataclasses import replace

import pytest
import toy
from references import reference

from assess.assessment import Assessment, assess
from assess.base.errors import JobFileError
from assess.grading.grades import (
    CLASS_WORDS,
    DEFICITS,
    Grade,
    class_of,
    combine_grades,
    grade,
    grade_of,
)
from assess.knowledge.plugin_faults import PluginFault, Provider

CART = toy.knowledge()


def assessed(text: str) -> Assessment:
    return assess(toy.job(text), knowledge=CART)


def test_a_grade_worked_by_hand() -> None:
    result = assessed(
        '[answers.wheels]\nplay = "2 mm"\nnoise = "silent"\nbroken_spokes = 1\n'
        '[answers.box]\ncrack = "one"\n'
    )
    wheels = result.graded.subsystems["wheels"].grade
    # weights 4, 1, 3; deficits 1/2, 0, 1/2: 100 (1 - (2 + 1.5) / 8)
    assert wheels.lower == pytest.approx(56.25)
    assert wheels.upper == pytest.approx(56.25)
    assert wheels.settled
    box = result.graded.subsystems["box"].grade
    assert box.lower == pytest.approx(100 * (1 - 1 / 6))
    # subsystem weights 2 and 1
    assert result.graded.instrument.lower == pytest.approx((2 * 56.25 + 100 * 5 / 6) / 3)
    components = {name: list(s.components) for name, s in result.graded.subsystems.items()}
    assert components == {"wheels": ["wheels.hub", "wheels.rim"], "box": ["box.boards"]}


def test_unseen_is_bounds_and_never_fine() -> None:
    grade = assessed("").graded.subsystems["wheels"].grade
    assert (grade.lower, grade.upper) == (pytest.approx(100 * (1 - (4 + 1 / 6 + 3) / 8)), 100)
    assert (grade.best_class, grade.worst_class) == (0, 3)
    assert grade.coverage == 0


def test_what_is_seen_of_a_part_is_its_share_of_the_weight() -> None:
    graded = assessed("[answers.wheels]\nbroken_spokes = 1\n").graded
    wheels = graded.subsystems["wheels"]
    # Weights 4, 1 and 3, of which only the last is seen.
    assert wheels.grade.coverage == pytest.approx(3 / 8)
    assert not wheels.grade.settled
    assert wheels.components["wheels.rim"].settled
    assert graded.instrument.coverage == pytest.approx(2 / 3 * 3 / 8)
    assert [j.id for j in graded.findings] == ["wheels.broken_spokes"]
    assert [j.id for j in graded.unseen] == ["wheels.play", "box.crack", "wheels.noise"]


def test_not_seen_and_no_answer_are_the_same_but_not_applicable_is_neither() -> None:
    silent = assessed("").graded
    said = assessed('[answers.wheels]\nplay = "not seen"\n').graded
    assert said.subsystems["wheels"].grade == silent.subsystems["wheels"].grade
    left = assessed('[answers.wheels]\nplay = "doesn\'t apply"\n').graded
    assert left.subsystems["wheels"].grade.weight == 4


def test_a_feature_decides_what_applies() -> None:
    assert not assessed("").graded.judgements["wheels.shoe"].counts
    braked = assessed("[instrument.features]\nbrake = true\n")
    assert braked.graded.judgements["wheels.shoe"].is_unseen


def test_the_class_is_never_better_than_a_vital_criterion() -> None:
    result = assessed('[answers.wheels]\nplay = 9\nnoise = "silent"\nbroken_spokes = 0\n')
    wheels = result.graded.subsystems["wheels"].grade
    assert wheels.lower == pytest.approx(50)
    assert (wheels.best_class, wheels.worst_class) == (3, 3)


def test_a_criterion_that_is_not_vital_counts_by_its_weight_alone() -> None:
    result = assessed('[answers.wheels]\nplay = 0\nnoise = "silent"\nbroken_spokes = 8\n')
    wheels = result.graded.subsystems["wheels"].grade
    # Class 3 in three eighths of the weight: a deficit of 0.375, which is nearest to class 2.
    assert (wheels.best_class, wheels.worst_class) == (2, 2)
    assert [f.id for f in result.graded.findings] == ["wheels.broken_spokes"]


def test_counts_are_compared_as_shares() -> None:
    few = assessed("[instrument.facts]\nspokes = 100\n[answers.wheels]\nbroken_spokes = 8\n")
    half = assessed("[instrument.facts]\nspokes = 16\n[answers.wheels]\nbroken_spokes = 8\n")
    assert few.graded.judgements["wheels.broken_spokes"].best.condition == 2
    assert half.graded.judgements["wheels.broken_spokes"].best.condition == 3


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ('play = "7 s"', 'is a unit of time; expected length, such as "mm"'),
        ("play = -1", "-1 mm is out of range (0 or more)"),
        ("play = true", "expected a number in mm, got true"),
        ("broken_spokes = 2.5", "2.5 is not a whole number"),
        ('noise = "squeeks"', 'did you mean "squeaks"?'),
        ('nois = "silent"', 'did you mean "noise"?'),
        ("noise = 3", 'no such answer "3"'),
    ],
)
def test_impossible_answers_are_refused_by_line_and_key(answer: str, words: str) -> None:
    with pytest.raises(JobFileError) as error:
        assessed(f"[answers.wheels]\n{answer}\n")
    assert words in str(error.value)
    assert str(error.value).startswith("cart.toml:3: answers.wheels.")


def test_all_faults_are_named_at_once() -> None:
    with pytest.raises(JobFileError) as error:
        assessed('[answers.wheels]\nplay = -1\nnoise = "loud"\n[answers.box]\ncrak = 1\n')
    assert len(str(error.value).splitlines()) == 3


def test_improbable_numbers_are_questioned_not_refused() -> None:
    result = assessed("[instrument.facts]\nspokes = 90\n[answers.wheels]\nplay = 300\n")
    assert len(result.warnings) == 2
    assert all("improbable" in w for w in result.warnings)


def test_answers_of_absent_subsystems_are_kept_and_warned_about() -> None:
    result = assessed('[answers.motor]\nsparks = "many"\n')
    assert "no installed plugin knows this subsystem" in result.warnings[0]
    assert result.job.answers["motor"]["sparks"].answer == "many"


def test_four_classes_as_the_open_standard_counts_them() -> None:
    """EN 16096:2012 has condition classes 0 to 3 (number of classes; words are our own)."""
    rows = reference("condition_scales")["rows"]
    published = [r["grade"] for r in rows if r["scale"] == "EN 16096 condition class"]
    assert published == list(range(len(CLASS_WORDS)))
    assert len(DEFICITS) == len(published)


def test_classes_are_read_off_where_deficits_lie_nearest() -> None:
    assert [class_of(d) for d in DEFICITS] == [0, 1, 2, 3]
    assert [class_of(b) for b in (1 / 12, 1 / 3, 3 / 4)] == [0, 1, 2]
    assert [class_of(b + 1e-9) for b in (1 / 12, 1 / 3, 3 / 4)] == [1, 2, 3]


CART_WORN = (
    '[answers.wheels]\nplay = "2 mm"\nnoise = "silent"\nbroken_spokes = 1\n'
    '[answers.box]\ncrack = "one"\n'
)


def test_a_part_whose_plugin_failed_may_be_anything() -> None:
    judgements = assessed(CART_WORN).graded.judgements
    graded = grade(judgements, CART, frozenset({"box", "no such part"}))
    box = graded.subsystems["box"]
    assert (box.title, box.assessed, box.components) == (CART.subsystems["box"].title, False, {})
    assert box.grade == Grade(0, 100, 0, 3, coverage=0, weight=1)
    assert graded.instrument.lower == pytest.approx(2 * 56.25 / 3)
    assert graded.instrument.upper == pytest.approx((2 * 56.25 + 100) / 3)
    assert graded.instrument.coverage == pytest.approx(2 / 3)
    assert graded.subsystems["wheels"].assessed
    assert "no such part" not in graded.subsystems


def test_a_part_that_nobody_could_declare_weighs_like_the_others() -> None:
    faults = (
        PluginFault(Provider("mast"), "declare", "it raised", "sail"),
        PluginFault(Provider("motor"), "declare", "it raised"),
        PluginFault(Provider("other_box"), "declare", "it raised", "box"),
    )
    graded = grade(assessed(CART_WORN).graded.judgements, replace(CART, faults=faults))
    assert list(graded.subsystems) == ["wheels", "box", "sail", "motor"]
    for name in ("sail", "motor"):
        assert graded.subsystems[name].grade == Grade(0, 100, 0, 3, coverage=0, weight=1.5)
        assert not graded.subsystems[name].assessed
    assert graded.subsystems["box"].assessed
    # The weights of wheels and box are 2 and 1, so each of the others has 1.5.
    assert graded.instrument.lower == pytest.approx((2 * 56.25 + 100 * 5 / 6) / 6)
    assert graded.instrument.weight == 6


def test_the_whole_is_at_most_a_class_better_than_its_worst_part() -> None:
    sound, failed = Grade(100, 100, 0, 0, 1, 5), Grade(0, 0, 3, 3, 1, 5)
    whole = combine_grades([(99, sound), (1, failed)])
    assert (whole.lower, whole.upper) == (pytest.approx(99), pytest.approx(99))
    assert (whole.best_class, whole.worst_class) == (2, 2)
    assert (whole.coverage, whole.settled, whole.weight) == (1, True, 100)


@pytest.mark.parametrize(
    ("points", "condition"), [(92, 0), (91, 1), (67, 1), (66, 2), (25.5, 2), (24.5, 3)]
)
def test_a_whole_of_like_parts_is_of_their_class(points: float, condition: int) -> None:
    """Classes change at deficits of 1/12, 1/3 and 3/4: below 91.7, 66.7 and 25 points."""
    part = Grade(points, points, condition, condition, coverage=1, weight=5)
    whole = combine_grades([(2, part), (1, part)])
    assert (whole.best_class, whole.worst_class) == (condition, condition)


def test_nothing_that_applies_is_a_grade_without_weight() -> None:
    empty = grade_of([])
    assert empty == combine_grades([]) == combine_grades([(3, empty)])
    assert empty == Grade(100, 100, 0, 0, coverage=1, weight=0)


def test_a_whole_with_anything_unseen_is_not_settled_however_little_that_is() -> None:
    sound, unseen = Grade(100, 100, 0, 0, 1, 5), Grade(0, 100, 0, 3, 0, 1)
    whole = combine_grades([(1e20, sound), (1, unseen)])
    assert not whole.settled
    assert whole.coverage == pytest.approx(1, abs=1e-6)


def test_findings_are_sorted_by_danger_then_urgency_then_class_then_weight() -> None:
    judgements = assessed(
        '[answers.wheels]\nplay = 9\nnoise = "squeaks"\nbroken_spokes = 1\n'
        '[answers.box]\ncrack = "rotten"\n'
    ).graded.judgements

    def first(**changes: dict[str, bool | int]) -> list[str]:
        changed = {
            name: replace(j, best=j.best.model_copy(update=changes.get(j.id.split(".")[1], {})))
            for name, j in judgements.items()
        }
        return [finding.id.split(".")[1] for finding in grade(changed, CART).findings]

    # Classes 3, 1, 2 and 3; weights 4, 1, 3 and 1.
    assert first() == ["play", "crack", "broken_spokes", "noise"]
    assert first(noise={"danger": True})[0] == "noise"
    assert first(noise={"urgency": 3}) == ["play", "crack", "noise", "broken_spokes"]
    assert first(play={"urgency": 0})[-1] == "play"


def test_what_is_unseen_is_sorted_by_vital_then_weight() -> None:
    unseen = assessed("[instrument.features]\nbrake = true\n").graded.unseen
    assert [j.id for j in unseen] == [
        "wheels.play",
        "wheels.broken_spokes",
        "box.crack",
        "wheels.noise",
        "wheels.shoe",
    ]


def test_a_share_of_none_is_judged_as_the_number_itself() -> None:
    wheels = toy.altered(toy.WHEELS, "fact", "spokes", possible=[0, 100], plausible=[0, 20])
    text = "[instrument.facts]\nspokes = 0\n[answers.wheels]\nbroken_spokes = 1\n"
    graded = assess(toy.job(text), knowledge=toy.knowledge(wheels, toy.BOX)).graded
    assert graded.judgements["wheels.broken_spokes"].outcome.says == "half or more"
