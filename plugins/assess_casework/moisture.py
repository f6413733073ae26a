"""Moisture of wood and the air around it.

Moisture content is the weight of water in wood as a percentage of its dry weight.
"""

from __future__ import annotations

from dataclasses import dataclass

from assess import finite, not_negative, within

# The table that the equation reproduces covers -1.1 to 54.4 degC. A little beyond that range the
# equation still gives sensible values, far beyond it does not.
LOWEST_TEMP_C = -20.0
HIGHEST_TEMP_C = 60.0

# Wood Handbook (2010), chapter 13: fibre saturation, as its shrinkage formula has it. Above it,
# wood takes up water without swelling.
FIBRE_SATURATION_PERCENT = 30.0

_BISECTIONS = 60


@dataclass(frozen=True)
class Sorption:
    """Coefficients of the sorption equation: constant, linear, quadratic in temperature.

    Attributes:
        w: Molar weight of dry wood per sorption site.
        k: Activity of dissolved water.
        k1: Equilibrium constant of the first hydrate.
        k2: Equilibrium constant of the second hydrate.
    """

    w: tuple[float, float, float]
    k: tuple[float, float, float]
    k1: tuple[float, float, float]
    k2: tuple[float, float, float]


# W. T. Simpson, Equilibrium moisture content of wood in outdoor locations, FPL-RN-0268
# (1998); Wood Handbook equation 4-5, with temperature in degC.
CELSIUS = Sorption(
    w=(349.0, 1.29, 0.0135),
    k=(0.805, 0.000736, -2.73e-6),
    k1=(6.27, -0.00938, -0.000303),
    k2=(1.91, 0.0407, -0.000293),
)


def hailwood_horrobin_percent(temperature: float, rh_percent: float, sorption: Sorption) -> float:
    """Equilibrium moisture content of wood, by the two-hydrate sorption equation.

    M = 1800/W (Kh/(1-Kh) + (K1 K h + 2 K1 K2 K^2 h^2) / (1 + K1 K h + K1 K2 K^2 h^2))

    Source: A. J. Hailwood, S. Horrobin, Trans. Faraday Soc. 42 B084 (1946); Wood Handbook
    equation 4-5. Valid for the temperatures that the coefficients were fitted to.

    Args:
        temperature: Temperature, in the unit of the coefficients.
        rh_percent: Relative humidity, 0 to 100 %.
        sorption: Coefficients.

    Returns:
        Moisture content, %.

    Raises:
        ValueError: The humidity is outside 0 to 100 %, or a number is NaN.

    >>> round(hailwood_horrobin_percent(20.0, 50.0, CELSIUS), 4)
    9.2711
    """
    finite("the temperature", temperature)
    humidity = within("the relative humidity", rh_percent, 0.0, 100.0, " %") / 100
    w, k, k1, k2 = (
        constant + linear * temperature + quadratic * temperature**2
        for constant, linear, quadratic in (sorption.w, sorption.k, sorption.k1, sorption.k2)
    )
    dissolved = k * humidity
    first = k1 * dissolved
    second = k1 * k2 * dissolved**2
    hydrated = (first + 2 * second) / (1 + first + second)
    return 1800 / w * (dissolved / (1 - dissolved) + hydrated)


def equilibrium_moisture_percent(temp_c: float, rh_percent: float) -> float:
    """Equilibrium moisture content of wood in air of a given temperature and humidity.

    Source: Wood Handbook (2010) equation 4-5 and Table 4-2, which it reproduces to 0.06
    percentage point between -1.1 and 54.4 degC and 5 to 95 % humidity. It is an
    average of woods: a real board may differ by one point either way, depending on its wood, its
    finish, and whether it is drying or taking up water (from memory).

    Args:
        temp_c: Temperature, -20 to 60 degC.
        rh_percent: Relative humidity, 0 to 100 %.

    Returns:
        Moisture content, %.

    Raises:
        ValueError: A number is out of range or NaN.

    >>> round(equilibrium_moisture_percent(21.0, 40.0), 1)
    7.7
    """
    within("the temperature", temp_c, LOWEST_TEMP_C, HIGHEST_TEMP_C, " degC")
    return hailwood_horrobin_percent(temp_c, rh_percent, CELSIUS)


def humidity_for_moisture_percent(temp_c: float, mc_percent: float) -> float:
    """Relative humidity at which wood of a given moisture content neither dries nor swells.

    The inverse of `equilibrium_moisture_percent`, by bisection: the equation rises with
    humidity everywhere. Same source and range.

    Args:
        temp_c: Temperature, -20 to 60 degC.
        mc_percent: Moisture content, %; 0 to what saturated air gives (26 to 29 %).

    Returns:
        Relative humidity, %.

    Raises:
        ValueError: The wood is wetter than air alone can make it, or a number is out of range
            or NaN.

    >>> round(humidity_for_moisture_percent(21.1, 8.0))
    42
    """
    not_negative("the moisture content", mc_percent)
    wettest = equilibrium_moisture_percent(temp_c, 100.0)
    if mc_percent > wettest:
        raise ValueError(
            f"Air at {temp_c:g} degC brings wood to {wettest:.1f} % at most; "
            f"wood at {mc_percent:g} % has been wet."
        )
    low, high = 0.0, 100.0
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        if equilibrium_moisture_percent(temp_c, middle) < mc_percent:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def require_moisture_percent(mc_percent: float) -> float:
    """Return a moisture content at which wood still swells and shrinks.

    Args:
        mc_percent: Moisture content, %.

    Returns:
        The same moisture content.

    Raises:
        ValueError: It is outside 0 to 30 %, or NaN.

    >>> require_moisture_percent(8.0)
    8.0
    """
    return within("the moisture content", mc_percent, 0.0, FIBRE_SATURATION_PERCENT, " %")
