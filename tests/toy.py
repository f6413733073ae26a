"""A small world for engine tests: a hand cart with wheels and a box. It knows no organ."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

from assess.grading.judgements import Judgement, judge_given
from assess.job.answers import read_answer
from assess.job.configuration import Configuration
from assess.job.job_file import Answer, Job
from assess.job.job_reading import parse
from assess.knowledge.criteria import Criterion
from assess.knowledge.declaration import Declaration
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.merging import merged
from assess.knowledge.references import qualified
from assess.knowledge.trade import NEUTRAL

WORLD = Path(__file__).parent / "toy_world"
WHEELS: dict[str, Any] = tomllib.loads((WORLD / "wheels.toml").read_text(encoding="utf-8"))
BOX: dict[str, Any] = tomllib.loads((WORLD / "box.toml").read_text(encoding="utf-8"))
TRADE: dict[str, Any] = tomllib.loads((WORLD / "trade.toml").read_text(encoding="utf-8"))


def declaration(data: dict[str, Any]) -> Declaration:
    """A declaration from its data."""
    return Declaration.model_validate(data)


def knowledge(*data: dict[str, Any]) -> Knowledge:
    """The joint knowledge of declarations; the whole cart when none is given."""
    return merged(qualified(declaration(d)) for d in (*(data or (WHEELS, BOX)), TRADE))


def altered(data: dict[str, Any], kind: str, identifier: str, **changes: Any) -> dict[str, Any]:
    """A copy of declared data with some keys of one entry changed."""
    copied = copy.deepcopy(data)
    entry = next(e for e in copied[kind] if e["id"] == identifier)
    entry.update(changes)
    return copied


def squeaking(data: dict[str, Any], **means: Any) -> dict[str, Any]:
    """A copy of declared data in which a hub that squeaks means this."""
    squeaks = {"answer": "squeaks", "class": 1, **means}
    return altered(data, "criterion", "noise", outcomes=[{"answer": "silent", "class": 0}, squeaks])


def unless(data: dict[str, Any], needless: str, by: str) -> dict[str, Any]:
    """A copy of declared data in which one repair is done only unless another is."""
    return altered(data, "repair", needless, unless=[{"step": by, "because": "it is spared"}])


def job(text: str = "") -> Job:
    """A job from the text of its file; the format line is put in front."""
    return parse(f"format = 1\n{text}", "cart.toml", declaration(TRADE).trade or NEUTRAL)


def judge_one(
    criterion: Criterion, answer: Answer | None, configuration: Configuration
) -> Judgement:
    """Match one answer as it stands in a file with an outcome."""
    given = None if answer is None else read_answer(criterion, answer)
    return judge_given(criterion, given, configuration)
