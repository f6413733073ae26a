"""Numbers that are known only as a range."""

from __future__ import annotations

from dataclasses import dataclass

from assess import finite


@dataclass(frozen=True)
class Band:
    """A quantity known only as a range, with its most likely value.

    Attributes:
        low: lowest credible value, any unit.
        likely: most likely value, same unit.
        high: highest credible value, same unit.

    Raises:
        ValueError: the values are not in that order, or not numbers.
    """

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        for value in (self.low, self.likely, self.high):
            finite("each end of a range", value)
        if not self.low <= self.likely <= self.high:
            raise ValueError(
                "a range needs low, likely and high in rising order, not "
                f"{self.low:g}, {self.likely:g}, {self.high:g}"
            )

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high

    def scaled(self, factor: float) -> Band:
        """The range of ``factor`` times the quantity; a negative factor swaps the ends.

        Source: interval arithmetic.

        >>> Band(1.0, 2.0, 4.0).scaled(-0.5)
        Band(low=-2.0, likely=-1.0, high=-0.5)
        """
        low, high = sorted((self.low * factor, self.high * factor))
        return Band(low, self.likely * factor, high)

    def plus(self, other: Band) -> Band:
        """The range of the sum when both err in the same direction: the widest possible.

        >>> Band(1.0, 2.0, 4.0).plus(Band(0.0, 0.5, 1.0))
        Band(low=1.0, likely=2.5, high=5.0)
        """
        return Band(self.low + other.low, self.likely + other.likely, self.high + other.high)
