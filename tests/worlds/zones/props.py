"""Properties of humid air, and of R134a and R1234yf as tables built once per process from CoolProp.

Temperatures in °C, pressures in kPa, enthalpies in kJ/kg, entropies in kJ/(kg K), densities in kg/m³. It must not know
about cars; vapour is addressed by its saturation temperature and the enthalpy above saturated vapour.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from CoolProp.CoolProp import PropsSI
from numpy.typing import NDArray

Array = NDArray[np.float64]

FLUIDS = ("R134a", "R1234yf")
KELVIN = 273.15
T_LOW, T_HIGH, T_STEP = -62.0, 93.0, 1.0
H_HIGH, H_STEP = 160.0, 8.0
S_HIGH, S_STEP = 0.40, 0.02
LOG_P_STEP = 0.02
SATURATED = ("P", "H_liquid", "H_vapour", "D_liquid", "D_vapour", "S_vapour", "C_vapour", "C_liquid")


def _saturation(fluid: str, t_c: Array) -> list[Array]:
    """Columns of the saturation table of one fluid, in the order of `SATURATED`."""
    t_k = t_c + KELVIN

    def column(name: str, quality: int, scale: float) -> Array:
        return np.asarray(PropsSI(name, "T", t_k, "Q", quality, fluid), dtype=float) * scale

    return [
        column("P", 1, 1e-3), column("H", 0, 1e-3), column("H", 1, 1e-3), column("D", 0, 1.0),
        column("D", 1, 1.0), column("S", 1, 1e-3), column("C", 1, 1e-3), column("C", 0, 1e-3),
    ]  # fmt: skip


def _superheated(fluid: str, rows: list[Array], above: Array) -> tuple[Array, Array, Array]:
    """Temperature, density and entropy above saturation on the grid saturation temperature x enthalpy above vapour."""
    size = (len(rows[0]), len(above))
    pressure = np.repeat(rows[0] * 1e3, len(above))
    enthalpy = (rows[2][:, None] + above[None, :]).ravel() * 1e3 + 1.0
    t, d, s = (np.asarray(PropsSI(name, "P", pressure, "H", enthalpy, fluid)).reshape(size) for name in "TDS")
    return t - KELVIN, d, s * 1e-3 - rows[5][:, None]


class Tables:
    """All tables of both fluids, stacked along the first axis in the order of `FLUIDS`."""

    def __init__(self) -> None:
        self.t = np.arange(T_LOW, T_HIGH + T_STEP / 2, T_STEP)
        above = np.arange(0.0, H_HIGH + H_STEP / 2, H_STEP)
        entropies = np.arange(0.0, S_HIGH + S_STEP / 2, S_STEP)
        saturated, t, d, s, h, self.log_p, boiling = [], [], [], [], [], [], []
        for fluid in FLUIDS:
            rows = _saturation(fluid, self.t)
            grids = _superheated(fluid, rows, above)
            saturated.append([np.log(rows[0]), *rows[1:]])
            t.append(grids[0])
            d.append(grids[1])
            s.append(grids[2])
            h.append([np.interp(entropies, line, above) for line in grids[2]])
            log_p = np.arange(np.log(rows[0][0]), np.log(rows[0][-1]), LOG_P_STEP)
            self.log_p.append(float(log_p[0]))
            boiling.append(np.interp(log_p, np.log(rows[0]), self.t))
        width = min(len(line) for line in boiling)
        self.saturated = np.moveaxis(np.array(saturated), 1, 0).copy()  # property, fluid, temperature
        self.boiling = np.array([line[:width] for line in boiling])
        self.vapour = {"T": np.array(t), "D": np.array(d), "S": np.array(s), "H": np.array(h)}
        self.gas_constant = np.array([8.314462 / PropsSI("M", fluid) * 1e-3 for fluid in FLUIDS])


@lru_cache(maxsize=1)
def tables() -> Tables:
    """The tables; the first call takes about a second."""
    return Tables()


def _place(value: Array, low: float | Array, step: float, count: int) -> tuple[NDArray[np.intp], Array]:
    """Cell and the fraction within it on an even grid; the fraction leaves [0, 1] outside the grid."""
    place = (value - low) / step
    cell = np.clip(np.nan_to_num(place), 0, count - 2).astype(np.intp)
    return cell, place - cell


def saturated(name: str, fluid: NDArray[np.intp], t_c: Array) -> Array:
    """One property of `SATURATED` at a saturation temperature [°C]."""
    table = tables()
    rows = table.saturated[SATURATED.index(name)]
    cell, part = _place(t_c, T_LOW, T_STEP, rows.shape[1])
    value = rows[fluid, cell] * (1 - part) + rows[fluid, cell + 1] * part
    return np.asarray(np.exp(value) if name == "P" else value)


def boiling_c(fluid: NDArray[np.intp], pressure_kpa: Array) -> Array:
    """Saturation temperature [°C] at an absolute pressure [kPa]; pressures below 5 kPa count as 5."""
    table = tables()
    log_p = np.log(np.maximum(pressure_kpa, 5.0))
    cell, part = _place(log_p, np.array(table.log_p)[fluid], LOG_P_STEP, table.boiling.shape[1])
    return np.asarray(table.boiling[fluid, cell] * (1 - part) + table.boiling[fluid, cell + 1] * part)


def vapour(name: str, fluid: NDArray[np.intp], t_sat: Array, above: Array) -> Array:
    """T [°C], D [kg/m³] or S above saturation, at enthalpy `above` vapour; H above vapour at entropy `above`."""
    grid = tables().vapour[name]
    i, u = _place(t_sat, T_LOW, T_STEP, grid.shape[1])
    j, v = _place(np.maximum(above, 0.0), 0.0, S_STEP if name == "H" else H_STEP, grid.shape[2])
    v = np.minimum(v, 4.0)
    low = grid[fluid, i, j] * (1 - v) + grid[fluid, i, j + 1] * v
    high = grid[fluid, i + 1, j] * (1 - v) + grid[fluid, i + 1, j + 1] * v
    return np.asarray(low * (1 - u) + high * u)


def water_pressure(t_c: Array) -> Array:
    """Saturation pressure of water [kPa] from -60 to 90 °C (Magnus, over liquid; from memory)."""
    return np.asarray(0.6112 * np.exp(17.62 * t_c / (243.12 + t_c)))


def moisture(t_c: Array, humidity: Array | float, pressure_kpa: Array) -> Array:
    """Humidity ratio [kg/kg] at a relative humidity from 0 to 1."""
    vapour_kpa = np.minimum(humidity * water_pressure(t_c), 0.5 * pressure_kpa)
    return np.asarray(0.62198 * vapour_kpa / (pressure_kpa - vapour_kpa))


def relative_humidity(t_c: Array, w: Array, pressure_kpa: Array) -> Array:
    """Relative humidity, 0 to 1, from the humidity ratio [kg/kg]."""
    return np.asarray(pressure_kpa * w / (0.62198 + w) / water_pressure(t_c))


def air_enthalpy(t_c: Array, w: Array) -> Array:
    """Enthalpy of humid air [kJ per kg of dry air]."""
    return np.asarray(1.006 * t_c + w * (2501.0 + 1.86 * t_c))


def air_temperature(enthalpy: Array, w: Array) -> Array:
    """Temperature [°C] of humid air from its enthalpy [kJ/kg]."""
    return np.asarray((enthalpy - 2501.0 * w) / (1.006 + 1.86 * w))


def wet_bulb(t_c: Array, w: Array, pressure_kpa: Array) -> Array:
    """Adiabatic saturation temperature [°C] by Newton's method on equal enthalpy."""
    target = air_enthalpy(t_c, w)
    t = t_c - 5.0
    for _ in range(12):
        value = air_enthalpy(t, moisture(t, 1.0, pressure_kpa))
        slope = (air_enthalpy(t + 0.1, moisture(t + 0.1, 1.0, pressure_kpa)) - value) * 10
        t = t - (value - target) / slope
    return np.minimum(t, t_c)


def soft(value: Array, width: float) -> Array:
    """A smooth max(value, 0) that rounds the corner over about `width`."""
    return np.asarray(0.5 * (value + np.sqrt(value * value + width * width)))
