"""A reading with its uncertainty, and how the uncertainty passes through a formula."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from assess import finite, not_negative

# Two standard deviations, about 95 % for a normal error: JCGM 100:2008, 6.2.1 and 6.3.3.
COVERAGE = 2.0


@dataclass(frozen=True)
class Measured:
    """A value and its standard deviation, both in the same unit.

    Attributes:
        value: best estimate.
        sd: standard deviation of the error of that estimate; 0 means taken as exact.

    Raises:
        ValueError: a value that is no number, or a negative standard deviation.
    """

    value: float
    sd: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what cannot be a reading."""
        finite("a measured value", self.value)
        not_negative("a standard deviation", self.sd)

    def __str__(self) -> str:
        """Value and error to as many figures as the error deserves.

        One figure of the error, or two where it begins with 1; three figures of a value
        taken as exact. Source: JCGM 100:2008, 7.2.6 (at most two figures); the rest common
        practice.

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
        """Whether the value lies further from ``other`` than its error can explain.

        >>> Measured(0.9, 0.1).differs_from(1.0), Measured(0.7, 0.1).differs_from(1.0)
        (False, True)
        """
        return abs(self.value - other) > COVERAGE * self.sd

    def scaled(self, factor: float) -> Measured:
        """The same reading in another unit.

        >>> Measured(0.25, 0.5).scaled(1000.0)
        Measured(value=250.0, sd=500.0)
        """
        return Measured(self.value * factor, self.sd * abs(factor))


def _decimals(value: float, figures: int) -> int:
    """Decimals that show a value to so many figures."""
    if value == 0:
        return 0
    return max(0, figures - 1 - math.floor(math.log10(abs(value))))


def propagate(formula: Callable[..., float], *inputs: Measured) -> Measured:
    """The result of a formula of independent readings, with its standard deviation.

    Each input in turn is moved up and down by its own standard deviation; half the change
    of the result is that input's share, and the shares add as squares. Where one side is
    outside what the formula allows, the other side alone is used.

    Source: JCGM 100:2008 (GUM), equation (10), with the numerical form of 5.1.3, note 2.
    Valid while the formula is close to straight over one standard deviation, and while the
    errors are independent.

    Args:
        formula: takes one float per input, in order.
        inputs: the readings.

    Raises:
        ValueError: the formula refuses the values themselves, or both sides of one of them.

    >>> flow = propagate(lambda volume, time: volume / time, Measured(38, 2), Measured(60, 1))
    >>> round(flow.value, 4), round(flow.sd, 4)
    (0.6333, 0.035)
    """
    values = [reading.value for reading in inputs]
    centre = formula(*values)
    shares = [
        _share(formula, values, index, reading.sd, centre)
        for index, reading in enumerate(inputs)
        if reading.sd > 0
    ]
    return Measured(centre, math.hypot(*shares))


def _share(
    formula: Callable[..., float], values: list[float], index: int, sd: float, centre: float
) -> float:
    ends: list[float] = []
    refusal: ValueError | None = None
    for moved in (values[index] - sd, values[index] + sd):
        try:
            ends.append(formula(*values[:index], moved, *values[index + 1 :]))
        except ValueError as error:
            refusal = error
    if not ends:
        raise ValueError(f"one reading is too uncertain to use: {refusal}")
    if len(ends) == 1:
        return abs(ends[0] - centre)
    return abs(ends[1] - ends[0]) / 2


def mean_of_readings(readings: Sequence[float], reading_sd: float) -> Measured:
    """The mean of repeated readings, with the standard deviation of that mean.

    A few readings that happen to agree are not taken as better than the instrument: the
    scatter used is the larger of what was seen and what one reading is good for.

    Source: JCGM 100:2008, 4.2.3 (experimental standard deviation of the mean); the lower
    limit from the reading error is common practice.

    Args:
        readings: repeats of one measurement, any unit.
        reading_sd: standard deviation of a single reading, same unit.

    Raises:
        ValueError: no readings, one that is no number, or a negative standard deviation.

    >>> mean_of_readings([61.0, 59.0, 60.0], 0.5).value
    60.0
    """
    if not readings:
        raise ValueError("at least one reading is needed")
    for reading in readings:
        finite("a reading", reading)
    not_negative("the error of one reading", reading_sd)
    seen = stdev(readings) if len(readings) > 1 else 0.0
    return Measured(fmean(readings), max(seen, reading_sd) / math.sqrt(len(readings)))
