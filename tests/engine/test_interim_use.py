"""May it be used until something is done: each answer, and which one goes before another."""

from __future__ import annotations

import copy
from typing import Any

import pytest
import toy

from assess.assessment import Assessment, assess
from assess.knowledge.knowledge_base import Knowledge

HARM = {"findings": ["wheels.play"], "from_class": 2, "because": "the bearing eats the axle"}


def with_harm() -> Knowledge:
    """The cart, of which the trade says what use does harm with."""
    trade: dict[str, Any] = copy.deepcopy(toy.TRADE)
    trade["trade"]["use_harms"] = [HARM]
    return toy.merged(toy.qualified(toy.declaration(d)) for d in (toy.WHEELS, toy.BOX, trade))


SOUND = '[answers.wheels]\nplay = "0 mm"\nnoise = "silent"\nbroken_spokes = 0\n'
BOX = '[answers.box]\ncrack = "none"\n'
CASES = {
    "freely": SOUND + BOX,
    "gently": SOUND.replace("broken_spokes = 0", "broken_spokes = 1") + BOX,
    "harm": SOUND.replace("0 mm", "2 mm") + BOX,
    "unknown": "",
}


def used(text: str, knowledge: Knowledge | None = None) -> Assessment:
    return assess(toy.job(text), knowledge=knowledge or with_harm())


@pytest.mark.parametrize("answer", CASES)
def test_each_answer(answer: str) -> None:
    use = used(CASES[answer]).interim_use
    assert use.answer == answer
    assert use.allowed == (answer in ("freely", "gently"))
    assert use.because == ((HARM["because"],) if answer == "harm" else ())


def test_a_fault_that_does_not_keep_it_from_rolling_asks_for_no_care() -> None:
    squeaking = {name: text.replace("silent", "squeaks") for name, text in CASES.items()}
    assert used(squeaking["freely"]).interim_use.answer == "freely"
    gently = used(squeaking["gently"]).interim_use
    assert (gently.answer, [f.id for f in gently.findings]) == ("gently", ["wheels.broken_spokes"])


def test_without_the_trades_word_nothing_does_harm() -> None:
    assert used(CASES["harm"], toy.knowledge()).interim_use.answer in ("freely", "gently")


def test_what_is_kept_as_evidence_is_not_used() -> None:
    text = "[owner]\nsignificance = 3\n" + CASES["harm"]
    assert used(text).interim_use.answer == "evidence"


def test_a_danger_goes_before_everything() -> None:
    text = "[owner]\nsignificance = 3\n" + CASES["harm"].replace(
        "[answers.wheels]", '[instrument.features]\nbrake = true\n[answers.wheels]\nshoe = "loose"'
    )
    use = used(text).interim_use
    assert use.answer == "danger"
    assert [f.id for f in use.findings] == ["wheels.shoe"]


def test_what_is_told_not_to_work_is_not_forced() -> None:
    text = '[history]\nrolls = "not at all"\n' + CASES["freely"]
    assert used(text).interim_use.answer == "stopped"
