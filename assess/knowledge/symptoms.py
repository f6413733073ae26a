"""Models of what is noticed and what is required: symptoms with their causes, and requirements.

A *symptom* is what a person notices or complains of. Its causes are findings; each produces it
with a strength of its own, independently of the others (a noisy-OR: J. Pearl, Probabilistic
Reasoning in Intelligent Systems, 1988, section 4.3.2; from memory). A *requirement* is what the
object must do to be used. How symptoms change what is believed stands in
:mod:`assess.uncertainty.noisy_or`.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from assess.knowledge.model_base import Declared, LocalId, Ref, StepRef, Text
from assess.knowledge.prior_beliefs import Chance

Course = Literal["suddenly", "slowly"]
"""How a symptom came."""


class SymptomCause(Declared):
    """One cause of a symptom.

    Attributes:
        criterion: what is found.
        from_class: the class from which on its outcomes cause the symptom.
        answers: the only outcomes that cause it, by their words, where the class is too coarse.
        strength: probability that the finding alone produces the symptom.
        comes: how it comes where this is the cause; left out, either way.
    """

    refers_to: ClassVar[dict[str, str]] = {"criterion": "criterion"}
    criterion: Ref
    from_class: Annotated[int, Field(ge=1, le=3)] = 2
    answers: tuple[Text, ...] = ()
    strength: Chance
    comes: Course | None = None


class Sign(Declared):
    """Answers that are the symptom itself: a criterion, and the class from which on they are."""

    refers_to: ClassVar[dict[str, str]] = {"criterion": "criterion"}
    criterion: Ref
    from_class: Annotated[int, Field(ge=1, le=3)] = 2


class Symptom(Declared):
    """What a person notices, its causes, and how a person tells them apart.

    Attributes:
        asks: the symptom as one would say it, such as "Loses its wind".
        formerly: earlier ids, which job files may still use.
        breaks: requirements that are not met while it lasts.
        stops_all: with it the object cannot be used at all.
        causes: findings that produce it, likeliest first.
        leak: probability of the symptom without any of these causes.
        tests: criteria that tell the causes apart, in the order in which a person looks; while
            nothing explains a complaint, they are a step of the plan.
        shown_by: answers that are the symptom itself.
    """

    refers_to: ClassVar[dict[str, str]] = {"breaks": "requirement", "tests": "criterion"}
    id: LocalId
    asks: Text
    formerly: tuple[LocalId, ...] = ()
    breaks: tuple[Ref, ...] = ()
    stops_all: bool = False
    causes: Annotated[tuple[SymptomCause, ...], Field(min_length=1)]
    leak: Chance = 0.01
    tests: Annotated[tuple[Ref, ...], Field(min_length=1)]
    shown_by: tuple[Sign, ...] = ()
    needs: tuple[LocalId, ...] = ()
    excludes: tuple[LocalId, ...] = ()
    source: str = ""

    @model_validator(mode="after")
    def _causes_once(self) -> Self:
        named = [(c.criterion, c.from_class, c.answers) for c in self.causes]
        if len(set(named)) != len(named):
            raise ValueError("two causes are the same")
        return self


class Requirement(Declared):
    """What the object must do to be used, and the hold point that proves it.

    Attributes:
        title: what is met, as a short statement: "The wind holds".
        proved_by: hold points that prove it, in any plan that mends what breaks it.
    """

    refers_to: ClassVar[dict[str, str]] = {"proved_by": "step"}
    id: LocalId
    title: Text
    proved_by: tuple[StepRef, ...] = ()
    needs: tuple[LocalId, ...] = ()
    excludes: tuple[LocalId, ...] = ()
    source: str = ""
