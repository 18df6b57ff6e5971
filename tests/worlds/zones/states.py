"""From solved unknowns to what true instruments would read.

It only reads a solved circuit; it must not change it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.worlds.world import State
from tests.worlds.zones.batch import Batch
from tests.worlds.zones.circuit import LOWEST_SHARE, Point, evaluate
from tests.worlds.zones.inventory import rest_pressure
from tests.worlds.zones.machine import gas_temperature
from tests.worlds.zones.newton import solve
from tests.worlds.zones.props import Array, boiling_c, relative_humidity, saturated

ALWAYS_ON = 0.985  # above this on share the compressor counts as staying on
UNSETTLED = 1e-4
LOW_CUT_KPA = 280.0  # below this on the high side the pressure sensor lets nothing run (common practice, no source)


def _low(b: Batch, p: Point, cycles: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Low port [kPa] at cut-out and at cut-in."""
    steady = p.run.suction.p_port
    end = saturated("P", b.fluid, boiling_c(b.fluid, steady) - p.run.cycle.apart)
    at_switch = b["set_high"] + b["set_point_k"]
    wall = p.evaporator.t_metal + 0.5 * p.run.cycle.swing
    cut_in = saturated("P", b.fluid, np.where(b.regulated("cycling_pressure"), at_switch, wall))
    return np.where(cycles, end, steady), np.where(cycles, np.maximum(cut_in, end), steady)


def _high(b: Batch, p: Point, cycles: NDArray[np.bool_]) -> tuple[Array, Array]:
    """High port [kPa] at cut-out and at cut-in; between spells nothing flows, so nothing is lost by friction."""
    steady = np.where(b["high_liquid"] > 0, p.run.pressures[2], p.run.pressures[1])
    t_c, inlet = p.z[1], b["inlet_c"]
    rise = (t_c - inlet) / p.run.cycle.damping
    base = saturated("P", b.fluid, t_c)
    top = saturated("P", b.fluid, np.minimum(inlet + rise * p.run.cycle.top, 92.0))
    bottom = saturated("P", b.fluid, np.minimum(inlet + rise * p.run.cycle.bottom, 92.0))
    return np.where(cycles, steady + top - base, steady), np.where(cycles, p.run.pressures[0] + bottom - base, steady)


def _sides(b: Batch, p: Point) -> tuple[Array, Array]:
    """Left and right vent [°C]: the coil's dry part lies to one side, and a mixing flap may serve one side alone."""
    x, coil = b.x, p.evaporator
    dry = 1 - coil.wetted
    uneven = np.minimum(dry, 1 - dry) * (coil.t_warm - coil.t_cold) * (1 - x["duct"]) * (1 - x["blend"])
    half = x["sides"] * uneven
    cold = (p.vent - 0.75 * x["blend"] * x["heater_c"]) / (1 - 0.75 * x["blend"])
    half = half + x["blend_side"] * np.minimum(x["blend"], 1 - x["blend"]) * 0.75 * (x["heater_c"] - cold)
    return p.vent + half, p.vent - half


def _impossible(b: Batch, p: Point, norm: Array, high: Array) -> list[str | None]:
    peak = np.maximum(high, p.run.pressures[1])
    # more liquid than the circuit can hold with a working condenser: pressure climbs until the switch opens
    brimful = (p.residual[4] < -0.01) & (p.z[3] > 1.3) & (b["charge_share"] > 1)
    trip = (peak > b["trip_kpa"]) | ((norm > UNSETTLED) & ((p.z[1] > 75.0) | brimful))
    # a switched compressor at its lowest share hardly starts: the coil never warms to the cut-in
    idle = b.cycling & (p.run.share < 1.05 * LOWEST_SHARE)
    dead = idle | (p.run.m < 0.015 * b["flow_0"]) | (peak < LOW_CUT_KPA)
    names = np.select([trip, norm > UNSETTLED, dead], ["tripped", "unsettled", "no flow"], "")
    return [str(name) or None for name in names]


def _logistic(value: Array) -> Array:
    return np.asarray(1 / (1 + np.exp(-np.clip(value, -50, 50))))


def _bubbles(b: Batch, p: Point) -> Array:
    """Vapour share at the sight glass, by void fraction (Zivi)."""
    quality, t_c = p.run.condenser.quality, p.z[1]
    c = (saturated("D_vapour", b.fluid, t_c) / saturated("D_liquid", b.fluid, t_c)) ** (2 / 3)
    return quality / (c + (1 - c) * quality)


def _heats(p: Point, cycles: NDArray[np.bool_]) -> dict[str, Array]:
    """Mean heats and work [kW], and the share of the condenser's heat that does not add up."""
    on = np.where(cycles, p.run.on, 1.0)  # almost always on counts as always on
    flow = p.run.m * on
    q_c, work = p.run.condenser.q * on, flow * p.run.compression.work
    gain = flow * (p.run.suction.line_gain - p.run.compression.lost)
    q_e = p.evaporator.q * on / p.run.on
    return {
        "q_evaporator_kw": q_e, "q_condenser_kw": q_c, "work_kw": work, "heat_gain_kw": gain,
        "imbalance": (q_c - q_e - work - gain) / np.maximum(q_c, 1e-6),
    }  # fmt: skip


def columns(b: Batch, p: Point) -> dict[str, Array]:
    """All numbers of `State` by name, arrays of shape (n,)."""
    x, s, hot, coil = b.x, p.run.suction, p.run.condenser, p.evaporator
    cycles = b.cycling & (p.run.share < ALWAYS_ON)
    low, low_max = _low(b, p, cycles)
    high, high_min = _high(b, p, cycles)
    left, right = _sides(b, p)
    t_1 = gas_temperature(b, p.z[0], p.run.h_1)
    t_d = np.minimum(boiling_c(b.fluid, p.run.pressures[1]), 92.0)
    humid = np.clip((x["humidity_pct"] - 12.0) / 15.0, 0.0, 1.0)
    return {
        "low_kpa": low, "low_max_kpa": low_max, "high_kpa": high,
        "high_min_kpa": np.minimum(np.maximum(high_min, low_max), high),
        "vent_c": p.vent, "vent_left_c": left, "vent_right_c": right,
        "return_c": p.z[6],
        "return_rh_pct": 100 * np.minimum(relative_humidity(p.z[6], p.z[7], x["pressure_kpa"]), 1.0),
        "suction_evaporator_c": t_1, "suction_compressor_c": s.t, "liquid_c": hot.t_out,
        "discharge_c": gas_temperature(b, t_d, p.run.compression.h),
        "face_c": x["face_c"], "share": np.where(b.cycling & ~cycles, 1.0, p.run.share),
        "on_s": np.where(cycles, p.run.cycle.on_s, 0.0), "off_s": np.where(cycles, p.run.cycle.off_s, 0.0),
        "rest_kpa": rest_pressure(b), "air_share": coil.air_share,
        "frost": _logistic((-1.0 - t_1) / 0.8) * humid, "bubbles": _bubbles(b, p), **_heats(p, cycles),
        "cycles": cycles.astype(float),
    }  # fmt: skip


def states(b: Batch) -> list[State]:
    """The states of a batch, in order."""
    z, norm = solve(b)
    p = evaluate(b, z)
    values = columns(b, p)
    cycles = values.pop("cycles") > 0
    why = _impossible(b, p, norm, values["high_kpa"])
    return [
        State(
            running="cycling" if cycles[i] else "steady",
            impossible=why[i],
            **{name: float(value[i]) for name, value in values.items()},
        )
        for i in range(len(why))
    ]
