"""Statistics that a few wild readings do not change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import median

from assess import finite, positive

# 1 / (normal quantile of 3/4): scales the median deviation of normal errors to their standard
# deviation.
MAD_TO_SD = 1.482602218505602

# A reading further from the median than this many robust standard deviations is an outlier:
# B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers, ASQC 1993 (modified z-score
# of 3.5).
OUTLIER_Z_SCORE = 3.5


@dataclass(frozen=True)
class Line:
    """A straight line, y = level + slope x.

    Attributes:
        level: y at x = 0.
        slope: rise per unit of x.
    """

    level: float
    slope: float

    def at(self, x: float) -> float:
        """The height of the line at x, level + slope x. Source: geometry.

        >>> Line(1.0, 0.5).at(4.0)
        3.0
        """
        return self.level + self.slope * x


def fit_line(xs: Sequence[float], ys: Sequence[float]) -> Line:
    """A line through most of the points: the slope is the median of all pairwise slopes.

    The level is the median of y - slope x. Up to 29 % of the points may be wild.

    Source: H. Theil, A rank-invariant method of linear and polynomial regression analysis
    (1950); P. K. Sen, Estimates of the regression coefficient based on Kendall's tau,
    J. Amer. Statist. Assoc. 63 (1968).

    Args:
        xs: positions.
        ys: one reading for each position, in any unit.

    Raises:
        ValueError: lists of different length, a value that is not a number, or fewer than
            two different positions.

    >>> fit_line([0, 1, 2, 3, 4], [0.0, 0.5, 1.0, 99.0, 2.0])
    Line(level=0.0, slope=0.5)
    """
    if len(xs) != len(ys):
        raise ValueError("every position needs one reading")
    for value in (*xs, *ys):
        finite("a reading", value)
    points = list(zip(xs, ys, strict=True))
    slopes = [(y2 - y1) / (x2 - x1) for (x1, y1), (x2, y2) in combinations(points, 2) if x1 != x2]
    if not slopes:
        raise ValueError("a line needs readings at two different positions")
    slope = median(slopes)
    return Line(median(y - slope * x for x, y in points), slope)


def robust_sd(values: Sequence[float]) -> float:
    """Standard deviation, estimated from the median deviation from the median.

    Source: F. R. Hampel, The influence curve and its role in robust estimation, J. Amer.
    Statist. Assoc. 69 (1974). Valid when more than half of the values have normal errors.

    Args:
        values: readings, in any unit.

    Returns:
        The standard deviation, in the unit of the values.

    Raises:
        ValueError: no values, or one that is not a number.

    >>> round(robust_sd([1.0, 2.0, 3.0, 4.0, 1000.0]), 3)
    1.483
    """
    if not values:
        raise ValueError("at least one reading is needed")
    middle = median(finite("a reading", value) for value in values)
    return MAD_TO_SD * median(abs(value - middle) for value in values)


def outliers(values: Sequence[float], min_sd: float) -> list[int]:
    """Indices of the values that are far from the others.

    Source: Iglewicz and Hoaglin (1993), modified z-score. The standard deviation has a lower
    limit. Without it, one graduation of the rule would be an outlier among equal readings.

    Args:
        values: readings, in any unit.
        min_sd: standard deviation of a single reading, in the same unit.

    Raises:
        ValueError: no values, one that is not a number, or a ``min_sd`` that is not above zero.

    >>> outliers([9.0, 9.1, 8.9, 9.0, 12.0], 0.1)
    [4]
    """
    sd = max(robust_sd(values), positive("the error of a reading", min_sd))
    middle = median(values)
    return [i for i, value in enumerate(values) if abs(value - middle) > OUTLIER_Z_SCORE * sd]
