"""Compressor, suction line, internal exchanger and metering: flows and enthalpies at one instant of running.

It must not know the coils. Sources, from memory: volumetric efficiency with clearance (Stoecker and Jones,
Refrigeration and Air Conditioning), orifice tube choked near the saturation pressure of its inlet (Aaron and Domanski
1990, in form).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.zones.batch import Batch
from tests.worlds.zones.props import Array, boiling_c, saturated, soft, vapour


@dataclass
class Suction:
    """What reaches the compressor: pressure [kPa], enthalpies [kJ/kg], temperature [°C], and the heat picked up."""

    p_port: Array
    p: Array
    t_sat: Array
    h: Array
    t: Array
    exchanged: Array  # kJ/kg
    line_gain: Array  # kJ/kg


def gas_temperature(b: Batch, t_sat: Array, h: Array) -> Array:
    """Temperature [°C] of vapour or of wet vapour by its enthalpy."""
    above = h - saturated("H_vapour", b.fluid, t_sat)
    return np.where(above > 0, vapour("T", b.fluid, t_sat, above), t_sat)


def gas_density(b: Batch, t_sat: Array, h: Array) -> Array:
    """Density [kg/m³] of vapour, or of a homogeneous wet vapour."""
    h_g, h_l = saturated("H_vapour", b.fluid, t_sat), saturated("H_liquid", b.fluid, t_sat)
    wetness = np.clip((h_g - h) / (h_g - h_l), 0.0, 0.98)
    return vapour("D", b.fluid, t_sat, h - h_g) / (1 - wetness)


def suction(b: Batch, m: Array, t_e: Array, h_1: Array, t_liquid: Array) -> Suction:
    """From the evaporator's outlet to the compressor, at an evaporating temperature [°C]."""
    x = b.x
    p_e = saturated("P", b.fluid, t_e)
    density = saturated("D_vapour", b.fluid, t_e)
    drop = x["drop_e"] * (m / x["flow_0"]) ** 1.8 * 16.0 / density
    fall = 0.75 * p_e * (1 - np.exp(-drop / (0.75 * p_e)))
    t_sat = boiling_c(b.fluid, p_e - fall)
    cp = saturated("C_vapour", b.fluid, t_e)
    t_1 = gas_temperature(b, t_e, h_1)
    exchanged = x["exchanger"] * cp * soft(t_liquid - t_1, 0.1)
    t_line = gas_temperature(b, t_e, h_1 + exchanged)
    bay = x["ambient_c"] + x["bay_k"]
    line_gain = cp * soft(bay - t_line, 0.5) * (1 - np.exp(-x["line_ua"] / (m * cp)))
    h = h_1 + exchanged + line_gain
    t = gas_temperature(b, t_sat, h)
    return Suction(p_e - x["port_share"] * fall, p_e - fall, t_sat, h, t, exchanged, line_gain)


@dataclass
class Compression:
    """Flow at full displacement [kg/s], shaft work and heat lost by the shell [kJ/kg], and the discharge."""

    m_full: Array
    work: Array
    lost: Array
    h: Array


def compressor(b: Batch, s: Suction, p_discharge: Array, share: Array) -> Compression:
    """A compressor at full displacement; `share` of stroke or speed only affects its efficiencies."""
    x, fluid = b.x, b.fluid
    ratio = np.maximum(p_discharge / s.p, 1.02)
    turns = np.where(b["speed_max"] > 0, x["rev_s"] * np.maximum(share, 0.1), x["rev_s"])
    slip = x["leak"] * (ratio - 1) / 4 * (40.0 / turns) ** 0.7
    fill = 1 + x["clearance"] * (1 - ratio ** (1 / 1.08))
    haste = (x["rev_s"] / 60) ** 2 * np.where(b["speed_max"] > 0, 0.3, 1.0)
    eta_v = np.maximum(fill - slip - 0.1 * haste, 0.08)
    m_full = x["swept"] * 1e-6 * x["rev_s"] * eta_v * gas_density(b, s.t_sat, s.h) * (1 - x["weak"])
    t_d = np.minimum(boiling_c(fluid, p_discharge), 92.0)
    h_g = saturated("H_vapour", fluid, s.t_sat)
    above = s.h - h_g
    entropy = np.where(above > 0, vapour("S", fluid, s.t_sat, above), above / (s.t_sat + 273.15))
    entropy = entropy + saturated("S_vapour", fluid, s.t_sat) - saturated("S_vapour", fluid, t_d)
    ideal = np.where(entropy > 0, vapour("H", fluid, t_d, entropy), entropy * (t_d + 273.15))
    ideal = np.maximum(ideal + saturated("H_vapour", fluid, t_d) - s.h, 0.2)
    part = np.where(b.cycling | (b["speed_max"] > 0), 1.0, 0.8 + 0.2 * np.minimum(share * 1.6, 1.0))
    eta = x["isentropic"] * part * (1 - 0.035 * np.abs(np.minimum(ratio, 12.0) - 4.0)) * (1 - 0.08 * haste)
    # leaking gas is compressed again and again; leakage reduces the flow but not the work
    again = 1 + 0.3 * x["weak"] / (1 - 0.8 * x["weak"])
    work = ideal / np.maximum(eta, 0.25) * again
    lost = x["shell_loss"] * work
    return Compression(m_full, work, lost, s.h + work - lost)


def _mixture(b: Batch, pressure: Array, h: Array, t_ref: Array) -> Array:
    """Density [kg/m³] of what enters the metering: liquid, or liquid with flash gas (homogeneous)."""
    t_sat = boiling_c(b.fluid, pressure)
    h_l, h_g = saturated("H_liquid", b.fluid, t_sat), saturated("H_vapour", b.fluid, t_sat)
    quality = np.minimum(soft((h - h_l) / (h_g - h_l), 0.002), 1.0)
    liquid = saturated("D_liquid", b.fluid, np.minimum(t_ref, t_sat))
    return 1 / (quality / saturated("D_vapour", b.fluid, t_sat) + (1 - quality) / liquid)


def metering(b: Batch, m: Array, p: tuple[Array, Array], liquid: tuple[Array, Array, Array], superheat: Array) -> Array:
    """Flow [kg/s] that liquid line, restriction and valve or orifice tube pass in series.

    `p` is the pressure ahead of the line and in the evaporator [kPa], `liquid` the enthalpy in the line, and enthalpy
    and temperature at the metering, `superheat` what the bulb feels [K]. Losses go with the square of the flow `m`,
    which only serves to place the pressure between line and metering.
    """
    x = b.x
    p_liquid, p_e = p
    h_line, h, t = liquid
    line = x["line_drop"] / x["flow_0"] ** 2 * 1120.0 / (1 - x["restriction"]) ** 2 / _mixture(b, p_liquid, h_line, t)
    drive = soft(p_liquid - p_e, 2.0)
    p_in = p_e + 0.01 * drive + soft(0.99 * drive - line * m**2, 4.0)
    density = _mixture(b, p_in, h, t)
    lift = (superheat - x["static_k"]) / x["opening_k"]
    own = 0.005 + soft(lift, 0.06) - soft(lift - 1.0, 0.06)
    opening = own + (1 - own) * x["valve_open"]
    tube = x["orifice"] > 0
    area = x["valve"] * np.where(tube, 1 + x["valve_open"], opening)
    throat = np.maximum(0.72 * np.minimum(saturated("P", b.fluid, np.minimum(t, 92.0)), p_in), p_e)
    # in a tube the flow chokes, so the throat's pressure counts, not the evaporator's
    drive = np.where(tube, soft(p_liquid - throat, 2.0), drive)
    return np.sqrt(drive / (line + 1 / (area**2 * density)))
