"""Density of the air on the spot, and the inch of water."""

from __future__ import annotations

from assess import within

# ISO 2533:1975 = ICAO Doc 7488/3 = US Standard Atmosphere 1976 below 11 km.
SEA_LEVEL_PRESSURE_PA = 101325.0
SEA_LEVEL_TEMPERATURE_K = 288.15
LAPSE_K_PER_M = -0.0065
GRAVITY_M_S2 = 9.80665
DRY_AIR_J_PER_KG_K = 287.05287
EARTH_RADIUS_M = 6356766.0
ZERO_CELSIUS_K = 273.15

# The conventional inch of water, for water of 1000 kg/m3: NIST SP 811 (2008), Appendix B.8.
# Water at 4 degrees C gives 249.082 Pa, at 60 F 248.84 Pa: no gauge on an organ shows the
# difference.
INCH_WATER_PA = 249.0889


def air_pressure_pa(altitude_m: float) -> float:
    """Air pressure of the standard atmosphere [Pa].

    p = P0 (1 + L H / T0) ** (-g / (R L)), with H = r h / (r + h) for the height h.

    Source: ISO 2533:1975, troposphere. Valid from 500 m below the sea to 11 km. On any one
    day the weather moves the true pressure by up to 3 % (common practice).

    Args:
        altitude_m: geometric height above the sea [m].

    Raises:
        ValueError: a height outside that range.

    >>> round(air_pressure_pa(1000.0), 1)
    89876.3
    """
    within("the altitude", altitude_m, -500.0, 11000.0, " m")
    geopotential_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
    ratio = 1.0 + LAPSE_K_PER_M * geopotential_m / SEA_LEVEL_TEMPERATURE_K
    power = -GRAVITY_M_S2 / (DRY_AIR_J_PER_KG_K * LAPSE_K_PER_M)
    return float(SEA_LEVEL_PRESSURE_PA * ratio**power)


def air_density_kg_m3(altitude_m: float, temperature_c: float) -> float:
    """Density of dry air at a height, at the temperature of the room [kg/m3].

    rho = p(altitude) / (R T).

    Source: ISO 2533:1975 for the pressure; ideal gas law. Humid room air is up to 1 %
    lighter (common practice).

    Args:
        altitude_m: geometric height above the sea [m].
        temperature_c: temperature of the room [degrees C].

    Raises:
        ValueError: a height or temperature that no room has.

    >>> round(air_density_kg_m3(0.0, 15.0), 3), round(air_density_kg_m3(1500.0, 20.0), 3)
    (1.225, 1.005)
    """
    within("the temperature", temperature_c, -40.0, 60.0, " degrees C")
    return air_pressure_pa(altitude_m) / (DRY_AIR_J_PER_KG_K * (temperature_c + ZERO_CELSIUS_K))
