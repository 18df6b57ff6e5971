"""The refrigerant's two sides in one step: suction line, evaporator with its liquid, condenser with its metal.

Each side is implicit in its saturation temperature; heat and mass use the properties in the middle of the step,
so that both close. It must not know about regulation or instruments.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.masses import air
from tests.worlds.masses.batch import Batch, Masses
from tests.worlds.masses.properties import Array, Saturation, saturation
from tests.worlds.masses.refrigerant import Liquid, Pumped, approach

MOST_LIQUID = 0.35  # share of liquid that a suction line carries at most
MOVING = 2e-5  # kg/s below which nothing counts as flowing
VAPOUR_CP = 0.6  # kJ/kg K along the saturation line, both refrigerants, 0 to 60 °C (CoolProp gives 0.4 to 0.65)
POOL_UA = 0.0015  # kW/K from the engine bay into an accumulator's pool
POOL_REACH = 0.85  # share of the vapour's superheat that its pool takes


@dataclass(frozen=True)
class Suction:
    """What leaves the evaporator.

    `wet` is the liquid's share of what the compressor draws, `boiled` the vapour out of an accumulator's pool and
    `overflow` the liquid out of the coil [kg/s]; then enthalpy [kJ/kg], temperature [°C] and quality at the compressor,
    heat of the internal exchanger, of the engine bay and into the pool [kW], and `dried`, the share of the last step's
    dry heat that goes into the pool.
    """

    wet: Array
    boiled: Array
    overflow: Array
    enthalpy: Array
    temperature: Array
    quality: Array
    exchanged: Array
    gained: Array
    pool_kw: Array
    dried: Array


@dataclass(frozen=True)
class Drive:
    """What acts on a side in this step: flow of the metering [kg/s] and its enthalpy [kJ/kg], compressor, step [s]."""

    metered: Array
    enthalpy: Array
    pump: Pumped
    dt: Array


@dataclass(frozen=True)
class LowSide:
    """Heat into the evaporator's wet and dry part [kW], the compressor's flow [kg/s], saturation in mid-step."""

    wet_kw: Array
    dry_kw: Array
    flow: Array
    middle: Saturation


@dataclass(frozen=True)
class HighSide:
    """Heat given to the condenser [kW], lost on the discharge line [kW]."""

    heat_kw: Array
    lost_kw: Array


@dataclass(frozen=True)
class Boiling:
    """Solution of the evaporator's balance: rise [K], heat into the wet part, by flashing, and of vapour
    that finds nothing to boil [kW], heat stored in coil and pool [kJ/K], flow drawn [kg/s], saturation in mid-step."""

    rise: Array
    wet_kw: Array
    flash_kw: Array
    hot_kw: Array
    coil: Array
    pool: Array
    flow: Array
    middle: Saturation


def stored(side: Saturation, liquid_kg: Array, vapour_m3: Array) -> Array:
    """Heat that a side takes up per kelvin of its saturation temperature [kJ/K]: m dh − V dp, of liquid and vapour."""
    return liquid_kg * side.cp_liquid + vapour_m3 * (side.vapour_density * VAPOUR_CP - side.p_slope)


def _carried(b: Batch, m: Masses, overflow: Array, pool: Array, dt: Array) -> None:
    """Share of liquid that the suction line carries, by what overflows and by the accumulator's bleed hole."""
    flow = np.maximum(m.flow, 1e-6)
    excess = np.maximum(m.accumulator - b.lines.accumulator_cap, 0.0) / np.maximum(3.0, dt)
    drawn = np.where(b.tube, b.lines.bleed * pool * flow + excess, overflow)
    share = np.where(m.flow > MOVING, np.minimum(drawn / flow, MOST_LIQUID), 0.0)
    m.wet += (1.0 - np.exp(-dt / 2.0)) * (share - m.wet)
    source = np.where(b.tube, m.accumulator, m.coil_liquid)
    m.wet = np.minimum(m.wet, 0.3 * source / (np.maximum(dt, 0.01) * np.maximum(m.flow, 0.03)))


def suction(b: Batch, m: Masses, low: Saturation, dt: Array) -> Suction:
    """The suction line, by the flow and superheat of the step before."""
    flow, moving = np.maximum(m.flow, 1e-6), m.flow > MOVING
    overflow = np.maximum(m.coil_liquid - b.coil.full_kg, 0.0) / np.maximum(2.0, dt)
    pool = m.accumulator / (m.accumulator + 0.015)
    _carried(b, m, overflow, pool, dt)
    pool_kw = np.where(b.tube, pool * POOL_UA * np.maximum(b.bay_c - m.evaporating, 0.0), 0.0)
    dried = np.where(b.tube, POOL_REACH * pool, 0.0)
    enthalpy = low.h_vapour + m.superheat_kw * (1.0 - dried) / flow - m.wet * low.latent
    warm = m.evaporating + np.maximum(enthalpy - low.h_vapour, 0.0) / low.cp_vapour
    capacity = flow * low.cp_vapour
    lesser = np.minimum(capacity, 1.4 * m.metered)
    exchanged = np.where(moving, b.lines.exchanger * lesser * np.maximum(m.liquid - warm, 0.0), 0.0)
    left_k = b.bay_c - (warm + exchanged / capacity)
    gained = np.where(moving, approach(b.lines.suction_ua, capacity) * capacity * left_k, 0.0)
    enthalpy = np.where(moving, enthalpy + (exchanged + gained) / flow, low.h_vapour - m.wet * low.latent)
    temperature = m.evaporating + np.maximum(enthalpy - low.h_vapour, 0.0) / low.cp_vapour
    return Suction(
        wet=m.wet.copy(), boiled=np.where(b.tube, (dried * m.superheat_kw + pool_kw) / low.latent, 0.0),
        overflow=overflow, enthalpy=enthalpy, temperature=temperature,
        quality=np.clip((enthalpy - low.h_liquid) / low.latent, 0.15, 1.0), exchanged=exchanged, gained=gained,
        pool_kw=pool_kw, dried=dried,
    )


def _boil(b: Batch, m: Masses, low: Saturation, s: Suction, d: Drive) -> Boiling:
    """Balance of the low side's vapour, linear in the rise; the second time with the properties in mid-step."""
    wetted = np.minimum(m.coil_liquid / b.coil.full_kg, 1.0)
    conductance = b.coil.inside_ua * wetted * (0.75 + 0.25 * np.minimum(d.metered / 0.03, 1.5))
    wet_kw = conductance * (m.coil_metal - m.evaporating)
    thicker = low.vapour_slope / low.vapour_density
    rise = np.zeros_like(wet_kw)
    for _ in range(2):
        low = saturation(b.fluid, m.evaporating + 0.5 * rise)
        flash = d.metered * (d.enthalpy - low.h_liquid)
        hot = np.maximum(flash - (d.metered + 0.5 * m.coil_liquid / d.dt) * low.latent, 0.0)
        balance = (wet_kw + flash - hot) / low.latent + s.boiled - d.pump.flow * (1.0 - s.wet)
        room = b.coil.vapour_volume * low.vapour_slope
        gain = 0.5 * (d.dt * (d.metered - d.pump.flow * (1.0 + thicker * rise)) - room * rise)
        coil = stored(low, np.maximum(m.coil_liquid + gain, 0.0), b.coil.vapour_volume)
        pool = m.accumulator * low.cp_liquid
        slope = conductance / low.latent + d.pump.flow * (1.0 - s.wet) * thicker
        rise = np.clip(d.dt * balance / (room + (coil + pool) / low.latent + d.dt * slope), -25.0, 25.0)
    rise = np.clip(m.evaporating + rise, -58.0, 70.0) - m.evaporating
    flow = np.maximum(d.pump.flow * (1.0 + thicker * rise), 0.0)
    return Boiling(rise, wet_kw - conductance * rise, flash - hot, hot, coil, pool, flow, low)


def _superheat(b: Batch, m: Masses, s: Suction, e: Boiling, dt: Array) -> tuple[Array, Array]:
    """Heat of the dry part [kW] and of vapour that came in hot; moves the outlet's temperature."""
    wetted = np.minimum(m.coil_liquid / b.coil.full_kg, 1.0)
    moving = e.flow > MOVING
    vapour = np.maximum(e.flow * (1.0 - s.wet) - s.boiled, 1e-6) * e.middle.cp_vapour
    blown = air.blown(b, m)
    warm = 0.75 * air.entering(b, m, blown)[0] + 0.25 * m.coil_metal
    outside = np.minimum(b.coil.dry_ua * (1.0 - wetted), 0.8 * air.CP_AIR * blown)
    reach = approach(outside, vapour) * np.maximum(warm - m.evaporating, 0.0)
    hot = np.where(moving, e.hot_kw, 0.0)
    still = m.outlet + dt / 20.0 * (m.coil_metal - m.outlet)
    m.outlet = np.where(moving, m.evaporating + reach + np.minimum(hot / vapour, 60.0), still)
    return np.where(moving, vapour * reach, 0.0), hot


def evaporate(b: Batch, m: Masses, low: Saturation, s: Suction, d: Drive) -> LowSide:
    """One step of the low side: evaporating temperature, liquid in coil and accumulator, superheat of the dry part."""
    e = _boil(b, m, low, s, d)
    m.evaporating = m.evaporating + e.rise
    dry_kw, hot_kw = _superheat(b, m, s, e, d.dt)
    m.superheat_kw = dry_kw + hot_kw
    boiled = (e.wet_kw + e.flash_kw - e.coil * e.rise / d.dt) / e.middle.latent
    liquid = s.wet * e.flow
    m.coil_liquid = np.maximum(m.coil_liquid + d.dt * (d.metered - boiled - np.where(b.tube, s.overflow, liquid)), 0.0)
    pooled = m.accumulator + d.dt * (s.overflow - liquid - s.boiled) + e.pool * e.rise / e.middle.latent
    m.accumulator = np.where(b.tube, np.maximum(pooled, 0.0), 0.0)
    return LowSide(e.wet_kw - np.where(e.flow > MOVING, 0.0, e.hot_kw), dry_kw, e.flow, e.middle)


def _conductance(b: Batch, m: Masses, high: Saturation, q: tuple[Liquid, air.Face, Array], flow: Array) -> Array:
    """From condensing refrigerant to metal [kW/K]: less where liquid stands or air blankets, more with the flow.

    Nothing boils off where no liquid is. The flow's power is somewhat below Shah's 0.8 (from memory).
    """
    liquid, _face, air_kpa = q
    blanket = 1.0 / (1.0 + 1.5 * air_kpa / (air_kpa + high.p))
    boiling = np.where(m.condensing < m.face_metal, liquid.mass / (liquid.mass + 0.01), 1.0)
    return b.face.inside_ua * (1.0 - liquid.covered) * blanket * boiling * np.clip(flow / 0.03, 0.1, 3.0) ** 0.5


def _leave(b: Batch, m: Masses, liquid: Liquid, face: air.Face, metered: tuple[Array, Array, Array]) -> None:
    """Temperature of the liquid that leaves, cooled on the share of the face that it covers; by flow, cp and step."""
    flow, cp, dt = metered
    whole = 0.8 / (1.0 / b.face.inside_ua + 1.0 / face.conductance)
    reach = approach(whole * liquid.covered, np.maximum(flow * cp, 1e-6))
    target = m.condensing - reach * np.maximum(m.condensing - face.drive_c, 0.0)
    m.liquid = np.minimum(m.liquid + (1.0 - np.exp(-dt / 3.0)) * (target - m.liquid), m.condensing)


def _discharge(b: Batch, m: Masses, high: Saturation, d: Drive) -> Array:
    """Heat lost on the discharge line [kW]; moves the pipe's temperature."""
    moving = d.pump.flow > MOVING
    hot = m.condensing + np.maximum(d.pump.enthalpy - high.h_vapour, 0.0) / high.cp_vapour
    capacity = np.maximum(d.pump.flow * high.cp_vapour, 1e-6)
    m.discharge_c += d.dt / np.where(moving, 12.0, 90.0) * (np.where(moving, hot, b.bay_c) - m.discharge_c)
    return np.where(moving, approach(b.lines.discharge_ua, capacity) * capacity * (hot - b.bay_c), 0.0)


def _condensing_rise(
    b: Batch, m: Masses, liquid: Liquid, heats: tuple[Array, Array, Array], d: Drive
) -> tuple[Array, Saturation]:
    """Rise of the high side's temperature in this step [K], and its saturation in mid-step, as in `_boil`.

    `heats` are what goes into the metal [kW], by which conductance [kW/K], and what the discharge line loses [kW].
    """
    heat, inside, lost = heats
    flow, dt, rise = d.pump.flow, d.dt, np.zeros_like(heat)
    for _ in range(2):
        high = saturation(b.fluid, m.condensing + 0.5 * rise)
        brought = flow * (d.pump.enthalpy - high.h_vapour) - lost
        balance = flow + (brought - heat) / high.latent - liquid.quality * d.metered
        room = b.face.vapour_volume * high.vapour_slope
        mass = np.maximum(liquid.mass + 0.5 * (dt * (flow - d.metered) - room * rise), 0.0)
        store = room + stored(high, mass, b.face.vapour_volume) / high.latent
        rise = np.clip(dt * balance / (store + dt * inside / high.latent), -25.0, 25.0)
    return np.clip(m.condensing + rise, -40.0, 91.0) - m.condensing, high


def condense(b: Batch, m: Masses, high: Saturation, q: tuple[Liquid, air.Face, Array], d: Drive) -> HighSide:
    """One step of the high side: condensing temperature, the face's metal, the liquid that leaves."""
    liquid, face, _air_kpa = q
    first = high
    lost = _discharge(b, m, high, d)
    inside = _conductance(b, m, high, q, d.pump.flow)
    subcooled = d.metered * high.cp_liquid * (m.condensing - m.liquid)
    heat = inside * (m.condensing - m.face_metal)
    rise, high = _condensing_rise(b, m, liquid, (heat, inside, lost), d)
    m.condensing = m.condensing + rise
    vapour = liquid.quality
    shift = (1.0 - vapour) * (high.h_liquid - first.h_liquid) + vapour * (high.h_vapour - first.h_vapour)
    heat, subcooled = heat + inside * rise, subcooled + d.metered * shift
    outer = face.conductance * (1.0 - liquid.covered)
    m.face_metal += d.dt * (heat - outer * (m.face_metal - face.drive_c)) / (b.face.metal + d.dt * outer)
    _leave(b, m, liquid, face, (d.metered, high.cp_liquid, d.dt))
    m.face_kw = 0.9 * m.face_kw + 0.1 * (heat + subcooled)
    return HighSide(heat + subcooled, lost)
