"""Requests as columns of numbers, and the states that are integrated, a row per request.

It turns dataclasses into arrays and sets the start; it must not hold any law of heat or flow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.worlds.masses.car import Car
from tests.worlds.masses.properties import FLUIDS, KELVIN, Array, moisture, saturation
from tests.worlds.world import BLOWERS, REGULATIONS, Request

Flags = NDArray[np.bool_]
STAGES = ("off", "low", "high")


class Columns:
    """The numeric fields of equal dataclasses, each an array."""

    def __init__(self, rows: Sequence[Any]) -> None:
        self._columns = {
            f.name: np.array([float(getattr(row, f.name)) for row in rows])
            for f in fields(rows[0]) if not isinstance(getattr(rows[0], f.name), str)
        }

    def __getattr__(self, name: str) -> Array:
        columns: dict[str, Array] = self.__dict__["_columns"]
        if name not in columns:
            raise AttributeError(name)
        return columns[name]


@dataclass
class Batch:
    """What does not change during a test. `shut` is the share of air or area a fault takes; pressures kPa absolute."""

    coil: Columns
    face: Columns
    pump: Columns
    lines: Columns
    cabin: Columns
    weather: Columns
    settings: Columns
    faults: Columns
    fluid: NDArray[np.intp]
    kind: NDArray[np.intp]
    tube: Flags
    recirculated: Flags
    open_windows: Flags
    charge: Array
    coil_air: Array
    face_air: Array
    outside_moisture: Array
    bay_c: Array
    open_kpa: Array
    close_kpa: Array
    spring_kpa: Array
    stroke_kpa: Array

    def regulated(self, *names: str) -> Flags:
        """Where the compressor is one of these kinds."""
        return np.isin(self.kind, [i for i, name in enumerate(REGULATIONS) if name in names])


@dataclass
class Masses:
    """The integrated states.

    Temperatures [°C] of the evaporating and condensing refrigerant, metals, bulb, probe, liquid, pipes, cabin and its
    inner masses; masses [kg] of liquid in coil and accumulator, ice and water on the coil; stroke, clutch, cut-out
    (0 to 1); and what the next step needs: drop [kPa], flows [kg/s], heats [kW], vapour and liquid shares.
    """

    evaporating: Array
    condensing: Array
    coil_metal: Array
    face_metal: Array
    bulb: Array
    probe: Array
    liquid: Array
    outlet: Array
    cabin: Array
    inner: Array
    cabin_moisture: Array
    coil_liquid: Array
    accumulator: Array
    ice: Array
    water: Array
    stroke: Array
    integral: Array
    clutch: Array
    tripped: Array
    suction_drop: Array
    flow: Array
    flashing: Array
    superheat_kw: Array
    face_kw: Array
    suction_c: Array
    discharge_c: Array
    wet: Array
    felt_kpa: Array
    metered: Array
    dry_kw: Array
    turning: Array


def _air_flows(requests: Sequence[Request], cars: Sequence[Car], density: Array) -> tuple[Array, Array]:
    """Dry air over the evaporator and over the condenser [kg/s], before ice."""
    coil, face = [], []
    for request, car in zip(requests, cars, strict=True):
        speeds = dict(zip(BLOWERS, (car.evaporator.low, car.evaporator.medium, 1.0), strict=True))
        blower = speeds[request.settings.blower]
        coil.append(car.evaporator.air * blower * (1.0 - request.faults.evaporator_air))
        stages = dict(zip(STAGES, (car.condenser.stage_off, car.condenser.stage_low, 1.0), strict=True))
        stage = stages[request.settings.fan] * request.settings.fan_gust
        face.append(car.condenser.air * stage * (1.0 - request.faults.dirt))
    return np.array(coil) * density / 1.2, np.array(face) * density / 1.15


def _set_pressures(car: Columns, fluid: NDArray[np.intp], shift_k: Array, place_kpa: Array) -> tuple[Array, Array]:
    """Absolute pressures that open and close the switch (the internal valve keeps the first), felt as gauge."""
    low = saturation(fluid, car.set_c + shift_k).p - 101.325 + place_kpa
    high = saturation(fluid, car.set_c + car.band_k + 0.5 * shift_k).p - 101.325 + place_kpa
    return low, high


def gather(requests: Sequence[Request]) -> Batch:
    """The columns of these requests."""
    cars: list[Car] = [request.car for request in requests]
    weather, settings = Columns([r.weather for r in requests]), Columns([_numbers(r) for r in requests])
    pump, lines = Columns([c.compressor for c in cars]), Columns([c.lines for c in cars])
    faults = Columns([r.faults for r in requests])
    fluid = np.array([list(FLUIDS).index(c.refrigerant) for c in cars], dtype=np.intp)
    density = weather.pressure_kpa / (0.28706 * (weather.ambient_c + KELVIN))
    coil_air, face_air = _air_flows(requests, cars, density)
    low, high = _set_pressures(pump, fluid, faults.set_point_k, weather.pressure_kpa)
    slope = saturation(fluid, np.zeros(len(cars))).p_slope
    return Batch(
        coil=Columns([c.evaporator for c in cars]), face=Columns([c.condenser for c in cars]), pump=pump, lines=lines,
        cabin=Columns([c.cabin for c in cars]), weather=weather, settings=settings, faults=faults, fluid=fluid,
        kind=np.array([REGULATIONS.index(c.regulation) for c in cars], dtype=np.intp),
        tube=np.array([c.metering == "orifice_tube" for c in cars]),
        recirculated=np.array([r.settings.air == "recirculated" for r in requests]),
        open_windows=np.array([r.settings.windows == "open" for r in requests]),
        charge=np.array([c.charge_kg for c in cars]) * faults.charge, coil_air=coil_air, face_air=face_air,
        outside_moisture=moisture(weather.ambient_c, weather.humidity_pct / 100.0, weather.pressure_kpa),
        bay_c=weather.ambient_c + np.where([r.settings.hood_open for r in requests], 10.0, 22.0),
        open_kpa=low, close_kpa=high, spring_kpa=lines.spring_k * slope, stroke_kpa=lines.stroke_k * slope,
    )


@dataclass(frozen=True)
class _Numbers:
    """The numbers of a request's settings."""

    rpm: float
    running_min: float
    soak_k: float
    wet_share: float
    face_gust_k: float
    load_gust_kw: float
    hood_open: bool


def _numbers(request: Request) -> _Numbers:
    s = request.settings
    return _Numbers(s.rpm, s.running_min, s.soak_k, s.wet_share, s.face_gust_k, s.load_gust_kw, s.hood_open)


def start(b: Batch) -> Masses:
    """At rest: both sides at the temperature of the air, liquid mostly in the high side, cabin soaked."""
    count = len(b.charge)
    ambient, zero, one = b.weather.ambient_c, np.zeros(count), np.ones(count)
    cabin = ambient + np.where(b.open_windows & b.recirculated, 0.15, 1.0) * b.settings.soak_k
    rest = saturation(b.fluid, ambient)
    room = b.coil.vapour_volume + b.face.vapour_volume
    loose = np.maximum(b.charge - rest.vapour_density * room, 0.0)
    coil_liquid = np.minimum(0.3 * b.coil.full_kg, 0.25 * loose)
    accumulator = np.where(b.tube, np.minimum(0.5 * b.lines.accumulator_cap, 0.15 * loose), 0.0)
    dew_kg = b.coil.block_kg * b.faults.ice
    return Masses(
        evaporating=ambient.copy(), condensing=ambient.copy(), coil_metal=np.where(dew_kg > 0, -2.0, ambient),
        face_metal=ambient.copy(), bulb=ambient.copy(), probe=cabin.copy(), liquid=ambient.copy(),
        outlet=ambient.copy(), cabin=cabin, inner=ambient + b.settings.soak_k,
        cabin_moisture=b.outside_moisture.copy(), coil_liquid=coil_liquid,
        accumulator=accumulator, ice=dew_kg, water=zero.copy(), stroke=0.5 * one, integral=0.5 * one, clutch=one.copy(),
        tripped=zero.copy(), suction_drop=zero.copy(), flow=zero.copy(), flashing=zero.copy(), superheat_kw=zero.copy(),
        face_kw=zero.copy(), suction_c=ambient.copy(), discharge_c=ambient.copy(), wet=zero.copy(),
        felt_kpa=rest.p.copy(), metered=zero.copy(), dry_kw=zero.copy(), turning=one.copy(),
    )
