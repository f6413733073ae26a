"""What holds where a declaration or a job file says nothing.

Defaults are constructed without checks, so that no validator is built for them; they are checked
here.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from pydantic import BaseModel

from assess.job.job_file import Strict
from assess.knowledge.model_base import Declared
from assess.knowledge.prior_beliefs import NEUTRAL_CARE
from assess.knowledge.trade import NEUTRAL


def _kinds(base: type[BaseModel]) -> Iterator[type[BaseModel]]:
    for kind in base.__subclasses__():
        yield kind
        yield from _kinds(kind)


DEFAULTS = [
    field.default
    for base in (Declared, Strict)
    for kind in _kinds(base)
    for field in kind.model_fields.values()
    if isinstance(field.default, BaseModel)
]


def test_defaults_hold_other_models() -> None:
    assert len(DEFAULTS) > 20


@pytest.mark.parametrize(
    "default", [*DEFAULTS, NEUTRAL, NEUTRAL_CARE], ids=lambda m: type(m).__name__
)
def test_a_default_is_as_sound_as_what_is_said(default: BaseModel) -> None:
    assert type(default).model_validate(default.model_dump(by_alias=True)) == default
