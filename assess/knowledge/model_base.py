"""What all declared models share: strictness, the forms of ids, classes, scopes and hours.

References between things are written as ids. An id without a dot belongs to
the declaring subsystem (``hub``); an id with a dot names another
subsystem's thing (``box.lid``). A *step* is a repair or a hold point by its
id, or ``open PLACE`` and ``close PLACE``.
"""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from assess.base.guards import MOST_HOURS
from assess.base.units import UNITS, UnitError, unit_of

LocalId = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]
Ref = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)?$")]
StepRef = Annotated[str, Field(pattern=r"^((open|close) )?[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)?$")]
Text = Annotated[str, Field(min_length=1)]


def _upwards(ends: tuple[float, float]) -> tuple[float, float]:
    if ends[0] > ends[1]:
        raise ValueError("the smaller number comes first")
    return ends


Range = Annotated[tuple[float, float], AfterValidator(_upwards)]
"""The least and the most that a number can be."""
ConditionClass = Annotated[int, Field(ge=0, le=3)]
Scope = Literal["stabilise", "working", "full"]
Round = Literal["told", "used", "round"]
"""When in a visit something is asked that needs nothing opened: told by the owner, seen while
the object is used, or going round it."""
MOST_DECLARED = 1e6
"""Beyond this no declared weight, time, price or amount is meant, and sums of them may overflow."""
SCOPES: tuple[Scope, ...] = ("stabilise", "working", "full")


class Declared(BaseModel):
    """Base of everything a plugin declares: frozen, and strict about keys.

    Validators are built when something is first validated: what was checked before needs none.
    So defaults that hold other models are constructed unchecked, which a test makes up for.
    """

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        populate_by_name=True,
        allow_inf_nan=False,
        revalidate_instances="always",
        defer_build=True,
    )
    refers_to: ClassVar[dict[str, str]] = {}
    """Field name -> kind of thing its ids name (``repair``, ``step``, ...)."""

    def __reduce__(self) -> tuple[Any, ...]:
        """For pickles, only the fields that are not as usual: the file is a third as long."""
        usual = _usual(type(self))
        return _restored, (
            type(self),
            {n: self.__dict__[n] for n in usual if self.__dict__[n] is not usual[n]},
        )


@cache
def _usual(kind: type[Declared]) -> dict[str, Any]:
    """The values of fields that were left out, in order; of those that may not be, ``...``."""
    return {
        name: ... if field.is_required() else field.get_default(call_default_factory=True)
        for name, field in kind.model_fields.items()
    }


def _restored(kind: type[Declared], values: dict[str, Any]) -> Declared:
    model = kind.__new__(kind)
    object.__setattr__(model, "__dict__", _usual(kind) | values)
    object.__setattr__(model, "__pydantic_fields_set__", set(values))
    object.__setattr__(model, "__pydantic_extra__", None)
    object.__setattr__(model, "__pydantic_private__", None)
    return model


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
            if high > MOST_HOURS:
                raise ValueError(f"hours must be at most {MOST_HOURS:,.0f}")
            return cls(values)

        return core_schema.no_info_after_validator_function(
            build, handler(tuple[float, float, float])
        )


def check_unit(unit: str) -> None:
    """Refuse a unit that nobody can read.

    Raises:
        ValueError: the unit is unknown; the known ones are named.
    """
    try:
        unit_of(unit)
    except UnitError as error:
        raise ValueError(f"{error}; known units: {', '.join(sorted(UNITS))}") from None
