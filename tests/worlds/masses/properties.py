"""Saturation tables of the refrigerants and the psychrometrics of moist air, for arrays of requests.

It holds only properties; it must not know about cars or tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from CoolProp.CoolProp import PropsSI
from numpy.typing import NDArray

Array = NDArray[np.float64]
FLUIDS = {"R134a": "R134a", "R1234yf": "R1234yf"}
COLDEST_C, WARMEST_C, PITCH_K = -60.0, 92.0, 0.5
LOG_P = np.linspace(np.log(12.0), np.log(3400.0), 600)  # of kPa
KELVIN = 273.15


@dataclass(frozen=True)
class Saturation:
    """Saturated refrigerant: kPa, kg/m³, kJ/kg, kJ/kg K; slopes along it of pressure [kPa/K], vapour [kg/m³ K]."""

    p: Array
    liquid_density: Array
    vapour_density: Array
    h_liquid: Array
    h_vapour: Array
    cp_liquid: Array
    cp_vapour: Array
    p_slope: Array
    vapour_slope: Array

    @property
    def latent(self) -> Array:
        """Heat of evaporation [kJ/kg]."""
        return self.h_vapour - self.h_liquid


def _column(fluid: str, grid_c: Array) -> Array:
    """The table of one fluid, a row per grid temperature."""
    grid = grid_c + KELVIN
    asks = (("P", 0, 1e-3), ("D", 0, 1.0), ("D", 1, 1.0), ("H", 0, 1e-3), ("H", 1, 1e-3),
            ("C", 0, 1e-3), ("C", 1, 1e-3))
    columns = [PropsSI(name, "T", grid, "Q", quality, fluid) * unit for name, quality, unit in asks]
    columns += [np.gradient(columns[0], grid), np.gradient(columns[2], grid)]
    return np.stack([np.asarray(c, dtype=np.float64) for c in columns], axis=1)


@cache
def tables() -> tuple[Array, Array]:
    """(by temperature [fluid, row, property], temperature by log pressure [fluid, row]), from CoolProp."""
    grid = np.arange(COLDEST_C, WARMEST_C + 0.5 * PITCH_K, PITCH_K)
    by_temperature = np.stack([_column(fluid, grid) for fluid in FLUIDS.values()])
    inverse = np.stack([np.interp(LOG_P, np.log(table[:, 0]), grid) for table in by_temperature])
    return by_temperature, inverse


def saturation(fluid: NDArray[np.intp], temperature_c: Array) -> Saturation:
    """Properties at a saturation temperature [°C], held at the ends of the table."""
    table = tables()[0]
    place = np.clip((temperature_c - COLDEST_C) / PITCH_K, 0.0, table.shape[1] - 1.001)
    row = place.astype(np.intp)
    rest = (place - row)[:, None]
    low = table[fluid, row]
    return Saturation(*(low + rest * (table[fluid, row + 1] - low)).T)


def saturation_temperature(fluid: NDArray[np.intp], p_kpa: Array) -> Array:
    """Saturation temperature [°C] of an absolute pressure [kPa]."""
    inverse = tables()[1]
    place = (np.log(np.maximum(p_kpa, 12.1)) - LOG_P[0]) / (LOG_P[1] - LOG_P[0])
    place = np.clip(place, 0.0, len(LOG_P) - 1.001)
    row = place.astype(np.intp)
    low = inverse[fluid, row]
    answer: Array = low + (place - row) * (inverse[fluid, row + 1] - low)
    return answer


def vapour_pressure(temperature_c: Array) -> Array:
    """Saturation pressure of water [kPa], Magnus form over water (Alduchov & Eskridge 1996, from memory)."""
    answer: Array = 0.61094 * np.exp(17.625 * temperature_c / (243.04 + temperature_c))
    return answer


def moisture(temperature_c: Array, humidity: Array | float, pressure_kpa: Array) -> Array:
    """Humidity ratio [kg/kg] from relative humidity [0 to 1]."""
    p = humidity * vapour_pressure(temperature_c)
    answer: Array = 0.62198 * p / (pressure_kpa - p)
    return answer


def relative_humidity(temperature_c: Array, ratio: Array, pressure_kpa: Array) -> Array:
    """Relative humidity [0 to 1] from a humidity ratio [kg/kg]."""
    p = ratio * pressure_kpa / (0.62198 + ratio)
    return np.clip(p / vapour_pressure(temperature_c), 0.0, 1.0)


def wet_bulb(temperature_c: Array, ratio: Array, pressure_kpa: Array) -> Array:
    """Wet bulb [°C] by bisection of the adiabatic saturation balance."""
    low, high = np.full_like(temperature_c, -30.0), temperature_c.copy()
    for _ in range(40):
        middle = 0.5 * (low + high)
        gain = 1.006 * (temperature_c - middle) - (moisture(middle, 1.0, pressure_kpa) - ratio) * 2480.0
        low, high = np.where(gain > 0, middle, low), np.where(gain > 0, high, middle)
    return 0.5 * (low + high)


def air_density(temperature_c: Array, pressure_kpa: Array) -> Array:
    """Density of air [kg/m³], ideal gas."""
    return pressure_kpa / (0.28706 * (temperature_c + KELVIN))
