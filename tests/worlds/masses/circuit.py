"""One step of the whole car: circuit, coil, regulation, cabin, and what instruments show of it.

It orders the laws in time; the laws themselves are in `refrigerant`, `sides`, `air` and `control`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.worlds.masses import air
from tests.worlds.masses.batch import Batch, Masses
from tests.worlds.masses.control import regulate
from tests.worlds.masses.properties import Array, Saturation, saturation
from tests.worlds.masses.refrigerant import (
    Liquid,
    Pressures,
    Pumped,
    high_liquid,
    metered,
    opening,
    pressures,
    pumped,
    vapour_density,
)
from tests.worlds.masses.sides import MOVING, Drive, HighSide, LowSide, Suction, condense, evaporate, suction


@dataclass(frozen=True)
class Step:
    """What a step shows to instruments, see `world.State`; heats in kW; `held_kj` is at the beginning of the step."""

    low_kpa: Array
    high_kpa: Array
    vent_c: Array
    vent_left_c: Array
    vent_right_c: Array
    return_c: Array
    return_moisture: Array
    suction_evaporator_c: Array
    suction_compressor_c: Array
    liquid_c: Array
    discharge_c: Array
    face_c: Array
    duty: Array
    on: Array
    tripped: Array
    air_share: Array
    bubbles: Array
    q_evaporator_kw: Array
    q_condenser_kw: Array
    work_kw: Array
    heat_gain_kw: Array
    held_kj: Array


@dataclass(frozen=True)
class Start:
    """The circuit as a step finds it: saturation of both sides, where the liquid stands, pressures, air at the face."""

    low: Saturation
    high: Saturation
    liquid: Liquid
    p: Pressures
    face: air.Face
    held_kj: Array


@dataclass(frozen=True)
class Circuit:
    """The circuit after a step: suction line, both sides, compressor, and dry heat that the flow took along [kW]."""

    suction: Suction
    low: LowSide
    high: HighSide
    pump: Pumped
    dry_kw: Array


def held(b: Batch, m: Masses, sides: tuple[Saturation, Saturation], mass: Array) -> Array:
    """Heat that the refrigerant holds [kJ], Σ m h − V p of liquid and vapour on both sides."""
    low, high = sides
    answer = (m.coil_liquid + m.accumulator) * low.h_liquid + mass * high.h_liquid
    for side, volume in ((low, b.coil.vapour_volume), (high, b.face.vapour_volume)):
        answer = answer + volume * (side.vapour_density * side.h_vapour - side.p)
    return np.asarray(answer)


def _start(b: Batch, m: Masses, wet_bulb_c: Array) -> Start:
    """What a step begins with."""
    low, high = saturation(b.fluid, m.evaporating), saturation(b.fluid, m.condensing)
    liquid = high_liquid(b, m, low, high)
    p = pressures(b, m, low, high, liquid.quality)
    return Start(low, high, liquid, p, air.face(b, m, wet_bulb_c, p.condenser), held(b, m, (low, high), liquid.mass))


def _meter(b: Batch, m: Masses, at: Start) -> tuple[Array, Array]:
    """Flow of the metering [kg/s] and enthalpy of the liquid before it, without an exchanger [kJ/kg]."""
    area = opening(b, m, at.low, saturation(b.fluid, m.bulb).p)
    flow, boiling = metered(b, m, at.high, at.p, area)
    m.flashing = 0.7 * m.flashing + 0.3 * np.minimum(at.liquid.quality + boiling, 1.0)
    subcooled = at.high.cp_liquid * (m.condensing - m.liquid)
    return flow, at.high.h_liquid + at.liquid.quality * at.high.latent - subcooled


def _run(b: Batch, m: Masses, at: Start, dt: Array) -> Circuit:
    """One step of the refrigerant; the suction line's heat at the last step's flow is scaled to this step's."""
    flow, enthalpy = _meter(b, m, at)
    s = suction(b, m, at.low, dt)
    m.suction_c = np.where(m.flow > MOVING, s.temperature, m.suction_c + dt / 120.0 * (b.bay_c - m.suction_c))
    density = vapour_density(at.low, at.p, s.temperature, s.quality, m.evaporating)
    pump = pumped(b, m, at.p, density, s.enthalpy)
    before = np.maximum(m.flow, 1e-6)
    enthalpy = enthalpy - s.exchanged * np.minimum(pump.flow / before, 3.0) / np.maximum(flow, 1e-4)
    side = evaporate(b, m, at.low, s, Drive(flow, enthalpy, pump, dt))
    pace = np.minimum(side.flow / before, 3.0)
    s = replace(s, gained=s.gained * pace)
    dry_kw, m.dry_kw = m.dry_kw * (s.dried + (1.0 - s.dried) * pace), side.dry_kw
    middle = side.middle
    shift = (1.0 - s.wet) * (middle.h_vapour - at.low.h_vapour) + s.wet * (middle.h_liquid - at.low.h_liquid)
    pump = Pumped(side.flow, pump.work * side.flow / np.maximum(pump.flow, 1e-9), pump.enthalpy + shift)
    hot = condense(b, m, at.high, (at.liquid, at.face, at.p.air), Drive(flow, enthalpy, pump, dt))
    m.flow, m.metered = side.flow, flow
    drop = b.lines.suction_drop * (side.flow / 0.035) ** 2 * 14.0 / density
    m.suction_drop = 0.6 * m.suction_drop + 0.4 * np.minimum(drop, 0.6 * at.low.p)
    m.bulb += (1.0 - np.exp(-dt / b.lines.bulb_s)) * (m.outlet - m.bulb)
    return Circuit(s, side, hot, pump, dry_kw)


def _show(b: Batch, m: Masses, at: Start, c: Circuit, coil: air.Coil) -> Step:
    """Instruments of this step."""
    p, x = at.p, at.liquid.quality
    vent, left, right = air.vents(b, m, coil, np.minimum(m.coil_liquid / b.coil.full_kg, 1.0))
    outside = c.suction.gained + c.suction.pool_kw - c.high.lost_kw - c.pump.work * b.pump.shell_loss
    return Step(
        low_kpa=p.evaporator - b.lines.port_share * (p.evaporator - p.suction),
        high_kpa=np.where(b.face.high_liquid > 0, p.liquid, p.discharge), vent_c=vent, vent_left_c=left,
        vent_right_c=right, return_c=np.where(b.recirculated, m.cabin, b.weather.ambient_c),
        return_moisture=coil.entering_moisture, suction_evaporator_c=m.outlet, suction_compressor_c=m.suction_c,
        liquid_c=m.liquid, discharge_c=m.discharge_c, face_c=at.face.air_c, duty=m.stroke * m.clutch,
        on=m.clutch, tripped=m.tripped, air_share=coil.flow / (b.coil_air / (1.0 - b.faults.evaporator_air)),
        bubbles=x / (x + (1.0 - x) * at.high.vapour_density / at.high.liquid_density),
        q_evaporator_kw=c.low.wet_kw + c.dry_kw, q_condenser_kw=c.high.heat_kw, work_kw=c.pump.work,
        heat_gain_kw=outside, held_kj=at.held_kj,
    )


def step(b: Batch, m: Masses, dt: Array, wet_bulb_c: Array) -> Step:
    """Advance every request by its own step [s]; what is shown is valid until the next step."""
    at = _start(b, m, wet_bulb_c)
    wetted = np.minimum(m.coil_liquid / b.coil.full_kg, 1.0)
    c = _run(b, m, at, dt)
    coil = air.coil_metal(b, m, wetted, (c.low.wet_kw, c.low.dry_kw), dt)
    shown = _show(b, m, at, c, coil)
    shown = replace(shown, suction_compressor_c=m.suction_c.copy(), discharge_c=m.discharge_c.copy())
    regulate(b, m, (at.p, coil, c.pump), dt)
    air.cabin(b, m, coil, shown.vent_c, dt)
    return shown
