"""The refrigerant side in balance for given air on the coil: metering, compressor, condenser; no cabin, no clutch.

All pressures are kPa absolute. Longer than most modules because metering and balance share one set of states.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log

from tests.worlds.loop.car import Car
from tests.worlds.loop.fluids import air_density, fluid, humidity, wet_bulb
from tests.worlds.loop.parts import (
    AIR_CP,
    FLASH_HINDRANCE,
    AirIn,
    Coil,
    Face,
    Stroke,
    cold_coil,
    face,
    liquid_out,
    root,
    stroke,
    valve_flow,
)
from tests.worlds.world import Faults, Settings, Weather

T_EVAP_LIMITS = (-32.0, 24.0)
WET_REACH = 0.95
MOST_OVERFED = 1.35
MOST_FLASHED = 0.12  # gas in the liquid of a starved circuit: beyond it the valve hunts


@dataclass(slots=True)
class Flow:
    """Refrigerant through the coil at one pair of temperatures."""

    kg_s: float
    dry_share: float
    flooded: float
    quality: float
    superheat_k: float
    liquid_c: float
    h_condenser_out: float
    h_valve: float
    h_out: float
    q_kw: float
    exchanged: float


@dataclass(slots=True)
class Point:
    """The loop in balance at one evaporating temperature."""

    t_evap: float
    t_cond: float
    flow: Flow
    coil: Coil
    out_c: float
    share: float
    suction_kpa: float
    suction_h: float
    line_kw: float
    discharge_kpa: float
    h_discharge: float
    work_kw: float
    lost_kw: float
    q_cond_kw: float


class Balance:
    """One car in one weather, with the air on its coil given; finds the loop's temperatures."""

    def __init__(self, car: Car, weather: Weather, settings: Settings, faults: Faults) -> None:
        self.car, self.weather, self.settings, self.faults = car, weather, settings, faults
        self.fluid = fluid(car.refrigerant)
        self.rpm = self._compressor_rpm()
        self.side = self._hot_side()
        self.t_cond_guess = weather.ambient_c + 14.0
        self.t_evap_guess = 3.0
        self.hindrance = FLASH_HINDRANCE[car.metering.kind]
        self.cycle_mean_guess = 1.0
        self.open_share = 1.0
        self.points = 0

    def _compressor_rpm(self) -> float:
        part = self.car.compressor
        return part.top_rpm if part.kind == "electric" else self.settings.rpm * part.belt_ratio

    def _hot_side(self) -> Face:
        part, weather, settings = self.car.condenser, self.weather, self.settings
        stage = {"high": 1.0, "low": part.low_fan_share, "off": part.still_share}[settings.fan]
        engine = part.engine_fan_share
        stage *= 1.0 - engine + engine * settings.rpm / 2000.0
        air = part.air_m3_s * stage * settings.fan_gust * (1.0 - 0.62 * self.faults.dirt)
        density = air_density(weather.ambient_c, weather.pressure_kpa)
        side = face(part, air, density, 0.55 * self.faults.dirt)
        side.ambient_c = weather.ambient_c + settings.face_gust_k
        side.hot_air = part.hot_air_share * (0.6 if settings.hood_open else 1.3)
        if settings.wet_share:
            w = humidity(weather.ambient_c, weather.humidity_pct, weather.pressure_kpa)
            side.ambient_c -= (
                settings.wet_share * WET_REACH * (side.ambient_c - wet_bulb(side.ambient_c, w, weather.pressure_kpa))
            )
        return side

    def breathe(self, air: AirIn) -> None:
        """Put new air on the cold coil."""
        self.air = air
        capacity = air.kg_s * AIR_CP
        self.vapour_kw_k = capacity * (1.0 - exp(-self.car.evaporator.ua_vapour / capacity))

    # --- metering ---------------------------------------------------------------------------------

    def _flow_at(self, temps: tuple[float, float], coil: Coil, where: tuple[float, float, float]) -> Flow:
        """Flow with where = (dry share of the coil, flooded share of the condenser, quality at its end)."""
        t_evap, t_cond = temps
        dry, flooded, quality = where
        fluid_, car = self.fluid, self.car
        h_gas, h_hot = fluid_.h_vapour(t_evap), fluid_.h_liquid(t_cond)
        boiled = (1.0 - dry) * max(coil.q_kw, 1e-3)
        kg_s = boiled / max(h_gas - h_hot, 20.0)
        liquid, h_end, h_valve, exchanged = t_cond, h_hot, h_hot, 0.0
        for _ in range(2):
            liquid = liquid_out(car.condenser, self.side, t_cond, flooded, kg_s * fluid_.cp_liquid(t_cond))
            h_end = fluid_.h_liquid(liquid)
            if quality > 0.0:
                h_end += quality * (fluid_.h_vapour(t_cond) - h_hot)
            exchanged = car.metering.exchanger * 0.95 * (liquid - t_evap - 4.0)
            h_valve = h_end - exchanged
            kg_s = boiled / max(h_gas - h_valve, 20.0)
        gap = max(self.air.t_c - t_evap, 0.01)
        superheat = 0.0
        if dry > 0.0 and kg_s > 0.0:
            superheat = gap * (1.0 - exp(-self.vapour_kw_k * dry / (kg_s * 0.95)))
        h_out = fluid_.h_superheated(t_evap, superheat) if superheat > 0.0 else h_gas
        q_kw = boiled + kg_s * (h_out - h_gas)
        return Flow(kg_s, dry, flooded, quality, superheat, liquid, h_end, h_valve, h_out, q_kw, exchanged)

    def _limit(self, temps: tuple[float, float], flow: Flow) -> float:
        most = valve_flow(self.car.metering, self.fluid, (temps[1], flow.liquid_c, temps[0]), self.faults.restriction)
        return self.open_share * most / (1.0 + self.hindrance * flow.quality)

    def _wet(self, temps: tuple[float, float], coil: Coil, flow: Flow, kg_s: float) -> Flow:
        """The coil overfed: more flow than it can boil, the excess held in the coil and taken from the liquid."""
        charge = self.car.charge
        full = self._flow_at(temps, coil, (0.0, flow.flooded, flow.quality))
        over = min(kg_s / max(full.kg_s, 1e-6), MOST_OVERFED) - 1.0
        if over <= 0.0:
            return full
        excess = charge.evaporator * min(4.0 * over, 1.0)
        spare = charge.reserve + self.faults.charge - 1.0 - excess
        flooded = flow.flooded if spare > 0.0 else min(flow.flooded, self._flooded_by(spare))
        full = self._flow_at(temps, coil, (0.0, flooded, flow.quality))
        full.kg_s *= 1.0 + over
        full.h_out = full.h_valve + coil.q_kw / full.kg_s
        full.q_kw = coil.q_kw
        return full

    def _flooded_by(self, more: float) -> float:
        """Flooded share of the condenser when it holds more liquid than usual [share of the charge]."""
        charge = self.car.charge
        if more < 0.0:
            return max(charge.subcool_share * (1.0 + more / charge.subcool), 0.0)
        return min(charge.subcool_share + more / charge.flooded, 0.9)

    def _stored(self, flooded: float) -> float:
        """How much more liquid than usual a flooded share holds [share of the charge]."""
        charge = self.car.charge
        if flooded < charge.subcool_share:
            return charge.subcool * (max(flooded, 0.0) / charge.subcool_share - 1.0)
        return charge.flooded * (flooded - charge.subcool_share)

    def metered(self, temps: tuple[float, float], coil: Coil) -> Flow:
        """Flow, superheat, flooding for evaporating and condensing temperature."""
        if self.car.metering.kind == "orifice_tube":
            return self._tube(temps, coil)
        return self._valve(temps, coil)

    def _valve(self, temps: tuple[float, float], coil: Coil) -> Flow:
        t_evap, t_cond = temps
        charge, fluid_ = self.car.charge, self.fluid
        gap = max(self.air.t_c - t_evap, 0.02)
        wanted = min(self.car.metering.superheat_k, 0.6 * gap)
        latent = fluid_.h_vapour(t_evap) - fluid_.h_liquid(t_cond - 3.0)
        size = -log(1.0 - wanted / gap) * coil.q_kw * 0.95 / (latent * self.vapour_kw_k)
        superheating = size / (1.0 + size)
        spare = charge.reserve + self.faults.charge - 1.0
        short = -(spare + charge.subcool)
        starved_by_charge = short > 0.0
        least = superheating + short / charge.evaporator if starved_by_charge else superheating
        least = min(least, 0.96)

        def flooded(dry: float) -> float:
            stock = spare + charge.evaporator * (dry - superheating)
            top = charge.reserve + charge.room
            return self._flooded_by(stock - top if stock > top else min(stock, 0.0))

        flow = self._flow_at(temps, coil, (least, flooded(least), 0.0))
        most = self._limit(temps, flow)
        if flow.kg_s > most:
            return self._starved(temps, coil, least, flooded)
        if starved_by_charge:
            quality = min((most / flow.kg_s - 1.0) / self.hindrance, MOST_FLASHED)
            return self._flow_at(temps, coil, (least, 0.0, quality))
        stuck = self.faults.valve_open * most
        if stuck > flow.kg_s:
            return self._wet(temps, coil, flow, stuck)
        return flow

    def _starved(self, temps: tuple[float, float], coil: Coil, least: float, flooded: Callable[[float], float]) -> Flow:
        """The valve passes less than the coil could boil: part of the coil runs dry."""

        def residual(dry: float) -> float:
            flow = self._flow_at(temps, coil, (dry, flooded(dry), 0.0))
            return self._limit(temps, flow) / max(flow.kg_s, 1e-6) - 1.0

        dry = root(residual, least, 0.08, (least, 0.98), 2e-4)
        return self._flow_at(temps, coil, (dry, flooded(dry), 0.0))

    def _tube(self, temps: tuple[float, float], coil: Coil) -> Flow:
        charge = self.car.charge
        spare = charge.reserve + self.faults.charge - 1.0
        larger = 1.0 + 1.2 * self.faults.valve_open

        def match(where: float) -> float:
            flow = self._flow_at(temps, coil, (0.0, max(where, 0.0), max(-where, 0.0)))
            return larger * self._limit(temps, flow) / max(flow.kg_s, 1e-6) - 1.0

        where = root(match, charge.subcool_share, 0.05, (-0.30, 0.85), 3e-4)
        stock = spare - self._stored(where)
        if stock < 0.0:
            return self._tube_short(temps, coil, spare, larger)
        over = stock - charge.reserve - charge.room
        flow = self._flow_at(temps, coil, (0.0, max(where, 0.0), max(-where, 0.0)))
        if over <= 0.0 or self.faults.charge <= 1.0:
            return flow
        where = min(max(where, 0.0) + 0.8 * over / charge.flooded, 0.85)
        flow = self._flow_at(temps, coil, (0.0, where, 0.0))
        return self._wet(temps, coil, flow, min(larger * self._limit(temps, flow), 1.15 * flow.kg_s))

    def _tube_short(self, temps: tuple[float, float], coil: Coil, spare: float, larger: float) -> Flow:
        """Tube with an empty accumulator: the coil's end runs dry until the charge is accounted for."""
        charge = self.car.charge
        least = max(0.0, -(spare + charge.subcool) / charge.evaporator)
        least = min(least, 0.96)

        def flooded(dry: float) -> float:
            return self._flooded_by(spare + charge.evaporator * dry)

        def residual(dry: float) -> float:
            flow = self._flow_at(temps, coil, (dry, flooded(dry), 0.0))
            return larger * self._limit(temps, flow) / max(flow.kg_s, 1e-6) - 1.0

        at_least = residual(least)
        if at_least > 0.0:
            quality = min(at_least / self.hindrance, MOST_FLASHED)
            return self._flow_at(temps, coil, (least, flooded(least), quality if flooded(least) <= 0.0 else 0.0))
        dry = root(residual, least, 0.08, (least, 0.98), 3e-4)
        return self._flow_at(temps, coil, (dry, flooded(dry), 0.0))

    # --- the loop at one evaporating temperature --------------------------------------------------

    def air_pressure(self, t_cond: float, flooded: float) -> float:
        """Partial pressure of trapped air [kPa]; it gathers in what the liquid leaves of the condenser."""
        if not self.faults.air_kpa:
            return 0.0
        return self.faults.air_kpa * (t_cond + 273.15) / 313.15 * 0.9 / max(1.0 - flooded, 0.3)

    def drop(self, full_kpa: float, kg_s: float) -> float:
        """Pressure drop [kPa] of a line at a flow."""
        return full_kpa * exp(1.8 * log(max(kg_s / self.car.lines.design_kg_s, 1e-6)))

    def suction_drop(self, kg_s: float, p_evap: float) -> float:
        """Pressure drop [kPa] from the coil to the compressor; thinner gas drops more."""
        scale = 300.0 / max(p_evap, 80.0)
        return min(self.drop(self.car.lines.suction_kpa, kg_s) * scale, 0.35 * p_evap)

    def _inlet(self, temps: tuple[float, float], flow: Flow) -> tuple[float, float, float]:
        """Pressure [kPa] and enthalpy [kJ/kg] at the compressor, heat taken up by the line [kJ/kg]."""
        t_evap = temps[0]
        p_evap = self.fluid.pressure(t_evap)
        warm = max(self.weather.ambient_c + 15.0 - t_evap - flow.superheat_k, 0.0)
        gained = min(self.car.lines.gain_ua * warm / max(flow.kg_s, 2e-3), 14.0)
        return p_evap - self.suction_drop(flow.kg_s, p_evap), flow.h_out + gained + flow.exchanged, gained

    def outlet_kpa(self, t_cond: float, flooded: float, kg_s: float) -> float:
        """Pressure at the compressor's outlet [kPa]."""
        condensing_kpa = self.fluid.pressure(t_cond) + self.air_pressure(t_cond, flooded)
        return condensing_kpa + self.drop(self.car.lines.discharge_kpa, kg_s)

    def pumped(self, inlet: tuple[float, float], outlet_kpa: float) -> Stroke:
        """The compressor at full stroke between inlet = (kPa, kJ/kg) and an outlet pressure."""
        fluid_ = self.fluid
        ends = (fluid_.temperature(outlet_kpa), outlet_kpa / inlet[0])
        full = stroke(self.car.compressor, fluid_, (fluid_.temperature(inlet[0]), inlet[1]), ends, self.rpm)
        full.kg_s *= 1.0 - self.faults.weak
        full.isentropic *= 1.0 - 0.55 * self.faults.weak
        return full

    def _rejected(self, t_cond: float, flow: Flow) -> float:
        """Heat given off by the gas and the liquid part of the condenser [kW]."""
        gas = (1.0 - flow.flooded) * self.side.capacity * self.side.reached / (1.0 + 0.0004 * self.faults.air_kpa)
        sensible = self.fluid.h_liquid(t_cond) - self.fluid.h_liquid(flow.liquid_c)
        return gas * (t_cond - self.side.air_c(t_cond)) + flow.kg_s * max(sensible, 0.0)

    def _behind_coil(self, flow: Flow, coil: Coil) -> float:
        """Air behind the coil [°C], its dry end mixed in."""
        wet = 1.0 - flow.dry_share
        warmed = (flow.q_kw - wet * coil.q_kw) / (self.air.kg_s * (1.006 + 1.86 * self.air.w))
        return wet * coil.out_c + flow.dry_share * self.air.t_c - warmed

    def compressed(self, temps: tuple[float, float], flow: Flow, coil: Coil) -> Point:
        """Suction line, compressor, discharge line and condenser for a flow."""
        part = self.car.compressor
        suction_kpa, suction_h, gained = self._inlet(temps, flow)
        discharge_kpa = self.outlet_kpa(temps[1], flow.flooded, flow.kg_s)
        full = self.pumped((suction_kpa, suction_h), discharge_kpa)
        needed = flow.kg_s / full.kg_s
        good = full.isentropic * (1.0 - part.part_loss * (1.0 - min(needed, 1.0)) ** 2)
        work = full.ideal_kj_kg / good
        lost = work * part.heat_loss_share
        return Point(
            t_evap=temps[0],
            t_cond=temps[1],
            flow=flow,
            coil=coil,
            out_c=self._behind_coil(flow, coil),
            share=needed,
            suction_kpa=suction_kpa,
            suction_h=suction_h,
            line_kw=flow.kg_s * gained,
            discharge_kpa=discharge_kpa,
            h_discharge=suction_h + work - lost,
            work_kw=flow.kg_s * work,
            lost_kw=flow.kg_s * lost,
            q_cond_kw=self._rejected(temps[1], flow),
        )

    def _surplus(self, point: Point) -> float:
        """Heat the gas part of the condenser could reject beyond what arrives [kW]."""
        flow = point.flow
        hot = self.fluid.h_liquid(point.t_cond)
        wet = hot + flow.quality * (self.fluid.h_vapour(point.t_cond) - hot)
        q_liquid = flow.kg_s * max(hot - self.fluid.h_liquid(flow.liquid_c), 0.0)
        return (point.q_cond_kw - q_liquid) - flow.kg_s * (point.h_discharge - wet)

    def at(self, t_evap: float) -> Point:
        """The loop with the coil boiling at t_evap and whatever stroke that needs."""
        coil = cold_coil(self.car.evaporator, self.air, t_evap, self.faults.ice)
        last: list[Point] = []

        def residual(t_cond: float) -> float:
            temps = (t_evap, t_cond)
            last[:] = [self.compressed(temps, self.metered(temps, coil), coil)]
            self.points += 1
            return self._surplus(last[0])

        t_cond = root(residual, min(self.t_cond_guess, 60.0), 1.5, (8.0, 88.0), 2e-3)
        if last[0].t_cond != t_cond:
            residual(t_cond)
        self.t_cond_guess = t_cond
        return last[0]

    # --- regulation ---------------------------------------------------------------------------------

    def _demand(self, point: Point) -> float:
        """How far above its set point the regulation finds the loop [K or so]; positive: more stroke wanted."""
        car, kind = self.car, self.car.compressor.kind
        shift = self.faults.set_point_k
        if kind == "variable_internal":
            base = car.switching.suction_kpa - car.switching.droop * (point.discharge_kpa - 1200.0) + 11.0 * shift
            return (point.suction_kpa - base) / 11.0
        return point.out_c - (car.switching.vent_c + shift)

    def _t_evap_limits(self) -> tuple[float, float]:
        return T_EVAP_LIMITS[0], min(T_EVAP_LIMITS[1], self.air.t_c - 1.0)

    def regulated(self) -> tuple[Point, bool]:
        """The balance of a variable or electric compressor, and whether it is within its stroke."""
        last: list[Point] = []

        def residual(t_evap: float) -> float:
            last[:] = [self.at(t_evap)]
            return min(self._demand(last[0]), 22.0 * (1.0 - last[0].share))

        t_evap = root(residual, self.t_evap_guess, 1.5, self._t_evap_limits(), 3e-3)
        if last[0].t_evap != t_evap:
            residual(t_evap)
        self.t_evap_guess = t_evap
        return last[0], last[0].share < 0.995

    def full_stroke(self) -> Point:
        """The balance at full stroke all the time."""
        last: list[Point] = []

        def residual(t_evap: float) -> float:
            last[:] = [self.at(t_evap)]
            return 22.0 * (1.0 - last[0].share)

        t_evap = root(residual, self.t_evap_guess, 1.5, self._t_evap_limits(), 3e-3)
        if last[0].t_evap != t_evap:
            residual(t_evap)
        self.t_evap_guess = t_evap
        return last[0]
