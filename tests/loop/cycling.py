"""The clutch that cycles: on and off times, lowest and highest pressures over a cycle; no cabin, no regulation by stroke."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from tests.loop.balance import Balance, Point
from tests.loop.parts import Coil, cold_coil, root, stroke

STEPS = 10
LONGEST_STEP_S = 60.0
EQUALISING_S = 9.0
LONGEST_ON_S = 240.0


@dataclass(slots=True)
class Cycle:
    """One settled cycle: times [s], extremes, means over the cycle."""

    mean: Point
    on_s: float
    off_s: float
    low_kpa: float
    low_max_kpa: float
    high_kpa: float
    high_min_kpa: float
    out_c: float
    t_cut_out: float
    t_cond_cut_out: float
    q_evap_kw: float
    q_cond_kw: float
    work_kw: float
    line_kw: float
    lost_kw: float
    h_discharge: float


def _off_now(balance: Balance, point: Point) -> bool:
    """Whether full stroke would take the loop under the switch's cut-out."""
    switching, shift = balance.car.switching, balance.faults.set_point_k
    if balance.car.compressor.kind == "cycling_pressure":
        return point.suction_kpa < switching.cut_out + 11.0 * shift
    return point.out_c < switching.cut_out + shift


class _Swing:
    """The loop between cut-in and cut-out around a mean point."""

    def __init__(self, balance: Balance, mean: Point, ends: tuple[float, float]) -> None:
        self.balance, self.mean = balance, mean
        self.cut_out, self.cut_in = ends
        flow, part = mean.flow, balance.car.evaporator
        self.heat = part.heat_kj_k * (1.0 - 0.85 * flow.dry_share)
        middle = 0.5 * sum(ends)
        self.nodes = (self.cut_out, middle, self.cut_in)
        self.coils = [cold_coil(part, balance.air, t, balance.faults.ice) for t in self.nodes]
        self.per_coil = flow.q_kw / max(mean.coil.q_kw, 1e-6)
        self.pull_kg_s = flow.kg_s

    def _between(self, values: list[float], t: float) -> float:
        a, b, c = self.nodes
        low = values[0] * (t - b) * (t - c) / ((a - b) * (a - c))
        middle = values[1] * (t - a) * (t - c) / ((b - a) * (b - c))
        return low + middle + values[2] * (t - a) * (t - b) / ((c - a) * (c - b))

    def q_air(self, t: float) -> float:
        """Heat from the air with the coil at t [kW]."""
        return self.per_coil * self._between([coil.q_kw for coil in self.coils], t)

    def out_c(self, t: float) -> float:
        """Air behind the coil at t [°C]."""
        air, dry = self.balance.air, self.mean.flow.dry_share
        return (1.0 - dry) * self._between([coil.out_c for coil in self.coils], t) + dry * air.t_c

    def pull(self, t: float, t_cond: float) -> tuple[float, float, float, float, float]:
        """Flow [kg/s], suction [kPa], heat taken [kW], heat brought to the condenser [kW], work [kW] while on."""
        balance, flow, fluid = self.balance, self.mean.flow, self.balance.fluid
        h_out = fluid.h_vapour(t) + flow.h_out - fluid.h_vapour(self.mean.t_evap)
        gained = self.mean.line_kw / max(flow.kg_s, 1e-6)
        p_evap, kg_s = fluid.pressure(t), self.pull_kg_s
        suction = work = 0.0
        for _ in range(2):
            suction = p_evap - balance.suction_drop(kg_s, p_evap)
            high = fluid.pressure(t_cond) + balance.air_pressure(t_cond, flow.flooded)
            high += balance.drop(balance.car.lines.discharge_kpa, kg_s)
            h_suction = h_out + gained + flow.exchanged
            made = stroke(
                balance.car.compressor,
                fluid,
                (fluid.temperature(suction), h_suction),
                (fluid.temperature(high), high / suction),
                balance.rpm,
            )
            kg_s = made.kg_s * (1.0 - balance.faults.weak)
            work = made.ideal_kj_kg / (made.isentropic * (1.0 - 0.55 * balance.faults.weak))
        self.pull_kg_s = kg_s
        kept = work * (1.0 - balance.car.compressor.heat_loss_share)
        taken = kg_s * (h_out - flow.h_valve)
        brought = kg_s * (h_suction + kept - flow.h_condenser_out)
        return kg_s, suction, taken, brought, kg_s * work

    def rejected(self, t_cond: float) -> float:
        """Heat the condenser gives off [kW] at t_cond, scaled from the mean point."""
        outside = self.balance.side.ambient_c
        return self.mean.q_cond_kw * (t_cond - outside) / max(self.mean.t_cond - outside, 0.5)

    def _drift(self, t_cond: float, brought: float, seconds: float) -> tuple[float, float]:
        """Condensing temperature after a step and heat rejected during it [kJ]."""
        heat = self.balance.car.condenser.heat_kj_k
        slope = self.mean.q_cond_kw / max(self.mean.t_cond - self.balance.side.ambient_c, 0.5)
        aim = self.balance.side.ambient_c + brought / slope
        after = aim + (t_cond - aim) * exp(-seconds * slope / heat)
        return after, brought * seconds - heat * (after - t_cond)

    def run(self, t_cond: float) -> tuple[float, dict[str, float]]:
        """One cycle from cut-in: the condensing temperature at its end and the sums over it."""
        sums = dict.fromkeys(("on", "off", "q", "rej", "work", "line", "out", "t", "tc"), 0.0)
        width = (self.cut_in - self.cut_out) / STEPS
        for i in range(STEPS):
            t = self.cut_in - (i + 0.5) * width
            kg_s, _, taken, brought, work = self.pull(t, t_cond)
            q = self.q_air(t)
            seconds = min(self.heat * width / max(taken - q, 1e-3), LONGEST_STEP_S)
            before = t_cond
            t_cond, given = self._drift(t_cond, brought, seconds)
            line = self.mean.line_kw / max(self.mean.flow.kg_s, 1e-6) * kg_s
            step = {"on": 1.0, "q": q, "rej": given / seconds, "work": work, "line": line}
            step |= {"out": self.out_c(t), "t": t, "tc": 0.5 * (before + t_cond)}
            for name, rate in step.items():
                sums[name] += rate * seconds
        sums["top"] = t_cond
        sums["flow"] = kg_s
        for i in range(STEPS):
            t = self.cut_out + (i + 0.5) * width
            q = self.q_air(t)
            seconds = min(self.heat * width / max(q, 1e-3), LONGEST_STEP_S)
            before = t_cond
            t_cond, given = self._drift(t_cond, 0.0, seconds)
            step = {"off": 1.0, "q": q, "rej": given / seconds, "out": self.out_c(t), "t": t}
            for name, rate in (step | {"tc": 0.5 * (before + t_cond)}).items():
                sums[name] += rate * seconds
        return t_cond, sums


def _ends(balance: Balance, t_cond: float, mean: Point) -> tuple[float, float]:
    """Evaporating temperatures at cut-out (compressor on) and cut-in (off)."""
    switching, shift, fluid = balance.car.switching, balance.faults.set_point_k, balance.fluid
    if balance.car.compressor.kind == "cycling_pressure":
        cut_in = fluid.temperature(switching.cut_in + 11.0 * shift)
        swing = _Swing(balance, mean, (cut_in - 12.0, cut_in))

        def residual(t: float) -> float:
            return swing.pull(t, t_cond)[1] - switching.cut_out - 11.0 * shift

        return root(residual, cut_in - 10.0, 1.0, (-31.0, cut_in - 1.0), 0.02), cut_in

    def at(air_c: float) -> float:
        def residual(t: float) -> float:
            coil: Coil = cold_coil(balance.car.evaporator, balance.air, t, balance.faults.ice)
            dry = mean.flow.dry_share
            return (1.0 - dry) * coil.out_c + dry * balance.air.t_c - air_c

        return root(residual, air_c - 3.0, 2.0, (-31.0, air_c), 0.02)

    cut_out = min(at(switching.cut_out + shift), balance.air.t_c - 6.0)
    return cut_out, max(at(switching.cut_in + shift), cut_out + 1.5)


def cycled(balance: Balance, full: Point) -> Cycle | None:
    """The settled cycle when full stroke overshoots the switch, None when the clutch stays in."""
    if not _off_now(balance, full):
        balance.open_share = 1.0
        return None
    t_mean = balance.cycle_mean_guess
    mean = balance.at(t_mean)
    t_cond_on = mean.t_cond + 3.0
    for _ in range(3):
        ends = _ends(balance, t_cond_on, mean)
        swing = _Swing(balance, mean, ends)

        def residual(start: float) -> float:
            return start - swing.run(start)[0]

        start = root(residual, mean.t_cond - 1.5, 2.0, (balance.side.ambient_c, 88.0), 0.02)
        _, sums = swing.run(start)
        total = sums["on"] + sums["off"]
        if sums["on"] > LONGEST_ON_S:
            balance.open_share = 1.0
            return None
        t_new = sums["t"] / total
        passing = EQUALISING_S * (1.0 - exp(-sums["off"] / EQUALISING_S))
        balance.open_share = (sums["on"] + passing) / total
        settled = abs(t_new - mean.t_evap) < 0.05
        t_cond_on = sums["top"]
        if settled:
            break
        mean = balance.at(t_new)
    balance.cycle_mean_guess = mean.t_evap
    return _report(balance, swing, sums, start)


def _report(balance: Balance, swing: _Swing, sums: dict[str, float], start: float) -> Cycle:
    fluid, car = balance.fluid, balance.car
    total = sums["on"] + sums["off"]
    kg_s, suction, _, _, work = swing.pull(swing.cut_out, sums["top"])
    p_evap = fluid.pressure(swing.cut_out)
    seen = p_evap - car.lines.low_port_share * (p_evap - suction)
    air = balance.air_pressure(sums["top"], swing.mean.flow.flooded)
    port = balance.drop(car.lines.discharge_kpa, kg_s) if car.lines.high_port == "discharge" else 0.0
    per_kg = work / max(kg_s, 1e-6)
    return Cycle(
        mean=swing.mean,
        on_s=sums["on"],
        off_s=sums["off"],
        low_kpa=seen,
        low_max_kpa=fluid.pressure(swing.cut_in),
        high_kpa=fluid.pressure(sums["top"]) + air + port,
        high_min_kpa=fluid.pressure(start) + air,
        out_c=sums["out"] / total,
        t_cut_out=swing.cut_out,
        t_cond_cut_out=sums["top"],
        q_evap_kw=sums["q"] / total,
        q_cond_kw=sums["rej"] / total,
        work_kw=sums["work"] / total,
        line_kw=sums["line"] / total,
        lost_kw=sums["work"] / total * car.compressor.heat_loss_share,
        h_discharge=swing.mean.suction_h + per_kg * (1.0 - car.compressor.heat_loss_share),
    )
