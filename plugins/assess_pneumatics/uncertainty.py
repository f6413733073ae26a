"""A reading with its standard uncertainty, and its propagation through a formula.

Own code, because importing the usual library for this takes a tenth of a second in every
command, many times what the computations take.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from assess import finite, not_negative

# Two standard deviations, about 95 % for a normal error: JCGM 100:2008, 6.2.1 and 6.3.3.
COVERAGE = 2.0


@dataclass(frozen=True)
class Measured:
    """A value and its standard uncertainty, both in the same unit.

    Attributes:
        value: best estimate.
        sd: standard deviation of its error; 0 means that the value is taken as exact.

    Raises:
        ValueError: a value that is not finite, or a negative standard deviation.
    """

    value: float
    sd: float = 0.0

    def __post_init__(self) -> None:
        finite("a measured value", self.value)
        not_negative("a standard deviation", self.sd)

    def __str__(self) -> str:
        """Value and uncertainty, with as many digits as the uncertainty allows.

        The uncertainty is shown to one digit, or to two if it begins with 1. A value taken as
        exact is shown to three digits. Source: JCGM 100:2008, 7.2.6 (at most two digits); the
        rest is common practice.

        >>> print(Measured(0.6333, 0.035)), print(Measured(61.27, 1.2)), print(Measured(60.0))
        0.63 ± 0.04
        61.3 ± 1.2
        60.0
        (None, None, None)
        """
        if self.sd == 0:
            return f"{self.value:.{_decimals(self.value, 3)}f}"
        decimals = _decimals(self.sd, 1)
        if self.sd * 10.0**decimals < 2:
            decimals = _decimals(self.sd, 2)
        return f"{self.value:.{decimals}f} ± {self.sd:.{decimals}f}"

    def differs_from(self, other: float) -> bool:
        """Whether the value is further from ``other`` than its uncertainty explains.

        >>> Measured(0.9, 0.1).differs_from(1.0), Measured(0.7, 0.1).differs_from(1.0)
        (False, True)
        """
        return abs(self.value - other) > COVERAGE * self.sd


def _decimals(value: float, digits: int) -> int:
    """Decimal places that show a value to this many significant digits."""
    if value == 0:
        return 0
    return max(0, digits - 1 - math.floor(math.log10(abs(value))))


def propagate(formula: Callable[..., float], *inputs: Measured) -> Measured:
    """The result of a formula of independent readings, with its standard uncertainty.

    Each input in turn is moved up and down by its standard deviation. Half the change of the
    result is the contribution of that input, and the contributions add as squares. If the
    formula rejects one side, only the other side is used. Readings must be independent, so
    give the formula the readings themselves, not two results computed from the same reading.

    Source: JCGM 100:2008 (GUM), equation (10), in the numerical form of 5.1.3, note 2. Valid
    while the formula is nearly linear over one standard deviation.

    Args:
        formula: takes one float per input, in order.
        inputs: the readings.

    Raises:
        ValueError: the formula rejects the values themselves, or both sides of one of them.

    >>> flow = propagate(lambda volume, time: volume / time, Measured(38, 2), Measured(60, 1))
    >>> round(flow.value, 4), round(flow.sd, 4)
    (0.6333, 0.035)
    """
    values = [reading.value for reading in inputs]
    centre = formula(*values)
    contributions = [
        _contribution(formula, values, index, reading.sd, centre)
        for index, reading in enumerate(inputs)
        if reading.sd > 0
    ]
    return Measured(centre, math.hypot(*contributions))


def _contribution(
    formula: Callable[..., float], values: list[float], index: int, sd: float, centre: float
) -> float:
    """Change of the result when one input moves by its standard deviation."""
    results: list[float] = []
    rejection: ValueError | None = None
    for moved in (values[index] - sd, values[index] + sd):
        try:
            results.append(formula(*values[:index], moved, *values[index + 1 :]))
        except ValueError as error:
            rejection = error
    if not results:
        raise ValueError(f"one reading is too uncertain to use: {rejection}")
    if len(results) == 1:
        return abs(results[0] - centre)
    return abs(results[1] - results[0]) / 2
