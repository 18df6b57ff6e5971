"""Physics of the single parts: coil, condenser, compressor, valve; none knows the loop or a fault's name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log

from tests.worlds.loop.car import Compressor, Condenser, Evaporator, Metering
from tests.worlds.loop.fluids import Fluid, air_enthalpy, saturated_humidity

AIR_CP = 1.02
LONGEST_STRIDE = 4.0  # longer ones leap over the lower of two balances near the critical point


def root(
    residual: Callable[[float], float], start: float, step: float, limits: tuple[float, float], tol: float
) -> float:
    """Where a rising residual is zero: bracket outward from start, then the Illinois form of false position."""
    low, high = limits
    a = min(max(start, low), high)
    fa = residual(a)
    if fa == 0.0:
        return a
    direction = -1.0 if fa > 0.0 else 1.0
    while True:
        b = min(max(a + direction * step, low), high)
        if b == a:
            return a
        fb = residual(b)
        if (fb > 0.0) != (fa > 0.0) or fb == 0.0:
            break
        a, fa, step = b, fb, min(2.0 * step, LONGEST_STRIDE)
    for _ in range(40):
        if abs(b - a) < tol or fb == 0.0:
            break
        c = b - fb * (b - a) / (fb - fa)
        if not min(a, b) < c < max(a, b):
            c = 0.5 * (a + b)
        fc = residual(c)
        if (fc > 0.0) != (fb > 0.0):
            a, fa = b, fb
        else:
            fa *= 0.5
        step = abs(c - b)
        b, fb = c, fc
        if step < 0.2 * tol:
            break
    return b


@dataclass(slots=True)
class AirIn:
    """Air on a coil: °C, kg/kg, kPa, dry air kg/s."""

    t_c: float
    w: float
    p_kpa: float
    kg_s: float


@dataclass(slots=True)
class Coil:
    """What a wholly wetted cold coil does: heat [kW], leaving air [°C, kg/kg], surface [°C]."""

    q_kw: float
    out_c: float
    out_w: float
    surface_c: float


def cold_coil(part: Evaporator, air: AirIn, t_evap: float, fouled: float) -> Coil:
    """Coil with refrigerant boiling at t_evap: inside resistance, wet surface by air enthalpy, bypass."""
    flow_share = air.kg_s / part.air_kg_s["high"]
    bypass = exp(log(part.bypass) * flow_share**-0.4 * (1.0 - 0.5 * fouled))
    ua = part.ua_wet * (1.0 - 0.6 * fouled)
    reach = air.kg_s * (1.0 - bypass)
    h_in = air_enthalpy(air.t_c, air.w)

    def taken(surface: float) -> float:
        w_surface = saturated_humidity(surface, air.p_kpa)
        return h_in - air_enthalpy(surface, w_surface if w_surface < air.w else air.w)

    def residual(surface: float) -> float:
        return ua * (surface - t_evap) - reach * taken(surface)

    if air.t_c <= t_evap:
        return Coil(0.0, air.t_c, air.w, air.t_c)
    surface = root(residual, t_evap + 0.15 * (air.t_c - t_evap), 1.5, (t_evap, air.t_c), 1e-4)
    q = reach * taken(surface)
    w_surface = saturated_humidity(surface, air.p_kpa)
    w_leaving = w_surface if w_surface < air.w else air.w
    return Coil(q, surface + bypass * (air.t_c - surface), w_leaving + bypass * (air.w - w_leaving), surface)


@dataclass(slots=True)
class Face:
    """Air side of the condenser: heat capacity flow [kW/K], share of the difference reached, face air [°C]."""

    capacity: float
    reached: float
    ambient_c: float
    hot_air: float

    def air_c(self, t_cond: float) -> float:
        """Air at the face [°C], including its own hot air drawn back in."""
        again = self.hot_air * self.reached
        return (self.ambient_c + again * t_cond) / (1.0 + again)


def face(part: Condenser, air_m3_s: float, density: float, blocked: float) -> Face:
    """Air side at a flow, with a share of the area blocked; the caller sets the face air."""
    share = max(air_m3_s, 1e-3) / part.air_m3_s
    capacity = air_m3_s * density * 1.006
    outside = part.units * (1.0 - part.inside_share) ** -1.0
    resistance = 1.0 / (outside * share**0.55) + part.inside_share / part.units
    ua_units = (1.0 - 0.75 * blocked) / resistance
    return Face(capacity, 1.0 - exp(-ua_units / share), 0.0, 0.0)


def liquid_out(part: Condenser, side: Face, t_cond: float, flooded: float, liquid_kw_k: float) -> float:
    """Temperature of the liquid leaving a condenser of which a share is flooded."""
    if flooded <= 0.0:
        return t_cond
    reached = 1.0 - exp(part.liquid_units * log(1.0 - side.reached))
    units = reached * flooded * side.capacity / liquid_kw_k
    return t_cond - (t_cond - side.air_c(t_cond)) * (1.0 - exp(-units))


@dataclass(slots=True)
class Stroke:
    """A compressor at full stroke between two pressures: flow [kg/s], ideal work [kJ/kg], efficiency."""

    kg_s: float
    ideal_kj_kg: float
    isentropic: float


def stroke(
    part: Compressor, fluid: Fluid, suction: tuple[float, float], high: tuple[float, float], rpm: float
) -> Stroke:
    """suction = (saturation °C, enthalpy), high = (saturation °C, pressure ratio)."""
    entropy, density = fluid.suction(suction[0], suction[1])
    t_high, ratio = high
    filling = part.filling - part.filling_slope * (max(ratio, 1.0) ** 0.9 - 1.0)
    ideal = max(fluid.h_compressed(t_high, entropy) - suction[1], 0.1)
    off_peak = max(ratio, 1.0) - 3.5
    good = part.isentropic - (0.012 * off_peak**2 if off_peak < 0.0 else 0.006 * off_peak**2)
    return Stroke(part.displacement_m3 * rpm / 60.0 * density * max(filling, 0.05), ideal, max(good, 0.3))


def valve_flow(part: Metering, fluid: Fluid, ends: tuple[float, float, float], restriction: float) -> float:
    """Largest flow [kg/s] of all-liquid from condensing to evaporating pressure.

    ends = (condensing °C, liquid °C, evaporating °C); restriction = share of the line's opening lost. A tube chokes
    near the flashing pressure of the liquid, so that subcooling matters more than the low side.
    """
    t_cond, t_liquid, t_evap = ends
    high, low = fluid.pressure(t_cond), fluid.pressure(t_evap)
    coefficient = part.coefficient
    if part.kind == "orifice_tube":
        low = max(low, 0.80 * fluid.pressure(t_liquid))
    line = part.line_coefficient * (1.0 - restriction) ** 2
    whole = (coefficient**-2 + line**-2) ** -0.5
    return float(whole * (fluid.rho_liquid(t_liquid) * max(high - low, 1.0)) ** 0.5)


FLASH_HINDRANCE = {"expansion_valve": 20.0, "orifice_tube": 10.0}
