"""Questions that other questions open."""

from __future__ import annotations

from typing import Any

import pytest
import toy

from assess.assessment import Assessment, assess
from assess.grading.judgements import State
from assess.grading.openings import Openness, is_opened, openness
from assess.knowledge.knowledge_base import Knowledge

SPARED = """
[answers.wheels]
noise = "silent"
"""


def with_opened(criterion: str, by: str, **also: Any) -> Knowledge:
    data = toy.altered(toy.WHEELS, "criterion", criterion, opened_by={"criterion": by, **also})
    return toy.knowledge(data, toy.BOX)


def test_a_sound_answer_spares_the_question_that_it_opens() -> None:
    knowledge = with_opened("broken_spokes", "noise")
    judged = assess(toy.job(SPARED), knowledge=knowledge).graded.judgements
    assert judged["wheels.broken_spokes"].outcome.condition == 0
    assert judged["wheels.broken_spokes"].given.startswith("not asked: Noise of the hub")


def test_a_finding_opens_the_question() -> None:
    knowledge = with_opened("broken_spokes", "noise")
    text = SPARED.replace("silent", "squeaks")
    judged = assess(toy.job(text), knowledge=knowledge).graded.judgements
    assert judged["wheels.broken_spokes"].state is State.NO_ANSWER
    assert is_opened(judged["wheels.broken_spokes"], judged)


def test_a_question_waits_for_the_one_that_opens_it() -> None:
    result = assess(toy.job(""), knowledge=with_opened("broken_spokes", "noise"))
    judged = result.graded.judgements
    assert not is_opened(judged["wheels.broken_spokes"], judged)
    looks = result.information_value.looks(everything=True)
    assert "wheels.broken_spokes" not in [look.criterion for look in looks]


def test_an_answer_given_all_the_same_counts() -> None:
    knowledge = with_opened("broken_spokes", "noise")
    judged = assess(toy.job(SPARED + "broken_spokes = 8\n"), knowledge=knowledge).graded.judgements
    assert judged["wheels.broken_spokes"].outcome.condition == 3


def test_the_least_class_that_opens_is_declared() -> None:
    knowledge = with_opened("broken_spokes", "noise", from_class=2)
    text = SPARED.replace("silent", "squeaks")
    judged = assess(toy.job(text), knowledge=knowledge).graded.judgements
    assert judged["wheels.broken_spokes"].is_seen


PLAY_OR_NOISE = [{"criterion": "play"}, {"criterion": "noise"}]
NEITHER, NOISY, LOOSE = 'play = 0\nnoise = "silent"\n', 'noise = "squeaks"\n', "play = 2\n"


def of_two(answers: str, **also: Any) -> Assessment:
    """The spokes, which play or noise opens."""
    data = toy.altered(toy.WHEELS, "criterion", "broken_spokes", opened_by=PLAY_OR_NOISE, **also)
    return assess(toy.job(f"[answers.wheels]\n{answers}"), knowledge=toy.knowledge(data, toy.BOX))


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        (NOISY, Openness.OPEN),
        (LOOSE, Openness.OPEN),
        ("play = 0\n", Openness.WAITS),
        (NEITHER, Openness.SPARED),
        ('play = 0\nnoise = "not seen"\n', Openness.OPEN),
        ('play = 0\nnoise = "doesn\'t apply"\n', Openness.SPARED),
        ('play = "doesn\'t apply"\nnoise = "doesn\'t apply"\n', Openness.OPEN),
    ],
)
def test_any_of_several_questions_opens_a_detail(answers: str, expected: Openness) -> None:
    judged = of_two(answers).graded.judgements
    assert openness(judged["wheels.broken_spokes"], judged) is expected
    spared = judged["wheels.broken_spokes"].is_seen
    assert spared is (expected is Openness.SPARED)


def test_a_spared_question_names_what_was_answered_and_not_what_does_not_apply() -> None:
    judged = of_two('play = 0\nnoise = "doesn\'t apply"\n').graded.judgements
    assert judged["wheels.broken_spokes"].given == "not asked: Play of the hub: 0 mm"
    judged = of_two(NEITHER).graded.judgements
    both = "not asked: Play of the hub: 0 mm; Noise of the hub: silent"
    assert judged["wheels.broken_spokes"].given == both


def test_a_detail_does_not_apply_where_nothing_that_opens_it_does() -> None:
    gone = 'play = "doesn\'t apply"\nnoise = "doesn\'t apply"\n'
    judged = of_two(gone, component="hub").graded.judgements
    assert judged["wheels.broken_spokes"].state is State.DOES_NOT_APPLY


def test_a_detail_goes_with_its_own_component_whatever_else_opens_it() -> None:
    gone = 'play = "doesn\'t apply"\nnoise = "doesn\'t apply"\n'
    data = toy.altered(toy.WHEELS, "criterion", "noise", component="rim")
    data = toy.altered(data, "criterion", "broken_spokes", opened_by=PLAY_OR_NOISE)
    result = assess(toy.job(f"[answers.wheels]\n{gone}"), knowledge=toy.knowledge(data, toy.BOX))
    assert result.graded.judgements["wheels.broken_spokes"].state is State.DOES_NOT_APPLY


def test_what_is_built_without_the_first_question_is_asked_the_detail_all_the_same() -> None:
    """Whoever has no brake to look at may still have spokes that break."""
    judged = assess(toy.job(), knowledge=with_opened("broken_spokes", "shoe")).graded.judgements
    assert judged["wheels.shoe"].state is State.NOT_PRESENT
    assert is_opened(judged["wheels.broken_spokes"], judged)


def test_a_detail_is_asked_where_the_plugin_of_the_first_question_is_missing() -> None:
    data = toy.altered(toy.WHEELS, "criterion", "noise", opened_by={"criterion": "box.crack"})
    both, alone = (
        assess(toy.job(), knowledge=toy.knowledge(*parts)).graded.judgements
        for parts in ((data, toy.BOX), (data,))
    )
    assert openness(both["wheels.noise"], both) is Openness.WAITS
    assert openness(alone["wheels.noise"], alone) is Openness.OPEN


@pytest.mark.parametrize(("noise", "spared"), [("squeaks", False), ("silent", True)])
def test_an_answer_that_another_reading_has_said_already_is_an_answer(
    noise: str, spared: bool
) -> None:
    data = toy.altered(toy.WHEELS, "criterion", "noise", beside="play")
    data = toy.altered(data, "criterion", "broken_spokes", opened_by={"criterion": "noise"})
    text = f'[answers.wheels]\nplay = 7\nnoise = "{noise}"\n'
    judged = assess(toy.job(text), knowledge=toy.knowledge(data, toy.BOX)).graded.judgements
    assert judged["wheels.noise"].state is State.SAID_ALREADY
    detail = judged["wheels.broken_spokes"]
    assert openness(detail, judged) is (Openness.SPARED if spared else Openness.OPEN)
    assert detail.given == (f"not asked: Noise of the hub: {noise}" if spared else "")


WOBBLES = '[[history.complaint]]\nsymptom = "wheels.wobbles"\n'


def of_a_chain(answers: str) -> Assessment:
    """Play opens noise, and noise opens the spokes; a rim that wobbles is tested by its spokes."""
    data = toy.altered(toy.WHEELS, "criterion", "noise", opened_by={"criterion": "play"})
    data = toy.altered(data, "criterion", "broken_spokes", opened_by={"criterion": "noise"})
    data = toy.altered(data, "symptom", "wobbles", tests=["broken_spokes"])
    text = f"{WOBBLES}[answers.wheels]\n{answers}"
    return assess(toy.job(text), knowledge=toy.knowledge(data, toy.BOX))


def test_one_sound_answer_spares_a_chain_of_questions() -> None:
    judged = of_a_chain("play = 0\n").graded.judgements
    for name, first in (("noise", "Play of the hub"), ("broken_spokes", "Noise of the hub")):
        assert judged[f"wheels.{name}"].outcome.condition == 0
        assert judged[f"wheels.{name}"].given.startswith(f"not asked: {first}")


@pytest.mark.parametrize(
    ("answers", "test"),
    [("", "play"), ("play = 2\n", "noise"), (LOOSE + NOISY, "broken_spokes")],
)
def test_in_a_chain_the_first_question_without_an_answer_is_the_one_to_ask(
    answers: str, test: str
) -> None:
    [explained] = of_a_chain(answers).complaints
    assert explained.tests == (f"wheels.{test}",)


def test_of_several_first_questions_one_without_an_answer_is_to_be_asked() -> None:
    data = toy.altered(toy.WHEELS, "criterion", "broken_spokes", opened_by=PLAY_OR_NOISE)
    data = toy.altered(data, "symptom", "wobbles", tests=["broken_spokes"])
    text = f"{WOBBLES}[answers.wheels]\nplay = 0\n"
    [explained] = assess(toy.job(text), knowledge=toy.knowledge(data, toy.BOX)).complaints
    assert explained.tests == ("wheels.noise",)
