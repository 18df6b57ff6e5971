"""The air's side: evaporator coil with moisture and ice, condenser face, cabin.

It moves heat between air and metal; it must not know how the refrigerant flows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.masses.batch import Batch, Masses
from tests.worlds.masses.properties import Array, moisture, wet_bulb

CP_AIR, VAPORIZATION, FUSION = 1.01, 2480.0, 334.0  # kJ/kg K, kJ/kg, kJ/kg
PEOPLE_KG_S = 3.0e-5  # moisture of one person


@dataclass(frozen=True)
class Coil:
    """Air over the evaporator: flow [kg/s], in, behind wet and dry part, mean out [°C], moisture out and in [kg/kg]."""

    flow: Array
    entering: Array
    wet_c: Array
    dry_c: Array
    leaving: Array
    moisture: Array
    entering_moisture: Array


@dataclass(frozen=True)
class Face:
    """The condenser's air: temperature [°C], the temperature that drives heat [°C], conductance metal to air [kW/K]."""

    air_c: Array
    drive_c: Array
    conductance: Array


def blown(b: Batch, m: Masses) -> Array:
    """Air through the evaporator [kg/s]; ice closes passages."""
    return b.coil_air * (1.0 - np.minimum(m.ice / b.coil.block_kg, 0.97))


def bypass(b: Batch, flow: Array) -> Array:
    """Bypass factor of the coil: NTU falls with flow^0.45 (ASHRAE's apparatus dew point method, from memory)."""
    units = -np.log(b.coil.bypass) * np.clip(flow / b.coil.air, 0.02, 2.0) ** -0.45
    return np.exp(-np.minimum(units, 8.0))


def entering(b: Batch, m: Masses, flow: Array) -> tuple[Array, Array]:
    """Temperature [°C] and moisture [kg/kg] of the air at the coil, behind the blower's heat."""
    taken = np.where(b.recirculated, m.cabin, b.weather.ambient_c)
    wet = np.where(b.recirculated, m.cabin_moisture, b.outside_moisture)
    effort = np.clip(b.coil_air / b.coil.air, 0.02, 1.5) ** 2
    return taken + b.coil.blower_kw * effort / (CP_AIR * np.maximum(flow, 0.05 * b.coil.air)), wet


def _behind(
    m: Masses, inlet: tuple[Array, Array, Array], wetted: Array, sensible: Array, dry: tuple[Array, Array]
) -> Coil:
    """Air behind the coil, by what enters [kg/s, °C, kg/kg] and what the wetted part takes without its moisture [kW].

    `dry` is what the refrigerant takes in its dry part [kW], and the moisture that stays on the wetted one [kg/s].
    """
    flow, warm, wet_in = inlet
    dry_kw, left = dry
    cp_flow = np.maximum(CP_AIR * flow, 1e-5)
    cooled = np.minimum(dry_kw, 0.9 * cp_flow * np.maximum(warm - m.evaporating, 0.0))
    wet_c = warm - sensible / np.maximum(cp_flow * np.maximum(wetted, 0.05), 1e-5)
    dry_c = warm - np.minimum(cooled / np.maximum(cp_flow * (1.0 - wetted), 0.3 * cp_flow), warm - wet_c)
    return Coil(flow, warm, wet_c, dry_c, warm - (sensible + cooled) / cp_flow,
                wet_in - left / np.maximum(flow, 1e-6), wet_in)


def coil_metal(b: Batch, m: Masses, wetted: Array, inside: tuple[Array, Array], dt: Array) -> Coil:
    """One step of the metal that is wetted inside, with water and ice on it; gives the air behind the coil.

    The air approaches the saturated state at the metal by the bypass factor, in temperature and moisture alike (Lewis
    number 1). `inside` is what the refrigerant takes in its wet and dry part in this step [kW]; water dries up
    while the coil is warm.
    """
    inside_kw, dry_kw = inside
    flow = blown(b, m)
    warm, wet_in = entering(b, m, flow)
    touched = flow * wetted * (1.0 - bypass(b, flow))
    saturated = moisture(np.maximum(m.coil_metal, -40.0), 1.0, b.weather.pressure_kpa)
    dew = np.where((wet_in > saturated) | (m.water > 1e-4), wet_in - saturated, 0.0)
    frozen = np.clip(0.3 - m.coil_metal, 0.0, 1.0)
    heat = touched * (CP_AIR * (warm - m.coil_metal) + dew * (VAPORIZATION + FUSION * frozen))
    iced = np.minimum(m.ice / 0.02, 1.0)
    melting = 0.15 * np.clip(m.coil_metal, 0.0, 8.0) * iced
    slope = touched * CP_AIR * np.where(dew != 0.0, 2.4, 1.0) + 0.15 * iced * (m.coil_metal > 0)
    metal = (b.coil.metal + 4.19 * m.water) * np.maximum(wetted, 0.2)
    m.coil_metal += dt * (heat - inside_kw - melting) / (metal + dt * slope)
    condensed = touched * dew * dt
    m.ice = np.clip(m.ice + condensed * frozen * (condensed > 0) - melting * dt / FUSION, 0.0, b.coil.block_kg)
    m.water = np.clip(m.water + condensed * (1.0 - frozen) + melting * dt / FUSION, 0.0, b.coil.hold_kg)
    sensible = touched * CP_AIR * (warm - m.coil_metal)
    return _behind(m, (flow, warm, wet_in), wetted, sensible, (dry_kw, touched * dew))


def vents(b: Batch, m: Masses, coil: Coil, wetted: Array) -> tuple[Array, Array, Array]:
    """Mean, left and right vent [°C]: duct, air past the heater, and halves of the coil that are not equally wet."""
    dash = np.maximum(m.cabin, b.weather.ambient_c)
    idle = np.clip(b.coil.air / np.maximum(coil.flow, 1e-4), 1.0, 20.0) ** 0.5
    duct = np.minimum(b.coil.duct * idle, 0.8)
    cold = coil.leaving + duct * (dash - coil.leaving)
    blend = b.faults.blend
    heat = b.coil.heater_c + 0.2 * (b.weather.ambient_c - 25.0)
    uneven = b.coil.mixing * (coil.dry_c - coil.wet_c) * np.minimum(wetted, 1.0 - wetted) * (1.0 - blend)
    uneven = uneven + 0.5 * b.coil.lean_k + b.coil.blend_lean * np.minimum(blend, 1.0 - blend) * (heat - cold)
    mean = cold + blend * (heat - cold)
    return mean, mean - uneven, mean + uneven


def face(b: Batch, m: Masses, wet_bulb_c: Array, high_kpa: Array) -> Face:
    """Air at the condenser: hot air drawn back in, wet part toward the wet bulb, NTU falling with flow^0.4.

    Many cars speed the fans up with the high side (common practice).
    """
    follow = np.clip(1.0 + b.face.follow * (high_kpa - 1500.0) / 1500.0, 0.75, 1.2)
    flow = np.maximum(b.face_air * follow, 1e-4)
    back = np.where(b.settings.hood_open > 0, b.face.return_open, b.face.return_closed)
    air = b.weather.ambient_c + b.settings.face_gust_k + np.minimum(back * m.face_kw / (CP_AIR * flow), 25.0)
    units = b.face.ntu * np.clip(flow / b.face.air, 1e-3, 3.0) ** -0.4
    share = b.settings.wet_share
    conductance = CP_AIR * flow * (1.0 - np.exp(-units)) * (1.0 + 0.3 * share)
    return Face(air, air - share * np.maximum(air - wet_bulb_c, 0.0), conductance)


def outside_wet_bulb(b: Batch) -> Array:
    """Wet bulb outside [°C]."""
    return wet_bulb(b.weather.ambient_c, b.outside_moisture, b.weather.pressure_kpa)


def cabin(b: Batch, m: Masses, coil: Coil, vent_c: Array, dt: Array) -> None:
    """One step of the cabin's air and moisture and of its inner masses, implicit in the air's temperature."""
    ambient = b.weather.ambient_c
    change = b.cabin.leak + np.where(b.recirculated & b.open_windows, b.cabin.open_exchange, 0.0)
    change = change + np.where(b.recirculated, 0.0, 0.3 * coil.flow)
    gains = b.cabin.sun * b.weather.sun + b.cabin.engine_kw + b.settings.load_gust_kw
    supply, leak = CP_AIR * coil.flow, CP_AIR * change
    whole = supply + leak + b.cabin.walls + b.cabin.masses_ua
    flows = supply * vent_c + (leak + b.cabin.walls) * ambient + b.cabin.masses_ua * m.inner + gains
    m.cabin = (b.cabin.air * m.cabin + dt * flows) / (b.cabin.air + dt * whole)
    m.inner += dt * b.cabin.masses_ua * (m.cabin - m.inner) / b.cabin.masses
    mass = b.cabin.air / CP_AIR
    wet = coil.flow * coil.moisture + change * b.outside_moisture + PEOPLE_KG_S
    m.cabin_moisture = (mass * m.cabin_moisture + dt * wet) / (mass + dt * (coil.flow + change))
