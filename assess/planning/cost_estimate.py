"""Hours and materials to a cost with its spread, in closed form; and samples of the hours.

Each step's hours follow a beta distribution of the PERT kind with mean (a + 4m + b)/6 and,
as follows from its shape, variance (mean - a)(b - mean)/7 (D. G. Malcolm and others, "Application
of a technique for research and development program evaluation", Operations Research 7 (1959)
for the mean; the variance is that of the beta distribution with shapes 1 + 4(m-a)/(b-a) and
1 + 4(b-m)/(b-a)). One log-normal factor with mean 1 multiplies all hours of a job, because
misjudgements of one job go the same way.

The total is taken to be log-normal with the mean and variance that follow, which gives its
quantiles to a quarter of a per cent, and the steps that make the spread exactly
(:func:`estimate_of`). Seeded samples of the same (:func:`sampled_hours`) are drawn where more than
quantiles is asked for, as for finish dates. Tests hold the two against each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import HoursRange

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Spread:
    """A positive quantity that is not known exactly: mean, standard deviation, 10/50/90 %."""

    mean: float
    sd: float
    p10: float
    p50: float
    p90: float


@dataclass(frozen=True)
class Cost:
    """Bench hours and cost of a plan, with what the cost is made of."""

    hours: Spread
    total: Spread
    materials: float
    transport: float
    currency: str
    rate_per_hour: float
    contingency: float


@dataclass(frozen=True)
class Estimate:
    """Hours and cost of a plan, and what makes them uncertain.

    Attributes:
        hours, total: bench hours and cost.
        variance_shares: step -> the share of the spread that it makes, largest first.
    """

    hours: Spread
    total: Spread
    variance_shares: dict[str, float]


SAMPLES = 1000
SEED = 20270111


def pert_mean(hours: HoursRange) -> float:
    """Mean of the PERT beta distribution, in hours.

    >>> pert_mean(HoursRange((1, 2, 6)))
    2.5
    """
    low, likely, high = hours
    return (low + 4 * likely + high) / 6


def pert_variance(hours: HoursRange) -> float:
    """Variance of the PERT beta distribution, in hours squared.

    >>> round(pert_variance(HoursRange((1, 2, 6))) ** 0.5, 4)
    0.866
    """
    low, _, high = hours
    mean = pert_mean(hours)
    return (mean - low) * (high - mean) / 7


def lognormal_parameters(mean: float, sd: float) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm of a log-normal quantity."""
    variance = math.log(1 + (sd / mean) ** 2)
    return math.log(mean) - variance / 2, math.sqrt(variance)


def spread(mean: float, sd: float) -> Spread:
    """A log-normal spread of that mean and standard deviation; nothing spreads from zero."""
    if mean <= 0 or sd <= 0:
        return Spread(mean, 0.0, mean, mean, mean)
    mu, sigma = lognormal_parameters(mean, sd)
    tenths = [math.exp(mu + sigma * NormalDist().inv_cdf(p)) for p in (0.1, 0.5, 0.9)]
    return Spread(mean, sd, *tenths)


def job_hours(hours: Iterable[HoursRange], workshop: Workshop) -> Spread:
    """Bench hours of a whole job: steps added up, overlapped, with the shared factor."""
    steps = list(hours)
    summed = sum(map(pert_mean, steps))
    scale = workshop.share_spent(summed) * workshop.pace
    mean = scale * summed
    variance = scale**2 * sum(map(pert_variance, steps))
    shared = math.exp(workshop.whole_job_spread**2)
    return spread(mean, math.sqrt(max(0.0, (mean**2 + variance) * shared - mean**2)))


def cost_of(hours: Spread, materials: float, transport: float, workshop: Workshop) -> Cost:
    """The cost of a job from its hours, materials and transport."""
    factor = 1 + workshop.contingency
    fixed = (materials + transport) * factor
    rate = workshop.rate_per_hour * factor
    total = Spread(
        fixed + rate * hours.mean,
        rate * hours.sd,
        fixed + rate * hours.p10,
        fixed + rate * hours.p50,
        fixed + rate * hours.p90,
    )
    return Cost(
        hours,
        total,
        materials,
        transport,
        workshop.currency,
        workshop.rate_per_hour,
        workshop.contingency,
    )


def estimate_of(hours: Mapping[str, HoursRange], cost: Cost, workshop: Workshop) -> Estimate:
    """Hours and cost of a plan, and the steps that make the spread.

    Args:
        hours: low, likely and high hours of each step.
        cost: the plan's cost.
        workshop: overlap, pace and spread.

    Returns:
        The estimate. A step's share of the spread is the covariance of its hours with the
        total, over the variance of the total; shares add up to one. With the shared factor F and
        hours X before it, that covariance is E[F²] (E[X] E[sum] + Var[X]) - E[X] E[sum].
    """
    if not hours:
        nothing = Spread(0.0, 0.0, 0.0, 0.0, 0.0)
        return Estimate(nothing, nothing, {})
    scale = workshop.share_spent(sum(map(pert_mean, hours.values()))) * workshop.pace
    square = math.exp(workshop.whole_job_spread**2)
    summed = scale * sum(map(pert_mean, hours.values()))
    own = {
        step: scale * pert_mean(h) * summed * (square - 1) + scale**2 * pert_variance(h) * square
        for step, h in hours.items()
    }
    variance = math.fsum(own.values())
    shares = {step: share / variance for step, share in own.items() if variance > 0}
    ranked = sorted(shares.items(), key=lambda item: (-round(item[1], 12), item[0]))
    return Estimate(cost.hours, cost.total, dict(ranked))


def sampled_hours(
    hours: Sequence[HoursRange], workshop: Workshop, samples: int = SAMPLES, seed: int = SEED
) -> NDArray[np.float64]:
    """Hands-on hours of each step in each sample; of shape (steps, samples).

    Their sum has the mean and variance that :func:`job_hours` gives. The shared factor is sampled
    once from each of as many equally probable ranges as there are samples, so that the tenths
    do not depend on a few samples (M. D. McKay, R. J. Beckman and W. J. Conover, "A comparison
    of three methods for selecting values of input variables in the analysis of output from a
    computer code", Technometrics 21 (1979)).
    """
    import numpy as np

    # The old generator is the one whose numbers are promised never to change between
    # versions of numpy, so that a plan has the same dates on every machine.
    random = np.random.RandomState(seed)
    low, likely, high = np.array(hours, dtype=float).reshape(-1, 3).T
    width = high - low
    safe = np.where(width > 0, width, 1.0)
    shape_low, shape_high = 1 + 4 * (likely - low) / safe, 1 + 4 * (high - likely) / safe
    shares = random.beta(shape_low[:, None], shape_high[:, None], (len(hours), samples))
    factor = _whole_job_factor(workshop.whole_job_spread, random.random_sample(samples))
    scale = workshop.share_spent(sum(map(pert_mean, hours))) * workshop.pace
    return np.asarray(scale * factor * (low[:, None] + width[:, None] * shares))


def _whole_job_factor(log_sd: float, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """One value of the shared factor from each of equally probable ranges; its mean is 1.

    Args:
        log_sd: standard deviation of the factor's logarithm.
        places: where in its range each value lies, from 0 to 1.
    """
    import numpy as np

    count = len(places)
    # The generator may give exactly 0, of which the normal distribution has no quantile.
    probabilities = np.clip((np.arange(count) + places) / count, 1e-9, 1 - 1e-9)
    normal = np.array([NormalDist().inv_cdf(float(p)) for p in probabilities])
    return np.asarray(np.exp(log_sd * normal - log_sd**2 / 2))


def probability_within(cost: Cost, limit: float) -> float:
    """Probability that the cost stays at or under a limit."""
    rate = cost.rate_per_hour * (1 + cost.contingency)
    fixed = (cost.materials + cost.transport) * (1 + cost.contingency)
    if cost.hours.sd <= 0 or rate <= 0:
        return 1.0 if cost.total.mean <= limit else 0.0
    hours = (limit - fixed) / rate
    if hours <= 0:
        return 0.0
    mu, sigma = lognormal_parameters(cost.hours.mean, cost.hours.sd)
    return NormalDist(mu, sigma).cdf(math.log(hours))


def price_at(cost: Cost, probability: float) -> float:
    """The price that the cost stays under with a given probability between 0 and 1."""
    if cost.hours.sd <= 0:
        return cost.total.mean
    mu, sigma = lognormal_parameters(cost.hours.mean, cost.hours.sd)
    hours = math.exp(NormalDist(mu, sigma).inv_cdf(min(max(probability, 1e-6), 1 - 1e-6)))
    return (hours * cost.rate_per_hour + cost.materials + cost.transport) * (1 + cost.contingency)
