"""Cars: their parts as numbers, and how one is drawn at random, as varied as healthy cars are.

A car is sized by its cooling power at a design point (30 °C, windows open, full blower); everything else scatters
around what suits that size. It must not solve anything.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from random import Random

from tests.worlds.world import CarFacts, Refrigerant, Regulation

CAPACITY = 150.0  # latent and sensible cooling per mass of refrigerant at the design point [kJ/kg], R134a
CAPACITY_YF = 118.0


@dataclass(frozen=True)
class Car:
    """One car. Flows kg/s, areas as conductances kW/K, volumes L, pressures kPa, temperatures °C, times s."""

    fluid: int
    regulation: str
    orifice: bool
    high_liquid: bool
    flow_0: float  # refrigerant flow at the design point
    # condenser and its air
    air_c: float
    ua_air_c: float
    ua_ref_c: float
    zone_vapour_c: float  # conductance of vapour or liquid over that of condensing refrigerant
    pass_share: float  # share of the face behind the receiver
    fan_gain: float  # controlled fan: its air follows this power of the high side's pressure at the high stage
    fan_t: float  # condensing temperature at which it gives air_c
    fan_low: float
    fan_off: float
    hood_k: float
    face_k: float
    drop_c: float  # pressure drop of condenser and discharge line at flow_0
    lag_c: float  # time constant
    # evaporator and its air
    air_e: float
    blower_low: float
    blower_medium: float
    ua_air_e: float
    ua_ref_e: float
    drop_e: float  # suction drop from coil to compressor at flow_0
    port_share: float  # part of it upstream of the low port
    metal_e: float  # heat capacity kJ/K
    blower_kw: float
    duct: float
    sides: float
    # compressor and lines
    swept: float  # cm³ per turn
    drive: float  # turns per turn of the engine
    speed_max: float  # of the motor, 1/min (electric)
    clearance: float
    leak: float
    isentropic: float
    shell_loss: float
    line_ua: float
    bay_k: float
    exchanger: float
    # metering
    valve: float  # full flow coefficient, kg/s per sqrt(kPa kg/m³)
    static_k: float
    opening_k: float
    line_drop: float  # liquid line at flow_0
    off_flow: float  # part of the flow that continues while the compressor is off
    # regulation
    set_low: float
    set_high: float
    set_slope: float
    sensor: float  # 0 feels the air behind the coil, 1 its wall
    limit_kpa: float
    trip_kpa: float
    # volumes L and charge kg
    v_cond: float
    v_evap: float
    v_liquid: float
    v_suction: float
    v_discharge: float
    v_store: float
    air_trap: float
    charge: float
    # cabin
    cabin_ua: float
    cabin_leak: float
    window_flow: float
    mass_ua: float
    mass_min: float
    sun_kw: float
    people_kw: float
    moisture: float
    door_leak: float
    heater_c: float
    blend_side: float

    def facts(self) -> CarFacts:
        """What a technician could know about it."""
        refrigerant: Refrigerant = "R1234yf" if self.fluid else "R134a"
        regulation: Regulation = self.regulation  # type: ignore[assignment]
        return CarFacts(
            refrigerant=refrigerant,
            regulation=regulation,
            metering="orifice_tube" if self.orifice else "expansion_valve",
            internal_exchanger=self.exchanger > 0,
            high_port="liquid" if self.high_liquid else "discharge",
            charge_g=round(self.charge * 1000),
        )


NUMBERS = tuple(field.name for field in fields(Car) if field.name != "regulation")


def _spread(rng: Random, middle: float, sigma: float, cut: float = 2.2) -> float:
    """A lognormal number about `middle`, cut at `cut` standard deviations."""
    return middle * math.exp(sigma * max(-cut, min(cut, rng.gauss(0, 1))))


def _condenser(rng: Random, size: float, flow: float) -> dict[str, float]:
    """A condenser sized by its split at the design point, from large with ample air to small and starved."""
    split = _spread(rng, 25.0, 0.33, 1.8)
    conductance = 1.28 * size / split
    share_ref = rng.uniform(0.2, 0.42)
    steered = rng.random() < 0.8
    air = max(_spread(rng, 0.085 * size, 0.25), conductance / (1 - share_ref) / 0.86)
    effectiveness = conductance / (1 - share_ref) / (1.006 * air)
    return {
        "air_c": air,
        "ua_air_c": -math.log(1 - effectiveness) * 1.006 * air,
        "ua_ref_c": conductance / share_ref,
        "zone_vapour_c": rng.uniform(0.22, 0.4),
        "fan_gain": rng.uniform(0.4, 1.4) if steered else 0.0,
        "fan_t": 31.0 + split,
        "fan_low": rng.uniform(0.5, 0.75),
        "fan_off": rng.uniform(0.1, 0.25),
        "hood_k": rng.uniform(0.3, 3.0),
        "face_k": rng.uniform(0.0, 1.2),
        "drop_c": _spread(rng, 40.0, 0.5),
        "lag_c": rng.uniform(8.0, 20.0),
    }


def _evaporator(rng: Random, size: float) -> dict[str, float]:
    air = _spread(rng, 0.024 * size, 0.2)
    return {
        "air_e": air,
        "blower_low": rng.uniform(0.3, 0.45),
        "blower_medium": rng.uniform(0.55, 0.75),
        "ua_air_e": rng.uniform(1.25, 2.4) * 1.006 * air,
        "ua_ref_e": _spread(rng, 0.30 * size, 0.3),
        "drop_e": _spread(rng, 15.0, 0.5),
        "port_share": rng.uniform(0.2, 1.0),
        "metal_e": rng.uniform(0.55, 1.1) * size,
        "blower_kw": rng.uniform(0.015, 0.035) * size,
        "duct": rng.uniform(0.01, 0.09),
        "sides": rng.uniform(-1.0, 1.0),
    }


def _compressor(rng: Random, size: float, regulation: str, fluid: int) -> dict[str, float]:
    electric = regulation == "electric"
    # a belt-driven one meets the design point at 1,200 to 1,500 engine rpm
    swept = _spread(rng, (6.0 if electric else 19.5) * size, 0.18)
    return {
        "swept": swept,
        "drive": rng.uniform(1.15, 1.45),
        "speed_max": rng.uniform(5000.0, 8000.0) if electric else 0.0,
        "clearance": rng.uniform(0.02, 0.06),
        "leak": rng.uniform(0.02, 0.07),
        "isentropic": rng.uniform(0.66, 0.8),
        "shell_loss": rng.uniform(0.04, 0.18),
        "line_ua": rng.uniform(0.0003, 0.0016) * size,
        "bay_k": rng.uniform(5.0, 30.0),
    }


def _metering(rng: Random, flow: float, orifice: bool) -> dict[str, float]:
    if orifice:  # at 550 kPa over its throat
        valve = flow * rng.uniform(0.85, 1.15) / math.sqrt(1130 * 550)
        return {"valve": valve, "static_k": 5.0, "opening_k": 5.0, "off_flow": rng.uniform(0.3, 0.6)}
    valve = flow * rng.uniform(1.35, 2.2) / math.sqrt(1130 * 900)
    static = rng.uniform(2.0, 6.5)
    return {"valve": valve, "static_k": static, "opening_k": rng.uniform(3.0, 7.0), "off_flow": rng.uniform(0.1, 0.3)}


def _regulation(rng: Random, regulation: str, fluid: int) -> dict[str, float]:
    """Set points in °C (of saturation for pressures), limits in kPa."""
    sensor = rng.uniform(0.0, 0.8)
    low, high, slope = rng.uniform(2.5, 7.5) - 2.5 * sensor, 0.0, 0.0
    if regulation == "cycling_pressure":
        low = rng.uniform(-5.0, 0.5)
        high = low + rng.uniform(9.0, 14.0)
    elif regulation == "cycling_vent":
        low = rng.uniform(1.5, 5.0)
        high = low + rng.uniform(2.0, 4.5)
    elif regulation == "variable_internal":
        low, slope = rng.uniform(-3.5, 5.5), rng.uniform(0.0, 0.003)
    limited = regulation in ("variable_external", "electric")
    return {
        "set_low": low,
        "set_high": high,
        "set_slope": slope,
        "sensor": sensor,
        "limit_kpa": rng.uniform(2450.0, 2800.0) if limited else 9e3,
        "trip_kpa": rng.uniform(2850.0, 3200.0) if fluid == 0 else rng.uniform(2750.0, 3000.0),
    }


def _cabin(rng: Random) -> dict[str, float]:
    volume = _spread(rng, 1.0, 0.25)
    return {
        "cabin_ua": 0.08 * volume * rng.uniform(0.75, 1.3),
        "cabin_leak": 0.012 * volume * rng.uniform(0.3, 2.0),
        "window_flow": volume * rng.uniform(0.9, 2.6),
        "mass_ua": 0.11 * volume * rng.uniform(0.7, 1.3),
        "mass_min": rng.uniform(12.0, 30.0),
        "sun_kw": volume * rng.uniform(0.6, 1.4),
        "people_kw": rng.uniform(0.08, 0.2),
        "moisture": rng.uniform(1.5e-5, 6e-5),
        "door_leak": rng.uniform(0.0, 0.18),
        "heater_c": rng.uniform(75.0, 92.0),
        "blend_side": rng.choice((-1.0, 0.0, 0.0, 1.0)),
    }


def _volumes(rng: Random, size: float, parts: dict[str, float]) -> dict[str, float]:
    """Volumes, with a store so large that its filled part is 15 to 30 % of the label's charge, and the charge.

    Mean densities of the coils are those of the void fractions at 45 and 5 °C.
    """
    v_cond, v_evap = _spread(rng, 0.14 * size, 0.25), _spread(rng, 0.13 * size, 0.25)
    v_liquid, v_suction = rng.uniform(0.07, 0.16), rng.uniform(0.4, 1.0)
    orifice = bool(parts["orifice"])
    condenser = 410.0 if orifice else 245.0 + 815.0 * parts["pass_share"]
    working = v_cond * condenser + v_evap * 53.0 + v_liquid * 1110.0 + v_suction * 15.0 + 0.15 * 55.0
    reserve = rng.uniform(0.15, 0.30)
    filled = working * reserve / (1 - reserve)
    level = rng.uniform(0.3, 0.5) if orifice else rng.uniform(0.4, 0.65)
    store = filled / (level * (1250.0 if orifice else 1110.0) + (1 - level) * (18.0 if orifice else 60.0))
    return {
        "v_cond": v_cond, "v_evap": v_evap, "v_liquid": v_liquid, "v_suction": v_suction, "v_discharge": 0.15,
        "v_store": store, "air_trap": rng.uniform(0.35, 0.7), "charge": (working + filled) / 1000,
    }  # fmt: skip


def draw_car(rng: Random) -> Car:
    """A healthy car; the same state of `rng` gives the same car."""
    regulation = rng.choice(("cycling_pressure", "cycling_vent", "variable_internal", "variable_external", "electric"))
    orifice = rng.random() < {"cycling_pressure": 0.75, "variable_internal": 0.25}.get(regulation, 0.06)
    fluid = int(rng.random() < (0.6 if regulation in ("electric", "variable_external") else 0.25))
    size = _spread(rng, 5.2, 0.24)
    flow = size / (CAPACITY_YF if fluid else CAPACITY)
    exchanger = rng.uniform(0.25, 0.55) if not orifice and rng.random() < (0.4 if fluid else 0.15) else 0.0
    pass_share = rng.uniform(0.1, 0.24) if not orifice and rng.random() < 0.6 else 0.0
    parts: dict[str, float] = {"fluid": fluid, "orifice": orifice, "flow_0": flow, "exchanger": exchanger}
    parts |= {"pass_share": pass_share, "high_liquid": rng.random() < 0.5, "line_drop": _spread(rng, 18.0, 0.4)}
    parts |= _condenser(rng, size, flow) | _evaporator(rng, size) | _compressor(rng, size, regulation, fluid)
    parts |= _metering(rng, flow, orifice) | _regulation(rng, regulation, fluid) | _cabin(rng)
    parts |= _volumes(rng, size, parts)
    return Car(regulation=regulation, **parts)  # type: ignore[arg-type]
