"""One car's circuit and cabin as eight equations in eight unknowns, for many cars and many trial points at once.

Everything is explicit in the unknowns, so a residual is one pass round the circuit. It must not solve anything.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.zones.batch import Batch
from tests.worlds.zones.coils import CondenserSide, EvaporatorSide, condenser, evaporator
from tests.worlds.zones.cycle import Cycle, cycle
from tests.worlds.zones.inventory import Filling, Masses, air_running, masses
from tests.worlds.zones.machine import Compression, Suction, compressor, gas_density, gas_temperature, metering, suction
from tests.worlds.zones.props import Array, boiling_c, saturated, soft

# Unknowns: evaporating and condensing temperature [°C], the free end (superheat enthalpy at the coil's outlet over
# 100 kJ/kg with a valve, the condenser's outlet with an orifice tube), the store's coordinate (0 to 1 is its level,
# below 0 it is empty, above 1 full), the regulated share, ln of the flow [kg/s], the cabin's air [°C, kg/kg].
T_E, T_C, END, STORE, SHARE, FLOW, T_CABIN, W_CABIN = range(8)
UNKNOWNS = 8
LOWEST = np.array([-55.0, -10.0, -1.7, -1.5, 0.01, np.log(1e-4), -20.0, 1e-4])
HIGHEST = np.array([60.0, 92.0, 1.3, 2.7, 1.0, np.log(0.3), 90.0, 0.12])
LOWEST_SHARE = 0.02


@dataclass
class Running:
    """The half of the circuit from the evaporator's outlet to the liquid line, while the compressor runs."""

    m: Array
    share: Array
    on: Array  # share of the time it runs
    h_1: Array
    pressures: tuple[Array, Array, Array]  # condenser's middle, inlet, outlet [kPa]
    suction: Suction
    compression: Compression
    condenser: CondenserSide
    cycle: Cycle


@dataclass
class Point:
    """Everything that follows from one set of unknowns."""

    z: Array
    run: Running
    evaporator: EvaporatorSide
    masses: Masses
    h_valve: Array
    vent: Array
    residual: Array


def _ends(b: Batch, z: Array) -> tuple[Array, Array, Array]:
    """Condenser's and superheat's coordinate and level of the store from the free end and the store's coordinate."""
    store = z[STORE]
    beyond = soft(store - 1, 0.004) - soft(-store, 0.004)
    tube = b["orifice"] > 0
    return np.where(tube, z[END], beyond), np.where(tube, -beyond, z[END]), store - beyond


def _inlet(b: Batch, z: Array) -> tuple[Array, Array]:
    """Air into the coil [°C, kg/kg]: return air with what the door leaks, or outside air, warmed by the blower."""
    x = b.x
    fresh = np.where(x["outside"] > 0, 1.0, x["door_leak"])
    m_air = x["m_air_e"] * np.maximum(1 - x["evaporator_air"], 0.012)
    t = z[T_CABIN] + fresh * (x["ambient_c"] - z[T_CABIN]) + x["blower_heat"] / (1.006 * (m_air + 0.02))
    return t, z[W_CABIN] + fresh * (x["w_out"] - z[W_CABIN])


def _cabin(b: Batch, z: Array, coil: EvaporatorSide) -> tuple[Array, Array, Array]:
    """Vent temperature [°C] and the cabin's residuals [K, kg/kg].

    Air is quasi-steady; seats and trim are one mass that decays from the soak toward the air in `mass_min` minutes.
    """
    x = b.x
    vent = coil.t_air + x["duct"] * (z[T_CABIN] - coil.t_air)
    vent = vent + x["blend"] * 0.75 * (x["heater_c"] - vent)
    warm = x["mass_ua"] * np.exp(-x["running_min"] / x["mass_min"])
    leak = 1.01 * (x["cabin_leak"] + x["window_flow"] * x["open"] + coil.m_air * x["outside"])
    supply = 1.01 * coil.m_air
    gain = x["sun"] * x["sun_kw"] + x["people_kw"] + x["load_gust_kw"] + x["blower_heat"]
    gain = gain + warm * (x["ambient_c"] + x["soak_k"]) + (x["cabin_ua"] + leak) * x["ambient_c"]
    # with outside air the supply replaces cabin air, on recirculation it comes from it: the same exchange
    still = leak - 1.01 * coil.m_air * x["outside"]
    gain = gain - 1.01 * coil.m_air * x["outside"] * x["ambient_c"]
    t = (gain + supply * vent) / (x["cabin_ua"] + still + warm + supply)
    change = still / 1.01 + coil.m_air
    w = (x["moisture"] + still / 1.01 * x["w_out"] + coil.m_air * coil.w_air) / change
    return vent, z[T_CABIN] - t, z[W_CABIN] - w


def _wish(b: Batch, run: Running, coil: EvaporatorSide) -> Array:
    """How much too warm [K] the regulated quantity is; below zero the compressor gives less."""
    x = b.x
    goal = x["set_low"] + x["set_point_k"]
    p_high = run.pressures[0]
    felt = coil.t_air + x["sensor"] * (coil.t_metal - coil.t_air)
    inner = run.suction.t_sat + x["set_slope"] * (p_high - 1200.0)
    wish = np.where(b.regulated("variable_internal"), inner, felt) - goal
    port = boiling_c(b.fluid, run.suction.p_port)
    wish = np.where(b.regulated("cycling_pressure"), port - run.cycle.apart - goal, wish)
    wish = np.where(b.regulated("cycling_vent"), coil.t_air - run.cycle.middle - x["set_point_k"], wish)
    return np.minimum(wish, (x["limit_kpa"] - p_high) / 40.0)


def _high_side(b: Batch, m: Array, t_c: Array, ends: tuple[Array, Array]) -> tuple[Array, Array, Array]:
    """Pressure in the condenser with its air, and at its inlet and outlet [kPa]."""
    x = b.x
    kappa, level = ends
    space = np.clip(1 - kappa, 0.2, 1.0) * x["v_cond"] * (1 - x["pass_share"]) * 0.85 + x["v_discharge"]
    space = space + np.where(x["orifice"] > 0, 0.0, x["v_store"] * (1 - level))
    p_high = saturated("P", b.fluid, t_c) + air_running(b, space, t_c)
    loss = x["drop_c"] * (m / x["flow_0"]) ** 1.8 * 57.0 / saturated("D_vapour", b.fluid, t_c)
    return p_high, p_high + 0.7 * loss, p_high - 0.3 * loss


def _run(b: Batch, z: Array, h_1: Array, ends: tuple[Array, Array]) -> Running:
    """From the evaporator's outlet through compressor and condenser."""
    fluid, x = b.fluid, b.x
    m, t_c = np.exp(z[FLOW]), z[T_C]
    share = np.clip(z[SHARE], 0.01, 1.0)
    pressures = _high_side(b, m, t_c, ends)
    guess = x["inlet_c"] + 0.7 * np.maximum(t_c - x["inlet_c"], 0.0)
    turn = cycle(b, m * np.maximum(h_1 - saturated("H_liquid", fluid, guess), 20.0), share, m)
    # a controlled fan follows the pressure, within bounds
    blown = 1 + 0.45 * np.tanh(x["steered"] * np.log(pressures[0] / saturated("P", fluid, x["fan_t"])) / 0.45)
    face = (1 / turn.damping, blown)
    # the liquid's temperature, which an internal exchanger needs, does not depend on the gas that enters
    liquid = condenser(b, m, t_c, (saturated("H_vapour", fluid, t_c), *face), ends[0]).t_out
    s = suction(b, m, z[T_E], h_1, liquid)
    done = compressor(b, s, pressures[1], share)
    hot = condenser(b, m, t_c, (done.h, *face), ends[0])
    return Running(m, share, np.where(b.cycling, share, 1.0), h_1, pressures, s, done, hot, turn)


def _fed(b: Batch, run: Running, t_e: Array, xi: Array, liquid: tuple[Array, Array]) -> Array:
    """Mean flow [kg/s] through the metering; part of it continues while a switched compressor is off."""
    superheat = np.where(xi > 0, gas_temperature(b, t_e, run.h_1) - t_e, 100.0 * xi)
    pressures = (run.pressures[2], saturated("P", b.fluid, t_e))
    fed = metering(b, run.m, pressures, (run.condenser.h_out, *liquid), superheat)
    return np.asarray(fed * (run.on + b["off_flow"] * (1 - run.on)))


def evaluate(b: Batch, z: Array) -> Point:
    """One pass round the circuit; `z` is (8, ...) with the last axis the cars."""
    fluid, x = b.fluid, b.x
    kappa, xi, level = _ends(b, z)
    h_1 = saturated("H_vapour", fluid, z[T_E]) + 100.0 * xi
    run = _run(b, z, h_1, (kappa, level))
    hot, drawn = run.condenser, run.suction.exchanged
    h_valve, t_valve = hot.h_out - drawn, hot.t_out - drawn / saturated("C_liquid", fluid, z[T_C])
    coil = evaporator(b, (run.m * run.on, run.on), z[T_E], h_valve, _inlet(b, z))
    fed = _fed(b, run, z[T_E], xi, (h_valve, t_valve))
    content = masses(b, _filling(b, z, (kappa, xi, level), run, (coil, h_valve)))
    vent, off_t, off_w = _cabin(b, z, coil)
    wish = _wish(b, run, coil)
    stroke = np.where(b.cycling, 1.0, run.share)
    residual = np.stack([
        z[FLOW] - np.log(stroke * run.compression.m_full),
        z[FLOW] + np.log(run.on) - np.log(fed),
        np.log(hot.vapour + hot.two_phase + hot.liquid),
        (h_1 - coil.h_out) / 40.0,
        3 * (content.total / (x["charge"] * x["charge_share"]) - 1),
        z[SHARE] - np.where(x["pin"] > 0, x["pin"], np.clip(z[SHARE] + wish / 6.0, LOWEST_SHARE, 1.0)),
        off_t / 5.0,
        off_w / 0.003,
    ])  # fmt: skip
    return Point(z, run, coil, content, h_valve, vent, residual)


def _filling(
    b: Batch, z: Array, ends: tuple[Array, Array, Array], run: Running, low: tuple[EvaporatorSide, Array]
) -> Filling:
    """What the inventory is calculated from; `low` is the evaporator and the enthalpy entering it."""
    kappa, xi, level = ends
    hot, s = run.condenser, run.suction
    h_g, h_l = saturated("H_vapour", b.fluid, z[T_E]), saturated("H_liquid", b.fluid, z[T_E])
    return Filling(
        t_e=z[T_E], t_c=z[T_C], vapour=hot.vapour, two_phase=hot.two_phase, liquid=hot.liquid,
        quality_out=np.clip(-kappa, 0.0, 0.98), pass_quality=hot.quality, wetted=low[0].wetted,
        quality_in=np.clip((low[1] - h_l) / (h_g - h_l), 0.0, 0.99),
        quality_e=np.clip(1 + 100.0 * xi / (h_g - h_l), 0.0, 1.0), level=level,
        gas_density=gas_density(b, s.t_sat, s.h),
    )  # fmt: skip
