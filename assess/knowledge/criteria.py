"""Models of what is judged: criteria, their outcomes, and what one tells of another."""

from __future__ import annotations

from typing import Annotated, ClassVar, Self

from pydantic import Field, model_validator

from assess.base.guards import LEAST
from assess.knowledge.model_base import (
    MOST_DECLARED,
    ConditionClass,
    Declared,
    LocalId,
    Range,
    Ref,
    Round,
    Scope,
    Text,
    check_unit,
)

ROUNDING = 1e-12


class Hint(Declared):
    """An association: what an outcome says about another criterion, as cause or as proof.

    Attributes:
        criterion: the other criterion.
        odds: the odds ratio of the outcomes it is about, between objects that show this
            outcome and those that show one without a hint; below 1 they are rarer. How often
            either is found while nothing is known stays as it is.
        from_class: the class from which on outcomes are meant.
    """

    refers_to: ClassVar[dict[str, str]] = {"criterion": "criterion"}
    criterion: Ref
    odds: Annotated[float, Field(ge=LEAST, le=100)]
    from_class: Annotated[int, Field(ge=1, le=3)] = 1


class Opening(Declared):
    """What opens a question: it is asked only where another has shown something.

    Attributes:
        criterion: the question that comes first.
        from_class: the class of its answer from which on this one is asked; with a better
            answer this one is as good as it can be.
    """

    refers_to: ClassVar[dict[str, str]] = {"criterion": "criterion"}
    criterion: Ref
    from_class: Annotated[int, Field(ge=1, le=3)] = 1


class Outcome(Declared):
    """One possible result of a criterion.

    Attributes:
        answer: the words of the answer, for a criterion that is asked in words.
        formerly: earlier words of the same answer, so that older job files are still understood.
        from_: the smallest value of this outcome, for one that is measured.
        says: what a measured value in this range means, in a few words.
        condition: condition class 0..3 (key ``class`` in TOML).
        urgency: 0 long term .. 3 immediate; the condition class when left out.
        calls_for: repairs of a full repair.
        to_work: repairs instead of ``calls_for`` when only working order is wanted.
        to_stabilise: repairs instead of ``calls_for`` when only decay is to be stopped; when
            given, they belong to stabilising whether or not there is danger or decay.
        disables: with this it cannot be used as it should; implied by ``breaks``.
        breaks: requirements that are not met with this.
        breaks_none: why this breaks no requirement, where its class lets one expect so.
        danger: a danger to people.
        decay: it goes on getting worse by itself.
        beyond_repair: why work that needs this cannot sensibly be done.
        advise_against: a reason to advise against the work, never against the object.
        ruins: damage to the whole after which little can be saved: as good as beyond repair,
            unless the owner is attached to the object.
        against: the scopes that it speaks against.
        significance: how significant the object is with this, 0..3; a floor under the owner's.
        means: the likely cause, or the first test to make, in a sentence.
        hints: what it says about other criteria.
        tells: features that follow from it where the job file does not state them.
    """

    refers_to: ClassVar[dict[str, str]] = {
        "calls_for": "repair",
        "to_work": "repair",
        "to_stabilise": "repair",
        "cautions": "caution",
        "breaks": "requirement",
    }
    answer: str | None = None
    formerly: tuple[Text, ...] = ()
    from_: float | None = Field(default=None, alias="from")
    says: str = ""
    condition: ConditionClass = Field(alias="class")
    urgency: ConditionClass | None = None
    calls_for: tuple[Ref, ...] = ()
    to_work: tuple[Ref, ...] | None = None
    to_stabilise: tuple[Ref, ...] | None = None
    disables: bool = False
    breaks: tuple[Ref, ...] = ()
    breaks_none: str = ""
    danger: bool = False
    decay: bool = False
    beyond_repair: str = ""
    advise_against: str = ""
    ruins: bool = False
    against: tuple[Scope, ...] = ("working", "full")
    significance: ConditionClass = 0
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

    @property
    def stops_use(self) -> bool:
        """Whether it cannot be used as it should with this."""
        return self.disables or bool(self.breaks)

    def calls(self, scope: Scope, as_cause: bool = False) -> tuple[str, ...]:
        """Repairs that this outcome calls for within a scope.

        ``full`` takes every finding; ``working`` what keeps it out of use, and
        with it whatever is dangerous or decaying; ``stabilise`` only the latter.

        Args:
            scope: how far one goes.
            as_cause: it causes something that keeps the object out of use.
        """
        if scope == "full":
            return self.calls_for
        if scope == "working" and (self.stops_use or as_cause):
            return self.calls_for if self.to_work is None else self.to_work
        if self.to_stabilise is not None:
            return self.to_stabilise
        return self.calls_for if self.danger or self.decay else ()


NO_ANSWERS = {"not seen", "doesn't apply", "does not apply", "n", "x"}
"""What is typed where there is no answer; a number chooses an outcome."""


class Criterion(Declared):
    """One thing that is judged: asked in words, counted, or measured.

    Attributes:
        formerly: earlier ids, so that older job files are still understood.
        place: where it is seen from; None when nothing need be opened.
        also_open: other places that must be open too, or where it is seen from on an object
            that is built otherwise; places that an object lacks are left out.
        minutes: what looking takes, in minutes.
        during: when in a visit it is asked, where nothing need be opened; left out, as its
            component says.
        after: questions that come before it, since it needs their reading.
        tools: what is needed to look, besides what every bag holds.
        weight: its share in the component's grade.
        beside: another reading that it is compared with, such as the same test with less shut:
            where that one is as bad or worse, this one says nothing new and does not count.
        opened_by: the question, or questions, whose answers open this one.
        vital: the subsystem's class cannot be better than this one's.
        seldom: how much rarer its findings are than those of other criteria, where care has
            little to do with it; 1 for no rarer.
        often: how many times likelier its findings are, in what wears or perishes whatever the
            care; 1 for no likelier.
        each: the kind of unit for each of which it is asked; left out, that of its place or
            component.
        shared: it is asked once for all units, whatever its place or component.
        unit: unit of the outcomes' ``from`` values; ``count`` for things counted.
        share_of: facts whose product the value is divided by before it is compared.
        possible: values outside are refused; plausible: values outside are questioned.
        computed_from: what the plugin's ``measure`` hook computes it from, in words; such a
            criterion is not asked, though an answer in the job file overrides it.
    """

    refers_to: ClassVar[dict[str, str]] = {
        "component": "component",
        "place": "place",
        "after": "criterion",
        "also_open": "place",
        "beside": "criterion",
    }
    id: LocalId
    formerly: tuple[LocalId, ...] = ()
    component: Ref
    place: Ref | None = None
    also_open: tuple[Ref, ...] = ()
    asks: Text
    how: Text
    minutes: Annotated[float, Field(ge=LEAST, le=MOST_DECLARED)]
    during: Round | None = None
    after: tuple[Ref, ...] = ()
    tools: tuple[LocalId, ...] = ()
    weight: Annotated[float, Field(ge=LEAST, le=MOST_DECLARED)]
    beside: Ref | None = None
    opened_by: Opening | tuple[Opening, ...] = ()
    vital: bool = False
    seldom: Annotated[float, Field(ge=LEAST, le=1)] = 1.0
    often: Annotated[float, Field(ge=1, le=20)] = 1.0
    needs: tuple[LocalId, ...] = ()
    excludes: tuple[LocalId, ...] = ()
    each: LocalId | None = None
    shared: bool = False
    unit: str | None = None
    share_of: tuple[LocalId, ...] = ()
    possible: Range = (0.0, 1e9)
    plausible: Range | None = None
    computed_from: tuple[Text, ...] = ()
    outcomes: tuple[Outcome, ...]
    source: str = ""

    @property
    def places(self) -> tuple[str, ...]:
        """All places that it is seen from, the main one first."""
        return (self.place, *self.also_open) if self.place else self.also_open

    @property
    def openings(self) -> tuple[Opening, ...]:
        """The questions that open this one; any of them may."""
        return (self.opened_by,) if isinstance(self.opened_by, Opening) else self.opened_by

    @property
    def measured(self) -> bool:
        """Whether the answer is a number with a unit (or a count)."""
        return self.unit is not None

    @property
    def how_often(self) -> float:
        """How much likelier or rarer its findings are than those of other criteria."""
        return self.seldom * self.often

    @model_validator(mode="after")
    def _breaks_or_not(self) -> Self:
        for outcome in self.outcomes:
            if outcome.breaks and outcome.breaks_none:
                raise ValueError(f'"{outcome.label}" breaks a requirement, or none; not both')
        return self

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
            check_unit(self.unit)
            self._check_ranges()
        return self

    def _check_words(self) -> None:
        answers = [o.answer for o in self.outcomes]
        if None in answers or any(o.from_ is not None for o in self.outcomes):
            raise ValueError("outcomes of a question in words need 'answer'; or give a unit")
        words = [w.casefold() for o in self.outcomes for w in (o.answer or "", *o.formerly)]
        if len(set(words)) != len(words):
            raise ValueError("two outcomes have the same answer, now or formerly")
        taken = [w for w in words if w.strip() in NO_ANSWERS or w.strip().isdecimal()]
        if taken:
            raise ValueError(f"{taken[0]!r} means something else when it is typed as an answer")
        if self.share_of:
            raise ValueError("share_of goes with a unit")

    def _check_ranges(self) -> None:
        bounds = [o.from_ for o in self.outcomes]
        if None in bounds or any(o.answer is not None or o.formerly for o in self.outcomes):
            raise ValueError("outcomes of a measured criterion need 'from' and no 'answer'")
        if any(not o.says for o in self.outcomes):
            raise ValueError("outcomes of a measured criterion need 'says'")
        if len(set(bounds)) != len(bounds):
            raise ValueError("two outcomes begin at the same value")
        if min(b for b in bounds if b is not None) > self.possible[0]:
            raise ValueError("the lowest outcome must begin at the lowest possible value")

    def outcome_in_words(self, answer: str) -> Outcome | None:
        """The outcome whose answer, or former answer, these words are; case does not matter."""
        said = answer.strip().casefold()
        return next(
            (o for o in self.outcomes if said in [w.casefold() for w in (o.label, *o.formerly)]),
            None,
        )

    def outcome_for(self, value: float) -> Outcome | None:
        """The outcome of a number that is already in this criterion's unit and share."""
        # A share of a whole may fall short of a bound by the rounding of a division.
        least = value + ROUNDING * abs(value)
        fitting = [o for o in self.outcomes if o.from_ is not None and o.from_ <= least]
        return max(fitting, key=lambda o: o.from_ or 0.0, default=None)
