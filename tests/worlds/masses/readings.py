"""From the history of a test to what a technician reads: whole cycles, means, reasons why there is no such test.

It reads one request's history; it must not change it or step the model.
"""

from __future__ import annotations

from math import exp

import numpy as np
from numpy.typing import NDArray

from tests.worlds.masses.batch import Batch
from tests.worlds.masses.properties import KELVIN, Array, relative_humidity, saturation
from tests.worlds.masses.run import FINE_S
from tests.worlds.world import State

STEADY_S = 60.0
LONG_S = 180.0  # a compressor on for longer counts as running steadily
SWING = 0.2  # relative standard deviation of the low side beyond which it is no reading


def rest_pressures(b: Batch) -> Array:
    """Pressure after hours at rest [kPa absolute]: saturation while liquid is left, else thin vapour; plus air."""
    full = saturation(b.fluid, b.weather.ambient_c)
    volume = b.coil.vapour_volume + b.face.vapour_volume + b.coil.volume * 0.2 + b.face.volume * 0.25
    vapour = np.minimum(b.charge / (volume * full.vapour_density), 1.0)
    p: Array = full.p * vapour**0.95 + b.faults.air_kpa * (b.weather.ambient_c + KELVIN) / (40.0 + KELVIN)
    return p


class Reading:
    """One request's readings."""

    def __init__(self, history: dict[str, Array], index: int, place: tuple[float, float]) -> None:
        columns = {name: values[:, index] for name, values in history.items()}
        live = ~np.isnan(columns["low_kpa"])
        self._columns = {name: values[live] for name, values in columns.items()}
        self._place_kpa, self._rest_kpa = place
        on = self._columns["on"] > 0.5
        self._on = on
        edges = np.diff(on.astype(int))
        self._outs, self._ins = np.flatnonzero(edges == -1), np.flatnonzero(edges == 1)
        last = max([0, *self._outs[-1:], *self._ins[-1:]])
        self.cycling = last > 0 and (not on[-1] or len(on) - last < round(LONG_S / FINE_S))
        self._span = self._whole_cycles()

    def _whole_cycles(self) -> slice | None:
        """The last whole cycles, four at most, from cut-out to cut-out (or from cut-in to cut-in); or None."""
        if not self.cycling:
            return slice(-round(STEADY_S / FINE_S), None)
        marks = self._outs if len(self._outs) >= 2 else self._ins
        if len(marks) < 2:
            return None
        last = marks[-5:]
        return slice(int(last[0]) + 1, int(last[-1]) + 1)

    def impossible(self) -> str | None:
        """Why there is no such test, or None."""
        if self._columns["tripped"].max() > 0:
            return "tripped"
        if self._span is None:
            return "unsettled" if self._on[-round(LONG_S / FINE_S):].any() else "no flow"
        low = self._columns["low_kpa"][self._span]
        if not self.cycling and not self._on.any():
            return "no flow"
        if not self.cycling and low.std() > SWING * low.mean():
            return "unsettled"
        return "no flow" if self.mean("q_evaporator_kw") < 0.02 else None

    def mean(self, name: str) -> float:
        """Mean over the span that is read."""
        return float(self._columns[name][self._span or slice(None)].mean())

    def running_mean(self, name: str) -> float:
        """Mean over the part of that span in which the compressor turns."""
        span = self._span or slice(None)
        on = self._on[span]
        return float(self._columns[name][span][on].mean()) if on.any() else 0.0

    def _at(self, name: str, marks: NDArray[np.intp]) -> float:
        """Mean of the values at the last steps before a switch."""
        return float(self._columns[name][marks[-4:]].mean())

    def pressures(self) -> tuple[float, float, float, float]:
        """Low, low_max, high, high_min [kPa]."""
        if not self.cycling or not len(self._ins) or not len(self._outs):
            low, high = self.mean("low_kpa"), self.mean("high_kpa")
            return low, low, high, high
        low, high = self._at("low_kpa", self._outs), self._at("high_kpa", self._outs)
        return low, max(self._at("low_kpa", self._ins), low), high, min(self._at("high_kpa", self._ins), high)

    def times(self) -> tuple[float, float, float]:
        """Seconds on, seconds off, share of full displacement."""
        if not self.cycling or self._span is None:
            return 0.0, 0.0, self.mean("duty")
        cycles = max(len(self._outs if len(self._outs) >= 2 else self._ins[-5:]) - 1, 1)
        cycles = min(cycles, 4)
        on = float(self._on[self._span].sum()) * FINE_S / cycles
        off = float((~self._on[self._span]).sum()) * FINE_S / cycles
        return on, off, on / (on + off)

    def imbalance(self) -> float:
        """Heat that does not add up, as a share of the condenser's, less what the refrigerant itself took up."""
        span = range(*(self._span or slice(None)).indices(len(self._on)))
        first, last = span[0], min(span[-1] + 1, len(self._on) - 1)
        inner = slice(first, last)
        heat = sum(self._columns[n][inner].mean() for n in ("q_evaporator_kw", "work_kw", "heat_gain_kw"))
        out = self._columns["q_condenser_kw"][inner].mean()
        stored = (self._columns["held_kj"][last] - self._columns["held_kj"][first]) / ((last - first) * FINE_S)
        return float((heat - out - stored) / max(out, 0.05))

    def state(self) -> State:
        """The state that the world returns."""
        low, low_max, high, high_min = self.pressures()
        on_s, off_s, share = self.times()
        pipe = self.mean("suction_evaporator_c")
        air = (self.mean("return_c"), self.mean("return_moisture"), self._place_kpa)
        humid = relative_humidity(*(np.array([value]) for value in air))
        same = ("vent_c", "vent_left_c", "vent_right_c", "return_c", "suction_evaporator_c", "suction_compressor_c",
                "liquid_c", "discharge_c", "face_c", "air_share", "q_evaporator_kw", "q_condenser_kw",
                "work_kw", "heat_gain_kw")
        return State(
            low_kpa=low, low_max_kpa=low_max, high_kpa=high, high_min_kpa=high_min,
            return_rh_pct=100.0 * float(humid[0]),
            share=share, running="cycling" if self.cycling else "steady", on_s=on_s, off_s=off_s,
            rest_kpa=self._rest_kpa, frost=1.0 / (1.0 + exp(min((pipe + 1.0) / 0.8, 50.0))), imbalance=self.imbalance(),
            bubbles=self.running_mean("bubbles"),
            impossible=self.impossible(), **{name: self.mean(name) for name in same},
        )
