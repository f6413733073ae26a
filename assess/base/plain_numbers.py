"""Numbers and days in the user's files: finite, bounded, and written as such.

TOML has true, false and quoted text beside numbers; a model would take ``limit = true`` for 1.
"""

from __future__ import annotations

import datetime as dt
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


def written_as_day(value: Any) -> Any:
    """Pass on a day, and turn the text of one into it.

    Raises:
        ValueError: anything else, such as a number, which a library may take for seconds.

    >>> written_as_day("2026-05-02")
    datetime.date(2026, 5, 2)
    """
    if type(value) is dt.date:
        return value
    try:
        return dt.datetime.strptime(value, "%Y-%m-%d").date()
    except (TypeError, ValueError):
        raise ValueError("expected a day, such as 2026-05-02") from None


WrittenAsNumber = BeforeValidator(written_as_number)
Money = Annotated[float, Field(ge=0, le=MOST_MONEY), WrittenAsNumber]
Hours = Annotated[float, Field(ge=0, le=MOST_HOURS), WrittenAsNumber]
