"""Property tables of refrigerants and humid air for the plant model; no rules of judgement.

Tables are filled from CoolProp once per process and linear between nodes.
"""

from __future__ import annotations

import math
from functools import cache

from CoolProp.CoolProp import PT_INPUTS, QT_INPUTS, AbstractState, PSmass_INPUTS

Grid = list[list[float]]
T_LOW_C, T_HIGH_C, T_STEP = -50.0, 92.0, 0.5
SUCTION_T_LOW_C, SUCTION_T_STEP, SUCTION_T_COUNT = -50.0, 2.5, 37
SUPERHEAT_STEP, SUPERHEAT_COUNT = 5.0, 17
ENTROPY_LOW, ENTROPY_STEP, ENTROPY_COUNT = -0.08, 0.01, 41
HIGH_T_LOW_C, HIGH_T_STEP, HIGH_T_COUNT = 0.0, 2.5, 37
ENTHALPY_STEP, ENTHALPY_COUNT = 5.0, 31
KELVIN = 273.15


def _line(table: list[float], x: float) -> float:
    """Look up a table at the fractional index x, held at its ends."""
    last = len(table) - 1
    x = 0.0 if x < 0.0 else (float(last) if x > last else x)
    i = int(x)
    if i >= last:
        return table[last]
    return table[i] + (table[i + 1] - table[i]) * (x - i)


def _plane(table: Grid, x: float, y: float) -> float:
    """Look up a grid at the fractional indices x, y, held at its edges."""
    rows, columns = len(table) - 1, len(table[0]) - 1
    x = 0.0 if x < 0.0 else (rows - 1e-9 if x >= rows else x)
    y = 0.0 if y < 0.0 else (columns - 1e-9 if y >= columns else y)
    i, j = int(x), int(y)
    a, b = x - i, y - j
    low, high = table[i], table[i + 1]
    return (1 - a) * (low[j] + (low[j + 1] - low[j]) * b) + a * (high[j] + (high[j + 1] - high[j]) * b)


class Fluid:
    """One refrigerant: kPa absolute, degrees Celsius, kJ/kg, kJ/(kg K), kg/m3."""

    def __init__(self, name: str) -> None:
        self.name = name
        state = AbstractState("HEOS", name)
        self.molar_mass = state.molar_mass()
        self._fill_saturation(state)
        self._fill_suction(state)
        self._fill_discharge(state)

    def _fill_saturation(self, state: AbstractState) -> None:
        self._p: list[float] = []
        self._hf: list[float] = []
        self._hg: list[float] = []
        self._sg: list[float] = []
        self._cpf: list[float] = []
        self._rhof: list[float] = []
        count = round((T_HIGH_C - T_LOW_C) / T_STEP) + 1
        for i in range(count):
            kelvin = T_LOW_C + i * T_STEP + KELVIN
            state.update(QT_INPUTS, 0.0, kelvin)
            self._p.append(state.p() / 1e3)
            self._hf.append(state.hmass() / 1e3)
            self._cpf.append(state.cpmass() / 1e3)
            self._rhof.append(state.rhomass())
            state.update(QT_INPUTS, 1.0, kelvin)
            self._hg.append(state.hmass() / 1e3)
            self._sg.append(state.smass() / 1e3)

    def _fill_suction(self, state: AbstractState) -> None:
        self._h_sup: Grid = []
        self._s_sup: Grid = []
        self._rho_sup: Grid = []
        for i in range(SUCTION_T_COUNT):
            kelvin = SUCTION_T_LOW_C + i * SUCTION_T_STEP + KELVIN
            state.update(QT_INPUTS, 1.0, kelvin)
            pressure = state.p()
            rows = [(state.hmass() / 1e3, state.smass() / 1e3, state.rhomass())]
            for j in range(1, SUPERHEAT_COUNT):
                state.update(PT_INPUTS, pressure, kelvin + j * SUPERHEAT_STEP)
                rows.append((state.hmass() / 1e3, state.smass() / 1e3, state.rhomass()))
            self._h_sup.append([row[0] for row in rows])
            self._s_sup.append([row[1] for row in rows])
            self._rho_sup.append([row[2] for row in rows])

    def _fill_discharge(self, state: AbstractState) -> None:
        self._h_ps: Grid = []
        self._t_ph: Grid = []
        for i in range(HIGH_T_COUNT):
            kelvin = HIGH_T_LOW_C + i * HIGH_T_STEP + KELVIN
            state.update(QT_INPUTS, 1.0, kelvin)
            pressure, s_sat = state.p(), state.smass()
            row, hots, heats = [], [kelvin - KELVIN], [state.hmass() / 1e3]
            for j in range(ENTROPY_COUNT):
                state.update(PSmass_INPUTS, pressure, s_sat + 1e3 * (ENTROPY_LOW + j * ENTROPY_STEP))
                row.append(state.hmass() / 1e3)
            for j in range(1, 33):
                state.update(PT_INPUTS, pressure, kelvin + 4.0 * j)
                hots.append(kelvin - KELVIN + 4.0 * j)
                heats.append(state.hmass() / 1e3)
            self._h_ps.append(row)
            self._t_ph.append(_inverted(heats, hots))

    def pressure(self, t_c: float) -> float:
        """Saturation pressure [kPa] at t_c [°C]."""
        return _line(self._p, (t_c - T_LOW_C) / T_STEP)

    def temperature(self, p_kpa: float) -> float:
        """Saturation temperature [°C] at p_kpa [kPa absolute]."""
        table = self._p
        low, high = 0, len(table) - 1
        if p_kpa <= table[0]:
            return T_LOW_C
        if p_kpa >= table[high]:
            return T_HIGH_C
        while high - low > 1:
            middle = (low + high) // 2
            if table[middle] <= p_kpa:
                low = middle
            else:
                high = middle
        return T_LOW_C + T_STEP * (low + (p_kpa - table[low]) / (table[low + 1] - table[low]))

    def h_liquid(self, t_c: float) -> float:
        """Enthalpy of saturated liquid [kJ/kg]."""
        return _line(self._hf, (t_c - T_LOW_C) / T_STEP)

    def h_vapour(self, t_c: float) -> float:
        """Enthalpy of saturated vapour [kJ/kg]."""
        return _line(self._hg, (t_c - T_LOW_C) / T_STEP)

    def rho_liquid(self, t_c: float) -> float:
        """Density of saturated liquid [kg/m3]."""
        return _line(self._rhof, (t_c - T_LOW_C) / T_STEP)

    def cp_liquid(self, t_c: float) -> float:
        """Heat capacity of saturated liquid [kJ/(kg K)]."""
        return _line(self._cpf, (t_c - T_LOW_C) / T_STEP)

    def _suction_at(self, t_sat_c: float, superheat_k: float) -> tuple[float, float]:
        return (t_sat_c - SUCTION_T_LOW_C) / SUCTION_T_STEP, superheat_k / SUPERHEAT_STEP

    def h_superheated(self, t_sat_c: float, superheat_k: float) -> float:
        """Enthalpy of vapour [kJ/kg], superheat_k above saturation at t_sat_c."""
        x, y = self._suction_at(t_sat_c, superheat_k)
        return _plane(self._h_sup, x, y)

    def superheat(self, t_sat_c: float, h: float) -> float:
        """Superheat [K] of vapour of enthalpy h at the pressure of t_sat_c; 0 when wet."""
        start = self.h_vapour(t_sat_c)
        if h <= start:
            return 0.0
        guess = (h - start) / 0.9
        for _ in range(4):
            at = self.h_superheated(t_sat_c, guess)
            slope = (self.h_superheated(t_sat_c, guess + 1.0) - at) or 1.0
            guess += (h - at) / slope
        return guess

    def suction(self, t_sat_c: float, h: float) -> tuple[float, float]:
        """Entropy [kJ/(kg K)] and density [kg/m3] of what the compressor draws, wet or dry."""
        h_sat = self.h_vapour(t_sat_c)
        x, y = self._suction_at(t_sat_c, self.superheat(t_sat_c, h))
        entropy, density = _plane(self._s_sup, x, y), _plane(self._rho_sup, x, y)
        if h >= h_sat:
            return entropy, density
        latent = h_sat - self.h_liquid(t_sat_c)
        quality = 1.0 - (h_sat - h) / latent
        volume = quality / density + (1.0 - quality) / self.rho_liquid(t_sat_c)
        return entropy - (h_sat - h) / (t_sat_c + KELVIN), 1.0 / volume

    def h_compressed(self, t_high_c: float, entropy: float) -> float:
        """Enthalpy [kJ/kg] at the pressure of t_high_c and the given entropy, also inside the dome."""
        above = entropy - _line(self._sg, (t_high_c - T_LOW_C) / T_STEP)
        return _plane(self._h_ps, (t_high_c - HIGH_T_LOW_C) / HIGH_T_STEP, (above - ENTROPY_LOW) / ENTROPY_STEP)

    def t_discharge(self, t_high_c: float, h: float) -> float:
        """Temperature [°C] of gas of enthalpy h at the pressure of t_high_c."""
        above = h - self.h_vapour(t_high_c)
        if above <= 0.0:
            return t_high_c
        return _plane(self._t_ph, (t_high_c - HIGH_T_LOW_C) / HIGH_T_STEP, above / ENTHALPY_STEP)


def _inverted(heats: list[float], hots: list[float]) -> list[float]:
    """Temperatures at even steps of enthalpy above the first of heats."""
    out, k = [], 0
    for j in range(ENTHALPY_COUNT):
        wanted = heats[0] + j * ENTHALPY_STEP
        while k < len(heats) - 2 and heats[k + 1] < wanted:
            k += 1
        share = (wanted - heats[k]) / (heats[k + 1] - heats[k])
        out.append(hots[k] + share * (hots[k + 1] - hots[k]))
    return out


@cache
def fluid(name: str) -> Fluid:
    """The tables of one refrigerant, filled on first use."""
    return Fluid(name)


def vapour_pressure_kpa(t_c: float) -> float:
    """Saturation pressure of water or ice [kPa]; Buck's 1981 fit, from memory, within 0.3 % here."""
    if t_c >= 0.0:
        return 0.61121 * math.exp((18.678 - t_c / 234.5) * t_c / (257.14 + t_c))
    return 0.61115 * math.exp((23.036 - t_c / 333.7) * t_c / (279.82 + t_c))


def saturated_humidity(t_c: float, p_kpa: float) -> float:
    """Humidity ratio [kg/kg] of saturated air."""
    vapour = vapour_pressure_kpa(t_c)
    return 0.62195 * vapour / (p_kpa - vapour)


def humidity(t_c: float, rh_pct: float, p_kpa: float) -> float:
    """Humidity ratio [kg/kg] of air."""
    vapour = vapour_pressure_kpa(t_c) * rh_pct / 100.0
    return 0.62195 * vapour / (p_kpa - vapour)


def relative_humidity(t_c: float, w: float, p_kpa: float) -> float:
    """Relative humidity [%] of air of humidity ratio w."""
    return 100.0 * w * p_kpa / (0.62195 + w) / vapour_pressure_kpa(t_c)


def air_enthalpy(t_c: float, w: float) -> float:
    """Enthalpy of humid air [kJ per kg dry air]."""
    return 1.006 * t_c + w * (2501.0 + 1.86 * t_c)


def air_density(t_c: float, p_kpa: float) -> float:
    """Density of dry air [kg/m3]."""
    return p_kpa / (0.287 * (t_c + KELVIN))


def wet_bulb(t_c: float, w: float, p_kpa: float) -> float:
    """Temperature of adiabatic saturation [°C] by bisection."""
    low, high, h = -20.0, t_c, air_enthalpy(t_c, w)
    for _ in range(24):
        middle = 0.5 * (low + high)
        if air_enthalpy(middle, saturated_humidity(middle, p_kpa)) < h:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def station_pressure(altitude_m: float) -> float:
    """Pressure [kPa] of the standard atmosphere at an altitude [m]."""
    return float(101.325 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588)
