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


def test_a_detail_does_not_apply_where_nothing_that_opens_it_does() -> None:
    gone = 'play = "doesn\'t apply"\nnoise = "doesn\'t apply"\n'
    judged = of_two(gone, component="hub").graded.judgements
    assert judged["wheels.broken_spokes"].state is State.DOES_NOT_APPLY
