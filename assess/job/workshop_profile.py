"""The workshop profile: rate, hours, prices and habits of one workshop.

Defaults lie in ``workshop.toml`` inside the package; a profile of the user's own
overrides any of them, and the prices and hours of single materials and repairs.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Self

import tomli
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from assess.base.errors import WorkshopError, did_you_mean
from assess.knowledge.model_base import HoursRange
from assess.knowledge.toml_loader import error_lines

Share = Annotated[float, Field(ge=0, le=1)]
Chance = Annotated[float, Field(gt=0, lt=1)]
"""A probability; never 0 or 1, since no number of answers could ever correct that."""
ROUNDING = 0.005
FORMER_KEYS = {"kinship": "state_persistence"}
"""Keys of ``[care]`` that had another name; files with the old name are still read."""


class CareState(BaseModel):
    """One state of care: how likely it is beforehand, and how likely it makes each class 0..3."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    prior: Annotated[float, Field(gt=0, le=1)]
    classes: tuple[Chance, Chance, Chance, Chance]

    @model_validator(mode="after")
    def _adds_up(self) -> Self:
        if abs(sum(self.classes) - 1) > ROUNDING:
            raise ValueError(f"the chances of the four classes add up to {sum(self.classes):g}")
        return self


class Care(BaseModel):
    """What is believed of an instrument before anything is seen.

    See :mod:`assess.uncertainty.bayes_network`.

    Attributes:
        states: the states of care; their priors add up to one.
        state_persistence: chance that a subsystem has fared like the instrument as a whole.
        rare: how likely an outcome that ends or dissuades work is, beside another of its class.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    states: Annotated[tuple[CareState, ...], Field(min_length=1)]
    state_persistence: Share
    rare: Annotated[float, Field(gt=0, le=1)]

    @model_validator(mode="after")
    def _adds_up(self) -> Self:
        total = sum(state.prior for state in self.states)
        if abs(total - 1) > ROUNDING:
            raise ValueError(f"the priors of the states of care add up to {total:g}, not to 1")
        return self


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
        verdict_enough: how likely a verdict must be to be given at all.
        settled_doubt: a verdict is settled when what is unseen could change it no likelier.
        worth_looking: more looking is worth while when it makes the verdict surer by more.
        bench_hours_a_day: hands-on hours of a bench day, from nine to midnight at most.
        bench_days: weekdays at the bench, 0 Monday .. 6 Sunday.
        prices: material id -> price per unit.
        hours: step id -> low, likely, high hours.
        care: what is believed of what nobody has seen.
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
    verdict_enough: Share
    settled_doubt: Share
    worth_looking: Share
    bench_hours_a_day: Annotated[float, Field(ge=0, le=15)]
    bench_days: tuple[Annotated[int, Field(ge=0, le=6)], ...]
    prices: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)
    hours: dict[str, HoursRange] = Field(default_factory=dict)
    care: Care


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
    return _checked(_over_defaults(given), path)


def _over_defaults(given: dict[str, Any]) -> dict[str, Any]:
    data = {**_default_data(), **given}
    if isinstance(given.get("care"), dict):
        care = {FORMER_KEYS.get(key, key): value for key, value in given["care"].items()}
        data["care"] = {**_default_data()["care"], **care}
    return data


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
    return tomli.loads((files("assess.job") / "workshop.toml").read_text(encoding="utf-8"))
