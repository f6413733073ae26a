"""Models of work: places to open, repairs, hold points, what they use and what to take care of."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from assess.base.guards import LEAST
from assess.base.year_days import YearSpan, month_day
from assess.knowledge.model_base import (
    MOST_DECLARED,
    ConditionClass,
    Declared,
    HoursRange,
    LocalId,
    Ref,
    StepRef,
    Text,
)

Where = Literal["with_it", "home", "desk"]
Move = Literal["to_workshop", "back"]
MaterialKind = Literal["material", "service", "trip"]
MOST_LEAD_DAYS = 3650
"""Longer than ten years nothing is waited for."""


def _day_of_year(text: str) -> str:
    try:
        month_day(text)
    except ValueError:
        raise ValueError('write a month and a day, as "11-01"') from None
    return text


DayOfYear = Annotated[str, AfterValidator(_day_of_year)]
Phase = Literal["arrival", "work", "departure"]
Occasion = Literal["called", "workshop", "always"]


class Link(Declared):
    """One reason of order: the other step, and why.

    Attributes:
        at_once: in ``after``: right after the other step, without sitting out what it waits for.
    """

    refers_to: ClassVar[dict[str, str]] = {"step": "step"}
    step: StepRef
    because: Text
    at_once: bool = False
    source: str = ""


class HoursPer(Declared):
    """What hours grow with: they are declared for a usual number, and are for more or fewer here.

    Attributes:
        facts: facts whose product is the number of this object; the hours stay as declared
            while one of them is not known.
        usual: the number that the declared hours are for.
    """

    facts: Annotated[tuple[LocalId, ...], Field(min_length=1)]
    usual: Annotated[float, Field(ge=LEAST, le=MOST_DECLARED)]


class Place(Declared):
    """Somewhere that must be opened before one can look or work there.

    Attributes:
        inside: the place that must be open first.
        open, close: what the hands do, as an instruction.
        open_hours, close_hours: low, likely and high hours at the bench.
        hours_per: what both grow with.
        at_visit: may be opened at the customer's home.
        minutes: what opening it for a look takes at the visit, in minutes.
        reason: why it lies behind ``inside``.
        open_requires: steps that must be done before it is opened, and are pulled in; a
            place that is opened so stays open until this one is closed.
        close_requires: steps that any opening makes necessary before closing.
        close_entails: steps that any opening makes necessary after closing.
        open_after, close_after: order only, where both are done.
        each: the kind of unit that each has such a place of; what is done there follows.
        stacked: units that stand on each other are taken off at this place: the upper one
            is opened before the lower one.
        else_open: an object that lacks it is open there, so that one sees in without it.
    """

    refers_to: ClassVar[dict[str, str]] = {
        "inside": "place",
        "open_cautions": "caution",
        "open_stage": "stage",
        "close_stage": "stage",
    }
    id: LocalId
    title: Text
    inside: Ref | None = None
    reason: str = ""
    open: Text
    close: Text
    open_hours: HoursRange
    close_hours: HoursRange
    hours_per: HoursPer | None = None
    at_visit: bool = False
    minutes: Annotated[float, Field(ge=0, le=MOST_DECLARED)] = 0
    needs: tuple[LocalId, ...] = ()
    excludes: tuple[LocalId, ...] = ()
    open_stage: Ref | None = None
    close_stage: Ref | None = None
    open_requires: tuple[Link, ...] = ()
    open_after: tuple[Link, ...] = ()
    close_requires: tuple[Link, ...] = ()
    close_after: tuple[Link, ...] = ()
    close_entails: tuple[Link, ...] = ()
    open_cautions: tuple[Ref, ...] = ()
    each: LocalId | None = None
    stacked: bool = False
    else_open: bool = False
    source: str = ""


class MaterialUse(Declared):
    """An amount of a material that a repair uses, before waste."""

    refers_to: ClassVar[dict[str, str]] = {"id": "material"}
    id: Ref
    quantity: Annotated[float, Field(ge=LEAST, le=MOST_DECLARED)]
    fixed: bool = False
    """True when the amount does not grow with the repair's count."""


class Season(Declared):
    """A time of the year that some work waits for, from one day to another, as ``11-01``."""

    id: LocalId
    title: Text
    first: DayOfYear
    last: DayOfYear
    source: str = "estimate from memory"

    @property
    def span(self) -> YearSpan:
        """The season as days of the year."""
        return YearSpan(month_day(self.first), month_day(self.last))


class Material(Declared):
    """Something to buy: unit, price per unit, share wasted, days to get it.

    Attributes:
        stock: a workshop has it on the shelf, so nothing waits for it to be delivered.
        lead_days: days to get it, counted from the order.
        kind: ``service`` is work at others' hands, such as a helper or an expert; ``trip`` is
            one journey to the customer and back. Both are listed apart from materials.
        price_range: the low and the high price of a service, where ``price`` is the likely one.
        waste: share added to what is used; left out, a tenth, but nothing of what is sold whole.
        whole: sold only in whole units.
        once: one unit, such as a kit or a tube, serves all repairs of a job that use it.
    """

    id: LocalId
    title: Text
    unit: Text
    price: Annotated[float, Field(ge=0, le=MOST_DECLARED)]
    waste: Annotated[float, Field(ge=0, le=2)] = 0.1
    whole: bool = False
    once: bool = False
    lead_days: Annotated[int, Field(ge=0, le=MOST_LEAD_DAYS)] = 0
    stock: bool = False
    kind: MaterialKind = "material"
    price_range: tuple[float, float] | None = None
    source: str = "estimate from memory"

    @model_validator(mode="before")
    @classmethod
    def _nothing_is_cut_from_what_is_whole(cls, data: Any) -> Any:
        if isinstance(data, dict) and data.get("once"):
            data = {"whole": True, **data}
        if isinstance(data, dict) and data.get("whole"):
            data = {"waste": 0.0, **data}
        return data

    @model_validator(mode="after")
    def _one_is_whole(self) -> Self:
        if self.once and not (self.whole and self.waste == 0):
            raise ValueError("what is bought once is bought whole, and without waste")
        return self

    @model_validator(mode="after")
    def _price_in_range(self) -> Self:
        if self.price_range and not self.price_range[0] <= self.price <= self.price_range[1]:
            raise ValueError("price must lie within price_range")
        if self.price_range and self.price_range[0] < 0:
            raise ValueError("no price in price_range may be below zero")
        return self

    @property
    def days_to_get(self) -> int:
        """Days from the order until it is there."""
        return 0 if self.stock else self.lead_days


class Caution(Declared):
    """A warning, whom to ask, and which rules to follow.

    Attributes:
        defer_to: people or authorities to ask.
        follow: rules to follow; one of the two must be given.
        people: a danger to people, which comes before a danger to the object.
        once_a_stage: it goes for all work of a stage alike, so a printed plan shows it at the
            first step of the stage that raises it.
    """

    id: LocalId
    title: Text
    text: Text
    defer_to: str = ""
    follow: str = ""
    people: bool = True
    once_a_stage: bool = False
    source: str = ""

    @model_validator(mode="after")
    def _defers(self) -> Self:
        if not (self.defer_to or self.follow):
            raise ValueError("give 'defer_to' (whom to ask), 'follow' (which rules), or both")
        return self


class Work(Declared):
    """What repairs and hold points have in common as steps of a plan.

    Attributes:
        when: ``always``: part of every plan; ``workshop``: of every plan with workshop work.
        phase: ``arrival`` precedes all work, ``departure`` follows it.
        waiting_days: days by the clock after it, for rest, treatment or watching rather than
            glue, or for somebody's answer.
        waiting_for: what is waited for, in words.
        again_after_days: it is done in two halves, the second so many days later: a second
            reading, or a second turn of the screws.
        season: it is begun only in that time of the year.
        where: ``with_it``: where the object is; ``home``: at the customer's home, also while the
            object is in the workshop; ``desk``: anywhere, such as a letter.
        moves: it brings the object to the workshop, or back.
        orders: what later steps use is ordered as soon as this one is done.
        does: kinds of work in it, such as gluing, that other steps hold back.
        holds_back: kinds of work that wait until this step and its waiting are over.
        quiet: nothing noisy is done while it waits.
        noisy: it saws, hammers or shakes the floor.
    """

    refers_to: ClassVar[dict[str, str]] = {
        "places": "place",
        "stage": "stage",
        "cautions": "caution",
        "season": "season",
    }
    id: LocalId
    title: Text
    how: str = ""
    places: tuple[Ref, ...] = ()
    stage: Ref | None = None
    hours: HoursRange
    hours_per: HoursPer | None = None
    """What the hours grow with, where the work is done once but takes longer on a larger object."""
    needs: tuple[LocalId, ...] = ()
    excludes: tuple[LocalId, ...] = ()
    when: Occasion = "called"
    phase: Phase = "work"
    waiting_days: Annotated[float, Field(ge=0, le=MOST_DECLARED)] = 0
    waiting_for: str = ""
    again_after_days: Annotated[int, Field(ge=0, le=366)] = 0
    season: Ref | None = None
    where: Where = "with_it"
    moves: Move | None = None
    orders: bool = False
    does: tuple[LocalId, ...] = ()
    holds_back: tuple[LocalId, ...] = ()
    quiet: bool = False
    noisy: bool = False
    requires: tuple[Link, ...] = ()
    after: tuple[Link, ...] = ()
    before: tuple[Link, ...] = ()
    cautions: tuple[Ref, ...] = ()
    each: LocalId | None = None
    """The kind of unit for each of which it is done; left out, that of its place or component."""
    shared: bool = False
    """It is done once for all units, wherever its place is."""
    upwards: bool = False
    """Of several units the first is done first, then each in the order of the job file."""
    after_below: bool = False
    """Where units stand on each other, it waits until the unit below is back in its place."""
    source: str = ""


class Repair(Work):
    """A piece of work.

    Attributes:
        per: counted criteria whose answers add up to how many times it is done.
        per_fact: facts whose product is how many times it is done.
        drying_hours: hours by the clock before anything that needs it may go on.
        restores_to: the class it leaves behind.
        lasts_years: how long that holds, where it is known to be short.
        requires: steps it pulls in before itself; after: order only, where both are done.
        entails: repairs it pulls in after itself.
        supersedes: less thorough repairs of the same component that it makes needless.
        unless: repairs, of any component, that make this one needless without being a more
            thorough form of it, such as a search for what has been found; unlike what
            supersedes it they take over none of its order.
        workshop: cannot be done at the customer's home.
        test: how to tell that it is done well.
    """

    refers_to: ClassVar[dict[str, str]] = Work.refers_to | {
        "component": "component",
        "per": "criterion",
        "supersedes": "repair",
    }
    component: Ref
    per: tuple[Ref, ...] = ()
    per_fact: tuple[LocalId, ...] = ()
    drying_hours: Annotated[float, Field(ge=0, le=MOST_DECLARED)] = 0
    restores_to: ConditionClass = 0
    lasts_years: float | None = None
    entails: tuple[Link, ...] = ()
    supersedes: tuple[Ref, ...] = ()
    unless: tuple[Link, ...] = ()
    materials: tuple[MaterialUse, ...] = ()
    avoid: str = ""
    test: str = ""
    reversible: bool = True
    workshop: bool = True
    danger_first: bool = False
    """It removes a danger to people or a live infestation, so it goes before other work."""


class PassMark(Declared):
    """What a hold point must read: a criterion and the condition class it may not exceed."""

    refers_to: ClassVar[dict[str, str]] = {"criterion": "criterion"}
    criterion: Ref
    at_most_class: ConditionClass = 0
    at_most_class_to_work: ConditionClass | None = None
    """What is enough for working order; as ``at_most_class`` when left out."""


class HoldPoint(Work):
    """A test that must pass before work goes on.

    Attributes:
        proves: steps it proves; it is in the plan when one of them is.
        passes: the criterion that is measured again, and what it must reach.
        if_fails: what to do when it fails.
        before_next: where units stand on each other, it comes before the next one is put on.
    """

    refers_to: ClassVar[dict[str, str]] = Work.refers_to | {"proves": "step"}
    proves: tuple[StepRef, ...] = ()
    passes: PassMark | None = None
    if_fails: str = ""
    before_next: bool = False

    @model_validator(mode="after")
    def _proves_something(self) -> Self:
        if self.when == "called" and not self.proves:
            raise ValueError("a hold point needs 'proves', or it is never in a plan")
        return self
