"""A car in given weather at one minute of its test: cabin, regulation, all true readings; no instruments or visits.

`solve` is the only entry point. Pressures are kPa absolute.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from tests.worlds.loop.balance import Balance, Point
from tests.worlds.loop.car import Car
from tests.worlds.loop.cycling import Cycle, cycled
from tests.worlds.loop.fluids import air_enthalpy, humidity, relative_humidity
from tests.worlds.loop.parts import AIR_CP, AirIn, Coil
from tests.worlds.world import NO_FAULT, Faults, Settings, Weather

HEATER_C = 72.0
SETTLE_MOIST_S = 150.0


@dataclass
class State:
    """What true instruments would read, and what nobody sees. Pressures kPa absolute, temperatures °C."""

    low_kpa: float
    low_max_kpa: float
    high_kpa: float
    high_min_kpa: float
    vent_c: float
    vent_left_c: float
    vent_right_c: float
    return_c: float
    return_rh_pct: float
    return_w: float
    evaporator_in_c: float
    evaporator_out_c: float
    suction_evaporator_c: float
    suction_compressor_c: float
    liquid_condenser_c: float
    liquid_valve_c: float
    discharge_c: float
    face_c: float
    share: float
    running: str
    on_s: float
    off_s: float
    regulated: bool
    tripped: bool
    t_evap: float
    t_cond: float
    superheat_k: float
    subcooling_k: float
    air_share: float
    load_kj_kg: float
    q_evap_kw: float
    q_cond_kw: float
    work_kw: float
    kg_s: float
    quality: float
    flooded: float
    dry_share: float
    imbalance: float
    settled: bool


@dataclass(slots=True)
class Cold:
    """What the cabin sees of the loop: vent air, the leaving humidity, the balance and the cycle if it cycles."""

    vent_c: float
    vent_w: float
    point: Point
    cycle: Cycle | None
    regulated: bool


class Test:
    """One running test: air steps, cabin and loop iterated until they agree."""

    def __init__(self, car: Car, weather: Weather, settings: Settings, faults: Faults) -> None:
        self.car, self.weather, self.settings, self.faults = car, weather, settings, faults
        self.balance = Balance(car, weather, settings, faults)
        self.rounds = 0
        self.ambient_w = humidity(weather.ambient_c, weather.humidity_pct, weather.pressure_kpa)
        part = car.evaporator
        self.air_share = (1.0 - faults.evaporator_air) * (1.0 - 0.8 * faults.ice)
        density = weather.pressure_kpa / 101.325
        self.air_kg_s = part.air_kg_s[settings.blower] * self.air_share * density

    def on_coil(self, cabin_c: float, cabin_w: float) -> AirIn:
        """Air that enters the coil for a cabin, warmed by the blower."""
        settings, weather = self.settings, self.weather
        fresh = 1.0 if settings.air == "outside" else self.car.cabin.fresh_share
        share = self.car.evaporator.air_kg_s[settings.blower] / self.car.evaporator.air_kg_s["high"]
        heat = self.car.evaporator.blower_kw * share**2.3 / (self.air_kg_s * AIR_CP)
        t = fresh * weather.ambient_c + (1.0 - fresh) * cabin_c + heat
        return AirIn(t, fresh * self.ambient_w + (1.0 - fresh) * cabin_w, weather.pressure_kpa, self.air_kg_s)

    def cold(self, cabin_c: float, cabin_w: float) -> Cold:
        """The loop's answer to a cabin."""
        balance = self.balance
        balance.breathe(self.on_coil(cabin_c, cabin_w))
        cycle = None
        if self.car.compressor.kind.startswith("cycling"):
            open_share, balance.open_share = balance.open_share, 1.0
            point = balance.full_stroke()
            balance.open_share = open_share
            cycle = cycled(balance, point)
            regulated = cycle is not None
            if cycle is not None:
                point = cycle.mean
        else:
            point, regulated = balance.regulated()
        out_c = cycle.out_c if cycle is not None else point.out_c
        dry = point.flow.dry_share
        out_w = (1.0 - dry) * point.coil.out_w + dry * balance.air.w
        vent = out_c + self.faults.blend * (HEATER_C - out_c)
        part = self.car.evaporator
        duct = part.duct_ua * (self.air_kg_s / part.air_kg_s["high"]) ** 0.8 / (self.air_kg_s * AIR_CP)
        vent += (1.0 - exp(-duct)) * (self.weather.ambient_c + 6.0 - vent)
        return Cold(vent, out_w, point, cycle, regulated)

    def cabin_air(self, cold: Cold) -> tuple[float, float]:
        """Cabin temperature and humidity at the minute of the test, if the vent air stays as it is."""
        cabin, weather, settings = self.car.cabin, self.weather, self.settings
        carried = self.air_kg_s * AIR_CP
        leaks = cabin.shell_ua + cabin.draught_kg_s * AIR_CP
        gains = cabin.sun_kw * weather.sun + cabin.people_kw + settings.load_gust_kw
        steady = (carried * cold.vent_c + leaks * weather.ambient_c + gains) / (carried + leaks)
        left = exp(-settings.running_min * 60.0 * (carried + leaks) / cabin.heat_kj_k)
        t = steady + (weather.ambient_c + settings.soak_k - steady) * left
        return t, self._cabin_moisture(cold)

    def _cabin_moisture(self, cold: Cold) -> float:
        cabin, air = self.car.cabin, self.balance.air
        coil, dry = cold.point.coil, cold.point.flow.dry_share
        passed = 1.0
        if coil.out_w < air.w - 1e-6:
            passed = self._passed(coil, air)
        passed = dry + (1.0 - dry) * passed
        fresh = 1.0 if self.settings.air == "outside" else cabin.fresh_share
        constant = cold.vent_w - passed * air.w
        supply, gained = self.air_kg_s, cabin.people_g_s / 1000.0
        top = supply * (constant + passed * fresh * self.ambient_w) + cabin.draught_kg_s * self.ambient_w + gained
        steady = top / (supply * (1.0 - passed * (1.0 - fresh)) + cabin.draught_kg_s)
        left = exp(-self.settings.running_min * 60.0 / SETTLE_MOIST_S)
        return steady + (1.05 * self.ambient_w - steady) * left

    @staticmethod
    def _passed(coil: Coil, air: AirIn) -> float:
        """Share of a change in entering moisture that leaves the wet coil."""
        gap = max(air.t_c - coil.surface_c, 0.1)
        return min(max((coil.out_c - coil.surface_c) / gap, 0.0), 1.0)

    def given(self, cabin: tuple[float, float]) -> tuple[Cold, float, float]:
        """The loop with the cabin held at (°C, humidity ratio); called twice so that the clutch's cycle settles."""
        self.cold(*cabin)
        return self.cold(*cabin), cabin[0], cabin[1]

    def settle(self) -> tuple[Cold, float, float]:
        """Cabin and loop in agreement: the loop, cabin °C, cabin humidity ratio."""
        t = self.weather.ambient_c - (2.0 if self.settings.air == "outside" else 6.0)
        w = 0.75 * self.ambient_w
        before: tuple[float, float] | None = None
        cold = self.cold(t, w)
        for self.rounds in range(14):
            t_new, w_new = self.cabin_air(cold)
            if abs(t_new - t) < 0.02 and abs(w_new - w) < 2e-5:
                break
            slope = 0.0
            if before is not None and abs(t - before[0]) > 1e-6:
                slope = min(max((t_new - before[1]) / (t - before[0]), -0.5), 0.8)
            before = (t, t_new)
            t += (t_new - t) / (1.0 - slope)
            w = max(w_new, 0.0005)
            cold = self.cold(t, w)
        return cold, t, w


def _steady(test: Test, point: Point) -> dict[str, float]:
    """The figures that a cycle would replace."""
    car, fluid = test.car, test.balance.fluid
    p_evap = fluid.pressure(point.t_evap)
    low = p_evap - car.lines.low_port_share * (p_evap - point.suction_kpa)
    high = point.discharge_kpa
    if car.lines.high_port == "liquid":
        high -= test.balance.drop(car.lines.discharge_kpa, point.flow.kg_s)
    figures = {"low_kpa": low, "low_max_kpa": low, "high_kpa": high, "high_min_kpa": high}
    figures |= {"t_evap": point.t_evap, "t_cond": point.t_cond, "on_s": 0.0, "off_s": 0.0}
    figures |= {"q_evap_kw": point.flow.q_kw, "q_cond_kw": point.q_cond_kw, "work_kw": point.work_kw}
    return figures | {"line_kw": point.line_kw, "lost_kw": point.lost_kw, "share": min(point.share, 1.0)}


def _cycling(cycle: Cycle) -> dict[str, float]:
    figures = {"low_kpa": cycle.low_kpa, "low_max_kpa": cycle.low_max_kpa, "high_kpa": cycle.high_kpa}
    figures |= {"high_min_kpa": cycle.high_min_kpa, "t_evap": cycle.t_cut_out, "t_cond": cycle.t_cond_cut_out}
    figures |= {"on_s": cycle.on_s, "off_s": cycle.off_s, "q_evap_kw": cycle.q_evap_kw}
    figures |= {"q_cond_kw": cycle.q_cond_kw, "work_kw": cycle.work_kw, "line_kw": cycle.line_kw}
    return figures | {"lost_kw": cycle.lost_kw, "share": cycle.on_s / (cycle.on_s + cycle.off_s)}


def _vents(test: Test, cold: Cold) -> tuple[float, float]:
    """Left and right vent [°C]: the dry end of the coil feeds one side."""
    point = cold.point
    dry = point.flow.dry_share
    apart = 2.0 * dry * (1.0 - dry) * (test.balance.air.t_c - point.coil.out_c) * test.car.evaporator.unevenness
    return cold.vent_c - 0.5 * apart, cold.vent_c + 0.5 * apart


def _line_temperatures(test: Test, point: Point, h_discharge: float) -> dict[str, float]:
    fluid, flow = test.balance.fluid, point.flow
    t_suction = fluid.temperature(point.suction_kpa)
    at_compressor = t_suction + fluid.superheat(t_suction, point.suction_h)
    return {
        "suction_evaporator_c": point.t_evap + flow.superheat_k,
        "suction_compressor_c": at_compressor,
        "liquid_condenser_c": flow.liquid_c,
        "liquid_valve_c": flow.liquid_c - flow.exchanged / fluid.cp_liquid(flow.liquid_c),
        "discharge_c": fluid.t_discharge(fluid.temperature(point.discharge_kpa), h_discharge),
    }


def _imbalance(test: Test, cold: Cold, figures: dict[str, float]) -> float:
    """Share of the heat that does not add up, air side against air side."""
    air, point = test.balance.air, cold.point
    if cold.cycle is None:
        out = air_enthalpy(point.out_c, (1 - point.flow.dry_share) * point.coil.out_w + point.flow.dry_share * air.w)
        from_air = air.kg_s * (air_enthalpy(air.t_c, air.w) - out)
    else:
        from_air = figures["q_evap_kw"]
    brought = from_air + figures["line_kw"] + figures["work_kw"] - figures["lost_kw"]
    return (brought - figures["q_cond_kw"]) / figures["q_cond_kw"]


def solve(
    car: Car,
    weather: Weather,
    settings: Settings,
    faults: Faults = NO_FAULT,
    cabin: tuple[float, float] | None = None,
) -> State:
    """The running test of a car: what true instruments would read after running_min minutes.

    cabin = (°C, humidity ratio) holds the cabin instead of letting it follow the loop.
    Valid for ambient 15 to 45 °C, 0 to 3,000 m, engine speeds 600 to 4,000 rev/min.
    """
    test = Test(car, weather, settings, faults)
    cold, cabin_c, cabin_w = test.settle() if cabin is None else test.given(cabin)
    point, cycle = cold.point, cold.cycle
    figures = _steady(test, point) if cycle is None else _cycling(cycle)
    imbalance = _imbalance(test, cold, figures)
    for name in ("line_kw", "lost_kw"):
        figures.pop(name)
    left, right = _vents(test, cold)
    air, side, share = test.balance.air, test.balance.side, car.condenser.hot_air_seen
    t_cond = figures["t_cond"]
    seen = weather.ambient_c + share * (side.air_c(point.t_cond) - side.ambient_c) + 0.5 * settings.face_gust_k
    lines = _line_temperatures(test, point, point.h_discharge if cycle is None else cycle.h_discharge)
    return State(
        vent_c=cold.vent_c,
        vent_left_c=left,
        vent_right_c=right,
        return_c=cabin_c,
        return_rh_pct=min(relative_humidity(cabin_c, cabin_w, weather.pressure_kpa), 100.0),
        return_w=cabin_w,
        evaporator_in_c=air.t_c,
        evaporator_out_c=cycle.out_c if cycle is not None else point.out_c,
        face_c=seen,
        running="steady" if cycle is None else "cycling",
        regulated=cold.regulated,
        tripped=max(figures["high_kpa"], point.discharge_kpa) > car.switching.trip_kpa or t_cond > 84.0,
        superheat_k=point.flow.superheat_k,
        subcooling_k=point.t_cond - point.flow.liquid_c,
        air_share=test.air_share,
        load_kj_kg=air_enthalpy(air.t_c, air.w),
        kg_s=point.flow.kg_s,
        quality=point.flow.quality,
        flooded=point.flow.flooded,
        dry_share=point.flow.dry_share,
        imbalance=imbalance,
        settled=test.rounds < 13,
        **lines,
        **figures,
    )
