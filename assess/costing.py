"""Hours and materials to a cost with its spread, in closed form.

Each step's hours follow a beta distribution of the PERT kind with mean (a + 4m + b)/6 and,
as its shape has it, variance (mean - a)(b - mean)/7 (D. G. Malcolm and others, "Application
of a technique for research and development program evaluation", Operations Research 7 (1959)
for the mean; the variance is that of the beta distribution with shapes 1 + 4(m-a)/(b-a) and
1 + 4(b-m)/(b-a)). One log-normal factor with mean 1 multiplies all hours of a job, because
misjudgements of one instrument go the same way. The total is taken to be log-normal with
the resulting mean and variance.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist

from assess.knowledge import HoursRange
from assess.workshop import Workshop


@dataclass(frozen=True)
class Spread:
    """A positive quantity that is not known exactly: mean, standard deviation, tenths."""

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
    scale = workshop.overlap * workshop.pace
    mean = scale * sum(map(pert_mean, steps))
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


def probability_within(cost: Cost, ceiling: float) -> float:
    """Probability that the cost stays at or under a ceiling."""
    rate = cost.rate_per_hour * (1 + cost.contingency)
    fixed = (cost.materials + cost.transport) * (1 + cost.contingency)
    left = ceiling - fixed
    if cost.hours.sd <= 0 or rate <= 0:
        return 1.0 if cost.total.mean <= ceiling else 0.0
    if left <= 0:
        return 0.0
    mu, sigma = lognormal_parameters(cost.hours.mean, cost.hours.sd)
    return NormalDist(mu, sigma).cdf(math.log(left / rate))


def ceiling_for(cost: Cost, probability: float) -> float:
    """The ceiling that the cost stays under with a given probability between 0 and 1."""
    if cost.hours.sd <= 0:
        return cost.total.mean
    mu, sigma = lognormal_parameters(cost.hours.mean, cost.hours.sd)
    hours = math.exp(NormalDist(mu, sigma).inv_cdf(min(max(probability, 1e-6), 1 - 1e-6)))
    return (hours * cost.rate_per_hour + cost.materials + cost.transport) * (1 + cost.contingency)
