"""Humid air at the air pressure on site: humidity ratio, dew point, wet bulb and enthalpy.

The pressure of water vapour comes from the rulebook's table; the rest is arithmetic.
"""

from __future__ import annotations

from sync.errors import OutOfRange
from sync.kernel.books import Rulebook
from sync.kernel.interpolation import between

VAPOUR_RATIO = 0.621945
LOWEST_C = -45.0
# Dry air at 105 °C has a wet bulb about 68 K below it.
WIDEST_K = 75.0
# Humidity ratios this close [kg/kg] differ by about 0.00002 K of wet bulb; a bracket this narrow [K] is close enough
# too.
CLOSE = 1e-8
NARROW_K = 0.0005


def vapour_pressure_pa(temperature_c: float, rulebook: Rulebook) -> float:
    """Saturation pressure of water, over ice below 0 °C.

    Args:
        temperature_c: temperature [°C]
        rulebook: the rulebook [books by name]

    Returns:
        pressure [Pa]

    Valid for: -45 to 105 °C.

    Raises:
        OutOfRange: the temperature lies outside the table.

    Source: IAPWS-95 and IAPWS R14-08(2011), tabulated by `layby rulebook`.
    """
    return between(rulebook["water"]["t_c"], rulebook["water"]["p_pa"], temperature_c)


def _ratio(vapour_pa: float, station_kpa: float) -> float:
    total = station_kpa * 1000.0
    if not 0.0 <= vapour_pa < total:
        raise OutOfRange(value=vapour_pa, low=0.0, high=total)
    return VAPOUR_RATIO * vapour_pa / (total - vapour_pa)


def humidity_ratio(temperature_c: float, humidity_pct: float, station_kpa: float, rulebook: Rulebook) -> float:
    """Mass of water vapour per mass of dry air.

    Args:
        temperature_c: dry-bulb temperature [°C]
        humidity_pct: relative humidity [%]
        station_kpa: absolute air pressure on site [kPa]
        rulebook: the rulebook [books by name]

    Returns:
        humidity ratio [kg/kg]

    Valid for: 0 to 100 %, -45 to 105 °C.

    Raises:
        OutOfRange: humidity or temperature lies outside, or the vapour would exceed the air pressure on site.

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, equations 12 and 20.
    """
    if not 0.0 <= humidity_pct <= 100.0:
        raise OutOfRange(value=humidity_pct, low=0.0, high=100.0)
    return _ratio(humidity_pct / 100.0 * vapour_pressure_pa(temperature_c, rulebook), station_kpa)


def dew_point_c(temperature_c: float, humidity_pct: float, rulebook: Rulebook) -> float:
    """Temperature at which the vapour would condense; below 0 °C, the frost point.

    Args:
        temperature_c: dry-bulb temperature [°C]
        humidity_pct: relative humidity [%]
        rulebook: the rulebook [books by name]

    Returns:
        dew point [°C]

    Valid for: humidity above 0 %, dew points of -45 °C and above.

    Raises:
        OutOfRange: there is no dew point, or it lies below the table.

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, section on dew point: the table read in reverse.
    """
    if not 0.0 < humidity_pct <= 100.0:
        raise OutOfRange(value=humidity_pct, low=0.0, high=100.0)
    vapour = humidity_pct / 100.0 * vapour_pressure_pa(temperature_c, rulebook)
    return between(rulebook["water"]["p_pa"], rulebook["water"]["t_c"], vapour)


def _ratio_at_wet_bulb(temperature_c: float, wet_c: float, vapour_pa: float, station_kpa: float) -> float:
    """The humidity ratio that corresponds to a wet bulb, by the vapour pressure at that temperature [kg/kg]."""
    saturated = _ratio(vapour_pa, station_kpa)
    if wet_c >= 0.0:
        top = (2501.0 - 2.326 * wet_c) * saturated - 1.006 * (temperature_c - wet_c)
        return top / (2501.0 + 1.86 * temperature_c - 4.186 * wet_c)
    top = (2830.0 - 0.24 * wet_c) * saturated - 1.006 * (temperature_c - wet_c)
    return top / (2830.0 + 1.86 * temperature_c - 2.1 * wet_c)


def wet_bulb_c(temperature_c: float, humidity_pct: float, station_kpa: float, rulebook: Rulebook) -> float:
    """Thermodynamic wet-bulb temperature.

    Found between two ends: the humidity ratio that corresponds to a wet bulb rises with it, except for a small step at
    0 °C where ice takes over. There, halving stops in the right place.

    Args:
        temperature_c: dry-bulb temperature [°C]
        humidity_pct: relative humidity [%]
        station_kpa: absolute air pressure on site [kPa]
        rulebook: the rulebook [books by name]

    Returns:
        wet-bulb temperature, to 0.001 K [°C]

    Valid for: 0 to 100 %, wet bulbs of -45 °C and above, dry bulbs at which water doesn't boil.

    Raises:
        OutOfRange: an input lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, equations 33 and 35.
    """
    temperatures, pressures = rulebook["water"]["t_c"], rulebook["water"]["p_pa"]
    ratio = humidity_ratio(temperature_c, humidity_pct, station_kpa, rulebook)
    low = temperature_c - WIDEST_K
    if not low >= LOWEST_C:
        low = LOWEST_C
    high, vapour_pa = temperature_c, between(temperatures, pressures, temperature_c)
    boiling_pa = 990.0 * station_kpa
    if vapour_pa > boiling_pa:
        high = between(pressures, temperatures, boiling_pa)
        vapour_pa = between(temperatures, pressures, high)
    below = _ratio_at_wet_bulb(temperature_c, low, between(temperatures, pressures, low), station_kpa) - ratio
    if not below <= 0.0:
        raise OutOfRange(value=temperature_c, low=LOWEST_C, high=high)
    above = _ratio_at_wet_bulb(temperature_c, high, vapour_pa, station_kpa) - ratio
    i, last = 0, 0.0
    while i < 30 and high - low > NARROW_K:
        # Where a straight line would meet it, which gets close quickly; later half way, which always ends.
        middle = low + (high - low) * (0.5 if i > 9 else below / (below - above))
        vapour_pa = between(temperatures, pressures, middle)
        miss = _ratio_at_wet_bulb(temperature_c, middle, vapour_pa, station_kpa) - ratio
        if abs(miss) < CLOSE:
            return middle
        # An end that stays twice counts half (the Illinois rule); otherwise the line would creep along from it.
        if miss < 0.0:
            low, below = middle, miss
            above = above / 2.0 if last < 0.0 else above
        else:
            high, above = middle, miss
            below = below / 2.0 if last > 0.0 else below
        last = miss
        i = i + 1
    return low + (high - low) / 2.0


def enthalpy_kj_kg(temperature_c: float, ratio: float) -> float:
    """Enthalpy of humid air per mass of dry air, zero for dry air at 0 °C.

    Args:
        temperature_c: dry-bulb temperature [°C]
        ratio: humidity ratio [kg/kg]

    Returns:
        enthalpy [kJ/kg]

    Valid for: -45 to 105 °C.

    Source: ASHRAE Handbook Fundamentals 2017, chapter 1, equation 30.
    """
    return 1.006 * temperature_c + ratio * (2501.0 + 1.86 * temperature_c)
