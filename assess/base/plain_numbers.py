"""Numbers in the user's files: finite, bounded, and written as numbers.

TOML has true, false and quoted text beside numbers; a model would take ``limit = true`` for 1.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from assess.base.guards import MOST_HOURS, MOST_MONEY


def written_as_number(value: Any) -> Any:
    """Pass on a number, zero without a sign; what is no number at all goes on to the model.

    Raises:
        ValueError: true, false or text.
    """
    if isinstance(value, bool):
        raise ValueError("expected a number")
    if isinstance(value, str):
        raise ValueError("expected a number, without quotation marks")
    return value + 0.0 if isinstance(value, float) else value


def not_a_truth(value: Any) -> Any:
    """Pass on a number or a text.

    Raises:
        ValueError: true or false.
    """
    if isinstance(value, bool):
        raise ValueError("expected a number")
    return value


WrittenAsNumber = BeforeValidator(written_as_number)
Money = Annotated[float, Field(ge=0, le=MOST_MONEY), WrittenAsNumber]
Hours = Annotated[float, Field(ge=0, le=MOST_HOURS), WrittenAsNumber]
