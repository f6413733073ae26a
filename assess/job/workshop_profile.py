"""The workshop profile: rate, hours, prices and habits of one workshop.

Defaults lie in ``workshop.toml`` inside the package; a profile of the user's own
overrides any of them, and the prices and hours of single materials and repairs. What is
believed of unseen parts (``[care]``) has its defaults from the trade.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    model_validator,
)

from assess.base.errors import WorkshopError, hints, shortened
from assess.base.guards import LEAST, MOST_HOURS, MOST_MONEY
from assess.base.plain_numbers import Hours, Money, WrittenAsNumber
from assess.base.text_files import read_text
from assess.base.toml_text import toml_data
from assess.base.validation import error_lines
from assess.base.year_days import days_off
from assess.job.letter_profile import LetterProfile
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import HoursRange
from assess.knowledge.prior_beliefs import Care, Share
from assess.knowledge.trade import Trade
from assess.knowledge.work import MOST_LEAD_DAYS
from assess.plugin.registry import knowledge_in_use

FORMER_KEYS = {"kinship": "state_persistence"}
"""Keys of ``[care]`` that had another name; files with the old name are still read."""


def _day_off(entry: Any) -> Any:
    """One day off as text; a date that TOML reads as one is written out again."""
    text = entry.isoformat() if isinstance(entry, dt.date) else entry
    if isinstance(text, str):
        days_off((text,))
    return text


def _as_list(given: Any) -> Any:
    """A single day off as a list of one."""
    return [given] if isinstance(given, str | dt.date) else given


DayOff = Annotated[str, BeforeValidator(_day_off)]


class EstimateClass(BaseModel):
    """How wide estimates come out that are made at one stage of knowing.

    Attributes:
        number: 5 the earliest .. 1 the latest.
        seen_below: the share seen below which an estimate is of this class.
        said: what such an estimate is, in words.
        under, over: percent under and over the figure, narrow and wide.
        source: where the ranges are published.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    number: Annotated[int, Field(ge=1, le=5), WrittenAsNumber]
    seen_below: Annotated[float, Field(ge=LEAST), WrittenAsNumber]
    said: str
    under: tuple[int, int]
    over: tuple[int, int]
    source: str


class Workshop(BaseModel):
    """What the estimate and the verdict need to know of the workshop.

    Attributes:
        currency: how amounts are labelled.
        rate_per_hour: charged per bench hour.
        overlap: share of the summed hours that is really spent, since jobs are batched; of a
            long job, what lies beyond its first hours.
        overlap_from: bench hours that are spent in full: in a short job nothing is batched.
        pace: personal speed: 1 as declared, above 1 slower.
        whole_job_spread: standard deviation of the logarithm of one factor shared by all
            hours, since misjudgements of one job go the same way.
        contingency: added to the estimate, as a share.
        transport: charged when it goes to the workshop and back; half of it for the way back alone.
        most_hours: the longest job the workshop takes on, in bench hours.
        sure_enough: the probability of staying within the owner's limit that is asked for.
        verdict_enough: how likely a verdict must be to be given at all.
        settled_doubt: a verdict is settled when the risk that unseen parts change it is at most
            this.
        worth_looking: more looking is worth it when it makes the verdict surer by more.
        worth_times: a cost beyond this many times the stated worth is advised against.
        conserve_from: significance or attachment, of 0..3, from which it is conserved.
        bench_hours_a_day: hands-on hours of a bench day, from nine to midnight at most.
        visit_minutes: minutes of a visit in the home.
        tools: tools in the bag besides those that every bag holds.
        bench_days: weekdays at the bench, 0 Monday .. 6 Sunday.
        days_off: holidays and other days without work, see :mod:`assess.base.year_days`.
        prices: material id -> price per unit.
        lead_days: material id -> days to get it; 0 for what is kept in stock.
        hours: step id -> low, likely, high hours.
        estimate_classes: how wide estimates come out, by the share seen, narrowest last.
        care: what is believed of what nobody has seen.
        letter: sender, sentences, terms and forms of the letter to the owner.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    currency: str
    rate_per_hour: Money
    overlap: Annotated[float, Field(ge=LEAST, le=1), WrittenAsNumber]
    overlap_from: Hours
    pace: Annotated[float, Field(ge=0.01, le=10), WrittenAsNumber]
    whole_job_spread: Annotated[float, Field(ge=0, le=2), WrittenAsNumber]
    contingency: Share
    transport: Money
    most_hours: Annotated[float, Field(ge=LEAST, le=MOST_HOURS), WrittenAsNumber]
    sure_enough: Share
    verdict_enough: Share
    settled_doubt: Share
    worth_looking: Share
    worth_times: Annotated[float, Field(ge=LEAST, le=MOST_MONEY), WrittenAsNumber]
    conserve_from: Annotated[int, Field(ge=0, le=4), WrittenAsNumber]
    bench_hours_a_day: Annotated[float, Field(ge=0, le=15), WrittenAsNumber]
    visit_minutes: Annotated[float, Field(ge=LEAST, le=1440), WrittenAsNumber]
    tools: tuple[str, ...] = ()
    bench_days: tuple[Annotated[int, Field(ge=0, le=6), WrittenAsNumber], ...]
    days_off: Annotated[tuple[DayOff, ...], BeforeValidator(_as_list)] = ()
    prices: dict[str, Money] = Field(default_factory=dict)
    lead_days: dict[str, Annotated[int, Field(ge=0, le=MOST_LEAD_DAYS), WrittenAsNumber]] = Field(
        default_factory=dict
    )
    hours: dict[str, HoursRange] = Field(default_factory=dict)
    estimate_classes: Annotated[tuple[EstimateClass, ...], Field(min_length=1)]
    care: Care
    letter: LetterProfile

    @model_validator(mode="after")
    def _every_share_has_a_class(self) -> Self:
        bounds = [kind.seen_below for kind in self.estimate_classes]
        if bounds != sorted(bounds) or bounds[-1] <= 1:
            raise ValueError("estimate_classes must rise in seen_below and end above 1")
        return self

    @property
    def sure_quantile(self) -> float:
        """``sure_enough`` as a quantile that every distribution has: never quite 0 or 1."""
        return min(max(self.sure_enough, 1e-6), 1 - 1e-6)

    def share_spent(self, summed_hours: float) -> float:
        """Share of a job's summed bench hours that is really spent, from ``overlap`` to 1."""
        if summed_hours <= self.overlap_from:
            return 1.0
        beyond = 1 - self.overlap_from / summed_hours
        return 1 - (1 - self.overlap) * beyond

    def estimate_class(self, seen: float) -> EstimateClass:
        """The class of an estimate made with this share of the object seen."""
        return next(kind for kind in self.estimate_classes if seen < kind.seen_below)


def load_workshop(path: Path | None = None, trade: Trade | None = None) -> Workshop:
    """The workshop profile at a path over the defaults, or the defaults alone.

    Args:
        path: the profile of the user's own.
        trade: gives what is believed of unseen parts, where the profile does not; that of the
            installed plugins when left out.

    Raises:
        WorkshopError: the file cannot be read, or says something impossible.
    """
    care = (knowledge_in_use().trade if trade is None else trade).care
    if path is None:
        return _default(care)
    given = toml_data(read_text(path, WorkshopError), str(path), WorkshopError)
    return _checked(_over_defaults(given, care), path)


def unknown_ids(workshop: Workshop, knowledge: Knowledge) -> list[str]:
    """A line for every id in a table of the profile that no installed plugin declares."""
    tables: tuple[tuple[str, Iterable[str], set[str]], ...] = (
        ("hours", workshop.hours, {*knowledge.steps, *knowledge.searches()}),
        ("prices", workshop.prices, set(knowledge.materials)),
        ("lead_days", workshop.lead_days, set(knowledge.materials)),
    )
    hint = hints()
    lines = [
        f'{table}."{name}" has no effect: no installed plugin declares it; {hint(name, known)}'
        for table, given, known in tables
        for name in given
        if name not in known
    ]
    return shortened("\n".join(lines)).splitlines()


def _over_defaults(given: dict[str, Any], care: Care) -> dict[str, Any]:
    usual = _default_data(care)
    data = {**usual, **given}
    if isinstance(given.get("letter"), dict):
        data["letter"] = {**usual["letter"], **given["letter"]}
    if isinstance(given.get("care"), dict):
        own = {FORMER_KEYS.get(key, key): value for key, value in given["care"].items()}
        data["care"] = {**care.model_dump(), **own}
    return data


def _checked(data: dict[str, Any], path: Path) -> Workshop:
    try:
        return Workshop.model_validate(data)
    except ValidationError as error:
        raise WorkshopError("\n".join(error_lines(error, Workshop, f"{path}: "))) from None


@lru_cache(maxsize=4)
def _default(care: Care) -> Workshop:
    return Workshop.model_validate(_default_data(care))


def _default_data(care: Care) -> dict[str, Any]:
    text = (files("assess.job") / "workshop.toml").read_text(encoding="utf-8")
    return {**toml_data(text, "workshop.toml", WorkshopError), "care": care.model_dump()}
