"""Air density on the spot, and suction from a water gauge."""

from __future__ import annotations

from assess import finite, not_negative, positive

# ISO 2533:1975 = ICAO Doc 7488/3 = US Standard Atmosphere 1976 below 11 km.
SEA_LEVEL_PRESSURE_PA = 101325.0
SEA_LEVEL_TEMPERATURE_K = 288.15
LAPSE_K_PER_M = -0.0065
GRAVITY_M_S2 = 9.80665
DRY_AIR_J_PER_KG_K = 287.05287
EARTH_RADIUS_M = 6356766.0
ZERO_CELSIUS_K = 273.15

# The conventional water column: 1000 kg/m3 (NIST SP 811, 2008, Appendix B.8, which gives
# 249.0889 Pa for the inch of it). Water at 4 degrees C gives 249.082 Pa instead, at 60 F
# 248.84 Pa: a difference that no gauge on an organ can show.
CONVENTIONAL_WATER_KG_M3 = 1000.0
INCH_M = 0.0254


def air_pressure_pa(altitude_m: float) -> float:
    """Air pressure of the standard atmosphere.

    p = P0 (1 + L H / T0) ** (-g / (R L)), with H = r h / (r + h) for the height h.

    Source: ISO 2533:1975, troposphere. Valid from 500 m below the sea to 11 km; on any one
    day the weather moves the true pressure by up to some 3 % (common practice).

    Args:
        altitude_m: geometric height above the sea [m].

    Raises:
        ValueError: a height outside that range, or no number.

    >>> round(air_pressure_pa(1000.0), 1)
    89876.3
    """
    if not -500.0 <= finite("the altitude", altitude_m) <= 11000.0:
        raise ValueError(f"the altitude must be from -500 m to 11000 m, not {altitude_m:g} m")
    geopotential_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
    ratio = 1.0 + LAPSE_K_PER_M * geopotential_m / SEA_LEVEL_TEMPERATURE_K
    power = -GRAVITY_M_S2 / (DRY_AIR_J_PER_KG_K * LAPSE_K_PER_M)
    return float(SEA_LEVEL_PRESSURE_PA * ratio**power)


def air_density_kg_m3(altitude_m: float = 0.0, temperature_c: float = 20.0) -> float:
    """Density of dry air at a height, at the temperature of the room.

    rho = p(altitude) / (R T).

    Source: ISO 2533:1975 for the pressure; ideal gas law. Humid room air is up to about 1 %
    lighter (common practice).

    Args:
        altitude_m: geometric height above the sea [m].
        temperature_c: temperature of the room [degrees C].

    Raises:
        ValueError: a height or temperature that no room has.

    >>> round(air_density_kg_m3(0.0, 15.0), 3), round(air_density_kg_m3(1500.0, 20.0), 3)
    (1.225, 1.005)
    """
    if not -40.0 <= finite("the temperature", temperature_c) <= 60.0:
        raise ValueError(f"the room must be from -40 to 60 degrees C, not {temperature_c:g}")
    return air_pressure_pa(altitude_m) / (DRY_AIR_J_PER_KG_K * (temperature_c + ZERO_CELSIUS_K))


def water_column_pa(height_m: float, water_kg_m3: float = CONVENTIONAL_WATER_KG_M3) -> float:
    """Suction that lifts water by this much: p = rho g h.

    Source: hydrostatics; NIST SP 811 (2008), Appendix B.8 for the conventional density.

    Args:
        height_m: difference of the two levels [m].
        water_kg_m3: density of the water [kg/m3].

    Raises:
        ValueError: a height less than zero, or a density that is not more than zero.

    >>> round(water_column_pa(0.0254), 4)
    249.0889
    """
    not_negative("the height of the water", height_m)
    positive("the density of the water", water_kg_m3)
    return height_m * water_kg_m3 * GRAVITY_M_S2


def inches_water_pa(inches: float) -> float:
    """Suction from a gauge in inches of water (the conventional inch, 249.0889 Pa).

    Source: NIST SP 811 (2008), Appendix B.8.

    Args:
        inches: reading of the gauge [in of water].

    Raises:
        ValueError: a reading less than zero, or no number.

    >>> round(inches_water_pa(3.0), 1)
    747.3
    """
    return water_column_pa(inches * INCH_M)


def mm_water_pa(mm: float) -> float:
    """Suction from a gauge in millimetres of water (the conventional one, 9.80665 Pa).

    Source: NIST SP 811 (2008), Appendix B.8.

    Args:
        mm: reading of the gauge [mm of water].

    Raises:
        ValueError: a reading less than zero, or no number.

    >>> round(mm_water_pa(76.2), 1)
    747.3
    """
    return water_column_pa(mm / 1000.0)
