"""The clutch that cycles: on and off times, lowest and highest pressures; no cabin, no regulation by stroke."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from tests.worlds.loop.balance import Balance, Point
from tests.worlds.loop.parts import Coil, cold_coil, root

STEPS = 10
LONGEST_STEP_S = 300.0
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
    """Whether full stroke would take the loop below the switch's cut-out."""
    switching, shift = balance.car.switching, balance.faults.set_point_k
    if balance.car.compressor.kind == "cycling_pressure":
        return point.suction_kpa < switching.cut_out + 11.0 * shift
    return point.out_c < switching.cut_out + shift


@dataclass(slots=True)
class Pull:
    """The compressor while it is on: flow [kg/s], suction [kPa], heat taken, heat brought, work [kW]."""

    kg_s: float
    suction_kpa: float
    taken: float
    brought: float
    work: float


IDLE = Pull(0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(slots=True)
class Sums:
    """What one cycle adds up to: seconds, kJ and kelvin seconds, and the condensing temperature [°C] along the way."""

    on_s: float = 0.0
    off_s: float = 0.0
    q: float = 0.0
    work: float = 0.0
    line: float = 0.0
    out: float = 0.0
    t: float = 0.0
    rejected: float = 0.0
    t_cond_top: float = 0.0
    t_cond_end: float = 0.0

    def add(self, seconds: float, on: bool, rates: tuple[float, float, float, float, float]) -> None:
        """Count a step with the rates of heat, work, line heat, air temperature and coil temperature."""
        if on:
            self.on_s += seconds
        else:
            self.off_s += seconds
        self.q += rates[0] * seconds
        self.work += rates[1] * seconds
        self.line += rates[2] * seconds
        self.out += rates[3] * seconds
        self.t += rates[4] * seconds


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
        self.gained = mean.line_kw / max(flow.kg_s, 1e-6)

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

    def pull(self, t: float, t_cond: float) -> Pull:
        """The compressor at full stroke with the coil at t."""
        balance, flow, fluid = self.balance, self.mean.flow, self.balance.fluid
        h_out = fluid.h_vapour(t) + flow.h_out - fluid.h_vapour(self.mean.t_evap)
        h_suction = h_out + self.gained + flow.exchanged
        p_evap, kg_s = fluid.pressure(t), self.pull_kg_s
        suction = work = 0.0
        for _ in range(2):
            suction = p_evap - balance.suction_drop(kg_s, p_evap)
            stroke = balance.pumped((suction, h_suction), balance.outlet_kpa(t_cond, flow.flooded, kg_s))
            kg_s, work = stroke.kg_s, stroke.ideal_kj_kg / stroke.isentropic
        self.pull_kg_s = kg_s
        net_work = work * (1.0 - balance.car.compressor.heat_loss_share)
        brought = kg_s * (h_suction + net_work - flow.h_condenser_out)
        return Pull(kg_s, suction, kg_s * (h_out - flow.h_valve), brought, kg_s * work)

    def _drift(self, t_cond: float, brought: float, seconds: float) -> tuple[float, float]:
        """Condensing temperature after a step and heat rejected during it [kJ]."""
        heat = self.balance.car.condenser.heat_kj_k
        slope = self.mean.q_cond_kw / max(self.mean.t_cond - self.balance.side.ambient_c, 0.5)
        aim = self.balance.side.ambient_c + brought / slope
        after = aim + (t_cond - aim) * exp(-seconds * slope / heat)
        return after, brought * seconds - heat * (after - t_cond)

    def run(self, t_cond: float) -> Sums:
        """One cycle from cut-in, the condenser starting at t_cond."""
        sums = Sums()
        width = (self.cut_in - self.cut_out) / STEPS
        for i in range(2 * STEPS):
            on = i < STEPS
            t = self.cut_in - (i + 0.5) * width if on else self.cut_out + (i - STEPS + 0.5) * width
            q = self.q_air(t)
            pull = self.pull(t, t_cond) if on else IDLE
            net = pull.taken - q if on else q
            seconds = min(self.heat * width / max(net, 1e-3), LONGEST_STEP_S)
            t_cond, rejected_kj = self._drift(t_cond, pull.brought, seconds)
            sums.add(seconds, on, (q, pull.work, self.gained * pull.kg_s, self.out_c(t), t))
            sums.rejected += rejected_kj
            if on:
                sums.t_cond_top = t_cond
        sums.t_cond_end = t_cond
        return sums


def _ends(balance: Balance, t_cond: float, mean: Point) -> tuple[float, float]:
    """Evaporating temperatures at cut-out (compressor on) and cut-in (off)."""
    switching, shift, fluid = balance.car.switching, balance.faults.set_point_k, balance.fluid
    if balance.car.compressor.kind == "cycling_pressure":
        cut_in = fluid.temperature(switching.cut_in + 11.0 * shift)
        swing = _Swing(balance, mean, (cut_in - 12.0, cut_in))

        def residual(t: float) -> float:
            return swing.pull(t, t_cond).suction_kpa - switching.cut_out - 11.0 * shift

        return root(residual, cut_in - 10.0, 1.0, (-31.0, cut_in - 1.0), 0.02), cut_in

    def at(air_c: float) -> float:
        def residual(t: float) -> float:
            coil: Coil = cold_coil(balance.car.evaporator, balance.air, t, balance.faults.ice)
            dry = mean.flow.dry_share
            return (1.0 - dry) * coil.out_c + dry * balance.air.t_c - air_c

        return root(residual, air_c - 3.0, 2.0, (-31.0, air_c), 0.02)

    cut_out = min(at(switching.cut_out + shift), balance.air.t_c - 6.0)
    return cut_out, max(at(switching.cut_in + shift), cut_out + 1.5)


def _periodic(swing: _Swing) -> tuple[float, Sums]:
    """The condensing temperature at cut-in that recurs after one cycle, and that cycle."""

    def residual(start: float) -> float:
        return start - swing.run(start).t_cond_end

    outside = swing.balance.side.ambient_c
    start = root(residual, swing.mean.t_cond - 1.5, 2.0, (outside, 88.0), 0.02)
    return start, swing.run(start)


def cycled(balance: Balance, full: Point) -> Cycle | None:
    """The settled cycle when full stroke overshoots the switch, None if the clutch stays in."""
    if not _off_now(balance, full):
        balance.open_share = 1.0
        return None
    mean = balance.at(balance.cycle_mean_guess)
    t_cond_top = mean.t_cond + 3.0
    for _ in range(3):
        swing = _Swing(balance, mean, _ends(balance, t_cond_top, mean))
        start, sums = _periodic(swing)
        if sums.on_s > LONGEST_ON_S:
            balance.open_share = 1.0
            return None
        total = sums.on_s + sums.off_s
        passing = EQUALISING_S * (1.0 - exp(-sums.off_s / EQUALISING_S))
        balance.open_share = (sums.on_s + passing) / total
        t_cond_top = sums.t_cond_top
        if abs(sums.t / total - mean.t_evap) < 0.05:
            break
        mean = balance.at(sums.t / total)
    balance.cycle_mean_guess = mean.t_evap
    return _report(swing, sums, start)


def _report(swing: _Swing, sums: Sums, start: float) -> Cycle:
    balance, lines = swing.balance, swing.balance.car.lines
    fluid, loss = balance.fluid, balance.car.compressor.heat_loss_share
    total = sums.on_s + sums.off_s
    pull = swing.pull(swing.cut_out, sums.t_cond_top)
    p_evap = fluid.pressure(swing.cut_out)
    air = balance.air_pressure(sums.t_cond_top, swing.mean.flow.flooded)
    port = balance.drop(lines.discharge_kpa, pull.kg_s) if lines.high_port == "discharge" else 0.0
    per_kg = pull.work / max(pull.kg_s, 1e-6)
    return Cycle(
        mean=swing.mean,
        on_s=sums.on_s,
        off_s=sums.off_s,
        low_kpa=p_evap - lines.low_port_share * (p_evap - pull.suction_kpa),
        low_max_kpa=fluid.pressure(swing.cut_in),
        high_kpa=fluid.pressure(sums.t_cond_top) + air + port,
        high_min_kpa=fluid.pressure(start) + air,
        out_c=sums.out / total,
        t_cut_out=swing.cut_out,
        t_cond_cut_out=sums.t_cond_top,
        q_evap_kw=sums.q / total,
        q_cond_kw=sums.rejected / total,
        work_kw=sums.work / total,
        line_kw=sums.line / total,
        lost_kw=sums.work / total * loss,
        h_discharge=swing.mean.suction_h + per_kg * (1.0 - loss),
    )
