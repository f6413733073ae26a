"""Models of what a plugin declares.

A plugin's knowledge is data: TOML files beside its code, read by
:func:`assess.read_declaration` into one :class:`Declaration`. Every model is
frozen and refuses keys it does not know, so a slip of the pen in a declaration
is named instead of being passed over.

References between things are written as ids. An id without a dot belongs to
the declaring subsystem (``hub``); an id with a dot names another
subsystem's thing (``box.lid``). A *step* is a repair or a hold point by its
id, or ``open PLACE`` and ``close PLACE``.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Annotated, Any, ClassVar, Literal, Self, get_args

from pydantic import BaseModel, ConfigDict, Field, model_validator

from assess.units import UNITS, UnitError, unit_of

LocalId = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]
Ref = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)?$")]
StepRef = Annotated[str, Field(pattern=r"^((open|close) )?[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)?$")]
Text = Annotated[str, Field(min_length=1)]
ConditionClass = Annotated[int, Field(ge=0, le=3)]
Phase = Literal["arrival", "work", "departure"]
Occasion = Literal["called", "workshop", "always"]
Scope = Literal["stabilise", "playing", "full"]

PUBLISHED_STATUSES = ("common practice", "estimate from memory", "derived")


class Declared(BaseModel):
    """Base of everything a plugin declares: frozen, and strict about keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)
    refers_to: ClassVar[dict[str, str]] = {}
    """Field name -> kind of thing its ids name (``repair``, ``step``, ...)."""


@cache
def part_fields(kind: type[Declared]) -> tuple[str, ...]:
    """The fields of a model that hold other models; kept, since every walk asks for them."""
    fields = kind.model_fields.items()
    return tuple(name for name, field in fields if _holds_models(field.annotation))


def _holds_models(annotation: Any) -> bool:
    if isinstance(annotation, type) and issubclass(annotation, Declared):
        return True
    return any(_holds_models(part) for part in get_args(annotation))


class HoursRange(tuple[float, float, float]):
    """Low, most likely and high hours, in that order, none below zero."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: Any) -> Any:
        from pydantic_core import core_schema

        def build(values: tuple[float, float, float]) -> HoursRange:
            low, likely, high = values
            if not 0 <= low <= likely <= high:
                raise ValueError("hours must be low <= likely <= high, none below zero")
            return cls(values)

        return core_schema.no_info_after_validator_function(
            build, handler(tuple[float, float, float])
        )


class Source(Declared):
    """Where a number or a fact comes from: title and address of something published."""

    id: Annotated[str, Field(pattern=r"^[A-Za-z0-9_]+$")]
    title: Text
    url: str = ""
    status: Literal["published", "from memory"] = "published"


class Feature(Declared):
    """Something an instrument has or lacks, or one of several ways it can be.

    Without ``options`` the feature is a yes or no and its own id is the tag that
    ``needs`` and ``excludes`` name; with ``options`` the chosen option's id is.
    ``usual`` is what is assumed, and said to be assumed, when the job file is silent.
    With a ``chance`` it stands among what may come to light while nobody has said it: how
    often an instrument is otherwise than usual. ``place`` is where that is seen from, and
    ``minutes`` what looking takes.
    """

    refers_to: ClassVar[dict[str, str]] = {"place": "place"}
    id: LocalId
    asks: Text
    options: dict[LocalId, Text] = Field(default_factory=dict)
    usual: bool | str = False
    place: Ref | None = None
    minutes: Annotated[float, Field(ge=0)] = 0.0
    chance: Annotated[float, Field(gt=0, lt=1)] | None = None
    source: str = ""

    @model_validator(mode="after")
    def _usual_is_possible(self) -> Self:
        possible = set(self.options) if self.options else {True, False}
        if self.usual not in possible:
            raise ValueError(f"usual must be one of {sorted(map(str, possible))}")
        return self

    @property
    def others(self) -> tuple[bool | str, ...]:
        """The ways it can be otherwise than usual."""
        ways: tuple[bool | str, ...] = tuple(self.options) if self.options else (True, False)
        return tuple(way for way in ways if way != self.usual)


class Fact(Declared):
    """A number the instrument has: keys, ranks, the length of a board."""

    id: LocalId
    asks: Text
    unit: str = "count"
    usual: float | None = None
    possible: tuple[float, float] = (0.0, 1e9)
    plausible: tuple[float, float] | None = None
    source: str = ""

    @model_validator(mode="after")
    def _known_unit(self) -> Self:
        _check_unit(self.unit)
        return self


class Column(Declared):
    """One column of a survey: its heading, and its unit when it holds numbers."""

    id: LocalId
    unit: str | None = None
    required: bool = False
    possible: tuple[float, float] = (-1e9, 1e9)

    @model_validator(mode="after")
    def _known_unit(self) -> Self:
        if self.unit is not None:
            _check_unit(self.unit)
        return self


class Survey(Declared):
    """A table that is taken note by note or key by key, read from a CSV file beside the job."""

    id: LocalId
    title: Text
    columns: tuple[Column, ...]


class Component(Declared):
    """A named part inside a subsystem."""

    id: LocalId
    title: Text


class Stage(Declared):
    """A heading of the plan, and a bench where the hands stay for a while."""

    id: LocalId
    title: Text


class Link(Declared):
    """One reason of order: the other step, and why."""

    refers_to: ClassVar[dict[str, str]] = {"step": "step"}
    step: StepRef
    because: Text
    source: str = ""


class Place(Declared):
    """Somewhere that must be opened before one can look or work there.

    Attributes:
        inside: the place that must be open first.
        open, close: what the hands do, as an instruction.
        open_hours, close_hours: low, likely and high hours at the bench.
        at_visit: may be opened at the customer's home.
        minutes: what opening it for a look takes at the visit, in minutes.
        reason: why it lies behind ``inside``.
        open_requires: steps that must be done before it is opened, and are pulled in; a
            place that is opened so stays open until this one is closed.
        close_requires: steps that any opening makes necessary before closing.
        close_entails: steps that any opening makes necessary after closing.
        open_after, close_after: order only, where both are done.
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
    at_visit: bool = False
    minutes: Annotated[float, Field(ge=0)] = 0
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
    source: str = ""


class Hint(Declared):
    """What an outcome tells of another criterion: of a cause, or of a proof.

    Attributes:
        criterion: the other criterion.
        odds: by how much the odds of the outcomes it speaks of differ between instruments
            that show this outcome and those that show one without a hint; below 1 they are
            rarer. How often either is found when nothing is known stays as it is.
        from_class: the class from which on outcomes are meant.
    """

    refers_to: ClassVar[dict[str, str]] = {"criterion": "criterion"}
    criterion: Ref
    odds: Annotated[float, Field(gt=0, le=100)]
    from_class: Annotated[int, Field(ge=1, le=3)] = 1


class Outcome(Declared):
    """One possible result of a criterion.

    Attributes:
        answer: the words of the answer, for a criterion that is asked in words.
        from_: the smallest value of this outcome, for one that is measured.
        says: what a measured value in this range means, in a few words.
        condition: condition class 0..3 (key ``class`` in TOML).
        urgency: 0 long term .. 3 immediate; the condition class when left out.
        calls_for: repairs of a full restoration.
        to_play: repairs instead of ``calls_for`` when only playing order is wanted.
        to_stabilise: repairs instead of ``calls_for`` when only decay is to be stopped; when
            given, they belong to stabilising whether or not there is danger or decay.
        silences: with this, the instrument cannot be played as it should.
        danger: a danger to people.
        decay: it goes on getting worse by itself.
        beyond_repair: why work that needs this cannot sensibly be done.
        advise_against: a ground to advise against restoration.
        means: the likely cause, or the first test to make, in a sentence.
        hints: what it tells of other criteria.
        tells: features of the instrument that follow from it where the job file is silent.
    """

    refers_to: ClassVar[dict[str, str]] = {
        "calls_for": "repair",
        "to_play": "repair",
        "to_stabilise": "repair",
        "cautions": "caution",
    }
    answer: str | None = None
    from_: float | None = Field(default=None, alias="from")
    says: str = ""
    condition: ConditionClass = Field(alias="class")
    urgency: ConditionClass | None = None
    calls_for: tuple[Ref, ...] = ()
    to_play: tuple[Ref, ...] | None = None
    to_stabilise: tuple[Ref, ...] | None = None
    silences: bool = False
    danger: bool = False
    decay: bool = False
    beyond_repair: str = ""
    advise_against: str = ""
    means: str = ""
    cautions: tuple[Ref, ...] = ()
    hints: tuple[Hint, ...] = ()
    tells: dict[LocalId, bool | str] = Field(default_factory=dict)

    @property
    def label(self) -> str:
        """The outcome in words, whether answered or measured."""
        return self.answer if self.answer is not None else self.says

    @property
    def how_soon(self) -> int:
        """Urgency 0..3, which is the condition class unless declared otherwise."""
        return self.condition if self.urgency is None else self.urgency

    def calls(self, scope: Scope) -> tuple[str, ...]:
        """Repairs that this outcome calls for within a scope.

        ``full`` takes every finding; ``playing`` what silences the instrument, and
        with it whatever is dangerous or decaying; ``stabilise`` only the latter.
        """
        if scope == "full":
            return self.calls_for
        if scope == "playing" and self.silences:
            return self.calls_for if self.to_play is None else self.to_play
        if self.to_stabilise is not None:
            return self.to_stabilise
        return self.calls_for if self.danger or self.decay else ()


class Criterion(Declared):
    """One thing that is judged: asked in words, counted, or measured.

    Attributes:
        place: where it is seen from; None when nothing need be opened.
        minutes: what looking takes, in minutes.
        weight: its share in the component's grade.
        vital: the subsystem's class cannot be better than this one's.
        seldom: how much rarer its findings are than those of other criteria, where care has
            little to do with it; 1 for no rarer.
        often: how many times likelier its findings are, in what wears or perishes however
            an instrument is kept; 1 for no likelier.
        unit: unit of the outcomes' ``from`` values; ``count`` for things counted.
        share_of: facts whose product the value is divided by before it is compared.
        possible: values outside are refused; plausible: values outside are questioned.
        computed_from: what the plugin's ``measure`` hook computes it from, in words; such a
            criterion is not asked, though an answer in the job file overrides it.
    """

    refers_to: ClassVar[dict[str, str]] = {"component": "component", "place": "place"}
    id: LocalId
    component: Ref
    place: Ref | None = None
    asks: Text
    how: Text
    minutes: Annotated[float, Field(gt=0)]
    weight: Annotated[float, Field(gt=0)]
    vital: bool = False
    seldom: Annotated[float, Field(gt=0, le=1)] = 1.0
    often: Annotated[float, Field(ge=1, le=20)] = 1.0
    needs: tuple[LocalId, ...] = ()
    excludes: tuple[LocalId, ...] = ()
    unit: str | None = None
    share_of: tuple[LocalId, ...] = ()
    possible: tuple[float, float] = (0.0, 1e9)
    plausible: tuple[float, float] | None = None
    computed_from: tuple[Text, ...] = ()
    outcomes: tuple[Outcome, ...]
    source: str = ""

    @property
    def measured(self) -> bool:
        """Whether the answer is a number with a unit (or a count)."""
        return self.unit is not None

    @property
    def how_often(self) -> float:
        """How much likelier or rarer its findings are than those of other criteria."""
        return self.seldom * self.often

    @model_validator(mode="after")
    def _outcomes_fit(self) -> Self:
        if len(self.outcomes) < 2:
            raise ValueError("a criterion needs at least two outcomes")
        if 0 not in {o.condition for o in self.outcomes}:
            raise ValueError("one outcome must have class 0, or nothing is ever in order")
        if self.seldom < 1 < self.often:
            raise ValueError("findings are either seldom or often")
        if self.unit is None:
            self._check_words()
        else:
            _check_unit(self.unit)
            self._check_ranges()
        return self

    def _check_words(self) -> None:
        answers = [o.answer for o in self.outcomes]
        if None in answers or any(o.from_ is not None for o in self.outcomes):
            raise ValueError("outcomes of a question in words need 'answer'; or give a unit")
        if len(set(answers)) != len(answers):
            raise ValueError("two outcomes have the same answer")
        if self.share_of:
            raise ValueError("share_of goes with a unit")

    def _check_ranges(self) -> None:
        bounds = [o.from_ for o in self.outcomes]
        if None in bounds or any(o.answer is not None for o in self.outcomes):
            raise ValueError("outcomes of a measured criterion need 'from' and no 'answer'")
        if any(not o.says for o in self.outcomes):
            raise ValueError("outcomes of a measured criterion need 'says'")
        if len(set(bounds)) != len(bounds):
            raise ValueError("two outcomes begin at the same value")
        if min(b for b in bounds if b is not None) > self.possible[0]:
            raise ValueError("the lowest outcome must begin at the lowest possible value")

    def outcome_for(self, value: str | float) -> Outcome | None:
        """The outcome of an answer: words, or a number already in this unit and share."""
        if isinstance(value, str):
            return next((o for o in self.outcomes if o.answer == value), None)
        fitting = [o for o in self.outcomes if o.from_ is not None and o.from_ <= value]
        return max(fitting, key=lambda o: o.from_ or 0.0, default=None)


class MaterialUse(Declared):
    """An amount of a material that a repair uses, before waste."""

    refers_to: ClassVar[dict[str, str]] = {"id": "material"}
    id: Ref
    quantity: Annotated[float, Field(gt=0)]
    fixed: bool = False
    """True when the amount does not grow with the repair's count."""


class Material(Declared):
    """Something to buy: unit, price per unit, share wasted, days to get it."""

    id: LocalId
    title: Text
    unit: Text
    price: Annotated[float, Field(ge=0)]
    waste: Annotated[float, Field(ge=0, le=2)] = 0.1
    whole: bool = False
    """Sold only in whole units."""
    lead_days: Annotated[int, Field(ge=0)] = 0
    source: str = "estimate from memory"


class Caution(Declared):
    """A warning, and to whom to defer."""

    id: LocalId
    title: Text
    text: Text
    defer_to: Text
    people: bool = True
    """A danger to people comes before a danger to the instrument."""
    source: str = ""


class Work(Declared):
    """What repairs and hold points have in common as steps of a plan."""

    refers_to: ClassVar[dict[str, str]] = {
        "places": "place",
        "stage": "stage",
        "cautions": "caution",
    }
    id: LocalId
    title: Text
    how: str = ""
    places: tuple[Ref, ...] = ()
    stage: Ref | None = None
    hours: HoursRange
    needs: tuple[LocalId, ...] = ()
    excludes: tuple[LocalId, ...] = ()
    when: Occasion = "called"
    """``always``: part of every plan; ``workshop``: of every plan with workshop work."""
    phase: Phase = "work"
    """``arrival`` precedes all work, ``departure`` follows it."""
    waiting_days: Annotated[float, Field(ge=0)] = 0
    """Days by the clock after it, for rest, treatment or watching rather than glue."""
    requires: tuple[Link, ...] = ()
    after: tuple[Link, ...] = ()
    before: tuple[Link, ...] = ()
    cautions: tuple[Ref, ...] = ()
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
    drying_hours: Annotated[float, Field(ge=0)] = 0
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
    at_most_class_to_play: ConditionClass | None = None
    """What is enough when only playing order is wanted; as ``at_most_class`` when left out."""


class HoldPoint(Work):
    """A test that must pass before work goes on.

    Attributes:
        proves: steps it proves; it is in the plan when one of them is.
        passes: the criterion that is measured again, and what it must reach.
        if_fails: what to do when it fails.
    """

    refers_to: ClassVar[dict[str, str]] = Work.refers_to | {"proves": "step"}
    proves: tuple[StepRef, ...] = ()
    passes: PassMark | None = None
    if_fails: str = ""

    @model_validator(mode="after")
    def _proves_something(self) -> Self:
        if self.when == "called" and not self.proves:
            raise ValueError("a hold point needs 'proves', or it is never in a plan")
        return self


class SubsystemInfo(Declared):
    """What a plugin says of itself: id, title, weight in the instrument's grade."""

    id: LocalId
    title: Text
    weight: Annotated[float, Field(gt=0)]
    position: int = 100
    """Where it stands in tables: lower first, then by id."""


class Declaration(Declared):
    """Everything one plugin knows."""

    subsystem: SubsystemInfo
    component: tuple[Component, ...] = ()
    place: tuple[Place, ...] = ()
    criterion: tuple[Criterion, ...] = ()
    repair: tuple[Repair, ...] = ()
    hold_point: tuple[HoldPoint, ...] = ()
    caution: tuple[Caution, ...] = ()
    material: tuple[Material, ...] = ()
    stage: tuple[Stage, ...] = ()
    feature: tuple[Feature, ...] = ()
    fact: tuple[Fact, ...] = ()
    survey: tuple[Survey, ...] = ()
    source: tuple[Source, ...] = ()

    @model_validator(mode="after")
    def _ids_once(self) -> Self:
        for kind in KINDS:
            seen: set[str] = set()
            for thing in getattr(self, kind):
                if thing.id in seen:
                    raise ValueError(f"two {kind} entries have the id {thing.id!r}")
                seen.add(thing.id)
        steps = {r.id for r in self.repair} & {h.id for h in self.hold_point}
        if steps:
            raise ValueError(f"a repair and a hold point share the id {sorted(steps)[0]!r}")
        return self

    @model_validator(mode="after")
    def _sources_known(self) -> Self:
        known = {s.id for s in self.source} | set(PUBLISHED_STATUSES)
        for kind in KINDS:
            for thing in getattr(self, kind):
                for path, source in _sources_within(thing):
                    unknown = [s for s in source.split(", ") if s and s not in known]
                    if unknown:
                        raise ValueError(
                            f"{kind} {thing.id}: {path} names no source {unknown[0]!r}"
                        )
        return self


KINDS = (
    "component",
    "place",
    "criterion",
    "repair",
    "hold_point",
    "caution",
    "material",
    "stage",
    "feature",
    "fact",
    "survey",
    "source",
)


def _check_unit(unit: str) -> None:
    try:
        unit_of(unit)
    except UnitError as error:
        raise ValueError(f"{error}; known units: {', '.join(sorted(UNITS))}") from None


def _sources_within(model: Declared, path: str = "") -> Iterator[tuple[str, str]]:
    source = getattr(model, "source", None)
    if isinstance(source, str):
        yield f"{path}source", source
    for name in part_fields(type(model)):
        value = getattr(model, name)
        if isinstance(value, tuple):
            for index, item in enumerate(value):
                yield from _sources_within(item, f"{path}{name}[{index}].")
