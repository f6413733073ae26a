"""The workshop profile: rate, hours, prices and habits of one workshop.

Defaults lie in ``workshop.toml`` inside the package; a profile of the user's own
overrides any of them, and the prices and hours of single materials and repairs.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any

import tomli
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from assess.errors import WorkshopError, did_you_mean
from assess.knowledge import HoursRange
from assess.reading import error_lines

Share = Annotated[float, Field(ge=0, le=1)]


class Workshop(BaseModel):
    """What the estimate and the verdict need to know of the workshop.

    Attributes:
        currency: how amounts are labelled.
        rate_per_hour: charged per bench hour.
        overlap: share of the summed hours that is really spent, since jobs are batched.
        pace: personal speed: 1 as declared, above 1 slower.
        whole_job_spread: standard deviation of the logarithm of one factor shared by all
            hours, since misjudgements of one instrument go the same way.
        contingency: added to the estimate, as a share.
        transport: charged when the instrument goes to the workshop and back.
        most_hours: the longest job the workshop takes on, in bench hours.
        sure_enough: probability of staying within the ceiling that is asked for.
        settled_enough: share of the assessment's weight that must be seen.
        bench_hours_a_day: hands-on hours of a bench day, from nine to midnight at most.
        bench_days: weekdays at the bench, 0 Monday .. 6 Sunday.
        prices: material id -> price per unit.
        hours: step id -> low, likely, high hours.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    currency: str
    rate_per_hour: Annotated[float, Field(ge=0)]
    overlap: Annotated[float, Field(gt=0, le=1)]
    pace: Annotated[float, Field(gt=0, le=10)]
    whole_job_spread: Annotated[float, Field(ge=0, le=2)]
    contingency: Share
    transport: Annotated[float, Field(ge=0)]
    most_hours: Annotated[float, Field(gt=0)]
    sure_enough: Share
    settled_enough: Share
    bench_hours_a_day: Annotated[float, Field(ge=0, le=15)]
    bench_days: tuple[Annotated[int, Field(ge=0, le=6)], ...]
    prices: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)
    hours: dict[str, HoursRange] = Field(default_factory=dict)


def load_workshop(path: Path | None = None) -> Workshop:
    """The workshop profile at a path over the defaults, or the defaults alone.

    Raises:
        WorkshopError: the file cannot be read, or says something impossible.
    """
    if path is None:
        return _default()
    try:
        given = tomli.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise WorkshopError(f"{path}: cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise WorkshopError(f"{path}: not a text file in UTF-8") from error
    except tomli.TOMLDecodeError as error:
        raise WorkshopError(f"{path}: not valid TOML: {error}") from error
    return _checked({**_default_data(), **given}, path)


def _checked(data: dict[str, Any], path: Path) -> Workshop:
    unknown = sorted(set(data) - set(Workshop.model_fields))
    if unknown:
        hint = did_you_mean(unknown[0], Workshop.model_fields)
        raise WorkshopError(f"{path}: unknown key {unknown[0]!r}; {hint}")
    try:
        return Workshop.model_validate(data)
    except ValidationError as error:
        raise WorkshopError("\n".join(error_lines(error, f"{path}: "))) from None


@lru_cache(maxsize=1)
def _default() -> Workshop:
    return Workshop.model_validate(_default_data())


def _default_data() -> dict[str, Any]:
    return tomli.loads((files("assess") / "workshop.toml").read_text(encoding="utf-8"))
