"""Builds the rulebook's tables from reference equations and says how far the committed ones have drifted.

It runs for the maintainer of the rulebook; nothing that judges a visit reads this module.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import partial
from math import exp, log
from pathlib import Path

from sync import rulebook
from sync.errors import RulebookDrift
from sync.kernel.books import AtmosphereTable, Rulebook, SaturationTable, WaterTable
from sync.physics import refrigerant

NODES = 160
LOWEST_C = {"R744": -50.0}
BOUND_K = 0.01
# Committed values may differ from a rebuild by this much before it counts as drift: the last digits of an equation of
# state change between releases of the property library.
DRIFT = {"t_c": 0.002, "p_pa": 0.0005, "p_kpa": 0.0005}


class SaturationBook(SaturationTable):
    """A saturation table as committed, with its description."""

    about: str


class WaterBook(WaterTable):
    """The water table as committed, with its description."""

    about: str


class AtmosphereBook(AtmosphereTable):
    """The table of the standard atmosphere as committed, with its description."""

    about: str


TableBook = SaturationBook | WaterBook | AtmosphereBook


def _geometric(low: float, high: float, count: int) -> list[float]:
    step = (log(high) - log(low)) / (count - 1)
    return [round(exp(log(low) + step * i), 4) for i in range(count)]


def saturation_table(name: str, fluid: str) -> SaturationBook:
    """The saturation table of one refrigerant, with its measured error.

    Args:
        name: the refrigerant's code in the rulebook [code]
        fluid: the property library's name [text]

    Returns:
        {about, refrigerant, p_kpa, t_c, max_error_k} [kPa absolute, °C, K]

    Raises:
        RulebookDrift: linear interpolation misses the equation of state by more than the limit.

    Source: CoolProp 8 equations of state; the nodes are geometric in pressure.
    """
    lowest = refrigerant.saturation_pressure_kpa(fluid, LOWEST_C.get(name, -50.0))
    highest = 0.985 * refrigerant.critical_point(fluid)[1]
    p_kpa = _geometric(lowest, highest, NODES)
    t_c = [round(refrigerant.saturation_temperature_c(fluid, p), 5) for p in p_kpa]
    worst = 0.0
    for i in range(NODES - 1):
        for part in (0.25, 0.5, 0.75):
            p = p_kpa[i] + part * (p_kpa[i + 1] - p_kpa[i])
            t = t_c[i] + part * (t_c[i + 1] - t_c[i])
            worst = max(worst, abs(t - refrigerant.saturation_temperature_c(fluid, p)))
    if not worst <= BOUND_K:
        raise RulebookDrift(book=f"saturation_{name}", difference=worst, bound=BOUND_K)
    about = "Saturation of a pure refrigerant from CoolProp 8: absolute kPa, °C, linear between."
    return {"about": about, "refrigerant": name, "max_error_k": round(worst, 5), "p_kpa": p_kpa, "t_c": t_c}


def ice_pressure_pa(temperature_c: float) -> float:
    """Vapour pressure over ice.

    Args:
        temperature_c: temperature [°C]

    Returns:
        pressure [Pa]

    Valid for: -223 to 0.01 °C.

    Source: IAPWS R14-08(2011), equation 6 (coefficients from memory; a test compares it with ASHRAE's table).
    """
    theta = (temperature_c + 273.15) / 273.16
    terms = ((-21.2144006, 0.00333333333), (27.3203819, 1.20666667), (-6.1059813, 1.70333333))
    return 611.657 * exp(sum(a * theta**b for a, b in terms) / theta)


def water_table() -> WaterBook:
    """Saturation of water over ice and liquid, every half kelvin.

    Returns:
        {about, t_c, p_pa} [°C, Pa]

    Source: IAPWS-95 through CoolProp 8 above 0.01 °C, IAPWS R14-08(2011) over ice.
    """
    t_c = [-45.0 + 0.5 * i for i in range(301)]
    p_pa = []
    for t in t_c:
        if t <= 0.01:
            p_pa.append(round(ice_pressure_pa(t), 4))
        else:
            p_pa.append(round(1000.0 * refrigerant.saturation_pressure_kpa("Water", t), 4))
    about = "Saturation of water: ice up to 0 °C (IAPWS R14-08), liquid above (IAPWS-95); linear between."
    return {"about": about, "t_c": t_c, "p_pa": p_pa}


def atmosphere_table() -> AtmosphereBook:
    """Pressure of the standard atmosphere by altitude.

    Returns:
        {about, altitude_m, p_kpa} [geopotential m, kPa]

    Source: US Standard Atmosphere 1976 / ISO 2533, troposphere.
    """
    altitude_m = [-500.0 + 100.0 * i for i in range(66)]
    exponent = 9.80665 * 0.0289644 / (8.31432 * 0.0065)
    p_kpa = [round(101.325 * (1.0 - 0.0065 * h / 288.15) ** exponent, 5) for h in altitude_m]
    about = "US Standard Atmosphere 1976 / ISO 2533: geopotential altitude in m, pressure in kPa; linear between."
    return {"about": about, "altitude_m": altitude_m, "p_kpa": p_kpa}


def builders(books: Rulebook) -> dict[str, Callable[[], TableBook]]:
    """The function that makes each table book, by its name [functions]."""
    makers: dict[str, Callable[[], TableBook]] = {"water": water_table, "atmosphere": atmosphere_table}
    for name, row in books["refrigerants"]["refrigerants"].items():
        if row["table"] and row["fluid"]:
            makers[row["table"]] = partial(saturation_table, name, row["fluid"])
    return makers


def written(table: TableBook) -> str:
    """A table book as committed: short facts one to a line, the nodes of a column on one line [JSON text]."""
    rows = [f"  {json.dumps(key)}: {json.dumps(value, ensure_ascii=False)}" for key, value in table.items()]
    return "{\n" + ",\n".join(rows) + "\n}\n"


def build(folder: Path | None = None) -> list[str]:
    """Build all tables again and write those whose text changed.

    Args:
        folder: the rulebook's folder; the package's own when None [path]

    Returns:
        names of the books written [list]
    """
    target = folder or rulebook.FOLDER
    changed = []
    for name, make in builders(rulebook.load(target)).items():
        text = written(make())
        path = target / f"{name}.json"
        if not path.exists() or path.read_text("utf-8") != text:
            path.write_text(text, "utf-8")
            changed.append(name)
    return changed


def drift(folder: Path | None = None) -> dict[str, float]:
    """How far each committed table is from a rebuild.

    Args:
        folder: the rulebook's folder; the package's own when None [path]

    Returns:
        {book: largest difference as a share of the allowed one, 1 being the limit} [ratio]
    """
    books = rulebook.load(folder)
    tables: Mapping[str, object] = books
    shares = {}
    for name, make in builders(books).items():
        fresh, committed = _columns(make()), _columns(tables[name])
        worst = 0.0
        for column, allowed in DRIFT.items():
            for a, b in zip(fresh.get(column, []), committed.get(column, []), strict=True):
                scale = 1.0 if column == "t_c" else max(abs(a), 1e-9)
                worst = max(worst, abs(a - b) / scale / allowed)
        shares[name] = worst
    return shares


def _columns(table: object) -> dict[str, list[float]]:
    members = table if isinstance(table, dict) else {}
    return {name: column for name, column in members.items() if isinstance(column, list)}


def check(folder: Path | None = None) -> None:
    """Compare the committed tables with a rebuild.

    Args:
        folder: the rulebook's folder; the package's own when None [path]

    Raises:
        RulebookDrift: a table differs by more than the allowance.
    """
    for name, share in drift(folder).items():
        if not share <= 1.0:
            raise RulebookDrift(book=name, difference=share, bound=1.0)
