"""Saturation of the refrigerants and the air pressure on site, from the rulebook's tables.

Only absolute pressures come in and go out; no property library is used.
"""

from __future__ import annotations

from typing import cast

from sync.errors import UnknownName
from sync.kernel.books import Rulebook, SaturationTable
from sync.kernel.interpolation import between

Tables = dict[str, SaturationTable]


def table_of(refrigerant: str, rulebook: Rulebook) -> SaturationTable:
    """The saturation book of a refrigerant.

    Args:
        refrigerant: its code in the rulebook [code]
        rulebook: the rulebook [books by name]

    Returns:
        the book with its columns [kPa absolute, °C]

    Raises:
        UnknownName: the refrigerant is unknown or has no table.

    Source: the rulebook's `refrigerants` book.
    """
    row = rulebook["refrigerants"]["refrigerants"].get(refrigerant)
    if row is None or row["table"] is None:
        raise UnknownName(what="refrigerant", name=refrigerant)
    # Tables are books of their own, under the name that the refrigerant's row gives.
    return cast(Tables, rulebook)[row["table"]]


def temperature_c(refrigerant: str, pressure_kpa: float, rulebook: Rulebook) -> float:
    """Saturation temperature at an absolute pressure.

    Args:
        refrigerant: its code in the rulebook [code]
        pressure_kpa: absolute pressure [kPa]
        rulebook: the rulebook [books by name]

    Returns:
        saturation temperature [°C]

    Valid for: from -50 °C to 98.5 % of the critical pressure, within the table's stated error.

    Raises:
        UnknownName: no table for this refrigerant.
        OutOfRange: the pressure lies outside the table.

    Source: CoolProp 8 equations of state, tabulated by `layby rulebook`.
    """
    table = table_of(refrigerant, rulebook)
    return between(table["p_kpa"], table["t_c"], pressure_kpa)


def pressure_kpa(refrigerant: str, temperature: float, rulebook: Rulebook) -> float:
    """Absolute saturation pressure at a temperature.

    Args:
        refrigerant: its code in the rulebook [code]
        temperature: saturation temperature [°C]
        rulebook: the rulebook [books by name]

    Returns:
        absolute pressure [kPa]

    Valid for: the temperatures of the table.

    Raises:
        UnknownName: no table for this refrigerant.
        OutOfRange: the temperature lies outside the table.

    Source: CoolProp 8 equations of state, tabulated by `layby rulebook`.
    """
    table = table_of(refrigerant, rulebook)
    return between(table["t_c"], table["p_kpa"], temperature)


def station_kpa(altitude_m: float, rulebook: Rulebook) -> float:
    """Pressure of the standard atmosphere.

    Args:
        altitude_m: geopotential altitude [m]
        rulebook: the rulebook [books by name]

    Returns:
        absolute pressure [kPa]

    Valid for: -500 to 6,000 m.

    Raises:
        OutOfRange: the altitude lies outside the table.

    Source: US Standard Atmosphere 1976 / ISO 2533, tabulated by `layby rulebook`.
    """
    table = rulebook["atmosphere"]
    return between(table["altitude_m"], table["p_kpa"], altitude_m)
