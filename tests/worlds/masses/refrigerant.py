"""Laws of the circuit's machines: compressor, metering, where the high side's liquid stands, and heat between pipes.

Each function takes arrays and gives arrays; none keeps a state or steps in time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.masses.batch import Batch, Masses
from tests.worlds.masses.properties import KELVIN, Array, Saturation, saturation_temperature

POLYTROPE = 1.10  # isentropic exponent of superheated R-134a and R-1234yf near 1 MPa (CoolProp gives 1.08 to 1.12)
REFERENCE = 1130.0 * 900.0  # kg/m³ kPa, at which `meter` and `line` are stated


@dataclass(frozen=True)
class Pressures:
    """Absolute pressures [kPa]: evaporator outlet, compressor suction, condenser, discharge, before the liquid line."""

    evaporator: Array
    suction: Array
    condenser: Array
    discharge: Array
    liquid: Array
    air: Array


@dataclass(frozen=True)
class Liquid:
    """The high side's liquid: its mass [kg], vapour quality at the outlet, share of the face it covers."""

    mass: Array
    quality: Array
    covered: Array


@dataclass(frozen=True)
class Pumped:
    """Compressor: flow [kg/s], its work [kW], discharge enthalpy [kJ/kg]."""

    flow: Array
    work: Array
    enthalpy: Array


def high_liquid(b: Batch, m: Masses, low: Saturation, high: Saturation) -> Liquid:
    """Where the rest of the charge is: condensing part and liquid line, then the pass, receiver, and backed up.

    The mass is what is left of the whole charge, so that refrigerant is conserved exactly. Below what the condensing
    part and the line hold, vapour leaves with the liquid, in proportion to what is missing.
    """
    vapour = low.vapour_density * b.coil.vapour_volume + high.vapour_density * b.face.vapour_volume
    mass = np.maximum(b.charge - vapour - m.coil_liquid - m.accumulator, 0.0)
    base = b.face.hold_kg + b.face.line_kg
    quality = np.clip(1.0 - mass / base, 0.0, 1.0)
    spare = np.maximum(mass - base, 0.0)
    full = np.minimum(spare / np.maximum(b.face.pass_kg, 0.005), 1.0)
    backed = np.maximum(spare - b.face.pass_kg - b.face.receiver_cap, 0.0) / (0.8 * high.liquid_density * b.face.volume)
    plain = 0.03 * np.minimum(spare / 0.03, 1.0)
    covered = np.clip(np.maximum(b.face.pass_share * full, plain) + backed, 0.0, 0.9)
    return Liquid(mass, quality, np.where(quality > 0, 0.0, covered))


def trapped_air(b: Batch, m: Masses, quality: Array) -> Array:
    """Partial pressure of air in the condenser [kPa]: of what is spread over the circuit at rest, the pump gathers 80 %
    behind the liquid seal; where vapour leaves with the liquid, air goes round with it; ideal gas."""
    volume = b.coil.vapour_volume + b.face.vapour_volume + 0.25e-3
    room = np.maximum(b.face.vapour_volume + 0.25e-3, 0.3 * volume)
    return b.faults.air_kpa * (0.8 * volume / room) * (1.0 - 0.9 * quality) * (m.condensing + KELVIN) / (40.0 + KELVIN)


def pressures(b: Batch, m: Masses, low: Saturation, high: Saturation, quality: Array) -> Pressures:
    """Pressures round the circuit; drops grow with the square of the flow."""
    air = trapped_air(b, m, quality)
    load = np.minimum((m.flow / 0.035) ** 2, 6.0)
    condenser = high.p + air
    drop = np.minimum(m.suction_drop, 0.7 * low.p)
    return Pressures(low.p, low.p - drop, condenser, condenser + b.face.discharge_drop * load,
                     np.maximum(condenser - b.face.drop * load, 0.8 * condenser), air)


def opening(b: Batch, m: Masses, low: Saturation, bulb_kpa: Array) -> Array:
    """Open share of the metering: the valve's four forces (bulb against evaporator and spring, charge as the
    circuit's), or the tube's area; a fault adds to either."""
    valve = np.clip((bulb_kpa - low.p - b.spring_kpa) / b.stroke_kpa, 0.0, 1.0)
    return np.where(b.tube, 1.0 + b.faults.valve_open, valve + (1.0 - valve) * b.faults.valve_open)


def metered(b: Batch, m: Masses, high: Saturation, p: Pressures, area: Array) -> tuple[Array, Array]:
    """Flow through liquid line and metering in series [kg/s], and the vapour's share before the metering.

    A valve is driven by the whole difference; a tube chokes at a pressure somewhat below the liquid's saturation (form
    of Kim & O'Neal 1994, from memory), so that subcooling drives it. Vapour thins the mixture, homogeneously.
    """
    driven = p.liquid - p.evaporator
    flash = high.p * np.exp(-(m.condensing - m.liquid) * high.p_slope / high.p)
    choked = np.minimum(driven, p.liquid - 0.82 * np.minimum(flash, p.liquid))
    drive = np.maximum(np.where(b.tube, choked, driven), 0.0)
    thin = 1.0 / (1.0 + m.flashing * (high.liquid_density / high.vapour_density - 1.0))
    meter = np.maximum(b.lines.meter * area, 1e-9) * np.sqrt(thin)
    line = b.lines.line * (1.0 - b.faults.restriction)
    whole = 1.0 / np.sqrt(1.0 / meter**2 + 1.0 / line**2)
    flow = whole * np.sqrt(high.liquid_density * drive / REFERENCE)
    before = high.p - drive * (whole / line) ** 2
    boiling = np.maximum(m.liquid - saturation_temperature(b.fluid, before), 0.0)
    return flow, np.clip(boiling * high.cp_liquid / high.latent, 0.0, 0.6)


def pumped(b: Batch, m: Masses, p: Pressures, density: Array, enthalpy: Array) -> Pumped:
    """Polytropic compressor with clearance; what leaks inside is compressed again and heats the gas.

    Clearance volumetric efficiency and polytropic work as in any thermodynamics text (Moran & Shapiro, from memory).
    """
    electric = b.regulated("electric")
    rps = np.where(electric, b.pump.top_rps * m.stroke, b.settings.rpm / 60.0 * b.pump.pulley)
    stroke = np.where(b.regulated("variable_internal", "variable_external"), m.stroke, 1.0)
    ratio = np.clip(p.discharge / p.suction, 1.0, 40.0)
    fill = 1.0 + b.pump.clearance * (1.0 - ratio ** (1.0 / POLYTROPE))
    slowed = 1.0 - b.pump.speed_loss * (rps / 75.0) ** 2 * np.where(electric, 0.3, 1.0)
    volumetric = np.clip(b.pump.volumetric * fill * np.maximum(slowed, 0.4), 0.02, 1.0)
    swept = b.pump.displacement * rps * stroke * volumetric * density * m.turning
    index = (POLYTROPE - 1.0) / POLYTROPE
    efficiency = b.pump.isentropic * (0.78 + 0.22 * stroke) * np.clip(1.04 - 0.012 * np.abs(ratio - 4.0), 0.6, 1.0)
    work = p.suction / density / index * (ratio**index - 1.0) / efficiency
    flow = swept * (1.0 - b.faults.weak)
    power = swept * work * (1.0 - 0.85 * b.faults.weak)
    return Pumped(flow, power, enthalpy + (1.0 - b.pump.shell_loss) * power / np.maximum(flow, 1e-6))


def approach(conductance: Array, capacity: Array) -> Array:
    """Effectiveness of a stream against a constant temperature."""
    return 1.0 - np.exp(-np.minimum(conductance / np.maximum(capacity, 1e-6), 30.0))


def vapour_density(low: Saturation, p: Pressures, temperature_c: Array, quality: Array, evaporating: Array) -> Array:
    """Density of what the compressor draws [kg/m³]; liquid in it thickens it."""
    gas = low.vapour_density * p.suction / p.evaporator * (evaporating + KELVIN) / (temperature_c + KELVIN)
    return 1.0 / (quality / gas + (1.0 - quality) / low.liquid_density)
